//! The free space of a pattern: how far each skin point is from all that the pattern must keep away from.

use std::sync::Arc;

use mesh::{Cancelled, Job, Surface};
use nalgebra::Vector3;
use rayon::prelude::*;

use super::tangent_frame::TangentFrame;
use crate::{Chart, Layout, Shape};

/// Stands for "nothing near"; finite, so that it can be interpolated.
pub const FAR_MM: f32 = 1000.0;

/// Clearance at each skin vertex, mm: zero where an outline may just reach, negative where nothing may be.
///
/// Every part of it is a distance on the skin, so that it changes by at most a millimetre per millimetre.
#[derive(Debug, Clone)]
pub struct FreeSpace {
    clearance_mm: Vec<f32>,
    /// Shapes to keep off, with their margins. The clearance at the vertices has them already; between vertices they
    /// are looked up again, since round a small hole the distance is not linear within a triangle.
    shapes: Vec<(Arc<Chart>, Shape, f32)>,
}

impl FreeSpace {
    /// Room inside a region, `margin_mm` from its edge.
    pub fn inside(distance_mm: &[f32], margin_mm: f32) -> Self {
        let clearance_mm = distance_mm.par_iter().map(|d| d.clamp(-FAR_MM, FAR_MM) - margin_mm).collect();
        Self { clearance_mm, shapes: Vec::new() }
    }

    /// Takes away all that is nearer than `margin_mm` by the distances given at the vertices.
    pub fn keep_off(&mut self, distance_mm: &[f32], margin_mm: f32) {
        self.clearance_mm
            .par_iter_mut()
            .zip(distance_mm)
            .for_each(|(c, d)| *c = c.min(d.clamp(-FAR_MM, FAR_MM) - margin_mm));
    }

    /// Takes away all openings and embosses of a layout, and `margin_mm` round each.
    ///
    /// # Errors
    /// [`Cancelled`] on request; checked for each.
    pub fn keep_off_placed(
        &mut self,
        skin: &Surface,
        layout: &Layout,
        margin_mm: f32,
        job: &Job,
    ) -> Result<(), Cancelled> {
        for placed in layout.placed() {
            job.check()?;
            self.keep_off_shape(skin, placed.chart, placed.shape, margin_mm);
        }
        Ok(())
    }

    /// Takes away a shape that is already laid out, and `margin_mm` round it.
    fn keep_off_shape(&mut self, skin: &Surface, chart: &Arc<Chart>, shape: &Shape, margin_mm: f32) {
        let outline = whole_of(shape);
        for (v, uv) in &chart.vertices {
            let left = outline.signed_distance(*uv) - margin_mm;
            if let Some(c) = self.clearance_mm.get_mut(*v as usize) {
                *c = c.min(left);
            }
        }
        // A chart reaches only a little beyond its shape. Beyond it the straight distance to the disc round the shape
        // is a safe stand-in.
        let reach = outline.reach();
        let far = reach + margin_mm + FADE_MM;
        if chart.radius_mm < far {
            let centre = chart.centre.point;
            self.clearance_mm.par_iter_mut().zip(&skin.mesh().points).enumerate().for_each(|(v, (c, p))| {
                let straight = (p - centre).norm();
                if *c > -margin_mm && straight < far && chart.uv_of_vertex(v as u32).is_none() {
                    *c = c.min(straight.max(chart.radius_mm) - reach - margin_mm);
                }
            });
        }
        self.shapes.push((chart.clone(), outline, margin_mm));
    }

    /// Clearance at a spot, mm.
    pub fn at(&self, skin: &Surface, frame: &TangentFrame) -> f32 {
        let told = skin.interpolate(&self.clearance_mm, &frame.hit);
        if told > CLOSE_MM {
            return told;
        }
        let near =
            self.shapes.iter().filter(|(chart, ..)| (chart.centre.point - frame.point()).norm() <= chart.radius_mm);
        near.filter_map(|(chart, shape, margin)| Some(shape.signed_distance(chart.uv_at(skin, &frame.hit)?) - margin))
            .fold(told, f32::min)
    }

    /// Radius of a disc round a spot that surely has room, mm. Unlike [`FreeSpace::at`] it also counts shapes whose
    /// charts do not reach the spot.
    pub fn free_radius_mm(&self, skin: &Surface, frame: &TangentFrame) -> f32 {
        self.shapes.iter().fold(self.at(skin, frame), |free, (chart, shape, margin)| {
            let straight = (chart.centre.point - frame.point()).norm();
            free.min(straight - shape.reach() - margin).max(match chart.uv_at(skin, &frame.hit) {
                Some(uv) if straight <= chart.radius_mm => free.min(shape.signed_distance(uv) - margin),
                _ => f32::NEG_INFINITY,
            })
        })
    }

