//! What another wall would weigh and cost, and how stiff it would be, without building it.

use shell::{Design, RibLayout};

use crate::{MaterialTable, Materials, compare};

/// The table of a shell whose volume is known at the wall of `design`, for another wall.
///
/// Walls of vents and of the rim are taken as square, so that the volume grows with the wall over the skin that is left
/// between the openings: `V' = V + A (t' − t)` with `A = V / (t + ribs spread evenly)`. The stiffness is that of
/// [`compare`] on the other wall.
#[must_use]
pub fn what_if(
    volume_mm3: f64,
    area_mm2: f64,
    design: &Design,
    thickness_mm: f32,
    materials: &Materials,
) -> MaterialTable {
    let (wall, other) = (f64::from(design.thickness_mm), f64::from(thickness_mm));
    let solid_mm2 = volume_mm3 / (wall + rib_height_spread_mm(design)).max(1e-6);
    let volume = (volume_mm3 + solid_mm2 * (other - wall)).max(0.0);
    compare(volume, area_mm2, &Design { thickness_mm, ..design.clone() }, materials)
}

/// Height of the ribs, spread evenly over the wall, mm.
fn rib_height_spread_mm(design: &Design) -> f64 {
    let Some(ribs) = design.ribs else { return 0.0 };
    let share = f64::from(ribs.width_mm / ribs.spacing_mm.max(ribs.width_mm));
    let covered = match ribs.layout {
        // Two families of strips, their crossings counted once.
        RibLayout::Crossed | RibLayout::Diamond => 1.0 - (1.0 - share).powi(2),
        RibLayout::Along | RibLayout::Around | RibLayout::Branching => share,
    };
    f64::from(ribs.height_mm) * covered
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use shell::Ribs;

    #[test]
    fn the_same_wall_gives_the_same_table() {
        let ribs = Ribs { layout: RibLayout::Crossed, height_mm: 2.0, width_mm: 4.0, spacing_mm: 20.0 };
        let design = Design { ribs: Some(ribs), ..Design::default() };
        let materials = Materials::built_in();
        let same = what_if(60_000.0, 20_000.0, &design, design.thickness_mm, &materials);
        assert_eq!(same, compare(60_000.0, 20_000.0, &design, &materials));
    }

    /// A plate without ribs: twice the wall is twice the weight and, by t³, eight times the rigidity.
    #[test]
    fn twice_the_wall_of_a_plate_is_twice_the_weight_and_eight_times_as_stiff() {
        let design = Design { thickness_mm: 2.0, ..Design::default() };
        let materials = Materials::built_in();
        let [now, then] = [2.0, 4.0].map(|wall| what_if(40_000.0, 20_000.0, &design, wall, &materials));
        for (a, b) in now.rows.iter().zip(&then.rows) {
            assert_relative_eq!(b.grams, 2.0 * a.grams, max_relative = 1e-9);
            assert_relative_eq!(b.cost_high, 2.0 * a.cost_high, max_relative = 1e-9);
            assert_relative_eq!(b.rigidity_along_n_mm, 8.0 * a.rigidity_along_n_mm, max_relative = 1e-6);
        }
    }

    /// A flat plate of 100 × 100 mm with ribs 4 wide and 2 high every 20 mm: 30 000 + 4000 mm³ at a wall of 3, and
    /// 40 000 + 4000 mm³ at 4.
    #[test]
    fn ribs_keep_their_own_volume() {
        let ribs = Ribs { layout: RibLayout::Along, height_mm: 2.0, width_mm: 4.0, spacing_mm: 20.0 };
        let design = Design { thickness_mm: 3.0, ribs: Some(ribs), ..Design::default() };
        let table = what_if(34_000.0, 10_000.0, &design, 4.0, &Materials::built_in());
        assert_relative_eq!(table.volume_mm3, 44_000.0, max_relative = 1e-6);
    }
}
