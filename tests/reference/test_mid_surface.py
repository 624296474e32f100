"""The middle surface that strength is computed on, and how it gives: it lies in the middle of the printed solid (trimesh and
Embree, Open3D, on the written files alone), and gives as much as quadratic solid elements of CalculiX do."""

import json
import os
import shutil
import subprocess
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import trimesh
from conftest import made, scene

LIMBS = ["forearm-07", "shin-23", "ribs-04"]
# Stresses are compared this far from the load, which one and the other spread over the wall in their own way.
AWAY_MM = 15.0


@cache
def middle_of(guard_folder, out):
    examples = os.environ.get("EXAMPLES")
    if not examples:
        pytest.skip("EXAMPLES does not name the folder of built examples; tests/run sets it")
    subprocess.run([Path(examples) / "mid_surface", made(guard_folder, "-design.json"), out], check=True)
    return json.loads(out.read_text())


@pytest.fixture
def middle(guards, tmp_path_factory):
    return lambda limb: middle_of(guards.get(limb).folder, tmp_path_factory.getbasetemp() / f"middle-{limb}.json")


@pytest.mark.parametrize("limb", [*LIMBS, "shoulder-19"])
def test_the_middle_surface_lies_in_the_middle_of_the_solid(limb, guards, middle):
    guard, found = guards.get(limb), middle(limb)
    surface = trimesh.Trimesh(found["points_mm"], found["triangles"], process=False)
    walls = np.array(found["walls_mm"])
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
    up = surface.face_normals
    at = surface.triangles_center + up * walls[:, :, 1].mean(1)[:, None]
    inside = solid.compute_signed_distance(at.astype(np.float32)).numpy() < 0.0
    print(f"{limb}: {100 * inside.mean():.2f} % of the middles of the wall inside the solid")
    assert inside.mean() > 0.995
    rays = lambda way: np.hstack([at, way]).astype(np.float32)
    out, back = (solid.cast_rays(rays(way))["t_hit"].numpy() for way in (up, -up))
    both = np.isfinite(out) & np.isfinite(back) & inside
    off = np.abs(0.5 * (out - back))[both]
    thick = np.abs(out + back - walls[:, :, 0].mean(1))[both]
    print(
        f"{limb}: off the middle by {np.median(off):.3f} mm in half, {np.percentile(off, 90):.3f} in 90 %; "
        f"thickness by {np.median(thick):.3f} and {np.percentile(thick, 90):.3f}"
    )
    assert np.median(off) < 0.05 and np.percentile(off, 90) < 0.3
    assert np.median(thick) < 0.1 and np.percentile(thick, 90) < 0.6


def wedges(found):
    """The wall as wedges of 15 nodes, one through it: an input file for CalculiX, and where the nodes in the middle of the
    wall start. Shell elements of CalculiX would not do: where the thickness changes they are joined by rigid bodies."""
    points, triangles = np.array(found["points_mm"]), np.array(found["triangles"])
    crosses = np.cross(points[triangles[:, 1]] - points[triangles[:, 0]], points[triangles[:, 2]] - points[triangles[:, 0]])
    areas = np.linalg.norm(crosses, axis=1)
    walls, up, shares, weight = np.array(found["walls_mm"]), np.zeros_like(points), np.zeros((len(points), 2)), np.zeros(len(points))
    for corner in range(3):
        # The place of the wall that lies nearest to the corner.
        np.add.at(up, triangles[:, corner], crosses)
        np.add.at(shares, triangles[:, corner], walls[:, corner] * areas[:, None])
        np.add.at(weight, triangles[:, corner], areas)
    up /= np.linalg.norm(up, axis=1, keepdims=True)
    thickness, over = (shares / weight[:, None]).T
    n = len(points)
    nodes = [*(points + up * (over - thickness / 2)[:, None]), *(points + up * (over + thickness / 2)[:, None])]
    nodes += [*(points + up * over[:, None])]
    between = {}

    def middle(a, b):
        key = (min(a, b), max(a, b))
        if key not in between:
            between[key] = len(nodes)
            nodes.append((nodes[a] + nodes[b]) / 2)
        return between[key]

    lines = []
    for number, (a, b, c) in enumerate(triangles):
        low, high = [a, b, c], [a + n, b + n, c + n]
        around = [middle(ring[k], ring[(k + 1) % 3]) for ring in (low, high) for k in range(3)]
        corners = [*low, *high, *around, a + 2 * n, b + 2 * n, c + 2 * n]
        lines.append(f"{number + 1}," + ",".join(str(v + 1) for v in corners))
    text = ["*NODE,NSET=ALL", *(f"{i + 1},{x:.9g},{y:.9g},{z:.9g}" for i, (x, y, z) in enumerate(nodes))]
    text += ["*ELEMENT,TYPE=C3D15,ELSET=WALL", *lines, "*MATERIAL,NAME=PLASTIC", "*ELASTIC"]
    text += [f"{found['young_mpa']},{found['poisson']}", "*SOLID SECTION,ELSET=WALL,MATERIAL=PLASTIC", "*BOUNDARY"]
    text += [f"{v + 2 * n + 1},1,3" for v in found["held"]] + ["*STEP", "*STATIC", "*CLOAD"]
    text += [f"{v + 2 * n + 1},{k + 1},{force[k]:.9g}" for v, force in found["loads_n"] for k in range(3)]
    text += ["*NODE PRINT,NSET=ALL", "U", "*EL PRINT,ELSET=WALL", "S", "*END STEP", ""]
    return "\n".join(text), n


