//! A blow: something of a mass and a speed that is stopped by a guard and what the guard lies on.

use mesh::Job;
use nalgebra::Vector6;

use crate::contact::{AtRest, ContactError, Laid};

/// What strikes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Striker {
    /// Its mass, kg.
    pub mass_kg: f64,
    /// Its speed, m/s.
    pub speed_m_per_s: f64,
}

/// Standard acceleration of a falling body, m/s² (ISO 80000-3:2019).
pub const GRAVITY: f64 = 9.806_65;

impl Striker {
    /// What falls from a height, m.
    #[must_use]
    pub fn falling(mass_kg: f64, height_m: f64) -> Self {
        Self { mass_kg, speed_m_per_s: (2.0 * GRAVITY * height_m).sqrt() }
    }

    /// Its energy, J.
    #[must_use]
    pub fn energy_j(&self) -> f64 {
        0.5 * self.mass_kg * self.speed_m_per_s * self.speed_m_per_s
    }
}

/// A guard that stopped a blow, at the moment of the greatest force.
#[derive(Debug, Clone)]
pub struct Stopped {
    /// The greatest force, N.
    pub force_n: f64,
    /// How far the struck place went with the blow, mm.
    pub way_mm: f64,
    /// How the guard lies then.
    pub at_rest: AtRest,
    /// Forces at which it was tried.
    pub tries: usize,
}

/// Why a blow cannot be told.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BlowError {
    /// No balance under one of the forces.
    #[error(transparent)]
    Contact(#[from] ContactError),
    /// What strikes has no energy, or strikes nothing.
    #[error("nothing is struck: the blow has no energy or no place")]
    Nothing,
    /// No force takes up the energy.
    #[error("no force up to {0:.0} N takes up the blow's energy")]
    TooStrong(f64),
}

/// Forces tried at most.
const MOST_TRIES: usize = 30;
/// Energies are as good as equal within this share.
const EQUAL: f64 = 1e-4;
/// No greater force is looked at, N: what is struck so hard is no question for this model.
const MOST_FORCE_N: f64 = 1e6;

/// The blow spent on the guard, as slowly as if it had no mass: the force under which the guard, its liner and what is under them
/// have taken up the striker's energy, and what it gains while it goes on falling if `falls`. `shares` says which share of a unit
/// force goes to which node, in the direction of the blow; they add up to one.
///
/// # Errors
/// [`BlowError`].
pub fn stopped(
    laid: &Laid<'_>,
    shares: &[Vector6<f64>],
    striker: &Striker,
    falls: bool,
    job: &Job,
) -> Result<Stopped, BlowError> {
    let energy = striker.energy_j() * 1e3;
    if !(energy > 0.0 && shares.iter().any(|share| share.norm() > 0.0)) {
        return Err(BlowError::Nothing);
    }
    let weight = if falls { striker.mass_kg * GRAVITY } else { 0.0 };
    let mut from: Option<AtRest> = None;
    let (mut low, mut high) = (0.0_f64, f64::INFINITY);
    let mut force = 100.0_f64;
    for tries in 1..=MOST_TRIES {
        let loads: Vec<Vector6<f64>> = shares.iter().map(|share| share * force).collect();
        let found = laid.at_rest(&loads, from.as_ref().map(|f| &f.moved[..]), job)?;
        let way: f64 = shares.iter().zip(&found.moved).map(|(share, moved)| share.dot(moved)).sum();
        let wanted = energy + weight * way;
        let ratio = found.stored_n_mm / wanted;
        if (ratio - 1.0).abs() < EQUAL {
            return Ok(Stopped { force_n: force, way_mm: way, at_rest: found, tries });
        }
        if ratio < 1.0 {
            low = force;
        } else {
            high = force;
        }
        // In what gives in proportion energy grows with the square of the force.
        let next = force / ratio.sqrt();
        force = if next > low && next < high {
            next
        } else if high.is_finite() {
            0.5 * (low + high)
        } else {
            2.0 * low
        };
        if force > MOST_FORCE_N {
            return Err(BlowError::TooStrong(MOST_FORCE_N));
        }
        from = Some(found);
    }
    Err(BlowError::TooStrong(force))
}
