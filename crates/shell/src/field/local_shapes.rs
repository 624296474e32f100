//! Which openings and embosses each skin triangle has to look at.

use mesh::{Cancelled, Hit, Job, Surface};
use nalgebra::Vector3;
use rayon::prelude::*;

use super::bend::Bend;
use super::foot_point;
use crate::{Chart, DesignItem, Layout, Shape};

/// Width over which raised and sunk marks rise, so that they print cleanly, mm.
pub(super) const EMBOSS_SIDE_MM: f32 = 0.8;
/// The distance to an opening is looked up this far beyond its outline, the rounding of its edge and the reach of a
/// foot point, mm.
const OPENING_REACH_MM: f32 = 0.5;

/// What a shape does to the wall.
#[derive(Debug, Clone, Copy)]
pub(super) enum Effect {
    /// It goes through the wall.
    Open,
    /// It moves the outer face by this height, mm.
    Emboss(f32),
}

/// One shape as one triangle sees it: which, and the chart coordinates of the triangle's corners.
#[derive(Debug, Clone, Copy)]
struct OnTriangle {
    shape: u32,
    uv: [[f32; 2]; 3],
}

/// All shapes of a layout, sorted by the triangles that they touch.
pub(super) struct LocalShapes<'a> {
    shapes: Vec<(&'a Shape, Effect, Bend)>,
    /// Shapes of triangle t: `on_triangle[starts[t]..starts[t + 1]]`.
    starts: Vec<u32>,
    on_triangle: Vec<OnTriangle>,
}

impl<'a> LocalShapes<'a> {
    /// Hands each triangle of the skin the shapes that matter to it; edges are rounded by `round_mm` and the wall ends
    /// about `outer_mm` over the skin.
    ///
    /// # Errors
    /// [`Cancelled`] on request; checked for each shape.
    pub(super) fn new(
        skin: &Surface,
        normals: &[Vector3<f32>],
        [round_mm, outer_mm]: [f32; 2],
        layout: &'a Layout,
        job: &Job,
    ) -> Result<Self, Cancelled> {
        let openings = layout.openings.iter().map(|o| (&*o.chart, &o.shape, Effect::Open, o.item));
        let embosses = layout.embosses.iter().map(|e| (&*e.chart, &e.shape, Effect::Emboss(e.height_mm), e.item));
        let all: Vec<(&Chart, &Shape, Effect, DesignItem)> = openings.chain(embosses).collect();
        let bend = |(chart, shape, _, item): &(&Chart, &Shape, Effect, DesignItem)| {
            Bend::under(skin, normals, chart, shape, *item != DesignItem::Vent)
        };
        let bends: Vec<Bend> = all.par_iter().map(bend).collect();
        let per_shape: Vec<Vec<(u32, OnTriangle)>> = all
            .par_iter()
            .enumerate()
            .map(|(number, (chart, shape, effect, _))| {
                job.check()?;
                let reach = match effect {
                    Effect::Open => round_mm + foot_point::REACH_MM + OPENING_REACH_MM,
                    Effect::Emboss(_) => foot_point::REACH_MM + EMBOSS_SIDE_MM,
                };
                let wider = shape.reach() * (bends[number].widest_on_skin(outer_mm) - 1.0);
                let under = triangles_under(skin, chart, shape, reach + wider).into_iter();
                Ok(under.map(|(t, uv)| (t, OnTriangle { shape: number as u32, uv })).collect())
            })
            .collect::<Result<_, Cancelled>>()?;
        let mut starts = vec![0_u32; skin.mesh().triangles.len() + 1];
        for (t, _) in per_shape.iter().flatten() {
            starts[*t as usize + 1] += 1;
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut fill = starts.clone();
        let total = *starts.last().unwrap_or(&0) as usize;
        let mut on_triangle = vec![OnTriangle { shape: 0, uv: [[0.0; 2]; 3] }; total];
        for (t, one) in per_shape.into_iter().flatten() {
            on_triangle[fill[t as usize] as usize] = one;
            fill[t as usize] += 1;
        }
        let shapes = all.into_iter().zip(bends).map(|((_, shape, effect, _), bend)| (shape, effect, bend)).collect();
        Ok(Self { shapes, starts, on_triangle })
    }

    /// The shapes near a skin point, each with the signed distance to its outline at a height over the skin, and its
    /// effect.
    pub(super) fn at(&self, hit: &Hit, height_mm: f32) -> impl Iterator<Item = (f32, Effect)> + '_ {
        let t = hit.triangle as usize;
        let [u, v, w] = hit.weights;
        self.on_triangle[self.starts[t] as usize..self.starts[t + 1] as usize].iter().map(move |one| {
            let [a, b, c] = one.uv;
            let uv = [a[0] * u + b[0] * v + c[0] * w, a[1] * u + b[1] * v + c[1] * w];
            let (shape, effect, bend) = self.shapes[one.shape as usize];
            (shape.signed_distance(bend.at_height(uv, height_mm)), effect)
        })
    }
}

/// Triangles of the chart that come within `reach` of the shape, with their corners' coordinates.
fn triangles_under(skin: &Surface, chart: &Chart, shape: &Shape, reach: f32) -> Vec<(u32, [[f32; 2]; 3])> {
    let mut under: Vec<(u32, [[f32; 2]; 3])> = Vec::new();
    for (v, _) in &chart.vertices {
        for &t in skin.adjacency().triangles_around(*v) {
            let corners = skin.mesh().triangles[t as usize];
            // Each triangle once: from its lowest corner.
            if corners.iter().min() != Some(v) {
                continue;
            }
            let [Some(a), Some(b), Some(c)] = corners.map(|w| chart.uv_of_vertex(w)) else { continue };
            let longest =
                [(a, b), (b, c), (c, a)].iter().map(|(p, q)| (p[0] - q[0]).hypot(p[1] - q[1])).fold(0.0, f32::max);
            if [a, b, c].iter().any(|uv| shape.signed_distance(*uv) < reach + longest) {
                under.push((t, [a, b, c]));
            }
        }
    }
    under
}
