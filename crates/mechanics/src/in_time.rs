//! A blow step by step in time: what [`crate::blow`] spends as if the guard had no mass, with the masses of both.

use mesh::Job;
use nalgebra::Vector6;

use crate::blow::{BlowError, Strike};
use crate::contact::{AtRest, Balance, ContactError, Laid, Rest};
use crate::elements::{Spring, UNKNOWNS};

/// How time goes on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pace {
    /// Length of a step, s.
    pub step_s: f64,
    /// Steps at most.
    pub most_steps: usize,
}

/// What a blow came to by one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Time since the first touch, s.
    pub time_s: f64,
    /// Force on the striker, N.
    pub force_n: f64,
    /// How far it went since it first touched, mm.
    pub way_mm: f64,
    /// All energy that there is, of motion, of what is pressed and bent, and of height, N·mm, beside that before the touch.
    pub energy_n_mm: f64,
    /// The greatest pressure on what the guard rests on, MPa.
    pub peak_mpa: f64,
}

/// A kilogram, N·s²/mm.
const KILOGRAM: f64 = 1e-3;
/// Steps of Newton's method within a step of time.
const MOST_TRIES: usize = 40;
/// What is left of the forces, as a share of what acts.
const NEAR: f64 = 1e-7;

/// The striker and the guard on their way, from the first touch until they part or the steps are over. The trapezoidal rule
/// (Newmark 1959, J. Eng. Mech. Div. 85 (EM3), 67, with β = 1/4 and γ = 1/2), which loses no energy of what gives in proportion.
/// `masses_kg` is the guard's, node by node; `before` is how it lies.
///
/// # Errors
/// [`BlowError`].
pub fn in_time(
    laid: &Laid<'_>,
    strike: &Strike<'_>,
    masses_kg: &[f64],
    before: &AtRest,
    pace: &Pace,
    job: &Job,
) -> Result<Vec<Moment>, BlowError> {
    let (first, striker, weight) = (strike.first(), &strike.striker, strike.weight_n());
    if !first.is_finite() {
        return Err(BlowError::Nothing);
    }
    let mut run = Run {
        laid,
        face: strike.face.iter().map(|rest| Rest { gap_mm: rest.gap_mm - first, ..*rest }).collect(),
        masses: masses_kg.iter().map(|kg| kg * KILOGRAM).collect(),
        mass: striker.mass_kg * KILOGRAM,
        weight,
        step: pace.step_s,
        at: State::still(before, striker.speed_m_per_s * 1e3, weight / (striker.mass_kg * KILOGRAM)),
    };
    let start = run.energy();
    let mut moments = Vec::new();
    for n in 1..=pace.most_steps {
        job.check().map_err(ContactError::from)?;
        run.next()?;
        let moment = Moment {
            time_s: n as f64 * pace.step_s,
            force_n: run.force(),
            way_mm: run.at.way,
            energy_n_mm: run.energy() - start,
            peak_mpa: run.peak(before.pressure_mpa.len().min(masses_kg.len())),
        };
        moments.push(moment);
        if run.at.way < 0.0 || (moment.force_n <= 0.0 && run.at.speed < 0.0) {
            break;
        }
    }
    Ok(moments)
}

/// Where everything is, and how it moves: mm, s.
#[derive(Debug, Clone)]
struct State {
    moved: Vec<Vector6<f64>>,
    speeds: Vec<Vector6<f64>>,
    changes: Vec<Vector6<f64>>,
    way: f64,
    speed: f64,
    change: f64,
}

impl State {
    fn still(before: &AtRest, speed: f64, change: f64) -> Self {
        let none = vec![Vector6::zeros(); before.moved.len()];
        Self { moved: before.moved.clone(), speeds: none.clone(), changes: none, way: 0.0, speed, change }
    }
}

struct Run<'a> {
    laid: &'a Laid<'a>,
    face: Vec<Rest>,
    masses: Vec<f64>,
    mass: f64,
    weight: f64,
    step: f64,
    at: State,
}

