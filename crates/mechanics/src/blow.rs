//! A blow: something of a mass and a speed that is stopped by a guard and what the guard lies on.

use mesh::Job;
use nalgebra::{Vector3, Vector6};

use crate::contact::{AtRest, Balance, Bed, ContactError, LEAST_N, Laid, Rest, dot};
use crate::foam::Pressed;
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
    /// Steps that it took.
    pub steps: usize,
}

impl Stopped {
    /// How long it took from the first touch to the greatest force, s: the way over the speed that is left by then, energy between
    /// the ways that were tried growing as a power of the way.
    #[must_use]
    pub fn time_s(&self, strike: &Strike<'_>) -> f64 {
        let (mass, whole) = (strike.striker.mass_kg * 1e-3, self.pressed.way_mm);
        let course = self.rising();
        let power = |[way, force, taken]: &[f64; 3]| way * force / taken;
        let taken = |way: f64| {
            let after = course.partition_point(|at| at[0] < way);
            let Some(next) = course.get(after).or_else(|| course.last()) else { return 0.0 };
            let Some(last) = after.checked_sub(1).and_then(|before| course.get(before)) else {
                return next[2] * (way / next[0]).powf(power(next));
            };
            // A cubic between logarithms that has both slopes.
            let length = (next[0] / last[0]).ln();
            if length <= 0.0 {
                return next[2];
            }
            let t = ((way / last[0]).ln() / length).clamp(0.0, 1.0);
            let (a, b, rise) = (power(last) * length, power(next) * length, (next[2] / last[2]).ln());
            let cubic = t * (a + t * (3.0 * rise - 2.0 * a - b + t * (a + b - 2.0 * rise)));
            last[2] * cubic.exp()
        };
        let weight = strike.weight_n();
        // With way = whole (1 − q²) speeds fall to nothing in proportion to q, and their inverse can be summed.
        let sum: f64 = (0..TIMES)
            .map(|i| {
                let q = (f64::from(i) + 0.5) / f64::from(TIMES);
                let way = whole * (1.0 - q * q);
                let left = self.pressed.taken_n_mm - taken(way) - weight * (whole - way);
                // Near the end no less than if the force were even.
                let least = 0.5 * (self.pressed.force_n - weight).abs() * whole * q * q;
                2.0 * whole * q / (2.0 * left.max(least) / mass).sqrt()
            })
            .sum();
        sum / f64::from(TIMES)
    }
}

impl Stopped {
    /// The course up to the end, without what is so near to another way that slopes between them mean nothing, and as far as it
    /// rises.
    fn rising(&self) -> Vec<[f64; 3]> {
        let last = [self.pressed.way_mm, self.pressed.force_n, self.pressed.taken_n_mm];
        let mut course: Vec<[f64; 3]> = Vec::new();
        for at in &self.course {
            let beyond =
                course.last().is_none_or(|before| at[0] > APART * before[0] && at[2] > before[2] && at[1] > 0.0);
            if beyond && APART * at[0] < last[0] && at[2] < last[2] {
                course.push(*at);
            }
        }
        course.push(last);
        course
    }
}

/// Ways of the course are at least so many times as far as those before.
const APART: f64 = 1.08;
/// Ways at which its speed is told.
const TIMES: u32 = 400;

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

/// Steps at most.
const MOST_STEPS: usize = 120;
/// Energies are as good as equal within this share.
const EQUAL: f64 = 5e-4;
/// Forces balance well enough to go on to another way within this share.
const NEAR_ENOUGH: f64 = 0.2;
/// Forces and energies are sure where forces balance within this share.
const SURE: f64 = 1e-2;
/// At the end they balance within this share: what is left of them counts in the energy by its square.
const NEAR: f64 = 1e-4;
/// The face is thought to press at first on what it meets on this way, mm.
const PATCH_MM: f64 = 1.5;
/// Halvings of the force that is tried first.
const SHAPES: usize = 7;
/// The way that is tried first, mm: at least and at most.
const FIRST_MM: [f64; 2] = [0.05, 40.0];
/// No further way is looked at, mm: through any limb.
const MOST_MM: f64 = 300.0;
/// From one way to the next at most so many times as far.
const MOST_GROWTH: f64 = 4.0;

