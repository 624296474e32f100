//! Front propagation: distances carried outward over the triangles, nearest first.

use nalgebra::Vector3;

use crate::job::Every;
use crate::{Cancelled, Job, NearestFirst, Surface};

/// What is known at each vertex: distance (infinite where not reached) and the unit direction in which it grows.
#[derive(Debug)]
pub(super) struct Front {
    pub(super) distance: Vec<f64>,
    pub(super) direction: Vec<Vector3<f64>>,
}

impl Front {
    pub(super) fn new(vertices: usize) -> Self {
        Self { distance: vec![f64::INFINITY; vertices], direction: vec![Vector3::zeros(); vertices] }
    }
}

/// A settled vertex is only corrected for a gain of more than this, mm.
const GAIN_MM: f64 = 1e-4;
/// A vertex measured straight to its source is only corrected where another source overtakes it by more than this.
const NEAR_GAIN_MM: f64 = 0.02;
/// Most times that the front goes on from a vertex, on average. A sound surface needs two or three; where rounding
/// makes triangles whose sides do not fit together, distances could shrink round and round without end.
const MOST_STARTS: usize = 64;

/// Two vertex normals with a smaller cosine between them belong to a crease.
const CREASE: f32 = 0.8;

/// Marches from the vertices already in `front` until `reach_mm`.
///
/// With `overtaking`, those vertices too are corrected where a source that started earlier gets there first.
///
/// Semi-Lagrangian: the ray to a vertex is the straight one from the edge point that makes distance there plus
/// length least. Along the edge the distance is the cubic given by the values and slopes at both ends, so that
/// rays from points and corners stay round (Potter and Cameron, "Jet marching methods for solving the eikonal
/// equation", 2021; ordered as in Kimmel and Sethian, "Computing geodesic paths on manifolds", 1998). A vertex in
/// an obtuse corner may be settled too early; it is then corrected and queued once more.
pub(super) fn march(
    surface: &Surface,
    front: &mut Front,
    overtaking: bool,
    reach_mm: f64,
    job: &Job,
) -> Result<(), Cancelled> {
    let mesh = surface.mesh();
    let mut queue = NearestFirst::default();
    let known: Vec<bool> = front.distance.iter().map(|d| d.is_finite()).collect();
    let mut settled = known.clone();
    for (v, d) in front.distance.iter().enumerate() {
        if d.is_finite() {
            queue.push(*d, v as u32, ());
        }
    }
    let mut every = Every::new(job, 2048);
    let mut left = MOST_STARTS * front.distance.len();
    while let Some((d, v, ())) = queue.pop() {
        if d > reach_mm || left == 0 {
            break;
        }
        left -= 1;
        if d > front.distance[v as usize] {
            continue;
        }
        every.tick()?;
        settled[v as usize] = true;
        for &t in surface.adjacency().triangles_around(v) {
            let corners = mesh.triangles[t as usize];
            let Some(k) = corners.iter().position(|c| *c == v) else { continue };
            let (a, b) = (corners[(k + 1) % 3], corners[(k + 2) % 3]);
            for (target, other) in [(a, b), (b, a)] {
                let i = target as usize;
                let old = front.distance[i];
                // A path through this edge cannot be shorter than the distance at its nearer end.
                if old <= d.min(front.distance[other as usize]) {
                    continue;
                }
                let normal: Vector3<f64> = surface.vertex_normals()[i].cast();
                let (new, ray) = through_edge(surface, front, target, v, other);
                let needed = match (known[i], settled[i]) {
                    (true, _) if !overtaking => continue,
                    (true, _) => NEAR_GAIN_MM + 0.01 * old,
                    (false, true) => GAIN_MM,
                    (false, false) => 0.0,
                };
                if new < old - needed {
                    front.distance[i] = new;
                    front.direction[i] = (ray - normal * ray.dot(&normal)).try_normalize(1e-12).unwrap_or(ray);
                    queue.push(new, target, ());
                }
            }
        }
    }
    Ok(())
}

