"""The inner face keeps the gap to the skin and the wall is nowhere thinner than it was set, measured by Open3D on the
written files.

Both are distances to the nearest skin, whatever way the limb bends: the gap that of the inner face, the wall that of
the outer face less the gap. The outer face is fair and the skin is not, so the wall is thicker in most places, by less
than a third of it on average.
"""

import numpy as np
import pytest
import trimesh
from conftest import LIMBS, need, scene
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

WITHIN_MM = 0.05
SHARE = 0.99
# Dense enough that the walls of openings, which are found among the samples, are found everywhere.
SAMPLES = 200_000


def plain(design):
    """A wall and nothing else."""
    design["shell"].update(ribs=None, vents=None, fittings=[], marks=[])
    design["shell"]["rim"]["flare_mm"] = 0.0
    design["zone"]["regions"] = []


def measure(guard, from_edge_mm, from_opening_mm=0.0):
    """Distance to the skin of samples of the inner and the outer face, that far from the trim line and openings, and
    the skin points below the outer ones."""
    shell, limb = guard.shell, guard.limb
    points, faces = trimesh.sample.sample_surface(shell, SAMPLES, seed=7)
    nearest = scene(limb).compute_closest_points(points.astype(np.float32))
    foot = nearest["points"].numpy().astype(float)
    distance = np.linalg.norm(points - foot, axis=1)
    up = np.einsum("ij,ij->i", shell.face_normals[faces], points - foot) / distance
    clear = edge_distance(guard, foot) > from_edge_mm
    # Walls of openings stand across the skin's normal.
    walls = foot[np.abs(up) < 0.5]
    if from_opening_mm and len(walls):
        clear &= cKDTree(walls).query(foot)[0] > from_opening_mm
    inner = clear & (up < -0.5) & ~over_hollow(limb, points, foot, distance)
    return distance[inner], distance[clear & (up > 0.5)], foot[clear & (up > 0.5)]


def over_hollow(limb, points, foot, distance):
    """Where the skin's other side is nearer to the middle of a ball of 1.5 mm on the inner face than its foot is, as
    between two fingers: there the inner face is rounded."""
    ahead = 1.25 * 1.5
    middle = points + (points - foot) / distance[:, None] * ahead
    return scene(limb).compute_distance(middle.astype(np.float32)).numpy() < distance + ahead - 0.1


def edge_distance(guard, points):
    """Straight distance to the trim line, the scan's edge polylines carried to limb axes by the report's placement."""
    lines = [in_limb_axes(guard, np.array(line)) for line in guard.report["zone"]["edges_in_scan"]]
    return cKDTree(np.vstack([dense(line) for line in lines])).query(points)[0]


def in_limb_axes(guard, scan_points):
    placement = guard.report["placement"]
    mm = scan_points * placement["unit_mm"]
    if placement["mirrored"]:
        mm = mm * [-1.0, 1.0, 1.0]
    pose = placement["pose"]
    return Rotation.from_quat(pose["rotation"]).apply(mm) + pose["translation"]


def dense(line, step=0.5):
    ends = np.roll(line, -1, axis=0)
    counts = np.maximum(1, np.ceil(np.linalg.norm(ends - line, axis=1) / step).astype(int))
    return np.vstack([a + (b - a) * (np.arange(n) / n)[:, None] for a, b, n in zip(line, ends, counts)])


def wall_share(name, more, set_mm):
    """How much of the wall is not thinner than it was set."""
    share = (more >= -WITHIN_MM).mean()
    print(f"{name}: {len(more)} samples, {share:.2%} not thinner; {more.mean():.2f} mm more on average, {more.max():.2f} at most")
    assert more.mean() < set_mm / 3
    return share


def say(name, off):
    at = np.percentile(np.abs(off), [50, 90, 99, 99.9, 100])
    share = (np.abs(off) <= WITHIN_MM).mean()
    figures = ", ".join(f"{p}: {v:.4f}" for p, v in zip(("50 %", "90 %", "99 %", "99.9 %", "all"), at))
    print(f"{name}: {len(off)} samples, {share:.2%} within {WITHIN_MM} mm; {figures} mm")
    return share


@pytest.mark.parametrize(
    "limb",
    ["forearm-07", "shin-23", "shoulder-19", "forearm_L_smpl_man_mm", "thigh_L_smpl_woman_mm", "handwrist_libhand_color_mm"],
)
def test_a_plain_wall_keeps_gap_and_thickness(limb, guards):
    need(LIMBS[limb])
    guard = guards.get(limb, "plain", plain)
    settings = guard.design["shell"]
    inner, outer, _ = measure(guard, settings["rim"]["round_mm"] + 1.0)
    assert len(inner) > 15_000 and len(outer) > 15_000
    gap = say(f"{limb}, plain, gap", inner - settings["gap_mm"])
    more = outer - settings["gap_mm"] - settings["thickness_mm"]
    thickness = wall_share(f"{limb}, plain, wall", more, settings["thickness_mm"])
    assert gap >= SHARE and thickness >= SHARE


@pytest.mark.parametrize("limb", ["forearm-07", "shin-23", "shoulder-19"])
def test_the_full_demo_design_keeps_them_away_from_rim_rib_and_fitting(limb, guards):
    guard = guards.get(limb)
    settings = guard.design["shell"]
    # Inward of 10 mm and the flare. Walls of openings are told by their slope, and their rounded edges left out.
    inner, outer, foot = measure(guard, max(10.0, settings["rim"]["flare_width_mm"]) + 0.5, settings["rim"]["round_mm"])
    assert len(inner) > 15_000 and len(outer) > 15_000
    assert say(f"{limb}, full, gap", inner - settings["gap_mm"]) >= SHARE
    wall = outer - settings["gap_mm"] - settings["thickness_mm"]
    keep = ~raised(guard, foot)
    assert keep.sum() > 2_000
    assert wall_share(f"{limb}, full, wall", wall[keep], settings["thickness_mm"]) >= SHARE


def raised(guard, foot):
    """Which skin points lie under ribs or, with a margin, under marks."""
    settings = guard.design["shell"]
    under = np.zeros(len(foot), bool)
    for mark in settings["marks"]:
        reach = 0.5 * mark["height_mm"] * (1.0 + len(mark["text"])) + 1.0
        under |= np.linalg.norm(foot - mark["at_mm"], axis=1) < reach
    if settings["ribs"]:
        under |= under_ribs(guard, foot)
    return under


def under_ribs(guard, foot):
    """Which skin points lie under ribs as laid out: half the width, a fillet of 1.2 heights, and 1.5 mm for
    smoothing."""
    ribs = guard.design["shell"]["ribs"]
    lines = [in_limb_axes(guard, np.array(line)) for line in guard.report["shell"]["ribs_in_scan"]]
    # There and back, as `dense` closes its line.
    points = np.vstack([dense(np.vstack([line, line[-2:0:-1]])) for line in lines])
    return cKDTree(points).query(foot)[0] < 0.5 * ribs["width_mm"] + 1.2 * ribs["height_mm"] + 1.5
