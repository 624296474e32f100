"""Every damaged, foreign or odd file is read or refused in one sentence, in little memory, without a crash."""

import json
import os
import subprocess
import sys

import pytest
from conftest import DATA, ROOT

MOST_KIB = 300 * 1024
LAUNCHER = """
import json, resource, subprocess, sys
run = subprocess.run(sys.argv[1:], capture_output=True, text=True)
most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
print(json.dumps([run.returncode, most, run.stdout, run.stderr]))
"""
CORPUS = ROOT / "crates/mesh/tests/corpus"


def odd_files():
    folders = [CORPUS, DATA / "badfiles"]
    for folder in folders:
        if folder.is_dir():
            yield from (path for path in sorted(folder.iterdir()) if path.suffix not in (".md", ".json") and not path.name.startswith("."))


def inspect(path):
    """Exit code, output and highest memory in KiB of one run."""
    program = os.environ.get("PAULDRON")
    if not program:
        pytest.skip("PAULDRON does not name the built program; tests/run sets it")
    # Through a small process: until exec, a forked child is charged with the memory of its parent.
    command = [sys.executable, "-S", "-c", LAUNCHER, program, "--json", "inspect", path]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    code, most, out, err = json.loads(run.stdout)
    return code, out, err, most


def test_the_shared_bad_files_are_here():
    if not (DATA / "badfiles").is_dir():
        pytest.skip(f"{DATA / 'badfiles'} is not there: only the corpus of this repository is read")
    assert len(list((DATA / "badfiles").iterdir())) > 100


@pytest.mark.parametrize("path", list(odd_files()), ids=lambda path: path.name)
def test_an_odd_file_is_read_or_refused_in_a_sentence(path):
    code, out, err, most = inspect(path)
    assert code in (0, 1), (code, out, err)
    assert "panicked" not in err and "RUST_BACKTRACE" not in err
    assert most < MOST_KIB, f"{most / 1024:.0f} MiB"
    answer = json.loads(out)
    if code == 1:
        sentence = answer["error"]["message"]
        assert len(sentence) > 20 and "\n" not in sentence.strip(), sentence
