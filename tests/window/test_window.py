"""The workbench in a real window, driven by mouse and keys. `tests/run` sets WORKBENCH (the program) and, where no
screen is there, starts one (Xvfb). State is read from the files that the program writes, never from pixels.
"""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "reference"))
SHIN = ROOT / "demo-scans" / "shin-23.obj"
SIZE = (1280, 800)
# Places in a window of that size: the track of the wall and the first filament.
WALL = (1120, 424)
RIGID = (1010, 175)


@pytest.fixture(scope="session")
def screen():
    """A screen of its own, so that nobody's windows are touched."""
    if not os.environ.get("WORKBENCH"):
        pytest.skip("WORKBENCH does not name the built program; tests/run sets it")
    read, write = os.pipe()
    command = ["Xvfb", "-displayfd", str(write), "-screen", "0", "1600x1000x24", "-nolisten", "tcp", "-noreset"]
    server = subprocess.Popen(command, pass_fds=[write], stderr=subprocess.DEVNULL)
    os.close(write)
    with os.fdopen(read) as pipe:
        number = pipe.readline().strip()
    assert number, "Xvfb did not start"
    yield f":{number}"
    server.terminate()
    server.wait()


class Window:
    """One running workbench."""

    def __init__(self, screen, home, *words):
        self.home, self.screen = home, screen
        hidden = ("DBUS_SESSION_BUS_ADDRESS", "XDG_RUNTIME_DIR", "WAYLAND_DISPLAY")
        self.env = {k: v for k, v in os.environ.items() if k not in hidden} | {"DISPLAY": screen}
        command = [os.environ["WORKBENCH"], "--home", str(home), "--size", f"{SIZE[0]}x{SIZE[1]}", *map(str, words)]
        self.log = open(home.parent / f"{home.name}.log", "ab")
        self.process = subprocess.Popen(command, env=self.env, stdout=self.log, stderr=self.log)
        found = self.until("the window", lambda: self.tool("search", "--onlyvisible", "--name", "Pauldron"), 60)
        self.number = found.split()[0]
        self.tool("windowfocus", "--sync", self.number)

    def tool(self, *words):
        done = subprocess.run(["xdotool", *words], env=self.env, capture_output=True, text=True)
        return done.stdout.strip()

    def until(self, what, seen, seconds=60):
        """What `seen` gives, as soon as that is something."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            assert self.process.poll() is None, f"the program ended ({self.process.poll()}) while waiting for {what}"
            answer = seen()
            if answer:
                return answer
            time.sleep(0.1)
        pytest.fail(f"waited {seconds} s for {what}")

    def title(self):
        return self.tool("getwindowname", self.number)

    def key(self, *keys):
        for key in keys:
            self.tool("key", "--delay", "250", key)
            time.sleep(0.5)

    def chord(self, *held, key):
        """Keys held down while another is pressed, slowly enough for software drawing."""
        for one in held:
            self.tool("keydown", one)
        time.sleep(0.4)
        self.tool("key", key)
        time.sleep(0.4)
        for one in reversed(held):
            self.tool("keyup", one)
        time.sleep(0.4)

    def path(self, path):
        """Types a path into the field of the chooser and presses Enter."""
        time.sleep(4.0)
        # One key after the other: a slow frame may take a chord for its letter.
        self.tool("key", "--repeat", "200", "--delay", "6", "BackSpace")
        time.sleep(1.0)
        self.tool("type", "--delay", "25", str(path))
        time.sleep(1.5)
        self.key("Return")

    def drag(self, start, end):
        self.tool("mousemove", *map(str, start))
        time.sleep(0.6)
        self.tool("mousedown", "1")
        time.sleep(0.4)
        for share in (0.25, 0.5, 0.75, 1.0):
            at = [round(a + (b - a) * share) for a, b in zip(start, end)]
            self.tool("mousemove", *map(str, at))
            time.sleep(0.3)
        self.tool("mouseup", "1")
        time.sleep(0.4)

    def press(self, at):
        self.tool("mousemove", *map(str, at))
        time.sleep(1.0)
        self.tool("mousedown", "1")
        time.sleep(0.4)
        self.tool("mouseup", "1")
        time.sleep(0.6)

    def haul(self, start, end, what, seen):
        """Drags a handle, holding it until what was put by shows that it moved: a handle needs a frame of its own for the
        press, and frames may be slow. The design that was put by after it was let go."""
        for _ in range(3):
            self.tool("mousemove", *map(str, start))
            time.sleep(2.5)
            self.tool("mousedown", "1")
            time.sleep(2.5)
            middle = [(a + b) // 2 for a, b in zip(start, end)]
            self.tool("mousemove", *map(str, middle))
            deadline = time.monotonic() + 20
            while time.monotonic() < deadline and not seen(self.put_by()):
                self.tool("mousemove", *map(str, end))
                time.sleep(1.0)
            self.tool("mouseup", "1")
            if seen(self.put_by()):
                return self.settled(what, seen)
        pytest.fail(f"{what}: the handle at {start} does not move")

    def put_by(self):
        """The newest design that was put by, or nothing."""
        found = sorted(self.home.glob("unsaved/*/design.json"), key=lambda p: p.stat().st_mtime)
        return json.loads(found[-1].read_text()) if found else None

    def settled(self, what, seen):
        """The design that was put by once `seen` is true of it and it has stopped changing: a slow window may still be
        working through the moves of a stroke when part of that stroke is put by."""
        before, since = None, 0.0

        def still():
            nonlocal before, since
            now = self.put_by()
            if now != before:
                before, since = now, time.monotonic()
            return now if seen(now) and time.monotonic() - since > 3.0 else None

        return self.until(what, still)

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def close(self, *answers):
        """Closes it by its key, with the answer to the question that follows; gives the exit code."""
        self.chord("ctrl", key="q")
        time.sleep(1.0)
        for answer in answers:
            self.key(answer)
        return self.process.wait(30)


@pytest.fixture
def window(screen, tmp_path):
    """Starts workbenches that share one home."""
    running = []

    def start(*words):
        running.append(Window(screen, tmp_path / "home", *words))
        return running[-1]

    yield start
    for one in running:
        if one.process.poll() is None:
            one.kill()


def big_scan(path):
    """The shin with each triangle in four, twice: enough to write that a save can be caught in its middle."""
    import numpy as np
    import trimesh

    shin = trimesh.load(ROOT / "demo-scans" / "shin-23.obj", process=False, maintain_order=True)
    shin = trimesh.Trimesh(shin.vertices, shin.faces, process=False).subdivide().subdivide()
    shin.export(path)
    assert len(shin.faces) > 500_000 and np.isfinite(shin.vertices).all()
    return path


def sources(design):
    return design["zone"]["sources"] if design else []


def dabs(design, remove):
    strokes = [s["strokes"]["dabs"] for s in sources(design) if "strokes" in s]
    return [dab for stroke in strokes for dab in stroke if dab["remove"] == remove]


def thickness(part):
    """Wall of a shell in its middle part: how far it is through it, from its face straight to the other."""
    import numpy as np
    import open3d

    scene = open3d.t.geometry.RaycastingScene()
    scene.add_triangles(part.vertices.astype(np.float32), part.faces.astype(np.uint32))
    some = np.random.default_rng(1).choice(len(part.faces), 3000, p=part.area_faces / part.area)
    inward = -part.face_normals[some]
    rays = np.hstack([part.triangles_center[some] + 1e-3 * inward, inward]).astype(np.float32)
    through = scene.cast_rays(open3d.core.Tensor(rays))["t_hit"].numpy()
    return np.median(through[np.isfinite(through)])


def painted(one):
    """Opens the shin and paints one stroke down its front; the design that was put by then."""
    one.until("the shin", lambda: "Guard" in one.title())
    time.sleep(2.0)
    one.key("b")
    one.drag((480, 330), (485, 470))
    return one.settled("the stroke", lambda design: dabs(design, False))


def test_paint_erase_undo_and_redo_are_kept(window):
    one = window(SHIN)
    first = painted(one)
    one.key("e")
    one.drag((480, 400), (500, 400))
    erased = one.settled("erasing", lambda design: dabs(design, True))
    one.chord("ctrl", key="z")
    one.settled("undo", lambda design: design["zone"] == first["zone"])
    one.chord("ctrl", "shift", key="z")
    one.settled("redo", lambda design: design["zone"] == erased["zone"])
    assert one.title().startswith("•"), one.title()


def with_pen_line(one):
    """Opens the shin, takes its pen line and goes to the shell step; the design that was put by then."""
    one.until("the shin", lambda: "Guard" in one.title())
    time.sleep(2.0)
    one.until("the pen line", lambda: one.key("p") or any("line" in s for s in sources(one.put_by())))
    one.key("3")
    design = one.settled("the pen line", lambda design: sources(design))
    time.sleep(4.0)
    return design


# Where the middle of the left edge's grip stands in a window of 1280 × 800 with the shin as it is first seen.
GRIP = (402, 384)


def test_the_trim_line_is_pulled_by_its_grip(window):
    one = window(SHIN)
    before = with_pen_line(one)
    out = one.haul(GRIP, (392, 383), "the pull outward", lambda design: dabs(design, False))
    assert sources(out)[:-1] == sources(before) and not dabs(out, True), "what was marked stays, dabs come after it"
    one.chord("ctrl", key="z")
    one.settled("undo of the whole pull", lambda design: design["zone"] == before["zone"])
    into = one.haul(GRIP, (424, 384), "the pull inward", lambda design: dabs(design, True))
    assert sources(into)[:-1] == sources(before) and not dabs(into, False)
    one.chord("ctrl", key="z")
    one.settled("undo", lambda design: design["zone"] == before["zone"])


def test_a_strap_slot_is_placed_moved_and_turned(window):
    one = window(SHIN)
    with_pen_line(one)
    fittings = lambda design: design["shell"]["fittings"] if design else []
    one.key("k")
    time.sleep(2.0)
    # Pressed again where the first press came before the window had taken the key.
    one.until("the strap slot", lambda: one.press((480, 400)) or fittings(one.put_by()))
    placed = one.settled("the strap slot", fittings)
    first = fittings(placed)[0]

    def moved(design):
        return sum((a - b) ** 2 for a, b in zip(fittings(design)[0]["at_mm"], first["at_mm"])) > 15**2

    far = one.haul((480, 400), (486, 450), "the move", moved)
    assert len(fittings(far)) == 1 and fittings(far)[0]["turn_deg"] == first["turn_deg"]
    one.chord("ctrl", key="z")
    one.settled("undo of the move", lambda design: fittings(design) == [first])
    # The arm for turning stands 30 mm up the limb from its middle.
    turned = one.haul(
        (481, 361), (525, 385), "the turn", lambda design: abs(fittings(design)[0]["turn_deg"] - first["turn_deg"]) > 30
    )
    assert fittings(turned)[0]["at_mm"] == first["at_mm"], "turning does not move it"
    one.chord("ctrl", key="z")
    one.settled("undo of the turn", lambda design: fittings(design) == [first])
    one.key("Delete")
    one.settled("taking it away", lambda design: not fittings(design))


def test_an_outline_is_clicked_closed_and_its_corner_dragged(window):
    one = window(SHIN)
    # With the pen line found, the camera has turned to it and stays.
    with_pen_line(one)
    one.key("o")
    time.sleep(2.0)
    for corner in [(440, 330), (510, 330), (500, 470), (445, 460)]:
        one.press(corner)
    one.key("Return")
    corners = lambda design: [s["outline"]["corners_mm"] for s in sources(design) if "outline" in s]
    closed = one.settled("the outline", corners)
    assert len(corners(closed)) == 1 and len(corners(closed)[0]) == 4
    one.drag((440, 330), (425, 310))
    dragged = one.settled("the dragged corner", lambda design: corners(design) != corners(closed))
    changed = [a != b for a, b in zip(corners(dragged)[0], corners(closed)[0])]
    assert changed == [True, False, False, False], "only that corner moved"
    one.chord("ctrl", key="z")
    one.settled("undo", lambda design: corners(design) == corners(closed))


def test_a_guard_is_saved_and_its_print_files_read_back(window, tmp_path):
    """Open, paint, save, save print files: all by keys and mouse; then other libraries read what was made."""
    import conftest
    import trimesh

    one = window(SHIN)
    painted(one)
    one.key("Next")
    time.sleep(1.0)
    # The wall by mouse, its track from end to end standing for 0.8 to 10 mm; then by key, a tenth each.
    one.press(WALL)
    by_mouse = one.settled("the wall by mouse", lambda design: design["shell"]["thickness_mm"] != 3.0)
    before = by_mouse["shell"]["thickness_mm"]
    one.key("Right", "Right", "Right")
    by_key = one.settled("the wall by key", lambda design: design["shell"]["thickness_mm"] > before)
    wall = by_key["shell"]["thickness_mm"]
    assert round(10 * (wall - before), 3) in (1, 2, 3), (before, wall)
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
    one.until("the print files", (prints / "report.json").exists, 120)
    report = json.loads((prints / "report.json").read_text())
    part = trimesh.load(prints / "shell.stl")
    assert part.is_watertight and part.volume / 1000 == pytest.approx(report["shell"]["volume_cm3"], rel=1e-4)
    assert thickness(part) == pytest.approx(wall, abs=0.1)
    solid = conftest.as_manifold(part)
    assert solid.status() == conftest.manifold3d.Error.NoError and solid.volume() > 0
    subprocess.run(
        [sys.executable, ROOT / "tests/reference/read_back.py", prints / "shell.stl", prints / "shell.3mf"], check=True
    )
    assert one.close() == 0
    assert not list((tmp_path / "home").glob("unsaved/*/design.json")), "a clean end leaves nothing behind"


def test_a_kill_during_a_build_loses_nothing(window, tmp_path):
    one = window(SHIN)
    before = painted(one)
    one.key("Next")
    one.kill()
    two = window()
    time.sleep(2.0)
    two.chord("ctrl", key="r")
    two.until("the work taken up", lambda: "Guard" in two.title())
    assert two.until("its copy", two.put_by)["zone"] == before["zone"]


def test_a_kill_in_the_middle_of_a_save_loses_nothing(window, tmp_path):
    """A large scan takes a while to be written beside the design: the program is killed while its file is half there."""
    one = window(big_scan(tmp_path / "big.ply"))
    one.until("the limb", lambda: "Guard" in one.title(), 120)
    # Putting by writes the scan as well; only the save that follows is to be caught.
    before = one.until("the design put by", one.put_by)
    folder = tmp_path / "team"
    folder.mkdir()
    saved = folder / "shin.json"
    one.chord("ctrl", key="s")
    one.path(saved)
    end = time.monotonic() + 30
    caught = None
    while caught is None and time.monotonic() < end:
        caught = next((f for f in (folder / "scans").glob("*") if f.suffix != ".ply"), None)
    one.kill()
    assert caught is not None, "the scan was being written"
    assert not saved.exists(), "the design comes after its scan"
    assert one.put_by() == before, "what was not saved is still put by"
    two = window()
    time.sleep(2.0)
    two.chord("ctrl", key="r")
    two.until("the work taken up", lambda: "Guard" in two.title(), 120)
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
    (settings / "preferences.json").write_text(json.dumps({"watched_folder": str(scanner), "demo_seen": True}))
    one = window(SHIN)
    one.until("the shin", lambda: "Guard" in one.title())
    time.sleep(2.0)
    one.key("p")
    marked = one.until("the pen line as zone", lambda: sources(one.put_by()) and one.put_by())
    (scanner / "wrist.ply").write_bytes((ROOT / "demo-scans" / "wrist-12.ply").read_bytes())
    time.sleep(4.0)
    one.chord("ctrl", key="Return")
    # Back, as it is not saved: all stays.
    one.key("Escape")
    time.sleep(2.0)
    assert one.put_by() == marked
    # The window is not closed either while its question is answered with back.
    one.chord("ctrl", key="q")
    time.sleep(1.0)
    one.key("Escape")
    time.sleep(1.0)
    assert one.process.poll() is None
    # Given up for a second scan.
    (scanner / "again.ply").write_bytes((ROOT / "demo-scans" / "wrist-12.ply").read_bytes())
    time.sleep(4.0)
    one.chord("ctrl", key="Return")
    one.key("d")
    other = one.until("the new scan", lambda: one.put_by() if not sources(one.put_by()) else None)
    assert other["scan"]["file"]["sha256"] != marked["scan"]["file"]["sha256"]
    # Nobody has done anything to it, so nothing is asked.
    assert one.close() == 0


def test_no_driver_is_said_in_a_sentence(screen, tmp_path):
    env = {**os.environ, "DISPLAY": screen, "WGPU_BACKEND": "vulkan"}
    env |= {"VK_ICD_FILENAMES": "/nonexistent", "VK_DRIVER_FILES": "/nonexistent"}
    done = subprocess.run(
        [os.environ["WORKBENCH"], "--home", str(tmp_path)], env=env, capture_output=True, text=True, timeout=30
    )
    assert done.returncode == 1
    assert "Vulkan" in done.stderr and "Install" in done.stderr and "panicked" not in done.stderr, done.stderr


def test_a_screen_that_does_not_answer_is_said_in_a_sentence(tmp_path):
    env = {**os.environ, "DISPLAY": ":4321"}
    env.pop("WAYLAND_DISPLAY", None)
    done = subprocess.run(
        [os.environ["WORKBENCH"], "--home", str(tmp_path)], env=env, capture_output=True, text=True, timeout=30
    )
    assert done.returncode == 1
    assert "does not answer" in done.stderr and "panicked" not in done.stderr, done.stderr


def test_pictures_of_all_steps_are_made(screen, tmp_path):
    from PIL import Image

    env = {**os.environ, "DISPLAY": screen}
    command = [os.environ["WORKBENCH"], "--screenshot", str(tmp_path / "pictures"), "--size", "1280x800"]
    done = subprocess.run(command, env=env, capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stderr
    steps = ["scan", "zone", "shell", "fit", "material", "print", "show"]
    names = [f"{number}-{step}.png" for number, step in enumerate(steps, 1)]
    pictures = [Image.open(tmp_path / "pictures" / name).convert("RGB") for name in names]
    assert all(picture.size == SIZE for picture in pictures)
    assert len({picture.tobytes() for picture in pictures}) == len(steps), "two steps look the same"
