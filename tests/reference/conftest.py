"""What the reference tests share: limbs, guards made once a session, and counts by independent libraries.

`tests/run` sets PAULDRON (the program), EXAMPLES (folder of built cargo examples) and PAULDRON_DATA (the shared
surfaces, which may not be there).
"""

import json
import os
import subprocess
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import igl.copyleft.cgal as cgal
import manifold3d
import numpy as np
import open3d
import pymeshlab
import pytest
import trimesh

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo-scans"
DATA = Path(os.environ.get("PAULDRON_DATA", ROOT.parent / "shared" / "data"))

# Where to paint a zone on a limb without pen line: site, a point in the scan's box (0 to 1 on each axis), and the
# direction from there to the skin.
PAINTED = {
    DEMO / "forearm-16.stl": ("forearm", (0.5, 0.5, 0.5), (0.0, 1.0, 0.0)),
    DATA / "limbs/footankle_find_A_L_m.ply": ("ankle", (0.4, 0.5, 0.5), (0.0, 0.0, 1.0)),
    DATA / "limbs/footankle_find_C_dorsiflex_L_mm.ply": ("ankle", (0.4, 0.5, 0.5), (0.0, 0.0, 1.0)),
    DATA / "limbs/forearm_L_smpl_man_mm.stl": ("forearm", (0.5, 0.5, 0.5), (0.0, 1.0, 0.0)),
    DATA / "limbs/forearm_L_smpl_woman_mm.stl": ("forearm", (0.5, 0.5, 0.5), (0.0, 0.0, 1.0)),
    DATA / "limbs/handforearm_L_smpl_woman_mm.stl": ("wrist", (0.62, 0.55, 0.4), (0.0, 1.0, 0.0)),
    DATA / "limbs/handwrist_libhand_color_mm.ply": ("wrist", (0.4, 0.5, 0.5), (0.0, 0.0, 1.0)),
    DATA / "limbs/ribside_L_smpl_woman_mm.stl": ("ribs", (0.6, 0.5, 0.5), (1.0, 0.0, 0.0)),
    DATA / "limbs/shin_L_smpl_man_mm.stl": ("shin", (0.5, 0.5, 0.5), (0.0, 0.0, 1.0)),
    DATA / "limbs/shoulder_L_smpl_woman_mm.stl": ("shoulder", (0.45, 0.6, 0.5), (0.0, 1.0, 0.0)),
    DATA / "limbs/thigh_L_smpl_woman_mm.stl": ("thigh", (0.5, 0.5, 0.5), (0.0, 0.0, 1.0)),
}
DRAWN = {DEMO / truth["file"]: truth["site"] for truth in json.loads((DEMO / "truth.json").read_text()) if truth["line"]}
LIMBS = {path.stem: path for path in [*DRAWN, *PAINTED]}
SHARED = {path.stem for path in PAINTED if path.is_relative_to(DATA)}


def need(path):
    """Skips a test whose surfaces are not on this machine."""
    if not path.exists():
        pytest.skip(f"{path} is not there: the shared surfaces are not part of the repository")
    return path


def pauldron(*words, env=None):
    """Runs the program; returns its answer from JSON."""
    program = os.environ.get("PAULDRON")
    if not program:
        pytest.skip("PAULDRON does not name the built program; tests/run sets it")
    command = [program, "--json", "--quiet", *map(str, words)]
    done = subprocess.run(command, capture_output=True, text=True, env={**os.environ, **(env or {})})
    assert done.returncode == 0, f"{command}: {done.returncode} {done.stdout}{done.stderr}"
    return json.loads(done.stdout)


def made(folder, ending):
    """The one file in a guard's folder with this ending; its name begins with number, site and side."""
    (file,) = folder.glob(f"*{ending}")
    return file


@dataclass
class Guard:
    """A guard that was made: its files, its report, and the shell where it stands on the limb."""

    folder: Path

    def __post_init__(self):
        self.report = json.loads(made(self.folder, "-report.json").read_text())
        self.design = json.loads(made(self.folder, "-design.json").read_text())

    @property
    def shell(self):
        """In limb axes, corners joined."""
        shell = trimesh.load(made(self.folder, "-shell.stl"))
        shell.apply_translation(self.report["shell"]["origin_limb_mm"])
        return shell

    @property
    def limb(self):
        return trimesh.load(made(self.folder, "-zone.ply"), process=False)


