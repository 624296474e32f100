"""How the workbench starts, what it says where it cannot, and its pictures of itself."""

import os
import subprocess

from workbench_window import SIZE


def test_no_driver_is_said_in_a_sentence(screen, tmp_path):
    env = {**os.environ, "DISPLAY": screen, "WGPU_BACKEND": "vulkan"}
    env |= {"VK_ICD_FILENAMES": "/nonexistent", "VK_DRIVER_FILES": "/nonexistent"}
    done = subprocess.run(
        [os.environ["WORKBENCH"], "--home", str(tmp_path)], env=env, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 1
    assert "Vulkan" in done.stderr and "Install" in done.stderr and "panicked" not in done.stderr, done.stderr


def test_a_screen_that_does_not_answer_is_said_in_a_sentence(tmp_path):
    env = {**os.environ, "DISPLAY": ":4321"}
    env.pop("WAYLAND_DISPLAY", None)
    done = subprocess.run(
        [os.environ["WORKBENCH"], "--home", str(tmp_path)], env=env, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 1
    assert "does not answer" in done.stderr and "panicked" not in done.stderr, done.stderr


def test_pictures_of_all_steps_are_made(screen, tmp_path):
    from PIL import Image

    env = {**os.environ, "DISPLAY": screen}
    command = [os.environ["WORKBENCH"], "--screenshot", str(tmp_path / "pictures"), "--size", "1280x800"]
    done = subprocess.run(command, env=env, capture_output=True, text=True, timeout=1800)
    assert done.returncode == 0, done.stderr
    steps = ["scan", "zone", "shell", "fit", "material", "print", "show"]
    names = [f"{number}-{step}.png" for number, step in enumerate(steps, 1)]
    pictures = [Image.open(tmp_path / "pictures" / name).convert("RGB") for name in names]
    assert all(picture.size == SIZE for picture in pictures)
    assert len({picture.tobytes() for picture in pictures}) == len(steps), "two steps look the same"
