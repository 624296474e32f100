//! The trim lines of a zone made fair.

use mesh::geodesic::{LineError, SurfaceLine, sides};
use mesh::{Cancelled, Hit, Job, Surface};
use nalgebra::{Point3, Vector3};
use serde::Serialize;

use crate::EdgePull;
use crate::fair_line::{Allowance, FairLine, fair};
use crate::make::REACH_MM;
use crate::region_field::RegionField;
use crate::trim;

/// Beside a keep-clear region the line may swing this far in, so that it passes it in one smooth bay, mm.
const BAY_MM: f64 = 10.0;
/// That allowance fades out over this length of the line on both sides, mm.
const BAY_REACH_MM: f64 = 25.0;
/// The line follows a keep-clear region where it is this near to it, mm.
const FOLLOWS_MM: f64 = 0.3;
/// A pulled edge may leave its place by this much to become fair again, mm.
const AGAIN_MM: f64 = 0.4;

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

impl OffLimits {
    /// Whether a line may run here.
    fn is_free(&self, skin: &Surface, at: &Hit) -> bool {
        let fields = [Some(&self.ends), self.clear.as_ref()];
        fields.into_iter().flatten().all(|field| skin.interpolate(field, at) >= 0.0)
    }
}

/// What is to be made of the edges of a zone.
pub(crate) struct Wanted<'a> {
    /// How far they may leave what was drawn to become fair, mm; 0 leaves them as drawn.
    pub(crate) tolerance_mm: f32,
    /// Where they are pulled, in this order.
    pub(crate) pulls: &'a [EdgePull],
}

/// Makes the edges of `shape` fair and pulls them. Edges that would cross themselves or each other, or that run along a
/// border of the scan, stay as they were drawn, and nothing comes back; of pulled ones only the pulls are left out.
/// `notices` says so.
pub(crate) fn fair_edges(
    skin: &Surface,
    shape: &mut RegionField,
    off_limits: &OffLimits,
    wanted: &Wanted<'_>,
    notices: &mut Vec<String>,
    job: &Job,
) -> Result<Option<Trim>, Cancelled> {
    let tolerance_mm = f64::from(wanted.tolerance_mm);
    let mut fair = tolerance_mm > 0.0;
    shape.measure(skin, REACH_MM, job)?;
    let drawn = shape.lines.clone().filter(|lines| lines.iter().all(|line| line.closed)).unwrap_or_default();
    let mut trim = Trim { farthest_mm: 0.0, tightest_mm: f32::INFINITY };
    let mut lines: Vec<Vec<Point3<f32>>> = Vec::with_capacity(drawn.len());
    for line in drawn {
        if fair {
            let (found, farthest_mm) = fair_one(skin, &line.points, off_limits, tolerance_mm, job)?;
            trim.farthest_mm = trim.farthest_mm.max(farthest_mm as f32);
            trim.tightest_mm = trim.tightest_mm.min(found.tightest_mm as f32);
            lines.push(found.points.iter().map(|p| p.cast()).collect());
        } else {
            lines.push(line.points);
        }
    }
    let depth_mm = shape.field.clone();
    if fair && !set(skin, shape, &depth_mm, &lines, job)? {
        let why = "the edge was kept as drawn, because a fair one would cross itself or leave the skin";
        notices.push(why.to_owned());
        lines = shape.lines.iter().flatten().filter(|line| line.closed).map(|line| line.points.clone()).collect();
        fair = false;
    }
    if !wanted.pulls.is_empty() {
        let again_mm = if fair { AGAIN_MM.min(tolerance_mm) } else { 0.0 };
        let pulled = pull_edges(skin, shape, &depth_mm, off_limits, lines, wanted.pulls, again_mm, notices, job)?;
        if let Some(tightest_mm) = pulled {
            trim.tightest_mm = trim.tightest_mm.min(tightest_mm);
        }
    }
    Ok(fair.then_some(trim))
}

