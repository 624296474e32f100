//! What comes with the program about what is under a guard and what strikes it: foams, soft tissue, blows, each with its
//! source.

use serde::{Deserialize, Serialize};

use crate::Status;
use crate::foam::{FoamCurve, Tissue};
use crate::striker::{Blow, Face, Striker};

/// A foam that guards are lined with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Foam {
    /// What kind it is.
    pub name: String,
    /// Its density, kg/m³.
    pub density_kg_per_m3: f64,
    /// Thicknesses that it is sold in, mm.
    pub thicknesses_mm: Vec<f64>,
    /// How it gives under a hand or a strap.
    pub slow: SourcedCurve,
    /// How it gives in a blow.
    pub blow: SourcedCurve,
}

/// A curve with where it comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SourcedCurve {
    /// See [`FoamCurve`].
    pub young_mpa: f64,
    /// See [`FoamCurve`].
    pub collapse_mpa: f64,
    /// See [`FoamCurve`].
    pub air_mpa: f64,
    /// See [`FoamCurve`].
    pub solid_share: f64,
    /// The share by which stresses can be higher or lower.
    pub spread: f64,
    /// How far it can be trusted.
    pub status: Status,
    /// Where it comes from.
    pub source: String,
}

impl SourcedCurve {
    /// The curve, its stresses so many times as high.
    #[must_use]
    pub fn times(&self, factor: f64) -> FoamCurve {
        FoamCurve {
            young_mpa: factor * self.young_mpa,
            collapse_mpa: factor * self.collapse_mpa,
            air_mpa: factor * self.air_mpa,
            solid_share: self.solid_share,
        }
    }
}

/// Soft tissue over bone at one place of the body.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SourcedTissue {
    /// The body site, by its name in design files.
    pub site: String,
    /// Where there.
    pub place: String,
    /// Depth to the bone, mm.
    pub depth_mm: f64,
    /// The least and the greatest usual depth, mm.
    pub depth_range_mm: [f64; 2],
    /// Its modulus under a hand or a strap, MPa.
    pub slow_mpa: f64,
    /// Its modulus in a blow, MPa.
    pub blow_mpa: f64,
    /// How far it can be trusted.
    pub status: Status,
    /// Where it comes from.
    pub source: String,
}

impl SourcedTissue {
    /// How it gives under a hand or a strap.
    #[must_use]
    pub fn slow(&self) -> Tissue {
        Tissue { young_mpa: self.slow_mpa, thickness_mm: self.depth_mm }
    }

    /// How it gives in a blow.
    #[must_use]
    pub fn blow(&self) -> Tissue {
        Tissue { young_mpa: self.blow_mpa, thickness_mm: self.depth_mm }
    }
}

/// A ready-made blow.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SourcedBlow {
    /// What it is called.
    pub name: String,
    /// The standard whose striker it borrows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after: Option<String>,
    /// Mass, kg.
    pub mass_kg: f64,
    /// Speed, m/s.
    pub speed_m_per_s: f64,
    /// Whether it falls, and goes on falling while it is stopped.
    pub falls: bool,
    /// Its face.
    pub face: Face,
    /// How much the striker itself gives, MPa for each millimetre; not at all where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pad_mpa_per_mm: Option<f64>,
    /// How far it can be trusted.
    pub status: Status,
    /// Where it comes from.
    pub source: String,
}

