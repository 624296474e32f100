"""Some hundred spoilt scans and designs go through the whole job without a panic, and each refusal is a sentence.

By hand: `mutations --count 20000 --keep DIR`. The time that a case may take is that of the processor, with a wide margin,
so that a busy machine changes nothing.
"""

import os
import re
import subprocess
from pathlib import Path

import pytest

COUNT, SEED = 600, 8

# Each kind of file must have been built from and refused in this many cases at least, so that both ways are tried.
LEAST_EACH_WAY = 3


def test_spoilt_files_are_built_or_refused_in_a_sentence():
    program = Path(os.environ.get("EXAMPLES", "")) / "mutations"
    if not program.exists():
        pytest.skip("EXAMPLES does not name the folder of built examples; tests/run sets it")
    run = subprocess.run([program, "--count", str(COUNT), "--seed", str(SEED)], capture_output=True, text=True)
    print(run.stdout)
    assert run.returncode == 0, run.stdout[-6000:] + run.stderr
    assert f"{COUNT} cases, 0 failures" in run.stdout
    kinds = re.findall(r"^([a-z-]+) +(\d+) +(\d+) +(\d+)", run.stdout, re.M)
    assert sum(int(cases) for _, cases, _, _ in kinds) == COUNT
    assert len(kinds) == 9, kinds
    one_sided = [kind for kind, _, built, refused in kinds if min(int(built), int(refused)) < LEAST_EACH_WAY]
    assert not one_sided, f"hardly tried: {one_sided}\n{run.stdout}"
