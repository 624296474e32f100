"""Whole looks: each is offered with about the weight that it then has."""

import json
import shutil

import pytest
from conftest import DEMO, made, pauldron

# A look is weighed on a coarse grid.
WITHIN = 0.03


@pytest.fixture(scope="module")
def started(tmp_path_factory):
    folder = tmp_path_factory.mktemp("looks")
    pauldron("start", DEMO / "forearm-07.ply", "-o", folder / "guard.json", "--site", "forearm", "--number", "7")
    return folder


def test_eight_looks_have_a_name_and_a_weight_each(started):
    looks = pauldron("looks", started / "guard.json")
    assert len(looks) >= 8 and len({look["name"] for look in looks}) == len(looks)
    assert all(20.0 < look["grams"] < 80.0 for look in looks), looks
    assert max(look["grams"] for look in looks) > 1.2 * min(look["grams"] for look in looks)


@pytest.mark.parametrize("name", ["Hull", "Net", "Reef"])
def test_a_look_weighs_what_was_said(name, started, tmp_path):
    shutil.copytree(started, tmp_path, dirs_exist_ok=True)
    design = tmp_path / "guard.json"
    looks = {look["name"]: look for look in pauldron("looks", design, "--take", name)}
    assert json.loads(design.read_text())["look"]["finish"] in ("matt", "satin", "gloss")
    report = pauldron("make", design, "--out", tmp_path / "out", "--no-strength")
    (row,) = [row for row in report["materials"]["rows"] if row["name"] == report["filament"]]
    print(f"{name}: {looks[name]['grams']:.1f} g were said, {row['grams']:.1f} g were made")
    assert row["grams"] == pytest.approx(looks[name]["grams"], rel=WITHIN)
    assert made(tmp_path / "out", "-shell.stl").exists()
