"""A scan of two million triangles is read whole, in memory that a laptop has."""

import json

import numpy as np
from test_bad_scans import inspect

ROWS, ROUND = 1001, 1000
TRIANGLES = 2 * (ROWS - 1) * ROUND
LENGTH_MM, RADIUS_MM = 260.0, 40.0
# A tenth of the memory of a common laptop (16 GB).
MOST_KIB = 1600 * 1024


def tube():
    """A forearm-like tube, open at both ends, as corners of its triangles."""
    along, around = np.meshgrid(np.arange(ROWS), np.arange(ROUND), indexing="ij")
    z, a = along / (ROWS - 1) * LENGTH_MM, around / ROUND * 2 * np.pi
    r = RADIUS_MM * (1 + 0.2 * np.sin(np.pi * z / LENGTH_MM) + 0.05 * np.cos(2 * a))
    points = np.stack([r * np.cos(a), r * np.sin(a), z], -1).reshape(-1, 3).astype("<f4")
    i, j = along[:-1].ravel(), around[:-1].ravel()
    k = (j + 1) % ROUND
    p, q, s, t = i * ROUND + j, i * ROUND + k, (i + 1) * ROUND + k, (i + 1) * ROUND + j
    return points[np.concatenate([np.stack([p, q, s], -1), np.stack([p, s, t], -1)])]


def test_two_million_triangles_are_inspected(tmp_path):
    corners = tube()
    assert len(corners) == TRIANGLES == 2_000_000
    # Binary STL: 80 bytes, a count, then per triangle a normal, three corners and two bytes.
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    faces = np.zeros(TRIANGLES, record)
    faces["corners"] = corners
    path = tmp_path / "two-million.stl"
    with open(path, "wb") as file:
        file.write(bytes(80) + np.uint32(TRIANGLES).tobytes())
        faces.tofile(file)
    code, out, err, most = inspect(path)
    assert code == 0, err
    said = json.loads(out)
    assert said["triangles"] == TRIANGLES
    assert said["pieces"] == 1 and said["open_edges"] == 2 * ROUND
    assert said["unit"]["unit"] == "mm"
    size = sorted(said["size_mm"])
    assert abs(size[2] - LENGTH_MM) < 0.01
    assert most < MOST_KIB, f"{most / 1024:.0f} MiB"
    print(f"{most / 1024:.0f} MiB")
