//! A guard in one material as it is worn, ready to be struck anywhere: what does not depend on the blow is done once.

use mesh::{Cancelled, Job, Surface};
use nalgebra::{Vector3, Vector6};
use serde::Serialize;

use crate::bare::{Bare, pressed_areas, struck_bare};
use crate::bent::{Springing, springing, stiffness};
use crate::blow::{BlowError, Stopped, Strike, stopped};
use crate::contact::{BALANCED, Bed, ContactError};
use crate::elements::SolveError;
use crate::foam::{FoamCurve, Layers, Tissue};
use crate::strength::{FaceStress, Strength, stresses};
use crate::striker::{Blow, Line};
use crate::surroundings::{Foam, SourcedTissue};
use crate::worn::{Built, Liner, StrapEnd, Under, Worn};
use crate::{Material, Sourced};

/// What a guard is worn on, and how it is printed.
#[derive(Debug, Clone, Copy)]
pub struct Setting<'a> {
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
    /// The way in which the layers of the print lie on each other, a unit vector.
    pub layers: Vector3<f64>,
}

/// A blow and where it strikes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Aimed {
    /// The blow.
    pub blow: Blow,
    /// The line along which it comes.
    pub line: Line,
}

/// The push of a hand, N: a firm one (113 (19) N, Hum. Factors 50 (2008) 227, table 2).
pub const HAND_N: f64 = 100.0;
/// It is spread over a heel of a hand, mm across: 30 cm², from memory.
const HAND_MM: f64 = 62.0;
/// Tissue may be so many times softer or stiffer.
const TISSUE_SPREAD: f64 = 2.0;

/// Which values of what is known are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The usual ones.
    Usual,
    /// The softest and weakest.
    Softest,
    /// The stiffest and strongest.
    Stiffest,
}

impl End {
    fn of(self, sourced: &Sourced) -> f64 {
        match self {
            Self::Usual => sourced.value,
            Self::Softest => sourced.range[0],
            Self::Stiffest => sourced.range[1],
        }
    }

    fn ratio(self, sourced: Option<&Sourced>) -> f64 {
        sourced.map_or(1.0, |sourced| self.of(sourced))
    }

    fn times(self, spread: f64) -> f64 {
        1.0 + spread * f64::from(self.side())
    }

    fn side(self) -> i8 {
        match self {
            Self::Usual => 0,
            Self::Softest => -1,
            Self::Stiffest => 1,
        }
    }
}

impl Setting<'_> {
    fn foam(&self, end: End, slow: bool) -> FoamCurve {
        let sourced = if slow { &self.foam.slow } else { &self.foam.blow };
        sourced.times(end.times(sourced.spread))
    }

    fn tissue(&self, end: End, slow: bool) -> Option<Tissue> {
        self.tissue
            .map(|tissue| if slow { tissue.slow() } else { tissue.blow() })
            .map(|tissue| Tissue { young_mpa: tissue.young_mpa * TISSUE_SPREAD.powi(i32::from(end.side())), ..tissue })
    }

    fn under(&self, end: End, slow: bool, straps: Vec<StrapEnd>) -> Under {
        let liner = Liner { foam: self.foam(end, slow), thickness_mm: self.foam_mm };
        Under { liner, tissue: self.tissue(end, slow), straps }
    }

    /// A blow without a guard.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn without(&self, skin: &Surface, aimed: &Aimed, job: &Job) -> Result<Without, Cancelled> {
        let tissue = self.tissue(End::Usual, false);
        let layers = Bed::Layers(Layers { foam: self.foam(End::Usual, false), foam_mm: self.foam_mm, under: tissue });
        let bare = |bed: &Bed, height: f64| struck_bare(skin, bed, height, &aimed.line, &aimed.blow, job);
        Ok(Without {
            foam_alone: bare(&layers, self.foam_mm)?,
            bare_skin: tissue.map(|tissue| bare(&Bed::Tissue(tissue), 0.0)).transpose()?.flatten(),
        })
    }
}

/// The blow without a guard.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Without {
    /// On the liner alone; nothing where it passes by.
    pub foam_alone: Option<Bare>,
    /// On bare skin; nothing on a rig.
    pub bare_skin: Option<Bare>,
}

/// A guard in one material, on its liner and on the limb, its straps tightened.
#[derive(Debug, Clone)]
pub struct Ready {
    /// As it gives when it is pushed slowly.
    slow: Worn,
    /// As it gives in a blow.
    fast: Worn,
    /// What it bears in a blow.
    strength: Strength,
    splint: Splint,
}

/// What does not depend on a blow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Splint {
    /// Moments that bend it by a degree as a joint under it bends, sideways, and twist it, N·m.
    pub bends_n_m_per_deg: [f64; 3],
    /// What it takes to spring it over the limb; nothing where it has no two sides, and only with the usual values.
    pub springing: Option<Springing>,
    /// How many times as hard straps could pull as the wall behind them is to hold; nothing without straps, and only with the
    /// usual values.
    pub strap_spare: Option<f64>,
}

/// A guard in one material that was struck.
#[derive(Debug, Clone)]
pub struct Struck {
    /// How far a hand pushes it in, mm.
    pub push_mm: f64,
    /// How the blow was stopped.
    pub stopped: Stopped,
    /// How long that took, s.
    pub time_s: f64,
    /// The greatest pressure on the skin, MPa.
    pub peak_mpa: f64,
    /// Areas of skin pressed with more than 10, 20 and 50 % of that, mm².
    pub areas_mm2: [f64; 3],
    /// How far it is pushed in at most, mm.
    pub dent_mm: f64,
    /// How far it lifts off elsewhere at most, mm.
    pub lift_mm: f64,
    /// What does not depend on the blow.
    pub splint: Splint,
    /// What it looks like then.
    pub maps: Maps,
}

