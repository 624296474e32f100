//! The materials file: reading it and checking it.

use crate::Error;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// The file that ships with the program, `assets/materials.json`.
pub const BUILT_IN: &str = include_str!("../../../assets/materials.json");

/// The only file version so far.
const VERSION: u32 = 1;

/// How a guard of the material behaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Family {
    /// Stiff and brittle, such as PLA.
    Rigid,
    /// Stiff and tough, such as PETG.
    SemiRigid,
    /// Rubbery, such as TPU.
    Flexible,
}

impl Family {
    /// The word shown to people.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Rigid => "rigid",
            Self::SemiRigid => "semi-rigid",
            Self::Flexible => "flexible",
        }
    }
}

/// How far a value can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Looked up in the named source.
    Published,
    /// Commonly quoted, not looked up.
    FromMemory,
    /// Trade habit.
    CommonPractice,
    /// Judged from other values.
    Estimated,
}

/// A value with where it comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sourced {
    /// The value used.
    pub value: f64,
    /// Lowest and highest value found.
    pub range: [f64; 2],
    /// How far it can be trusted.
    pub status: Status,
    /// How it was measured: the test's standard, and how the bar was printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test: Option<String>,
    /// Where it comes from.
    pub source: String,
    /// Whether the value is a guess and is shown as such.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub unconfirmed: bool,
}

/// What a kilogram of filament costs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Price {
    /// Cheapest usual price per kilogram.
    pub low: f64,
    /// Dearest usual price per kilogram.
    pub high: f64,
    /// Currency code.
    pub currency: String,
    /// How far it can be trusted.
    pub status: Status,
    /// Where it comes from.
    pub source: String,
}

/// One filament.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Material {
    /// Its family.
    pub family: Family,
    /// Its name in the trade: a kind of plastic, not a product.
    pub name: String,
    /// Density of the solid plastic, g/cm³.
    pub density_g_per_cm3: Sourced,
    /// Young's modulus of a flat print in a slow pull, MPa.
    pub modulus_mpa: Sourced,
    /// Young's modulus across the layers, of an upright print, MPa.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub modulus_upright_mpa: Option<Sourced>,
    /// Poisson's ratio.
    pub poisson_ratio: Sourced,
    /// Tensile strength of a solid print pulled along its layers, MPa.
    pub strength_mpa: Sourced,
    /// Strength across the layers as a share of the strength along them.
    pub across_layers_ratio: Sourced,
    /// Strength of a flat print that is bent, MPa; as when it is pulled where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bending_strength_mpa: Option<Sourced>,
    /// By how much a flat print is longer when it breaks, per cent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strain_at_break_percent: Option<Sourced>,
    /// The same of an upright print.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strain_at_break_upright_percent: Option<Sourced>,
    /// Energy that breaks a notched bar in a blow, kJ/m²; left out where it does not break.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub notched_impact_kj_per_m2: Option<Sourced>,
    /// Temperature at which a loaded bar sags, by one test for all, °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heat_deflection_c: Option<Sourced>,
    /// How many times as stiff it is in a blow as in a slow pull; as stiff where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blow_modulus_ratio: Option<Sourced>,
    /// How many times as strong it is in a blow; as strong where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blow_strength_ratio: Option<Sourced>,
    /// How many times as stiff it is at −20 °C as in a warm room.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cold_modulus_ratio: Option<Sourced>,
    /// Which share of its stiffness is left after a week under a small steady load.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub left_after_a_week_ratio: Option<Sourced>,
    /// Temperature from which it loses its shape, °C.
    pub softening_c: Sourced,
    /// Price.
    pub price_per_kg: Price,
    /// What to keep it away from.
    pub heat_caution: String,
}

/// All filaments of one materials file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Materials {
    /// File version, 1.
    pub version: u32,
    /// A note for whoever edits the file.
    #[serde(default)]
    pub about: String,
    /// At least one; the others are compared with the first.
    pub materials: Vec<Material>,
}

