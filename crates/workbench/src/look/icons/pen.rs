//! A pen for signs: points on a field of 24 by 24.

use std::f32::consts::TAU;

use bevy_egui::egui::{Color32, Painter, Pos2, Rect, Shape, Stroke, pos2};

/// Draws one sign.
pub(super) struct Pen<'a> {
    painter: &'a Painter,
    origin: Pos2,
    unit: f32,
    stroke: Stroke,
}

impl<'a> Pen<'a> {
    /// A pen on the largest square in the middle of `field`.
    pub fn new(painter: &'a Painter, field: Rect, ink: Color32) -> Self {
        let side = field.width().min(field.height());
        let unit = side / 24.0;
        let origin = field.center() - 0.5 * bevy_egui::egui::Vec2::splat(side);
        Self { painter, origin, unit, stroke: Stroke::new((1.7 * unit).max(1.2), ink) }
    }

    fn at(&self, x: f32, y: f32) -> Pos2 {
        self.origin + self.unit * bevy_egui::egui::vec2(x, y)
    }

    fn bend(&self, through: Vec<Pos2>) {
        // Round ends, as of a felt pen.
        for end in [through.first(), through.last()].into_iter().flatten() {
            self.painter.circle_filled(*end, 0.5 * self.stroke.width, self.stroke.color);
        }
        self.painter.add(Shape::line(through, self.stroke));
    }

    /// A line through points.
    pub fn line(&self, points: &[[f32; 2]]) {
        self.bend(points.iter().map(|[x, y]| self.at(*x, *y)).collect());
    }

    /// A closed line.
    pub fn ring(&self, points: &[[f32; 2]]) {
        let points: Vec<Pos2> = points.iter().map(|[x, y]| self.at(*x, *y)).collect();
        self.painter.add(Shape::closed_line(points, self.stroke));
    }

    /// A closed line with rounded corners from one corner to the opposite one.
    pub fn block(&self, low: [f32; 2], high: [f32; 2], round: f32) {
        let rect = Rect::from_min_max(self.at(low[0], low[1]), self.at(high[0], high[1]));
        let kind = bevy_egui::egui::StrokeKind::Middle;
        self.painter.rect_stroke(rect, round * self.unit, self.stroke, kind);
    }

    /// The same, filled.
    pub fn full_block(&self, low: [f32; 2], high: [f32; 2], round: f32) {
        let rect = Rect::from_min_max(self.at(low[0], low[1]), self.at(high[0], high[1]));
        self.painter.rect_filled(rect, round * self.unit, self.stroke.color);
    }

    /// A circle.
    pub fn circle(&self, x: f32, y: f32, radius: f32) {
        self.painter.circle_stroke(self.at(x, y), radius * self.unit, self.stroke);
    }

    /// A filled circle.
    pub fn dot(&self, x: f32, y: f32, radius: f32) {
        self.painter.circle_filled(self.at(x, y), radius * self.unit, self.stroke.color);
    }

    /// An arc of an ellipse; angles in turns, clockwise from the right.
    pub fn arc(&self, middle: [f32; 2], radii: [f32; 2], from: f32, to: f32) {
        let steps = 28;
        let points = (0..=steps).map(|i| {
            let angle = TAU * (from + (to - from) * i as f32 / steps as f32);
            self.at(middle[0] + radii[0] * angle.cos(), middle[1] + radii[1] * angle.sin())
        });
        self.bend(points.collect());
    }

    /// Short strokes along a line.
    pub fn dashes(&self, from: [f32; 2], to: [f32; 2], count: usize) {
        let between = |t: f32| self.at(from[0] + (to[0] - from[0]) * t, from[1] + (to[1] - from[1]) * t);
        for i in 0..count {
            let at = |part: f32| (i as f32 + part) / (count as f32 - 0.45);
            self.bend(vec![between(at(0.0)), between(at(0.55))]);
        }
    }

    /// A smooth line through points, a Catmull-Rom spline.
    pub fn curve(&self, points: &[[f32; 2]]) {
        let last = points.len().saturating_sub(1);
        let of = |i: usize| points.get(i.min(last)).copied().unwrap_or([0.0; 2]);
        let mut through = Vec::new();
        for i in 0..last {
            let [a, b, c, d] = [of(i.saturating_sub(1)), of(i), of(i + 1), of(i + 2)];
            for step in 0..8 {
                let t = step as f32 / 8.0;
                let along = |k: usize| {
                    0.5 * (2.0 * b[k]
                        + (c[k] - a[k]) * t
                        + (2.0 * a[k] - 5.0 * b[k] + 4.0 * c[k] - d[k]) * t * t
                        + (3.0 * b[k] - a[k] - 3.0 * c[k] + d[k]) * t * t * t)
                };
                through.push(self.at(along(0), along(1)));
            }
        }
        through.push(pos2(self.at(of(last)[0], 0.0).x, self.at(0.0, of(last)[1]).y));
        self.bend(through);
    }
}
