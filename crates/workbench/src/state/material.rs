//! The material step: another wall that is weighed, what is shown in colours, what the lightest guard has to hold to, a filament
//! that is being entered.

use bevy::math::Vec2;
use engine::{StrengthMap, Targets};
use mechanics::surroundings::{SourcedTissue, blows, foams};
use mechanics::{Family, Material, Price, Sourced, Status};
use scan::BodySite;
use shell::limits;

/// State of the material step.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MaterialView {
    /// Another wall that is being weighed, mm.
    pub wall_mm: Option<f32>,
    /// What is shown in colours; none for the plain guard.
    pub map: Option<StrengthMap>,
    /// Where the pointer went down on the guard, in the window.
    pub pressed_at: Option<Vec2>,
    /// What the lightest guard has to hold to.
    pub targets: TargetsView,
    /// What there is to choose from.
    pub choices: Choices,
    /// A filament that is being entered.
    pub own: Option<OwnFilament>,
}

/// What the lightest guard has to hold to, each with whether it counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TargetsView {
    /// Times to spare, at least.
    pub spare: (bool, f32),
    /// The greatest pressure on the skin, at most, kPa.
    pub peak_kpa: (bool, f32),
    /// The dent, at most, mm.
    pub dent_mm: (bool, f32),
    /// The moment that bends it by a degree, at least, N·m.
    pub bending: (bool, f32),
}

impl Default for TargetsView {
    fn default() -> Self {
        Self { spare: (true, 1.0), peak_kpa: (false, 500.0), dent_mm: (false, 6.0), bending: (false, 2.0) }
    }
}

impl TargetsView {
    /// As the search takes them.
    pub fn targets(&self) -> Targets {
        let told = |(counts, value): (bool, f32)| counts.then_some(f64::from(value));
        Targets {
            spare: told(self.spare),
            peak_kpa: told(self.peak_kpa),
            dent_mm: told(self.dent_mm),
            bending_n_m_per_deg: told(self.bending),
            ..Targets::default()
        }
    }
}

/// Names of what there is to choose from, read once.
#[derive(Debug, Clone, PartialEq)]
pub struct Choices {
    /// Blows, with the standard whose striker each borrows.
    pub blows: Vec<(String, Option<String>)>,
    /// Foams of the liner.
    pub foams: Vec<String>,
    /// What is under it, by the site of the body.
    pub under: Option<(BodySite, Vec<String>)>,
}

impl Default for Choices {
    fn default() -> Self {
        Self {
            blows: blows().into_iter().map(|blow| (blow.name, blow.after)).collect(),
            foams: foams().into_iter().map(|foam| foam.name).collect(),
            under: None,
        }
    }
}

impl Choices {
    /// What may be under a guard at a site.
    pub fn under(&mut self, site: BodySite) -> &[String] {
        if self.under.as_ref().is_none_or(|(of, _)| *of != site) {
            let name = |tissue: SourcedTissue| tissue.place;
            let found = engine::tissues_at(site).unwrap_or_default().into_iter().map(name).collect();
            self.under = Some((site, found));
        }
        self.under.as_ref().map(|(_, names)| names.as_slice()).unwrap_or_default()
    }
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
