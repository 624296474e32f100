//! Vertices drawn out to needles.

use std::f64::consts::TAU;

use nalgebra::Point3;
use serde::{Deserialize, Serialize};

use super::SoundLimits;
use super::clusters::Clusters;
use crate::job::Every;
use crate::{Adjacency, Cancelled, Job, Mesh, NONE};

/// The tip of a needle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SpikePlace {
    /// The tip.
    pub at: Point3<f32>,
    /// How much of a full turn the angles round it lack, degrees: 360 for a needle without width.
    pub lacks_deg: f64,
}

/// Vertices at the tip of a needle, one that stands out or is sunk in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Spikes {
    /// How many.
    pub count: usize,
    /// Where they are, at least 10 mm apart, the sharpest first.
    pub places: Vec<SpikePlace>,
}

impl Spikes {
    /// Vertices whose angle defect, the discrete Gaussian curvature (2π less the angles of the triangles round the
    /// vertex: Meyer, Desbrun, Schröder and Barr 2003, "Discrete differential-geometry operators for triangulated
    /// 2-manifolds"), is above the limit, and the place of each. Vertices on an open or non-manifold edge have none.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub(super) fn find(
        mesh: &Mesh,
        adjacency: &Adjacency,
        limits: &SoundLimits,
        job: &Job,
    ) -> Result<(Self, Vec<Point3<f32>>), Cancelled> {
        let most = TAU - limits.spike_deg.to_radians();
        let lacks = job.each(mesh.points.len(), |v| {
            let sum = angles_round(mesh, adjacency, v as u32, most)?;
            Some((TAU - sum).to_degrees())
        })?;
        let spike = |(v, lacks): (usize, &Option<f64>)| Some(SpikePlace { at: mesh.points[v], lacks_deg: (*lacks)? });
        let mut spikes: Vec<SpikePlace> = lacks.iter().enumerate().filter_map(spike).collect();
        job.check()?;
        // Stable, so that equals stay in the order of the vertices.
        spikes.sort_by(|a, b| b.lacks_deg.total_cmp(&a.lacks_deg));
        let mut every = Every::new(job, 4096);
        let mut clusters = Clusters::new();
        let mut places: Vec<SpikePlace> = Vec::new();
        for spike in &spikes {
            every.tick()?;
            if clusters.of(&spike.at) == places.len() {
                places.push(spike.clone());
            }
        }
        places.truncate(limits.places);
        let tips = spikes.iter().map(|spike| spike.at).collect();
        Ok((Self { count: spikes.len(), places }, tips))
    }
}

/// Sum of the angles round a vertex, radians; none where it reaches `most`, or where the triangles do not close round it.
fn angles_round(mesh: &Mesh, adjacency: &Adjacency, v: u32, most: f64) -> Option<f64> {
    let around = adjacency.triangles_around(v);
    let mut sum = 0.0;
    for t in around {
        let t = *t as usize;
        let k = mesh.triangles[t].iter().position(|c| *c == v)?;
        // Mostly the second triangle ends it.
        sum += mesh.angle_at(t, k);
        let closed = adjacency.neighbours[t][k] != NONE && adjacency.neighbours[t][(k + 2) % 3] != NONE;
        // Written so that a sum that is no number is none.
        if !(closed && sum < most) {
            return None;
        }
    }
    (!around.is_empty()).then_some(sum)
}
