//! Synthetic skins: a bulging tube with tone, blotches, grain, moles, shadow, creases and ink drawn on it.
//!
//! Places on the skin are (u, z): millimetres around at the usual radius, and along.

use std::f32::consts::TAU;

use mesh::{Mesh, Surface};
use nalgebra::{Point2, Point3};
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;

pub const RADIUS: f32 = 45.0;
pub const LENGTH: f32 = 190.0;
/// Six skin tones from very light to very dark (sRGB).
pub const TONES: [[f32; 3]; 6] =
    [[244., 208., 177.], [231., 180., 143.], [210., 158., 124.], [186., 120., 81.], [130., 86., 62.], [70., 47., 38.]];
pub const BLACK: [f32; 3] = [28., 26., 38.];
pub const BLUE: [f32; 3] = [30., 38., 95.];
pub const WHITE: [f32; 3] = [236., 232., 222.];

pub type Place = Point2<f32>;

/// A stroke of ink.
pub struct Stroke {
    pub path: Vec<Place>,
    pub closed: bool,
    pub width: f32,
    pub colour: [f32; 3],
    /// How much the ink hides the skin, 0 to 1.
    pub cover: f32,
}

pub struct Skin {
    pub tone: [f32; 3],
    pub spacing: f32,
    pub noise: f32,
    pub grain: f32,
    pub strokes: Vec<Stroke>,
    /// Middles and radii of places without ink.
    pub gaps: Vec<(Place, f32)>,
    /// Middles and radii of holes in the scan.
    pub holes: Vec<(Place, f32)>,
    /// Middles and radii of holes that were filled with skin of one colour.
    pub filled: Vec<(Place, f32)>,
    /// Half of the limb lies in a shadow with a hard edge that leaves this much brightness.
    pub hard_shadow: f32,
    pub moles: usize,
    /// Thin dark lines: from, to, how dark.
    pub creases: Vec<(Place, Place, f32)>,
    /// Brightness left in the darkest shadow.
    pub shadow: f32,
    pub seed: u64,
}

impl Default for Skin {
    fn default() -> Self {
        Self {
            tone: TONES[2],
            spacing: 1.3,
            noise: 0.2,
            grain: 0.035,
            strokes: Vec::new(),
            gaps: Vec::new(),
            holes: Vec::new(),
            filled: Vec::new(),
            hard_shadow: 1.0,
            moles: 12,
            creases: Vec::new(),
            shadow: 0.6,
            seed: 1,
        }
    }
}

pub fn place(u: f32, z: f32) -> Place {
    Point2::new(u, z)
}

/// An uneven ring around a middle.
pub fn blob(middle: Place, a: f32, b: f32, seed: u64) -> Vec<Place> {
    let mut rng = random(seed);
    let waves: Vec<(f32, f32)> =
        (2..5).map(|k| (uniform(&mut rng) * TAU, 0.16 * uniform(&mut rng) / k as f32)).collect();
    (0..400)
        .map(|i| {
            let t = TAU * i as f32 / 400.0;
            let r: f32 =
                1.0 + waves.iter().enumerate().map(|(k, (p, s))| s * ((k + 2) as f32 * t + p).sin()).sum::<f32>();
            place(middle.x + a * r * t.cos(), middle.y + b * r * t.sin())
        })
        .collect()
}

/// A closed path in dashes of `on` mm from tip to tip, rounded like the nib, with about `off` mm of bare skin between
/// two, so that they come out even; measured on the tube.
pub fn dashed(path: &[Place], on: f32, off: f32, width: f32, colour: [f32; 3]) -> Vec<Stroke> {
    let closed: Vec<Place> = path.iter().chain(&path[..1]).copied().collect();
    let mut along = vec![0.0];
    for pair in closed.windows(2) {
        along.push(along[along.len() - 1] + (on_tube(&pair[1]) - on_tube(&pair[0])).norm());
    }
    let whole = along[along.len() - 1];
    let at = |s: f32| {
        let k = along.partition_point(|x| *x <= s).clamp(1, along.len() - 1);
        closed[k - 1] + (closed[k] - closed[k - 1]) * ((s - along[k - 1]) / (along[k] - along[k - 1]))
    };
    let count = (whole / (on + off)).round();
    (0..count as usize)
        .map(|k| {
            // The nib is round, so its middle travels less than the length of the dash.
            let (start, long) = (whole * k as f32 / count, on - width);
            let path = (0..=8).map(|i| at((start + long * i as f32 / 8.0).min(whole))).collect();
            Stroke { path, closed: false, width, colour, cover: 0.93 }
        })
        .collect()
}

