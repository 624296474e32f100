"""What an eye sees of vents, and what a printer minds in a shell, measured by NumPy, SciPy, trimesh and Open3D on the
written files.

Vents are found in the middle of the wall, as what lies over covered skin there and is not in the shell. The limits are
those that the work was asked to meet; that an eye takes differences of a tenth for none is common practice of designers.
"""

import numpy as np
import pytest
import trimesh
from conftest import LIMBS, need, scene
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from test_gap_and_thickness import edge_distance

SAMPLES, JOINED_MM = 400_000, 0.6
BARE = [205, 200, 192]
# Sides of a guard may differ by this share of count and of area.
UNLIKE = 0.10
# Walls between neighbours, of which the 95th percentile may be this much more than the 5th.
UNEVEN = 1.10
LEAST_WALL_MM, THIN_MM, THIN_SHARE, SHARP_DEG, SHARP_MM = 0.4, 0.8, 0.001, 75.0, 30.0


def openings(guard):
    """The openings of each vent in the middle of the wall: points, and the area of skin that each stands for; slots are
    left out by their place."""
    limb = guard.limb
    covered = ~np.all(limb.visual.vertex_colors[:, :3] == BARE, axis=1)
    skin = trimesh.Trimesh(limb.vertices, limb.faces[covered[limb.faces].all(1)], process=False)
    skin.remove_unreferenced_vertices()
    points, faces = trimesh.sample.sample_surface(skin, SAMPLES, seed=5)
    # Any way up that is even enough leads to the middle of the wall: places there are told in space.
    even = trimesh.smoothing.filter_laplacian(skin.copy(), iterations=10).vertex_normals
    weights = trimesh.triangles.points_to_barycentric(skin.triangles[faces], points)
    up = (even[skin.faces[faces]] * weights[..., None]).sum(1)
    up /= np.linalg.norm(up, axis=1)[:, None]
    inside = edge_distance(guard, points) > 4.0
    shell = guard.design["shell"]
    middle = shell["gap_mm"] + 0.5 * shell["thickness_mm"]
    points = (points + middle * up)[inside]
    points = points[scene(guard.shell).compute_signed_distance(points.astype(np.float32)).numpy() > 0]
    pairs = cKDTree(points).query_pairs(JOINED_MM, output_type="ndarray")
    graph = coo_matrix((np.ones(len(pairs)), pairs.T), shape=(len(points),) * 2)
    count, part = connected_components(graph, directed=False)
    found = [points[part == k] for k in range(count)]
    fittings = [np.array(f["at_mm"]) for f in guard.report["shell"]["fittings"]]
    # A slot's middle is over where the design has the fitting.
    near = lambda part: any(np.linalg.norm(part.mean(0) - at) < middle + 3.5 for at in fittings)
    each = skin.area / SAMPLES
    return [part for part in found if len(part) * each > 3.0 and not near(part)], each


@pytest.mark.parametrize("limb", ["forearm-07", "shin-23"])
def test_vents_are_alike_on_both_sides_and_evenly_apart(limb, guards):
    need(LIMBS[limb])
    guard = guards.get(limb)
    vents, each = openings(guard)
    assert len(vents) == guard.report["shell"]["openings"] - len(guard.report["shell"]["fittings"])
    middles = np.array([part.mean(0) for part in vents])
    areas = np.array([len(part) * each for part in vents])
    # The number stands on the middle line, which runs upwards from it.
    number = np.array(guard.design["shell"]["marks"][0]["at_mm"])
    up = np.array([0.0, 0.0, 1.0])
    out = number - np.array([0.0, 0.0, number[2]])
    right = np.cross(out, up) / np.linalg.norm(out)
    aside = (middles - number) @ right
    # Columns on the middle line count half to each side.
    width = np.sqrt(np.median(areas))
    left = np.clip(0.5 - aside / width, 0.0, 1.0)
    count = [left.sum(), (1 - left).sum()]
    area = [(areas * left).sum(), (areas * (1 - left)).sum()]
    trees = [cKDTree(part) for part in vents]
    walls = np.array(
        [min(trees[k].query(part)[0].min() for k in np.argsort(np.linalg.norm(middles - part.mean(0), axis=1))[1:7])
         for part in vents]
    )
    low, high = np.percentile(walls, [5, 95])
    print(f"{limb}: {len(vents)} vents, {count} and {area} mm2 on the sides, nearest walls {low:.2f} to {high:.2f} mm")
    assert abs(count[0] - count[1]) <= UNLIKE * sum(count)
    assert abs(area[0] - area[1]) <= UNLIKE * sum(area)
    assert high <= UNEVEN * low
    near = np.array([sum(trees[k].query(part)[0].min() < 2.0 * high for k in range(len(vents))) - 1 for part in vents])
    assert near.min() >= 2, "a stray"


@pytest.mark.parametrize("limb", ["forearm-07", "shin-23", "ribs-04", "wrist-12", "ankle-31", "shoulder-19"])
def test_a_guard_is_sound(limb, guards):
    need(LIMBS[limb])
    guard = guards.get(limb)
    shell = guard.shell
    points, faces = trimesh.sample.sample_surface(shell, 200_000, seed=6)
    inward = -shell.face_normals[faces]
    rays = np.hstack([points + 1e-3 * inward, inward]).astype(np.float32)
    through = scene(shell).cast_rays(rays)["t_hit"].numpy() + 1e-3
    # Near an edge a ray leaves through its side: thin is what a square millimetre and more is.
    thin = points[through < LEAST_WALL_MM]
    tree = cKDTree(thin) if len(thin) else None
    each = shell.area / len(points)
    around = max((len(n) for n in tree.query_ball_point(thin, 1.0)), default=0) * each if tree else 0.0
    share = (through < THIN_MM).mean()
    edges = shell.vertices[shell.face_adjacency_edges[np.degrees(shell.face_adjacency_angles) > SHARP_DEG]]
    sharp = np.linalg.norm(edges[:, 0] - edges[:, 1], axis=1).sum()
    print(f"{limb}: thinnest patch {around:.2f} mm2, {share:.3%} under {THIN_MM} mm, {sharp:.1f} mm of sharp edges")
    assert around < 0.25 and share < THIN_SHARE and sharp <= SHARP_MM
    assert guard.report["shell"]["sound"]["is_sound"], guard.report["shell"]["sound"]["faults"]
