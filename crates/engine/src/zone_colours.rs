//! The limb with its zone as colours, so that anyone can check where the guard goes.

use mesh::Mesh;
use zone::Zone;

/// Skin that stays bare.
pub(crate) const BARE: [u8; 3] = [205, 200, 192];
/// Skin that is covered.
pub(crate) const COVERED: [u8; 3] = [26, 132, 152];
/// Skin under a relief.
pub(crate) const RELIEF: [u8; 3] = [232, 163, 61];
/// Skin under a reinforcement.
pub(crate) const REINFORCED: [u8; 3] = [108, 74, 158];

/// The limb with one colour a point: bare, covered, under a relief, or under a reinforcement.
pub(crate) fn paint(limb: &Mesh, zone: &Zone) -> Mesh {
    let inside = |distances: &[f32], v: usize| distances.get(v).is_some_and(|d| *d >= 0.0);
    let colour = |v: usize| {
        if !inside(&zone.covered.distance_mm, v) {
            BARE
        } else if zone.reliefs.iter().any(|bump| inside(&bump.region.distance_mm, v)) {
            RELIEF
        } else if zone.reinforcements.iter().any(|bump| inside(&bump.region.distance_mm, v)) {
            REINFORCED
        } else {
            COVERED
        }
    };
    Mesh { colours: Some((0..limb.points.len()).map(colour).collect()), ..limb.clone() }
}
