"""The picture on the guard in the files that the athlete takes home, opened by Pillow: colours at places that follow
from the size of the guard, a half tube of radius 45 mm and 120 mm height that faces −y."""

import os
import subprocess
from pathlib import Path

import numpy as np
import pytest
import trimesh
from PIL import Image

RADIUS, HEIGHT = 45.0, 120.0
WIDE, RIGHT, UP = 60.0, 10.0, 5.0  # as crates/engine/examples/artwork.rs lays it
QUARTERS = {(-1, 1): (200, 30, 30), (1, 1): (30, 160, 40), (-1, -1): (30, 50, 190), (1, -1): (220, 190, 30)}
PLASTIC = (240, 226, 196)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("artwork")
    # Triangles narrower than a pixel of the print, so that the position of corners does not matter.
    limb = trimesh.creation.cylinder(radius=40, height=240, sections=360)
    shell = trimesh.creation.annulus(r_min=42, r_max=RADIUS, height=HEIGHT, sections=360)
    shell.update_faces(shell.triangles_center[:, 1] < 0)
    limb.export(folder / "limb.stl")
    shell.export(folder / "shell.stl")
    picture = np.zeros((400, 400, 3), np.uint8)
    for (right, up), colour in QUARTERS.items():
        rows = slice(0, 200) if up > 0 else slice(200, 400)
        picture[rows, slice(200, 400) if right > 0 else slice(0, 200)] = colour
    Image.fromarray(picture).save(folder / "quarters.png")
    example = Path(os.environ["EXAMPLES"]) / "artwork"
    words = [example, *(folder / name for name in ("limb.stl", "shell.stl", "quarters.png")), folder]
    done = subprocess.run(words, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return folder


def opened(path):
    with Image.open(path) as photo:
        assert photo.size == (1181, 1772)
        assert photo.info["dpi"] == pytest.approx((300, 300), abs=0.01)
        return np.asarray(photo.convert("RGB")).astype(int)


def scale_of(pixels):
    """Pixels a millimetre, and the middle, from the outline: the tube is 90 mm wide and stands out from the page at
    both edges."""
    page = pixels[pixels.shape[0] // 2, 8]
    across = np.abs(pixels[pixels.shape[0] // 2] - page).sum(axis=1) > 40
    left, right = np.flatnonzero(across)[[0, -1]]
    return (right - left + 1) / (2 * RADIUS), (left + right + 1) / 2, pixels.shape[0] / 2


def hue(colour):
    """A colour without its brightness: shading changes the three channels about alike."""
    light = (np.asarray(colour) / 255.0) ** 2.2
    return light / light.sum()


def at(pixels, right_mm, up_mm):
    scale, x, y = scale_of(pixels)
    column, row = round(x + scale * right_mm), round(y - scale * up_mm)
    return pixels[row - 2 : row + 3, column - 2 : column + 3].reshape(-1, 3).mean(axis=0)


def nearest(colour):
    known = {**QUARTERS, "plastic": PLASTIC}
    return min(known, key=lambda name: np.abs(hue(known[name]) - hue(colour)).sum())


def test_thrown_from_the_front_each_quarter_lies_where_its_millimetres_say(folder):
    flat = opened(folder / "flat.png")
    for (right, up) in QUARTERS:
        for part in (0.12, 0.5, 0.9):
            x, z = RIGHT + right * part * WIDE / 2, UP + up * part * WIDE / 2
            assert nearest(at(flat, x, z)) == (right, up), (x, z)
    for x, z in [(RIGHT - WIDE / 2 - 3, UP), (RIGHT, UP + WIDE / 2 + 3), (RIGHT, UP - WIDE / 2 - 3)]:
        assert nearest(at(flat, x, z)) == "plastic", (x, z)


def test_round_the_limb_it_is_as_wide_as_its_arc(folder):
    round_ = opened(folder / "round.png")

    def seen(arc_mm):
        return RADIUS * np.sin(arc_mm / RADIUS)

    for (right, up) in QUARTERS:
        for part in (0.1, 0.5, 0.92):
            arc, z = RIGHT + right * part * WIDE / 2, UP + up * part * WIDE / 2
            assert nearest(at(round_, seen(arc), z)) == (right, up), (arc, z)
    assert nearest(at(round_, seen(RIGHT - WIDE / 2 - 3), UP)) == "plastic"
    # Laid round it ends further in than projected flat: 40 mm of arc are seen at 35 mm.
    assert nearest(at(round_, seen(RIGHT + WIDE / 2 + 2), UP)) == "plastic"
    assert nearest(at(opened(folder / "flat.png"), seen(RIGHT + WIDE / 2 + 2), UP)) != "plastic"


def test_without_artwork_it_is_plastic_and_gloss_mirrors_the_lamps(folder):
    matt, gloss = opened(folder / "matt.png"), opened(folder / "gloss.png")
    for x in (-35, -10, 0, 10, 35):
        assert nearest(at(matt, x, 0)) == "plastic"
    scale, x, y = scale_of(matt)
    across = slice(round(x - scale * 40), round(x + scale * 40))
    more = (gloss[round(y), across] - matt[round(y), across]).mean(axis=1)
    assert more.max() > 15, more.max()
    assert np.mean(more > 0.5 * more.max()) < 0.35, "a highlight, not more light everywhere"


def test_the_turn_carries_the_picture_and_its_wall_stands_still(folder):
    with Image.open(folder / "turn.gif") as turn:
        frames = []
        for k in range(turn.n_frames):
            turn.seek(k)
            frames.append(np.asarray(turn.convert("RGB")).astype(int))
    assert len(frames) == 36
    red = [np.mean(np.abs(hue_map(f) - hue(QUARTERS[(-1, 1)])).sum(axis=2) < 0.25) for f in frames]
    assert red[0] > 0.01 and red[18] < 0.2 * red[0], "seen from the front, not from the back"
    # The guard never covers the top and bottom rows, so all frames have the same colours there.
    for rows in (slice(0, 8), slice(-8, None)):
        assert all((frame[rows] == frames[0][rows]).all() for frame in frames)
    used = {tuple(c) for f in frames for c in f.reshape(-1, 3)}
    assert len(used) <= 255, "one palette for all frames"


def hue_map(pixels):
    light = (pixels / 255.0) ** 2.2 + 1e-9
    return light / light.sum(axis=2, keepdims=True)
