"""The middle surface that strength is computed on lies in the middle of the printed solid: trimesh and Embree (Open3D) on
the written files alone."""

import json
import os
import subprocess
from pathlib import Path

import numpy as np
import pytest
import trimesh
from conftest import made, scene


@pytest.mark.parametrize("limb", ["forearm-07", "shin-23", "ribs-04", "shoulder-19"])
def test_the_middle_surface_lies_in_the_middle_of_the_solid(limb, guards, tmp_path):
    examples = os.environ.get("EXAMPLES")
    if not examples:
        pytest.skip("EXAMPLES does not name the folder of built examples; tests/run sets it")
    guard = guards.get(limb)
    subprocess.run([Path(examples) / "mid_surface", made(guard.folder, "-design.json"), tmp_path / "middle.json"], check=True)
    middle = json.loads((tmp_path / "middle.json").read_text())
    surface = trimesh.Trimesh(middle["points_mm"], middle["triangles"], process=False)
    walls = np.array(middle["walls_mm"])
    assert surface.is_winding_consistent
    # One edge for the trim line and one for each opening.
    edges = trimesh.grouping.group_rows(surface.edges_sorted, require_count=1)
    loops = trimesh.graph.connected_components(surface.edges[edges], nodes=np.unique(surface.edges[edges]))
    print(f"{limb}: {len(surface.faces)} triangles, {len(loops)} edges")
    assert len(loops) == guard.report["shell"]["openings"] + 1

    volume = float((surface.area_faces * walls[:, :, 0].mean(1)).sum())
    print(f"{limb}: {volume:.0f} mm3, the solid {guard.shell.volume:.0f}")
    assert abs(volume / guard.shell.volume - 1.0) < 0.04

    solid = scene(guard.shell)
    at, up = surface.triangles_center, surface.face_normals
    at = at + up * walls[:, :, 1].mean(1)[:, None]
    inside = solid.compute_signed_distance(at.astype(np.float32)).numpy() < 0.0
    print(f"{limb}: {100 * inside.mean():.2f} % of the middles of the wall inside the solid")
    assert inside.mean() > 0.995
    rays = lambda way: np.hstack([at, way]).astype(np.float32)
    out, back = (solid.cast_rays(rays(way))["t_hit"].numpy() for way in (up, -up))
    both = np.isfinite(out) & np.isfinite(back) & inside
    off = np.abs(0.5 * (out - back))[both]
    thick = np.abs(out + back - walls[:, :, 0].mean(1))[both]
    print(f"{limb}: off the middle by {np.median(off):.3f} mm in half, {np.percentile(off, 90):.3f} in 90 %; "
          f"thickness by {np.median(thick):.3f} and {np.percentile(thick, 90):.3f}")
    assert np.median(off) < 0.05 and np.percentile(off, 90) < 0.3
    assert np.median(thick) < 0.1 and np.percentile(thick, 90) < 0.6
