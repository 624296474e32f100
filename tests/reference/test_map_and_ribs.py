"""The map of a zone, ribs that run from rim to rim, and openings that keep their size in the wall, measured by NumPy,
SciPy and Open3D on written files.

The limits of stretch are those that the work was asked to meet: what a general map, as rigid as possible, leaves on the
same zones.
"""

import os
import subprocess
from pathlib import Path

import numpy as np
import pytest
import trimesh
from conftest import LIMBS, need, scene
from scipy.spatial import cKDTree
from test_gap_and_thickness import dense, edge_distance, in_limb_axes

# 95 % of area is stretched or squeezed by no more, in per cent. The wrist's zone takes in the ball of the thumb; asked
# were 7.9, and the same method by libigl and SciPy leaves 8.14 to 8.29 on this zone. Limits are rounded up by a
# twentieth.
STRETCH = {"forearm-07": 1.75, "shin-23": 1.25, "ribs-04": 1.05, "ankle-31": 4.5, "wrist-12": 8.3, "shoulder-19": 10.95}
# The foot of a rib ends in the band of the rim: half the lift's width and what the sides of rim and rib take.
BAND_MM = 14.0
# A rib's side leans by more than this; its straight part leans by about 45 degrees.
SIDE_DEG = 25.0
# Reach of the smooth surface that is laid through a side, mm.
FIT_MM = 1.0
# Points of one network lie no farther apart, mm.
JOINED_MM = 2.5
HOLE_MM, HOLE_OFF_MM = 6.0, 0.15


def flat_map(guard, folder):
    """Skin points, their places on the map, and triangles."""
    program = Path(os.environ.get("EXAMPLES", "")) / "zone_map"
    if not program.exists():
        pytest.skip("EXAMPLES does not name the folder of built examples; tests/run sets it")
    (design,) = guard.folder.glob("*-design.json")
    out = folder / "map.obj"
    subprocess.run([program, design, out], check=True)
    rows = [line.split() for line in out.read_text().splitlines() if not line.startswith("#")]
    numbers = lambda word: np.array([[float(x) for x in row[1:]] for row in rows if row[0] == word])
    faces = np.array([[int(c.split("/")[0]) - 1 for c in row[1:]] for row in rows if row[0] == "f"])
    return numbers("v"), numbers("vt"), faces


@pytest.mark.parametrize("limb", STRETCH)
def test_the_map_stretches_little_and_folds_nowhere(limb, guards, tmp_path):
    need(LIMBS[limb])
    points, places, faces = flat_map(guards.get(limb), tmp_path)
    a, b = points[faces[:, 1]] - points[faces[:, 0]], points[faces[:, 2]] - points[faces[:, 0]]
    across = a / np.linalg.norm(a, axis=1, keepdims=True)
    normal = np.cross(a, b)
    area = 0.5 * np.linalg.norm(normal, axis=1)
    up = np.cross(normal / np.linalg.norm(normal, axis=1, keepdims=True), across)
    dot = lambda x, y: np.einsum("ij,ij->i", x, y)
    skin = np.stack([np.stack([dot(a, across), dot(b, across)], 1), np.stack([dot(a, up), dot(b, up)], 1)], 1)
    p, q = places[faces[:, 1]] - places[faces[:, 0]], places[faces[:, 2]] - places[faces[:, 0]]
    flat = np.stack([p, q], 2)
    linear = flat @ np.linalg.inv(skin)
    assert (np.linalg.det(linear) > 0).all(), "folded"
    scales = np.linalg.svd(linear, compute_uv=False)
    # Of both scales the one that is farther from 1.
    most = 100 * np.maximum(scales[:, 0] - 1, 1 / scales[:, 1] - 1)
    order = np.argsort(most)
    found = most[order][np.searchsorted(np.cumsum(area[order]), 0.95 * area.sum())]
    print(f"{limb}: 95 % of {area.sum() / 100:.0f} cm2 stretched by at most {found:.2f} %")
    assert found <= STRETCH[limb]


def lines_of(guard):
    """The middle lines of the ribs in limb axes, in small steps."""
    found = []
    for line in guard.report["shell"]["ribs_in_scan"]:
        points = in_limb_axes(guard, np.array(line))
        found.append(np.vstack([dense(np.array([a, b])) for a, b in zip(points[:-1], points[1:])]))
    return found


