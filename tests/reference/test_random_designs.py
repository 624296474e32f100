"""Two hundred random designs on random zones of all limbs: what is built is a solid, what is not says which setting."""

import os
import re
import subprocess
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import manifold3d
import pytest
import trimesh
from conftest import DATA, as_manifold, crossings

SHELLS, SEED = 200, 20

# How a sentence of refusal begins: a setting of the design, or the zone.
REFUSED = re.compile(r"(shell(\.[a-z_-]+(\[\d+\])?)*|zone|resolution_mm): .+|(the zone|the outline|zone setting) .+", re.S)


def fault(path):
    """What is wrong with a shell, or nothing."""
    mesh = trimesh.load(path)
    solid = as_manifold(mesh)
    if solid.status() != manifold3d.Error.NoError:
        return f"{path.name}: {solid.status()}"
    counts = crossings(mesh.vertices, mesh.faces)
    if counts != (0, 0):
        return f"{path.name}: {counts} triangles cross (CGAL, MeshLab)"
    if mesh.volume <= 0 or len(solid.decompose()) != 1:
        return f"{path.name}: {len(solid.decompose())} bodies of {mesh.volume} mm3"
    return None


def test_random_designs_are_solids_or_say_why_not(tmp_path):
    program = Path(os.environ.get("EXAMPLES", "")) / "random_designs"
    if not program.exists():
        pytest.skip("EXAMPLES does not name the folder of built examples; tests/run sets it")
    begun = time.perf_counter()
    made = subprocess.run(
        [program, tmp_path, str(SHELLS), str(SEED)],
        capture_output=True,
        text=True,
        env={**os.environ, "PAULDRON_DATA": str(DATA)},
    )
    took = time.perf_counter() - begun
    assert made.returncode == 0, made.stderr
    shells, refusals = sorted(tmp_path.glob("*.stl")), sorted(tmp_path.glob("*.txt"))
    assert len(shells) >= SHELLS
    sentences = [path.read_text().split(": ", 1)[1].strip() for path in refusals]
    strange = [sentence for sentence in sentences if not REFUSED.fullmatch(sentence)]
    assert not strange, strange
    with ThreadPoolExecutor(2) as pool:
        faults = [found for found in pool.map(fault, shells) if found]
    unmade = [sentence for sentence in sentences if sentence.startswith("resolution_mm")]
    print(
        f"{len(shells)} built in {took:.0f} s, {len(refusals)} refused "
        f"({len(refusals) / (len(shells) + len(refusals)):.0%}), {len(unmade)} for their resolution, {len(faults)} faulty"
    )
    assert not faults, faults
    assert len(unmade) <= 0.01 * SHELLS, unmade
