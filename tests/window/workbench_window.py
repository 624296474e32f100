"""One running workbench, driven by mouse and keys. What it does is read from the files that it writes, and when it is
done from its report (`--report`); only how it lights skin is read from pixels (test_skin.py). Nothing depends on the
speed of the machine: every wait is for something that is written, and fails only after minutes.
"""

import json
import os
import signal
import subprocess
import time

import pytest

SIZE = (1280, 800)
# Seconds until a program counts as hanging; nothing is measured by it.
LONGEST = 300
# Words in the log where the graphics card or the window library is misused; none of them may occur.
FAULTS = ("panicked", "ERROR", "use-after-free", "Validation")


class Window:
    """One running workbench."""

    def __init__(self, screen, home, *words):
        self.home, self.screen = home, screen
        hidden = ("DBUS_SESSION_BUS_ADDRESS", "XDG_RUNTIME_DIR", "WAYLAND_DISPLAY")
        self.env = {k: v for k, v in os.environ.items() if k not in hidden} | {"DISPLAY": screen}
        self.report_path = home.parent / f"{home.name}-report.json"
        self.report_path.unlink(missing_ok=True)
        command = [os.environ["WORKBENCH"], "--home", str(home), "--size", f"{SIZE[0]}x{SIZE[1]}"]
        command += ["--report", str(self.report_path), *map(str, words)]
        self.log_path = home.parent / f"{home.name}.log"
        with open(self.log_path, "ab") as log:
            self.process = subprocess.Popen(command, env=self.env, stdout=log, stderr=log)
        found = self.until("the window", lambda: self.tool("search", "--onlyvisible", "--name", "Pauldron"))
        self.number = found.split()[0]
        self.tool("windowfocus", "--sync", self.number)
        self.rested("the first picture")

    def tool(self, *words):
        done = subprocess.run(["xdotool", *words], env=self.env, capture_output=True, text=True)
        return done.stdout.strip()

    def until(self, what, seen, may_end=False):
        """Waits until `seen` is true and returns its value; None where the program may end and has."""
        end = time.monotonic() + LONGEST
        while time.monotonic() < end:
            if self.process.poll() is not None:
                assert may_end, f"the program ended ({self.process.poll()}) while waiting for {what}"
                return None
            answer = seen()
            if answer:
                return answer
            time.sleep(0.05)
        pytest.fail(f"waited {LONGEST} s for {what}: {self.report()}")

    def report(self):
        """What the window says it is doing; empty before its first frame."""
        return json.loads(self.report_path.read_text()) if self.report_path.exists() else {}

    def reported(self, what, seen, may_end=False):
        """Waits for a report of which `seen` is true."""
        return self.until(what, lambda: (now := self.report()) and seen(now) and now, may_end)

    def rested(self, what="rest", may_end=False):
        """Waits until nothing goes on and everything is autosaved."""
        return self.reported(what, lambda now: now["rests"], may_end)

    def title(self):
        return self.tool("getwindowname", self.number)

    def opened(self):
        """Waits for a scan or design and all that follows from it."""
        self.until("a scan", lambda: "Guard" in self.title())
        self.rested()

    def key(self, *keys):
        """Presses keys one by one, each after the window has seen the one before."""
        for key in keys:
            self.chord(key=key)

    def chord(self, *held, key):
        """Presses a key while others are held down."""
        before = self.report()["keys"]
        self.tool("key", "+".join((*held, key)))
        seen = lambda now: now["keys"] > before + len(held) and now["held"] == 0
        self.reported(f"the key {key}", seen, may_end=True)
        self.rested(may_end=True)

    def path(self, path):
        """Types a path into the field of the chooser and presses Enter."""
        self.type_path(path)
        self.key("Return")

    def type_path(self, path):
        """Types a path into the field of the chooser."""
        self.reported("the chooser", lambda now: now["typed"] is not None and now["rests"])
        # Pressed and released in one go, so that even a slow frame sees the whole chord.
        self.chord("ctrl", key="a")
        self.tool("type", "--delay", "25", str(path))
        self.reported("the path", lambda now: now["typed"] == str(path))

    def at(self, place):
        """Moves the mouse, and waits until the window has seen it there."""
        self.tool("mousemove", *map(str, place))
        self.reported(f"the mouse at {place}", lambda now: now["pointer"] == [float(x) for x in place])

    def button(self, down):
        self.tool("mousedown" if down else "mouseup", "1")
        self.reported("the button", lambda now: now["buttons"] == int(down))

    def drag(self, start, end):
        """Drags with the left button; the press and each move get frames of their own."""
        self.at(start)
        self.rested()
        self.button(True)
        for share in (0.25, 0.5, 0.75, 1.0):
            self.at([round(a + (b - a) * share) for a, b in zip(start, end)])
        self.rested()
        self.button(False)
        self.rested()

    def press(self, at):
        self.drag(at, at)

    def autosaved(self):
        """The newest autosaved design, or None."""
        found = sorted(self.home.glob("unsaved/*/design.json"), key=lambda p: p.stat().st_mtime)
        return json.loads(found[-1].read_text()) if found else None

    def settled(self, what, seen):
        """The autosaved design once nothing goes on and `seen` is true of it."""

        def still():
            self.rested(what)
            now = self.autosaved()
            return now if seen(now) else None

        return self.until(what, still)

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def close(self):
        """Closes it by its key; returns the exit code."""
        self.chord("ctrl", key="q")
        return self.process.wait(LONGEST)

    def faults(self):
        """Lines of its log that report a fault."""
        text = self.log_path.read_text(errors="replace")
        return [line for line in text.splitlines() if any(word in line for word in FAULTS)]
