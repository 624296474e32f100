//! A blow: something of a mass and a speed that is stopped by a guard and what the guard lies on.

use mesh::Job;
use nalgebra::Vector6;

use crate::contact::{AtRest, Bed, ContactError, Laid, Rest};
use crate::striker::{GRAVITY, Striker};

/// What strikes a guard, and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strike<'a> {
    /// A rest for each node that its face can meet: `out` is the way of the blow, and the gap how far it goes until it touches.
    pub face: &'a [Rest],
    /// What strikes.
    pub striker: Striker,
    /// Whether it falls, and goes on falling while it is stopped.
    pub falls: bool,
}

/// A guard pressed in by a face.
#[derive(Debug, Clone)]
pub struct PressedIn {
    /// How far the face went from where it first touched, mm.
    pub way_mm: f64,
    /// The force on it, N.
    pub force_n: f64,
    /// Energy that it gave up, N·mm.
    pub taken_n_mm: f64,
    /// How the guard lies then; its pressures are those of what it rests on, and after them those of the face.
    pub at_rest: AtRest,
}

/// A guard that stopped a blow, at the moment of the greatest force.
#[derive(Debug, Clone)]
pub struct Stopped {
    /// How it is pressed in.
    pub pressed: PressedIn,
    /// How it was pressed in on the way there, and what lay between: ways, mm, forces, N, and energies, N·mm, from the least.
    pub course: Vec<[f64; 3]>,
    /// Ways that were tried.
    pub tries: usize,
    /// Steps that all of them took.
    pub steps: usize,
}

/// Why a blow cannot be told.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BlowError {
    /// No balance on the way.
    #[error(transparent)]
    Contact(#[from] ContactError),
    /// What strikes has no energy, or strikes nothing.
    #[error("nothing is struck: the blow has no energy or passes by")]
    Nothing,
    /// The guard takes up less than the energy.
    #[error("the guard and what is under it do not take up the blow's energy within {0:.0} mm")]
    TooStrong(f64),
}

/// Ways tried at most.
const MOST_TRIES: usize = 30;
/// Energies are as good as equal within this share.
const EQUAL: f64 = 5e-4;
/// Forces balance within this share while the way is sought: what is left of them counts in the energy by its square.
const NEAR_ENOUGH: f64 = 0.02;
/// At the end they balance within this share.
const NEAR: f64 = 1e-4;
/// The way that is tried first, mm.
const FIRST_MM: f64 = 1.0;
/// No further way is looked at, mm: through any limb.
const MOST_MM: f64 = 300.0;
/// From one way to the next at most so many times as far.
const MOST_GROWTH: f64 = 4.0;

impl Strike<'_> {
    /// The guard with the face pressed in by so far from where it first touches, sought from `from` until no more than a
    /// share `near` of the forces is left; `before` is how it lies without the face.
    ///
    /// # Errors
    /// [`ContactError`].
    pub fn by(
        &self,
        laid: &Laid<'_>,
        way_mm: f64,
        before: &AtRest,
        from: &[Vector6<f64>],
        near: f64,
        job: &Job,
    ) -> Result<PressedIn, ContactError> {
        let first = self.first();
        let face = self.face.iter().map(|rest| Rest { gap_mm: rest.gap_mm - first - way_mm, ..*rest });
        let rests: Vec<Rest> = laid.rests.iter().copied().chain(face).collect();
        let at_rest =
            Laid { rests: &rests, ..*laid }.at_rest(&vec![Vector6::zeros(); from.len()], Some(from), near, job)?;
        let pressures = at_rest.pressure_mpa.iter().skip(laid.rests.len());
        let force_n = pressures.zip(self.face).map(|(pressure, rest)| pressure * rest.area_mm2).sum();
        Ok(PressedIn { way_mm, force_n, taken_n_mm: at_rest.stored_n_mm - before.stored_n_mm, at_rest })
    }

    /// What pulls it on while it is stopped, N.
    pub(crate) fn weight_n(&self) -> f64 {
        if self.falls { self.striker.mass_kg * GRAVITY } else { 0.0 }
    }

    /// The least way to a node, mm.
    pub(crate) fn first(&self) -> f64 {
        self.face.iter().map(|rest| rest.gap_mm).fold(f64::INFINITY, f64::min)
    }
}

/// What a face of this stiffness, MPa/mm, does to a node of this share of the guard's area that it meets after some way.
#[must_use]
pub fn met(node: u32, way: nalgebra::Vector3<f64>, area_mm2: f64, after_mm: f64, mpa_per_mm: f64) -> Rest {
    Rest { node, out: way, area_mm2, gap_mm: after_mm, bed: Bed::Even(mpa_per_mm) }
}

/// The blow spent on the guard, as slowly as if it had no mass: how far the striker goes until the guard, its liner and what is
/// under them have taken up its energy, and what it gains while it falls on. `before` is how the guard lies before.
///
/// # Errors
/// [`BlowError`].
pub fn stopped(laid: &Laid<'_>, strike: &Strike<'_>, before: &AtRest, job: &Job) -> Result<Stopped, BlowError> {
    let energy = strike.striker.energy_j() * 1e3;
    if energy.is_nan() || energy <= 0.0 || strike.face.is_empty() {
        return Err(BlowError::Nothing);
    }
    let weight = strike.weight_n();
    let (mut low, mut high) = (0.0_f64, f64::INFINITY);
    let mut way = FIRST_MM;
    let mut from = before.moved.clone();
    let (mut course, mut steps) = (Vec::new(), 0);
    for tries in 1..=MOST_TRIES {
        let mut pressed = strike.by(laid, way, before, &from, NEAR_ENOUGH, job)?;
        steps += pressed.at_rest.steps;
        let wanted = energy + weight * way;
        if (pressed.taken_n_mm / wanted - 1.0).abs() < 10.0 * EQUAL {
            let near = pressed.at_rest.moved;
            pressed = strike.by(laid, way, before, &near, NEAR, job)?;
            steps += pressed.at_rest.steps;
        }
        course.push([way, pressed.force_n, pressed.taken_n_mm]);
        let ratio = pressed.taken_n_mm / wanted;
        if (ratio - 1.0).abs() < EQUAL {
            course.sort_by(|a, b| a[0].total_cmp(&b[0]));
            return Ok(Stopped { pressed, course, tries, steps });
        }
        if ratio < 1.0 {
            low = way;
        } else {
            high = way;
        }
        if way >= MOST_MM {
            return Err(BlowError::TooStrong(MOST_MM));
        }
        // Newton's method on the logarithms: energy grows about as a power of the way.
        let power = (way * (pressed.force_n - weight) / (pressed.taken_n_mm - weight * way)).max(1.0);
        let next = way * (energy / (pressed.taken_n_mm - weight * way)).powf(1.0 / power);
        let next = if next.is_finite() && next > low && next < high {
            next
        } else if high.is_finite() {
            0.5 * (low + high)
        } else {
            2.0 * low
        };
        let next = next.min(MOST_GROWTH * way).min(MOST_MM);
        // What was moved by one way is moved about in proportion by the other.
        let share = next / way;
        from = before.moved.iter().zip(&pressed.at_rest.moved).map(|(a, b)| a + (b - a) * share).collect();
        way = next;
    }
    Err(BlowError::TooStrong(way))
}
