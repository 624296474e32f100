"""The same scan and settings give the same files, byte for byte, on one thread or two."""

import hashlib

from conftest import pauldron


def files_of(folder):
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_the_demo_is_the_same_twice_and_on_one_thread(tmp_path):
    made = {}
    for name, threads in (("first", "2"), ("second", "2"), ("one thread", "1")):
        pauldron("demo", "--out", tmp_path / name, env={"RAYON_NUM_THREADS": threads})
        made[name] = files_of(tmp_path / name)
    assert len(made["first"]) >= 7
    assert made["first"] == made["second"]
    assert made["first"] == made["one thread"]
