//! Text as an exact distance to the outlines of its letters.

use mesh::{Cancelled, Job};
use rayon::prelude::*;
use ttf_parser::{Face, GlyphId, OutlineBuilder};

use crate::Shape;

/// Open Sans Bold, see `assets/fonts/LICENSE-OpenSans.txt`: its strokes are about a fifth of the height of a capital
/// wide.
const FONT: &[u8] = include_bytes!("../../../../assets/fonts/OpenSans-Bold.ttf");
/// Curves are broken into straight pieces that are never further off than this, mm.
const CURVE_TOLERANCE_MM: f32 = 0.01;
/// Free space around the ink on the grid, mm: distances are exact this far.
const MARGIN_MM: f32 = 3.0;

/// Outlines of a line of text, its ink centred on the origin sideways and its capitals centred upwards, mm.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Lettering {
    sides: Vec<[[f32; 2]; 2]>,
    /// Lowest and highest corner of the ink.
    pub ink: [[f32; 2]; 2],
}

/// Sets `text` with capitals `height_mm` high; the error lists the characters that the typeface lacks.
pub(super) fn set(text: &str, height_mm: f32) -> Result<Lettering, Vec<char>> {
    let Ok(face) = Face::parse(FONT, 0) else { return Err(text.chars().collect()) };
    let glyphs: Vec<Option<GlyphId>> = text.chars().map(|c| face.glyph_index(c).filter(|g| g.0 != 0)).collect();
    let mut missing: Vec<char> = text.chars().zip(&glyphs).filter(|(_, g)| g.is_none()).map(|(c, _)| c).collect();
    missing.sort_unstable();
    missing.dedup();
    let capital = face.glyph_index('H').and_then(|g| face.glyph_bounding_box(g)).map_or(1.0, |b| f32::from(b.y_max));
    let scale = height_mm / capital;
    let mut pen = Pen { scale, origin: 0.0, start: [0.0; 2], at: [0.0; 2], sides: Vec::new() };
    let mut before = None;
    for glyph in glyphs.into_iter().flatten() {
        if let Some(before) = before {
            pen.origin += f32::from(kerning(&face, before, glyph)) * scale;
        }
        face.outline_glyph(glyph, &mut pen);
        pen.origin += f32::from(face.glyph_hor_advance(glyph).unwrap_or(0)) * scale;
        before = Some(glyph);
    }
    if !missing.is_empty() {
        return Err(missing);
    }
    let mut sides = pen.sides;
    let bounds = |sides: &[[[f32; 2]; 2]]| {
        sides.iter().flatten().fold([[f32::INFINITY; 2], [f32::NEG_INFINITY; 2]], |[lo, hi], p| {
            [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
        })
    };
    let [lo, hi] = bounds(&sides);
    let shift = [0.5 * (lo[0] + hi[0]), 0.5 * height_mm];
    for p in sides.iter_mut().flatten() {
        *p = [p[0] - shift[0], p[1] - shift[1]];
    }
    let ink = if sides.is_empty() { [[0.0; 2]; 2] } else { bounds(&sides) };
    Ok(Lettering { sides, ink })
}

fn kerning(face: &Face, left: GlyphId, right: GlyphId) -> i16 {
    let tables = face.tables().kern.into_iter().flat_map(|kern| kern.subtables);
    tables
        .filter(|t| t.horizontal && !t.variable && !t.has_cross_stream)
        .find_map(|t| t.glyphs_kerning(left, right))
        .unwrap_or(0)
}

impl Lettering {
    /// Whether there is anything to see.
    pub fn is_blank(&self) -> bool {
        self.sides.is_empty()
    }

    /// The text as signed distances with a sample every `step` mm.
    ///
    /// Inside is where the outlines wind round a sample (the non-zero rule of the TrueType specification).
    ///
    /// # Errors
    /// [`Cancelled`] on request; checked in each row.
    pub fn drawing(&self, step: f32, job: &Job) -> Result<Shape, Cancelled> {
        let [lo, hi] = self.ink;
        let origin = [lo[0] - MARGIN_MM, lo[1] - MARGIN_MM];
        let samples = |axis: usize| ((hi[axis] + MARGIN_MM - origin[axis]) / step).ceil() as usize + 1;
        let (width, height) = (samples(0), samples(1));
        let row = |j: usize| {
            job.check()?;
            let y = origin[1] + j as f32 * step;
            Ok((0..width).map(|i| self.signed_distance([origin[0] + i as f32 * step, y])).collect())
        };
        let rows: Vec<Vec<f32>> = (0..height).into_par_iter().map(row).collect::<Result<_, Cancelled>>()?;
        Ok(Shape::Drawing { origin, step, width, distance: rows.concat() })
    }

    fn signed_distance(&self, p: [f32; 2]) -> f32 {
        let mut nearest2 = f32::INFINITY;
        let mut winding = 0;
        for [a, b] in &self.sides {
            let d = [b[0] - a[0], b[1] - a[1]];
            let q = [p[0] - a[0], p[1] - a[1]];
            let t = ((d[0] * q[0] + d[1] * q[1]) / (d[0] * d[0] + d[1] * d[1]).max(1e-12)).clamp(0.0, 1.0);
            let r = [q[0] - d[0] * t, q[1] - d[1] * t];
            nearest2 = nearest2.min(r[0] * r[0] + r[1] * r[1]);
            let left = d[0] * q[1] - d[1] * q[0] > 0.0;
            if a[1] <= p[1] {
                winding += i32::from(b[1] > p[1] && left);
            } else {
                winding -= i32::from(b[1] <= p[1] && !left);
            }
        }
        if winding == 0 { nearest2.sqrt() } else { -nearest2.sqrt() }
    }
}

/// Width of the thinnest strokes of a drawing, mm: twice the depth along their middle lines, leaving out the thinnest
/// twentieth, which are joints.
///
/// A middle line is where the distance has no slope: both sides are equally far. Towards a corner it keeps one.
pub(super) fn thinnest_stroke_mm(shape: &Shape) -> Option<f32> {
    let Shape::Drawing { step, width, distance, .. } = shape else { return None };
    let (step, width) = (*step, *width);
    let mut widths: Vec<f32> = (width + 1..distance.len().saturating_sub(width + 1))
        .filter(|at| distance[*at] < 0.0)
        .filter_map(|at| {
            let slope = |next: usize| (distance[at + next] - distance[at - next]) / (2.0 * step);
            let bend = |next: usize| distance[at + next] + distance[at - next] - 2.0 * distance[at];
            let crest = bend(1) + bend(width) > 0.8 * step;
            (crest && slope(1).hypot(slope(width)) < 0.4).then(|| -2.0 * distance[at] + 0.5 * step)
        })
        .collect();
    widths.sort_unstable_by(f32::total_cmp);
    widths.get(widths.len() / 20).copied()
}

struct Pen {
    scale: f32,
    origin: f32,
    start: [f32; 2],
    at: [f32; 2],
    sides: Vec<[[f32; 2]; 2]>,
}

impl Pen {
    fn place(&self, x: f32, y: f32) -> [f32; 2] {
        [self.origin + x * self.scale, y * self.scale]
    }

    fn go(&mut self, to: [f32; 2]) {
        if to != self.at {
            self.sides.push([self.at, to]);
            self.at = to;
        }
    }

    /// A Bézier curve in pieces: a chord over 1/n of it is off by at most |second difference| n(n−1)/8 / pieces²
    /// (Wang 1984, for degree n).
    fn curve(&mut self, controls: &[[f32; 2]]) {
        let points: Vec<[f32; 2]> = std::iter::once(self.at).chain(controls.iter().copied()).collect();
        let degree = controls.len() as f32;
        let bend = points
            .windows(3)
            .map(|w| (w[0][0] - 2.0 * w[1][0] + w[2][0]).hypot(w[0][1] - 2.0 * w[1][1] + w[2][1]))
            .fold(0.0, f32::max);
        let pieces = (degree * (degree - 1.0) / 8.0 * bend / CURVE_TOLERANCE_MM).sqrt().ceil().clamp(1.0, 200.0);
        for i in 1..=pieces as usize {
            let t = i as f32 / pieces;
            let mut level = points.clone();
            while level.len() > 1 {
                level = level
                    .windows(2)
                    .map(|w| [w[0][0] + (w[1][0] - w[0][0]) * t, w[0][1] + (w[1][1] - w[0][1]) * t])
                    .collect();
            }
            self.go(level[0]);
        }
    }
}

impl OutlineBuilder for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.start = self.place(x, y);
        self.at = self.start;
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.go(self.place(x, y));
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        self.curve(&[self.place(x1, y1), self.place(x, y)]);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.curve(&[self.place(x1, y1), self.place(x2, y2), self.place(x, y)]);
    }

    fn close(&mut self) {
        self.go(self.start);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn capitals_have_the_height_asked_for_and_stand_centred() {
        let lettering = set("H", 25.0).unwrap();
        let [lo, hi] = lettering.ink;
        assert_relative_eq!(hi[1] - lo[1], 25.0, epsilon = 1e-3);
        assert_relative_eq!(hi[1], 12.5, epsilon = 1e-3);
        assert_relative_eq!(hi[0], -lo[0], epsilon = 1e-3);
    }

    #[test]
    fn pairs_are_kerned() {
        // The typeface's own kern table moves V under A; H and H stand apart by their advance.
        let width = |text: &str| {
            let [lo, hi] = set(text, 20.0).unwrap().ink;
            hi[0] - lo[0]
        };
        assert!(width("AV") < width("A") + width("V") - 0.5);
        assert!(width("HH") > 2.0 * width("H"));
    }

    #[test]
    fn the_inside_of_a_zero_is_outside_and_its_area_is_that_of_its_outlines() {
        let lettering = set("0", 20.0).unwrap();
        let shape = lettering.drawing(0.1, &Job::silent()).unwrap();
        assert!(shape.signed_distance([0.0, 0.0]) > 1.0, "the counter of a zero is open");
        // Green's theorem on the outlines against the count of inner samples.
        let area: f32 = lettering.sides.iter().map(|[a, b]| 0.5 * (a[0] * b[1] - a[1] * b[0])).sum();
        let Shape::Drawing { distance, step, .. } = &shape else { panic!("text is a drawing") };
        let counted = distance.iter().filter(|d| **d < 0.0).count() as f32 * step * step;
        assert_relative_eq!(area.abs(), counted, max_relative = 0.01);
    }

    #[test]
    fn strokes_are_measured_on_letters_of_straight_bars() {
        // In the font file the letter I is one bar; its width is the width of its box.
        let [lo, hi] = set("I", 30.0).unwrap().ink;
        let bar = hi[0] - lo[0];
        let found = thinnest_stroke_mm(&set("I", 30.0).unwrap().drawing(0.1, &Job::silent()).unwrap()).unwrap();
        assert_relative_eq!(found, bar, max_relative = 0.03);
    }

    #[test]
    fn unknown_characters_are_named_once() {
        assert_eq!(set("7漢字漢", 20.0), Err(vec!['字', '漢']));
    }
}
