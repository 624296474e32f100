"""Random designs on random zones of all limbs: what is built is a solid and sound, and what is refused names the setting.

The limits of what is sound are those that the work was asked to meet.
"""

import os
import re
import subprocess
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh
from conftest import DATA, as_manifold, crossings, scene

SHELLS, SEED = 200, 20

# Most draws are made to be buildable; more refusals than this point to a fault in placing things.
MOST_REFUSED = 0.35

# Of the surface nothing may be thinner than the first, hardly any thinner than the second, mm; edges may turn so far.
NEVER_MM, HARDLY_MM, HARDLY, SHARP_DEG, SHARP_MM = 0.4, 0.8, 0.001, 75.0, 30.0
SAMPLES = 40_000

# What must occur on some of the shells, each on its own and with the others.
KINDS = {
    "ribs": ["Along ribs", "Around ribs", "Crossed ribs", "Diamond ribs", "Branching ribs"],
    "vents": ["Round vents", "Slot vents", "Honeycomb vents", "Cells vents", "Lozenge vents", "Triangle vents"],
    "fitting": ["strap slot", "lace holes", "tie slot", "stitch holes", "hook-and-loop seat"],
    "text": ["raised text", "sunk text"],
    "region": ["relief", "reinforcement"],
}

# How a refusal begins: with a setting of the design, or the zone.
REFUSED = re.compile(r"(shell(\.[a-z_-]+(\[\d+\])?)*|zone|resolution_mm): .+|(The zone|The outline|Zone setting) .+", re.S)


def fault(path):
    """What is wrong with a shell, or None."""
    mesh = trimesh.load(path)
    solid = as_manifold(mesh)
    if solid.status() != manifold3d.Error.NoError:
        return f"{path.name}: {solid.status()}"
    counts = crossings(mesh.vertices, mesh.faces)
    if counts != (0, 0):
        return f"{path.name}: {counts} triangles cross (CGAL, MeshLab)"
    if mesh.volume <= 0 or len(solid.decompose()) != 1:
        return f"{path.name}: {len(solid.decompose())} bodies of {mesh.volume} mm3"
    return unsound(path.name, mesh)


def unsound(name, mesh):
    """What is not sound about a solid, by rays inward and the angles between its faces, or None."""
    points, faces = trimesh.sample.sample_surface(mesh, SAMPLES, seed=1)
    inward = -mesh.face_normals[faces]
    through = scene(mesh).cast_rays(np.hstack([points + 0.01 * inward, inward]).astype(np.float32))["t_hit"].numpy() + 0.01
    ends = mesh.vertices[mesh.face_adjacency_edges[np.degrees(mesh.face_adjacency_angles) > SHARP_DEG]]
    sharp = np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1).sum()
    never, hardly = (through < NEVER_MM).mean(), (through < HARDLY_MM).mean()
    # A ray near the edge of a rounded side leaves through it: a share of one in three thousand is such.
    if never > HARDLY / 3 or hardly > HARDLY or sharp > SHARP_MM:
        return f"{name}: {never:.3%} under {NEVER_MM} mm, {hardly:.3%} under {HARDLY_MM} mm, {sharp:.0f} mm sharp"
    return None


def table(kinds):
    """How often each kind occurs, and how often with one of the other groups."""
    group_of = {kind: group for group, members in KINDS.items() for kind in members}
    rows = ["%-20s %6s" % ("kind", "shells") + "".join(f" {'+ ' + group:>10}" for group in KINDS)]
    alone, beside = Counter(), Counter()
    for shell in kinds:
        for kind in shell & group_of.keys():
            alone[kind] += 1
            beside.update((kind, group_of[other]) for other in {group_of[o]: o for o in shell & group_of.keys() - {kind}}.values())
    for kind in group_of:
        rows.append("%-20s %6d" % (kind, alone[kind]) + "".join(f" {beside[kind, group]:>10}" for group in KINDS))
    return "\n".join(rows), alone, beside, group_of


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
    text, alone, beside, group_of = table([set(path.read_text().split("\n")) - {""} for path in tmp_path.glob("*.kinds")])
    print(text)
    unmade = [sentence for sentence in sentences if sentence.startswith("resolution_mm")]
    print(
        f"{len(shells)} built in {took:.0f} s, {len(refusals)} refused "
        f"({len(refusals) / (len(shells) + len(refusals)):.0%}), {len(unmade)} for their resolution, {len(faults)} faulty"
    )
    assert not faults, faults
    assert len(refusals) <= MOST_REFUSED * (len(shells) + len(refusals)), Counter(s.split(":")[0] for s in sentences)
    rare = [kind for kind in group_of if alone[kind] < 0.02 * SHELLS]
    assert not rare, f"{rare} hardly occur"
    apart = [(kind, group) for kind in group_of for group in KINDS if group != group_of[kind] and beside[kind, group] < 1]
    assert not apart, f"hardly together: {apart}"
    assert len(unmade) <= 0.01 * SHELLS, unmade
