//! Minimal triangulation of a boundary loop.

use nalgebra::{Point3, Vector3};

use crate::job::Every;
use crate::{Adjacency, Cancelled, Job, Mesh, NearestFirst};

/// Longest rim, in edges, for which all triangulations are compared; the work grows with the cube.
const TRY_ALL: usize = 260;

/// Triangles over a boundary loop, as positions in `ring`, facing as the mesh does. `None` if no triangulation was
/// found that uses no inner edge of the mesh.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub(super) fn cover(
    mesh: &Mesh,
    adjacency: &Adjacency,
    ring: &[u32],
    job: &Job,
) -> Result<Option<Vec<[u32; 3]>>, Cancelled> {
    if ring.len() < 3 {
        return Ok(None);
    }
    // Walk the rim against the triangles, so that the lid joins them edge to edge.
    let order: Vec<u32> = (0..ring.len() as u32).rev().collect();
    let rim = Rim {
        points: order.iter().map(|i| mesh.points[ring[*i as usize] as usize].cast()).collect(),
        outside: (0..order.len())
            .map(|i| {
                let (a, b) = (ring[order[i] as usize], ring[order[(i + 1) % order.len()] as usize]);
                let beside = adjacency.triangles_around(a).iter().find(|t| mesh.triangles[**t as usize].contains(&b));
                beside.map_or(Vector3::zeros(), |t| mesh.cross(*t as usize).try_normalize(1e-300).unwrap_or_default())
            })
            .collect(),
        taken: taken(mesh, adjacency, ring, &order),
    };
    let found = if order.len() <= TRY_ALL { flattest(&rim) } else { shortest(&rim, job)? };
    Ok(found.map(|triangles| triangles.into_iter().map(|t| t.map(|i| order[i])).collect()))
}

struct Rim {
    points: Vec<Point3<f64>>,
    /// Normal of the triangle outside of each side `i`, `i + 1`.
    outside: Vec<Vector3<f64>>,
    /// Pairs of rim points that the mesh already joins other than along the rim, sorted.
    taken: Vec<(usize, usize)>,
}

fn taken(mesh: &Mesh, adjacency: &Adjacency, ring: &[u32], order: &[u32]) -> Vec<(usize, usize)> {
    let mut place: Vec<(u32, usize)> = order.iter().enumerate().map(|(i, k)| (ring[*k as usize], i)).collect();
    place.sort_unstable();
    let n = order.len();
    let mut found = Vec::new();
    for (v, i) in &place {
        for w in adjacency.triangles_around(*v).iter().flat_map(|t| mesh.triangles[*t as usize]) {
            if let Ok(at) = place.binary_search_by_key(&w, |p| p.0) {
                let j = place[at].1;
                if *i < j && j - i > 1 && !(*i == 0 && j == n - 1) {
                    found.push((*i, j));
                }
            }
        }
    }
    found.sort_unstable();
    found.dedup();
    found
}

impl Rim {
    fn is_taken(&self, i: usize, j: usize) -> bool {
        self.taken.binary_search(&(i.min(j), i.max(j))).is_ok()
    }

    fn cross(&self, i: usize, j: usize, k: usize) -> Vector3<f64> {
        (self.points[j] - self.points[i]).cross(&(self.points[k] - self.points[i]))
    }
}

/// Sharpest bend (1 − cosine, in steps so that area decides between near equals), then area: Liepa's weight.
type Weight = (u32, f64);

