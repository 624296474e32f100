//! The middle of a chart: each vertex straight from the centre, without a path over the triangles between.
//!
//! Two skin points whose normals differ by a turn θ about an axis are joined by an arc: the part of the chord along
//! the axis is as long as it is, the part across is θ/2 / sin(θ/2) times longer. That is exact on planes, cylinders
//! and balls, right to third order elsewhere, and little affected by noise: a vertex that is δ off the true
//! skin at distance s is misplaced by δ²/2s, where a path over noisy triangles grows by a percent or two.

use std::cell::RefCell;

use mesh::{Hit, Surface};
use nalgebra::Vector3;

use crate::skin_directions;

/// Up to here vertices are reached straight, mm.
const STRAIGHT_MM: f32 = 12.0;
/// Cosine of the greatest turn of the normal on the straight way; about 50 degrees.
const LEAST_COSINE: f32 = 0.64;

/// Memory that each thread keeps from chart to chart: thousands of charts are made on the same skin.
#[derive(Default)]
pub(super) struct Scratch {
    round: u32,
    /// For each vertex of the skin the round in which it was last mapped, and its place in `mapped` then.
    stamp: Vec<(u32, u32)>,
    /// Vertices with coordinates, in the order found.
    pub(super) mapped: Vec<(u32, [f32; 2])>,
    /// Some vertices could not be reached straight, or the chart is larger than that.
    pub(super) unfinished: bool,
}

impl Scratch {
    fn start(&mut self, vertices: usize) {
        if self.stamp.len() < vertices {
            self.stamp.resize(vertices, (0, 0));
        }
        if self.round == u32::MAX {
            self.stamp.fill((0, 0));
            self.round = 0;
        }
        self.round += 1;
        self.mapped.clear();
        self.unfinished = false;
    }

    /// Where `vertex` is in `mapped`.
    pub(super) fn place(&self, vertex: u32) -> Option<usize> {
        let (round, place) = self.stamp[vertex as usize];
        (round == self.round).then_some(place as usize)
    }

    pub(super) fn set(&mut self, vertex: u32, uv: [f32; 2]) {
        match self.place(vertex) {
            Some(place) => self.mapped[place].1 = uv,
            None => {
                self.stamp[vertex as usize] = (self.round, self.mapped.len() as u32);
                self.mapped.push((vertex, uv));
            }
        }
    }

    /// The finished coordinates.
    pub(super) fn take_mapped(&mut self) -> Vec<(u32, [f32; 2])> {
        self.mapped.clone()
    }
}

/// Runs `work` with this thread's memory.
pub(super) fn with_scratch<T>(skin: &Surface, work: impl FnOnce(&mut Scratch) -> T) -> T {
    thread_local!(static SCRATCH: RefCell<Scratch> = RefCell::default());
    SCRATCH.with_borrow_mut(|scratch| {
        scratch.start(skin.mesh().points.len());
        work(scratch)
    })
}

/// Maps the vertices that are connected with the centre, as far as the straight way reaches.
pub(super) fn map(skin: &Surface, at: &Hit, turn_deg: f32, radius_mm: f32, scratch: &mut Scratch) {
    let points = &skin.mesh().points;
    let normal = skin.normal_at(at);
    let (around, along) = skin_directions(&normal);
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    let (u, v) = (around * cos + along * sin, along * cos - around * sin);
    let reach = radius_mm.min(STRAIGHT_MM);
    scratch.unfinished = radius_mm > STRAIGHT_MM;

    let visit = |vertex: u32, scratch: &mut Scratch| {
        if scratch.place(vertex).is_some() {
            return;
        }
        let other = skin.vertex_normals()[vertex as usize];
        if normal.dot(&other) < LEAST_COSINE && (points[vertex as usize] - at.point).norm_squared() > 1.0 {
            scratch.unfinished = true;
            return;
        }
        let way = arc(&(points[vertex as usize] - at.point), &normal, &other);
        scratch.set(vertex, [way.dot(&u), way.dot(&v)]);
    };
    for vertex in skin.mesh().triangles[at.triangle as usize] {
        visit(vertex, scratch);
    }
    let mut next = 0;
    while next < scratch.mapped.len() {
        let (vertex, [x, y]) = scratch.mapped[next];
        next += 1;
        // Going on from a vertex maps all its triangles, so that the disc is covered to its edge.
        if x * x + y * y <= (reach + 0.1) * (reach + 0.1) {
            for t in skin.adjacency().triangles_around(vertex) {
                for w in skin.mesh().triangles[*t as usize] {
                    visit(w, scratch);
                }
            }
        }
    }
}

/// The logarithmic map of a point at `chord` with unit normal `there`, as a vector square to the unit normal `here`.
pub(super) fn arc(chord: &Vector3<f32>, here: &Vector3<f32>, there: &Vector3<f32>) -> Vector3<f32> {
    let flat = chord - here * chord.dot(here);
    let axis = here.cross(there);
    let sin2 = axis.norm_squared();
    let middle = here + there;
    let middle2 = middle.norm_squared();
    let length = chord.norm();
    if sin2 < 1e-10 || middle2 < 1e-6 {
        return flat.try_normalize(1e-12).map_or(flat, |f| f * length);
    }
    let axis = axis / sin2.sqrt();
    let middle = middle / middle2.sqrt();
    // From the difference, since 1 − cos² of a small angle is all rounding, or zero.
    let half_sin = (0.5 * (there - here).norm()).min(1.0);
    let stretch = if half_sin < 1e-4 { 1.0 } else { half_sin.asin() / half_sin };
    let along = chord.dot(&axis);
    let across = chord.dot(&axis.cross(&middle));
    let way = axis * along + axis.cross(here) * (across * stretch);
    // The part of the chord square to the mean tangent plane is noise or a change of curvature: it adds length, and
    // says nothing about the direction.
    let projected = (along * along + across * across).sqrt();
    way * (length / projected.max(0.5 * length).max(f32::MIN_POSITIVE))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn arcs_have_the_length_of_the_circle_down_to_no_turn_at_all() {
        for i in 0..4000 {
            let turn = 1.2 * (i as f32 / 4000.0).powi(8);
            let (radius, rise) = (40.0_f32, 3.0_f32);
            let there = Vector3::new(turn.sin(), 0.0, turn.cos());
            // 1 − cos in its exact form, since here its digits matter.
            let chord = Vector3::new(radius * turn.sin(), rise, -2.0 * radius * (0.5 * turn).sin().powi(2));
            let way = arc(&chord, &Vector3::z(), &there);
            assert_relative_eq!(way.x, radius * turn, epsilon = 2e-3);
            assert_relative_eq!(way.y, rise, epsilon = 1e-3);
            assert_relative_eq!(way.z, 0.0, epsilon = 1e-3);
        }
    }
}
