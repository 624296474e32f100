"""A virtual screen and windows on it. `tests/run` sets WORKBENCH, the built program."""

import os
import subprocess

import pytest
from workbench_window import Window


@pytest.fixture(scope="session")
def screen():
    """A virtual screen, so that nobody's windows are touched."""
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


@pytest.fixture
def window(screen, tmp_path):
    """Starts workbenches that share one home folder."""
    running = []

    def start(*words):
        running.append(Window(screen, tmp_path / "home", *words))
        return running[-1]

    yield start
    for one in running:
        if one.process.poll() is None:
            one.kill()
        assert not one.faults(), one.faults()
