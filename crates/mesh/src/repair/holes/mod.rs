//! Hole filling with patches that continue the curvature around them.
//!
//! After Liepa 2003, "Filling holes in meshes": cover the hole with the flattest triangles, refine them to the density
//! around, then bend them as a thin plate that leaves the rim in the direction of the surface there.

mod cover;
mod densify;

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::bilaplacian::{Bilaplacian, Weights};
use super::refine::mean_edges_mm;
use crate::{Adjacency, Cancelled, Job, Mesh};

/// What [`fill_holes`] did.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Filled {
    /// For each hole filled its rim length, mm, and the middle of its rim.
    pub holes: Vec<(f64, Point3<f32>)>,
    /// Holes that could not be covered without a non-manifold edge.
    pub left: usize,
    /// Points added.
    pub points: usize,
    /// Triangles added.
    pub triangles: usize,
}

/// Length of a closed loop of points, mm.
#[must_use]
pub fn loop_length_mm(mesh: &Mesh, ring: &[u32]) -> f64 {
    (0..ring.len())
        .map(|i| {
            let (a, b) = (mesh.points[ring[i] as usize], mesh.points[ring[(i + 1) % ring.len()] as usize]);
            f64::from((b - a).norm())
        })
        .sum()
}

/// A hole's new points and triangles; the first `rim` points are those of the loop.
struct HolePatch {
    points: Vec<Point3<f64>>,
    triangles: Vec<[u32; 3]>,
}

/// Fills the given boundary loops of a manifold mesh (from [`Adjacency::boundary_loops`]).
///
/// # Errors
/// [`Cancelled`] when the job is stopped.
pub fn fill_holes(mesh: &mut Mesh, adjacency: &Adjacency, loops: &[Vec<u32>], job: &Job) -> Result<Filled, Cancelled> {
    let whole = &*mesh;
    let patches: Vec<Option<HolePatch>> = loops
        .par_iter()
        .map(|ring| {
            job.check()?;
            patch(whole, adjacency, ring, job)
        })
        .collect::<Result<_, Cancelled>>()?;
    let mut done = Filled::default();
    for (ring, patch) in loops.iter().zip(patches) {
        let Some(patch) = patch else {
            done.left += 1;
            continue;
        };
        let middle = patch.points[..ring.len()].iter().map(|p| p.coords).sum::<Vector3<f64>>() / ring.len() as f64;
        done.holes.push((loop_length_mm(mesh, ring), Point3::from(middle).cast()));
        let first = mesh.points.len() as u32;
        if let Some(colours) = &mut mesh.colours {
            let new: Vec<[u8; 3]> = patch.points[ring.len()..]
                .iter()
                .map(|p| {
                    job.check()?;
                    Ok(rim_colour(p, ring, &patch.points, colours))
                })
                .collect::<Result<_, Cancelled>>()?;
            colours.extend(new);
        }
        mesh.points.extend(patch.points[ring.len()..].iter().map(|p| p.cast::<f32>()));
        let number = |v: u32| ring.get(v as usize).copied().unwrap_or_else(|| first + v - ring.len() as u32);
        mesh.triangles.extend(patch.triangles.iter().map(|t| t.map(number)));
        done.points += patch.points.len() - ring.len();
        done.triangles += patch.triangles.len();
    }
    Ok(done)
}

/// Colour at a point of a patch: that of the rim, weighted by distance⁻³.
fn rim_colour(p: &Point3<f64>, ring: &[u32], rim: &[Point3<f64>], colours: &[[u8; 3]]) -> [u8; 3] {
    let (mut sum, mut weights) = ([0.0; 3], 0.0);
    for (v, q) in ring.iter().zip(rim) {
        let weight = (p - q).norm().max(1e-6).powi(-3);
        weights += weight;
        for k in 0..3 {
            sum[k] += weight * f64::from(colours[*v as usize][k]);
        }
    }
    sum.map(|s| (s / weights).round().clamp(0.0, 255.0) as u8)
}

fn patch(mesh: &Mesh, adjacency: &Adjacency, ring: &[u32], job: &Job) -> Result<Option<HolePatch>, Cancelled> {
    // The patch runs the other way round from the triangles along the rim; its corners are places in `ring`.
    let Some(cover) = cover::cover(mesh, adjacency, ring, job)? else { return Ok(None) };
    let mut points: Vec<Point3<f64>> = ring.iter().map(|v| mesh.points[*v as usize].cast()).collect();
    let mut density: Vec<f64> = ring.iter().map(|v| mean_edges_mm(mesh, adjacency, *v)).collect();
    let joined = |a: u32, b: u32| {
        let around = adjacency.triangles_around(ring[a as usize]);
        around.iter().any(|t| mesh.triangles[*t as usize].contains(&ring[b as usize]))
    };
    let triangles = densify::densify(&mut points, &mut density, cover, joined, job)?;
    let mut patch = HolePatch { points, triangles };
    if patch.points.len() > ring.len() {
        bend(mesh, adjacency, ring, &mut patch, job)?;
    }
    Ok(Some(patch))
}