impl Strike<'_> {
    /// What pulls it on while it is stopped, N.
    pub(crate) fn weight_n(&self) -> f64 {
        if self.falls { self.striker.mass_kg * GRAVITY } else { 0.0 }
    }

    /// The least way to a node, mm.
    pub(crate) fn first(&self) -> f64 {
        self.face.iter().map(|rest| rest.gap_mm).fold(f64::INFINITY, f64::min)
    }

    /// A way to try first, mm, and how the guard might be moved then: in the shape in which it gives at first to a force that is
    /// spread over what the face meets soon.
    fn guessed(
        &self,
        laid: &Laid<'_>,
        energy: f64,
        from: &[Vector6<f64>],
    ) -> Result<(f64, Vec<Vector6<f64>>), ContactError> {
        let first = self.first();
        let share = |rest: &Rest| rest.area_mm2 * (1.0 - (rest.gap_mm - first) / PATCH_MM).max(0.0);
        let whole: f64 = self.face.iter().map(share).sum();
        let mut load = vec![Vector6::zeros(); from.len()];
        for rest in self.face {
            let force = rest.out * (share(rest) / whole.max(f64::MIN_POSITIVE));
            (0..3).for_each(|k| load[rest.node as usize][k] += force[k]);
        }
        let none = vec![Vector6::zeros(); from.len()];
        let at_first = laid.balance(&none, from);
        let moves = laid.factored(&at_first)?.under(&load);
        // As far as it takes up the energy in this shape.
        let (mut low, mut high) = (0.0, (2.0 * energy / dot(&load, &moves).max(f64::MIN_POSITIVE)).sqrt());
        let moved = |force: f64| from.iter().zip(&moves).map(|(from, moves)| from + moves * force).collect::<Vec<_>>();
        for _ in 0..SHAPES {
            let force = 0.5 * (low + high);
            let taken = laid.balance(&none, &moved(force)).stored - at_first.stored;
            *(if taken < energy { &mut low } else { &mut high }) = force;
        }
        let deep = self.face.iter().map(|rest| share(rest) * (rest.gap_mm - first)).sum::<f64>() / whole;
        let way_mm = high * dot(&load, &moves) + deep;
        Ok((way_mm.clamp(FIRST_MM[0], FIRST_MM[1]), moved(high)))
    }

    /// All that the guard rests on, with the face after some way from its first touch.
    pub(crate) fn rests(&self, laid: &Laid<'_>, way_mm: f64) -> Vec<Rest> {
        let gone = self.first() + way_mm;
        let face = self.face.iter().map(|rest| Rest { gap_mm: rest.gap_mm - gone, ..*rest });
        laid.rests.iter().copied().chain(face).collect()
    }
}

/// What a face of this stiffness, MPa/mm, does to a node of this share of the guard's area that it meets after some way.
#[must_use]
pub fn met(node: u32, way: Vector3<f64>, area_mm2: f64, after_mm: f64, mpa_per_mm: f64) -> Rest {
    Rest { node, out: way, area_mm2, gap_mm: after_mm, bed: Bed::Even(mpa_per_mm) }
}

