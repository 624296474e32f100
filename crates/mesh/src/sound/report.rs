//! The proof that a solid is sound, or what is wrong with it and where.

use nalgebra::Point3;
use serde::{Deserialize, Serialize};

use super::edges::turns_deg;
use super::pieces::{Cutting, KEEN_DEG};
use super::spots::spots;
use super::{SharpEdges, SoundLimits, Spikes, Walls};
use crate::{Adjacency, Bvh, Cancelled, Job, Mesh, Place};

/// What was measured, and the limits that it was measured by.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SoundReport {
    /// The limits.
    pub limits: SoundLimits,
    /// How thick the material is.
    pub walls: Walls,
    /// Edges over [`SoundLimits::sharp_deg`], folds among them.
    pub sharp: SharpEdges,
    /// Edges over [`SoundLimits::fold_deg`].
    pub folds: SharpEdges,
    /// Vertices drawn out to needles.
    pub spikes: Spikes,
}

/// Measures how sound `mesh` is, which should be a solid ([`crate::solid::check`]); looks at the cancel flag every few
/// thousand triangles.
///
/// # Errors
/// [`Cancelled`] when the job was.
pub fn sound(mesh: &Mesh, limits: &SoundLimits, job: &Job) -> Result<SoundReport, Cancelled> {
    Ok(sound_and_faulty(mesh, limits, job)?.0)
}

/// As [`sound`], and every place that is beyond the limits, where the report names one in ten millimetres: spots of thin
/// walls, middles of sharp edges and folds, tips of spikes. Empty where the mesh is sound.
///
/// # Errors
/// [`Cancelled`] when the job was.
pub fn sound_and_faulty(
    mesh: &Mesh,
    limits: &SoundLimits,
    job: &Job,
) -> Result<(SoundReport, Vec<Point3<f32>>), Cancelled> {
    let from_deg = limits.sharp_deg.min(limits.fold_deg).min(KEEN_DEG);
    let shape = || {
        let adjacency = Adjacency::build(mesh, job)?;
        let turns = turns_deg(mesh, &adjacency, from_deg, job)?;
        let over = |limit_deg| SharpEdges::over(limit_deg, mesh, &adjacency, &turns, limits.places, job);
        let (sharp, folds) = (over(limits.sharp_deg)?, over(limits.fold_deg)?);
        let spikes = Spikes::find(mesh, &adjacency, limits, job)?;
        let cutting = Cutting::new(mesh, turns, job)?;
        let pieces = cutting.all(job)?;
        Ok((sharp, folds, spikes, cutting, pieces))
    };
    let (shape, tree) = rayon::join(shape, || Bvh::build(mesh, job));
    let ((sharp, folds, spikes, cutting, pieces), tree) = (shape?, tree?);
    let spots = spots(mesh, &tree, &cutting, &pieces, limits, job)?;
    let ((sharp, edges), (folds, folded), (spikes, tips)) = (sharp, folds, spikes);
    let walls = Walls::of(spots.clone(), limits, job)?;
    let report = SoundReport { limits: limits.clone(), walls, sharp, folds, spikes };
    let thin_mm = match (report.thin(), report.least()) {
        (Some(_), _) => limits.thin_mm.max(limits.least_mm),
        (None, Some(_)) => limits.least_mm,
        (None, None) => 0.0,
    };
    let mut faulty: Vec<Point3<f32>> = spots.iter().filter(|s| s.thickness_mm < thin_mm).map(|s| s.at).collect();
    if report.sharp().is_some() {
        faulty.extend(edges);
    }
    faulty.extend(folded.into_iter().chain(tips));
    Ok((report, faulty))
}

impl SoundReport {
    /// Whether nothing is beyond the limits.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.faults().is_empty()
    }

    /// The worst place, where there is a fault: of what is folded over or a spike first, then of the thinnest wall, then of
    /// the longest sharp edge.
    #[must_use]
    pub fn worst(&self) -> Option<Point3<f32>> {
        let edge = |edges: &SharpEdges| edges.places.first().map(|place| place.at);
        let thin = || self.walls.places.first().or(self.walls.least.as_ref()).map(|place| place.at);
        edge(&self.folds)
            .or_else(|| self.spikes.places.first().map(|place| place.at))
            .or_else(|| self.least().or_else(|| self.thin()).and_then(|_| thin()))
            .or_else(|| self.sharp().and_then(|_| edge(&self.sharp)))
    }

    /// A sentence, with its place, for each kind of fault. Figures are rounded away from their limits.
    #[must_use]
    pub fn faults(&self) -> Vec<String> {
        [self.least(), self.thin(), self.sharp(), self.folds(), self.spikes()].into_iter().flatten().collect()
    }

    fn least(&self) -> Option<String> {
        let Some(least) = &self.walls.least else {
            return Some("No wall can be measured: the surface is empty, open or inside out.".into());
        };
        let limit = self.limits.least_mm;
        let elsewhere = match self.walls.too_thin_places {
            0 => return None,
            1 => String::new(),
            2 => format!(", and under {limit} mm at another place"),
            n => format!(", and under {limit} mm at {} other places", n - 1),
        };
        let thin = rounded_down(least.thickness_mm, 100.0);
        Some(format!("The wall is {thin} mm thin{}{elsewhere}.", placed(" at", Some(&least.at))))
    }

    fn thin(&self) -> Option<String> {
        let (share, limits) = (self.walls.thin_share, &self.limits);
        let percent = rounded_up(100.0 * share, 100.0);
        let worst = placed(", most of all near", self.walls.places.first().map(|p| &p.at));
        (share > limits.thin_share)
            .then(|| format!("{percent} % of the surface lies over a wall of less than {} mm{worst}.", limits.thin_mm))
    }

    fn sharp(&self) -> Option<String> {
        let (length, limits) = (rounded_up(self.sharp.length_mm, 10.0), &self.limits);
        let allowed = limits.sharp_mm + limits.asked_sharp_mm;
        let worst = placed(", most of all near", self.sharp.places.first().map(|p| &p.at));
        (self.sharp.length_mm > allowed).then(|| {
            format!(
                "{length} mm of edges turn by more than {} degrees, where {allowed} mm may{worst}.",
                limits.sharp_deg
            )
        })
    }

    fn folds(&self) -> Option<String> {
        let at = self.folds.places.first().map(|p| &p.at);
        match self.folds.count {
            0 => None,
            1 => Some(format!("An edge is folded over{}.", placed(" at", at))),
            n => Some(format!("{n} edges are folded over{}.", placed(", most of all near", at))),
        }
    }

    fn spikes(&self) -> Option<String> {
        let at = placed(" at", self.spikes.places.first().map(|p| &p.at));
        match self.spikes.count {
            0 => None,
            1 => Some(format!("There is a spike{at}.")),
            n => Some(format!("There are {n} spikes, the sharpest{at}.")),
        }
    }
}

/// Nothing where no place is named.
fn placed(words: &str, at: Option<&Point3<f32>>) -> String {
    at.map(|at| format!("{words} {} mm", Place::new(at, 1))).unwrap_or_default()
}

/// What falls short of a round number by rounding alone counts as that number.
fn rounded_down(x: f64, steps: f64) -> f64 {
    (x * steps + 1e-4).floor() / steps
}

fn rounded_up(x: f64, steps: f64) -> f64 {
    (x * steps - 1e-4).ceil() / steps
}
