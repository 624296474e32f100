//! The same guard in every material: weight, cost, heat.

use crate::{Family, Material, Materials};
use serde::Serialize;

/// One guard in all materials.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MaterialTable {
    /// Volume of the shell, mm³.
    pub volume_mm3: f64,
    /// Skin area that the shell covers, mm².
    pub area_mm2: f64,
    /// Volume over area, mm: ribs, rim, vents and slots all counted; absent without area.
    pub mean_thickness_mm: Option<f64>,
    /// One row a material, in the order of the materials file.
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
pub fn compare(volume_mm3: f64, area_mm2: f64, materials: &Materials) -> MaterialTable {
    MaterialTable {
        volume_mm3,
        area_mm2,
        mean_thickness_mm: (area_mm2 > 0.0).then(|| volume_mm3 / area_mm2),
        rows: materials.materials.iter().map(|material| row(volume_mm3, material)).collect(),
    }
}

fn row(volume_mm3: f64, m: &Material) -> MaterialRow {
    let grams = volume_mm3 / 1000.0 * m.density_g_per_cm3.value;
    let cost = |per_kg: f64| grams / 1000.0 * per_kg;
    MaterialRow {
        family: m.family,
        name: m.name.clone(),
        grams,
        cost_low: cost(m.price_per_kg.low),
        cost_high: cost(m.price_per_kg.high),
        currency: m.price_per_kg.currency.clone(),
        strength_mpa: m.strength_mpa.value,
        softening_c: m.softening_c.value,
        softening_unconfirmed: m.softening_c.unconfirmed,
        heat_caution: m.heat_caution.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// A metre of filament of 1.75 mm weighs 2.98 g in PLA and 3.06 g in PETG (printgauge.com/filament, densities 1.24
    /// and 1.27 g/cm³), and its volume is π · 0.875² · 1000 mm³.
    #[test]
    fn a_metre_of_filament_weighs_what_is_published() {
        let metre_mm3 = std::f64::consts::PI * 0.875_f64.powi(2) * 1000.0;
        let table = compare(metre_mm3, 1000.0, &Materials::built_in());
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
            let row = &compare(kilogram_mm3, 1.0, &materials).rows[n];
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
        let table = compare(80_000.0, 20_000.0, &materials);
        let name = |filament| table.row(family, filament).map(|row| row.name.as_str());
        let first = materials.materials.iter().find(|m| m.family == family).map(|m| m.name.as_str());
        assert_eq!((name(None), name(Some("gone"))), (first, first));
        assert_eq!(name(Some("mine")), Some("mine"));
    }
}
