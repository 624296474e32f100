//! The curve through the dashes of a line.

use nalgebra::{Point3, Vector3};

use super::dashes::Dash;
use super::polyline::{STEP_MM, lay_on_skin, resample};
use super::skin_graph::SkinGraph;

/// The curve through the middles of dashes in order, about one point a millimetre, on the skin: cubic Hermite pieces
/// whose tangents lie between the direction of the dash and that of its neighbours. An open curve ends at the outer tips
/// of the first and the last dash.
pub(super) fn curve_through(graph: &SkinGraph, row: &[&Dash], closed: bool) -> Vec<Point3<f32>> {
    let n = row.len();
    if n < 2 {
        return Vec::new();
    }
    let at = |k: usize| row[(k + n) % n].at;
    let tangents: Vec<Vector3<f32>> = (0..n)
        .map(|k| {
            let (from, to) = match (closed, k) {
                (true, _) => (at(k + n - 1), at(k + 1)),
                (false, 0) => (at(0), at(1)),
                (false, _) if k + 1 == n => (at(k - 1), at(k)),
                (false, _) => (at(k - 1), at(k + 1)),
            };
            tangent(row[k], to - from)
        })
        .collect();
    let mut line = Vec::new();
    if !closed {
        line.push(at(0) - tangents[0] * (0.5 * row[0].length_mm));
    }
    for k in 0..if closed { n } else { n - 1 } {
        let (a, b) = (at(k), at(k + 1));
        let span = (b - a).norm();
        let (leave, meet) = (tangents[k] * span, tangents[(k + 1) % n] * span);
        let steps = ((2.0 * span / STEP_MM).ceil() as usize).max(1);
        line.extend((0..steps).map(|i| {
            let t = i as f32 / steps as f32;
            let u = 1.0 - t;
            let (h0, h1) = (u * u * (1.0 + 2.0 * t), t * t * (3.0 - 2.0 * t));
            Point3::from(a.coords * h0 + b.coords * h1 + leave * (t * u * u) - meet * (t * t * u))
        }));
    }
    if !closed {
        line.push(at(n - 1));
        line.push(at(n - 1) + tangents[n - 1] * (0.5 * row[n - 1].length_mm));
    }
    lay_on_skin(graph, &mut line);
    resample(&line, closed)
}

/// Unit tangent at a dash between the dash's own direction and the one from the dash before to the next.
fn tangent(dash: &Dash, chord: Vector3<f32>) -> Vector3<f32> {
    let chord = chord.try_normalize(1e-6).unwrap_or(dash.along);
    let own = if dash.along.dot(&chord) < 0.0 { -dash.along } else { dash.along };
    // The direction of a dash twice as long as wide counts as much as its neighbours.
    let sure = (dash.slender - 1.0).clamp(0.0, 1.0);
    (own * sure + chord).try_normalize(1e-6).unwrap_or(chord)
}
