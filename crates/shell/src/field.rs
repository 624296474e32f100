//! The shell as a function of space: the profile carried over the skin.

use mesh::{Hit, Surface};
use nalgebra::Point3;
use rayon::prelude::*;
use zone::Zone;

use crate::profile::{Wall, smooth_step};
use crate::{Chart, Design, Layout, Shape};

/// Width over which raised and sunk marks rise, so that they print cleanly, mm.
const EMBOSS_SIDE_MM: f32 = 0.4;
/// How far beyond the outline of a cut its distance is still asked for, beyond the rounding of its edge, mm.
const CUT_REACH_MM: f32 = 1.5;

/// The signed distance-like function whose zero set is the shell: negative in the material.
pub struct Field<'a> {
    skin: &'a Surface,
    /// Distance to the trim line at each skin vertex.
    edge_mm: &'a [f32],
    /// Inner face above the skin, without the flare of the rim.
    gap_mm: Vec<f32>,
    /// Wall, without ribs and marks.
    thickness_mm: Vec<f32>,
    rib_mm: &'a [f32],
    design: &'a Design,
    /// Cuts and embosses that each triangle must ask, `starts[t]..starts[t + 1]` of `drawn`.
    starts: Vec<u32>,
    drawn: Vec<Drawn>,
    shapes: Vec<(&'a Shape, Effect)>,
}

#[derive(Debug, Clone, Copy)]
enum Effect {
    Cut,
    Emboss(f32),
}

/// One shape as seen by one triangle: which, and the chart coordinates of the triangle's corners.
#[derive(Debug, Clone, Copy)]
struct Drawn {
    shape: u32,
    uv: [[f32; 2]; 3],
}

impl<'a> Field<'a> {
    /// Prepares the field of one shell. `zone` must belong to `skin`, and `layout` to both.
    #[must_use]
    pub fn new(skin: &'a Surface, zone: &'a Zone, design: &'a Design, layout: &'a Layout) -> Self {
        let count = skin.mesh().points.len();
        let summed = |base: f32, bumps: &[zone::Bump]| -> Vec<f32> {
            let mut values = vec![base; count];
            for bump in bumps {
                let falloff = bump.falloff_mm.max(1e-3);
                for (value, distance) in values.iter_mut().zip(&bump.region.distance_mm) {
                    *value += bump.height_mm * smooth_step(1.0 + distance / falloff);
                }
            }
            values
        };
        let (shapes, starts, drawn) = draw(skin, design, layout);
        Self {
            skin,
            edge_mm: &zone.covered.distance_mm,
            gap_mm: summed(design.gap_mm, &zone.reliefs),
            thickness_mm: summed(design.thickness_mm, &zone.reinforcements),
            rib_mm: &layout.rib_distance_mm,
            design,
            starts,
            drawn,
            shapes,
        }
    }

    /// The value at `p` and the skin triangle nearest to it; `seed` is a triangle believed to be near.
    #[must_use]
    pub fn value(&self, p: &Point3<f32>, seed: Option<u32>) -> (f32, u32) {
        let Some(hit) = self.skin.nearest(p, seed) else { return (f32::INFINITY, 0) };
        let height = self.skin.signed_distance(p, &hit);
        let (edge, wall) = self.at(&hit);
        (wall.signed_distance(edge, height), hit.triangle)
    }

