//! What one guard comes to in one material: under a hand, in a blow, and as a splint, with how far the data leave it open.
//!
//! These are comparisons between designs on a model of a limb, no promise and no certificate.

use mesh::{Cancelled, Job, Surface};
use nalgebra::{Point3, Vector3, Vector6};
use serde::Serialize;

use crate::bare::{Bare, pressed_areas, struck_bare};
use crate::bent::{Springing, springing, stiffness};
use crate::blow::{BlowError, Stopped, Strike, stopped};
use crate::contact::{BALANCED, Bed, ContactError};
use crate::elements::SolveError;
use crate::foam::{FoamCurve, Layers, Tissue};
use crate::mid_surface::MidSurface;
use crate::strength::{FaceStress, Plastic, Strength, stresses};
use crate::striker::{Blow, Line};
use crate::surroundings::{Foam, SourcedTissue};
use crate::worn::{Liner, StrapEnd, Under, Worn};
use crate::{Family, Material, Sourced};

/// What is asked of a guard.
#[derive(Debug, Clone)]
pub struct Asked<'a> {
    /// The guard.
    pub middle: &'a MidSurface,
    /// The skin that it stands on.
    pub skin: &'a Surface,
    /// Its liner.
    pub foam: &'a Foam,
    /// How thick that is, mm.
    pub foam_mm: f64,
    /// What is under it; nothing where that is as hard as a rig.
    pub tissue: Option<&'a SourcedTissue>,
    /// Its straps, tightened as they are worn.
    pub straps: &'a [StrapEnd],
    /// The pull that the wall behind each strap is to hold, N.
    pub strap_pull_n: f64,
    /// The blow.
    pub blow: Blow,
    /// Where it strikes: the nearest place of the guard, square to it, mm.
    pub at_mm: Point3<f64>,
    /// The way in which the layers of the print lie on each other, a unit vector.
    pub layers: Vector3<f64>,
}

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
    fn of(all: &[f64]) -> Self {
        let low = all.iter().copied().fold(f64::INFINITY, f64::min);
        Self { value: all[0], low, high: all.iter().copied().fold(f64::NEG_INFINITY, f64::max) }
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
    /// How far it gives under a hand that pushes with [`HAND_N`] where the blow strikes, with what is under it, mm.
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

/// What the guard looks like at the moment of the greatest force, node by node and triangle by triangle.
#[derive(Debug, Clone)]
pub struct Maps {
    /// Displacements, mm, and rotations, rad.
    pub moved: Vec<Vector6<f64>>,
    /// Pressure on the skin below each node, MPa.
    pub pressure_mpa: Vec<f64>,
    /// Stresses in each triangle.
    pub stresses: Vec<[[FaceStress; 2]; 3]>,
}

/// The blow without a guard.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Without {
    /// On the liner alone; nothing where it passes by.
    pub foam_alone: Option<Bare>,
    /// On bare skin; nothing on a rig.
    pub bare_skin: Option<Bare>,
}

