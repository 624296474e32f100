"""The pictures that an athlete is shown, opened by Pillow, which had no part in writing them."""

import os
import subprocess
from pathlib import Path

import numpy as np
import pytest
import trimesh
from PIL import Image


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("show")
    limb = trimesh.creation.cylinder(radius=40, height=240, sections=96)
    shell = trimesh.creation.cylinder(radius=45, height=120, sections=96)
    shell.update_faces(shell.triangles_center[:, 1] < 0)
    limb.export(folder / "limb.stl")
    shell.export(folder / "shell.stl")
    words = [Path(os.environ["EXAMPLES"]) / "show", folder / "limb.stl", folder / "shell.stl", folder]
    done = subprocess.run(words, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    print(done.stdout)
    return folder


@pytest.mark.parametrize("name, frames", [("turn.gif", 36), ("alone.gif", 12)])
def test_a_turn_opens_with_its_frames_and_pace(folder, name, frames):
    with Image.open(folder / name) as turn:
        assert (turn.format, turn.n_frames, turn.size) == ("GIF", frames, (240, 240))
        assert turn.info["loop"] == 0
        seen = []
        for k in range(frames):
            turn.seek(k)
            # Six seconds a turn, in hundredths.
            assert turn.info["duration"] == round(600 / frames) * 10
            seen.append(np.asarray(turn.convert("RGB")).astype(int))
    away = [np.abs(a - b).mean() for a, b in zip(seen, seen[1:] + seen[:1])]
    assert min(away) > 0.05, "every frame turns a little"


def test_the_colours_are_those_asked_for(folder):
    with Image.open(folder / "alone.gif") as turn:
        pixels = np.asarray(turn.convert("RGB")).astype(int).reshape(-1, 3)
    red = (pixels[:, 0] > pixels[:, 1] + 60) & (pixels[:, 0] > pixels[:, 2] + 60)
    assert red.mean() > 0.05, "the guard is red"
    # The page keeps the white it was asked for in the corners.
    assert (pixels[0] > 245).all()


def test_frames_are_numbered_and_the_same_size(folder):
    files = sorted(folder.glob("turn-*.png"))
    assert [f.name for f in files] == [f"turn-{k:02}.png" for k in range(1, 13)]
    assert {Image.open(f).size for f in files} == {(240, 240)}


def test_the_photo_prints_at_10_by_15_cm(folder):
    with Image.open(folder / "photo.png") as photo:
        photo.load()
        assert photo.size == (1181, 1772)
        assert photo.info["dpi"] == pytest.approx((300, 300), abs=0.01)
        inches = [n / d for n, d in zip(photo.size, photo.info["dpi"])]
    assert np.array(inches) * 25.4 == pytest.approx([100, 150], abs=0.05)