impl Materials {
    /// The materials that ship with the program.
    #[must_use]
    pub fn built_in() -> Self {
        Self::parse(BUILT_IN, "assets/materials.json").expect("the built-in materials file is checked by the tests")
    }

    /// The given file, or the built-in materials where none is given.
    ///
    /// # Errors
    /// The file cannot be read, or is wrong in a way that the error names by line and field.
    pub fn load(path: Option<&Path>) -> Result<Self, Error> {
        let Some(path) = path else { return Ok(Self::built_in()) };
        let bytes = std::fs::read(path).map_err(|source| Error::Unreadable { path: path.into(), source })?;
        let name = path.display().to_string();
        let text = plain_json::text(&bytes).map_err(|slip| malformed(&name, slip))?;
        Self::parse(text, &name)
    }

    /// Reads and checks the text of a materials file; `name` is used in errors.
    ///
    /// # Errors
    /// The text is wrong in a way that the error names by line and field.
    pub fn parse(text: &str, name: &str) -> Result<Self, Error> {
        let read: Self = plain_json::read(text).map_err(|slip| malformed(name, slip))?;
        Check { text, name }.all(&read)?;
        Ok(read)
    }
}

fn malformed(name: &str, slip: plain_json::Slip) -> Error {
    let plain_json::Slip { line, column, field, why } = slip;
    Error::Malformed { name: name.into(), line, column, field, why }
}

/// What a material can have beside, each with its name and the range that it is allowed.
type Optional = (&'static str, fn(&Material) -> &Option<Sourced>, f64, f64);
const OPTIONAL: [Optional; 10] = [
    ("modulus_upright_mpa", |m| &m.modulus_upright_mpa, 1.0, 50_000.0),
    ("bending_strength_mpa", |m| &m.bending_strength_mpa, 0.5, 1_000.0),
    ("strain_at_break_percent", |m| &m.strain_at_break_percent, 0.1, 2_000.0),
    ("strain_at_break_upright_percent", |m| &m.strain_at_break_upright_percent, 0.1, 2_000.0),
    ("notched_impact_kj_per_m2", |m| &m.notched_impact_kj_per_m2, 0.1, 500.0),
    ("heat_deflection_c", |m| &m.heat_deflection_c, 20.0, 350.0),
    ("blow_modulus_ratio", |m| &m.blow_modulus_ratio, 0.5, 10.0),
    ("blow_strength_ratio", |m| &m.blow_strength_ratio, 0.5, 10.0),
    ("cold_modulus_ratio", |m| &m.cold_modulus_ratio, 0.5, 50.0),
    ("left_after_a_week_ratio", |m| &m.left_after_a_week_ratio, 0.05, 1.0),
];

/// The rules that values must keep, with the text to find their lines in.
struct Check<'a> {
    text: &'a str,
    name: &'a str,
}