/// The spot of the tube at a place: the radius swells and shrinks along it by 6 %.
pub fn on_tube(p: &Place) -> Point3<f32> {
    let (r, angle) = (RADIUS * (1.0 + 0.06 * (p.y / 45.0).sin()), p.x / RADIUS);
    Point3::new(r * angle.cos(), r * angle.sin(), p.y)
}

/// The place of a spot on the tube, with u nearest to `near`.
pub fn place_of(p: &Point3<f32>, near: f32) -> Place {
    let round = TAU * RADIUS;
    let u = p.y.atan2(p.x) * RADIUS;
    place(u + ((near - u) / round).round() * round, p.z)
}

pub fn random(seed: u64) -> Pcg32 {
    Pcg32::new(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15), 11)
}

pub fn uniform(rng: &mut Pcg32) -> f32 {
    (rng.next_u32() >> 8) as f32 / (1 << 24) as f32
}

fn normal(rng: &mut Pcg32) -> f32 {
    (-2.0 * uniform(rng).max(1e-7).ln()).sqrt() * (TAU * uniform(rng)).cos()
}

/// A stroke laid on the tube: its line, the box round it, and the stroke.
type LaidStroke<'a> = (Vec<Point3<f32>>, [Point3<f32>; 2], &'a Stroke);

impl Skin {
    pub fn build(&self) -> Surface {
        self.build_filled().0
    }

    /// The skin, and which of its vertices were made up to fill holes.
    pub fn build_filled(&self) -> (Surface, Vec<bool>) {
        let mut rng = random(self.seed);
        let around = (TAU * RADIUS / self.spacing).round() as usize;
        let along = (LENGTH / (self.spacing * 0.866)).round() as usize;
        let (du, dz) = (TAU * RADIUS / around as f32, LENGTH / along as f32);
        let mut places = Vec::new();
        for j in 0..=along {
            for i in 0..around {
                let shake = |rng: &mut Pcg32| 0.5 * (uniform(rng) - 0.5);
                let u = (i as f32 + 0.5 * (j % 2) as f32 + shake(&mut rng)) * du;
                let z = (j as f32 + if j == 0 || j == along { 0.0 } else { shake(&mut rng) }) * dz - LENGTH / 2.0;
                places.push(place(u, z));
            }
        }
        let number = |j: usize, i: usize| (j * around + i % around) as u32;
        let mut triangles = Vec::new();
        for j in 0..along {
            for i in 0..around {
                let (a, b, c, d) = (number(j, i), number(j, i + 1), number(j + 1, i), number(j + 1, i + 1));
                triangles.extend(if j % 2 == 0 { [[a, b, c], [b, d, c]] } else { [[a, b, d], [a, d, c]] });
            }
        }
        triangles.retain(|t| {
            !t.iter().any(|v| self.holes.iter().any(|(m, r)| (turned(&places[*v as usize], m.x) - m).norm() < *r))
        });
        let points = places
            .iter()
            .map(|p| {
                let q = on_tube(p);
                let out = nalgebra::Vector3::new(q.x, q.y, 0.0).normalize();
                q + out * self.noise * normal(&mut rng)
            })
            .collect();
        let colours = self.colours(&places, &mut rng);
        let filled = places.iter().map(|p| self.filled.iter().any(|(m, r)| (turned(p, m.x) - m).norm() < *r)).collect();
        (Surface::new(Mesh { points, triangles, colours: Some(colours) }), filled)
    }

