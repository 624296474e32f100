//! The cut across limb and shell, drawn flat with a scale.

use std::sync::Arc;

use bevy_egui::egui::{Align2, CornerRadius, Pos2, Rect, Sense, Shape, Stroke, StrokeKind, TextStyle, Ui, pos2, vec2};
use engine::Cuts;
use nalgebra::Vector3;

use crate::look;
use crate::look::colours::Palette;

/// The drawing as it was made last.
#[derive(Clone)]
struct CachedDrawing {
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
    // Drawn again only when it would look different.
    let id = ui.id().with("cut drawing");
    let made: Option<Arc<CachedDrawing>> = ui.data(|data| data.get_temp(id));
    let made = match made.filter(|m| Arc::ptr_eq(&m.of, cuts) && m.field == field && m.palette == colours) {
        Some(made) => made,
        None => {
            let made = Arc::new(CachedDrawing {
                of: Arc::clone(cuts),
                field,
                palette: colours,
                shapes: shapes(cuts, field, &colours),
            });
            ui.data_mut(|data| data.insert_temp(id, Arc::clone(&made)));
            made
        }
    };
    let Some((shapes, sheet)) = &made.shapes else {
        let middle = field.center();
        ui.painter().text(
            middle,
            Align2::CENTER_CENTER,
            "Nothing to cut at this height.",
            TextStyle::Body.resolve(ui.style()),
            colours.faint_ink,
        );
        return;
    };
    ui.painter().extend(shapes.iter().cloned());
    scale_bar(ui, sheet, field);
    if let Some([least, middle]) = cuts.gap_mm {
        look::figure(ui, "Least gap in this cut", &format!("{least:.1} mm"));
        look::figure(ui, "Median gap in this cut", &format!("{middle:.1} mm"));
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
    let rings: Vec<Vec<Pos2>> = shell.iter().map(|line| line.iter().map(|p| sheet.at(*p)).collect()).collect();
    let mut shapes: Vec<Shape> = look::filled(&rings, colours.accent.gamma_multiply(0.55)).into_iter().collect();
    for (lines, section, stroke) in
        [(&limb, &cuts.limb, Stroke::new(1.8, colours.ink)), (&shell, &cuts.shell, Stroke::new(1.4, colours.accent))]
    {
        for (line, of) in lines.iter().zip(&section.lines) {
            let points = look::thinned(line.iter().map(|p| sheet.at(*p)));
            shapes.push(if of.closed { Shape::closed_line(points, stroke) } else { Shape::line(points, stroke) });
        }
    }
    Some((shapes, sheet))
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
