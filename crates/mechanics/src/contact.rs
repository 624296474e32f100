//! A shell that lies on something that only resists being pressed, and is pulled and pushed.

use mesh::{Cancelled, Job};
use nalgebra::{Vector3, Vector6};

use crate::elements::{Assembly, SolveError, Spring};
use crate::foam::Layers;

/// What one node rests on.
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
    pub layers: Layers,
}

impl Rest {
    /// By how much its layers are pressed when its node is moved, mm.
    #[must_use]
    pub fn pressed_mm(&self, moved: &Vector6<f64>) -> f64 {
        -self.gap_mm - self.out.dot(&moved.fixed_rows::<3>(0))
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
    /// The force that is left where it does not balance, as a share of what is applied.
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
        /// The force that is left, as a share of what is applied.
        left: f64,
    },
    /// Stopped on request.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Most steps of Newton's method.
const MOST_STEPS: usize = 60;
/// Forces balance where no more than this share of what is applied is left.
const BALANCED: f64 = 1e-8;
/// A step is taken where it lowers the energy by this share of what its slope promises (Armijo 1966), and halved otherwise.
const ARMIJO: f64 = 1e-4;
const MOST_HALVINGS: usize = 30;

/// Where the shell comes to rest on `rests` and `springs` under `loads`: the least of its energy, which has one as what it rests on
/// gets stiffer the more it is pressed. Newton's method with a line search (Nocedal and Wright 2006, "Numerical Optimization",
/// chapter 3).
///
/// # Errors
/// [`ContactError`].
pub fn at_rest(
    assembly: &Assembly,
    springs: &[Spring],
    rests: &[Rest],
    loads: &[Vector6<f64>],
    from: Option<&[Vector6<f64>]>,
    job: &Job,
) -> Result<AtRest, ContactError> {
    let mut moved = from.map_or_else(|| vec![Vector6::zeros(); loads.len()], <[_]>::to_vec);
    let applied = loads.iter().map(Vector6::norm_squared).sum::<f64>().sqrt().max(f64::MIN_POSITIVE);
    let mut energy = energy_of(assembly, springs, rests, loads, &moved);
    let mut left = f64::INFINITY;
    for steps in 0..MOST_STEPS {
        job.check()?;
        let pull = pull_on(assembly, springs, rests, loads, &moved);
        left = assembly.norm(&pull) / applied;
        if left < BALANCED {
            let pressure = |rest: &Rest| rest.layers.pressed(rest.pressed_mm(&moved[rest.node as usize])).pressure_mpa;
            let pressure_mpa = rests.iter().map(pressure).collect();
            let work: f64 = loads.iter().zip(&moved).map(|(load, moved)| load.dot(moved)).sum();
            return Ok(AtRest { moved, stored_n_mm: energy + work, pressure_mpa, steps, left });
        }
        let stiffness = rests.iter().map(|rest| {
            let pressed = rest.layers.pressed(rest.pressed_mm(&moved[rest.node as usize]));
            Spring::along(rest.node, &rest.out, pressed.slope_mpa_per_mm * rest.area_mm2)
        });
        let way = assembly.with(&springs.iter().copied().chain(stiffness).collect::<Vec<_>>())?.under(&pull);
        let slope: f64 = pull.iter().zip(&way).map(|(pull, way)| pull.dot(way)).sum();
        let mut share = 1.0;
        for _ in 0..MOST_HALVINGS {
            let tried: Vec<Vector6<f64>> = moved.iter().zip(&way).map(|(moved, way)| moved + way * share).collect();
            let lower = energy_of(assembly, springs, rests, loads, &tried);
            if lower <= energy - ARMIJO * share * slope || share * slope.abs() <= 1e-14 * energy.abs() {
                (moved, energy) = (tried, lower);
                break;
            }
            share *= 0.5;
        }
    }
    Err(ContactError::NoBalance { steps: MOST_STEPS, left })
}

/// What pulls at the nodes that does not balance.
fn pull_on(
    assembly: &Assembly,
    springs: &[Spring],
    rests: &[Rest],
    loads: &[Vector6<f64>],
    moved: &[Vector6<f64>],
) -> Vec<Vector6<f64>> {
    let mut pull: Vec<Vector6<f64>> =
        assembly.forces(moved).iter().zip(loads).map(|(force, load)| load - force).collect();
    for spring in springs {
        let force = spring.stiffness * moved[spring.node as usize].fixed_rows::<3>(0);
        (0..3).for_each(|k| pull[spring.node as usize][k] -= force[k]);
    }
    for rest in rests {
        let pressed = rest.layers.pressed(rest.pressed_mm(&moved[rest.node as usize]));
        let force = rest.out * (pressed.pressure_mpa * rest.area_mm2);
        (0..3).for_each(|k| pull[rest.node as usize][k] += force[k]);
    }
    pull
}

fn energy_of(
    assembly: &Assembly,
    springs: &[Spring],
    rests: &[Rest],
    loads: &[Vector6<f64>],
    moved: &[Vector6<f64>],
) -> f64 {
    let of_shell: f64 = assembly.forces(moved).iter().zip(moved).map(|(force, moved)| 0.5 * force.dot(moved)).sum();
    let of_loads: f64 = loads.iter().zip(moved).map(|(load, moved)| load.dot(moved)).sum();
    let of_spring = |spring: &Spring| {
        let way = moved[spring.node as usize].fixed_rows::<3>(0).into_owned();
        0.5 * way.dot(&(spring.stiffness * way))
    };
    let of_rest =
        |rest: &Rest| rest.layers.pressed(rest.pressed_mm(&moved[rest.node as usize])).work_n_per_mm * rest.area_mm2;
    of_shell - of_loads + springs.iter().map(of_spring).sum::<f64>() + rests.iter().map(of_rest).sum::<f64>()
}