    fn colours(&self, places: &[Place], rng: &mut Pcg32) -> Vec<[u8; 3]> {
        let moles: Vec<(Place, f32)> = (0..self.moles)
            .map(|_| {
                let p = place(uniform(rng) * TAU * RADIUS, (uniform(rng) - 0.5) * LENGTH);
                (p, 0.8 + 1.8 * uniform(rng))
            })
            .collect();
        let phases: Vec<f32> = (0..8).map(|_| uniform(rng) * TAU).collect();
        let strokes: Vec<LaidStroke<'_>> = self
            .strokes
            .iter()
            .map(|s| {
                let line: Vec<Point3<f32>> = s.path.iter().map(on_tube).collect();
                let (low, high) = line.iter().fold((line[0], line[0]), |(l, h), p| (l.inf(p), h.sup(p)));
                let margin = nalgebra::Vector3::repeat(s.width);
                (line, [low - margin, high + margin], s)
            })
            .collect();
        places
            .iter()
            .map(|p| {
                let q = on_tube(p);
                let blotch = 0.025 * (q.x / 9.0 + phases[0]).sin() * (q.z / 11.0 + phases[1]).cos()
                    + 0.02 * (q.y / 6.0 + phases[2]).sin()
                    + 0.02 * (q.z / 5.0 + q.x / 8.0 + phases[3]).sin();
                let grain = self.grain * normal(rng);
                let mut colour = self.tone.map(|c| c * (1.0 + blotch + grain));
                for (m, r) in &moles {
                    let k = step(*r + 0.4, *r - 0.4, (turned(p, m.x) - m).norm());
                    colour = mix(colour, [colour[0] * 0.5, colour[1] * 0.4, colour[2] * 0.38], k);
                }
                for (a, b, dark) in &self.creases {
                    let k = step(0.9, 0.3, to_segment(&turned(p, a.x), a, b)) * dark;
                    colour = colour.map(|c| c * (1.0 - k));
                }
                for (line, [low, high], stroke) in &strokes {
                    if q.inf(low) != *low || q.sup(high) != *high {
                        continue;
                    }
                    let sides = if stroke.closed { line.len() } else { line.len() - 1 };
                    let d = (0..sides)
                        .map(|i| segment(&q, &line[i], &line[(i + 1) % line.len()]))
                        .fold(f32::INFINITY, f32::min);
                    let half = stroke.width / 2.0;
                    let mut k = step(half + 0.35, half - 0.35, d) * stroke.cover;
                    if self.gaps.iter().any(|(m, r)| (turned(p, m.x) - m).norm() < *r) {
                        k = 0.0;
                    }
                    colour = mix(colour, stroke.colour, k);
                }
                if self.filled.iter().any(|(m, r)| (turned(p, m.x) - m).norm() < *r) {
                    colour = self.tone.map(|c| 0.8 * c);
                }
                let side =
                    0.5 + 0.5 * (q.x / RADIUS * 0.7 + q.z / LENGTH * 0.6 + phases[4].sin() * 0.3).clamp(-1.0, 1.0);
                let edge = self.hard_shadow + (1.0 - self.hard_shadow) * step(-1.5, 1.5, q.z + 0.4 * q.x - 10.0);
                let light = (self.shadow + (1.0 - self.shadow) * side) * edge;
                colour.map(|c| (c * light + 1.5 * normal(rng)).clamp(0.0, 255.0) as u8)
            })
            .collect()
    }
}

/// `p` with its u moved by whole turns to lie nearest to `near`.
fn turned(p: &Place, near: f32) -> Place {
    let round = TAU * RADIUS;
    place(p.x + ((near - p.x) / round).round() * round, p.y)
}

fn mix(a: [f32; 3], b: [f32; 3], k: f32) -> [f32; 3] {
    std::array::from_fn(|i| a[i] + (b[i] - a[i]) * k)
}

/// 0 at `from` and beyond, 1 at `to` and beyond.
fn step(from: f32, to: f32, x: f32) -> f32 {
    ((x - from) / (to - from)).clamp(0.0, 1.0)
}

fn to_segment(p: &Place, a: &Place, b: &Place) -> f32 {
    let d = b - a;
    (p - (a + d * ((p - a).dot(&d) / d.norm_squared().max(1e-9)).clamp(0.0, 1.0))).norm()
}

fn segment(p: &Point3<f32>, a: &Point3<f32>, b: &Point3<f32>) -> f32 {
    let d = b - a;
    (p - (a + d * ((p - a).dot(&d) / d.norm_squared().max(1e-9)).clamp(0.0, 1.0))).norm()
}

/// Whether a place is inside a closed path (even-odd).
pub fn contains(path: &[Place], p: &Place) -> bool {
    let mut inside = false;
    for i in 0..path.len() {
        let (a, b) = (path[i], path[(i + 1) % path.len()]);
        if (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) {
            inside = !inside;
        }
    }
    inside
}

/// Intersection over union of the insides of two closed paths, counted on a grid of 0.4 mm.
pub fn overlap(a: &[Place], b: &[Place]) -> f64 {
    let all = || a.iter().chain(b);
    let (low, high) = all().fold((a[0], a[0]), |(l, h), p| (l.inf(p), h.sup(p)));
    let (mut both, mut either) = (0_u32, 0_u32);
    let mut p = low;
    while p.y < high.y {
        p.x = low.x;
        while p.x < high.x {
            let (x, y) = (contains(a, &p), contains(b, &p));
            both += u32::from(x && y);
            either += u32::from(x || y);
            p.x += 0.4;
        }
        p.y += 0.4;
    }
    f64::from(both) / f64::from(either)
}
