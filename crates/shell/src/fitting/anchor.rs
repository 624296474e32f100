//! How much wall a strap needs behind its slot.
//!
//! The wall between the slot and the trim line is a beam as long as the slot, with both ends fixed, that the strap loads
//! evenly. Its greatest bending moment, at both ends, is F L / 12 (Roark, "Formulas for Stress and Strain", beams with
//! both ends fixed under a uniform load; the number from memory), and a beam as high as the wall is wide and as thick as
//! the guard bears 6 M / (t b²).

use super::outline::STRAP_CLEARANCE_MM;

/// What the wall behind a slot is to hold if nothing else is stated, N: about twice the pull to which a strap is tightened
/// snugly by hand (common practice, without a published figure).
pub const USUAL_PULL_N: f32 = 60.0;
/// Greatest stress in the wall, MPa: half of about 25, low for the strength across layers of rigid and semi-rigid prints
/// (from memory).
pub const ANCHOR_STRESS_MPA: f32 = 12.5;

/// Length of a slot for a strap, mm.
fn span_mm(strap_mm: f32) -> f32 {
    strap_mm + STRAP_CLEARANCE_MM
}

/// Wall between a slot and the trim line that holds a pull, mm, in a guard of this thickness.
#[must_use]
pub fn anchor_wall_mm(pull_n: f32, strap_mm: f32, thickness_mm: f32) -> f32 {
    (pull_n * span_mm(strap_mm) / (2.0 * thickness_mm.max(0.1) * ANCHOR_STRESS_MPA)).sqrt()
}

/// The pull that this wall behind a slot holds, N.
#[must_use]
pub fn anchor_pull_n(wall_mm: f32, strap_mm: f32, thickness_mm: f32) -> f32 {
    2.0 * thickness_mm * ANCHOR_STRESS_MPA * wall_mm.max(0.0).powi(2) / span_mm(strap_mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 100 N on 27 mm make 225 N mm at the ends; 6 mm of a 3 mm wall have a section modulus of 18 mm³.
    #[test]
    fn the_wall_bears_the_moment_of_a_fixed_beam() {
        assert!((anchor_wall_mm(100.0, 25.0, 3.0) - 6.0).abs() < 1e-5);
        assert!((anchor_pull_n(6.0, 25.0, 3.0) - 100.0).abs() < 1e-3);
        for pull in [20.0, 90.0, 300.0] {
            assert!((anchor_pull_n(anchor_wall_mm(pull, 38.0, 2.4), 38.0, 2.4) / pull - 1.0).abs() < 1e-4);
        }
    }
}
