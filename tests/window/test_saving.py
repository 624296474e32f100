"""Files in and out of the window; nothing is lost by a kill, a question answered, or a scan that arrives."""

import datetime
import hashlib
import json
import resource
import signal
import subprocess
import sys

import pytest
from doing import ROOT, SHIN, painted, sources
from drop import drop
from workbench_window import LONGEST

# Places in a window of 1280 × 800: the slider of the wall and the first filament.
WALL = (1120, 450)
RIGID = (1010, 175)

# Endings of the files of a guard that are read here.
PRINT_FILES = ("shell.stl", "shell.3mf", "summary.pdf", "report.json")


def big_scan(path):
    """The shin subdivided twice, so large that a save can be interrupted."""
    import numpy as np
    import trimesh

    shin = trimesh.load(ROOT / "demo-scans" / "shin-23.obj", process=False, maintain_order=True)
    shin = trimesh.Trimesh(shin.vertices, shin.faces, process=False).subdivide().subdivide()
    shin.export(path)
    assert len(shin.faces) > 500_000 and np.isfinite(shin.vertices).all()
    return path


def thickness(part):
    """Wall of a shell, 5th percentile and median: rays from points on it, straight inward to the other face."""
    import numpy as np
    import open3d

    scene = open3d.t.geometry.RaycastingScene()
    scene.add_triangles(part.vertices.astype(np.float32), part.faces.astype(np.uint32))
    some = np.random.default_rng(1).choice(len(part.faces), 3000, p=part.area_faces / part.area)
    inward = -part.face_normals[some]
    rays = np.hstack([part.triangles_center[some] + 1e-3 * inward, inward]).astype(np.float32)
    through = scene.cast_rays(open3d.core.Tensor(rays))["t_hit"].numpy()
    return np.percentile(through[np.isfinite(through)], [5, 50])


def test_a_guard_is_saved_and_its_print_files_read_back(window, tmp_path):
    """Open, paint, save and save print files by keys and mouse; then other libraries read what was made."""
    import manifold3d
    import numpy as np
    import trimesh

    one = window(SHIN)
    painted(one)
    one.key("Next")
    # The wall by mouse, on a slider from 1 to 10 mm; then by key, a tenth of a millimetre each.
    one.press(WALL)
    by_mouse = one.settled("the wall by mouse", lambda design: design["shell"]["thickness_mm"] != 3.0)
    before = by_mouse["shell"]["thickness_mm"]
    one.key("Right", "Right", "Right")
    by_key = one.settled("the wall by key", lambda design: design["shell"]["thickness_mm"] > before)
    wall = by_key["shell"]["thickness_mm"]
    assert round(10 * (wall - before), 3) == 3, (before, wall)
    one.key("Next", "Next")
    one.press(RIGID)
    one.settled("another filament", lambda design: design["material"] == "rigid")
    one.chord("ctrl", key="s")
    saved = tmp_path / "shin.json"
    one.path(saved)
    one.until("the saved design", saved.exists)
    assert json.loads(saved.read_text())["shell"] == by_key["shell"]
    one.until("the title without mark", lambda: not one.title().startswith("•"))
    prints = tmp_path / "prints"
    one.chord("ctrl", key="e")
    one.path(prints)
    one.until("the print files", lambda: list(prints.glob("*-report.json")))
    one.rested()
    stl, threemf, page, report = (next(prints.glob(f"*-{end}")) for end in PRINT_FILES)
    report = json.loads(report.read_text())
    part = trimesh.load(stl)
    assert part.is_watertight and part.volume / 1000 == pytest.approx(report["shell"]["volume_cm3"], rel=1e-4)
    # Over the ridge of the shin the outer face is fair and not thinner than set, so beside it the wall is thicker.
    thinnest, median = thickness(part)
    assert wall - 0.1 < thinnest < wall + 0.5 and median < wall + 1.5, (thinnest, median)
    solid = manifold3d.Manifold(
        manifold3d.Mesh(np.asarray(part.vertices, np.float32), np.asarray(part.faces, np.uint32))
    )
    assert solid.status() == manifold3d.Error.NoError and solid.volume() > 0
    subprocess.run(
        [sys.executable, ROOT / "tests/reference/read_back.py", stl, threemf], check=True
    )
    page = subprocess.run(["pdftotext", page, "-"], check=True, capture_output=True, text=True).stdout
    assert datetime.date.today().isoformat() in page, "the page bears the day"
    assert one.close() == 0
    assert not list((tmp_path / "home").glob("unsaved/*/design.json")), "a clean end leaves nothing behind"


def test_a_kill_during_a_build_loses_nothing(window, tmp_path):
    one = window(SHIN)
    before = painted(one)
    # A thicker wall is built anew.
    one.tool("key", "w")
    one.reported("a build", lambda now: now["working"])
    one.kill()
    two = window()
    two.chord("ctrl", key="r")
    two.opened()
    assert two.autosaved()["zone"] == before["zone"]


