"""One running workbench, driven by mouse and keys. What it does is read from the files that it writes, never from
pixels.
"""

import json
import os
import signal
import subprocess
import time

import pytest

SIZE = (1280, 800)
# Said where the graphics card or the window library is misused; nothing of the kind may be in what it says.
FAULTS = ("panicked", "ERROR", "use-after-free", "Validation")


class Window:
    """One running workbench."""

    def __init__(self, screen, home, *words):
        self.home, self.screen = home, screen
        hidden = ("DBUS_SESSION_BUS_ADDRESS", "XDG_RUNTIME_DIR", "WAYLAND_DISPLAY")
        self.env = {k: v for k, v in os.environ.items() if k not in hidden} | {"DISPLAY": screen}
        command = [os.environ["WORKBENCH"], "--home", str(home), "--size", f"{SIZE[0]}x{SIZE[1]}", *map(str, words)]
        self.log_path = home.parent / f"{home.name}.log"
        with open(self.log_path, "ab") as log:
            self.process = subprocess.Popen(command, env=self.env, stdout=log, stderr=log)
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
        self.type_path(path)
        self.key("Return")

    def type_path(self, path):
        """Types a path into the field of the chooser."""
        time.sleep(2.5)
        # Pressed and let go at once: a slow frame holds the whole chord.
        self.tool("key", "ctrl+a")
        time.sleep(1.0)
        self.tool("type", "--delay", "25", str(path))
        time.sleep(1.5)

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
            time.sleep(1.5)
            self.tool("mousedown", "1")
            time.sleep(1.5)
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

    def faults(self):
        """What it said that no program should say."""
        text = self.log_path.read_text(errors="replace")
        return [line for line in text.splitlines() if any(word in line for word in FAULTS)]
