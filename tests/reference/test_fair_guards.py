"""How fair trim lines and outer faces are, measured by NumPy, SciPy and trimesh on the written files.

Trim line: in each window of 20 mm a cubic in arc length is taken off, and what is left is its ripple. Faces: so is a
quadric within 12 mm of a point. The limits are common practice for what the eye does not see on a satin part, from
memory; skin itself has ripples of 0.1 to 0.2 mm, and a line drawn by hand as many.
"""

import json

import numpy as np
import pytest
import trimesh
from conftest import LIMBS, need
from scipy.ndimage import uniform_filter1d
from scipy.spatial import cKDTree
from test_gap_and_thickness import dense, in_limb_axes

RIPPLE_MM = {50: 0.03, 90: 0.06}
# The line lies on the skin, and that of the ankle is rougher by half: most of what is left stands square to it.
RIPPLE_ON_ROUGH_SKIN_MM = {50: 0.03, 90: 0.075}
RIM_MM = {50: 0.04, 90: 0.08}
# The rim is taken to be what lies this near to where the wall ends, mm.
RIM_DEPTH_MM = 0.4
FACE_MM = {50: 0.04, 90: 0.10}
# On joints, away from their bony points.
FACE_ON_JOINT_MM = {50: 0.10, 90: 0.25}
# What the straight line between two points of a drawn line, and the samples of it, leave.
CHORD_MM = 0.1
REACH_MM, SPOTS, SAMPLES = 12.0, 300, 120_000
BARE = [205, 200, 192]


def plain(design):
    """A wall and nothing else, its edge as near to the pen line as is allowed."""
    design["shell"].update(ribs=None, vents=None, fittings=[], marks=[])
    design["zone"].update(regions=[], grow_mm=0.0)


def ripple(line, step=0.5, half=10.0):
    ends = np.vstack([line, line[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(ends, axis=0), axis=1))])
    places = np.linspace(0.0, along[-1], int(along[-1] / step), endpoint=False)
    points = np.stack([np.interp(places, along, ends[:, k]) for k in range(3)], 1)
    reach = int(half / (along[-1] / len(points)))
    terms = np.vander(np.linspace(-1, 1, 2 * reach + 1), 4)
    fit = terms @ np.linalg.pinv(terms)
    left = []
    for i in range(0, len(points), 4):
        window = points[np.arange(i - reach, i + reach + 1) % len(points)]
        left.append(np.sqrt(((window - fit @ window) ** 2).sum(1).mean()))
    return np.array(left)


def what_a_quadric_leaves(points, normals, spots):
    tree, left = cKDTree(points), []
    for i in spots:
        near = np.array(tree.query_ball_point(points[i], REACH_MM))
        near = near[normals[near] @ normals[i] > 0.5]
        if len(near) < 60:
            continue
        n = normals[i]
        a = np.cross(n, [1.0, 0, 0] if abs(n[0]) < 0.8 else [0, 1.0, 0])
        a /= np.linalg.norm(a)
        x, y, z = ((points[near] - points[i]) @ axis for axis in (a, np.cross(n, a), n))
        terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], 1)
        left.append(np.sqrt(np.mean((z - terms @ np.linalg.lstsq(terms, z, rcond=None)[0]) ** 2)))
    return np.array(left)


def say(name, left, limits):
    at = {share: np.percentile(left, share) for share in limits}
    print(name, ", ".join(f"{share} % under {mm:.3f} mm (at most {limits[share]})" for share, mm in at.items()))
    return all(at[share] <= limits[share] for share in limits)


@pytest.mark.parametrize("limb", ["forearm-07", "shin-23", "ribs-04", "ankle-31", "shoulder-19"])
def test_the_trim_line_is_fair_and_near_the_pen_line(limb, guards):
    guard = guards.get(limb, "fair", plain)
    (edge,) = [in_limb_axes(guard, np.array(line)) for line in guard.report["zone"]["edges_in_scan"]]
    limits = RIPPLE_ON_ROUGH_SKIN_MM if limb == "ankle-31" else RIPPLE_MM
    assert say(f"{limb}, trim line:", ripple(edge), limits)
    drawn = dense(np.array(guard.design["zone"]["sources"][0]["line"]["points_mm"]), 0.2)
    farthest = cKDTree(drawn).query(edge)[0].max()
    print(f"{limb}: {farthest:.2f} mm from the pen line at most")
    assert farthest <= guard.design["zone"]["tolerance_mm"] + CHORD_MM


