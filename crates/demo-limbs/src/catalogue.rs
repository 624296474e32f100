//! The demo scans: which limb, how it was scanned and in what format it is written.

use crate::limbs::{ankle, forearm, ribs, shin, shoulder, wrist};
use crate::model::Model;
use crate::profile::Tube;
use crate::sizes::{FOREARM_CIRCUMFERENCE, FOREARM_LENGTH, WRIST_CIRCUMFERENCE};

/// How a scan is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Binary PLY, little-endian, with vertex colours.
    PlyLittle,
    /// Binary PLY, big-endian, with vertex colours.
    PlyBig,
    /// OBJ with a material and a PNG texture.
    ObjTextured,
    /// Binary STL: no colours at all.
    Stl,
}

/// What the line was drawn with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Blue-black felt pen.
    Dark,
    /// White skin pencil, for dark skin.
    Light,
    /// No line.
    None,
}

/// One demo scan.
#[derive(Debug, Clone, PartialEq)]
pub struct DemoLimb {
    /// File name: body site and squad number.
    pub file: &'static str,
    /// Body site, in the words of the design file.
    pub site: &'static str,
    /// Side of the body: `left` or `right`.
    pub side: &'static str,
    /// The athlete's number in the squad of Tern Harbour.
    pub squad_number: u32,
    /// How it is written.
    pub format: Format,
    /// What the line was drawn with.
    pub ink: Ink,
    /// Skin colour, sRGB.
    pub tone: [f64; 3],
    /// Millimetres in one unit of the file.
    pub unit_mm: f64,
    /// Distance between scanned points, mm.
    pub step_mm: f64,
    /// Standard deviation of the scanner's noise along the normal, mm.
    pub noise_mm: f64,
    /// How many holes.
    pub holes: usize,
    /// How many loose bits.
    pub bits: usize,
    /// Seed of all randomness.
    pub seed: u64,
}

/// The limbs of Tern Harbour.
#[must_use]
pub fn catalogue() -> Vec<DemoLimb> {
    let base = DemoLimb {
        file: "forearm-07.ply",
        site: "forearm",
        side: "left",
        squad_number: 7,
        format: Format::PlyLittle,
        ink: Ink::Dark,
        tone: [226.0, 180.0, 154.0],
        unit_mm: 1.0,
        step_mm: 1.45,
        noise_mm: 0.2,
        holes: 4,
        bits: 6,
        seed: 7007,
    };
    let second_arm = DemoLimb {
        file: "forearm-16.stl",
        side: "right",
        squad_number: 16,
        format: Format::Stl,
        ink: Ink::None,
        step_mm: 2.4,
        noise_mm: 0.15,
        holes: 3,
        bits: 4,
        seed: 16_016,
        ..base.clone()
    };
    let mut all = vec![base.clone()];
    all.extend(hand_and_shoulder(&base));
    all.extend(trunk_and_leg(&base));
    all.push(second_arm);
    all
}

fn hand_and_shoulder(base: &DemoLimb) -> [DemoLimb; 2] {
    [
        DemoLimb {
            file: "wrist-12.ply",
            site: "wrist",
            side: "right",
            squad_number: 12,
            tone: [198.0, 145.0, 112.0],
            step_mm: 1.4,
            noise_mm: 0.15,
            holes: 5,
            seed: 12_012,
            ..base.clone()
        },
        DemoLimb {
            file: "shoulder-19.ply",
            site: "shoulder",
            side: "right",
            squad_number: 19,
            format: Format::PlyBig,
            ink: Ink::Light,
            tone: [92.0, 60.0, 46.0],
            unit_mm: 1000.0,
            step_mm: 1.75,
            noise_mm: 0.25,
            holes: 6,
            bits: 9,
            seed: 19_019,
        },
    ]
}

fn trunk_and_leg(base: &DemoLimb) -> [DemoLimb; 3] {
    [
        DemoLimb {
            file: "ribs-04.ply",
            site: "ribs",
            side: "left",
            squad_number: 4,
            tone: [214.0, 168.0, 134.0],
            step_mm: 1.75,
            noise_mm: 0.3,
            holes: 5,
            bits: 8,
            seed: 4004,
            ..base.clone()
        },
        DemoLimb {
            file: "shin-23.obj",
            site: "shin",
            side: "left",
            squad_number: 23,
            format: Format::ObjTextured,
            tone: [232.0, 190.0, 168.0],
            step_mm: 2.05,
            noise_mm: 0.2,
            seed: 23_023,
            ..base.clone()
        },
        DemoLimb {
            file: "ankle-31.ply",
            site: "ankle",
            side: "right",
            squad_number: 31,
            tone: [164.0, 112.0, 82.0],
            unit_mm: 10.0,
            step_mm: 1.6,
            noise_mm: 0.2,
            holes: 6,
            bits: 7,
            seed: 31_031,
            ..base.clone()
        },
    ]
}

/// A limb before it is scanned; it is mirrored where a scan needs the other side.
pub(crate) struct Sitter {
    pub model: Model,
    /// The model's own side of the body.
    pub side: &'static str,
    /// For a texture: the trunk around which the skin is unrolled.
    pub trunk: Option<Tube>,
}

impl DemoLimb {
    pub(crate) fn sitter(&self) -> Sitter {
        let plain = |model, side| Sitter { model, side, trunk: None };
        match self.site {
            "wrist" => plain(wrist::wrist(), "right"),
            "shoulder" => plain(shoulder::shoulder(), "left"),
            "ribs" => plain(ribs::ribs(), "left"),
            "ankle" => plain(ankle::ankle(), "right"),
            "shin" => {
                let (model, trunk) = shin::shin();
                Sitter { model, side: "left", trunk: Some(trunk) }
            }
            _ => {
                // A median arm for one athlete, a strong one (about the 80th percentile) for the other.
                let share = if self.squad_number == 7 { 0.48 } else { 0.78 };
                plain(forearm::forearm(WRIST_CIRCUMFERENCE, FOREARM_CIRCUMFERENCE, FOREARM_LENGTH, share), "left")
            }
        }
    }
}