impl Check<'_> {
    fn all(&self, read: &Materials) -> Result<(), Error> {
        if read.version != VERSION {
            let rule = format!("this program reads version {VERSION}");
            return Err(self.wrong("version", 0, "version".into(), read.version.to_string(), rule));
        }
        if read.materials.is_empty() {
            let rule = "list at least one material".into();
            return Err(self.wrong("materials", 0, "materials".into(), "empty".into(), rule));
        }
        read.materials.iter().enumerate().try_for_each(|(n, material)| self.material(&read.materials[..n], material))
    }

    /// Checks one material; `earlier` are those before it.
    fn material(&self, earlier: &[Material], m: &Material) -> Result<(), Error> {
        let n = earlier.len();
        if m.name.trim().is_empty() {
            let rule = "give the material a name".into();
            return Err(self.wrong("name", n, format!("materials[{n}].name"), "empty".into(), rule));
        }
        // Allowed ranges: wide enough for any plastic, narrow enough to catch a wrong unit.
        let fields = [
            ("density_g_per_cm3", &m.density_g_per_cm3, 0.2, 3.0),
            ("modulus_mpa", &m.modulus_mpa, 1.0, 50_000.0),
            ("poisson_ratio", &m.poisson_ratio, 0.0, 0.499),
            ("strength_mpa", &m.strength_mpa, 0.5, 1_000.0),
            ("across_layers_ratio", &m.across_layers_ratio, 0.05, 1.0),
            ("softening_c", &m.softening_c, 20.0, 350.0),
        ];
        let more = OPTIONAL.iter().filter_map(|(field, of, low, high)| Some((*field, of(m).as_ref()?, *low, *high)));
        for (field, sourced, low, high) in fields.into_iter().chain(more) {
            let path = format!("materials[{n}].{field}");
            let have = |of: fn(&Material) -> &Option<Sourced>| earlier.iter().filter(|m| of(m).is_some()).count();
            let nth = OPTIONAL.iter().find(|(name, ..)| *name == field).map_or(n, |(_, of, ..)| have(*of));
            let value = sourced.value;
            if !(low..=high).contains(&value) {
                let rule = format!("it must be between {low} and {high}; check the unit");
                return Err(self.wrong(field, nth, format!("{path}.value"), told(value, low, high), rule));
            }
            let [lowest, highest] = sourced.range;
            if !(lowest <= value && value <= highest) {
                let rule = format!("the value {} must lie inside the range", told(value, lowest, highest));
                return Err(self.wrong(field, nth, format!("{path}.range"), range(lowest, highest), rule));
            }
            if sourced.source.trim().is_empty() {
                let rule = "say where the value comes from".into();
                return Err(self.wrong(field, nth, format!("{path}.source"), "empty".into(), rule));
            }
        }
        let price = &m.price_per_kg;
        if !(0.0 <= price.low && price.low <= price.high && price.high <= 100_000.0) {
            let (path, value) = (format!("materials[{n}].price_per_kg"), range(price.low, price.high));
            let rule = "the low price must be at least 0 and not above the high one".into();
            return Err(self.wrong("price_per_kg", n, path, value, rule));
        }
        Ok(())
    }

    /// `n` is how many fields of that name come before in the file.
    fn wrong(&self, key: &str, n: usize, field: String, value: String, rule: String) -> Error {
        let quoted = format!("\"{key}\"");
        let line = self
            .text
            .match_indices(&quoted)
            .filter(|(at, _)| self.text[at + quoted.len()..].trim_start().starts_with(':'))
            .nth(n)
            .map_or(1, |(at, _)| 1 + self.text[..at].matches('\n').count());
        Error::OutOfRange { name: self.name.into(), line, field, value, rule }
    }
}

/// A refused number with one decimal, or three where it is less than one, as ratios are.
fn told(value: f64, least: f64, most: f64) -> String {
    plain_json::outside(value, least, most, if value.abs() < 1.0 { 3 } else { 1 })
}

