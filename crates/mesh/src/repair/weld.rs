//! Merging of coincident points.

use nalgebra::Vector3;
use rayon::slice::ParallelSliceMut;

use crate::job::Every;
use crate::read::weld_exact::weld_exact;
use crate::{Cancelled, Job, Mesh, UnionFind};

/// A direction along no common grid, so that points of a grid do not all fall on one value.
const SWEEP: Vector3<f64> = Vector3::new(0.611_103, 0.517_227, 0.599_201);

/// Joins points that are at most `tolerance_mm` apart (0: equal ones only); returns how many vanished.
///
/// Of points that are joined the one that comes first in the mesh stays where it is. Triangles that lose a
/// corner by it are left in place, see [`super::drop_bad_faces`].
///
/// # Errors
/// [`Cancelled`] when `job` is; the mesh is then as it was.
pub fn weld(mesh: &mut Mesh, tolerance_mm: f32, job: &Job) -> Result<usize, Cancelled> {
    let mut leader = equal_points(mesh, job)?;
    let mut joined = leader.iter().enumerate().filter(|(v, lead)| *v as u32 != **lead).count();
    if tolerance_mm > 0.0 {
        joined += near_points(mesh, tolerance_mm, &mut leader, job)?;
    }
    if joined > 0 {
        for v in mesh.triangles.iter_mut().flatten() {
            *v = leader[*v as usize];
        }
    }
    drop_unused_points(mesh);
    Ok(joined)
}

/// For each point the first that is equal to it.
fn equal_points(mesh: &Mesh, job: &Job) -> Result<Vec<u32>, Cancelled> {
    let mut index = vec![0; mesh.points.len()];
    let different = weld_exact(&mut index, |i| mesh.points[i].coords.into(), job)?;
    let mut first = vec![u32::MAX; different.len()];
    for (v, number) in index.iter_mut().enumerate() {
        let lead = &mut first[*number as usize];
        *lead = (*lead).min(v as u32);
        *number = *lead;
    }
    Ok(index)
}

/// Joins leaders that are at most `tolerance_mm` apart; returns how many were joined to another.
fn near_points(mesh: &Mesh, tolerance_mm: f32, leader: &mut [u32], job: &Job) -> Result<usize, Cancelled> {
    let tolerance = f64::from(tolerance_mm);
    let mut order: Vec<(f64, u32)> = (0..mesh.points.len() as u32)
        .filter(|v| leader[*v as usize] == *v)
        .map(|v| (mesh.points[v as usize].coords.cast::<f64>().dot(&SWEEP), v))
        .collect();
    job.check()?;
    order.par_sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut sets = UnionFind::new(mesh.points.len());
    let mut joined = 0;
    let mut every = Every::new(job, 1 << 16);
    for (i, (along, a)) in order.iter().enumerate() {
        for (other, b) in &order[i + 1..] {
            every.tick()?;
            // |SWEEP| < 1, so this never misses a pair.
            if other - along > tolerance {
                break;
            }
            let apart = mesh.points[*a as usize].cast::<f64>() - mesh.points[*b as usize].cast::<f64>();
            if apart.norm_squared() <= tolerance * tolerance {
                joined += usize::from(sets.union(*a, *b));
            }
        }
    }
    job.check()?;
    for lead in leader {
        *lead = sets.find(*lead);
    }
    Ok(joined)
}

/// Drops points that no triangle uses, keeping the order of the others; returns how many.
pub fn drop_unused_points(mesh: &mut Mesh) -> usize {
    let mut used = vec![false; mesh.points.len()];
    for v in mesh.triangles.iter().flatten() {
        used[*v as usize] = true;
    }
    let mut renumber = vec![0_u32; used.len()];
    let mut next = 0;
    for (new, used) in renumber.iter_mut().zip(&used) {
        *new = next;
        next += u32::from(*used);
    }
    let dropped = used.len() - next as usize;
    if dropped > 0 {
        let mut keep = used.iter();
        mesh.points.retain(|_| *keep.next().unwrap_or(&false));
        if let Some(colours) = &mut mesh.colours {
            let mut keep = used.iter();
            colours.retain(|_| *keep.next().unwrap_or(&false));
        }
        for v in mesh.triangles.iter_mut().flatten() {
            *v = renumber[*v as usize];
        }
    }
    dropped
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    #[test]
    fn near_points_join_and_far_ones_do_not() {
        let p = |x: f32| Point3::new(x, 1.0, 0.0);
        let q = |x: f32| Point3::new(x, 0.0, 0.0);
        let points = vec![q(0.0), q(1.0), p(0.5), q(1.0), q(2.0), p(1.5), q(1.009), p(9.0), q(9.0)];
        let mut mesh = Mesh::new(points, vec![[0, 1, 2], [3, 4, 5], [6, 4, 5]]);
        mesh.colours = Some((0..9).map(|i| [i, 0, 0]).collect());
        let mut exact = mesh.clone();
        assert_eq!(weld(&mut exact, 0.0, &Job::silent()).unwrap(), 1);
        assert_eq!(exact.triangles, vec![[0, 1, 2], [1, 3, 4], [5, 3, 4]]);
        assert_eq!(weld(&mut mesh, 0.01, &Job::silent()).unwrap(), 2);
        assert_eq!(mesh.triangles, vec![[0, 1, 2], [1, 3, 4], [1, 3, 4]]);
        assert_eq!(mesh.colours.unwrap(), vec![[0, 0, 0], [1, 0, 0], [2, 0, 0], [4, 0, 0], [5, 0, 0]]);
    }
}