    /// Clearance at each vertex, mm.
    pub fn clearance_mm(&self) -> &[f32] {
        &self.clearance_mm
    }

    /// Unit direction on the skin in which the clearance grows, at a spot; `None` where it is level.
    pub fn uphill(&self, skin: &Surface, frame: &TangentFrame) -> Option<Vector3<f32>> {
        let t = frame.hit.triangle as usize;
        let [a, b, c] = skin.mesh().corners(t);
        let [fa, fb, fc] = skin.mesh().triangles[t].map(|v| self.clearance_mm[v as usize]);
        let normal = skin.triangle_normals()[t];
        let slope = normal.cross(&(c - b)) * fa + normal.cross(&(a - c)) * fb + normal.cross(&(b - a)) * fc;
        slope.try_normalize(1e-9)
    }

    /// Area with clearance above `level_mm`, mm².
    pub fn area_above_mm2(&self, skin: &Surface, level_mm: f32) -> f64 {
        let mesh = skin.mesh();
        // Summed in pieces of fixed size: the same sum on any number of threads.
        let pieces: Vec<f64> = mesh
            .triangles
            .par_chunks(4096)
            .enumerate()
            .map(|(piece, triangles)| {
                let first = piece * 4096;
                (0..triangles.len())
                    .map(|i| {
                        let f = triangles[i].map(|v| self.clearance_mm[v as usize] - level_mm);
                        match share_above(f) {
                            0.0 => 0.0,
                            share => share * 0.5 * mesh.cross(first + i).norm(),
                        }
                    })
                    .sum()
            })
            .collect();
        pieces.iter().sum()
    }
}

/// Below this clearance shapes are looked up one by one, mm.
const CLOSE_MM: f32 = 1.5;

/// The clearance round a shape is exact this far beyond its margin, mm.
const FADE_MM: f32 = 1.0;

/// The share of a triangle on which the linear function with these corner values is above zero.
fn share_above(f: [f32; 3]) -> f64 {
    let above = f.iter().filter(|x| **x > 0.0).count();
    let lone = |positive: bool| {
        let k = (0..3).find(|k| (f[*k] > 0.0) == positive).unwrap_or(0);
        let (x, y, z) = (f64::from(f[k]), f64::from(f[(k + 1) % 3]), f64::from(f[(k + 2) % 3]));
        let (to_y, to_z) = (x / (x - y), x / (x - z));
        if to_y.is_finite() && to_z.is_finite() { to_y * to_z } else { 0.0 }
    };
    match above {
        0 => 0.0,
        1 => lone(true),
        2 => 1.0 - lone(false),
        _ => 1.0,
    }
}

/// A number or word keeps its bounding box clear: a vent in the middle of a zero would look like part of it.
pub fn whole_of(shape: &Shape) -> Shape {
    let Shape::Drawing { origin, step, width, distance } = shape else { return shape.clone() };
    let (mut low, mut high) = ([f32::INFINITY; 2], [f32::NEG_INFINITY; 2]);
    for (i, _) in distance.iter().enumerate().filter(|(_, d)| **d <= 0.0) {
        let p = [origin[0] + (i % width) as f32 * step, origin[1] + (i / width) as f32 * step];
        for k in 0..2 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    if low[0] > high[0] {
        return shape.clone();
    }
    Shape::RoundedBox {
        centre: [(low[0] + high[0]) * 0.5, (low[1] + high[1]) * 0.5],
        direction: [1.0, 0.0],
        half: [(high[0] - low[0] + step) * 0.5, (high[1] - low[1] + step) * 0.5],
        round: 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample_skins::flat;
    use approx::assert_relative_eq;

    #[test]
    fn area_above_a_level_follows_the_line_through_the_triangles() {
        let skin = flat(40.0, 20.0, 1.0);
        let distance: Vec<f32> = skin.mesh().points.iter().map(|p| p.x + 0.3 * p.y).collect();
        let room = FreeSpace::inside(&distance, 2.35);
        // x > 2.35 − 0.3 y on a sheet of ±20 by ±10: the mean edge is at x = 2.35.
        assert_relative_eq!(room.area_above_mm2(&skin, 0.0), (20.0 - 2.35) * 20.0, epsilon = 1e-2);
    }

    #[test]
    fn a_drawing_keeps_its_whole_box() {
        let mut distance = vec![1.0; 100];
        for i in [23, 28, 83] {
            distance[i] = -1.0;
        }
        let shape = Shape::Drawing { origin: [-5.0, -5.0], step: 1.0, width: 10, distance };
        let whole = whole_of(&shape);
        assert_relative_eq!(whole.signed_distance([0.5, 0.0]), -3.0);
        assert_relative_eq!(whole.signed_distance([5.5, 0.0]), 2.0);
    }
}
