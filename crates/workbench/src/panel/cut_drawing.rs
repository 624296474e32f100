//! The cut across limb and shell, drawn flat with a scale.

use std::sync::Arc;

use bevy_egui::egui::{
    Align2, Color32, CornerRadius, Mesh, Pos2, Rect, Sense, Shape, Stroke, StrokeKind, TextStyle, Ui, pos2, vec2,
};
use engine::Cuts;
use nalgebra::Vector3;

use crate::look;
use crate::look::colours::Palette;

/// Points of a line nearer to each other than this are drawn as one, in units of the window.
const LEAST_APART: f32 = 0.4;

/// The drawing as it was made last.
#[derive(Clone)]
struct Made {
    of: Arc<Cuts>,
    field: Rect,
    palette: Palette,
    /// None where the plane meets nothing.
    shapes: Option<(Vec<Shape>, Sheet)>,
}

/// Draws it across the width of the panel.
pub fn show(ui: &mut Ui, cuts: &Arc<Cuts>) {
    let colours = look::palette(ui.ctx());
    let (field, _) = ui.allocate_exact_size(vec2(ui.available_width(), 250.0), Sense::hover());
    ui.painter().rect(field, CornerRadius::same(8), colours.raised, Stroke::new(1.0, colours.line), StrokeKind::Inside);
    // Made again only when it would look different.
    let id = ui.id().with("cut drawing");
    let made: Option<Arc<Made>> = ui.data(|data| data.get_temp(id));
    let made = match made.filter(|m| Arc::ptr_eq(&m.of, cuts) && m.field == field && m.palette == colours) {
        Some(made) => made,
        None => {
            let made =
                Arc::new(Made { of: Arc::clone(cuts), field, palette: colours, shapes: shapes(cuts, field, &colours) });
            ui.data_mut(|data| data.insert_temp(id, Arc::clone(&made)));
            made
        }
    };
    let Some((shapes, sheet)) = &made.shapes else {
        let middle = field.center();
        ui.painter().text(
            middle,
            Align2::CENTER_CENTER,
            "The plane meets nothing here.",
            TextStyle::Body.resolve(ui.style()),
            colours.faint_ink,
        );
        return;
    };
    ui.painter().extend(shapes.iter().cloned());
    scale_bar(ui, sheet, field);
    if let Some([least, middle]) = cuts.gap_mm {
        look::figure(ui, "Least gap in this cut", &format!("{least:.1} mm"));
        look::figure(ui, "Middle gap in this cut", &format!("{middle:.1} mm"));
    }
    let girth: f64 = cuts.limb.lines.iter().map(|line| line.length_mm()).fold(0.0, f64::max);
    if cuts.limb.lines.iter().any(|line| line.closed) {
        look::figure(ui, "Girth of the limb here", &format!("{girth:.0} mm"));
    }
}

/// The cut as it lies in `field`: the shell filled, the outlines of both.
fn shapes(cuts: &Cuts, field: Rect, colours: &Palette) -> Option<(Vec<Shape>, Sheet)> {
    let limb = cuts.limb.in_plane(&Vector3::y());
    let shell = cuts.shell.in_plane(&Vector3::y());
    let sheet = Sheet::new(field.shrink(16.0), limb.iter().chain(&shell))?;
    let mut shapes: Vec<Shape> = fill(&sheet, &shell, colours.accent.gamma_multiply(0.55)).into_iter().collect();
    for (lines, section, stroke) in
        [(&limb, &cuts.limb, Stroke::new(1.8, colours.ink)), (&shell, &cuts.shell, Stroke::new(1.4, colours.accent))]
    {
        for (line, of) in lines.iter().zip(&section.lines) {
            let points = thinned(line.iter().map(|p| sheet.at(*p)));
            shapes.push(if of.closed { Shape::closed_line(points, stroke) } else { Shape::line(points, stroke) });
        }
    }
    Some((shapes, sheet))
}

/// A line without the points that lie nearer to the one before than can be seen.
fn thinned(points: impl Iterator<Item = Pos2>) -> Vec<Pos2> {
    let mut kept: Vec<Pos2> = Vec::new();
    for p in points {
        if kept.last().is_none_or(|last| last.distance(p) > LEAST_APART) {
            kept.push(p);
        }
    }
    kept
}

/// From millimetres in the cut to the panel.
#[derive(Clone)]
struct Sheet {
    middle: [f32; 2],
    scale: f32,
    centre: Pos2,
}

impl Sheet {
    fn new<'a>(field: Rect, lines: impl Iterator<Item = &'a Vec<[f32; 2]>>) -> Option<Self> {
        let mut points = lines.flatten();
        let first = *points.next()?;
        let (low, high) = points.fold((first, first), |(low, high), p| {
            ([low[0].min(p[0]), low[1].min(p[1])], [high[0].max(p[0]), high[1].max(p[1])])
        });
        let side = |k: usize| (high[k] - low[k]).max(1.0);
        // Room for the scale bar below.
        let scale = (field.width() / side(0)).min((field.height() - 22.0) / side(1));
        let middle = [0, 1].map(|k| 0.5 * (low[k] + high[k]));
        Some(Self { middle, scale, centre: field.center() - vec2(0.0, 11.0) })
    }

    fn at(&self, p: [f32; 2]) -> Pos2 {
        self.centre + self.scale * vec2(p[0] - self.middle[0], self.middle[1] - p[1])
    }
}

/// Fills what the lines enclose, by rows: between crossings, first to second, third to fourth and so on.
fn fill(sheet: &Sheet, lines: &[Vec<[f32; 2]>], colour: Color32) -> Option<Shape> {
    let rings: Vec<Vec<Pos2>> = lines.iter().map(|line| line.iter().map(|p| sheet.at(*p)).collect()).collect();
    let heights = || rings.iter().flatten().map(|p| p.y);
    let (low, high) = heights().fold((f32::INFINITY, f32::NEG_INFINITY), |(l, h), y| (l.min(y), h.max(y)));
    if low > high {
        return None;
    }
    let step = 0.75;
    let mut mesh = Mesh::default();
    for row in 0..((high - low) / step).ceil() as usize {
        let y = low + (row as f32 + 0.5) * step;
        for [from, to] in spans(&rings, y) {
            mesh.add_colored_rect(Rect::from_min_max(pos2(from, y - 0.5 * step), pos2(to, y + 0.5 * step)), colour);
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

fn scale_bar(ui: &Ui, sheet: &Sheet, field: Rect) {
    let colours = look::palette(ui.ctx());
    let length = [100.0, 50.0, 20.0, 10.0, 5.0].into_iter().find(|mm| mm * sheet.scale < 0.45 * field.width());
    let Some(mm) = length else { return };
    let (left, y) = (field.left() + 14.0, field.bottom() - 14.0);
    let right = left + mm * sheet.scale;
    let stroke = Stroke::new(1.6, colours.ink);
    ui.painter().hline(left..=right, y, stroke);
    for x in [left, right] {
        ui.painter().vline(x, y - 4.0..=y + 4.0, stroke);
    }
    look::caption(ui, pos2(right + 8.0, y), Align2::LEFT_CENTER, &format!("{mm:.0} mm"));
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
