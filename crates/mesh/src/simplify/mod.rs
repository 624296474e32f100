//! Fewer triangles within a named tolerance, for closed manifold meshes.
//!
//! Edge collapses onto one of the two ends: every vertex left is a vertex of the input, so it still lies on the true
//! surface. Each triangle carries how far the surface has moved under it so far; a collapse adds the distance from the
//! vertex that goes to the triangles that take its place, and from the middles of their new edges to those they
//! replace, and is made only while the sum stays within the tolerance (as the error bounds of Ciampalini et al. 1997),
//! where the surface keeps its topology (link condition, Dey et al. 1999), and where no triangle turns by more than a
//! set angle, gets thinner than a set height, or folds onto its neighbour: little folds are where triangles would
//! cross.
//!
//! The sum is a bound for the vertices that went, and an estimate for what lies between the points that are measured:
//! tests measure the two-sided Hausdorff distance by samples, here and with libigl and Embree, and find it within the
//! tolerance. Nothing is promised about self-intersection where two parts of the surface lie nearer to each other than
//! the tolerance: prove the result with [`crate::solid::check`].
//!
//! The mesh is worked on in slabs with frozen seams, twice, with the seams moved in between. Slabs depend on the mesh
//! alone, so the result is the same on any number of threads.

mod slab;
mod slabs;
mod star;

use rayon::prelude::*;

use crate::{Cancelled, Job, Mesh};
use slab::{Done, Slab};
use slabs::Slabs;

/// A simplified mesh and where its vertices came from.
#[derive(Debug, Clone, PartialEq)]
pub struct Simplified {
    /// The mesh; colours are carried along.
    pub mesh: Mesh,
    /// For each vertex its number in the mesh that was given.
    pub kept: Vec<u32>,
}

/// Slabs in the first round; the second round has one less, so that seams move.
const SLABS: usize = 16;
/// Triangles per slab below which fewer slabs are made.
const SLAB_TRIANGLES: usize = 4000;
/// Passes over a slab, with the price limit rising to the full tolerance.
const LIMITS: [f32; 3] = [0.1, 0.4, 1.0];

/// Collapses edges of `mesh` while the surface stays within about `tolerance_mm`; vertices with `locked` set stay.
///
/// # Errors
/// [`Cancelled`] when the job was.
pub fn simplify(mesh: &Mesh, tolerance_mm: f32, locked: &[bool], job: &Job) -> Result<Simplified, Cancelled> {
    let mut triangles: Vec<Face> =
        mesh.triangles.iter().map(|corners| Face { corners: *corners, moved_mm: 0.0 }).collect();
    let mut work = Work { locked, least_mm: vec![0.0; mesh.points.len()] };
    for shift in 0..2 {
        let slabs = SLABS.min(triangles.len() / SLAB_TRIANGLES + 1);
        if shift == 1 && slabs < 2 {
            break;
        }
        triangles = round(mesh, &triangles, &mut work, tolerance_mm, slabs - shift, job)?;
    }
    let mut number = vec![u32::MAX; mesh.points.len()];
    triangles.iter().flat_map(|t| &t.corners).for_each(|v| number[*v as usize] = 0);
    let mut kept = Vec::new();
    for (number, v) in number.iter_mut().zip(0..).filter(|(number, _)| **number == 0) {
        *number = kept.len() as u32;
        kept.push(v);
    }
    let simpler = Mesh {
        points: kept.iter().map(|v| mesh.points[*v as usize]).collect(),
        triangles: triangles.iter().map(|t| t.corners.map(|v| number[v as usize])).collect(),
        colours: mesh.colours.as_ref().map(|c| kept.iter().map(|v| c[*v as usize]).collect()),
    };
    Ok(Simplified { mesh: simpler, kept })
}

/// A triangle and how far the surface may have moved under it.
#[derive(Debug, Clone, Copy)]
struct Face {
    corners: [u32; 3],
    moved_mm: f32,
}

fn round(
    mesh: &Mesh,
    triangles: &[Face],
    work: &mut Work<'_>,
    tolerance_mm: f32,
    slabs: usize,
    job: &Job,
) -> Result<Vec<Face>, Cancelled> {
    let Slabs { slab_of, number, global } = Slabs::new(mesh, triangles, slabs);
    let mut members: Vec<Vec<Face>> = global.iter().map(|g| Vec::with_capacity(2 * g.len())).collect();
    let mut all = Vec::new();
    let mut frozen = work.locked.to_vec();
    for t in triangles {
        let [a, b, c] = t.corners.map(|v| slab_of[v as usize]);
        if a == b && b == c {
            members[a as usize].push(Face { corners: t.corners.map(|v| number[v as usize]), ..*t });
        } else {
            all.push(*t);
            t.corners.iter().for_each(|v| frozen[*v as usize] = true);
        }
    }
    let least = &work.least_mm;
    let done: Vec<Result<Done, Cancelled>> = members
        .into_par_iter()
        .zip(global)
        .map(|(own, global)| {
            let mut slab = Slab::new(mesh, own, global, &frozen, least);
            for share in LIMITS {
                slab.pass(tolerance_mm * share, job)?;
            }
            Ok(slab.finish())
        })
        .collect();
    for slab in done {
        let slab = slab?;
        all.extend(slab.faces);
        for (v, least) in slab.least_mm {
            work.least_mm[v as usize] = least;
        }
    }
    Ok(all)
}

