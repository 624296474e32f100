//! Turning and moving a map so that the limb's axis is up and the covered part stands on its middle line.

use nalgebra::{Matrix3, Point2, Rotation2, Vector2, Vector3};

use super::ZoneMap;

/// A straight piece of a line.
pub(super) type Piece = [Point2<f64>; 2];

/// The middle line leaves the limb's axis by at most this, degrees.
const MOST_TURN_DEG: f64 = 20.0;
/// Turns are tried in steps of this, degrees.
const STEP_DEG: f64 = 0.5;
/// What a turn by a degree has to gain in symmetry to be worth it, as a share of the area.
const WORTH: f64 = 4e-3;
/// Rows into which an outline is cut to compare its halves.
const ROWS: usize = 120;

/// Turns and moves `map`. `distance` is that of each vertex of the skin to the trim line, positive where it is covered.
pub(super) fn stand(map: &mut ZoneMap, distance: &[f32]) {
    let up = up(map, distance);
    // The direction of `up` becomes the second axis.
    let turn = Rotation2::new(up.x.atan2(up.y));
    map.move_all(|p| turn * p);
    let line = map.level(distance);
    if line.is_empty() {
        return;
    }
    let steps = (MOST_TURN_DEG / STEP_DEG) as i32;
    let best = (-steps..=steps)
        .map(|i| f64::from(i) * STEP_DEG)
        .map(|deg| {
            let turn = Rotation2::new(deg.to_radians());
            let turned: Vec<Piece> = line.iter().map(|ends| ends.map(|p| turn * p)).collect();
            let (asymmetry, middle) = asymmetry(&turned);
            (asymmetry + WORTH * deg.abs(), asymmetry, deg, middle)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((_, asymmetry, deg, middle)) = best else { return };
    let turn = Rotation2::new(deg.to_radians());
    map.move_all(|p| turn * p - Vector2::new(middle.x, middle.y));
    (map.asymmetry, map.axis_deg) = (asymmetry, deg);
}

impl ZoneMap {
    fn move_all(&mut self, to: impl Fn(Point2<f64>) -> Point2<f64>) {
        self.flat.points.iter_mut().chain(self.outline.iter_mut().flatten()).for_each(|p| *p = to(*p));
    }
}

/// The direction on the map in which the covered skin rises along the limb: that of the plane through its heights.
fn up(map: &ZoneMap, distance: &[f32]) -> Vector2<f64> {
    let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for ((vertex, place), point) in map.points().zip(&map.sheet.mesh.points) {
        if distance.get(vertex as usize).is_some_and(|d| *d >= 0.0) {
            let row = Vector3::new(place.x, place.y, 1.0);
            normal += row * row.transpose();
            right += row * f64::from(point.z);
        }
    }
    let slope = normal.cholesky().map_or_else(Vector3::y, |factors| factors.solve(&right));
    slope.xy().try_normalize(1e-6).unwrap_or_else(Vector2::y)
}

/// How unlike the halves of an outline on both sides of a vertical line are, the line through the middle of its area;
/// and that middle.
fn asymmetry(line: &[Piece]) -> (f64, Point2<f64>) {
    let rows = rows(line);
    let (mut area, mut sum) = (0.0, Vector2::zeros());
    for (y, spans) in &rows {
        for [from, to] in spans {
            area += to - from;
            sum += Vector2::new(0.5 * (to * to - from * from), y * (to - from));
        }
    }
    let middle = Point2::from(sum / area.max(f64::MIN_POSITIVE));
    let both: f64 = rows
        .iter()
        .map(|(_, spans)| {
            let mirrored: Vec<[f64; 2]> = spans.iter().map(|[a, b]| [2.0 * middle.x - b, 2.0 * middle.x - a]).collect();
            let shared =
                |[a, b]: &[f64; 2]| -> f64 { mirrored.iter().map(|[c, d]| (b.min(*d) - a.max(*c)).max(0.0)).sum() };
            spans.iter().map(shared).sum::<f64>()
        })
        .sum();
    (1.0 - both / area.max(f64::MIN_POSITIVE), middle)
}

/// Rows of what closed lines go round, given by their pieces: height, and where it is inside.
fn rows(line: &[Piece]) -> Vec<(f64, Vec<[f64; 2]>)> {
    let ends = line.iter().flatten();
    let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), p| (lo.min(p.y), hi.max(p.y)));
    (0..ROWS)
        .map(|row| {
            let y = low + (high - low) * (row as f64 + 0.5) / ROWS as f64;
            let mut crossings: Vec<f64> = line
                .iter()
                .filter(|[a, b]| (a.y <= y) != (b.y <= y))
                .map(|[a, b]| a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y))
                .collect();
            crossings.sort_by(f64::total_cmp);
            (y, crossings.chunks_exact(2).map(|c| [c[0], c[1]]).collect())
        })
        .collect()
}
