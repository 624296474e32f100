//! How stiff a wall is against bending, with its ribs spread evenly over it.
//!
//! Timoshenko and Woinowsky-Krieger, *Theory of Plates and Shells*, 2nd ed. 1959: plate rigidity
//! `D = E t³ / 12(1 − ν²)` (section 2); for a plate with equidistant ribs on one side, the T-section's second moment
//! per spacing along the ribs, and the wall and rib strips bent one after the other across them (section 86).

use shell::{Design, RibLayout, Ribs};

/// Second moment per unit width of a ribbed wall, mm⁴/mm, in the two main directions of the limb.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RibbedWall {
    /// Against bending along the limb.
    pub along_mm3: f64,
    /// Against bending around the limb.
    pub around_mm3: f64,
}

/// The cross-section of a strip of wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Area, mm².
    pub area_mm2: f64,
    /// Height of the neutral axis above the inner face, mm.
    pub neutral_mm: f64,
    /// Second moment about the neutral axis, mm⁴.
    pub second_moment_mm4: f64,
}

/// A strip of wall with one rib on its outer face, by the parallel-axis theorem.
#[must_use]
pub fn strip_with_rib(width_mm: f64, thickness_mm: f64, rib_width_mm: f64, rib_height_mm: f64) -> Section {
    let parts = [(width_mm, thickness_mm, 0.0), (rib_width_mm, rib_height_mm, thickness_mm)];
    let area: f64 = parts.iter().map(|(w, h, _)| w * h).sum();
    let neutral = parts.iter().map(|(w, h, foot)| w * h * (foot + h / 2.0)).sum::<f64>() / area;
    let second =
        parts.iter().map(|(w, h, foot)| w * h.powi(3) / 12.0 + w * h * (foot + h / 2.0 - neutral).powi(2)).sum();
    Section { area_mm2: area, neutral_mm: neutral, second_moment_mm4: second }
}

/// Height over width of the diamonds that slanted ribs cross in.
const UPRIGHT: f64 = 1.6;

/// The wall of a design with its ribs spread evenly.
///
/// Ribs both ways count in full each way; diamonds of ribs, which slant, by the fourth power of their cosine to
/// each way (a family of stiffeners turned in the plane of its plate; twist is left out). Branching ribs run every way: half of their length is counted along
/// the limb and half around it. The fillets at the foot of ribs are left out.
#[must_use]
pub fn ribbed_wall(design: &Design) -> RibbedWall {
    let t = f64::from(design.thickness_mm);
    let plain = t.powi(3) / 12.0;
    let Some(ribs) = design.ribs else { return RibbedWall { along_mm3: plain, around_mm3: plain } };
    let spacing = f64::from(ribs.spacing_mm);
    match ribs.layout {
        RibLayout::Along => {
            RibbedWall { along_mm3: with_the_ribs(t, &ribs, spacing), around_mm3: against_the_ribs(t, &ribs) }
        }
        RibLayout::Around => {
            RibbedWall { along_mm3: against_the_ribs(t, &ribs), around_mm3: with_the_ribs(t, &ribs, spacing) }
        }
        RibLayout::Crossed => {
            let both = with_the_ribs(t, &ribs, spacing);
            RibbedWall { along_mm3: both, around_mm3: both }
        }
        RibLayout::Diamond => {
            // Two families of ribs that rise 1.6 mm in 1, their spacing measured across the limb.
            let length = UPRIGHT.hypot(1.0);
            let apart = UPRIGHT / length;
            let [along, around] = [UPRIGHT, 1.0].map(|way| apart / (2.0 * (way / length).powi(4)));
            RibbedWall {
                along_mm3: with_the_ribs(t, &ribs, along * spacing),
                around_mm3: with_the_ribs(t, &ribs, around * spacing),
            }
        }
        RibLayout::Branching => {
            let both = with_the_ribs(t, &ribs, 2.0 * spacing);
            RibbedWall { along_mm3: both, around_mm3: both }
        }
    }
}

fn with_the_ribs(t: f64, ribs: &Ribs, spacing: f64) -> f64 {
    let width = f64::from(ribs.width_mm).min(spacing);
    strip_with_rib(spacing, t, width, f64::from(ribs.height_mm)).second_moment_mm4 / spacing
}

/// Across ribs the bare strips give way and the rib strips hardly bend.
fn against_the_ribs(t: f64, ribs: &Ribs) -> f64 {
    let spacing = f64::from(ribs.spacing_mm);
    let width = f64::from(ribs.width_mm).min(spacing);
    let share = t / (t + f64::from(ribs.height_mm));
    t.powi(3) / 12.0 * spacing / (spacing - width + share.powi(3) * width)
}

