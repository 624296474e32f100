//! Points out of all proportion to the limb: a scanner that lost track, or something else in the room.

use mesh::{Adjacency, Cancelled, Job, Mesh, repair};
use nalgebra::{Point3, Vector3};

use crate::{Crop, ScanError, Unit};

/// A point farther from the middle than this many times the median distance is an outlier. Even a scan whose hand is
/// sampled far more finely than its forearm stays under 15.
const TIMES_THE_MEDIAN: f64 = 100.0;
/// So is every point beyond a jump of the sorted distances by this factor, if it lies outside nine in ten of the
/// limb's.
const LEAP: f64 = 5.0;
/// A connected component with this share of all triangles is taken for the limb; otherwise everything is.
const MAIN_SHARE: f64 = 0.25;

/// What [`drop_outliers`] took away.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Outliers {
    pub points: usize,
    pub triangles: usize,
    /// Triangles among them that form a surface of their own instead of spikes on the limb.
    pub apart: usize,
    /// How far the farthest point lay from the middle of the limb, in the file's unit.
    pub farthest: f64,
}

/// Drops the points that lie out of all proportion to the main connected component, and the triangles on them.
///
/// Middle and size are medians, so that outliers, however far, do not shift them. Only what lies inside the crops
/// counts for the main component. All coordinates must be finite.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub(crate) fn drop_outliers(mesh: &mut Mesh, crops: &[Crop], job: &Job) -> Result<Outliers, Cancelled> {
    let main = main_points(mesh, crops, job)?;
    let middle = Point3::from(Vector3::from_fn(|axis, _| {
        quantile(main.iter().map(|v| f64::from(mesh.points[*v as usize][axis])), 0.5)
    }));
    job.check()?;
    let distances: Vec<f64> = mesh.points.iter().map(|p| (p.cast::<f64>() - middle).norm()).collect();
    let of_main = |share| quantile(main.iter().map(|v| distances[*v as usize]), share);
    let median = of_main(0.5);
    if median <= 0.0 {
        return Ok(Outliers::default());
    }
    job.check()?;
    let limit = before_leap(&distances, of_main(0.9)).min(TIMES_THE_MEDIAN * median);
    let far = |v: u32| distances[v as usize] > limit;
    let mut found = Outliers { farthest: distances.iter().copied().fold(0.0, f64::max), ..Outliers::default() };
    let keep: Vec<bool> = mesh.triangles.iter().map(|t| !t.iter().any(|v| far(*v))).collect();
    found.triangles = keep.iter().filter(|k| !**k).count();
    found.points = distances.iter().filter(|d| **d > limit).count();
    job.check()?;
    found.apart = (0..keep.len())
        .filter(|t| {
            let [a, b, c] = mesh.corners(*t).map(|p| p.cast::<f64>());
            let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm());
            mesh.triangles[*t].iter().all(|v| far(*v)) && longest <= limit
        })
        .count();
    if found.triangles > 0 {
        repair::keep_triangles(mesh, &keep);
    }
    Ok(found)
}

/// The largest distance before the first jump beyond `from`; infinite without one.
fn before_leap(distances: &[f64], from: f64) -> f64 {
    let mut beyond: Vec<f64> = distances.iter().copied().filter(|d| *d >= from).collect();
    beyond.sort_unstable_by(f64::total_cmp);
    beyond.windows(2).find(|pair| pair[1] > LEAP * pair[0]).map_or(f64::INFINITY, |pair| pair[0])
}

/// Points of the component with the most triangles inside the crops; of all triangles where none stands out.
fn main_points(mesh: &Mesh, crops: &[Crop], job: &Job) -> Result<Vec<u32>, Cancelled> {
    let inside: Vec<bool> = mesh.points.iter().map(|p| crops.iter().all(|crop| crop.holds(&p.cast()))).collect();
    let adjacency = Adjacency::build(mesh, job)?;
    job.check()?;
    let (component, count) = adjacency.connected_components();
    job.check()?;
    let mut sizes = vec![0_usize; count];
    let mut all = 0_usize;
    for (t, corners) in mesh.triangles.iter().enumerate() {
        if corners.iter().all(|v| inside[*v as usize]) {
            sizes[component[t] as usize] += 1;
            all += 1;
        }
    }
    let most = sizes.iter().copied().max().unwrap_or(0);
    let main = (most as f64 >= MAIN_SHARE * all as f64).then(|| sizes.iter().position(|n| *n == most)).flatten();
    let mut used = vec![false; mesh.points.len()];
    for (t, corners) in mesh.triangles.iter().enumerate() {
        if main.is_none_or(|main| component[t] as usize == main) {
            corners.iter().for_each(|v| used[*v as usize] = true);
        }
    }
    let main: Vec<u32> = (0..used.len() as u32).filter(|v| used[*v as usize] && inside[*v as usize]).collect();
    Ok(if main.is_empty() { (0..used.len() as u32).filter(|v| used[*v as usize]).collect() } else { main })
}

/// The value below which `share` of the values lie; 0 without any.
fn quantile(values: impl Iterator<Item = f64>, share: f64) -> f64 {
    let mut sorted: Vec<f64> = values.collect();
    if sorted.is_empty() {
        return 0.0;
    }
    let rank = ((sorted.len() - 1) as f64 * share) as usize;
    *sorted.select_nth_unstable_by(rank, f64::total_cmp).1
}

/// Refuses a scan that is smaller than a millimetre or larger than `most_mm`: no unit makes it a limb, and single
/// precision could not hold its points in millimetres.
///
/// # Errors
/// [`ScanError::OutOfProportion`].
pub(crate) fn check_size(mesh: &Mesh, unit: Unit, most_mm: f64) -> Result<(), ScanError> {
    let longest_mm = longest_side(mesh.points.iter().copied()) * unit.mm();
    if (1.0..=most_mm).contains(&longest_mm) {
        Ok(())
    } else {
        Err(ScanError::OutOfProportion { longest_mm, unit: unit.name() })
    }
}

/// Longest side of the box round points; 0 without any.
pub(crate) fn longest_side(points: impl Iterator<Item = Point3<f32>>) -> f64 {
    let empty = (Vector3::repeat(f64::INFINITY), Vector3::repeat(f64::NEG_INFINITY));
    let (low, high) = points.map(|p| p.coords.cast::<f64>()).fold(empty, |(lo, hi), p| (lo.inf(&p), hi.sup(&p)));
    (high - low).max().max(0.0)
}