impl Run<'_> {
    /// The rests with the face after some way.
    fn rests(&self, way: f64) -> Vec<Rest> {
        let face = self.face.iter().map(|rest| Rest { gap_mm: rest.gap_mm - way, ..*rest });
        self.laid.rests.iter().copied().chain(face).collect()
    }

    fn next(&mut self) -> Result<(), ContactError> {
        let inertia = 4.0 / (self.step * self.step);
        let from = self.at.clone();
        // A first guess as if nothing changed its speed.
        let mut moved: Vec<Vector6<f64>> = from.moved.clone();
        for (v, moved) in moved.iter_mut().enumerate() {
            (0..3).for_each(|k| moved[k] += self.step * from.speeds[v][k]);
        }
        let mut way = from.way + self.step * from.speed;
        let none = vec![Vector6::zeros(); moved.len()];
        for steps in 0.. {
            let rests = self.rests(way);
            let laid = Laid { rests: &rests, ..*self.laid };
            let Balance { mut pull, acting, pressed, .. } = laid.balance(&none, &moved);
            let mut acting = acting * acting;
            for (v, pull) in pull.iter_mut().enumerate() {
                for k in 0..3 {
                    let change =
                        inertia * (moved[v][k] - from.moved[v][k] - self.step * from.speeds[v][k]) - from.changes[v][k];
                    pull[k] -= self.masses[v] * change;
                    acting += (self.masses[v] * change).powi(2);
                }
            }
            let change = inertia * (way - from.way - self.step * from.speed) - from.change;
            let on_face = pressed.iter().zip(&rests).skip(self.laid.rests.len());
            let force: f64 = on_face.clone().map(|(pressed, rest)| pressed.pressure_mpa * rest.area_mm2).sum();
            let off = self.weight - force - self.mass * change;
            let scale = acting.sqrt().max(force).max(self.mass * change.abs()).max(f64::MIN_POSITIVE);
            if self.laid.shell.norm(&pull).hypot(off) / scale <= NEAR {
                self.at = self.moved_on(&from, moved, way, inertia);
                return Ok(());
            }
            if steps == MOST_TRIES {
                return Err(ContactError::NoBalance { steps, left: self.laid.shell.norm(&pull).hypot(off) / scale });
            }
            let masses = (0_u32..)
                .zip(&self.masses)
                .map(|(node, mass)| Spring { node, stiffness: nalgebra::Matrix3::identity() * (inertia * mass) });
            let stiffness = pressed
                .iter()
                .zip(&rests)
                .map(|(pressed, rest)| Spring::along(rest.node, &rest.out, pressed.slope_mpa_per_mm * rest.area_mm2));
            let springs: Vec<Spring> = self.laid.springs.iter().copied().chain(masses).chain(stiffness).collect();
            let system = self.laid.shell.with(&springs)?;
            // The striker's way is one more unknown, which the face ties to the nodes.
            let mut tied = none.clone();
            let mut stiff = self.mass * inertia;
            for (pressed, rest) in on_face {
                let slope = pressed.slope_mpa_per_mm * rest.area_mm2;
                (0..3).for_each(|k| tied[rest.node as usize][k] += rest.out[k] * slope);
                stiff += slope;
            }
            let [own, by_way] = system.under_each([&pull, &tied]);
            let product = |a: &[Vector6<f64>]| a.iter().zip(&tied).map(|(a, b)| a.dot(b)).sum::<f64>();
            let further = (off + product(&own)) / (stiff - product(&by_way));
            way += further;
            for (v, moved) in moved.iter_mut().enumerate() {
                (0..UNKNOWNS).for_each(|k| moved[k] += own[v][k] + further * by_way[v][k]);
            }
        }
        unreachable!("the loop ends by returning")
    }

    fn moved_on(&self, from: &State, moved: Vec<Vector6<f64>>, way: f64, inertia: f64) -> State {
        let half = 0.5 * self.step;
        let mut next = State { moved, way, ..from.clone() };
        for v in 0..next.moved.len() {
            for k in 0..3 {
                let change = inertia * (next.moved[v][k] - from.moved[v][k] - self.step * from.speeds[v][k])
                    - from.changes[v][k];
                next.speeds[v][k] = from.speeds[v][k] + half * (from.changes[v][k] + change);
                next.changes[v][k] = change;
            }
        }
        next.change = inertia * (way - from.way - self.step * from.speed) - from.change;
        next.speed = from.speed + half * (from.change + next.change);
        next
    }

    fn force(&self) -> f64 {
        let rests = self.rests(self.at.way);
        let on_face = rests.iter().skip(self.laid.rests.len());
        on_face.map(|rest| rest.pressed(&self.at.moved).pressure_mpa * rest.area_mm2).sum()
    }

    fn peak(&self, nodes: usize) -> f64 {
        let rests = self.laid.rests.iter().take(nodes);
        rests.map(|rest| rest.pressed(&self.at.moved).pressure_mpa).fold(0.0, f64::max)
    }

    /// Energy of motion, of what is pressed and bent, and of height, N·mm.
    fn energy(&self) -> f64 {
        let rests = self.rests(self.at.way);
        let none = vec![Vector6::zeros(); self.at.moved.len()];
        let stored = Laid { rests: &rests, ..*self.laid }.balance(&none, &self.at.moved).stored;
        let square = |speed: &Vector6<f64>| speed.fixed_rows::<3>(0).norm_squared();
        let moving: f64 = self.at.speeds.iter().zip(&self.masses).map(|(speed, mass)| 0.5 * mass * square(speed)).sum();
        stored + moving + 0.5 * self.mass * self.at.speed * self.at.speed - self.weight * self.at.way
    }
}