/// Bending rigidity of a plate per unit width, N·mm, from its second moment per unit width.
#[must_use]
pub fn rigidity_n_mm(modulus_mpa: f64, poisson_ratio: f64, second_moment_mm3: f64) -> f64 {
    modulus_mpa * second_moment_mm3 / (1.0 - poisson_ratio * poisson_ratio)
}

/// How much thicker a wall has to be for a material `rigidity_ratio` times as stiff as another to match it,
/// ribs grown in the same proportion: rigidity goes with the cube of the size.
#[must_use]
pub fn thickness_to_match_mm(thickness_mm: f64, rigidity_ratio: f64) -> f64 {
    thickness_mm / rigidity_ratio.cbrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn ribbed(layout: RibLayout) -> Design {
        let ribs = Ribs { layout, height_mm: 6.0, width_mm: 4.0, spacing_mm: 20.0 };
        Design { thickness_mm: 3.0, ribs: Some(ribs), ..Design::default() }
    }

    /// A flange of 90 × 20 mm with a web of 30 × 40 mm: the centroid lies 38 mm from the foot of the web, and the
    /// second moment about it is 868 · 10³ mm⁴ (Beer, Johnston, DeWolf and Mazurek, *Mechanics of Materials*, sample
    /// problem 4.2).
    #[test]
    fn a_t_section_of_a_textbook_has_868_000_mm4_about_an_axis_38_mm_from_its_foot() {
        let section = strip_with_rib(90.0, 20.0, 30.0, 40.0);
        assert_relative_eq!(section.area_mm2, 3000.0);
        assert_relative_eq!(60.0 - section.neutral_mm, 38.0, max_relative = 1e-9);
        assert_relative_eq!(section.second_moment_mm4, 868_000.0, max_relative = 1e-9);
        let ribs = Ribs { layout: RibLayout::Along, height_mm: 40.0, width_mm: 30.0, spacing_mm: 90.0 };
        let wall = Design { thickness_mm: 20.0, ribs: Some(ribs), ..Design::default() };
        assert_relative_eq!(ribbed_wall(&wall).along_mm3, 868_000.0 / 90.0, max_relative = 1e-9);
    }

    /// A clamped square plate of 1 m, 20 mm thick, of E = 200 GPa and ν = 0.3, deflects by 0.860 mm under 100 kPa, by
    /// w = 0.00126 q a⁴ / D (Timoshenko and Woinowsky-Krieger, table 35; the figure is that of NAFEMS R0015, section
    /// 2.5).
    #[test]
    fn the_rigidity_of_a_clamped_plate_gives_its_published_deflection() {
        let plain = ribbed_wall(&Design { thickness_mm: 20.0, ..Design::default() });
        let rigidity = rigidity_n_mm(200_000.0, 0.3, plain.along_mm3);
        assert_relative_eq!(0.001_26 * 0.1 * 1000.0_f64.powi(4) / rigidity, 0.860, max_relative = 1e-3);
        assert_eq!(plain.along_mm3, plain.around_mm3);
    }

    /// Rigidity goes with E t³ (Timoshenko and Woinowsky-Krieger, section 2): an eighth of E needs twice the wall, a
    /// twenty-seventh three times.
    #[test]
    fn an_eighth_of_the_modulus_wants_twice_the_wall() {
        assert_relative_eq!(thickness_to_match_mm(3.0, 1.0 / 8.0), 6.0, max_relative = 1e-12);
        assert_relative_eq!(thickness_to_match_mm(3.0, 1.0 / 27.0), 9.0, max_relative = 1e-12);
    }

    #[test]
    fn ribs_lie_between_the_bare_wall_and_a_wall_as_thick_as_the_ribs() {
        let (bare, solid) = (27.0 / 12.0, 729.0 / 12.0);
        for layout in RibLayout::ALL {
            let got = ribbed_wall(&ribbed(layout));
            for side in [got.along_mm3, got.around_mm3] {
                assert!(bare < side && side < solid, "{layout:?} {got:?}");
            }
        }
        let (along, around) = (ribbed_wall(&ribbed(RibLayout::Along)), ribbed_wall(&ribbed(RibLayout::Around)));
        assert_eq!((along.along_mm3, along.around_mm3), (around.around_mm3, around.along_mm3));
        // Ribs side by side without a gap are a wall of the whole thickness, in both directions.
        let full = Ribs { layout: RibLayout::Along, height_mm: 6.0, width_mm: 20.0, spacing_mm: 20.0 };
        let full = ribbed_wall(&Design { thickness_mm: 3.0, ribs: Some(full), ..Design::default() });
        assert_relative_eq!(full.along_mm3, solid, max_relative = 1e-12);
        assert_relative_eq!(full.around_mm3, solid, max_relative = 1e-12);
    }
}