/// Pulls the edges, which run as `lines`, and makes them fair again within `again_mm`; radius of the tightest turn of
/// those that were, mm.
#[allow(clippy::too_many_arguments)] // One step of the function above.
fn pull_edges(
    skin: &Surface,
    shape: &mut RegionField,
    depth_mm: &[f32],
    off_limits: &OffLimits,
    mut lines: Vec<Vec<Point3<f32>>>,
    pulls: &[EdgePull],
    again_mm: f64,
    notices: &mut Vec<String>,
    job: &Job,
) -> Result<Option<f32>, Cancelled> {
    let mut touched = vec![false; lines.len()];
    let mut missed = 0;
    for pull in pulls {
        job.check()?;
        match trim::apply(skin, &mut lines, pull, |at| off_limits.is_free(skin, at)) {
            Some(n) => touched[n] = true,
            None => missed += 1,
        }
    }
    let pulls_of = |count: usize| if count == 1 { "1 pull".to_owned() } else { format!("{count} pulls") };
    if missed > 0 {
        notices.push(format!(
            "{} of the trim line no longer {} an edge within {:.0} mm and {} nothing",
            pulls_of(missed),
            if missed == 1 { "meets" } else { "meet" },
            trim::HOLDS_MM,
            if missed == 1 { "changes" } else { "change" },
        ));
    }
    let mut tightest_mm = f32::INFINITY;
    for (line, _) in lines.iter_mut().zip(&touched).filter(|(_, touched)| **touched && again_mm > 0.0) {
        let (found, _) = fair_one(skin, line, off_limits, again_mm, job)?;
        tightest_mm = tightest_mm.min(found.tightest_mm as f32);
        *line = found.points.iter().map(|p| p.cast()).collect();
    }
    if touched.contains(&true) && !set(skin, shape, depth_mm, &lines, job)? {
        let left_out = pulls_of(pulls.len() - missed);
        notices
            .push(format!("{left_out} of the trim line left out, because the edge would cross itself; pull it less"));
        return Ok(None);
    }
    Ok(tightest_mm.is_finite().then_some(tightest_mm))
}

/// Lays closed lines on the skin and makes them the edges of `shape`, which lay `depth_mm` inside its own; false, and
/// nothing changed, where they cross or have no inside.
fn set(
    skin: &Surface,
    shape: &mut RegionField,
    depth_mm: &[f32],
    lines: &[Vec<Point3<f32>>],
    job: &Job,
) -> Result<bool, Cancelled> {
    let mut laid = Vec::with_capacity(lines.len());
    for line in lines {
        match SurfaceLine::lay(skin, line, true, job) {
            Ok(line) => laid.push(line),
            Err(LineError::Cancelled(cancelled)) => return Err(cancelled),
            Err(_) => return Ok(false),
        }
    }
    if laid.is_empty() || SurfaceLine::first_crossing(skin, &laid).is_some() {
        return Ok(false);
    }
    let Some(within) = sides(skin, &laid, job)? else { return Ok(false) };
    // Inside is where it was, for most of the skin.
    let inside = mean_where(depth_mm, &within, true) > mean_where(depth_mm, &within, false);
    shape.field = within.iter().map(|side| if *side == inside { 0.0 } else { -1.0 }).collect();
    shape.lines = Some(laid);
    Ok(true)
}

/// The mean of the values where a side is this one; none is less than all others.
fn mean_where(values: &[f32], sides: &[bool], side: bool) -> f64 {
    let mut sum = (0.0, 0.0);
    for (value, _) in values.iter().zip(sides).filter(|(_, found)| **found == side) {
        sum = (sum.0 + f64::from(*value), sum.1 + 1.0);
    }
    if sum.1 > 0.0 { sum.0 / sum.1 } else { f64::NEG_INFINITY }
}

/// A closed line made fair, and how far it then is from where it was, mm, bays past keep-clear regions left out.
fn fair_one(
    skin: &Surface,
    line: &[Point3<f32>],
    off_limits: &OffLimits,
    tolerance_mm: f64,
    job: &Job,
) -> Result<(FairLine, f64), Cancelled> {
    let drawn: Vec<Point3<f64>> = line.iter().map(|p| p.cast()).collect();
    let mut seed = None;
    let hits: Vec<Option<Hit>> = line
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
    let farthest_mm = off_bays.fold(0.0, f64::max);
    Ok((found, farthest_mm))
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
