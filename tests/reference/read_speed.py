"""Times Python readers on one STL file: python read_speed.py FILE [RUNS]

Prints the best and the median time of some runs (default 5) for trimesh and Open3D, corners joined.
`cargo bench -p mesh --bench read_files -- FILE` gives this project's and stl_io's times on the same file.
"""

import statistics
import sys
import time


def timed(name, work, runs):
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        points, triangles = work()
        times.append(1e3 * (time.perf_counter() - start))
    middle = statistics.median(times)
    print(f"{name:44} best {min(times):7.1f} ms, middle {middle:7.1f} ms  ({triangles} triangles, {points} points)")


def with_trimesh(path):
    import trimesh

    mesh = trimesh.load(path, file_type="stl", process=True)
    return len(mesh.vertices), len(mesh.faces)


def with_open3d(path):
    import open3d

    mesh = open3d.io.read_triangle_mesh(path)
    mesh.remove_duplicated_vertices()
    return len(mesh.vertices), len(mesh.triangles)


def main():
    path = sys.argv[1]
    runs = int(sys.argv[2]) if len(sys.argv) > 2 else 5
    with_trimesh(path), with_open3d(path)  # imports and disk caches are not what is measured
    timed("trimesh, joined", lambda: with_trimesh(path), runs)
    timed("open3d, joined", lambda: with_open3d(path), runs)


if __name__ == "__main__":
    main()
