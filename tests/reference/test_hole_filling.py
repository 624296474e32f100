"""A patch over a hole is a thin plate: SciPy solves the same equations, assembled here from its triangles, and libigl's
biharmonic plate, with other weights and masses, lies close to it."""

import os
import subprocess
from pathlib import Path

import igl
import numpy as np
import pytest
import scipy.sparse as sparse
import scipy.sparse.linalg
import trimesh
from conftest import scene

RADIUS_MM = 40.0
# Bounds of the cotangents in the plate's weights; see `Weights` in crates/mesh/src/repair/bilaplacian.rs.
LEAST, MOST = 0.02, 3.0


def ball(dent_mm):
    ball = trimesh.creation.icosphere(subdivisions=6, radius=RADIUS_MM)
    x, y, z = ball.vertices.T
    dents = dent_mm * np.sin(x / 9.0) * np.cos(y / 11.0) * np.sin(z / 12.0)
    ball.vertices *= (1.0 + dents / RADIUS_MM)[:, None]
    return ball


def laplacian(points, triangles, even):
    """The Laplacian and the inverse mass of each point: uniform where `even`, else cotangents (Pinkall and Polthier
    1993) within bounds, and a third of the area of the triangles round each point."""
    count = len(points)
    weights, masses = sparse.csr_matrix((count, count)), np.zeros(count)
    area2 = np.linalg.norm(np.cross(*[points[triangles[:, k]] - points[triangles[:, 0]] for k in (1, 2)]), axis=1)
    for k in range(3):
        a, b, c = (triangles[:, (k + i) % 3] for i in range(3))
        cotangent = np.einsum("ij,ij->i", points[b] - points[a], points[c] - points[a]) / area2
        weight = 0.5 * (np.ones(len(a)) if even else np.clip(cotangent, LEAST, MOST))
        np.add.at(masses, a, 1.0 if even else area2 / 6.0)
        half = sparse.coo_matrix((weight, (b, c)), shape=(count, count)).tocsr()
        weights = weights + half + half.T
    return weights - sparse.diags(np.asarray(weights.sum(axis=1)).ravel()), 1.0 / masses


def bent(points, triangles, held):
    """The plate clamped at `points[:held]`: first with uniform weights, then twice with those of the shape just
    found."""
    found = points.copy()
    for even in (True, False, False):
        matrix, inverse_masses = laplacian(found.astype(np.float32).astype(float), triangles, even)
        energy = (matrix.T @ sparse.diags(inverse_masses) @ matrix).tocsr()[held:]
        found[held:] = scipy.sparse.linalg.spsolve(energy[:, held:].tocsc(), -energy[:, :held] @ found[:held])
    return found[held:]


@pytest.mark.parametrize(("dent_mm", "hole_mm"), [(0.0, 10.0), (1.0, 8.0), (1.0, 14.0)])
def test_a_patch_is_the_thin_plate_of_its_own_triangles(dent_mm, hole_mm, tmp_path):
    examples = os.environ.get("EXAMPLES")
    if not examples:
        pytest.skip("EXAMPLES does not name the folder of built examples; tests/run sets it")
    whole = ball(dent_mm)
    away = np.linalg.norm(whole.vertices - RADIUS_MM * np.array([0.6, 0.0, 0.8]), axis=1)
    holed = trimesh.Trimesh(whole.vertices, whole.faces[(away[whole.faces] > hole_mm).all(axis=1)], process=False)
    holed.remove_unreferenced_vertices()
    holed.export(tmp_path / "holed.ply")
    subprocess.run([Path(examples) / "fill_holes", tmp_path / "holed.ply", tmp_path / "filled.ply"], check=True)
    filled = trimesh.load(tmp_path / "filled.ply", process=False)
    assert filled.is_watertight and filled.is_winding_consistent
    points, triangles, held = filled.vertices, filled.faces, len(holed.vertices)
    assert np.allclose(points[:held], holed.vertices, atol=1e-4), "the points that were there stay first and in place"
    free = np.arange(held, len(points))
    assert len(free) > 50

    off = np.linalg.norm(bent(points, triangles, held) - points[free], axis=1).max()
    plate = igl.harmonic(points, triangles, np.arange(held), points[:held], 2)[free]
    other = np.linalg.norm(plate - points[free], axis=1).max()
    truth = scene(whole).compute_distance(points[free].astype(np.float32)).numpy().max()
    print(f"{len(free)} points: SciPy {off:.6f}, libigl {other:.4f}, whole surface {truth:.3f} mm")
    assert off < 1e-3
    assert other < 0.1
