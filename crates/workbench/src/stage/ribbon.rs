//! Lines that lie on the skin, as thin bands with a light border so that they show on every skin tone.

use mesh::{Hit, Surface};
use nalgebra::{Point3, Vector3};

/// Points of a ring.
const ROUND: usize = 72;
/// Steps from the middle of a ring to its edge.
const OUT: usize = 5;

/// Bands with colours, ready to be shown.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Ribbons {
    /// Corners.
    pub points: Vec<[f32; 3]>,
    /// Their colours, linear.
    pub colours: Vec<[f32; 4]>,
    /// Triangles.
    pub indices: Vec<u32>,
}

/// How a line looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineStyle {
    /// Colour of the line, linear RGB.
    pub core: [f32; 3],
    /// Colour of its border, linear RGB.
    pub border: [f32; 3],
    /// Width of the line without border, mm.
    pub width_mm: f32,
    /// Length of a dash and of the gap after it, mm; 0 for a solid line.
    pub dash_mm: f32,
}

impl Ribbons {
    /// Draws a line on the skin.
    pub fn line(&mut self, skin: &Surface, line: &[Point3<f32>], closed: bool, pen: &LineStyle) {
        let mut seed = None;
        let normals: Vec<Vector3<f32>> = line
            .iter()
            .map(|p| {
                let hit = skin.nearest(p, seed);
                seed = hit.map(|h| h.triangle);
                hit.map_or_else(Vector3::z, |h| skin.normal_at(&h))
            })
            .collect();
        let count = if closed { line.len() } else { line.len().saturating_sub(1) };
        let mut gone_mm = 0.0;
        for i in 0..count {
            let k = (i + 1) % line.len();
            let drawn = pen.dash_mm <= 0.0 || (gone_mm % (2.0 * pen.dash_mm)) < pen.dash_mm;
            gone_mm += (line[k] - line[i]).norm();
            if !drawn {
                continue;
            }
            let ends = [(line[i], normals[i]), (line[k], normals[k])];
            self.band(ends, 2.0 * pen.width_mm, 0.35, pen.border);
            self.band(ends, pen.width_mm, 0.5, pen.core);
        }
    }

    fn band(&mut self, ends: [(Point3<f32>, Vector3<f32>); 2], width_mm: f32, lift_mm: f32, colour: [f32; 3]) {
        let along = ends[1].0 - ends[0].0;
        let length = along.norm();
        if length < 1e-6 {
            return;
        }
        // A little longer, so that no gap opens where the line bends.
        let beyond = along * (0.25 * width_mm / length);
        let first = self.points.len() as u32;
        for ((p, n), beyond) in ends.into_iter().zip([-beyond, beyond]) {
            let side = n.cross(&along).try_normalize(1e-9).unwrap_or_else(Vector3::x) * (0.5 * width_mm);
            for s in [side, -side] {
                self.points.push((p + beyond + s + n * lift_mm).coords.into());
                self.colours.push([colour[0], colour[1], colour[2], 1.0]);
            }
        }
        self.indices.extend([0, 1, 2, 2, 1, 3].map(|i| first + i));
    }

    /// A round spot on the skin.
    pub fn spot(&mut self, at: &Point3<f32>, normal: &Vector3<f32>, radius_mm: f32, colour: [f32; 3], lift_mm: f32) {
        let (u, v) = across(normal);
        let first = self.points.len() as u32;
        let middle = at + normal * lift_mm;
        self.points.push(middle.coords.into());
        for i in 0..16 {
            let (s, c) = (i as f32 / 16.0 * std::f32::consts::TAU).sin_cos();
            self.points.push((middle + (u * c + v * s) * radius_mm).coords.into());
        }
        self.colours.extend([[colour[0], colour[1], colour[2], 1.0]; 17]);
        self.indices.extend((0..16).flat_map(|i| [first, first + 1 + i, first + 1 + (i + 1) % 16]));
    }
}

/// A ring on the skin: each point is reached by walking `radius_mm` straight over the skin from `middle`.
pub fn ring(skin: &Surface, middle: &Hit, radius_mm: f32) -> Vec<Point3<f32>> {
    let (u, v) = across(&skin.normal_at(middle));
    (0..ROUND)
        .map(|i| {
            let (s, c) = (i as f32 / ROUND as f32 * std::f32::consts::TAU).sin_cos();
            let (mut at, mut way) = (*middle, u * c + v * s);
            for _ in 0..OUT {
                let Some(next) = skin.nearest(&(at.point + way * (radius_mm / OUT as f32)), Some(at.triangle)) else {
                    break;
                };
                let normal = skin.normal_at(&next);
                way = (way - normal * way.dot(&normal)).try_normalize(1e-6).unwrap_or(way);
                at = next;
            }
            at.point
        })
        .collect()
}

/// Two directions perpendicular to `normal` and to each other.
fn across(normal: &Vector3<f32>) -> (Vector3<f32>, Vector3<f32>) {
    let other = if normal.z.abs() < 0.8 { Vector3::z() } else { Vector3::x() };
    let u = normal.cross(&other).try_normalize(1e-9).unwrap_or_else(Vector3::x);
    (u, normal.cross(&u))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tube of 40 mm radius along z, 2 mm triangles.
    fn tube() -> Surface {
        test_shapes::tube(40.0, [0.0, 200.0], 126, 101).build()
    }

    #[test]
    fn a_ring_keeps_its_radius_over_a_tube() {
        let skin = tube();
        let middle = skin.nearest(&Point3::new(45.0, 0.0, 100.0), None).unwrap();
        for radius_mm in [5.0, 20.0] {
            for p in ring(&skin, &middle, radius_mm) {
                // Unrolled, a tube is flat: the way over it is the hypotenuse of arc and height.
                let arc = 40.0 * p.y.atan2(p.x);
                let way = arc.hypot(p.z - 100.0);
                assert!((way / radius_mm - 1.0).abs() < 0.03, "{way} for {radius_mm} at {p:?}");
            }
        }
    }

    #[test]
    fn dashes_leave_half_of_the_line_out() {
        let skin = tube();
        let line: Vec<Point3<f32>> = (0..=100).map(|i| Point3::new(40.0, 0.0, 50.0 + 0.5 * i as f32)).collect();
        let pen = LineStyle { core: [0.0; 3], border: [1.0; 3], width_mm: 1.0, dash_mm: 5.0 };
        let (mut whole, mut dashed) = (Ribbons::default(), Ribbons::default());
        whole.line(&skin, &line, false, &LineStyle { dash_mm: 0.0, ..pen });
        dashed.line(&skin, &line, false, &pen);
        assert_eq!(whole.indices.len(), 100 * 12);
        assert_eq!(dashed.indices.len(), 50 * 12);
    }
}
