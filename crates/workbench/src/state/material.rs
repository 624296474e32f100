//! The material step: another wall that is weighed, a filament that is being entered.

use mechanics::{Family, Material, Price, Sourced, Status};
use shell::limits;

/// State of the material step.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MaterialView {
    /// Another wall that is being weighed, mm.
    pub wall_mm: Option<f32>,
    /// A filament that is being entered.
    pub own: Option<OwnFilament>,
}

impl MaterialView {
    /// Weighs another wall, mm.
    pub fn weigh(&mut self, wall_mm: f32) {
        self.wall_mm = Some(wall_mm.clamp(limits::THICKNESS.least, limits::THICKNESS.most));
    }
}

/// A filament that is being entered.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnFilament {
    /// The kind of plastic.
    pub name: String,
    /// The family that it belongs to.
    pub family: Family,
    /// Density, g/cm³.
    pub density_g_per_cm3: f32,
    /// Modulus of elasticity, MPa.
    pub modulus_mpa: f32,
    /// Temperature at which it softens, °C.
    pub softening_c: f32,
    /// Price of a kilogram.
    pub price_per_kg: f32,
    /// Where the figures come from.
    pub source: String,
    /// Why it was refused.
    pub refused: Option<String>,
}

impl Default for OwnFilament {
    fn default() -> Self {
        Self {
            name: String::new(),
            family: Family::SemiRigid,
            density_g_per_cm3: 1.25,
            modulus_mpa: 2000.0,
            softening_c: 70.0,
            price_per_kg: 30.0,
            source: String::new(),
            refused: None,
        }
    }
}

impl OwnFilament {
    /// The filament, with what the form does not ask for taken from `like`, a known one of its family.
    pub fn material(&self, like: &Material) -> Material {
        // A figure typed as 1.25 is meant as 1.25, not as the nearest `f32`.
        let decimal = |value: f32| value.to_string().parse().unwrap_or(f64::from(value));
        let own = |value: f32| {
            let value = decimal(value);
            let source = self.source.trim().to_owned();
            Sourced {
                value,
                range: [value, value],
                status: Status::CommonPractice,
                test: None,
                source,
                unconfirmed: false,
            }
        };
        let price = decimal(self.price_per_kg);
        Material {
            family: self.family,
            name: self.name.trim().to_owned(),
            density_g_per_cm3: own(self.density_g_per_cm3),
            modulus_mpa: own(self.modulus_mpa),
            softening_c: own(self.softening_c),
            price_per_kg: Price {
                low: price,
                high: price,
                currency: like.price_per_kg.currency.clone(),
                status: Status::CommonPractice,
                source: self.source.trim().to_owned(),
            },
            heat_caution: format!(
                "Softens from about {:.0} °C: keep it out of hot cars and hot water.",
                self.softening_c
            ),
            ..like.clone()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use mechanics::Materials;

    #[test]
    fn a_filament_from_the_form_holds_what_was_typed_and_passes_the_check_of_the_file() {
        let mut all = Materials::built_in();
        let like = all.materials[1].clone();
        let typed = OwnFilament { name: " PCTG ".into(), source: "maker's sheet".into(), ..OwnFilament::default() };
        let mine = typed.material(&like);
        assert_eq!((mine.name.as_str(), mine.density_g_per_cm3.value, mine.modulus_mpa.value), ("PCTG", 1.25, 2000.0));
        assert_eq!(mine.poisson_ratio, like.poisson_ratio);
        all.materials.push(mine);
        let text = serde_json::to_string(&all).unwrap();
        assert_eq!(Materials::parse(&text, "mine").unwrap(), all);
        // Ends of the sliders are allowed too; without a source it is refused.
        for (density, modulus, softening, price) in [(0.8, 10.0, 40.0, 5.0), (1.6, 10_000.0, 200.0, 300.0)] {
            let end = OwnFilament {
                name: "end".into(),
                density_g_per_cm3: density,
                modulus_mpa: modulus,
                softening_c: softening,
                price_per_kg: price,
                source: "sheet".into(),
                ..OwnFilament::default()
            };
            let one = |own: &OwnFilament| {
                let only = Materials { materials: vec![own.material(&like)], ..Materials::built_in() };
                Materials::parse(&serde_json::to_string(&only).unwrap(), "end")
            };
            assert!(one(&end).is_ok());
            assert!(one(&OwnFilament { source: "  ".into(), ..end }).is_err());
        }
    }
}