/// What the guard looks like at the moment of the greatest force, node by node and triangle by triangle.
#[derive(Debug, Clone)]
pub struct Maps {
    /// How far each node is pushed in, mm; negative where it lifts off.
    pub dent_mm: Vec<f64>,
    /// Pressure on the skin below each node, MPa.
    pub pressure_mpa: Vec<f64>,
    /// Stresses in each triangle.
    pub stresses: Vec<[[FaceStress; 2]; 3]>,
}

impl Struck {
    /// The place that is nearest to breaking.
    #[must_use]
    pub fn worst(&self) -> FaceStress {
        worst(&self.maps.stresses)
    }
}

impl Ready {
    /// Puts a guard on that is assembled for this material or another of the same Poisson's ratio.
    ///
    /// # Errors
    /// [`AnswerError`].
    pub fn new(
        built: &Built,
        setting: &Setting<'_>,
        material: &Material,
        end: End,
        job: &Job,
    ) -> Result<Self, AnswerError> {
        let young_mpa = end.of(&material.modulus_mpa);
        let slow = built.as_stiff(young_mpa);
        let fast = built.as_stiff(young_mpa * end.ratio(material.blow_modulus_ratio.as_ref()));
        let strength = |faster: f64| Strength {
            along_mpa: end.of(&material.strength_mpa) * faster,
            across_mpa: end.of(&material.strength_mpa) * end.of(&material.across_layers_ratio) * faster,
            bent: material
                .bending_strength_mpa
                .as_ref()
                .map_or(1.0, |sourced| sourced.value / material.strength_mpa.value),
            layers: setting.layers,
        };
        job.step(&format!("putting it on in {}", material.name), 0.0)?;
        let bends = stiffness(&slow.structure(), &slow.shell, &slow.middle.mean_out())?;
        job.check()?;
        let mut splint = Splint {
            bends_n_m_per_deg: [bends.bending_n_mm_per_deg, bends.sideways_n_mm_per_deg, bends.twisting_n_mm_per_deg]
                .map(|moment| 1e-3 * moment),
            springing: None,
            strap_spare: None,
        };
        if end == End::Usual {
            splint.springing = springing(&slow)?;
            splint.strap_spare = straps_spare(&slow, setting, &strength(1.0), job)?;
        }
        let worn = |built: Built, slow: bool| Worn::new(built, &setting.under(end, slow, setting.straps.to_vec()), job);
        let in_blow = end.ratio(material.blow_strength_ratio.as_ref());
        Ok(Self { slow: worn(slow, true)?, fast: worn(fast, false)?, strength: strength(in_blow), splint })
    }

    /// Strikes it.
    ///
    /// # Errors
    /// [`AnswerError`].
    pub fn struck(&self, aimed: &Aimed, job: &Job) -> Result<Struck, AnswerError> {
        let push_mm = self.pushed(&aimed.line, job)?;
        job.check()?;
        let (worn, Built { middle, plastic, .. }) = (&self.fast, self.fast.built());
        let face = worn.met(&aimed.line, &aimed.blow);
        let strike = Strike { face: &face, striker: aimed.blow.striker, falls: aimed.blow.falls };
        let stopped = stopped(&worn.laid(), &strike, worn.before(), job)?;
        let at_rest = &stopped.pressed.at_rest;
        let stresses = stresses(middle, plastic, &self.strength, &at_rest.moved, job)?;
        let on_skin = at_rest.pressure_mpa.iter().copied().zip(worn.skin_areas_mm2());
        let (peak_mpa, areas_mm2) = pressed_areas(&on_skin.collect::<Vec<_>>());
        let in_by = |v: usize| -middle.out(v).dot(&(at_rest.moved[v] - worn.before().moved[v]).fixed_rows::<3>(0));
        let dent_mm: Vec<f64> = (0..middle.points.len()).map(in_by).collect();
        let (lift, most) = dent_mm.iter().fold((0.0_f64, 0.0_f64), |(low, high), way| (low.min(*way), high.max(*way)));
        let pressure_mpa = at_rest.pressure_mpa[..middle.points.len()].to_vec();
        Ok(Struck {
            push_mm,
            time_s: stopped.time_s(&strike),
            peak_mpa,
            areas_mm2,
            dent_mm: most,
            lift_mm: -lift,
            splint: self.splint,
            maps: Maps { dent_mm, pressure_mpa, stresses },
            stopped,
        })
    }

    /// How far a hand pushes it in, mm.
    fn pushed(&self, line: &Line, job: &Job) -> Result<f64, AnswerError> {
        let worn = &self.slow;
        let shares = worn.shares(line, HAND_MM);
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

/// How many times as hard straps could pull as the wall behind them is to hold.
fn straps_spare(
    slow: &Built,
    setting: &Setting<'_>,
    strength: &Strength,
    job: &Job,
) -> Result<Option<f64>, AnswerError> {
    if setting.straps.is_empty() {
        return Ok(None);
    }
    let pull = |strap: &StrapEnd| StrapEnd { tension_n: setting.strap_pull_n, ..*strap };
    let under = setting.under(End::Usual, true, setting.straps.iter().map(pull).collect());
    let pulled = Worn::new(slow.clone(), &under, job)?;
    let stressed = stresses(&slow.middle, &slow.plastic, strength, &pulled.before().moved, job)?;
    Ok(Some(1.0 / worst(&stressed).share().max(1e-9)))
}

/// The place that is nearest to breaking.
fn worst(stresses: &[[[FaceStress; 2]; 3]]) -> FaceStress {
    let all = stresses.as_flattened().as_flattened();
    all.iter().copied().max_by(|a, b| a.share().total_cmp(&b.share())).unwrap_or_default()
}

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
