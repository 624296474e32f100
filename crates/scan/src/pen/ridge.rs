//! Where the skin looks like the middle of a line: a strip of ink with skin on both sides.

use mesh::{Cancelled, Job, SpatialHash};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::skin_graph::SkinGraph;

/// A point in the middle of a line.
#[derive(Debug, Clone, Copy)]
pub(super) struct RidgePoint {
    /// The vertex at which it was found, beside the middle.
    pub vertex: u32,
    /// On the skin, moved into the middle of the ink.
    pub at: Point3<f32>,
    /// Unit direction of the line, of either sign.
    pub along: Vector3<f32>,
    /// Outward unit normal of the skin.
    pub normal: Vector3<f32>,
    /// Contrast in the middle of the line.
    pub ink: f32,
    /// By how much the middle stands out against the more ink-like of its two sides.
    pub strength: f32,
    /// Spread of the skin's contrast here; see [`Contrast`](super::contrast::Contrast).
    pub spread: f32,
}

const DIRECTIONS: usize = 12;
/// Half widths that are tried, mm: lines from about 1.5 to 5 mm.
const HALF_WIDTHS_MM: [f32; 3] = [0.9, 1.5, 2.4];
const HALF_LENGTH_MM: f32 = 4.0;
const EDGE_MM: f32 = 0.5;
const SIDE_MM: f32 = 2.6;
const REACH_MM: f32 = 6.2;
/// Contrast below this may just be uneven skin.
const LEAST_CONTRAST: f32 = 0.07;

/// How far apart ridge points are set, mm.
pub(super) fn ridge_spacing_mm(graph: &SkinGraph) -> f32 {
    (1.2 * graph.spacing_mm).max(1.8)
}

/// Sets ridge points along everything that looks like a line, strongest first, about [`ridge_spacing_mm`] apart.
pub(super) fn ridge_points(
    graph: &SkinGraph,
    inked: &[f32],
    spread: &[f32],
    job: &Job,
) -> Result<Vec<RidgePoint>, Cancelled> {
    let seeds: Vec<u32> = (0..graph.len() as u32)
        .filter(|v| inked[*v as usize] > (1.5 * spread[*v as usize]).max(LEAST_CONTRAST))
        .collect();
    let mut found: Vec<(u32, RidgePoint)> = seeds
        .par_iter()
        .map_init(
            || (graph.visits(), Vec::new(), Vec::new()),
            |(visits, disc, flat), v| {
                job.check()?;
                graph.disc(*v, REACH_MM, visits, disc);
                Ok(line_at(graph, inked, spread, *v, disc, flat).map(|b| (*v, b)))
            },
        )
        .filter_map(Result::transpose)
        .collect::<Result<_, Cancelled>>()?;
    found.sort_by(|a, b| b.1.strength.total_cmp(&a.1.strength).then(a.0.cmp(&b.0)));
    Ok(thin(found.into_iter().map(|(_, b)| b), ridge_spacing_mm(graph)))
}

/// A nearby vertex seen along the normal: its two coordinates, contrast, area.
type Flat = [f32; 4];

fn line_at(
    graph: &SkinGraph,
    inked: &[f32],
    spread: &[f32],
    v: u32,
    disc: &[u32],
    flat: &mut Vec<Flat>,
) -> Option<RidgePoint> {
    let normal = graph.normals[v as usize];
    let origin = graph.point(v);
    let first = normal
        .cross(&Vector3::x_axis())
        .try_normalize(0.3)
        .or_else(|| normal.cross(&Vector3::y_axis()).try_normalize(0.0))?;
    let second = normal.cross(&first);
    flat.clear();
    flat.extend(disc.iter().filter(|w| !graph.unseen[**w as usize]).map(|w| {
        let d = graph.point(*w) - origin;
        [d.dot(&first), d.dot(&second), inked[*w as usize], graph.area_mm2[*w as usize]]
    }));

    let mut best: Option<(f32, f32, f32, f32, f32)> = None;
    for k in 0..DIRECTIONS {
        let turn = std::f32::consts::PI * k as f32 / DIRECTIONS as f32;
        let (sin, cos) = turn.sin_cos();
        for half_width in HALF_WIDTHS_MM {
            let Some((strength, ink, count)) = stand_out(flat, sin, cos, half_width) else { continue };
            let score = strength * count.min(30.0).sqrt();
            if best.is_none_or(|b| score > b.0) {
                best = Some((score, strength, ink, turn, half_width));
            }
        }
    }
    let (_, strength, ink, turn, half_width) = best?;
    if strength < (2.0 * spread[v as usize]).max(LEAST_CONTRAST) {
        return None;
    }
    let (sin, cos) = turn.sin_cos();
    let across = middle_across(flat, sin, cos, half_width, ink);
    Some(RidgePoint {
        vertex: v,
        at: origin + (second * cos - first * sin) * across,
        along: first * cos + second * sin,
        normal,
        ink,
        strength,
        spread: spread[v as usize],
    })
}

/// Contrast of a strip against the more ink-like of its two sides, its own contrast, and its number of vertices.
fn stand_out(flat: &[Flat], sin: f32, cos: f32, half_width: f32) -> Option<(f32, f32, f32)> {
    let (mut sum, mut count) = ([0.0_f32; 3], [0.0_f32; 3]);
    for [a, b, c, _] in flat {
        let (x, y) = (a * cos + b * sin, b * cos - a * sin);
        if x.abs() > HALF_LENGTH_MM {
            continue;
        }
        let beyond = y.abs() - half_width;
        let part = if beyond <= 0.0 {
            0
        } else if (EDGE_MM..=EDGE_MM + SIDE_MM).contains(&beyond) {
            if y > 0.0 { 1 } else { 2 }
        } else {
            continue;
        };
        sum[part] += c;
        count[part] += 1.0;
    }
    (count[0] >= 2.0 && count[1] >= 2.0 && count[2] >= 2.0).then(|| {
        let ink = sum[0] / count[0];
        (ink - (sum[1] / count[1]).max(sum[2] / count[2]), ink, count[0])
    })
}

/// How far across the line its middle lies: the centroid of contrast times area in a short window.
fn middle_across(flat: &[Flat], sin: f32, cos: f32, half_width: f32, ink: f32) -> f32 {
    let mut middle = 0.0;
    for _ in 0..3 {
        let (mut sum, mut weight) = (0.0, 0.0);
        for [a, b, c, area] in flat {
            let (x, y) = (a * cos + b * sin, b * cos - a * sin);
            if x.abs() <= 2.5 && (y - middle).abs() <= half_width + 1.2 {
                let w = (c / ink - 0.3).clamp(0.0, 0.7) * area;
                sum += w * y;
                weight += w;
            }
        }
        if weight <= 0.0 {
            break;
        }
        middle = sum / weight;
    }
    middle
}

/// Keeps a point unless one that came before lies within `spacing_mm` on the same side of the skin.
fn thin(ridge_points: impl Iterator<Item = RidgePoint>, spacing_mm: f32) -> Vec<RidgePoint> {
    let mut kept: Vec<RidgePoint> = Vec::new();
    let mut hash = SpatialHash::new(spacing_mm);
    for point in ridge_points {
        let free = hash.candidates(&point.at).all(|i| {
            let other = &kept[i as usize];
            (other.at - point.at).norm_squared() > spacing_mm * spacing_mm || other.normal.dot(&point.normal) < 0.0
        });
        if free {
            hash.add(point.at);
            kept.push(point);
        }
    }
    kept
}
