//! The same guard in every material: weight, cost, stiffness, heat.

use crate::section::{ribbed_wall, rigidity_n_mm, thickness_to_match_mm};
use crate::{Family, Material, Materials};
use serde::Serialize;

/// What the stiffness figures mean; shown wherever they are.
pub const WHAT_RIGIDITY_MEANS: &str = "how hard the wall with its ribs is to bend: a comparison, not a strength";

/// One guard in all materials.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MaterialTable {
    /// Volume of the shell, mm³.
    pub volume_mm3: f64,
    /// Skin area that the shell covers, mm².
    pub area_mm2: f64,
    /// Wall away from ribs, mm: what the rigidity is worked out on.
    pub built_thickness_mm: f64,
    /// Volume over area, mm: ribs, rim, vents and slots all counted; absent without area.
    pub mean_thickness_mm: Option<f64>,
    /// [`WHAT_RIGIDITY_MEANS`].
    pub rigidity_means: &'static str,
    /// One row a material, in the order of the materials file. The first is what the others are compared with.
    pub rows: Vec<MaterialRow>,
}

impl MaterialTable {
    /// The row of the filament of that name in a family, or of the family's first where none has that name.
    #[must_use]
    pub fn row(&self, family: Family, filament: Option<&str>) -> Option<&MaterialRow> {
        let mut of_family = self.rows.iter().filter(|row| row.family == family);
        of_family.clone().find(|row| Some(row.name.as_str()) == filament).or_else(|| of_family.next())
    }
}

/// One material on the guard.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MaterialRow {
    /// Its family.
    pub family: Family,
    /// Its name.
    pub name: String,
    /// Weight of the shell printed solid, g.
    pub grams: f64,
    /// Cost of that much filament at the lowest usual price.
    pub cost_low: f64,
    /// Cost of that much filament at the highest usual price.
    pub cost_high: f64,
    /// Currency code of the costs.
    pub currency: String,
    /// Plate rigidity against bending along the limb, N·mm.
    pub rigidity_along_n_mm: f64,
    /// Plate rigidity against bending around the limb, N·mm.
    pub rigidity_around_n_mm: f64,
    /// Rigidity over that of the first material; the same in both directions.
    pub rigidity_to_first: f64,
    /// Wall of this material, ribs grown in proportion, that is as stiff as the first material's, mm.
    pub as_stiff_thickness_mm: f64,
    /// Weight of that wall over the first material's weight.
    pub as_stiff_weight_to_first: f64,
    /// Strength along the layers, MPa, for reference.
    pub strength_mpa: f64,
    /// Softening temperature, °C.
    pub softening_c: f64,
    /// Whether the softening temperature is a guess.
    pub softening_unconfirmed: bool,
    /// What to keep it away from.
    pub heat_caution: String,
}

/// Compares the materials on a shell of the given volume, printed solid, that covers the given skin area.
#[must_use]
pub fn compare(volume_mm3: f64, area_mm2: f64, design: &shell::Design, materials: &Materials) -> MaterialTable {
    let first = materials.materials.first();
    MaterialTable {
        volume_mm3,
        area_mm2,
        built_thickness_mm: decimal(design.thickness_mm),
        mean_thickness_mm: (area_mm2 > 0.0).then(|| volume_mm3 / area_mm2),
        rigidity_means: WHAT_RIGIDITY_MEANS,
        rows: materials.materials.iter().map(|m| row(volume_mm3, design, m, first.unwrap_or(m))).collect(),
    }
}

fn row(volume_mm3: f64, design: &shell::Design, m: &Material, first: &Material) -> MaterialRow {
    let grams = volume_mm3 / 1000.0 * m.density_g_per_cm3.value;
    let cost = |per_kg: f64| grams / 1000.0 * per_kg;
    let section = ribbed_wall(design);
    let stiff = |m: &Material, second_moment| rigidity_n_mm(m.modulus_mpa.value, m.poisson_ratio.value, second_moment);
    let rigidity_to_first = stiff(m, 1.0) / stiff(first, 1.0);
    let thickness = decimal(design.thickness_mm);
    let as_stiff_thickness_mm = thickness_to_match_mm(thickness, rigidity_to_first);
    MaterialRow {
        family: m.family,
        name: m.name.clone(),
        grams,
        cost_low: cost(m.price_per_kg.low),
        cost_high: cost(m.price_per_kg.high),
        currency: m.price_per_kg.currency.clone(),
        rigidity_along_n_mm: stiff(m, section.along_mm3),
        rigidity_around_n_mm: stiff(m, section.around_mm3),
        rigidity_to_first,
        as_stiff_thickness_mm,
        as_stiff_weight_to_first: thickness_to_match_mm(1.0, rigidity_to_first) * m.density_g_per_cm3.value
            / first.density_g_per_cm3.value,
        strength_mpa: m.strength_mpa.value,
        softening_c: m.softening_c.value,
        softening_unconfirmed: m.softening_c.unconfirmed,
        heat_caution: m.heat_caution.clone(),
    }
}

