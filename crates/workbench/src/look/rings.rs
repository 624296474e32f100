//! Closed lines in the window: thinned and filled.

use bevy_egui::egui::{Color32, Mesh, Pos2, Rect, Shape, pos2};

/// Points of a line nearer to each other than this are drawn as one, in units of the window.
const LEAST_APART: f32 = 0.4;
/// Height of a row that is filled, in units of the window.
const ROW: f32 = 0.75;

/// A line without the points too near to the one before to be seen apart.
pub fn thinned(points: impl Iterator<Item = Pos2>) -> Vec<Pos2> {
    let mut kept: Vec<Pos2> = Vec::new();
    for p in points {
        if kept.last().is_none_or(|last| last.distance(p) > LEAST_APART) {
            kept.push(p);
        }
    }
    kept
}

/// Fills what rings enclose, row by row, by the even-odd rule.
pub fn filled(rings: &[Vec<Pos2>], colour: Color32) -> Option<Shape> {
    let heights = || rings.iter().flatten().map(|p| p.y);
    let (low, high) = heights().fold((f32::INFINITY, f32::NEG_INFINITY), |(l, h), y| (l.min(y), h.max(y)));
    if low > high {
        return None;
    }
    let mut mesh = Mesh::default();
    for row in 0..((high - low) / ROW).ceil() as usize {
        let y = low + (row as f32 + 0.5) * ROW;
        for [from, to] in spans(rings, y) {
            mesh.add_colored_rect(Rect::from_min_max(pos2(from, y - 0.5 * ROW), pos2(to, y + 0.5 * ROW)), colour);
        }
    }
    Some(Shape::mesh(mesh))
}

/// Where a row at height y lies inside rings.
fn spans(rings: &[Vec<Pos2>], y: f32) -> Vec<[f32; 2]> {
    let mut crossings: Vec<f32> = Vec::new();
    for ring in rings {
        for (i, a) in ring.iter().enumerate() {
            let b = ring[(i + 1) % ring.len()];
            if (a.y > y) != (b.y > y) {
                crossings.push(a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y));
            }
        }
    }
    crossings.sort_by(f32::total_cmp);
    crossings.chunks_exact(2).map(|pair| [pair[0], pair[1]]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A ring between two squares: 10 × 10 less 6 × 6 is 64.
    #[test]
    fn what_lies_between_lines_is_filled_and_holes_are_left() {
        let square = |half: f32| vec![pos2(-half, -half), pos2(half, -half), pos2(half, half), pos2(-half, half)];
        let rings = [square(5.0), square(3.0)];
        let rows = 1000;
        let area: f32 = (0..rows)
            .flat_map(|i| spans(&rings, -6.0 + 12.0 * (i as f32 + 0.5) / rows as f32))
            .map(|[a, b]| (b - a) * 12.0 / rows as f32)
            .sum();
        assert!((area - 64.0).abs() < 0.3, "{area}");
    }
}
