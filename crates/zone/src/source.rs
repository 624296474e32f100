//! From strokes, outlines and lines to a shape on the skin.

use mesh::geodesic::{LineError, SurfaceLine, WeightedPoint, distance_from_points, sides};
use mesh::{Hit, Job, Surface};
use nalgebra::Point3;

use crate::region_field::RegionField;
use crate::{Dab, Source, ZoneError};

/// A given point may lie this far from the skin: a line may have been drawn before the skin was cleaned.
const OFF_SKIN_MM: f32 = 15.0;
/// A loop shorter than this in which a drawn line crosses itself is cut off; a longer one is an error.
const LOOP_MM: f64 = 6.0;

/// All sources of one region, joined in their order.
pub(crate) fn join(
    skin: &Surface,
    sources: &[Source],
    what: &str,
    notices: &mut Vec<String>,
    job: &Job,
) -> Result<RegionField, ZoneError> {
    let mut shape = RegionField::nothing(skin);
    for (i, source) in sources.iter().enumerate() {
        match source {
            Source::Strokes { dabs } => paint(skin, &mut shape, dabs, what, job)?,
            Source::Outline { corners_mm: points, inside_mm } | Source::Line { points_mm: points, inside_mm } => {
                let kind = if matches!(source, Source::Line { .. }) { "line" } else { "outline" };
                let name = format!("{kind} of the {what}");
                let found = enclosed(skin, points, *inside_mm, &name, notices, job)?;
                if i == 0 {
                    shape = found;
                } else {
                    shape.add(&found.field);
                }
            }
        }
    }
    if shape.is_empty() {
        let why = if sources.is_empty() {
            "nothing was painted or drawn; paint or draw on the skin what is to be covered"
        } else {
            "it contains no point of the skin; make it larger or move it"
        };
        return Err(ZoneError::Empty { what: what.to_owned(), why: why.to_owned() });
    }
    Ok(shape)
}

fn paint(skin: &Surface, shape: &mut RegionField, dabs: &[Dab], what: &str, job: &Job) -> Result<(), ZoneError> {
    for run in dabs.chunk_by(|a, b| a.remove == b.remove) {
        let largest = run.iter().map(|d| d.radius_mm).fold(0.0, f32::max);
        let points = run
            .iter()
            .map(|d| {
                Ok(WeightedPoint {
                    at: on_skin(skin, &d.at_mm, &format!("A dab of the {what}"))?,
                    start_mm: largest - d.radius_mm,
                })
            })
            .collect::<Result<Vec<_>, ZoneError>>()?;
        // 4 mm beyond the largest disc, so that both ends of each edge that its rim cuts are measured.
        let distance = distance_from_points(skin, &points, largest + 4.0, job)?;
        let inside = distance.iter().map(|d| largest - d);
        if run[0].remove {
            shape.keep(inside.map(|d| -d));
            shape.lines = None;
        } else {
            shape.add(&inside.collect::<Vec<_>>());
        }
    }
    Ok(())
}

pub(crate) fn on_skin(skin: &Surface, p: &Point3<f32>, what: &str) -> Result<Hit, ZoneError> {
    let hit = skin.nearest(p, None).ok_or(ZoneError::NoSkin)?;
    let distance_mm = hit.distance2.sqrt();
    if distance_mm > OFF_SKIN_MM {
        return Err(ZoneError::OffSkin { what: what.to_owned(), at: *p, distance_mm, limit_mm: OFF_SKIN_MM });
    }
    Ok(hit)
}

/// The side of a closed line that holds `inside`, or else the smaller one.
fn enclosed(
    skin: &Surface,
    points: &[Point3<f32>],
    inside: Option<Point3<f32>>,
    what: &str,
    notices: &mut Vec<String>,
    job: &Job,
) -> Result<RegionField, ZoneError> {
    for p in points {
        on_skin(skin, p, &format!("A point of the {what}"))?;
    }
    let named = |why: LineError| match why {
        LineError::Cancelled(c) => ZoneError::Cancelled(c),
        why => ZoneError::Line { what: what.to_owned(), why },
    };
    let mut line = SurfaceLine::lay(skin, points, true, job).map_err(named)?;
    cut_off_loops(skin, &mut line, what, notices, job)?;
    let first = line.points.first().copied().ok_or(ZoneError::NoSkin)?;
    let lines = [line];
    let mut within =
        sides(skin, &lines, job)?.ok_or_else(|| ZoneError::NoInside { what: what.to_owned(), at: first })?;
    let [mut line] = lines;
    job.check()?;
    let flip = match inside {
        Some(p) => {
            let seed = on_skin(skin, &p, &format!("The point inside the {what}"))?;
            !side_of(skin, &line, &within, &seed)
        }
        None => {
            let (this, all) = areas_cm2(skin, &within);
            let share = this / all;
            if (0.4..=0.6).contains(&share) {
                notices.push(format!(
                    "the {what} leaves {:.0} cm² on one side and {:.0} cm² on the other; the smaller was taken: give a \
                     point inside to be sure",
                    this.min(all - this),
                    this.max(all - this)
                ));
            }
            share > 0.5
        }
    };
    if flip {
        within.iter_mut().for_each(|w| *w = !*w);
    }
    if !inside_on_left(skin, &line, &within) {
        line = reversed(line);
    }
    let field = within.iter().map(|w| if *w { 0.0 } else { -1.0 }).collect();
    let mut shape = RegionField { field, lines: Some(vec![line]) };
    // 4 mm are enough to join it with others; the final measurement reaches farther.
    shape.measure(skin, 4.0, job)?;
    Ok(shape)
}

