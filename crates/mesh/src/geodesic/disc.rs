//! The vertices within a geodesic radius, fast enough for every frame of a brush.

use nalgebra::Point3;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::{Hit, Surface};

/// Share by which a distance must improve to be passed on again.
const GAIN: f32 = 5e-4;

/// Most entries taken off the queue for each vertex. A sound surface needs two or three; where rounding makes triangles
/// whose sides do not fit together, distances could shrink round and round without end.
const MOST_TAKEN: usize = 64;

/// Finds the vertices near a place on the surface and how far each is over the surface, for a brush that is being
/// moved.
///
/// It keeps its working space, as large as the mesh, from one call to the next, so a call costs only what it touches.
/// Distances are carried from triangle to triangle by unfolding each onto the plane of the last (Novotni and Klein
/// 2002, "Computing geodesic distances on triangular meshes"): from one place they are exact to one part in two
/// thousand on a flat surface, and to a few per cent on a limb. A finished stroke is measured by
/// [`super::distance_from_points`].
#[derive(Debug, Clone, Default)]
pub struct GeodesicDisc {
    distance: Vec<f32>,
    touched: Vec<u32>,
    queue: BinaryHeap<Reverse<u64>>,
    found: Vec<(u32, f32)>,
    radius_mm: f32,
    /// Entries taken off the queue since the beginning.
    taken: usize,
}

impl GeodesicDisc {
    /// Working space for `surface`; [`GeodesicDisc::default`] makes it at the first call instead.
    #[must_use]
    pub fn new(surface: &Surface) -> Self {
        Self { distance: vec![f32::INFINITY; surface.mesh().points.len()], ..Self::default() }
    }

    /// The vertices within `radius_mm` over the surface from the nearest of `from`, each with its distance in mm, in
    /// the order in which the brush reaches them.
    ///
    /// `from` is one place or the places that the pointer passed since the last frame, as [`Surface::ray`] and
    /// [`Surface::nearest`] give them; places that are not on this surface are ignored.
    pub fn within(&mut self, surface: &Surface, from: &[Hit], radius_mm: f32) -> &[(u32, f32)] {
        self.begin(surface, from, radius_mm);
        self.go_on(surface, usize::MAX);
        self.found.clear();
        self.found.extend(self.touched.iter().map(|v| (*v, self.distance[*v as usize])));
        &self.found
    }

    /// Starts a search as [`Self::within`] does, without going any way yet: see [`Self::go_on`].
    pub fn begin(&mut self, surface: &Surface, from: &[Hit], radius_mm: f32) {
        let mesh = surface.mesh();
        for v in self.touched.drain(..) {
            self.distance[v as usize] = f32::INFINITY;
        }
        self.distance.resize(mesh.points.len(), f32::INFINITY);
        self.queue.clear();
        self.radius_mm = radius_mm;
        self.taken = 0;
        for hit in from {
            for v in mesh.triangles.get(hit.triangle as usize).into_iter().flatten() {
                self.offer(*v, (mesh.points[*v as usize] - hit.point).norm());
            }
        }
    }

    /// Continues the search on the surface that it began on: the next `most` vertices with their distances in mm,
    /// nearest first, or fewer at the end. A vertex can come again when a shorter way to it was found.
    pub fn go_on(&mut self, surface: &Surface, most: usize) -> &[(u32, f32)] {
        let mesh = surface.mesh();
        self.found.clear();
        while self.found.len() < most
            && let Some(Reverse(entry)) = self.queue.pop()
        {
            self.taken += 1;
            if self.taken > MOST_TAKEN * (self.touched.len() + 1) {
                self.queue.clear();
                break;
            }
            let (d, v) = (f32::from_bits((entry >> 32) as u32), entry as u32);
            if d > self.distance[v as usize] {
                continue;
            }
            self.found.push((v, d));
            for &t in surface.adjacency().triangles_around(v) {
                let [a, b, c] = mesh.triangles[t as usize];
                let (w, x) = if a == v {
                    (b, c)
                } else if b == v {
                    (c, a)
                } else {
                    (a, b)
                };
                self.carry(&mesh.points, [v, w], x);
                self.carry(&mesh.points, [v, x], w);
            }
        }
        &self.found
    }

    /// Whether the search has reached everything within the radius.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.queue.is_empty()
    }

    /// Offers vertex `x` the distance through the side from `u` to `v`.
    #[inline(always)]
    fn carry(&mut self, points: &[Point3<f32>], [u, v]: [u32; 2], x: u32) {
        let [du, dv, old] = [u, v, x].map(|i| self.distance[i as usize]);
        // A path through this side cannot be shorter than the distance at its nearer end.
        if old <= du.min(dv) {
            return;
        }
        let [pu, pv, px] = [u, v, x].map(|i| points[i as usize]);
        let to_x = px - pu;
        let through = if dv.is_finite() { unfold(du, dv, pv - pu, to_x) } else { None };
        self.offer(x, through.unwrap_or_else(|| du + to_x.norm()));
    }

    /// Takes `d` as the distance of `v` if it is shorter. Past a right or obtuse corner that can happen after `v` was
    /// passed on; it is then queued again.
    #[inline(always)]
    fn offer(&mut self, v: u32, d: f32) {
        let radius_mm = self.radius_mm;
        let old = &mut self.distance[v as usize];
        if d < *old * (1.0 - GAIN) && d <= radius_mm {
            if *old == f32::INFINITY {
                self.touched.push(v);
            }
            *old = d;
            // The bits of positive floats sort as their values do: the nearest comes first, and of equals the lowest
            // number.
            self.queue.push(Reverse(u64::from(d.to_bits()) << 32 | u64::from(v)));
        }
    }
}

/// Distance at the third corner of a triangle from the source that is `du` and `dv` from the ends of a side, laid out
/// flat on the other side of it; `None` where the straight way does not pass through the side.
#[inline(always)]
fn unfold(du: f32, dv: f32, side: nalgebra::Vector3<f32>, to_x: nalgebra::Vector3<f32>) -> Option<f32> {
    let length = side.norm();
    let along = to_x.dot(&side) / length;
    let above = (to_x.norm_squared() - along * along).max(0.0).sqrt();
    let source = ((du - dv) * (du + dv) + length * length) / (2.0 * length);
    let below = ((du - source) * (du + source)).max(0.0).sqrt();
    let through = source + (along - source) * below / (above + below);
    (through >= 0.0 && through <= length).then(|| (along - source).hypot(above + below))
}