/// The push of a hand, N: a firm one (113 (19) N, Hum. Factors 50 (2008) 227, table 2).
pub const HAND_N: f64 = 100.0;
/// It is spread over a heel of a hand, mm across: 30 cm², from memory.
const HAND_MM: f64 = 62.0;
/// Tissue may be so many times softer or stiffer.
const TISSUE_SPREAD: f64 = 2.0;

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AnswerError {
    /// The blow cannot be told.
    #[error(transparent)]
    Blow(#[from] BlowError),
    /// The place is not on the guard.
    #[error("the guard has no place that could be struck")]
    Nowhere,
}

impl From<ContactError> for AnswerError {
    fn from(error: ContactError) -> Self {
        Self::Blow(error.into())
    }
}

impl From<SolveError> for AnswerError {
    fn from(error: SolveError) -> Self {
        Self::Blow(error.into())
    }
}

impl From<Cancelled> for AnswerError {
    fn from(error: Cancelled) -> Self {
        Self::Blow(ContactError::from(error).into())
    }
}

/// Values at one end of their ranges.
#[derive(Debug, Clone, Copy)]
struct Case {
    /// −1 for the softest and weakest, 0 for the usual, 1 for the stiffest and strongest.
    end: i8,
}

impl Case {
    fn of(self, sourced: &Sourced) -> f64 {
        match self.end {
            -1 => sourced.range[0],
            1 => sourced.range[1],
            _ => sourced.value,
        }
    }

    fn ratio(self, sourced: Option<&Sourced>) -> f64 {
        sourced.map_or(1.0, |sourced| self.of(sourced))
    }

    fn times(self, spread: f64) -> f64 {
        match self.end {
            -1 => 1.0 - spread,
            1 => 1.0 + spread,
            _ => 1.0,
        }
    }
}

impl Asked<'_> {
    /// The answer for one material, and its maps. With `ranges` it is computed three times: with the usual, the softest and the
    /// stiffest values.
    ///
    /// # Errors
    /// [`AnswerError`].
    pub fn of(&self, material: &Material, ranges: bool, job: &Job) -> Result<(Answer, Maps), AnswerError> {
        let ends: &[i8] = if ranges { &[0, -1, 1] } else { &[0] };
        let mut cases = Vec::with_capacity(ends.len());
        for (n, end) in ends.iter().enumerate() {
            let job = job.part(n as f32 / ends.len() as f32, (n + 1) as f32 / ends.len() as f32);
            cases.push(self.case(material, Case { end: *end }, &job)?);
        }
        let all = |of: fn(&Found) -> f64| Ranged::of(&cases.iter().map(of).collect::<Vec<_>>());
        let usual = &cases[0];
        let worst = usual.worst;
        let strain = material.strain_at_break_percent.as_ref().map(|sourced| sourced.value);
        let answer = Answer {
            family: material.family,
            name: material.name.clone(),
            push_mm: all(|found| found.push_mm),
            force_n: all(|found| found.stopped.pressed.force_n),
            time_ms: 1e3 * usual.time_s,
            peak_kpa: all(|found| 1e3 * found.peak_mpa),
            areas_mm2: usual.areas_mm2,
            dent_mm: all(|found| found.dent_mm),
            lift_mm: usual.lift_mm,
            spare: all(|found| 1.0 / found.worst.share().max(1e-9)),
            weak: if worst.across > worst.along { Weak::AcrossLayers } else { Weak::AlongLayers },
            weakest_mm: [worst.at.x, worst.at.y, worst.at.z],
            stress_mpa: worst.von_mises_mpa,
            strap_spare: usual.strap_spare,
            bending_n_m_per_deg: all(|found| found.bends[0]),
            sideways_n_m_per_deg: usual.bends[1],
            twisting_n_m_per_deg: usual.bends[2],
            springing: usual.springing.map(|on| SpringOn {
                opening_mm: on.opening_mm,
                force_n: on.force_n,
                strain_percent: 100.0 * on.strain,
                spare: strain.filter(|_| on.strain > 0.0).map(|strain| strain / (100.0 * on.strain)),
            }),
        };
        let usual = cases.swap_remove(0);
        let mut pressure_mpa = usual.stopped.pressed.at_rest.pressure_mpa;
        pressure_mpa.truncate(self.middle.points.len());
        let maps = Maps { moved: usual.stopped.pressed.at_rest.moved, pressure_mpa, stresses: usual.stresses };
        Ok((answer, maps))
    }

    /// The blow without a guard.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn without(&self, job: &Job) -> Result<Without, Cancelled> {
        let Some(line) = Line::square_to(self.middle, &self.at_mm) else {
            return Ok(Without { foam_alone: None, bare_skin: None });
        };
        let tissue = self.tissue.map(SourcedTissue::blow);
        let foam = self.foam.blow.times(1.0);
        let layers = Bed::Layers(Layers { foam, foam_mm: self.foam_mm, under: tissue });
        let bare = |bed: &Bed, height: f64| struck_bare(self.skin, bed, height, &line, &self.blow, job);
        Ok(Without {
            foam_alone: bare(&layers, self.foam_mm)?,
            bare_skin: tissue.map(|tissue| bare(&Bed::Tissue(tissue), 0.0)).transpose()?.flatten(),
        })
    }

    fn case(&self, material: &Material, case: Case, job: &Job) -> Result<Found, AnswerError> {
        let slow = Plastic { young_mpa: case.of(&material.modulus_mpa), poisson: material.poisson_ratio.value };
        let faster = case.ratio(material.blow_modulus_ratio.as_ref());
        let fast = Plastic { young_mpa: slow.young_mpa * faster, ..slow };
        let curve = |slow: bool| {
            let sourced = if slow { &self.foam.slow } else { &self.foam.blow };
            sourced.times(case.times(sourced.spread))
        };
        let tissue = |slow: bool| {
            self.tissue.map(|tissue| if slow { tissue.slow() } else { tissue.blow() }).map(|tissue| Tissue {
                young_mpa: tissue.young_mpa * TISSUE_SPREAD.powi(i32::from(case.end)),
                ..tissue
            })
        };
        job.step(&format!("pushing it in {}", material.name), 0.0)?;
        let push_mm = self.pushed(&slow, curve(true), tissue(true), job)?;
        let under = |straps: Vec<StrapEnd>, slow: bool| self.under(curve(slow), tissue(slow), straps);
        let worn = Worn::new(self.middle, &fast, &under(self.straps.to_vec(), false), job)?;
        let line = Line::square_to(self.middle, &self.at_mm).ok_or(AnswerError::Nowhere)?;
        let face = worn.met(&line, &self.blow);
        let strike = Strike { face: &face, striker: self.blow.striker, falls: self.blow.falls };
        job.step(&format!("striking it in {}", material.name), 0.3)?;
        let stopped = stopped(&worn.laid(), &strike, worn.before(), job)?;
        let in_blow = case.ratio(material.blow_strength_ratio.as_ref());
        let strength = |faster: f64| Strength {
            along_mpa: case.of(&material.strength_mpa) * faster,
            across_mpa: case.of(&material.strength_mpa) * case.of(&material.across_layers_ratio) * faster,
            bent: material
                .bending_strength_mpa
                .as_ref()
                .map_or(1.0, |sourced| sourced.value / material.strength_mpa.value),
            layers: self.layers,
        };
        let moved = &stopped.pressed.at_rest.moved;
        let stressed = stresses(self.middle, &fast, &strength(in_blow), moved, job)?;
        let strap_spare = if self.straps.is_empty() || case.end != 0 {
            None
        } else {
            let pull = |strap: &StrapEnd| StrapEnd { tension_n: self.strap_pull_n, ..*strap };
            let pulled = under(self.straps.iter().map(pull).collect(), true);
            let pulled = Worn::new(self.middle, &slow, &pulled, job)?;
            let stressed = stresses(self.middle, &slow, &strength(1.0), &pulled.before().moved, job)?;
            Some(1.0 / worst(&stressed).share().max(1e-9))
        };
        job.step(&format!("bending it in {}", material.name), 0.8)?;
        let bends = stiffness(&self.middle.of(slow.young_mpa, slow.poisson), &self.middle.mean_out())?;
        job.check()?;
        let on_skin = stopped.pressed.at_rest.pressure_mpa.iter().copied().zip(worn.skin_areas_mm2());
        let (peak_mpa, areas_mm2) = pressed_areas(&on_skin.collect::<Vec<_>>());
        let way = |v: usize| self.middle.out(v).dot(&(moved[v] - worn.before().moved[v]).fixed_rows::<3>(0));
        let ways = (0..self.middle.points.len()).map(way);
        let (least, most) = ways.fold((0.0_f64, 0.0_f64), |(low, high), way| (low.min(way), high.max(way)));
        Ok(Found {
            push_mm,
            time_s: stopped.time_s(&strike),
            peak_mpa,
            areas_mm2,
            dent_mm: -least,
            lift_mm: most,
            worst: worst(&stressed),
            stresses: stressed,
            strap_spare,
            bends: [bends.bending_n_mm_per_deg, bends.sideways_n_mm_per_deg, bends.twisting_n_mm_per_deg]
                .map(|moment| 1e-3 * moment),
            springing: if case.end == 0 { springing(self.middle, &slow)? } else { None },
            stopped,
        })
    }

    fn under(&self, foam: FoamCurve, tissue: Option<Tissue>, straps: Vec<StrapEnd>) -> Under {
        Under { liner: Liner { foam, thickness_mm: self.foam_mm }, tissue, straps }
    }

    /// How far a hand pushes it in, mm.
    fn pushed(
        &self,
        plastic: &Plastic,
        foam: FoamCurve,
        tissue: Option<Tissue>,
        job: &Job,
    ) -> Result<f64, AnswerError> {
        let worn = Worn::new(self.middle, plastic, &self.under(foam, tissue, self.straps.to_vec()), job)?;
        let line = Line::square_to(self.middle, &self.at_mm).ok_or(AnswerError::Nowhere)?;
        let shares = worn.shares(&line, HAND_MM);
        let loads: Vec<Vector6<f64>> = shares
            .iter()
            .map(|share| {
                let mut load = Vector6::zeros();
                load.fixed_rows_mut::<3>(0).copy_from(&(line.way.into_inner() * (share * HAND_N)));
                load
            })
            .collect();
        let found = worn.laid().at_rest(&loads, Some(&worn.before().moved), BALANCED, job)?;
        let way = |v: usize| line.way.dot(&(found.moved[v] - worn.before().moved[v]).fixed_rows::<3>(0));
        Ok(shares.iter().enumerate().map(|(v, share)| share * way(v)).sum())
    }
}

/// One case of one material.
struct Found {
    push_mm: f64,
    stopped: Stopped,
    time_s: f64,
    peak_mpa: f64,
    areas_mm2: [f64; 3],
    dent_mm: f64,
    lift_mm: f64,
    worst: FaceStress,
    stresses: Vec<[[FaceStress; 2]; 3]>,
    strap_spare: Option<f64>,
    bends: [f64; 3],
    springing: Option<Springing>,
}

/// The place that is nearest to breaking.
fn worst(stresses: &[[[FaceStress; 2]; 3]]) -> FaceStress {
    let all = stresses.as_flattened().as_flattened();
    all.iter().copied().max_by(|a, b| a.share().total_cmp(&b.share())).unwrap_or_default()
}
