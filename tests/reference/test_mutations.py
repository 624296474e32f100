"""Some spoilt scans and designs go through the whole job without a panic, and every refusal is a sentence.

Longer, by hand: `mutations --count 20000 --keep DIR`. A case may take six times the promised processor time here, so
that a busy machine does not matter.
"""

import os
import re
import subprocess
from pathlib import Path

import pytest

COUNT, SEED, SECONDS = 300, 8, 60

KINDS = {
    "binary-stl", "text-stl", "obj", "text-ply", "binary-ply", "design", "strokes", "outline", "materials",
}  # fmt: skip


def test_spoilt_files_are_built_or_refused_in_a_sentence():
    program = Path(os.environ.get("EXAMPLES", "")) / "mutations"
    if not program.exists():
        pytest.skip("EXAMPLES does not name the folder of built examples; tests/run sets it")
    words = [program, "--count", str(COUNT), "--seed", str(SEED), "--seconds", str(SECONDS)]
    run = subprocess.run(words, capture_output=True, text=True)
    print(run.stdout)
    assert run.returncode == 0, run.stdout[-6000:] + run.stderr
    assert f"{COUNT} cases, 0 failures" in run.stdout
    rows = re.findall(r"^([a-z-]+) +(\d+) +(\d+) +(\d+)", run.stdout, re.M)
    kinds = {kind: [int(cases), int(built), int(refused)] for kind, cases, built, refused in rows}
    assert set(kinds) == KINDS
    assert sum(cases for cases, _, _ in kinds.values()) == COUNT
    one_sided = [kind for kind, (_, built, refused) in kinds.items() if min(built, refused) == 0]
    assert not one_sided, f"hardly tried: {one_sided}\n{run.stdout}"
