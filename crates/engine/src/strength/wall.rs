//! A guard's wall as it is computed on, and the straps that hold it.

use std::sync::Arc;

use mechanics::mid_surface::{Fineness, MidSurface};
use mechanics::worn::StrapEnd;
use mesh::{Job, Surface};
use nalgebra::{Point3, Vector3};
use shell::{Design, Layout};
use zone::Zone;

use super::strap_ends::strap_ends;
use crate::{EngineError, StrengthError};

/// The wall of a guard, cut into triangles, and its straps.
#[derive(Debug, Clone)]
pub struct GuardWall {
    /// Its middle surface.
    pub middle: Arc<MidSurface>,
    /// Where straps pull at it.
    pub straps: Vec<StrapEnd>,
    /// The pull that the wall behind each is to hold, N.
    pub strap_pull_n: f64,
}

impl GuardWall {
    /// The wall of a design over a layout that was made for it.
    ///
    /// # Errors
    /// [`StrengthError::MidSurface`].
    pub fn new(
        skin: &Surface,
        zone: &Zone,
        design: &Design,
        layout: &Layout,
        fineness: &Fineness,
        job: &Job,
    ) -> Result<Self, EngineError> {
        job.step("cutting the wall into triangles", 0.0)?;
        let middle = MidSurface::new(skin, zone, design, layout, fineness, job).map_err(StrengthError::from)?;
        let straps = strap_ends(skin, &middle, &layout.fittings);
        Ok(Self { middle: Arc::new(middle), straps, strap_pull_n: f64::from(design.strap_pull_n) })
    }

    /// The same, laid out first.
    pub(super) fn laid_out(
        skin: &Surface,
        zone: &Zone,
        design: &Design,
        fineness: &Fineness,
        job: &Job,
    ) -> Result<Self, EngineError> {
        let layout = shell::arrange(skin, zone, design, &job.part(0.0, 0.4))?;
        Self::new(skin, zone, design, &layout, fineness, &job.part(0.4, 1.0))
    }
}

/// The node nearest to the mean of all.
pub(super) fn middle_of(middle: &MidSurface) -> Point3<f64> {
    let mean: Vector3<f64> =
        middle.points.iter().map(|p| p.coords).sum::<Vector3<f64>>() / middle.points.len().max(1) as f64;
    let off = |p: &&Point3<f64>| (p.coords - mean).norm_squared();
    middle.points.iter().min_by(|a, b| off(a).total_cmp(&off(b))).copied().unwrap_or_else(Point3::origin)
}