fn range(low: f64, high: f64) -> String {
    let [low, high] = [low, high].map(|x| plain_json::number(&x.to_string()));
    format!("{low} to {high}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_three_families_are_built_in_in_their_order_of_stiffness() {
        let read = Materials::built_in();
        let families: Vec<_> = read.materials.iter().map(|m| m.family).collect();
        assert_eq!(families, [Family::Rigid, Family::SemiRigid, Family::Flexible]);
        // Moduli of printed bars: PLA above PETG, and TPU of this hardness 20 to 100 times softer: moulded kinds have 41 MPa at
        // 90A and 138 at about 98A (makers' sheets by ASTM D790), PLA 2400 to 2900 (revmaterialeplastice.ro 11509).
        let e: Vec<f64> = read.materials.iter().map(|m| m.modulus_mpa.value).collect();
        assert!(e[0] > e[1] && (20.0..=100.0).contains(&(e[0] / e[2])), "{e:?}");
        assert!((41.0..=138.0).contains(&e[2]));
    }

    #[test]
    fn an_edited_file_is_read_from_disk() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("mine.json");
        std::fs::write(&path, BUILT_IN.replace("\"value\": 1.24", "\"value\": 1.25")).unwrap();
        let read = Materials::load(Some(&path)).unwrap();
        assert_eq!(read.materials[0].density_g_per_cm3.value, 1.25);
        let missing = Materials::load(Some(&folder.path().join("none.json"))).unwrap_err().to_string();
        assert!(missing.contains("none.json"), "{missing}");
    }

    fn line_of(text: &str, what: &str) -> usize {
        1 + text[..text.find(what).unwrap()].matches('\n').count()
    }

    #[test]
    fn a_wrong_value_is_refused_with_its_line_and_field() {
        let text = BUILT_IN.replace("\"value\": 1.27", "\"value\": 1270");
        let said = Materials::parse(&text, "mine.json").unwrap_err().to_string();
        let line = line_of(&text, "1270");
        assert!(
            said.starts_with(&format!("mine.json, line {line}: materials[1].density_g_per_cm3.value is 1270")),
            "{said}"
        );
    }

    #[test]
    fn numbers_are_told_with_few_decimals() {
        let said = |from: &str, to: &str| {
            let text = BUILT_IN.replacen(from, to, 1);
            assert_ne!(text, BUILT_IN, "{from}");
            Materials::parse(&text, "mine.json").unwrap_err().to_string()
        };
        let range = said("1.24, \"range\": [1.22, 1.26]", "1.24, \"range\": [16.642496948242187, 17.5]");
        assert!(range.contains("range is 16.6 to 17.5; the value 1.2 must lie inside the range"), "{range}");
        let density = said("\"value\": 1.24", "\"value\": 16.642496948242187");
        assert!(density.contains("density_g_per_cm3.value is 16.7; it must be between 0.2 and 3"), "{density}");
        let tiny = said("\"value\": 1.24", "\"value\": 0.1999123456789");
        assert!(tiny.contains("value is 0.199; it must"), "{tiny}");
    }

    /// The third material has no notched impact, so that the field's places in the file and materials differ.
    #[test]
    fn a_wrong_value_that_others_leave_out_is_found_in_its_line() {
        let first = BUILT_IN.find("\"notched_impact_kj_per_m2\"").unwrap();
        let without =
            format!("{}{}", &BUILT_IN[..first], &BUILT_IN[BUILT_IN[first..].find('\n').unwrap() + first + 1..]);
        let text = without
            .replace("\"notched_impact_kj_per_m2\": { \"value\": 4", "\"notched_impact_kj_per_m2\": { \"value\": 4000");
        let said = Materials::parse(&text, "mine.json").unwrap_err().to_string();
        let line = line_of(&text, "4000");
        assert!(
            said.starts_with(&format!("mine.json, line {line}: materials[1].notched_impact_kj_per_m2.value")),
            "{said}"
        );
    }

    #[test]
    fn a_missing_unknown_or_mistyped_field_is_refused_with_its_line_and_field() {
        for (from, to, field) in [
            (
                "\"modulus_mpa\": { \"value\": 1900",
                "\"modulus_mpa\": { \"value\": \"stiff\"",
                "materials[1].modulus_mpa.value",
            ),
            (
                "\"modulus_mpa\": { \"value\": 1900, \"range\": [1470",
                "\"modulus_mpa\": { \"range\": [1470",
                "materials[1].modulus_mpa",
            ),
            ("\"softening_c\": { \"value\": 68", "\"melting_c\": { \"value\": 68", "materials[1].melting_c"),
        ] {
            let text = BUILT_IN.replace(from, to);
            let said = Materials::parse(&text, "mine.json").unwrap_err().to_string();
            let line = line_of(&text, to);
            assert!(said.contains(&format!("line {line},")) && said.contains(field), "{said}");
        }
        assert!(Materials::parse(&BUILT_IN[..400], "m").unwrap_err().to_string().contains("line 3"));
        assert!(Materials::parse(&format!("{BUILT_IN} x"), "m").is_err());
        assert!(Materials::parse(&BUILT_IN.replace("\"version\": 1", "\"version\": 2"), "m").is_err());
    }
}