def section(triangles, at, across):
    """Points on the section of triangles with a plane through `at` square to `across`, and the length that each is of."""
    over = (triangles - at) @ across
    triangles, over = triangles[(over.min(1) < 0) & (over.max(1) > 0)], over[(over.min(1) < 0) & (over.max(1) > 0)]
    ends = []
    for a, b in ((0, 1), (1, 2), (2, 0)):
        cut = over[:, a] * over[:, b] < 0
        share = np.where(cut, over[:, a] / np.where(cut, over[:, a] - over[:, b], 1.0), np.nan)
        ends.append(triangles[:, a] + (triangles[:, b] - triangles[:, a]) * share[:, None])
    ends = np.stack(ends, 1)
    is_cut = np.isfinite(ends).all(2)
    two = is_cut.sum(1) == 2
    first, last = ends[two][is_cut[two]].reshape(-1, 2, 3).transpose(1, 0, 2)
    shares = np.linspace(0.05, 0.95, 10)[None, :, None]
    points = first[:, None] + (last - first)[:, None] * shares
    return points.reshape(-1, 3), np.repeat(np.linalg.norm(last - first, axis=1), 10)


def rim(guard, edge):
    """The line along which the wall ends: in planes square to the trim line the middle of what is farthest out."""
    edge = dense(edge)
    skin = trimesh.Trimesh(guard.limb.vertices, guard.limb.faces)
    trimesh.smoothing.filter_laplacian(skin, iterations=30)
    up = skin.vertex_normals[cKDTree(skin.vertices).query(edge)[1]]
    unit = lambda rows: rows / np.linalg.norm(rows, axis=1, keepdims=True)
    even = lambda rows: unit(uniform_filter1d(rows, 21, 0, mode="wrap"))
    along = even(unit(np.roll(edge, -6, 0) - np.roll(edge, 6, 0)))
    out = even(unit(np.cross(along, up)))
    out = unit(out - (out * along).sum(1, keepdims=True) * along)
    if np.median(((edge - edge.mean(0)) * out).sum(1)) < 0:
        out = -out
    shell = guard.shell
    near = cKDTree(shell.triangles_center).query_ball_point(edge, 14.0)
    line = []
    for at, tangent, way, beside in zip(edge, along, out, near):
        points, length = section(shell.triangles[beside], at, tangent)
        far = (points - at) @ way
        length = np.where(far > far.max() - RIM_DEPTH_MM, length, 0.0)
        line.append(length @ points / length.sum())
    return np.array(line)


@pytest.mark.parametrize("limb", ["forearm-07", "shin-23", "ribs-04", "ankle-31", "shoulder-19"])
def test_the_rim_of_the_shell_is_fair(limb, guards):
    guard = guards.get(limb, "fair", plain)
    (edge,) = [in_limb_axes(guard, np.array(line)) for line in guard.report["zone"]["edges_in_scan"]]
    assert say(f"{limb}, rim:", ripple(rim(guard, edge)), RIM_MM)


def level(design):
    """A plain wall without the lift of its rim, whose curve is meant."""
    plain(design)
    design["shell"]["rim"]["flare_mm"] = 0.0


def bony_points(guard):
    """Places and radii of the bony points that were found, mm, in limb axes."""
    found = json.loads((guard.folder.parent / "started.json").read_text())["bony_points"]
    return [(in_limb_axes(guard, np.array(bone["at_scan"])), bone["radius_mm"]) for bone in found]


@pytest.mark.parametrize(
    "limb",
    ["forearm-07", "shin-23", "ribs-04", "thigh_L_smpl_woman_mm", "wrist-12", "shoulder-19", "ankle-31"],
)
def test_the_outer_face_is_fair_though_the_skin_is_not(limb, guards):
    need(LIMBS[limb])
    guard = guards.get(limb, "level", level)
    limb_mesh, shell = guard.limb, guard.shell
    covered = ~np.all(limb_mesh.visual.vertex_colors[:, :3] == BARE, axis=1)
    skin, at = trimesh.sample.sample_surface(limb_mesh, SAMPLES, seed=4)
    inside = covered[limb_mesh.faces[at]].all(1)
    up = limb_mesh.face_normals[at]
    points, at = trimesh.sample.sample_surface(shell, SAMPLES, seed=3)
    normals = shell.face_normals[at]
    nearest = cKDTree(skin[inside]).query(points)[1]
    outer = np.einsum("ij,ij->i", normals, up[inside][nearest]) > 0.8
    points, normals = points[outer], normals[outer]
    off_bone = np.ones(len(points), bool)
    for at, radius in bony_points(guard):
        off_bone &= np.linalg.norm(points - at, axis=1) > radius + REACH_MM
    assert off_bone.mean() > 0.1, "hardly more than bony points"
    spots = np.random.default_rng(1).choice(np.flatnonzero(off_bone), SPOTS)
    left = what_a_quadric_leaves(points, normals, spots)
    on_joint = limb.split("-")[0] in ("wrist", "shoulder", "ankle")
    assert say(f"{limb}, outer face:", left, FACE_ON_JOINT_MM if on_joint else FACE_MM)
