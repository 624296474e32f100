//! Which skin lies on which side of a closed line.

use mesh::{Cancelled, Job, SpatialHash};
use nalgebra::Point3;

use super::polyline::bounding_box;
use super::skin_graph::SkinGraph;

/// Vertices nearer than this to the line get their side from the line itself, the others from their neighbours, mm.
const BAND_MM: f32 = 4.0;

/// The skin on one side of a line.
#[derive(Debug, Clone, Copy)]
pub(super) struct SkinSide {
    pub area_mm2: f64,
    /// The vertex farthest from the line.
    pub middle: Point3<f32>,
    /// It reaches an end of the scan.
    pub reaches_end: bool,
}

/// Both sides of a closed line, left first (seen from outside, along the line); `None` if the line does not cut
/// the skin in two.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub(super) fn sides(graph: &SkinGraph, line: &[Point3<f32>], job: &Job) -> Result<Option<[SkinSide; 2]>, Cancelled> {
    Ok(part(graph, line, job)?.map(|parted| parted.sides))
}

/// A skin that a closed line cuts in two.
pub(super) struct Parted {
    /// Left first.
    pub sides: [SkinSide; 2],
    /// For each vertex 1 on the left and −1 on the right; 0 if the line does not reach its part of the scan.
    pub side_of: Vec<i8>,
}

impl Parted {
    /// Whether all points of a line lie on the left.
    pub fn all_on_left(&self, graph: &SkinGraph, line: &[Point3<f32>]) -> bool {
        line.iter().all(|p| graph.nearest_vertex(p).is_some_and(|v| self.side_of[v as usize] == 1))
    }
}

/// As [`sides`], with the side of each vertex.
pub(super) fn part(graph: &SkinGraph, line: &[Point3<f32>], job: &Job) -> Result<Option<Parted>, Cancelled> {
    let side_of = vertex_sides(graph, line, job)?;
    let mut seen = side_of.clone();
    let mut sides = [None, None];
    for (k, own) in [1_i8, -1].into_iter().enumerate() {
        let mut reached: Vec<u32> = (0..graph.len() as u32).filter(|v| side_of[*v as usize] == own).collect();
        let Some(first) = reached.first() else { return Ok(None) };
        let mut found = SkinSide { area_mm2: 0.0, middle: graph.point(*first), reaches_end: false };
        let mut at = 0;
        // Vertices are reached nearest first, so the last one connected with the line is the farthest.
        while at < reached.len() {
            job.check()?;
            let v = reached[at];
            found.area_mm2 += f64::from(graph.area_mm2[v as usize]);
            found.reaches_end |= graph.end_of_scan[v as usize];
            for &w in graph.neighbours(v) {
                if seen[w as usize] == 0 {
                    seen[w as usize] = own;
                    reached.push(w);
                } else if seen[w as usize] != own && side_of[w as usize] == 0 {
                    return Ok(None);
                }
            }
            at += 1;
        }
        found.middle = reached.last().map_or(found.middle, |v| graph.point(*v));
        sides[k] = Some(found);
    }
    let [left, right] = sides;
    Ok(left.zip(right).map(|(left, right)| Parted { sides: [left, right], side_of: seen }))
}

/// The skin inside a small closed line.
pub(super) struct Patch {
    pub side: SkinSide,
    pub vertices: Vec<u32>,
}

/// The skin on the left of a closed line if it is less than `most_mm2` and does not join the right.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub(super) fn patch(
    graph: &SkinGraph,
    line: &[Point3<f32>],
    most_mm2: f64,
    job: &Job,
) -> Result<Option<Patch>, Cancelled> {
    let mut side_of = vertex_sides(graph, line, job)?;
    let mut vertices: Vec<u32> = (0..graph.len() as u32).filter(|v| side_of[*v as usize] == 1).collect();
    let band = vertices.len();
    let (mut area_mm2, mut at) = (0.0, 0);
    while at < vertices.len() {
        job.check()?;
        let v = vertices[at];
        area_mm2 += f64::from(graph.area_mm2[v as usize]);
        if area_mm2 > most_mm2 || graph.end_of_scan[v as usize] {
            return Ok(None);
        }
        for &w in graph.neighbours(v) {
            match side_of[w as usize] {
                0 => {
                    side_of[w as usize] = 1;
                    vertices.push(w);
                }
                -1 if at >= band => return Ok(None),
                _ => {}
            }
        }
        at += 1;
    }
    let Some(middle) = vertices.last().map(|v| graph.point(*v)) else { return Ok(None) };
    Ok(Some(Patch { side: SkinSide { area_mm2, middle, reaches_end: false }, vertices }))
}

/// 1 for vertices near the line on its left, −1 on its right, 0 for those farther away.
fn vertex_sides(graph: &SkinGraph, line: &[Point3<f32>], job: &Job) -> Result<Vec<i8>, Cancelled> {
    let n = line.len();
    let near = SpatialHash::of(BAND_MM, line.iter().copied());
    // Most vertices lie far from the line: its bounding box rules them out faster than the hash.
    let (low, high) = bounding_box(line, BAND_MM);
    job.each(graph.len(), |v| {
        let p = graph.point(v as u32);
        if p.coords.inf(&low) != low || p.coords.sup(&high) != high {
            return 0;
        }
        let normal = graph.normals[v];
        let nearest = near
            .candidates(&p)
            .map(|i| ((line[i as usize] - p).norm_squared(), i as usize))
            .min_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)));
        let Some((d2, i)) = nearest else { return 0 };
        if d2 > BAND_MM * BAND_MM {
            return 0;
        }
        let along = line[(i + 1) % n] - line[(i + n - 1) % n];
        let away = p - line[i];
        // Skin on the far side of a thin limb is no part of this line's band.
        let height = away.dot(&normal).abs();
        if height > 0.75 * BAND_MM {
            return 0;
        }
        if normal.cross(&along).dot(&away) >= 0.0 { 1 } else { -1 }
    })
}