impl SourcedBlow {
    /// The blow.
    #[must_use]
    pub fn blow(&self) -> Blow {
        Blow {
            striker: Striker { mass_kg: self.mass_kg, speed_m_per_s: self.speed_m_per_s },
            face: self.face,
            falls: self.falls,
            pad_mpa_per_mm: self.pad_mpa_per_mm.unwrap_or(f64::INFINITY),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FoamFile {
    #[allow(dead_code)]
    version: u32,
    #[allow(dead_code)]
    about: String,
    foams: Vec<Foam>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TissueFile {
    #[allow(dead_code)]
    version: u32,
    #[allow(dead_code)]
    about: String,
    tissues: Vec<SourcedTissue>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BlowFile {
    #[allow(dead_code)]
    version: u32,
    #[allow(dead_code)]
    about: String,
    blows: Vec<SourcedBlow>,
}

/// The foams that come with the program, `assets/foams.json`, the usual one first.
#[must_use]
pub fn foams() -> Vec<Foam> {
    let read: FoamFile = built_in(include_str!("../../../assets/foams.json"));
    read.foams
}

/// Soft tissue by place, `assets/tissues.json`.
#[must_use]
pub fn tissues() -> Vec<SourcedTissue> {
    let read: TissueFile = built_in(include_str!("../../../assets/tissues.json"));
    read.tissues
}

/// The ready-made blows, `assets/blows.json`, the usual one first.
#[must_use]
pub fn blows() -> Vec<SourcedBlow> {
    let read: BlowFile = built_in(include_str!("../../../assets/blows.json"));
    read.blows
}

fn built_in<T: for<'a> Deserialize<'a>>(text: &str) -> T {
    serde_json::from_str(text).expect("the files that come with the program are checked by the tests")
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    fn foam(name: &str) -> Foam {
        foams().into_iter().find(|foam| foam.name.starts_with(name)).unwrap()
    }

    /// One maker's sheet after ISO 3386-1, and a curve of NIST (doi.org/10.18126/6h74-leb4): kPa at strains.
    #[test]
    fn foams_meet_published_curves() {
        let [polyethylene, nitrile] = ["polyethylene", "nitrile"].map(|name| foam(name).slow.times(1.0));
        for (strain, kilopascal) in [(0.25, 40.0), (0.4, 75.0), (0.5, 115.0), (0.6, 175.0)] {
            assert_relative_eq!(1e3 * polyethylene.stress_mpa(strain), kilopascal, max_relative = 0.03);
        }
        let nist = [(0.02, 14.3), (0.05, 21.9), (0.1, 30.2), (0.15, 37.5), (0.2, 45.9), (0.25, 57.3), (0.3, 72.2)];
        let further = [(0.35, 91.6), (0.4, 118.1), (0.45, 153.2), (0.495, 194.5)];
        for (strain, kilopascal) in nist.into_iter().chain(further) {
            assert_relative_eq!(1e3 * nitrile.stress_mpa(strain), kilopascal, max_relative = 0.05);
        }
    }

    /// Between 10 and 60 % a blow meets no less than a slow push does, and a foam of more density more than the same of less.
    #[test]
    fn foams_are_stiffer_in_a_blow_and_where_they_are_denser() {
        for strain in [0.1, 0.25, 0.4, 0.6] {
            for foam in foams() {
                let [slow, blow] = [&foam.slow, &foam.blow].map(|curve| curve.times(1.0).stress_mpa(strain));
                assert!(blow > slow, "{} at {strain}: {blow} against {slow}", foam.name);
            }
            let [soft, firm] = ["EVA, soft", "EVA, firm"].map(|name| foam(name).blow.times(1.0).stress_mpa(strain));
            assert!(firm > soft);
        }
    }

    #[test]
    fn each_site_has_its_tissue_and_each_blow_its_energy() {
        for site in ["forearm", "wrist", "shoulder", "ribs", "thigh", "shin", "ankle", "other"] {
            let tissue = tissues().into_iter().find(|tissue| tissue.site == site).unwrap();
            let [least, most] = tissue.depth_range_mm;
            assert!(least <= tissue.depth_mm && tissue.depth_mm <= most && tissue.slow_mpa <= tissue.blow_mpa);
        }
        for blow in blows() {
            // Where the name tells the energy, mass and speed agree.
            let Some(joule) =
                blow.name.strip_suffix(" J").and_then(|name| name.rsplit(' ').next()?.parse::<f64>().ok())
            else {
                continue;
            };
            assert_relative_eq!(blow.blow().striker.energy_j(), joule, max_relative = 0.01);
        }
    }
}