/// The blow spent on the guard, as slowly as if it had no mass: how far the striker goes until the guard, its liner and what is
/// under them have taken up its energy, and what it gains while it falls on. `before` is how the guard lies before. Newton's
/// method goes on for the guard and for the way together.
///
/// # Errors
/// [`BlowError`].
pub fn stopped(laid: &Laid<'_>, strike: &Strike<'_>, before: &AtRest, job: &Job) -> Result<Stopped, BlowError> {
    let energy = strike.striker.energy_j() * 1e3;
    if energy.is_nan() || energy <= 0.0 || strike.face.is_empty() {
        return Err(BlowError::Nothing);
    }
    let none = vec![Vector6::zeros(); before.moved.len()];
    let (first_mm, mut moved) = strike.guessed(laid, energy, &before.moved)?;
    let mut way = Way::new(energy, strike.weight_n(), first_mm);
    let mut left = 1.0;
    let mut known: Option<Balance> = None;
    for steps in 0..MOST_STEPS {
        job.check().map_err(ContactError::from)?;
        let rests = strike.rests(laid, way.at);
        let at = Laid { rests: &rests, ..*laid };
        let found = known.take().unwrap_or_else(|| at.balance(&none, &moved));
        left = at.shell.norm(&found.pull) / found.acting.max(LEAST_N);
        let taken = found.stored - before.stored_n_mm;
        let face = Face::new(&rests[laid.rests.len()..], &found.pressed[laid.rests.len()..]);
        if left <= NEAR && way.is_spent(taken) {
            let pressure_mpa = found.pressed.iter().map(|pressed| pressed.pressure_mpa).collect();
            let at_rest = AtRest { stored_n_mm: found.stored, moved, pressure_mpa, steps, left };
            let pressed = PressedIn { way_mm: way.at, force_n: face.force_n, taken_n_mm: taken, at_rest };
            way.course.push([way.at, face.force_n, taken]);
            way.course.sort_by(|a, b| a[0].total_cmp(&b[0]));
            return Ok(Stopped { pressed, course: way.course, steps });
        }
        let system = at.factored(&found)?;
        let mut tied = none.clone();
        for (node, pull) in &face.by_way {
            (0..3).for_each(|k| tied[*node as usize][k] += pull[k]);
        }
        let [own, by_way] = system.under_each([&found.pull, &tied]);
        let slope = dot(&found.pull, &own);
        let lower = at.lower(&none, &found, &moved, &own, slope).ok_or(ContactError::NoBalance { steps, left })?;
        moved = lower.0;
        let gone = way.at;
        if left <= NEAR_ENOUGH {
            // Force and energy as they will be when forces balance.
            let (force, taken) = (face.force_n - dot(&found.pull, &by_way), taken - 0.5 * slope);
            way.next(force, taken, left <= SURE)?;
            moved.iter_mut().zip(&by_way).for_each(|(moved, by_way)| *moved += by_way * (way.at - gone));
        }
        known = (way.at == gone).then_some(lower.1);
    }
    Err(ContactError::NoBalance { steps: MOST_STEPS, left }.into())
}

/// What a face does to a guard that is moved so.
struct Face {
    force_n: f64,
    /// By how much the force on each node grows as it goes further, N/mm.
    by_way: Vec<(u32, Vector3<f64>)>,
}

impl Face {
    fn new(rests: &[Rest], pressed: &[Pressed]) -> Self {
        let mut face = Self { force_n: 0.0, by_way: Vec::new() };
        for (rest, pressed) in rests.iter().zip(pressed) {
            face.force_n += pressed.pressure_mpa * rest.area_mm2;
            face.by_way.push((rest.node, rest.out * (pressed.slope_mpa_per_mm * rest.area_mm2)));
        }
        face
    }
}

/// How far a striker goes until its energy is spent, as it is sought.
struct Way {
    at: f64,
    energy: f64,
    weight: f64,
    /// Ways that are known to be too short and too long.
    low: f64,
    high: f64,
    course: Vec<[f64; 3]>,
}

impl Way {
    fn new(energy: f64, weight: f64, at: f64) -> Self {
        Self { at, energy, weight, low: 0.0, high: f64::INFINITY, course: Vec::new() }
    }

    fn is_spent(&self, taken: f64) -> bool {
        (taken / (self.energy + self.weight * self.at) - 1.0).abs() < EQUAL
    }

    /// The next way, by the force on the striker and the energy that it gave up by now: Newton's method on the logarithms, as
    /// energy grows about as a power of the way.
    /// Only where forces are `sure` the way is known to be too short or too long.
    fn next(&mut self, force: f64, taken: f64, sure: bool) -> Result<(), BlowError> {
        if self.is_spent(taken) {
            return Ok(());
        }
        self.course.push([self.at, force, taken]);
        let (at, spent) = (self.at, taken - self.weight * self.at);
        if sure && spent < self.energy {
            self.low = at;
        } else if sure {
            self.high = at;
        }
        if at >= MOST_MM {
            return Err(BlowError::TooStrong(MOST_MM));
        }
        let power = (at * (force - self.weight) / spent).max(1.0);
        let next = at * (self.energy / spent).powf(1.0 / power);
        let inside = next.is_finite() && next > self.low && next < self.high;
        let halves = if self.high.is_finite() { 0.5 * (self.low + self.high) } else { 2.0 * self.low.max(at) };
        self.at = if inside { next } else { halves }.min(MOST_GROWTH * at).min(MOST_MM);
        Ok(())
    }
}
