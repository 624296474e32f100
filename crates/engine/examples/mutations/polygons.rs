//! The content of a scan file as polygons, valid or not.

use std::f64::consts::TAU;

/// Radius of the ring that is drawn on the skin, mm, and the width of its ink.
const RING_MM: f64 = 13.0;
const INK_MM: f64 = 1.8;

const SKIN: [u8; 3] = [206, 160, 136];
const INK: [u8; 3] = [38, 36, 62];

/// Points, and polygons that name them by index; nothing is checked.
#[derive(Debug, Clone)]
pub struct Polygons {
    pub points: Vec<[f64; 3]>,
    /// Place of each point in the picture.
    pub picture: Vec<[f64; 2]>,
    pub colours: Vec<[u8; 3]>,
    pub faces: Vec<Vec<i64>>,
}

impl Polygons {
    /// A thumb of `rows` rows of squares, open at its lower end, with a ring drawn on its front.
    pub fn thumb(rows: usize) -> Self {
        let round = 5 * rows / 4;
        let place = |i: usize| [(i % round) as f64 / round as f64, (i / round) as f64 / rows as f64];
        let picture: Vec<[f64; 2]> = (0..round * (rows + 1)).map(place).collect();
        let points = picture.iter().map(|p| on_thumb(*p)).collect();
        let colours = picture.iter().map(|p| colour_at(*p)).collect();
        let square = |i: usize| {
            let (row, at) = (i / round * round, i % round);
            let [a, b] = [row + at, row + (at + 1) % round].map(|v| v as i64);
            let up = round as i64;
            [vec![a, b, a + up], vec![b, b + up, a + up]]
        };
        Self { points, picture, colours, faces: (0..round * rows).flat_map(square).collect() }
    }

    /// Adds another shape to the same file.
    pub fn append(&mut self, other: &Self) {
        let first = self.points.len() as i64;
        self.points.extend(&other.points);
        self.picture.extend(&other.picture);
        self.colours.extend(&other.colours);
        self.faces.extend(other.faces.iter().map(|face| face.iter().map(|v| v + first).collect()));
    }

    /// The corners of a face that exist.
    pub fn corners(&self, face: &[i64]) -> Vec<[f64; 3]> {
        face.iter().filter_map(|v| self.points.get(usize::try_from(*v).ok()?).copied()).collect()
    }
}

/// A point of the thumb from its place in the picture: one turn across, 80 mm up.
fn on_thumb([u, v]: [f64; 2]) -> [f64; 3] {
    let (s, c) = (TAU * u).sin_cos();
    let z = 80.0 * v;
    // Rounded off above, with a bump that tells front from back.
    let end = (1.0 - ((v - 0.8) / 0.2).max(0.0).powi(2)).max(0.01).sqrt();
    let radius = end * (14.0 + 2.0 * (z / 16.0).sin() + 1.2 * c);
    [radius * c, 0.85 * radius * s, z]
}

/// Skin, or ink on the ring.
pub fn colour_at([u, v]: [f64; 2]) -> [u8; 3] {
    let across = (if u > 0.5 { u - 1.0 } else { u }) * 84.0;
    let up = (v - 0.45) * 80.0;
    let off = across.hypot(up) - RING_MM;
    if off.abs() < 0.5 * INK_MM { INK } else { SKIN }
}
