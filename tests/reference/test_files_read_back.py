"""The print files of real guards, read back by libraries that had no part in writing them."""

import zipfile

import pytest
import read_back
import read_back_mesh
from conftest import made
from lxml import etree


@pytest.mark.parametrize("limb", ["forearm-07", "shin-23", "ankle-31"])
def test_print_files_hold_the_same_part_in_millimetres(limb, guards):
    folder = guards.get(limb).folder
    read_back.main(str(made(folder, "-shell.stl")), str(made(folder, "-shell.3mf")))
    read_back_mesh.check(str(made(folder, "-shell.stl")))
    read_back_mesh.check(str(made(folder, "-zone.ply")))


@pytest.mark.parametrize("limb", ["forearm-07"])
def test_a_3mf_is_a_sound_package(limb, guards):
    with zipfile.ZipFile(made(guards.get(limb).folder, "-shell.3mf")) as package:
        assert package.testzip() is None
        names = package.namelist()
        assert len(set(names)) == len(names) and "[Content_Types].xml" in names and "_rels/.rels" in names
        for name in names:
            if name.endswith((".xml", ".rels", ".model")):
                etree.fromstring(package.read(name))
        (model,) = [name for name in names if name.endswith(".model")]
        assert etree.fromstring(package.read(model)).get("unit") == "millimeter"
