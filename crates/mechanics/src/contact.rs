//! A shell that lies on something that only resists being pressed, and is pulled and pushed.

use mesh::{Cancelled, Job};
use nalgebra::{Vector3, Vector6};

use crate::elements::{Assembly, SolveError, Spring, System};
use crate::foam::{Layers, Pressed, Tissue};

/// What gives where it is pressed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bed {
    /// Foam on soft tissue.
    Layers(Layers),
    /// Soft tissue alone.
    Tissue(Tissue),
    /// What gives in proportion, MPa for each millimetre.
    Even(f64),
}

impl Bed {
    /// What it does when it is pressed in by so much, mm; nothing where that is negative.
    #[must_use]
    pub fn pressed(&self, by_mm: f64) -> Pressed {
        match self {
            Self::Layers(layers) => layers.pressed(by_mm),
            Self::Tissue(tissue) => tissue.pressed(by_mm),
            Self::Even(slope) if by_mm >= 0.0 => Pressed {
                pressure_mpa: slope * by_mm,
                slope_mpa_per_mm: *slope,
                work_n_per_mm: 0.5 * slope * by_mm * by_mm,
                strain: 0.0,
            },
            Self::Even(_) => Pressed::NOT,
        }
    }
}

/// What one node rests on. What presses on a node, or pulls at it by a strap that cannot push, is told in the same way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// The node.
    pub node: u32,
    /// The way out, a unit vector: it is pressed where the node moves the other way.
    pub out: Vector3<f64>,
    /// How much surface rests through it, mm².
    pub area_mm2: f64,
    /// How far off it lies before anything moves, mm; negative where it is pressed from the start.
    pub gap_mm: f64,
    /// What is pressed.
    pub bed: Bed,
}

impl Rest {
    /// How its layers are pressed when the nodes are moved.
    #[must_use]
    pub fn pressed(&self, moved: &[Vector6<f64>]) -> Pressed {
        self.bed.pressed(-self.gap_mm - self.out.dot(&moved[self.node as usize].fixed_rows::<3>(0)))
    }
}

/// A shell at rest under its loads.
#[derive(Debug, Clone)]
pub struct AtRest {
    /// Displacements, mm, and rotations, rad, of all nodes.
    pub moved: Vec<Vector6<f64>>,
    /// Energy in the shell, the springs and what it rests on, N·mm.
    pub stored_n_mm: f64,
    /// Pressure at each rest, MPa.
    pub pressure_mpa: Vec<f64>,
    /// Steps that it took.
    pub steps: usize,
    /// The force that is left where it does not balance, as a share of what acts on the nodes.
    pub left: f64,
}

/// Why there is no rest.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ContactError {
    /// The shell cannot be solved.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// It was not found in so many steps.
    #[error("no balance was found in {steps} steps: {left:.1e} of the force is left")]
    NoBalance {
        /// Steps made.
        steps: usize,
        /// The force that is left, as a share of what acts on the nodes.
        left: f64,
    },
    /// Stopped on request.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Most steps of Newton's method.
const MOST_STEPS: usize = 60;
/// Forces balance where no more than this share of what acts on the nodes is left.
pub const BALANCED: f64 = 1e-8;
/// Where less than this acts, forces balance when they are small beside it, N.
pub(crate) const LEAST_N: f64 = 0.01;
/// A step is taken where it lowers the energy by this share of what its slope promises (Armijo 1966), and halved otherwise.
const ARMIJO: f64 = 1e-4;
const MOST_HALVINGS: usize = 30;
/// Energies that differ by no more than this share are told apart by rounding alone.
const ROUNDING: f64 = 1e-14;

/// A shell laid on something.
#[derive(Debug, Clone, Copy)]
pub struct Laid<'a> {
    /// The shell.
    pub shell: &'a Assembly,
    /// Springs that pull and push it.
    pub springs: &'a [Spring],
    /// What only resists being pressed.
    pub rests: &'a [Rest],
}