def test_a_kill_in_the_middle_of_a_save_loses_nothing(window, tmp_path):
    """The program is killed while a large scan is being written beside the design."""
    one = window(big_scan(tmp_path / "big.ply"))
    one.opened()
    # Autosaving writes the scan as well; only the save below is to be interrupted.
    before = one.autosaved()
    folder = tmp_path / "team"
    (folder / "scans").mkdir(parents=True)
    saved = folder / "shin.json"
    one.chord("ctrl", key="s")
    one.type_path(saved)
    # A limit on file size: the system kills the program while it writes the scan.
    resource.prlimit(one.process.pid, resource.RLIMIT_FSIZE, (1 << 20, 1 << 20))
    one.key("Return")
    assert one.process.wait(LONGEST) == -signal.SIGXFSZ
    half = [f.stat().st_size for f in (folder / "scans").glob("*")]
    assert half == [1 << 20], "the scan was being written"
    assert not saved.exists(), "the design comes after its scan"
    assert one.autosaved() == before, "what was not saved is still kept"
    two = window()
    two.chord("ctrl", key="r")
    two.opened()
    two.chord("ctrl", key="s")
    two.path(saved)
    two.until("the saved design", saved.exists)
    assert json.loads(saved.read_text())["scan"]["file"]["sha256"] == before["scan"]["file"]["sha256"]
    assert two.close() == 0


def test_a_scan_that_arrives_is_offered_and_unsaved_work_is_asked_about(window, tmp_path):
    scanner = tmp_path / "scanner"
    scanner.mkdir()
    settings = tmp_path / "home" / "settings"
    settings.mkdir(parents=True)
    (settings / "preferences.json").write_text(json.dumps({"watched_folder": str(scanner)}))
    one = window(SHIN)
    one.opened()
    one.key("2", "p")
    marked = one.settled("the pen line as zone", sources)
    (scanner / "wrist.ply").write_bytes((ROOT / "demo-scans" / "wrist-12.ply").read_bytes())
    one.reported("the offer", lambda now: now["arrived"])
    one.chord("ctrl", key="Return")
    assert one.report()["asks"] == "question"
    # The question is about unsaved work; Escape goes back and all stays.
    one.key("Escape")
    assert one.report()["asks"] is None and one.autosaved() == marked
    # Nor is the window closed when its question is answered with Escape.
    one.chord("ctrl", key="q")
    assert one.report()["asks"] == "question"
    one.key("Escape")
    assert one.report()["asks"] is None and one.process.poll() is None
    # The design is discarded for a second scan.
    (scanner / "again.ply").write_bytes((ROOT / "demo-scans" / "wrist-12.ply").read_bytes())
    one.reported("the offer", lambda now: now["arrived"])
    one.chord("ctrl", key="Return")
    one.key("d")
    other = one.settled("the new scan", lambda design: design and not sources(design))
    assert other["scan"]["file"]["sha256"] != marked["scan"]["file"]["sha256"]
    # Nothing was done to it, so nothing is asked.
    assert one.close() == 0


def test_a_file_dropped_on_the_window_opens_and_a_picture_is_laid_on(window, tmp_path):
    """By the desktop's own drag and drop; then the guard with the picture is shown alone, saved, and its question
    answered with Save."""
    import numpy as np
    from PIL import Image

    one = window()
    # A first start opens nothing; F2 opens the demo.
    one.key("F2")
    one.opened()
    assert drop(one.screen, int(one.number), ROOT / "demo-scans" / "wrist-12.ply", (480, 400))
    # Nothing is marked on the demo yet, so it is replaced without a question.
    wrist = hashlib.sha256((ROOT / "demo-scans" / "wrist-12.ply").read_bytes()).hexdigest()
    one.settled("the wrist", lambda design: design and design["scan"]["file"]["sha256"] == wrist)
    one.key("2", "p")
    one.settled("the pen line", lambda design: any("line" in s for s in sources(design)))
    picture = tmp_path / "badge.png"
    Image.new("RGB", (64, 64), (200, 20, 160)).save(picture)
    assert drop(one.screen, int(one.number), picture, (480, 400))
    laid = one.settled("the picture", lambda design: design.get("look") and design["look"].get("artwork"))
    assert "picture" in laid["look"]["artwork"]["art"]
    one.key("7")
    one.chord("ctrl", key="g")
    one.chord("ctrl", key="p")
    photo = tmp_path / "photo.png"
    one.path(photo)
    one.until("the photo", photo.exists)
    one.rested()
    seen = Image.open(photo).convert("RGB")
    # 10 by 15 cm at 300 dots an inch.
    assert sorted(seen.size) == [1181, 1772] and round(seen_dpi(photo)) == 300
    red, green, blue = np.asarray(seen, float).transpose(2, 0, 1)
    share = np.mean((red > 1.5 * green) & (blue > 1.2 * green) & (red > 80))
    assert 0.02 < share < 0.6, f"{share} of the photo bears the picture"
    # Saved when asked before the window closes.
    one.chord("ctrl", key="q")
    one.key("Return")
    saved = tmp_path / "wrist.json"
    one.path(saved)
    assert one.process.wait(LONGEST) == 0
    assert json.loads(saved.read_text())["look"]["artwork"] == laid["look"]["artwork"]
    assert not list((tmp_path / "home").glob("unsaved/*/design.json"))


def seen_dpi(path):
    from PIL import Image

    return Image.open(path).info["dpi"][0]
