"""Reads meshes that this project wrote with trimesh and Open3D: python read_back_mesh.py FILE...

Fails where the two readers disagree with each other or with the numbers in the file itself, read here byte by byte.
"""

import struct
import sys

import numpy
import open3d
import trimesh


def corners_in_stl(raw):
    (count,) = struct.unpack_from("<I", raw, 80)
    assert len(raw) == 84 + 50 * count, "the size does not fit the count"
    assert not raw[:80].lstrip().lower().startswith(b"solid"), "the header reads like a text STL"
    rows = numpy.frombuffer(raw, numpy.dtype([("f", "<f4", 12), ("a", "<u2")]), count, 84)
    corners = rows["f"][:, 3:].reshape(-1, 3, 3)
    cross = numpy.cross(corners[:, 1].astype(float) - corners[:, 0], corners[:, 2].astype(float) - corners[:, 0])
    length = numpy.linalg.norm(cross, axis=1)
    fine = length > 0
    assert numpy.allclose(rows["f"][fine, :3], cross[fine] / length[fine, None], atol=1e-5), "normals"
    return corners


def corners_of(points, triangles):
    return numpy.asarray(points, numpy.float32)[numpy.asarray(triangles)]


def check(path):
    raw = open(path, "rb").read()
    by_trimesh = trimesh.load(path, process=False)
    by_open3d = open3d.io.read_triangle_mesh(path)
    one = corners_of(by_trimesh.vertices, by_trimesh.faces)
    other = corners_of(by_open3d.vertices, by_open3d.triangles)
    assert numpy.array_equal(one, other), f"{path}: trimesh and Open3D differ"
    if not raw.startswith(b"ply"):
        assert numpy.array_equal(one, corners_in_stl(raw)), f"{path}: not what stands in the file"
    elif b"property uchar red" in raw[:2000]:
        colours = numpy.asarray(by_open3d.vertex_colors) * 255
        assert numpy.array_equal(numpy.rint(colours).astype(int), by_trimesh.visual.vertex_colors[:, :3]), "colours"
    print(f"{path}: {len(one)} triangles, the same in trimesh and Open3D")


if __name__ == "__main__":
    assert len(sys.argv) > 1, __doc__
    for file in sys.argv[1:]:
        check(file)