impl Laid<'_> {
    /// Where it comes to rest under `loads`, sought from `from` or from where it was, until no more than a share `near` of the
    /// forces is left: the least of its energy, which has one as what it rests on gets stiffer the more it is pressed. Newton's
    /// method with a line search (Nocedal and Wright 2006, "Numerical Optimization", chapter 3).
    ///
    /// # Errors
    /// [`ContactError`].
    pub fn at_rest(
        &self,
        loads: &[Vector6<f64>],
        from: Option<&[Vector6<f64>]>,
        near: f64,
        job: &Job,
    ) -> Result<AtRest, ContactError> {
        let mut moved = from.map_or_else(|| vec![Vector6::zeros(); loads.len()], <[_]>::to_vec);
        let mut found = self.balance(loads, &moved);
        let mut steps = 0;
        loop {
            job.check()?;
            let left = self.shell.norm(&found.pull) / found.acting.max(LEAST_N);
            if left <= near {
                let pressure_mpa = found.pressed.iter().map(|pressed| pressed.pressure_mpa).collect();
                return Ok(AtRest { stored_n_mm: found.stored, moved, pressure_mpa, steps, left });
            }
            if steps == MOST_STEPS {
                return Err(ContactError::NoBalance { steps, left });
            }
            let way = self.factored(&found)?.under(&found.pull);
            let slope = dot(&found.pull, &way);
            let lower = self.lower(loads, &found, &moved, &way, slope);
            (moved, found) = lower.ok_or(ContactError::NoBalance { steps, left })?;
            steps += 1;
        }
    }

    /// Factored as stiff as it is then.
    pub(crate) fn factored(&self, found: &Balance) -> Result<System, SolveError> {
        let all = self.rests.iter().zip(&found.pressed);
        let stiffness =
            all.map(|(rest, pressed)| Spring::along(rest.node, &rest.out, pressed.slope_mpa_per_mm * rest.area_mm2));
        let springs: Vec<Spring> = self.springs.iter().copied().chain(stiffness).collect();
        self.shell.with(&springs)
    }

    /// How far along a way the energy is lower, and how it balances there; `slope` is by how much it falls for the whole way at
    /// first. `None` where it is nowhere.
    pub(crate) fn lower(
        &self,
        loads: &[Vector6<f64>],
        found: &Balance,
        moved: &[Vector6<f64>],
        way: &[Vector6<f64>],
        slope: f64,
    ) -> Option<(Vec<Vector6<f64>>, Balance)> {
        let before = found.stored - dot(loads, moved);
        let mut share = 1.0;
        for _ in 0..MOST_HALVINGS {
            let tried: Vec<Vector6<f64>> = moved.iter().zip(way).map(|(moved, way)| moved + way * share).collect();
            let at_tried = self.balance(loads, &tried);
            let energy = at_tried.stored - dot(loads, &tried);
            // What rounding hides is as good as lower.
            if energy <= before - ARMIJO * share * slope || share * slope.abs() <= ROUNDING * before.abs() {
                return Some((tried, at_tried));
            }
            share *= 0.5;
        }
        None
    }

    /// What does not balance while the nodes are moved so.
    pub(crate) fn balance(&self, loads: &[Vector6<f64>], moved: &[Vector6<f64>]) -> Balance {
        let forces = self.shell.forces(moved);
        let mut stored = 0.5 * dot(&forces, moved);
        let mut pull: Vec<Vector6<f64>> = forces.iter().zip(loads).map(|(force, load)| load - force).collect();
        for spring in self.springs {
            let way = moved[spring.node as usize].fixed_rows::<3>(0).into_owned();
            let force = spring.stiffness * way;
            stored += 0.5 * way.dot(&force);
            (0..3).for_each(|k| pull[spring.node as usize][k] -= force[k]);
        }
        let mut acting: f64 = loads.iter().map(Vector6::norm_squared).sum();
        let pressed: Vec<Pressed> = self.rests.iter().map(|rest| rest.pressed(moved)).collect();
        for (rest, pressed) in self.rests.iter().zip(&pressed) {
            let force = rest.out * (pressed.pressure_mpa * rest.area_mm2);
            acting += force.norm_squared();
            stored += pressed.work_n_per_mm * rest.area_mm2;
            (0..3).for_each(|k| pull[rest.node as usize][k] += force[k]);
        }
        Balance { pull, acting: acting.sqrt(), stored, pressed }
    }
}

/// What a shell that is moved in some way comes to.
#[derive(Debug, Clone)]
pub(crate) struct Balance {
    /// What pulls at the nodes that does not balance.
    pub(crate) pull: Vec<Vector6<f64>>,
    /// The size of what acts on them from outside, N: loads, and what the rests press with.
    pub(crate) acting: f64,
    /// Energy in the shell, the springs and what it rests on, N·mm.
    pub(crate) stored: f64,
    /// How each rest is pressed.
    pub(crate) pressed: Vec<Pressed>,
}

/// The sum of the products of all unknowns.
pub(crate) fn dot(a: &[Vector6<f64>], b: &[Vector6<f64>]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a.dot(b)).sum()
}
