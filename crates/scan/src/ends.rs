//! Telling the limb's own cut ends from holes.

use mesh::{Adjacency, Mesh, repair};
use nalgebra::{Point3, Vector3};

use crate::axes::LongAxis;

/// An open loop of the limb.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct OpenLoop {
    /// Its points, in the direction in which the triangles run.
    pub ring: Vec<u32>,
    /// Length of its rim, mm.
    pub rim_mm: f64,
    /// Circumference of the circle with the area that it spans, mm; unlike the rim length it does not grow with jags.
    pub girth_mm: f64,
    /// Middle of its points.
    pub middle: Point3<f64>,
    /// Whether it is one of the limb's own ends.
    pub is_end: bool,
}

/// A loop whose girth is more than this share of √area is an end wherever it lies: for a tube of girth g and length l
/// the share is √(g/l).
const BIG: f64 = 0.4;
/// A loop near an end of the long axis is an end of the limb if it spans this share of the section there.
const SECTION: f64 = 0.3;

/// The open loops of `mesh`, in the order of [`Adjacency::boundary_loops`].
pub(crate) fn open_loops(mesh: &Mesh, adjacency: &Adjacency, axis: &LongAxis) -> Vec<OpenLoop> {
    let size = mesh.area_mm2().sqrt();
    adjacency
        .boundary_loops(mesh)
        .into_iter()
        .map(|ring| {
            let at = |i: usize| mesh.points[ring[i % ring.len()] as usize].cast::<f64>();
            let middle = Point3::from((0..ring.len()).map(|i| at(i).coords).sum::<Vector3<f64>>() / ring.len() as f64);
            let twice: Vector3<f64> = (0..ring.len()).map(|i| (at(i) - middle).cross(&(at(i + 1) - middle))).sum();
            let girth_mm = 2.0 * (std::f64::consts::PI * 0.5 * twice.norm()).sqrt();
            let along = axis.along(&middle);
            let at_tip = !(0.15..=0.85).contains(&along);
            let section = axis.girth_mm(along);
            let is_end = girth_mm > BIG * size || (at_tip && girth_mm * girth_mm > SECTION * section * section);
            OpenLoop { rim_mm: repair::loop_length_mm(mesh, &ring), girth_mm, middle, is_end, ring }
        })
        .collect()
}