/// The best of all triangulations, by dynamic programming (Barequet and Sharir 1995, with Liepa's weight).
fn flattest(rim: &Rim) -> Option<Vec<[usize; 3]>> {
    let n = rim.points.len();
    let none: Weight = (u32::MAX, f64::INFINITY);
    let mut best = vec![none; n * n];
    let mut via = vec![0_usize; n * n];
    // Unit normal of the triangle that closes the part from i to j in its best cover.
    let mut normal = vec![Vector3::zeros(); n * n];
    for i in 0..n {
        let j = (i + 1) % n;
        let (lo, hi) = (i.min(j), i.max(j));
        if hi - lo == 1 {
            best[lo * n + hi] = (0, 0.0);
            normal[lo * n + hi] = rim.outside[i];
        }
    }
    for span in 2..n {
        for i in 0..n - span {
            let j = i + span;
            if rim.is_taken(i, j) {
                continue;
            }
            let mut choice = none;
            let (mut at, mut up) = (0, Vector3::zeros());
            for k in i + 1..j {
                let (left, right) = (best[i * n + k], best[k * n + j]);
                if left.0 == u32::MAX || right.0 == u32::MAX || left.0.max(right.0) > choice.0 {
                    continue;
                }
                let cross = rim.cross(i, k, j);
                let double = cross.norm();
                let unit = cross / double.max(1e-300);
                let mut bend = bend_of(&unit, &normal[i * n + k]).max(bend_of(&unit, &normal[k * n + j]));
                if span == n - 1 {
                    bend = bend.max(bend_of(&unit, &rim.outside[n - 1]));
                }
                let weight = (bend.max(left.0).max(right.0), left.1 + right.1 + double);
                if weight.0 < choice.0 || (weight.0 == choice.0 && weight.1 < choice.1) {
                    (choice, at, up) = (weight, k, unit);
                }
            }
            best[i * n + j] = choice;
            via[i * n + j] = at;
            normal[i * n + j] = up;
        }
    }
    if best[n - 1].0 == u32::MAX {
        return None;
    }
    let mut triangles = Vec::with_capacity(n - 2);
    let mut stack = vec![(0, n - 1)];
    while let Some((i, j)) = stack.pop() {
        if j - i >= 2 {
            let k = via[i * n + j];
            triangles.push([i, k, j]);
            stack.extend([(i, k), (k, j)]);
        }
    }
    Some(triangles)
}

/// Bend between two unit normals in steps of about 0.1 of 1 − cosine.
fn bend_of(a: &Vector3<f64>, b: &Vector3<f64>) -> u32 {
    ((1.0 - a.dot(b)).clamp(0.0, 2.0) * 10.0) as u32
}

/// For very long rims: cuts off the corner with the shortest chord, again and again.
fn shortest(rim: &Rim, job: &Job) -> Result<Option<Vec<[usize; 3]>>, Cancelled> {
    let n = rim.points.len();
    let mut before: Vec<usize> = (0..n).map(|i| (i + n - 1) % n).collect();
    let mut after: Vec<usize> = (0..n).map(|i| (i + 1) % n).collect();
    let mut cut_off = vec![false; n];
    // Corners by their chords; the tag says between which corners, as chords change when a neighbour goes.
    let mut queue = NearestFirst::default();
    let offer = |queue: &mut NearestFirst<[usize; 2]>, at: usize, [i, j]: [usize; 2]| {
        if !rim.is_taken(i, j) {
            queue.push((rim.points[i] - rim.points[j]).norm_squared(), at as u32, [i, j]);
        }
    };
    (0..n).for_each(|at| offer(&mut queue, at, [before[at], after[at]]));
    let mut triangles = Vec::with_capacity(n - 2);
    let mut every = Every::new(job, 4096);
    while triangles.len() < n - 3 {
        every.tick()?;
        let Some((_, at, [i, j])) = queue.pop() else { return Ok(None) };
        let at = at as usize;
        if cut_off[at] || [before[at], after[at]] != [i, j] {
            continue;
        }
        triangles.push([i, at, j]);
        cut_off[at] = true;
        (after[i], before[j]) = (j, i);
        offer(&mut queue, i, [before[i], j]);
        offer(&mut queue, j, [i, after[j]]);
    }
    let last = (0..n).find(|i| !cut_off[*i]).unwrap_or(0);
    triangles.push([last, after[last], after[after[last]]]);
    Ok(Some(triangles))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A long flat star: every corner is covered once, with the area that the shoelace formula gives.
    #[test]
    fn a_very_long_rim_is_covered_without_folds() {
        let n = 20_000;
        let at = |i: usize| {
            let (s, c) = (i as f64 / n as f64 * std::f64::consts::TAU).sin_cos();
            let r = 100.0 + (i % 7) as f64 * 1e-3;
            Point3::new(r * c, r * s, 0.0)
        };
        let points: Vec<Point3<f64>> = (0..n).map(at).collect();
        let shoelace: f64 = (0..n).map(|i| points[i].coords.cross(&points[(i + 1) % n].coords).z).sum();
        let rim = Rim { points, outside: Vec::new(), taken: vec![(0, 2)] };
        let triangles = shortest(&rim, &Job::silent()).unwrap().unwrap();
        assert_eq!(triangles.len(), n - 2);
        let area: f64 = triangles.iter().map(|[i, j, k]| rim.cross(*i, *j, *k).z).sum();
        assert!((area / shoelace - 1.0).abs() < 1e-9, "{area} for {shoelace}");
        assert!(!triangles.iter().any(|t| t.contains(&0) && t.contains(&2)), "the mesh has that edge already");
        let job = Job::silent();
        job.cancel();
        assert_eq!(shortest(&rim, &job), Err(Cancelled));
    }
}
