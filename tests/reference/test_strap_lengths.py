"""Lengths of straps, beside trimesh's cut through the limb that is written with the guard."""

import numpy as np
import pytest
from conftest import LIMBS, need

OVERLAP_MM = 80.0


@pytest.mark.parametrize("name", ["forearm-07", "shin-23"])
def test_a_strap_is_the_girth_by_trimesh_and_80_mm(guards, name):
    need(LIMBS[name])
    guard = guards.get(name)
    fittings, limb = guard.report["shell"]["fittings"], guard.limb
    straps = guard.report["straps"]
    assert sorted(n for strap in straps for n in strap["slots"]) == [0, 1, 2, 3], "two pairs"
    for strap in straps:
        height = np.mean([fittings[n]["at_mm"][2] for n in strap["slots"]])
        cut = limb.section(plane_origin=(0.0, 0.0, height), plane_normal=(0.0, 0.0, 1.0))
        girth = max(line.length(cut.vertices) for line in cut.entities)
        print(f"{name}: {strap['girth_mm']:.3f} mm; trimesh {girth:.3f} mm")
        assert abs(strap["girth_mm"] / girth - 1.0) < 1e-4
        assert 0.0 <= strap["cut_mm"] - girth - OVERLAP_MM < 5.01 and strap["cut_mm"] % 5 == 0
