"""Read SHELL.stl and SHELL.3mf back with libraries that had no part in writing them, and compare.

    python tests/reference/read_back.py SHELL.stl SHELL.3mf

Readers: trimesh, Open3D and the 3MF Consortium's lib3mf (Python packages trimesh, networkx, lxml, open3d, lib3mf).
Exits with status 1 and a sentence where anything differs.
"""

import sys

import lib3mf
import numpy as np
import open3d
import trimesh


def with_lib3mf(path):
    """Vertices, triangles, unit and metadata by the 3MF Consortium's reader; warnings count as faults."""
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(path)
    warnings = [reader.GetWarning(n) for n in range(reader.GetWarningCount())]
    check(not warnings, f"lib3mf warns: {warnings}")
    meshes = model.GetMeshObjects()
    check(meshes.MoveNext(), "lib3mf finds no object")
    mesh = meshes.GetCurrentMeshObject()
    check(not meshes.MoveNext(), "lib3mf finds more than one object")
    check(mesh.IsManifoldAndOriented(), "lib3mf: the object is not manifold and oriented")
    points = np.array([list(v.Coordinates) for v in mesh.GetVertices()], np.float32)
    triangles = np.array([list(t.Indices) for t in mesh.GetTriangleIndices()])
    group = model.GetMetaDataGroup()
    metadata = {}
    for n in range(group.GetMetaDataCount()):
        entry = group.GetMetaData(n)
        metadata[entry.GetName()] = entry.GetValue()
    return points, triangles, model.GetUnit(), metadata


def check(holds, otherwise):
    if not holds:
        sys.exit(f"read_back: {otherwise}")


def volume(points, triangles):
    a, b, c = (points[triangles[:, k]].astype(np.float64) for k in range(3))
    return np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0


def main(stl, threemf):
    points, triangles, unit, metadata = with_lib3mf(threemf)
    soup = points[triangles]
    wanted = volume(points, triangles)
    check(unit == lib3mf.ModelUnit.MilliMeter, f"the unit is {unit}, not millimetres")
    check("Title" in metadata and "Application" in metadata, f"metadata is missing: {metadata}")
    check(points.min() >= 0 and np.allclose(points.min(axis=0), 0), "the part does not start at the origin")
    check(wanted > 0, "the part is inside out")

    seen = {"3MF, lib3mf": (len(points), len(triangles), wanted)}
    scene = trimesh.load(threemf)
    loaded = next(iter(scene.geometry.values())) if isinstance(scene, trimesh.Scene) else scene
    check(np.array_equal(np.asarray(loaded.vertices, np.float32)[loaded.faces], soup), "3MF: trimesh reads other triangles")
    check(loaded.units == "millimeter" or scene.units == "millimeter", "3MF: trimesh reads another unit")
    seen["3MF, trimesh"] = (len(loaded.vertices), len(loaded.faces), loaded.volume)

    raw = trimesh.load(stl, process=False)
    check(np.array_equal(np.asarray(raw.vertices, np.float32)[raw.faces], soup), "STL: trimesh reads other triangles than the 3MF holds")
    welded = trimesh.load(stl)
    check(welded.is_watertight, "STL: trimesh finds it open")
    seen["STL, trimesh"] = (len(welded.vertices), len(welded.faces), welded.volume)

    other = open3d.io.read_triangle_mesh(stl)
    corners = np.asarray(other.vertices, np.float32)[np.asarray(other.triangles)]
    check(np.array_equal(corners, soup), "STL: Open3D reads other triangles than the 3MF holds")
    other.remove_duplicated_vertices()
    # Not by Open3D's own volume, which first checks for crossings and takes minutes.
    vertices, faces = np.asarray(other.vertices), np.asarray(other.triangles)
    seen["STL, Open3D"] = (len(vertices), len(faces), volume(vertices, faces))

    print(f"{'reader':14}{'points':>10}{'triangles':>12}{'volume, mm3':>16}")
    for reader, (n, m, v) in seen.items():
        print(f"{reader:14}{n:>10}{m:>12}{v:>16.4f}")
        check((n, m) == (len(points), len(triangles)), f"{reader}: counts differ")
        check(abs(v / wanted - 1) < 1e-6, f"{reader}: volume differs")
    print(f"identical; unit millimetre; metadata {metadata}")


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    main(*sys.argv[1:])
