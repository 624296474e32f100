//! An open surface laid flat with little distortion.
//!
//! First the least squares conformal map (Lévy, Petitjean, Ray and Maillot 2002), which keeps angles and needs no given
//! outline; then steps towards the map that is as rigid as possible (Liu, Zhang, Xu, Gotsman and Gortler 2008), which
//! keeps lengths as well as can be. A surface that can be developed comes out exact.
//!
//! Promised: the map keeps the way round of the triangles that it does not fold, so that it is seen as from outside.
//! Not promised: that it folds none, or that far parts never overlap: [`Flat::folded`] counts the former.
//!
//! ```
//! use mesh::flatten::flatten;
//! use mesh::{Job, Mesh};
//! use nalgebra::Point3;
//!
//! // Two squares of 10 mm that meet at a right angle.
//! let points = (0..6).map(|i| [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]][i / 2]).zip([0.0, 10.0].into_iter().cycle());
//! let points = points.map(|([x, z], y)| Point3::new(x, y, z)).collect();
//! let bent = Mesh::new(points, vec![[0, 2, 3], [0, 3, 1], [2, 4, 5], [2, 5, 3]]);
//! let flat = flatten(&bent, &Job::silent())?;
//! assert!((nalgebra::distance(&flat.points[0], &flat.points[4]) - 20.0).abs() < 1e-6);
//! # Ok::<(), mesh::flatten::FlattenError>(())
//! ```

mod conformal;
mod rigid;
pub(crate) mod triangle;

use nalgebra::Point2;

use crate::{Adjacency, Cancelled, Job, Mesh};
use triangle::Flattened;

/// A surface laid flat.
#[derive(Debug, Clone, PartialEq)]
pub struct Flat {
    /// Where each point of the mesh lies, mm. The first lies at the origin.
    pub points: Vec<Point2<f64>>,
}

/// Why a surface cannot be laid flat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum FlattenError {
    /// It has no edge, or no triangles at all.
    #[error("a surface without an edge cannot be laid flat")]
    Closed,
    /// It falls into several connected components, or is joined by a vertex only.
    #[error("a surface in several pieces cannot be laid flat as one")]
    InPieces,
    /// Its triangles are too thin for the system to have a solution.
    #[error("a surface of needles cannot be laid flat")]
    Needles,
    /// Stopped on request.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Lays an oriented manifold surface flat: one component, with at least one edge, all its points used.
///
/// A sleeve is laid flat as a ring, and badly: cut it open first.
///
/// # Errors
/// [`FlattenError`].
pub fn flatten(mesh: &Mesh, job: &Job) -> Result<Flat, FlattenError> {
    let adjacency = Adjacency::build(mesh, job)?;
    let loops = adjacency.boundary_loops(mesh);
    if loops.is_empty() {
        return Err(FlattenError::Closed);
    }
    if adjacency.connected_components().1 != 1 {
        return Err(FlattenError::InPieces);
    }
    let triangles: Vec<Flattened> = (0..mesh.triangles.len()).map(|t| Flattened::new(mesh, t)).collect();
    let conformal = conformal::map(mesh, &triangles, &loops, job)?;
    let points = rigid::relaxed(mesh, &triangles, conformal, job)?;
    Ok(Flat { points: points.into_iter().map(Point2::from).collect() })
}

impl Flat {
    /// By what lengths are multiplied in triangle `t`: at most and at least. The least is negative where it is folded.
    #[must_use]
    pub fn stretch(&self, mesh: &Mesh, t: usize) -> [f64; 2] {
        let flattened = Flattened::new(mesh, t);
        let corners = mesh.triangles[t].map(|v| self.points[v as usize].coords);
        flattened.stretch(&corners)
    }

    /// How many triangles are folded over.
    #[must_use]
    pub fn folded(&self, mesh: &Mesh) -> usize {
        let area = |[a, b, c]: [Point2<f64>; 3]| (b - a).perp(&(c - a));
        let corners = mesh.triangles.iter().map(|t| t.map(|v| self.points[v as usize]));
        corners.filter(|corners| area(*corners) <= 0.0).count()
    }
}
