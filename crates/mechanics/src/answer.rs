//! What one guard comes to in one material: under a hand, in a blow, and as a splint, with how far the data leave it open.
//!
//! These are comparisons between designs on a model of a limb, no promise and no certificate.

use serde::Serialize;

use crate::ready::{Splint, Struck};
use crate::{Family, Material};

/// A figure, and how far the data leave it open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Ranged {
    /// With the usual values.
    pub value: f64,
    /// The least that softer and stiffer values give.
    pub low: f64,
    /// The most.
    pub high: f64,
}

impl Ranged {
    fn of(value: f64, ends: impl Iterator<Item = f64> + Clone) -> Self {
        Self { value, low: ends.clone().fold(value, f64::min), high: ends.fold(value, f64::max) }
    }
}

/// What is weaker at the place that breaks first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Weak {
    /// The plastic along its layers.
    AlongLayers,
    /// Layers part.
    AcrossLayers,
}

/// A guard in one material.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// Its family.
    pub family: Family,
    /// Its name.
    pub name: String,
    /// How far it gives under a hand that pushes with [`HAND_N`](crate::ready::HAND_N) where the blow strikes, with what is under it, mm.
    pub push_mm: Ranged,
    /// The greatest force of the blow, N.
    pub force_n: Ranged,
    /// How long it took to that, ms.
    pub time_ms: f64,
    /// The greatest pressure on the skin, kPa.
    pub peak_kpa: Ranged,
    /// Areas of skin pressed with more than 10, 20 and 50 % of that, mm².
    pub areas_mm2: [f64; 3],
    /// How far the guard is pushed in at most, mm.
    pub dent_mm: Ranged,
    /// How far it lifts off elsewhere at most, mm.
    pub lift_mm: f64,
    /// How many times as hard it could be stressed until it breaks: less than one where the blow breaks it.
    pub spare: Ranged,
    /// What breaks first.
    pub weak: Weak,
    /// Where, mm.
    pub weakest_mm: [f64; 3],
    /// The stress there (von Mises), MPa.
    pub stress_mpa: f64,
    /// The same for straps that pull with what the wall behind them is to hold; nothing without straps.
    pub strap_spare: Option<f64>,
    /// Moment that bends it by a degree as a joint under it bends, N·m.
    pub bending_n_m_per_deg: Ranged,
    /// Moment that bends it sideways by a degree, N·m.
    pub sideways_n_m_per_deg: f64,
    /// Moment that twists it by a degree, N·m.
    pub twisting_n_m_per_deg: f64,
    /// What it takes to spring it over the limb; nothing where it has no two sides.
    pub springing: Option<SpringOn>,
}

/// What it takes to spring a guard over the limb.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SpringOn {
    /// By how much its sides come further apart, mm; 0 where it lies on without.
    pub opening_mm: f64,
    /// The force on each side, N.
    pub force_n: f64,
    /// The greatest strain, per cent.
    pub strain_percent: f64,
    /// How many times that its strain at break is, where that is known.
    pub spare: Option<f64>,
}

impl Answer {
    /// The answer for a guard that was struck with the usual values of its material, and with those at the ends of their ranges
    /// where that was done.
    #[must_use]
    pub fn of(material: &Material, usual: &Struck, ends: &[&Struck]) -> Self {
        let all = |of: fn(&Struck) -> f64| Ranged::of(of(usual), ends.iter().map(|end| of(end)));
        let worst = usual.worst();
        let Splint { bends_n_m_per_deg, springing, strap_spare } = usual.splint;
        let strain = material.strain_at_break_percent.as_ref().map(|sourced| sourced.value);
        Self {
            family: material.family,
            name: material.name.clone(),
            push_mm: all(|struck| struck.push_mm),
            force_n: all(|struck| struck.stopped.pressed.force_n),
            time_ms: 1e3 * usual.time_s,
            peak_kpa: all(|struck| 1e3 * struck.peak_mpa),
            areas_mm2: usual.areas_mm2,
            dent_mm: all(|struck| struck.dent_mm),
            lift_mm: usual.lift_mm,
            spare: all(|struck| 1.0 / struck.worst().share().max(1e-9)),
            weak: if worst.across > worst.along { Weak::AcrossLayers } else { Weak::AlongLayers },
            weakest_mm: [worst.at.x, worst.at.y, worst.at.z],
            stress_mpa: worst.von_mises_mpa,
            strap_spare,
            bending_n_m_per_deg: all(|struck| struck.splint.bends_n_m_per_deg[0]),
            sideways_n_m_per_deg: bends_n_m_per_deg[1],
            twisting_n_m_per_deg: bends_n_m_per_deg[2],
            springing: springing.map(|on| SpringOn {
                opening_mm: on.opening_mm,
                force_n: on.force_n,
                strain_percent: 100.0 * on.strain,
                spare: strain.filter(|_| on.strain > 0.0).map(|strain| strain / (100.0 * on.strain)),
            }),
        }
    }
}