/// Cuts off the small loops in which a drawn line crosses itself.
fn cut_off_loops(
    skin: &Surface,
    line: &mut SurfaceLine,
    what: &str,
    notices: &mut Vec<String>,
    job: &Job,
) -> Result<(), ZoneError> {
    let mut cut = 0;
    while let Some(crossing) = SurfaceLine::first_crossing(skin, std::slice::from_ref(line)) {
        job.check()?;
        let [(_, i), (_, k)] = crossing.segments;
        let (i, k) = (i.min(k), i.max(k));
        let n = line.points.len();
        let length = |from: usize, to: usize| -> f64 {
            (from..to).map(|s| f64::from((line.points[(s + 1) % n] - line.points[s % n]).norm())).sum()
        };
        let (between, around) = (length(i, k), length(k, i + n));
        if between.min(around) > LOOP_MM {
            return Err(ZoneError::Crosses { what: what.to_owned(), at: crossing.at });
        }
        cut += 1;
        if between <= around {
            line.points.splice(i + 1..=k, [crossing.at]);
            line.triangles.drain(i + 1..=k);
        } else {
            // Keep the stretch between: from the crossing over i + 1 … k back to it.
            let mut points = vec![crossing.at];
            points.extend_from_slice(&line.points[i + 1..=k]);
            let mut triangles = vec![line.triangles[i]];
            triangles.extend_from_slice(&line.triangles[i + 1..=k]);
            (line.points, line.triangles) = (points, triangles);
        }
    }
    if cut > 0 {
        notices
            .push(format!("the {what} crossed itself in {cut} small loops under {LOOP_MM:.0} mm, which were cut off"));
    }
    Ok(())
}

fn reversed(mut line: SurfaceLine) -> SurfaceLine {
    // Segment i runs from point i to i + 1; backwards that is from n − 1 − i, so triangles shift by one.
    line.points.reverse();
    line.triangles.reverse();
    line.triangles.rotate_left(1);
    line
}

/// Whether `seed` lies on the side marked in `within`: the mark of a corner of its triangle, flipped at each crossing
/// of the line on the way to that corner.
fn side_of(skin: &Surface, line: &SurfaceLine, within: &[bool], seed: &Hit) -> bool {
    let corners = skin.mesh().triangles[seed.triangle as usize];
    let places = skin.mesh().corners(seed.triangle as usize).map(|p| p.cast::<f64>());
    let normal = skin.mesh().cross(seed.triangle as usize);
    let from = seed.point.cast::<f64>();
    // The corner with the largest weight, for a short way.
    let k = (0..3).max_by(|a, b| seed.weights[*a].total_cmp(&seed.weights[*b])).unwrap_or(0);
    let to = places[k];
    let side = |p: Point3<f64>, q: Point3<f64>, r: Point3<f64>| (q - p).cross(&(r - p)).dot(&normal) > 0.0;
    let crossings = line
        .segments()
        .filter(|s| s.2 == seed.triangle)
        .map(|(a, b, _)| (a.cast::<f64>(), b.cast::<f64>()))
        .filter(|(a, b)| side(from, to, *a) != side(from, to, *b) && side(*a, *b, from) != side(*a, *b, to))
        .count();
    within[corners[k] as usize] ^ (crossings % 2 == 1)
}

/// Area of the marked side and of the whole, each vertex standing for a third of its triangles.
fn areas_cm2(skin: &Surface, within: &[bool]) -> (f64, f64) {
    let mut sums = (0.0, 0.0);
    for (t, corners) in skin.mesh().triangles.iter().enumerate() {
        let area = 0.5 * skin.mesh().cross(t).norm() / 100.0;
        let marked = corners.iter().filter(|v| within[**v as usize]).count();
        sums.0 += area * marked as f64 / 3.0;
        sums.1 += area;
    }
    sums
}

/// Whether most of the line has the marked side on its left, seen from outside.
fn inside_on_left(skin: &Surface, line: &SurfaceLine, within: &[bool]) -> bool {
    let mut balance = 0.0;
    for (a, b, t) in line.segments() {
        let (a, b) = (a.cast::<f64>(), b.cast::<f64>());
        let normal = skin.mesh().cross(t as usize);
        for v in skin.mesh().triangles[t as usize] {
            let left = (b - a).cross(&(skin.mesh().points[v as usize].cast::<f64>() - a)).dot(&normal);
            balance += if within[v as usize] { left } else { -left };
        }
    }
    balance >= 0.0
}