/// What one round leaves to the next.
struct Work<'a> {
    locked: &'a [bool],
    /// For each vertex the least limit under which a collapse may be found, so that what did not change is not
    /// measured again; 0 where nothing is known.
    least_mm: Vec<f32>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solid;
    use approx::assert_relative_eq;

    /// A torus of 60 mm and 15 mm radius: 4π²·60·15 mm², 2π²·60·15² mm³.
    fn torus(n: u32, m: u32) -> Mesh {
        test_shapes::torus(60.0, 15.0, n, m).build()
    }

    #[test]
    fn a_torus_keeps_its_shape_within_the_tolerance() {
        let fine = torus(700, 180);
        let done = simplify(&fine, 0.02, &vec![false; fine.points.len()], &Job::silent()).unwrap();
        println!("{} triangles", done.mesh.triangles.len());
        assert!(
            done.mesh.triangles.len() * 5 < 2 * fine.triangles.len(),
            "{} triangles left",
            done.mesh.triangles.len()
        );
        let report = solid::check(&done.mesh, &Job::silent()).unwrap();
        assert!(report.is_solid(), "{:?}", report.faults());
        let (away, back) = (farthest(&fine, &done.mesh, 2), farthest(&done.mesh, &fine, 5));
        println!("{away} mm away, {back} mm back");
        assert!(away.max(back) <= 0.02, "Hausdorff distance by samples: {away} and {back}");
        assert_relative_eq!(report.volume_mm3, 266_479.319, max_relative = 1e-3);
    }

    /// Greatest distance from points of one surface to another: corners, and `cuts` − 1 points between each two, of
    /// each triangle.
    fn farthest(from: &Mesh, to: &Mesh, cuts: u16) -> f32 {
        let index = crate::Bvh::new(to);
        let share = |i: u16| f32::from(i) / f32::from(cuts);
        let of_triangle = |t: usize| {
            let [a, b, c] = from.corners(t);
            let places = (0..=cuts).flat_map(|i| (0..=cuts - i).map(move |j| (share(i), share(j))));
            let points = places.map(|(u, v)| a + (b - a) * u + (c - a) * v);
            points.map(|p| index.nearest(&p, None).unwrap().distance2).fold(0.0, f32::max)
        };
        (0..from.triangles.len()).into_par_iter().map(of_triangle).reduce(|| 0.0, f32::max).sqrt()
    }

    /// Cosine between the normals of the two neighbours that fold most.
    fn sharpest_fold(mesh: &Mesh) -> f64 {
        let mut normals = std::collections::BTreeMap::new();
        for (t, [a, b, c]) in mesh.triangles.iter().enumerate() {
            let normal = mesh.cross(t).cast::<f64>();
            for (p, q) in [(*a, *b), (*b, *c), (*c, *a)] {
                normals.insert((p, q), normal);
            }
        }
        let cosine = |((p, q), own): (&(u32, u32), &nalgebra::Vector3<f64>)| {
            normals.get(&(*q, *p)).map_or(1.0, |other| own.dot(other) / (own.norm() * other.norm()))
        };
        normals.iter().map(cosine).fold(1.0, f64::min)
    }

    /// Lines of a grid that lie within hundredths of a millimetre of each other, as where a surface passes close to the
    /// corners of its cells, under noise.
    #[test]
    fn slivers_do_not_fold_onto_each_other() {
        let mut fine = torus(900, 220);
        let mut state = 1_u64;
        let mut dice = move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 40) as f32 / (1 << 24) as f32 - 0.5
        };
        for i in 0..fine.points.len() {
            if i / 900 % 2 == 1 {
                let (before, here) = (fine.points[i - 900], fine.points[i]);
                fine.points[i] = before + (here - before) * (0.02 + 0.02 * dice());
            }
            for k in 0..3 {
                fine.points[i][k] += 0.004 * dice();
            }
        }
        assert!(sharpest_fold(&fine) > -0.1, "{}", sharpest_fold(&fine));
        let done = simplify(&fine, 0.02, &vec![false; fine.points.len()], &Job::silent()).unwrap();
        assert!(done.mesh.triangles.len() * 3 < fine.triangles.len());
        // A little beyond the −0.7 of the collapses, for rounding.
        assert!(sharpest_fold(&done.mesh) > -0.701, "{}", sharpest_fold(&done.mesh));
        assert!(solid::check(&done.mesh, &Job::silent()).unwrap().is_solid());
    }

    #[test]
    fn locked_vertices_stay_and_threads_do_not_matter() {
        let fine = torus(300, 80);
        let locked: Vec<bool> = (0..fine.points.len()).map(|i| i % 7 == 0).collect();
        let run = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| simplify(&fine, 0.05, &locked, &Job::silent()).unwrap())
        };
        let done = run(1);
        assert_eq!(done, run(2));
        for (v, _) in locked.iter().enumerate().filter(|(_, l)| **l) {
            assert!(done.kept.binary_search(&(v as u32)).is_ok());
        }
    }
}
