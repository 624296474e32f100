//! The picture or pattern over the colour of the plastic.

use image::{Rgb, RgbImage, Rgba, RgbaImage, imageops};
use locker::{Art, Artwork, PatternKind};

/// Side of one repeat of a pattern, pixels.
const REPEAT: u32 = 256;

/// What is laid on the guard.
#[derive(Debug, Clone)]
pub struct ArtworkImage {
    /// Its colours.
    pub pixels: RgbImage,
    /// Whether it repeats in both directions.
    pub repeats: bool,
}

impl ArtworkImage {
    /// Height to width.
    #[must_use]
    pub fn aspect(&self) -> f32 {
        self.pixels.height() as f32 / self.pixels.width().max(1) as f32
    }
}

/// Paints it on plastic of the colour `ground`; none where the picture cannot be read.
#[must_use]
pub fn paint(artwork: &Artwork, ground: [u8; 3]) -> Option<ArtworkImage> {
    match &artwork.art {
        Art::Pattern { kind, colour } => Some(ArtworkImage { pixels: pattern(*kind, *colour, ground), repeats: true }),
        Art::Picture(kept) => {
            let picture = image::load_from_memory(&locker::load_picture(kept).ok()?).ok()?.to_rgba8();
            let [r, g, b] = ground;
            let mut pixels = RgbaImage::from_pixel(picture.width(), picture.height(), Rgba([r, g, b, 255]));
            imageops::overlay(&mut pixels, &picture, 0, 0);
            Some(ArtworkImage { pixels: image::DynamicImage::ImageRgba8(pixels).into_rgb8(), repeats: false })
        }
    }
}

/// One repeat of a pattern, its edges softened by sampling each pixel four times.
fn pattern(kind: PatternKind, colour: [u8; 3], ground: [u8; 3]) -> RgbImage {
    RgbImage::from_fn(REPEAT, REPEAT, |x, y| {
        let samples = [(0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)];
        let hits = samples
            .iter()
            .filter(|(dx, dy)| inside(kind, (x as f32 + dx) / REPEAT as f32, (y as f32 + dy) / REPEAT as f32));
        let share = hits.count() as f32 / samples.len() as f32;
        Rgb([0, 1, 2].map(|k| {
            let (from, to) = (f32::from(ground[k]), f32::from(colour[k]));
            (from + (to - from) * share).round() as u8
        }))
    })
}

/// Whether a place of the unit square has the pattern's colour; the square repeats without a seam.
fn inside(kind: PatternKind, u: f32, v: f32) -> bool {
    match kind {
        PatternKind::Stripes => (u + v).rem_euclid(1.0) < 0.42,
        PatternKind::Dots => {
            let to = |cu: f32, cv: f32| {
                let [du, dv] = [u - cu, v - cv].map(|d: f32| d - d.round());
                du.hypot(dv)
            };
            to(0.25, 0.25).min(to(0.75, 0.75)) < 0.17
        }
        PatternKind::Chevrons => (v + (u - 0.5).abs()).rem_euclid(0.5) < 0.2,
        PatternKind::Waves => (v + 0.09 * (std::f32::consts::TAU * u).sin()).rem_euclid(0.5) < 0.17,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_repeat_without_a_seam_and_show_both_colours() {
        for kind in [PatternKind::Stripes, PatternKind::Dots, PatternKind::Chevrons, PatternKind::Waves] {
            let mut hits = 0;
            for step in 0..1000_u16 {
                // Off the round numbers, where patterns have their edges.
                let (u, v) = ((f32::from(step) + 0.37) / 1000.0, (f32::from(step * 7 % 1000) + 0.37) / 1000.0);
                hits += usize::from(inside(kind, u, v));
                let near = 1e-5;
                // Points just outside an edge look as those just inside the opposite one.
                let across = [(-near, v, 1.0 - near, v), (u, -near, u, 1.0 - near)];
                for (a, b, c, d) in across {
                    assert_eq!(inside(kind, a, b), inside(kind, c, d), "{kind:?} {u} {v}");
                }
            }
            assert!((150..600).contains(&hits), "{kind:?} {hits}");
        }
    }
}
