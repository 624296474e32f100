//! The curve through the dashes of a line.

use nalgebra::{Point3, Vector3};

use super::dashes::Dash;
use super::polyline::{STEP_MM, lay_on_skin, resample};
use super::skin_graph::SkinGraph;

/// The curve through the middles of dashes in order, about one point a millimetre, on the skin: cubic Hermite pieces
/// whose tangents lie between the direction of the dash and the one that its neighbours give. An open curve ends at the outer tips
/// of the first and the last dash.
pub(super) fn curve_through(graph: &SkinGraph, row: &[&Dash], closed: bool) -> Vec<Point3<f32>> {
    let n = row.len();
    if n < 2 {
        return Vec::new();
    }
    let at = |k: usize| row[(k + n) % n].at;
    let tangents: Vec<Vector3<f32>> = (0..n)
        .map(|k| {
            let come = (closed || k > 0).then(|| at(k + n - 1));
            let go = (closed || k + 1 < n).then(|| at(k + 1));
            tangent(row[k], come, go)
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

/// Unit tangent at a dash between the dash's own direction and that of the parabola through its middle and those of its
/// neighbours.
fn tangent(dash: &Dash, before: Option<Point3<f32>>, after: Option<Point3<f32>>) -> Vector3<f32> {
    let zero = Vector3::zeros();
    let (come, go) = (before.map_or(zero, |p| dash.at - p), after.map_or(zero, |p| p - dash.at));
    // The nearer neighbour counts more: each chord is divided by its length squared.
    let weighed = |chord: Vector3<f32>| chord / chord.norm_squared().max(1e-6);
    let chord = (weighed(come) + weighed(go)).try_normalize(1e-9).unwrap_or(dash.along);
    let own = if dash.along.dot(&chord) < 0.0 { -dash.along } else { dash.along };
    // The direction of a dash twice as long as wide counts as much as its neighbours.
    let sure = (dash.slender - 1.0).clamp(0.0, 1.0);
    (own * sure + chord).try_normalize(1e-6).unwrap_or(chord)
}

#[cfg(test)]
mod tests {
    use mesh::{Job, Surface};
    use test_shapes::{Diagonals, height_field};

    use super::*;

    fn dash(x: f32, y: f32, along: Vector3<f32>) -> Dash {
        Dash {
            at: Point3::new(x, y, 0.0),
            along,
            normal: Vector3::z(),
            length_mm: 8.0,
            width_mm: 3.0,
            slender: 2.6,
            ink: 0.7,
            spread: 0.03,
            stroke: 0,
            piece: (0, 1),
        }
    }

    /// Dashes on a circle of radius r at uneven angles; a dash is as likely given backwards as forwards.
    #[test]
    fn the_curve_through_uneven_dashes_of_a_circle_is_the_circle() {
        let sheet: Surface = height_field(100, 100, 1.0, Diagonals::Alternate, |_, _| 0.0).build();
        let graph = SkinGraph::new(&sheet, &[], &Job::silent()).unwrap();
        let radius = 30.0;
        let turns = [0.0_f32, 0.4, 0.9, 1.2, 1.8, 2.2, 2.7, 3.3, 3.6, 4.1, 4.5, 5.0, 5.3, 5.8];
        let dashes: Vec<Dash> = turns
            .iter()
            .enumerate()
            .map(|(k, t)| {
                let sign = if k % 3 == 0 { -1.0 } else { 1.0 };
                let along = Vector3::new(-t.sin(), t.cos(), 0.0) * sign;
                dash(50.0 + radius * t.cos(), 50.0 + radius * t.sin(), along)
            })
            .collect();
        let row: Vec<&Dash> = dashes.iter().collect();
        let from_middle = |p: &Point3<f32>| (p - Point3::new(50.0, 50.0, 0.0)).norm();
        let ring = curve_through(&graph, &row, true);
        assert!((ring.len() as f32 - std::f32::consts::TAU * radius).abs() < 1.5, "{}", ring.len());
        assert!(ring.iter().all(|p| (from_middle(p) - radius).abs() < 0.1));
        // The open one begins and ends half a dash before the first and beyond the last middle.
        let open = curve_through(&graph, &row, false);
        assert!((open.len() as f32 - 1.0 - 5.8 * radius - 8.0).abs() < 1.5, "{}", open.len());
        assert!((open[0] - dashes[0].at).norm() > 3.9 && (open[0] - dashes[0].at).norm() < 4.1);
    }
}