/// Bends the inner points of a patch as a thin plate joined to the surface around.
fn bend(mesh: &Mesh, adjacency: &Adjacency, ring: &[u32], patch: &mut HolePatch, job: &Job) -> Result<(), Cancelled> {
    // The patch with two rows of triangles around it; rim rows then have the curvature of the surface itself.
    let mut near: Vec<u32> = ring.iter().flat_map(|v| adjacency.triangles_around(*v)).copied().collect();
    let second: Vec<u32> = near
        .iter()
        .flat_map(|t| mesh.triangles[*t as usize])
        .flat_map(|v| adjacency.triangles_around(v).iter().copied())
        .collect();
    near.extend(second);
    near.sort_unstable();
    near.dedup();
    let mut outer: Vec<u32> = near.iter().flat_map(|t| mesh.triangles[*t as usize]).collect();
    outer.sort_unstable();
    outer.dedup();
    let mut sorted: Vec<(u32, u32)> = ring.iter().enumerate().map(|(i, v)| (*v, i as u32)).collect();
    sorted.sort_unstable();
    let mut local = Mesh::new(patch.points.iter().map(|p| p.cast()).collect(), patch.triangles.clone());
    let numbers: Vec<u32> = outer
        .iter()
        .map(|v| match sorted.binary_search_by_key(v, |s| s.0) {
            Ok(i) => sorted[i].1,
            Err(_) => {
                local.points.push(mesh.points[*v as usize]);
                local.points.len() as u32 - 1
            }
        })
        .collect();
    let number = |v: u32| outer.binary_search(&v).map_or(0, |i| numbers[i]);
    local.triangles.extend(near.iter().map(|t| mesh.triangles[*t as usize].map(number)));

    let free: Vec<bool> = (0..local.points.len()).map(|v| v >= ring.len() && v < patch.points.len()).collect();
    let links = Adjacency::build(&local, job)?;
    let mut x: Vec<Vector3<f64>> = local.points.iter().map(|p| p.coords.cast()).collect();
    // Even weights first: the flat cover has no shape worth weighing by. Then twice with the shape just found.
    for kind in [Weights::Uniform, Weights::Cotangent, Weights::Cotangent] {
        let plate = Bilaplacian::new(&local, &links, kind, job)?;
        plate.relax(&free, &mut x, job)?;
        // Lengths near the largest `f32` overflow on the way: the patch then stays flat.
        if !x.iter().all(|x| x.iter().all(|x| x.is_finite())) {
            return Ok(());
        }
        for (p, x) in local.points.iter_mut().zip(&x).take(patch.points.len()).skip(ring.len()) {
            p.coords = x.cast();
        }
    }
    for (p, x) in patch.points.iter_mut().zip(&x).skip(ring.len()) {
        p.coords = *x;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::repair::keep_triangles;
    use test_shapes::{Shape, even_tube, icosphere};

    /// Cuts out what lies within `radius` of `middle` and fills it; returns the mesh and the patch's largest `off`.
    fn fill(shape: Shape, middle: Point3<f32>, radius: f32, off: impl Fn(&Point3<f32>) -> f32) -> (Mesh, f32) {
        let mut mesh: Mesh = shape.build();
        mesh.colours = Some(vec![[10, 200, 90]; mesh.points.len()]);
        let keep: Vec<bool> = mesh
            .triangles
            .iter()
            .map(|t| t.iter().all(|v| (mesh.points[*v as usize] - middle).norm() > radius))
            .collect();
        keep_triangles(&mut mesh, &keep);
        let old = mesh.points.len();
        let adjacency = Adjacency::new(&mesh);
        let mut loops = adjacency.boundary_loops(&mesh);
        loops.retain(|l| (mesh.points[l[0] as usize] - middle).norm() < 2.0 * radius);
        assert_eq!(loops.len(), 1);
        let done = fill_holes(&mut mesh, &adjacency, &loops, &Job::silent()).unwrap();
        assert_eq!((done.holes.len(), done.left), (1, 0));
        assert!(mesh.colours.as_ref().unwrap().iter().all(|c| *c == [10, 200, 90]));
        let worst = mesh.points[old..].iter().map(|p| off(p).abs()).fold(0.0, f32::max);
        (mesh, worst)
    }

    #[test]
    fn a_patch_on_a_sphere_stays_on_it_within_a_twentieth_of_a_millimetre() {
        // A hole of 20 mm across in a sphere of 80 mm; a flat lid would be 1.27 mm off.
        let (mesh, worst) =
            fill(icosphere(40.0, 5), Point3::new(20.0, -20.0, 28.284), 10.0, |p| p.coords.norm() - 40.0);
        assert!(worst < 0.05, "{worst}");
        let adjacency = Adjacency::new(&mesh);
        assert_eq!((adjacency.open_edges, adjacency.non_manifold_edges, adjacency.flipped_edges), (0, 0, 0));
        // 4/3 π 40³, less the sliver between facets and sphere.
        assert!((mesh.volume_mm3() / (4.0 / 3.0 * std::f64::consts::PI * 64_000.0) - 1.0).abs() < 0.001);
    }

    #[test]
    fn a_patch_on_a_cylinder_follows_it_and_leaves_the_ends_open() {
        let (mesh, worst) =
            fill(even_tube(30.0, 120.0, 1.5), Point3::new(30.0, 0.0, 5.0), 12.0, |p| p.coords.xy().norm() - 30.0);
        assert!(worst < 0.35, "{worst}");
        assert_eq!(Adjacency::new(&mesh).boundary_loops(&mesh).len(), 2);
    }

    #[test]
    fn a_noisy_rim_does_not_throw_the_patch_off() {
        let (_, worst) =
            fill(icosphere(40.0, 5).noisy(0.05, 5), Point3::new(0.0, 0.0, 40.0), 8.0, |p| p.coords.norm() - 40.0);
        assert!(worst < 0.5, "{worst}");
    }

    #[test]
    fn patches_are_as_fine_as_the_surface_around() {
        let (mesh, _) = fill(icosphere(40.0, 5), Point3::new(0.0, 0.0, 40.0), 10.0, |_| 0.0);
        let whole = icosphere(40.0, 5);
        let ratio = mesh.triangles.len() as f64 / whole.triangles.len() as f64;
        assert!((ratio - 1.0).abs() < 0.01, "{ratio}");
    }
}