/// Least distance at `x` over all points of the edge `u`-`v`, and the direction of the ray that brings it.
fn through_edge(surface: &Surface, front: &Front, x: u32, u: u32, v: u32) -> (f64, Vector3<f64>) {
    let [px, pu, pv] = [x, u, v].map(|i| surface.mesh().points[i as usize].cast::<f64>());
    let (du, dv) = (front.distance[u as usize], front.distance[v as usize]);
    let from_u = px - pu;
    let length_u = from_u.norm();
    let at_u = (du + length_u, from_u);
    if !dv.is_finite() || length_u <= 0.0 {
        return unit(at_u);
    }
    let edge = pv - pu;
    let (su, sv) = (front.direction[u as usize].dot(&edge), front.direction[v as usize].dot(&edge));
    let from_v = px - pv;
    let length_v = from_v.norm();
    let at_v = (dv + length_v, from_v);
    if length_v <= 0.0 {
        return unit(at_u);
    }
    // Over a crease the directions at the two ends lie in planes that have little to do with the edge between them.
    let [nu, nv] = [u, v].map(|i| surface.vertex_normals()[i as usize]);
    if nu.dot(&nv) < CREASE {
        return unit(through_cubic([du, dv], [dv - du; 2], &edge, [at_u, at_v]));
    }
    // Opposite directions: a source lies between the two, and the cubic would dip below it.
    let [gu, gv] = [u, v].map(|i| front.direction[i as usize]);
    if su < sv && gu.dot(&gv) < 0.0 {
        return unit(if at_u.0 <= at_v.0 { at_u } else { at_v });
    }
    let hermite = through_cubic([du, dv], [su, sv], &edge, [at_u, at_v]);
    // Fronts of two sources meet between u and v, and the cubic smooths the crest between them: then each front is
    // followed on its own side of the crest.
    if su > sv && gu.dot(&gv) < 0.97 {
        let crest = (dv - sv - du) / (su - sv);
        let by_u = one_front(du, &from_u, &gu, &edge).filter(|(s, ..)| *s >= 0.0 && *s <= crest);
        let by_v = one_front(dv, &from_v, &gv, &-edge).filter(|(s, ..)| *s >= 0.0 && *s <= 1.0 - crest);
        let alone = [by_u, by_v].into_iter().flatten().map(|(_, d, ray)| (d, ray));
        return unit(alone.fold(hermite, |best, other| if other.0 < best.0 { other } else { best }));
    }
    unit(hermite)
}

/// Follows a front that passed a vertex at distance `d` in `direction` to the place `way` beyond it: how far along
/// `edge` from that vertex its ray crosses, the distance, and the ray. The distance is the mean of two bounds, for a
/// straight front and for one from a point source, which differ by less than way²/2d.
fn one_front(
    d: f64,
    way: &Vector3<f64>,
    direction: &Vector3<f64>,
    edge: &Vector3<f64>,
) -> Option<(f64, f64, Vector3<f64>)> {
    let along = way.dot(direction);
    // way − s·edge is parallel to direction: compare the parts across it.
    let (way_aside, edge_aside) = (way - direction * along, edge - direction * edge.dot(direction));
    let s = way_aside.dot(&edge_aside) / edge_aside.norm_squared();
    let round = ((d + along).powi(2) + way_aside.norm_squared()).sqrt();
    (along > 0.0 && s.is_finite()).then_some((s, 0.5 * (d + along + round), *direction))
}

/// Least of distance along the edge plus ray over the whole edge, with the cubic through the values `d` and `slopes` at
/// its ends; `ends` are the results for rays from the two ends.
fn through_cubic(
    [du, dv]: [f64; 2],
    [su, sv]: [f64; 2],
    edge: &Vector3<f64>,
    [at_u, at_v]: [(f64, Vector3<f64>); 2],
) -> (f64, Vector3<f64>) {
    let (from_u, from_v) = (at_u.1, at_v.1);
    let rising_at_u = su - from_u.dot(edge) / from_u.norm() >= 0.0;
    let falling_at_v = sv - from_v.dot(edge) / from_v.norm() <= 0.0;
    if rising_at_u || falling_at_v {
        return match (rising_at_u, falling_at_v) {
            (true, false) => at_u,
            (false, true) => at_v,
            _ => {
                if at_u.0 <= at_v.0 {
                    at_u
                } else {
                    at_v
                }
            }
        };
    }
    // Coefficients of the cubic du + su·s + c2·s² + c3·s³.
    let c2 = 3.0 * (dv - du) - 2.0 * su - sv;
    let c3 = 2.0 * (du - dv) + su + sv;
    let edge2 = edge.norm_squared();
    let (mut lo, mut hi, mut s) = (0.0_f64, 1.0_f64, 0.5_f64);
    for _ in 0..12 {
        let ray = from_u - edge * s;
        let length = ray.norm().max(1e-12);
        let cosine = ray.dot(edge) / length;
        let slope = su + s * (2.0 * c2 + 3.0 * c3 * s) - cosine;
        if slope < 0.0 {
            lo = s;
        } else {
            hi = s;
        }
        let bend = 2.0 * c2 + 6.0 * c3 * s + (edge2 - cosine * cosine) / length;
        let step = s - slope / bend;
        let next = if bend > 0.0 && step > lo && step < hi { step } else { 0.5 * (lo + hi) };
        let done = (next - s).abs() < 1e-5;
        s = next;
        if done {
            break;
        }
    }
    let ray = from_u - edge * s;
    let length = ray.norm();
    (du + s * (su + s * (c2 + s * c3)) + length, ray)
}

fn unit((distance, ray): (f64, Vector3<f64>)) -> (f64, Vector3<f64>) {
    (distance, ray.try_normalize(1e-12).unwrap_or_default())
}