@pytest.mark.parametrize("limb", ["forearm-07", "shin-23"])
def test_rows_of_ribs_end_in_the_band_of_the_rim(limb, guards):
    need(LIMBS[limb])
    guard = guards.get(limb)
    lines = lines_of(guard)
    assert len(lines) >= 2
    ends = np.array([[line[0], line[-1]] for line in lines]).reshape(-1, 3)
    away = edge_distance(guard, ends)
    print(f"{limb}: {len(lines)} ribs, ends {np.round(away, 1)} mm from the trim line")
    assert (away <= BAND_MM).all()


def diamonds(design):
    design["shell"].update(vents=None)
    design["shell"]["ribs"] = {"layout": "diamond", "height_mm": 1.8, "width_mm": 4.0, "spacing_mm": 30.0}


@pytest.mark.parametrize("limb", ["forearm-07", "shin-23"])
def test_a_network_of_ribs_hangs_together_and_meets_the_rim_at_both_ends(limb, guards):
    need(LIMBS[limb])
    guard = guards.get(limb, "diamonds", diamonds)
    lines = lines_of(guard)
    trees = [cKDTree(line) for line in lines]
    joined = np.array([[a.sparse_distance_matrix(b, JOINED_MM).nnz > 0 for b in trees] for a in trees])
    ends = np.array([[line[0], line[-1]] for line in lines]).reshape(-1, 3)
    in_band = edge_distance(guard, ends) <= BAND_MM
    # The band of the rim joins what ends in it.
    reached = in_band.reshape(-1, 2).any(1)
    while True:
        more = reached | joined[reached].any(0)
        if (more == reached).all():
            break
        reached = more
    assert reached.all(), f"{(~reached).sum()} of {len(lines)} ribs hang on nothing"
    at_rim = ends[in_band]
    low, high = at_rim[:, 2].min(), at_rim[:, 2].max()
    covered = np.vstack([in_limb_axes(guard, np.array(e)) for e in guard.report["zone"]["edges_in_scan"]])[:, 2]
    print(f"{limb}: {len(lines)} ribs, {len(at_rim)} ends in the band, from {low:.0f} to {high:.0f} mm along")
    assert len(at_rim) >= 4 and high - low > 0.6 * np.ptp(covered)


def plain_ribs(design):
    design["shell"].update(vents=None, marks=[])


@pytest.mark.parametrize("limb", ["forearm-07", "shin-23"])
def test_the_sides_of_ribs_are_smooth(limb, guards):
    """A facet of a rib's side leans from the smooth surface round it, a cubic, by at most 5 degrees in 90 % of the area.
    The rounded foot and top edge, where the side leans less than SIDE_DEG, are edges that are wanted."""
    need(LIMBS[limb])
    guard = guards.get(limb, "plain ribs", plain_ribs)
    shell, middles = guard.shell, np.vstack(lines_of(guard))
    centres, normals = shell.triangles_center, shell.face_normals
    skin = trimesh.Trimesh(guard.limb.vertices, guard.limb.faces)
    trimesh.smoothing.filter_laplacian(skin, iterations=20)
    up = skin.vertex_normals[cKDTree(skin.vertices).query(centres)[1]]
    lean = np.degrees(np.arccos(np.clip((normals * up).sum(1), -1, 1)))
    slots = np.array([fitting["at_mm"] for fitting in guard.report["shell"]["fittings"]])
    beside = cKDTree(middles).query(centres)[0] < guard.design["shell"]["ribs"]["width_mm"] + 6.0
    side = beside & (lean > SIDE_DEG) & (lean < 80.0)
    side &= (edge_distance(guard, centres) > BAND_MM) & (cKDTree(slots).query(centres)[0] > 28.0)
    rng = np.random.default_rng(3)

    def points_on(triangles, count):
        area = shell.area_faces[triangles]
        of = rng.choice(triangles, count, p=area / area.sum())
        return (shell.triangles[of] * rng.dirichlet((1, 1, 1), count)[..., None]).sum(1), of

    around = np.flatnonzero(beside & (lean < 85.0))
    points, of = points_on(around, int(60 * shell.area_faces[around].sum()))
    near = cKDTree(points)
    off = []
    for at, facet in zip(*points_on(np.flatnonzero(side), 4000)):
        found = near.query_ball_point(at, FIT_MM)
        z = normals[of[found]].mean(0)
        z /= np.linalg.norm(z)
        x = np.cross(z, [0.0, 0.6, 0.8])
        x /= np.linalg.norm(x)
        y = np.cross(z, x)
        u, v, h = ((points[found] - at) @ way for way in (x, y, z))
        cubic = np.stack([np.ones_like(u), u, v, u * u, u * v, v * v, u**3, u * u * v, u * v * v, v**3], 1)
        slopes = np.linalg.lstsq(cubic, h, rcond=None)[0][1:3]
        fair = z - slopes[0] * x - slopes[1] * y
        off.append(np.degrees(np.arccos(np.clip(fair @ normals[facet] / np.linalg.norm(fair), -1, 1))))
    half, most = np.percentile(off, [50, 90])
    area = shell.area_faces[side].sum()
    print(f"{limb}: {area:.0f} mm2 of sides, {half:.1f} degrees off in half and {most:.1f} in 90 % of it")
    assert area > 200.0 and most <= 5.0