    /// Distance to the nearest edge of the zone or of a cut, and the wall, over one skin point.
    #[must_use]
    pub fn at(&self, hit: &Hit) -> (f32, Wall) {
        let trim = self.skin.interpolate(self.edge_mm, hit);
        let mut edge = trim;
        let mut emboss = 0.0;
        let t = hit.triangle as usize;
        for drawn in &self.drawn[self.starts[t] as usize..self.starts[t + 1] as usize] {
            let [a, b, c] = drawn.uv;
            let [u, v, w] = hit.weights;
            let uv = [a[0] * u + b[0] * v + c[0] * w, a[1] * u + b[1] * v + c[1] * w];
            let (shape, effect) = self.shapes[drawn.shape as usize];
            let distance = shape.signed_distance(uv);
            match effect {
                Effect::Cut => edge = edge.min(distance),
                Effect::Emboss(height) => emboss += height * smooth_step(0.5 - distance / EMBOSS_SIDE_MM),
            }
        }
        let rim = &self.design.rim;
        let towards_rim = (1.0 - trim / rim.flare_width_mm.max(1e-3)).clamp(0.0, 1.0);
        let inner = self.skin.interpolate(&self.gap_mm, hit) + rim.flare_mm * towards_rim * towards_rim;
        let mut outer = inner + self.skin.interpolate(&self.thickness_mm, hit) + emboss;
        if let (Some(ribs), false) = (&self.design.ribs, self.rib_mm.is_empty()) {
            // The sides rise at about 45 degrees; near any edge the rib sinks into the wall.
            let from_side = self.skin.interpolate(self.rib_mm, hit) - 0.5 * ribs.width_mm;
            let foot = 1.2 * ribs.height_mm;
            let sunk = smooth_step(edge / (rim.round_mm + ribs.height_mm));
            outer += ribs.height_mm * smooth_step(1.0 - from_side / foot) * sunk;
        }
        (edge, Wall { inner_mm: inner, outer_mm: outer, round_mm: rim.round_mm })
    }

    /// The skin below the shell.
    #[must_use]
    pub fn skin(&self) -> &Surface {
        self.skin
    }

    /// Distance to the trim line, one a skin vertex.
    #[must_use]
    pub fn edge_mm(&self) -> &[f32] {
        self.edge_mm
    }

    /// A hit on a skin vertex, through its first triangle.
    #[must_use]
    pub fn on_vertex(&self, v: u32) -> Option<Hit> {
        let mesh = self.skin.mesh();
        let t = *self.skin.adjacency().triangles_around(v).first()?;
        let k = mesh.triangles[t as usize].iter().position(|w| *w == v)?;
        let mut weights = [0.0; 3];
        weights[k] = 1.0;
        let feature = mesh::TriangleFeature::Vertex(k as u8);
        Some(Hit { triangle: t, point: mesh.points[v as usize], weights, distance2: 0.0, feature })
    }
}

type Drawings<'a> = (Vec<(&'a Shape, Effect)>, Vec<u32>, Vec<Drawn>);

/// Hands each triangle the shapes that matter to it.
fn draw<'a>(skin: &Surface, design: &Design, layout: &'a Layout) -> Drawings<'a> {
    let cuts = layout.cuts.iter().map(|c| (&*c.chart, &c.shape, Effect::Cut));
    let embosses = layout.embosses.iter().map(|e| (&*e.chart, &e.shape, Effect::Emboss(e.height_mm)));
    let all: Vec<(&Chart, &Shape, Effect)> = cuts.chain(embosses).collect();
    let per_shape: Vec<Vec<(u32, Drawn)>> = all
        .par_iter()
        .enumerate()
        .map(|(i, (chart, shape, effect))| {
            let reach = match effect {
                Effect::Cut => design.rim.round_mm + CUT_REACH_MM,
                Effect::Emboss(_) => EMBOSS_SIDE_MM,
            };
            triangles_under(skin, chart, shape, reach)
                .into_iter()
                .map(|(t, uv)| (t, Drawn { shape: i as u32, uv }))
                .collect()
        })
        .collect();
    let mut starts = vec![0_u32; skin.mesh().triangles.len() + 1];
    for (t, _) in per_shape.iter().flatten() {
        starts[*t as usize + 1] += 1;
    }
    for i in 1..starts.len() {
        starts[i] += starts[i - 1];
    }
    let mut fill = starts.clone();
    let mut drawn = vec![Drawn { shape: 0, uv: [[0.0; 2]; 3] }; *starts.last().unwrap_or(&0) as usize];
    for (t, d) in per_shape.into_iter().flatten() {
        drawn[fill[t as usize] as usize] = d;
        fill[t as usize] += 1;
    }
    (all.into_iter().map(|(_, shape, effect)| (shape, effect)).collect(), starts, drawn)
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
