//! The shell as a function of space: the profile carried over the skin.

use mesh::{Hit, NONE, Surface};
use nalgebra::{Point3, Vector3, Vector4};
use rayon::prelude::*;
use zone::Zone;

use crate::profile::{Wall, smooth_step};
use crate::{Chart, Design, Layout, Shape};

/// Width over which raised and sunk marks rise, so that they print cleanly, mm.
const EMBOSS_SIDE_MM: f32 = 0.4;
/// How far beyond the outline of a cut its distance is still asked for, beyond the rounding of its edge and the reach of a
/// foot, mm.
const CUT_REACH_MM: f32 = 0.5;

/// Reach of the averaging of skin normals, mm.
const SMOOTH_MM: f32 = 4.0;
/// Most rounds of that averaging.
const MOST_ROUNDS: usize = 40;
/// Steps towards the foot of a point along smooth normals, once in its triangle.
const FOOT_STEPS: usize = 2;
/// A foot this near is taken in the plane of the triangle hit, mm; walking there would not change it.
const NEAR_MM: f32 = 1.0;
/// Most triangles walked over to the foot, and steps within the last.
const WALK_STEPS: usize = 12;
/// A foot is sought no farther than this from the nearest point, mm.
const FOOT_REACH_MM: f32 = 2.0;

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
    /// Skin normals averaged over a few millimetres.
    normals: Vec<Vector3<f32>>,
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
            normals: smooth_normals(skin, &zone.covered.distance_mm),
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
        let (edge, wall) = self.at(&self.foot(p, &hit));
        (wall.signed_distance(edge, height), hit.triangle)
    }

    /// The skin point whose smooth normal goes through `p`, sought from its nearest point `hit` over the triangles
    /// between them. At an open end of the skin its weights may leave 0..=1 a little.
    ///
    /// Nearest points crowd on the creases between triangles, more so the rougher the scan: lines drawn by them waver
    /// where the face above does not. Over a hollow they jump from one side to the other; this meets between them.
    /// The height above the skin is not touched by it.
    fn foot(&self, p: &Point3<f32>, hit: &Hit) -> Hit {
        let near = self.foot_in_triangle(p, hit);
        if (near.point - hit.point).norm_squared() < NEAR_MM * NEAR_MM { near } else { self.foot_by_walking(p, hit) }
    }

    /// The foot in the plane of the triangle hit, which is as good where it is near.
    fn foot_in_triangle(&self, p: &Point3<f32>, hit: &Hit) -> Hit {
        let corners = self.skin.mesh().triangles[hit.triangle as usize];
        let [a, b, c] = corners.map(|v| self.skin.mesh().points[v as usize]);
        let (ab, ac) = (b - a, c - a);
        let (e, f, g) = (ab.norm_squared(), ab.dot(&ac), ac.norm_squared());
        let det = e * g - f * f;
        if det <= 1e-6 * e * g {
            return *hit;
        }
        let mut foot = *hit;
        for _ in 0..FOOT_STEPS {
            let [u, v, w] = foot.weights;
            let [na, nb, nc] = corners.map(|v| self.normals[v as usize]);
            let Some(normal) = (na * u + nb * v + nc * w).try_normalize(1e-6) else { return *hit };
            let away = p - foot.point;
            let off = away - normal * normal.dot(&away);
            let (x, y) = (off.dot(&ab), off.dot(&ac));
            let (dv, dw) = ((g * x - f * y) / det, (e * y - f * x) / det);
            foot.weights = [u - dv - dw, v + dv, w + dw];
            foot.point += ab * dv + ac * dw;
        }
        foot
    }

    fn foot_by_walking(&self, p: &Point3<f32>, hit: &Hit) -> Hit {
        let mesh = self.skin.mesh();
        let mut foot = *hit;
        let mut settled = 0;
        for _ in 0..WALK_STEPS {
            let corners = mesh.triangles[foot.triangle as usize];
            let [a, b, c] = corners.map(|v| mesh.points[v as usize]);
            let (ab, ac) = (b - a, c - a);
            let (e, f, g) = (ab.norm_squared(), ab.dot(&ac), ac.norm_squared());
            let det = e * g - f * f;
            let [u, v, w] = foot.weights;
            let [na, nb, nc] = corners.map(|v| self.normals[v as usize]);
            let Some(normal) = (na * u + nb * v + nc * w).try_normalize(1e-6).filter(|_| det > 1e-6 * e * g) else {
                return foot;
            };
            let away = p - foot.point;
            let off = away - normal * normal.dot(&away);
            let (x, y) = (off.dot(&ab), off.dot(&ac));
            let (dv, dw) = ((g * x - f * y) / det, (e * y - f * x) / det);
            let step = ab * dv + ac * dw;
            // Held back, not given up: a jump of the foot would be a jump of the field, and a hole in the wall.
            let share = share_within(&(foot.point - hit.point), &step, FOOT_REACH_MM);
            let change = [-dv - dw, dv, dw];
            let to_side = |k: usize| if change[k] < 0.0 { foot.weights[k] / -change[k] } else { f32::INFINITY };
            let (k, until) =
                (0..3).map(|k| (k, to_side(k))).fold((0, share), |least, k| if k.1 < least.1 { k } else { least });
            let across = if until < share {
                self.skin.adjacency().neighbours[foot.triangle as usize][(k + 1) % 3]
            } else {
                NONE
            };
            if across == NONE {
                for (weight, change) in foot.weights.iter_mut().zip(change) {
                    *weight += share * change;
                }
                foot.point += step * share;
                settled += 1;
                if settled == FOOT_STEPS || share < 1.0 {
                    return foot;
                }
                continue;
            }
            let until = until.max(0.0);
            let on_side = |v: u32| {
                let corner = corners.iter().position(|w| *w == v).filter(|i| *i != k);
                corner.map_or(0.0, |i| foot.weights[i] + until * change[i])
            };
            foot.weights = mesh.triangles[across as usize].map(on_side);
            foot.triangle = across;
            foot.point += step * until;
        }
        foot
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

/// The share of `step`, at most all of it, that leads from `from` no farther than `reach` from the origin.
fn share_within(from: &Vector3<f32>, step: &Vector3<f32>, reach: f32) -> f32 {
    if (from + step).norm_squared() <= reach * reach {
        return 1.0;
    }
    // |from + t step|² = reach², the larger root.
    let (a, b, c) = (step.norm_squared(), from.dot(step), from.norm_squared() - reach * reach);
    ((-b + (b * b - a * c).max(0.0).sqrt()) / a.max(f32::MIN_POSITIVE)).clamp(0.0, 1.0)
}

/// Normals near the zone averaged over about [`SMOOTH_MM`]; elsewhere the plain ones.
fn smooth_normals(skin: &Surface, edge_mm: &[f32]) -> Vec<Vector3<f32>> {
    let mesh = skin.mesh();
    let mut normals = skin.vertex_normals().to_vec();
    let is_near = |v: usize| edge_mm.get(v).is_some_and(|edge| *edge > -2.0 * SMOOTH_MM);
    // Those near the zone in a numbering of their own, and after them the ring of others that they look at.
    let mut number = vec![u32::MAX; normals.len()];
    let mut known: Vec<u32> = (0..normals.len() as u32).filter(|v| is_near(*v as usize)).collect();
    let near = known.len();
    known.iter().enumerate().for_each(|(i, v)| number[*v as usize] = i as u32);
    let mut starts = vec![0];
    let mut ring: Vec<u32> = Vec::with_capacity(7 * near);
    let mut lengths = 0.0_f64;
    for i in 0..near {
        let v = known[i];
        let begin = ring.len();
        for w in skin.adjacency().triangles_around(v).iter().flat_map(|t| mesh.triangles[*t as usize]) {
            if number[w as usize] == u32::MAX {
                number[w as usize] = known.len() as u32;
                known.push(w);
            }
            let n = number[w as usize];
            if w != v && !ring[begin..].contains(&n) {
                lengths += f64::from((mesh.points[v as usize] - mesh.points[w as usize]).norm());
                ring.push(n);
            }
        }
        starts.push(ring.len());
    }
    let mean_mm = lengths / ring.len().max(1) as f64;
    // Each round spreads by about one edge, so rounds grow with the square of the reach.
    let rounds = ((f64::from(SMOOTH_MM) / mean_mm.max(1e-3)).powi(2) as usize).clamp(1, MOST_ROUNDS);
    let mut now: Vec<Vector4<f32>> = known.iter().map(|v| normals[*v as usize].push(0.0)).collect();
    let mut next = now.clone();
    for _ in 0..rounds {
        next[..near].par_iter_mut().with_min_len(4096).enumerate().for_each(|(i, to)| {
            let others = &ring[starts[i]..starts[i + 1]];
            *to = others.iter().fold(now[i], |sum, w| sum + now[*w as usize]) / (others.len() + 1) as f32;
        });
        std::mem::swap(&mut now, &mut next);
    }
    for (v, normal) in known.iter().zip(now).take(near) {
        if let Some(unit) = normal.xyz().try_normalize(1e-6) {
            normals[*v as usize] = unit;
        }
    }
    normals
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
                Effect::Cut => design.rim.round_mm + FOOT_REACH_MM + CUT_REACH_MM,
                Effect::Emboss(_) => FOOT_REACH_MM + EMBOSS_SIDE_MM,
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