/// 3.2 as stored in f32 is 3.2000000477 in f64; reports should say what the user set.
fn decimal(value: f32) -> f64 {
    value.to_string().parse().unwrap_or(f64::from(value))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn plain_3_mm() -> shell::Design {
        shell::Design { thickness_mm: 3.0, ..shell::Design::default() }
    }

    /// A metre of filament of 1.75 mm weighs 2.98 g in PLA and 3.06 g in PETG (printgauge.com/filament, densities 1.24
    /// and 1.27 g/cm³), and its volume is π · 0.875² · 1000 mm³.
    #[test]
    fn a_metre_of_filament_weighs_what_is_published() {
        let metre_mm3 = std::f64::consts::PI * 0.875_f64.powi(2) * 1000.0;
        let table = compare(metre_mm3, 1000.0, &plain_3_mm(), &Materials::built_in());
        for (row, grams) in table.rows.iter().zip([2.98, 3.06]) {
            assert!((row.grams - grams).abs() < 0.01, "{} {}", row.name, row.grams);
        }
        assert_relative_eq!(table.mean_thickness_mm.unwrap(), metre_mm3 / 1000.0);
    }

    #[test]
    fn a_kilogram_costs_the_price_of_a_kilogram() {
        let materials = Materials::built_in();
        for (n, m) in materials.materials.iter().enumerate() {
            let kilogram_mm3 = 1e6 / m.density_g_per_cm3.value;
            let row = &compare(kilogram_mm3, 1.0, &plain_3_mm(), &materials).rows[n];
            assert_relative_eq!(row.cost_low, m.price_per_kg.low, max_relative = 1e-9);
            assert_relative_eq!(row.cost_high, m.price_per_kg.high, max_relative = 1e-9);
        }
    }

    #[test]
    fn a_filament_goes_by_its_name_and_else_by_its_family() {
        let mut materials = Materials::built_in();
        let mine = crate::Material { name: "mine".into(), ..materials.materials[1].clone() };
        let family = mine.family;
        materials.materials.push(mine);
        let table = compare(80_000.0, 20_000.0, &plain_3_mm(), &materials);
        let name = |filament| table.row(family, filament).map(|row| row.name.as_str());
        let first = materials.materials.iter().find(|m| m.family == family).map(|m| m.name.as_str());
        assert_eq!((name(None), name(Some("gone"))), (first, first));
        assert_eq!(name(Some("mine")), Some("mine"));
    }

    /// With one Poisson's ratio for all, rigidity goes with E t³ (Timoshenko and Woinowsky-Krieger, *Theory of Plates
    /// and Shells*, section 2): an eighth of E needs twice the wall, and twice the weight at the same density.
    #[test]
    fn an_eighth_of_the_modulus_wants_twice_the_wall_and_the_weight_goes_with_it() {
        let mut materials = Materials::built_in();
        for (m, (modulus, density)) in materials.materials.iter_mut().zip([(2700.0, 1.2), (337.5, 1.2), (100.0, 0.6)]) {
            m.poisson_ratio.value = 0.35;
            (m.modulus_mpa.value, m.density_g_per_cm3.value) = (modulus, density);
        }
        let table = compare(80_000.0, 20_000.0, &plain_3_mm(), &materials);
        for (row, (thickness, weight)) in table.rows.iter().zip([(3.0, 1.0), (6.0, 2.0), (9.0, 1.5)]) {
            assert_relative_eq!(row.as_stiff_thickness_mm, thickness, max_relative = 1e-9);
            assert_relative_eq!(row.as_stiff_weight_to_first, weight, max_relative = 1e-9);
        }
    }

    #[test]
    fn a_wall_of_the_equal_thickness_is_as_stiff_as_the_first() {
        let ribs = shell::Ribs { layout: shell::RibLayout::Along, height_mm: 2.0, width_mm: 4.0, spacing_mm: 18.0 };
        let design = shell::Design { ribs: Some(ribs), ..plain_3_mm() };
        let materials = Materials::built_in();
        let table = compare(1.0, 0.0, &design, &materials);
        assert_eq!(table.mean_thickness_mm, None);
        for (n, row) in table.rows.iter().enumerate() {
            let k = (row.as_stiff_thickness_mm / 3.0) as f32;
            let grown = shell::Ribs { height_mm: 2.0 * k, width_mm: 4.0 * k, spacing_mm: 18.0 * k, ..ribs };
            let grown = shell::Design { thickness_mm: 3.0 * k, ribs: Some(grown), ..design.clone() };
            let again = compare(1.0, 0.0, &grown, &materials);
            assert_relative_eq!(
                again.rows[n].rigidity_along_n_mm,
                table.rows[0].rigidity_along_n_mm,
                max_relative = 1e-5
            );
            assert_relative_eq!(
                again.rows[n].rigidity_around_n_mm,
                table.rows[0].rigidity_around_n_mm,
                max_relative = 1e-5
            );
        }
    }

    #[test]
    fn the_report_says_what_the_user_set() {
        let table =
            compare(1.0, 1.0, &shell::Design { thickness_mm: 3.2, ..shell::Design::default() }, &Materials::built_in());
        let json = serde_json::to_string(&table).unwrap();
        assert!(json.contains("\"built_thickness_mm\":3.2,") && json.contains("not a strength"), "{json}");
    }
}