def scene(mesh):
    """The mesh for Open3D's distances and rays."""
    scene = open3d.t.geometry.RaycastingScene(nthreads=2)
    scene.add_triangles(np.asarray(mesh.vertices, np.float32), np.asarray(mesh.faces, np.uint32))
    return scene


def strokes_on(path, folder):
    """A file of three strokes of 25 to 30 mm where PAINTED says."""
    _, share, way = PAINTED[path]
    scan = trimesh.load(path)
    unit_mm = 1000.0 if path.stem.endswith("_m") else 1.0
    low, high = scan.bounds
    start = low + np.array(share) * (high - low)
    direction = np.array(way)
    # The outermost skin in that direction, by a ray back from outside the box.
    outside = start + direction * np.linalg.norm(high - low)
    ray = np.concatenate([outside, -direction]).astype(np.float32)[None]
    seen = float(scene(scan).cast_rays(ray)["t_hit"].numpy()[0])
    assert np.isfinite(seen), f"{path.name}: no skin that way"
    middle = outside - seen * direction
    others = scan.vertices[np.argsort(np.linalg.norm(scan.vertices - middle, axis=1))]
    away = np.linalg.norm(others - middle, axis=1) * unit_mm
    beside = others[np.searchsorted(away, 22.0)]
    far = others[(away > 18.0) & (away < 24.0)]
    opposite = far[np.argmin(far @ (beside - middle))]
    strokes = [(middle, 28.0), (beside, 25.0), (opposite, 25.0)]
    file = folder / f"{path.stem}-strokes.json"
    file.write_text(json.dumps({"strokes": [{"at": list(at), "radius_mm": r} for at, r in strokes]}))
    return file


class Guards:
    """Makes each guard when it is first asked for; several may be asked for at once."""

    def __init__(self, folder):
        self.folder, self.made, self.lock = folder, {}, threading.Lock()

    def get(self, limb, variant="default", change=None):
        """The guard of a limb; `change` edits the design before it is made."""
        key = f"{limb}-{variant}"
        with self.lock:
            turn = self.made.setdefault(key, {"lock": threading.Lock(), "guard": None, "error": None})
        with turn["lock"]:
            if turn["guard"] is None and turn["error"] is None:
                try:
                    turn["guard"] = self.make(limb, key, change)
                except AssertionError as error:
                    turn["error"] = error
        if turn["error"]:
            raise turn["error"]
        return turn["guard"]

    def make(self, limb, key, change):
        path = LIMBS[limb]
        folder = self.folder / key
        folder.mkdir()
        design = folder / "start.json"
        words = ["start", path, "-o", design, "--number", "7"]
        if path in DRAWN:
            words += ["--site", DRAWN[path]]
        else:
            words += ["--site", PAINTED[path][0], "--strokes", strokes_on(path, folder)]
        started = pauldron(*words)
        (folder / "started.json").write_text(json.dumps(started))
        if change:
            edited = json.loads(design.read_text())
            change(edited)
            design.write_text(json.dumps(edited))
        pauldron("make", design, "--out", folder / "out", "--no-strength")
        return Guard(folder / "out")


@pytest.fixture(scope="session")
def guards(tmp_path_factory):
    """All guards of the session. The default ones of all limbs on this machine are made two at a time."""
    guards = Guards(tmp_path_factory.mktemp("guards"))
    there = [limb for limb, path in LIMBS.items() if path.exists()]
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda limb: swallow(guards, limb), there))
    return guards


def swallow(guards, limb):
    """Makes a guard and ignores failure: that is for the tests that use the guard."""
    try:
        guards.get(limb)
    except (AssertionError, pytest.skip.Exception):
        pass


def crossings(points, triangles):
    """Number of triangles that cross others: exactly, by CGAL through libigl, and by MeshLab."""
    points, triangles = np.asarray(points, np.float64), np.asarray(triangles, np.int64)
    pairs = cgal.remesh_self_intersections(points, triangles, detect_only=True)[2]
    meshes = pymeshlab.MeshSet()
    meshes.add_mesh(pymeshlab.Mesh(points, triangles))
    meshes.compute_selection_by_self_intersections_per_face()
    return len(np.unique(pairs)), meshes.current_mesh().selected_face_number()


def as_manifold(mesh):
    """The mesh as manifold3d takes it."""
    points, triangles = np.asarray(mesh.vertices, np.float32), np.asarray(mesh.faces, np.uint32)
    return manifold3d.Manifold(manifold3d.Mesh(vert_properties=points, tri_verts=triangles))
