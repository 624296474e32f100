//! How thick the material is everywhere under the surface.

use nalgebra::Point3;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::SoundLimits;
use super::clusters::Clusters;
use super::spots::Spot;
use crate::job::Every;
use crate::{Cancelled, Job};

/// A place of the surface and the wall under it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WallPlace {
    /// Where on the surface: the thinnest spot around.
    pub at: Point3<f32>,
    /// How thick the wall is around there, mm: within 10 mm, all of the surface but [`SoundLimits::speck_mm2`] lies over
    /// a wall no thinner.
    pub thickness_mm: f64,
    /// Surface around there over a wall thinner than [`SoundLimits::thin_mm`], mm².
    pub thin_mm2: f64,
}

/// The thickness of the material, measured inward from the surface along its normal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Walls {
    /// Spots of the surface that were measured.
    pub spots: usize,
    /// Where the wall is thinnest; none where no ray came out again, as of a surface that is open or inside out.
    pub least: Option<WallPlace>,
    /// Share of the surface, 0 to 1, over a wall thinner than [`SoundLimits::thin_mm`].
    pub thin_share: f64,
    /// Share of the surface, 0 to 1, over a wall thinner than [`SoundLimits::least_mm`].
    pub too_thin_share: f64,
    /// How many places have a wall thinner than [`SoundLimits::least_mm`].
    pub too_thin_places: usize,
    /// Where the wall is thinner than [`SoundLimits::thin_mm`], at least 10 mm apart, the thinnest first.
    pub places: Vec<WallPlace>,
}

impl Walls {
    /// Sums up what was measured.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub(super) fn of(mut spots: Vec<Spot>, limits: &SoundLimits, job: &Job) -> Result<Self, Cancelled> {
        // Equals stay in the order of the pieces.
        spots.par_sort_by(|a, b| a.thickness_mm.total_cmp(&b.thickness_mm));
        job.check()?;
        let (least, places) = thinnest(&spots, limits, job)?;
        let whole: f64 = spots.iter().map(|spot| spot.area_mm2).sum();
        let share_under = |limit_mm: f64| {
            let under = spots.iter().take_while(|spot| spot.thickness_mm < limit_mm);
            under.fold(0.0, |sum, spot| sum + spot.area_mm2 / whole)
        };
        Ok(Self {
            spots: spots.len(),
            least,
            thin_share: share_under(limits.thin_mm),
            too_thin_share: share_under(limits.least_mm),
            too_thin_places: places.iter().filter(|p| p.thickness_mm < limits.least_mm).count(),
            places: places.into_iter().take(limits.places).collect(),
        })
    }
}

/// The thinnest place of all, and all that are thin, the thinnest first, of spots that come so too. The thickness of a
/// place is the one that takes its surface beyond a speck.
fn thinnest(spots: &[Spot], limits: &SoundLimits, job: &Job) -> Result<(Option<WallPlace>, Vec<WallPlace>), Cancelled> {
    let thin_mm = limits.thin_mm.max(limits.least_mm);
    let mut every = Every::new(job, 4096);
    let mut clusters = Clusters::new();
    let mut around: Vec<WallPlace> = Vec::new();
    let mut area_mm2: Vec<f64> = Vec::new();
    // Clusters that are more than a speck, in the order in which they became so.
    let mut order: Vec<usize> = Vec::new();
    for spot in spots.iter().take_while(|spot| spot.thickness_mm.is_finite()) {
        every.tick()?;
        if spot.thickness_mm >= thin_mm && !order.is_empty() {
            break;
        }
        let number = clusters.of(&spot.at);
        if number == around.len() {
            around.push(WallPlace { at: spot.at, thickness_mm: spot.thickness_mm, thin_mm2: 0.0 });
            area_mm2.push(0.0);
        }
        let was_speck = area_mm2[number] <= limits.speck_mm2;
        area_mm2[number] += spot.area_mm2;
        if spot.thickness_mm < limits.thin_mm {
            around[number].thin_mm2 += spot.area_mm2;
        }
        if was_speck && area_mm2[number] > limits.speck_mm2 {
            around[number].thickness_mm = spot.thickness_mm;
            order.push(number);
        }
    }
    // A body that is no more than a speck as a whole has a wall all the same.
    let least = order.first().map(|number| &around[*number]).or(around.first()).cloned();
    let places = order.into_iter().map(|number| around[number].clone()).filter(|p| p.thickness_mm < thin_mm);
    Ok((least, places.collect()))
}