def one_hole(design):
    shell = design["shell"]
    shell.update(vents=None, ribs=None, marks=[])
    # So that most of the hole's side is straight.
    shell["rim"]["round_mm"] = 0.6
    middle = np.mean([f["at_mm"] for f in shell["fittings"]], axis=0)
    shell["fittings"] = [
        {"kind": {"lace-holes": {"count": 1, "hole_mm": HOLE_MM, "pitch_mm": 12.0}}, "at_mm": middle.tolist()}
    ]


@pytest.mark.parametrize("limb", ["forearm-07", "shin-23", "ribs-04"])
def test_a_hole_is_as_wide_as_it_was_set_all_through_the_wall(limb, guards):
    need(LIMBS[limb])
    # The middle of the slots lies inside the limb: the program takes the nearest skin.
    guard = guards.get(limb, "one hole", on_skin(guards.get(limb)))
    (fitting,) = guard.design["shell"]["fittings"]
    skin, shell = scene(guard.limb), scene(guard.shell)
    at = skin.compute_closest_points(np.array([fitting["at_mm"]], np.float32))
    foot = at["points"].numpy()[0].astype(float)
    # The normal of the limb round the hole: of a plane through the skin within its radius.
    near = guard.limb.vertices[cKDTree(guard.limb.vertices).query_ball_point(foot, HOLE_MM)]
    normal = np.linalg.svd(near - near.mean(0))[2][2]
    normal *= np.sign(normal @ at["primitive_normals"].numpy()[0])
    right = np.cross(normal, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    turns = np.radians(np.arange(0.0, 180.0, 15.0))
    ways = np.outer(np.cos(turns), right) + np.outer(np.sin(turns), np.cross(normal, right))
    # The faces of the wall round the hole, along the normal.
    beside = np.vstack([foot + 0.75 * HOLE_MM * way for way in np.vstack([ways, -ways])])
    up = shell.cast_rays(np.hstack([beside - 30.0 * normal, np.tile(normal, (len(beside), 1))]).astype(np.float32))
    first = np.median(up["t_hit"].numpy()) - 30.0
    down = shell.cast_rays(np.hstack([beside + 30.0 * normal, np.tile(-normal, (len(beside), 1))]).astype(np.float32))
    last = 30.0 - np.median(down["t_hit"].numpy())
    assert last - first > 2.0
    for share in (0.35, 0.5, 0.65):
        origin = foot + normal * (first + share * (last - first))
        both = np.vstack([ways, -ways])
        # The hole stands square on the smoothed skin: its middle is found from what lies on both sides of each point.
        for _ in range(3):
            rays = np.hstack([np.tile(origin, (len(both), 1)), both]).astype(np.float32)
            far = shell.cast_rays(rays)["t_hit"].numpy()
            ahead, back = far[: len(ways)], far[len(ways) :]
            origin = origin + (ways * (ahead - back)[:, None]).mean(0)
        width = ahead + back
        print(f"{limb}: {share:.0%} up a wall of {last - first:.1f} mm {width.min():.2f} to {width.max():.2f} mm wide")
        assert np.abs(width - HOLE_MM).max() <= HOLE_OFF_MM


def on_skin(guard):
    """One hole at the skin point over the middle of the zone."""
    zone = np.vstack([in_limb_axes(guard, np.array(e)) for e in guard.report["zone"]["edges_in_scan"]])

    def change(design):
        one_hole(design)
        middle = zone.mean(0)
        covered = guard.limb.vertices
        # The skin point that is as far from the edge on all sides as can be lies near its middle.
        inside = covered[np.argmin(np.linalg.norm(covered - middle, axis=1))]
        design["shell"]["fittings"][0]["at_mm"] = inside.tolist()

    return change