def von_mises_at_faces(rows, count):
    """Of each wedge, at three places of its outer and its inner face, from the stresses at its nine points: three in each of
    three layers, the outer two at a share of the thickness by Gauss's rule."""
    rows = np.array(sorted([int(row[0]), int(row[1]), *map(float, row[2:])] for row in rows if len(row) == 8 and row[0].isdigit()))
    low, middle, high = np.moveaxis(rows[:, 2:].reshape(count, 3, 3, 6), 1, 0)
    half = (high - low) / 2 / np.sqrt(0.6)
    xx, yy, zz, xy, xz, yz = np.moveaxis(np.stack([middle + half, middle - half], 2), -1, 0)
    return np.sqrt(((xx - yy) ** 2 + (yy - zz) ** 2 + (zz - xx) ** 2) / 2 + 3 * (xy**2 + xz**2 + yz**2))


@pytest.mark.parametrize("limb", LIMBS)
def test_a_guard_gives_as_solid_elements_do(limb, middle, tmp_path):
    if not shutil.which("ccx"):
        pytest.skip("CalculiX is not on this machine; tests/run installs it")
    found = middle(limb)
    text, n = wedges(found)
    (tmp_path / "guard.inp").write_text(text)
    done = subprocess.run(["ccx", "-i", "guard"], cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout[-500:]
    rows = [line.split() for line in (tmp_path / "guard.dat").read_text().splitlines()]
    moved = {int(row[0]) - 1: [float(x) for x in row[1:]] for row in rows if len(row) == 4 and row[0].isdigit()}
    theirs, ours = np.array([moved[v + 2 * n] for v in range(n)]), np.array(found["moved_mm"])
    pressed = [v for v, _ in found["loads_n"]]
    gives = [np.linalg.norm(all_moved[pressed].mean(0)) for all_moved in (ours, theirs)]
    apart = np.linalg.norm(ours - theirs) / np.linalg.norm(theirs)
    places = np.array(found["points_mm"])[np.array(found["triangles"])]
    away = np.linalg.norm(places - np.array(found["points_mm"])[found["struck"]], axis=2) > AWAY_MM
    stressed = [each[away] for each in (np.array(found["von_mises_mpa"]), von_mises_at_faces(rows, len(places)))]
    most, all_apart = [each.max() for each in stressed], np.linalg.norm(stressed[0] - stressed[1]) / np.linalg.norm(stressed[1])
    print(
        f"{limb}: greatest stress {most[0]:.2f} MPa, solid elements {most[1]:.2f} ({100 * (most[0] / most[1] - 1):+.1f} %); "
        f"all places apart by {100 * all_apart:.0f} %"
    )
    print(
        f"{limb}: gives {gives[0]:.4f} mm, solid elements {gives[1]:.4f} ({100 * (gives[0] / gives[1] - 1):+.1f} %); "
        f"all nodes apart by {100 * apart:.1f} %; {found['unknowns']} unknowns in {found['seconds']:.3f} s"
    )
    assert abs(gives[0] / gives[1] - 1.0) < 0.03
    assert apart < 0.05
    assert abs(most[0] / most[1] - 1.0) < 0.10
    assert all_apart < 0.25
