"""Cuts of a demo limb by the `cut` example of crates/fit, beside trimesh's own on the same file."""

import json
import os
import subprocess
from pathlib import Path

import numpy as np
import pytest
import trimesh
from conftest import DEMO
from scipy.spatial import cKDTree


def ours(path, origin, normal):
    words = [str(x) for x in (*origin, *normal)]
    done = subprocess.run([Path(os.environ["EXAMPLES"]) / "cut", path, *words], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def dense(points, closed, step=0.2):
    points = np.asarray(points)
    ends = np.roll(points, -1, axis=0) if closed else points[1:]
    parts = []
    for a, b in zip(points, ends):
        n = max(1, int(np.ceil(np.linalg.norm(b - a) / step)))
        parts.append(a + (b - a) * (np.arange(n + 1) / n)[:, None])
    return np.vstack(parts)


@pytest.mark.parametrize("normal", [(0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.3, -0.5, 0.8)])
@pytest.mark.parametrize("share", [0.31, 0.5, 0.72])
def test_a_cut_is_where_trimesh_cuts(normal, share):
    path = DEMO / "forearm-16.stl"
    limb = trimesh.load(path)
    low, high = limb.bounds
    # Rounded, so that both programs read the same numbers.
    origin = np.float32(np.round(low + share * (high - low), 3)).astype(float)
    mine = ours(path, origin, normal)
    theirs = limb.section(plane_origin=origin, plane_normal=normal)
    assert (theirs is None) == (not mine)
    assert mine, "the plane goes through the limb"
    length = sum(line["length_mm"] for line in mine)
    print(f"{normal} {share}: {len(mine)} lines, {length:.4f} mm; trimesh {theirs.length:.4f} mm")
    assert abs(length / theirs.length - 1) < 1e-5
    # `Path3D.discrete` leaves open lines out; the entities hold both.
    lines = [entity.discrete(theirs.vertices) for entity in theirs.entities]
    closed = [line for line in lines if np.allclose(line[0], line[-1])]
    assert sum(line["closed"] for line in mine) == len(closed)
    points = np.vstack([dense(line["points"], line["closed"]) for line in mine])
    reference = np.vstack([dense(line, False) for line in lines])
    assert cKDTree(reference).query(points)[0].max() < 0.11
    assert cKDTree(points).query(reference)[0].max() < 0.11
    corners = np.vstack([line["points"] for line in mine])
    away = np.abs((corners - origin) @ (np.array(normal) / np.linalg.norm(normal)))
    assert away.max() < 1e-3
