"""Seconds that Embree, through Open3D, takes for the closest points of the grid points in and near a shell's wall.

That is one step of what a shell needs, without layout, signs, isosurface, simplification or proof: the wall is 3 mm
thick and 3 mm off the half of the limb with x > 0 between 24 and 76 % of its length, as in
`cargo bench -p shell --bench build -- LIMB.stl`, which makes the limb.
Usage: shell_speed.py LIMB.stl [VOXEL_MM] [RUNS]
"""
import sys
import time

import numpy as np
import open3d as o3d

path = sys.argv[1]
voxel = float(sys.argv[2]) if len(sys.argv) > 2 else 0.5
runs = int(sys.argv[3]) if len(sys.argv) > 3 else 5
THREADS, GAP, THICKNESS = 2, 3.0, 3.0

o3d.utility.set_verbosity_level(o3d.utility.VerbosityLevel.Error)
limb = o3d.io.read_triangle_mesh(path)
limb.merge_close_vertices(1e-4)
scene = o3d.t.geometry.RaycastingScene(nthreads=THREADS)
scene.add_triangles(o3d.t.geometry.TriangleMesh.from_legacy(limb))
points = np.asarray(limb.vertices)
lo, hi = points.min(0), points.max(0)
length, out = hi[2] - lo[2], GAP + THICKNESS + 2
BLOCK = 8
axes = [
    np.arange(-1.0, hi[0] + out, voxel),
    np.arange(lo[1] - out, hi[1] + out, voxel),
    np.arange(lo[2] + 0.24 * length - 2, lo[2] + 0.76 * length + 2, voxel),
]
half = THICKNESS / 2 + 2 * voxel


def points_of(axes):
    return np.stack(np.meshgrid(*axes, indexing="ij"), -1).reshape(-1, 3).astype(np.float32)


def off_middle(points):
    return np.abs(scene.compute_distance(o3d.core.Tensor(points)).numpy() - GAP - THICKNESS / 2)


# Not timed: finding the points near the wall, first by leaving out blocks that cannot reach it.
blocks = [[axis[i : i + BLOCK] for i in range(0, len(axis), BLOCK)] for axis in axes]
middles = off_middle(points_of([[block.mean() for block in row] for row in blocks])).reshape([len(row) for row in blocks])
reach = half + voxel * BLOCK / 2 * 3**0.5
near = np.argwhere(middles < reach)
grid = np.concatenate([points_of([blocks[k][i] for k, i in enumerate(at)]) for at in near])
band = np.ascontiguousarray(grid[off_middle(grid) < half])
taken = []
for _ in range(runs):
    start = time.perf_counter()
    scene.compute_closest_points(o3d.core.Tensor(band))
    taken.append(time.perf_counter() - start)
taken.sort()
print(
    f"closest points, Embree through Open3D {o3d.__version__}, {THREADS} threads, voxel {voxel} mm: "
    f"{len(band)} points, best {taken[0]:.3f} s, middle {taken[len(taken) // 2]:.3f} s"
)
