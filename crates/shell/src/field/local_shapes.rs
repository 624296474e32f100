//! Which openings and embosses each skin triangle has to look at.

use mesh::{Cancelled, Hit, Job, Surface};
use nalgebra::Vector3;
use rayon::prelude::*;

use super::bend::Bend;
use super::foot_point;
use crate::{Chart, Design, DesignItem, Emboss, Layout, MarkKind, Shades, Shape};

/// Width over which raised and sunk marks rise, so that they print cleanly, mm.
pub(super) const EMBOSS_SIDE_MM: f32 = 0.8;
/// The distance to an opening is looked up this far beyond its outline, the rounding of its edge and the reach of a
/// foot point, mm.
const OPENING_REACH_MM: f32 = 0.5;

/// What a shape does to the wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Effect {
    /// It goes through the wall.
    Open,
    /// It moves the outer face by this height, mm.
    Emboss(f32),
    /// It does so downwards, and a second body fills it.
    Inlay(f32),
}

/// A shape of the layout.
#[derive(Clone)]
struct Local<'a> {
    chart: &'a Chart,
    shape: &'a Shape,
    shades: Option<&'a Shades>,
    effect: Effect,
    bend: Bend,
}

/// One shape as one triangle sees it: which, and the chart coordinates of the triangle's corners.
#[derive(Debug, Clone, Copy)]
struct OnTriangle {
    shape: u32,
    uv: [[f32; 2]; 3],
}

/// All shapes of a layout, sorted by the triangles that they touch.
#[derive(Clone)]
pub(super) struct LocalShapes<'a> {
    shapes: Vec<Local<'a>>,
    /// Shapes of triangle t: `on_triangle[starts[t]..starts[t + 1]]`.
    starts: Vec<u32>,
    on_triangle: Vec<OnTriangle>,
}

impl<'a> LocalShapes<'a> {
    /// Hands each triangle of the skin the shapes that matter to it; edges are rounded by `round_mm`, and the wall ends at
    /// most `outer_mm` over the skin.
    ///
    /// # Errors
    /// [`Cancelled`] on request; checked for each shape.
    pub(super) fn new(
        skin: &Surface,
        normals: &[Vector3<f32>],
        design: &Design,
        [round_mm, outer_mm]: [f32; 2],
        layout: &'a Layout,
        job: &Job,
    ) -> Result<Self, Cancelled> {
        let bend = |chart: &Chart, shape: &Shape, item: DesignItem| {
            Bend::under(skin, normals, chart, shape, matches!(item, DesignItem::Fitting(_)))
        };
        let openings = layout.openings.par_iter().map(|o| Local {
            chart: &o.chart,
            shape: &o.shape,
            shades: None,
            effect: Effect::Open,
            bend: bend(&o.chart, &o.shape, o.item),
        });
        let embosses = layout.embosses.par_iter().map(|e| Local {
            chart: &e.chart,
            shape: &e.shape,
            shades: e.shades.as_deref(),
            effect: if is_inlay(design, e) { Effect::Inlay(e.height_mm) } else { Effect::Emboss(e.height_mm) },
            bend: bend(&e.chart, &e.shape, e.item),
        });
        let shapes: Vec<Local<'a>> = openings.chain(embosses).collect();
        let per_shape: Vec<Vec<(u32, OnTriangle)>> = shapes
            .par_iter()
            .enumerate()
            .map(|(number, local)| {
                job.check()?;
                let reach = match local.effect {
                    Effect::Open => round_mm + foot_point::REACH_MM + OPENING_REACH_MM,
                    Effect::Emboss(_) | Effect::Inlay(_) => foot_point::REACH_MM + EMBOSS_SIDE_MM,
                };
                let wider = local.shape.reach() * (local.bend.widest_on_skin(outer_mm) - 1.0);
                let under = triangles_under(skin, local.chart, local.shape, reach + wider).into_iter();
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
            let local = &self.shapes[one.shape as usize];
            let at = local.bend.at_height(uv, height_mm);
            match (local.shades, local.effect) {
                // Where they say so, shades have sides of their own.
                (Some(shades), Effect::Emboss(height)) => (-EMBOSS_SIDE_MM, Effect::Emboss(height * shades.at(at))),
                (_, effect) => (local.shape.signed_distance(at), effect),
            }
        })
    }
}

/// Whether a second body fills it.
fn is_inlay(design: &Design, emboss: &Emboss) -> bool {
    match emboss.item {
        DesignItem::Mark(n) => design.marks.get(n).is_some_and(|mark| mark.kind == MarkKind::Inlay),
        _ => false,
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
