"""Simplified surfaces stay within the tolerance of what they were made from, both ways, by libigl's Hausdorff
distance and by points sampled on the faces, measured by Embree (Open3D)."""

import os
import subprocess
from pathlib import Path

import igl
import numpy as np
import open3d
import pytest
import trimesh

TOLERANCE_MM = 0.02


def sampled_distance(source, target):
    """Largest distance of many points of one surface, corners included, from another."""
    points, _ = trimesh.sample.sample_surface(source, 300_000, seed=1)
    points = np.vstack([points, source.vertices]).astype(np.float32)
    scene = open3d.t.geometry.RaycastingScene()
    scene.add_triangles(target.vertices.astype(np.float32), target.faces.astype(np.uint32))
    return float(scene.compute_distance(points).numpy().max())


def body(kind):
    """A closed fine surface: a torus, and a ball with dents whose curvature changes sign."""
    if kind == "torus":
        return trimesh.creation.torus(major_radius=60.0, minor_radius=15.0, major_sections=600, minor_sections=150)
    ball = trimesh.creation.icosphere(subdivisions=7, radius=40.0)
    x, y, z = ball.vertices.T
    dents = 1.5 * np.sin(x / 6.0) * np.cos(y / 7.0) * np.sin(z / 8.0)
    ball.vertices *= (1.0 + dents / 40.0)[:, None]
    return ball


@pytest.mark.parametrize("kind", ["torus", "dented ball"])
def test_simplified_surface_is_within_the_tolerance_both_ways(kind, tmp_path):
    examples = os.environ.get("EXAMPLES")
    if not examples:
        pytest.skip("EXAMPLES does not name the folder of built examples; tests/run sets it")
    (tmp_path / "fine.stl").write_bytes(trimesh.exchange.stl.export_stl(body(kind)))
    command = [Path(examples) / "simplify", tmp_path / "fine.stl", tmp_path / "simple.stl", str(TOLERANCE_MM)]
    subprocess.run(command, check=True)
    fine, simple = trimesh.load(tmp_path / "fine.stl"), trimesh.load(tmp_path / "simple.stl")
    assert simple.is_watertight and simple.is_winding_consistent
    # So much is removed that the distances mean something.
    assert 2 * len(simple.faces) < len(fine.faces), f"{len(simple.faces)} of {len(fine.faces)} triangles are left"
    # Corners of either surface to the other.
    by_corners = igl.hausdorff(fine.vertices, fine.faces, simple.vertices, simple.faces)
    away, back = sampled_distance(fine, simple), sampled_distance(simple, fine)
    print(f"{kind}: {len(fine.faces)} to {len(simple.faces)} triangles; corners {by_corners:.4f}, {away:.4f}, {back:.4f} mm")
    assert max(by_corners, away, back) <= TOLERANCE_MM
    assert abs(simple.volume / fine.volume - 1.0) < 1e-3
