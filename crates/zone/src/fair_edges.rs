//! The trim lines of a zone made fair.

use mesh::geodesic::{LineError, SurfaceLine, sides};
use mesh::{Cancelled, Hit, Job, Surface};
use nalgebra::{Point3, Vector3};
use serde::Serialize;

use crate::fair_line::{Allowance, FairLine, fair};
use crate::make::REACH_MM;
use crate::region_field::RegionField;

/// Beside a keep-clear region the line may swing this far in, so that it passes it in one smooth bay, mm.
const BAY_MM: f64 = 10.0;
/// That allowance fades out over this length of the line on both sides, mm.
const BAY_REACH_MM: f64 = 25.0;
/// The line follows a keep-clear region where it is this near to it, mm.
const FOLLOWS_MM: f64 = 0.3;

/// How fair trim lines lie to those that were drawn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Trim {
    /// Greatest distance from a drawn line, mm; that of bays past keep-clear regions is not counted.
    pub farthest_mm: f32,
    /// Radius of the tightest turn, mm.
    pub tightest_mm: f32,
}

/// What the fair line may not run over, as distances outside it at the vertices of the skin, mm.
pub(crate) struct OffLimits {
    /// The keep-clear regions; the line passes them in smooth bays.
    pub(crate) clear: Option<Vec<f32>>,
    /// The open ends of the scan.
    pub(crate) ends: Vec<f32>,
}

/// Makes the edges of `shape` fair within `tolerance_mm`. Edges that would cross themselves or each other, or that run
/// along a border of the scan, stay as they were drawn, and nothing comes back.
pub(crate) fn fair_edges(
    skin: &Surface,
    shape: &mut RegionField,
    off_limits: &OffLimits,
    tolerance_mm: f32,
    job: &Job,
) -> Result<Option<Trim>, Cancelled> {
    shape.measure(skin, REACH_MM, job)?;
    let Some(drawn) = shape.lines.clone().filter(|lines| lines.iter().all(|line| line.closed)) else { return Ok(None) };
    let mut trim = Trim { farthest_mm: 0.0, tightest_mm: f32::INFINITY };
    let mut lines = Vec::with_capacity(drawn.len());
    for line in &drawn {
        let found = fair_one(skin, line, off_limits, f64::from(tolerance_mm), &mut trim, job)?;
        let through: Vec<Point3<f32>> = found.points.iter().map(|p| p.cast()).collect();
        match SurfaceLine::lay(skin, &through, true, job) {
            Ok(laid) => lines.push(laid),
            Err(LineError::Cancelled(cancelled)) => return Err(cancelled),
            Err(_) => return Ok(None),
        }
    }
    if SurfaceLine::first_crossing(skin, &lines).is_some() {
        return Ok(None);
    }
    let Some(within) = sides(skin, &lines, job)? else { return Ok(None) };
    // The deepest vertex stays inside; all others follow from the lines.
    let deepest = (0..within.len()).max_by(|a, b| shape.field[*a].total_cmp(&shape.field[*b])).unwrap_or(0);
    let inside = within.get(deepest).copied().unwrap_or(true);
    shape.field = within.iter().map(|side| if *side == inside { 0.0 } else { -1.0 }).collect();
    shape.lines = Some(lines);
    Ok(Some(trim))
}

fn fair_one(
    skin: &Surface,
    line: &SurfaceLine,
    off_limits: &OffLimits,
    tolerance_mm: f64,
    trim: &mut Trim,
    job: &Job,
) -> Result<FairLine, Cancelled> {
    let drawn: Vec<Point3<f64>> = line.points.iter().map(|p| p.cast()).collect();
    let mut seed = None;
    let hits: Vec<Option<Hit>> = line
        .points
        .iter()
        .map(|p| {
            let hit = skin.nearest(p, seed);
            seed = hit.map(|hit| hit.triangle);
            hit
        })
        .collect();
    let outside = |of: &[f32]| -> Vec<f64> {
        hits.iter().map(|hit| hit.map_or(0.0, |hit| f64::from(skin.interpolate(of, &hit)))).collect()
    };
    let ends = outside(&off_limits.ends);
    let clear = off_limits.clear.as_deref().map_or_else(|| vec![f64::INFINITY; drawn.len()], outside);
    let along = along_to(&drawn, |i| clear[i] < FOLLOWS_MM);
    let allowed: Vec<Allowance> = (0..drawn.len())
        .map(|i| Allowance {
            inside_mm: tolerance_mm + (BAY_MM - tolerance_mm).max(0.0) * (1.0 - along[i] / BAY_REACH_MM).max(0.0),
            outside_mm: tolerance_mm.min(ends[i]).min(clear[i]).max(0.0),
        })
        .collect();
    let on_skin = |seed: &mut Option<u32>, p: &Point3<f64>| match skin.nearest(&p.cast(), *seed) {
        Some(hit) => {
            *seed = Some(hit.triangle);
            (hit.point.cast(), skin.normal_at(&hit).cast())
        }
        None => (*p, Vector3::z()),
    };
    let found = fair(&drawn, &allowed, on_skin, job)?;
    let off_bays = found.away.iter().filter(|(segment, _)| along[*segment] >= BAY_REACH_MM).map(|(_, away)| *away);
    trim.farthest_mm = trim.farthest_mm.max(off_bays.fold(0.0, f64::max) as f32);
    trim.tightest_mm = trim.tightest_mm.min(found.tightest_mm as f32);
    Ok(found)
}

/// The length of a closed line from each of its points to the nearest that satisfies `is_wanted`, either way along it.
fn along_to(line: &[Point3<f64>], is_wanted: impl Fn(usize) -> bool) -> Vec<f64> {
    let n = line.len();
    let mut along = vec![f64::INFINITY; n];
    // Twice round, so that what lies before the first point counts as well.
    for forward in [true, false] {
        let mut since = f64::INFINITY;
        for step in 0..2 * n {
            let (i, before) =
                if forward { (step % n, (step + n - 1) % n) } else { (n - 1 - step % n, (2 * n - step) % n) };
            since = if is_wanted(i) { 0.0 } else { since + (line[i] - line[before]).norm() };
            along[i] = along[i].min(since);
        }
    }
    along
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_along_a_closed_line_are_the_shorter_way_round() {
        let square = [[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]].map(|[x, y]| Point3::new(x, y, 0.0));
        assert_eq!(along_to(&square, |i| i == 1), [4.0, 0.0, 3.0, 7.0]);
        assert_eq!(along_to(&square, |i| i == 0), [0.0, 4.0, 7.0, 3.0]);
        assert!(along_to(&square, |_| false).iter().all(|along| along.is_infinite()));
    }
}
