//! A part of the skin as a mesh of its own, cut open where it closes round the limb.

use std::collections::BTreeSet;
use std::f64::consts::PI;

use mesh::{Adjacency, Cancelled, FloodRange, Job, Mesh, NONE, Surface, UnionFind, flood};

/// A boundary loop of a flat sheet turns by a full turn: once outward, or inward round a hole. One that turns inward by
/// less than half of that is the other end of a sleeve.
const ROUND_A_HOLE: f64 = -PI;

/// Some triangles of the skin, with points of their own.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sheet {
    /// The triangles and points.
    pub(super) mesh: Mesh,
    /// The triangle of the skin for each of its triangles, in rising order.
    pub(super) triangle: Vec<u32>,
    /// The vertex of the skin for each of its points; both sides of a seam have the same.
    pub(super) vertex: Vec<u32>,
}

impl Sheet {
    /// The largest connected component of the skin's triangles that satisfy `wanted`, cut open where it is a sleeve;
    /// nothing where there is none.
    pub(super) fn of(skin: &Surface, wanted: impl Fn(u32) -> bool, job: &Job) -> Result<Option<Self>, Cancelled> {
        job.check()?;
        let Some(triangles) = largest(skin, wanted) else { return Ok(None) };
        let mut cuts = BTreeSet::new();
        let mut sheet = Self::cut_along(skin, &triangles, &cuts);
        // Each cut joins two of the boundary's loops, so there are no more cuts than loops.
        while let Some(seam) = sheet.seam(job)? {
            cuts.extend(seam.windows(2).map(|ends| {
                let [a, b] = [ends[0], ends[1]].map(|v| sheet.vertex[v as usize]);
                [a.min(b), a.max(b)]
            }));
            let before = sheet.mesh.points.len();
            sheet = Self::cut_along(skin, &triangles, &cuts);
            if sheet.mesh.points.len() == before {
                break;
            }
        }
        Ok(Some(sheet))
    }

    /// The sheet with every fan of triangles round a vertex a point of its own, and edges in `cuts` apart.
    fn cut_along(skin: &Surface, triangles: &[u32], cuts: &BTreeSet<[u32; 2]>) -> Self {
        let (mesh, adjacency) = (skin.mesh(), skin.adjacency());
        let mut number = vec![NONE; mesh.triangles.len()];
        (0..).zip(triangles).for_each(|(i, t)| number[*t as usize] = i);
        let mut corners = UnionFind::new(3 * triangles.len());
        let corner = |t: u32, v: u32| {
            let k = mesh.triangles[t as usize].iter().position(|c| *c == v).unwrap_or(0);
            3 * number[t as usize] + k as u32
        };
        for t in triangles {
            for k in 0..3 {
                let other = adjacency.neighbours[*t as usize][k];
                let [a, b] = [k, (k + 1) % 3].map(|k| mesh.triangles[*t as usize][k]);
                if other > *t
                    && other != NONE
                    && number[other as usize] != NONE
                    && !cuts.contains(&[a.min(b), a.max(b)])
                {
                    corners.union(corner(*t, a), corner(other, a));
                    corners.union(corner(*t, b), corner(other, b));
                }
            }
        }
        let (labels, count) = corners.labels();
        let mut vertex = vec![NONE; count];
        for (i, t) in triangles.iter().enumerate() {
            for k in 0..3 {
                vertex[labels[3 * i + k] as usize] = mesh.triangles[*t as usize][k];
            }
        }
        let points = vertex.iter().map(|v| mesh.points[*v as usize]).collect();
        let own = labels.chunks_exact(3).map(|c| [c[0], c[1], c[2]]).collect();
        Self { mesh: Mesh::new(points, own), triangle: triangles.to_vec(), vertex }
    }

    /// The shortest way along edges from the outer boundary loop to one that is no hole; nothing where all others are
    /// holes.
    fn seam(&self, job: &Job) -> Result<Option<Vec<u32>>, Cancelled> {
        let adjacency = Adjacency::build(&self.mesh, job)?;
        let turns = self.turns();
        let turn = |ring: &[u32]| -> f64 { ring.iter().map(|v| turns[*v as usize]).sum() };
        let mut loops: Vec<(f64, Vec<u32>)> =
            adjacency.boundary_loops(&self.mesh).into_iter().map(|ring| (turn(&ring), ring)).collect();
        // The outer one turns most.
        loops.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut loops = loops.into_iter();
        let Some((_, outer)) = loops.next() else { return Ok(None) };
        let Some((_, end)) = loops.find(|(turn, _)| *turn > ROUND_A_HOLE) else { return Ok(None) };
        let edges = |v: u32| {
            let from = self.mesh.points[v as usize];
            let around = adjacency.vertices_around(&self.mesh, v);
            around.into_iter().map(move |w| (w, (self.mesh.points[w as usize] - from).norm())).collect::<Vec<_>>()
        };
        let range = FloodRange { from: &outer, reach: f32::INFINITY, goal: None };
        let found = flood(self.mesh.points.len(), range, edges, job)?;
        let near =
            end.iter().copied().min_by(|a, b| found.distance[*a as usize].total_cmp(&found.distance[*b as usize]));
        Ok(near.and_then(|v| found.way_to(v)))
    }

    /// By how much the boundary turns inward at each vertex on it, in the sheet: half a turn less the angles there.
    fn turns(&self) -> Vec<f64> {
        let mut sum = vec![PI; self.mesh.points.len()];
        for (t, corners) in self.mesh.triangles.iter().enumerate() {
            let p = self.mesh.corners(t).map(|p| p.cast::<f64>());
            for k in 0..3 {
                let (a, b) = (p[(k + 1) % 3] - p[k], p[(k + 2) % 3] - p[k]);
                sum[corners[k] as usize] -= a.angle(&b);
            }
        }
        sum
    }
}

/// The triangles of the largest connected component, in rising order.
fn largest(skin: &Surface, wanted: impl Fn(u32) -> bool) -> Option<Vec<u32>> {
    let (mesh, adjacency) = (skin.mesh(), skin.adjacency());
    let mut left: Vec<bool> = (0..mesh.triangles.len() as u32).map(wanted).collect();
    let mut best: (f64, Vec<u32>) = (0.0, Vec::new());
    for start in 0..left.len() as u32 {
        if !std::mem::take(&mut left[start as usize]) {
            continue;
        }
        let (mut area, mut found, mut stack) = (0.0, Vec::new(), vec![start]);
        while let Some(t) = stack.pop() {
            area += mesh.cross(t as usize).norm();
            found.push(t);
            for &n in &adjacency.neighbours[t as usize] {
                if n != NONE && std::mem::take(&mut left[n as usize]) {
                    stack.push(n);
                }
            }
        }
        if area > best.0 {
            best = (area, found);
        }
    }
    let (area, mut triangles) = best;
    triangles.sort_unstable();
    (area > 0.0).then_some(triangles)
}

#[cfg(test)]
mod tests {
    use test_shapes::{even_tube, icosphere, plane};

    use super::*;

    fn sheet(skin: &Surface, wanted: impl Fn([f32; 3]) -> bool) -> Sheet {
        let inside = |t: u32| skin.mesh().corners(t as usize).iter().all(|p| wanted((*p).into()));
        Sheet::of(skin, inside, &Job::silent()).unwrap().unwrap()
    }

    fn loops(sheet: &Sheet) -> usize {
        Adjacency::new(&sheet.mesh).boundary_loops(&sheet.mesh).len()
    }

    #[test]
    fn a_sleeve_is_cut_open_and_a_ring_is_not() {
        let limb: Surface = even_tube(30.0, 120.0, 3.0).build();
        let sleeve = sheet(&limb, |[_, _, z]| z.abs() < 40.0);
        assert_eq!(loops(&sleeve), 1);
        // The two sides of the seam, which runs straight up.
        let seam = sleeve.mesh.points.len() - sleeve.vertex.iter().collect::<BTreeSet<_>>().len();
        assert!((26..=36).contains(&seam), "{seam}");
        let flat: Surface = plane(40, 40, 1.0).build();
        let ring = sheet(&flat, |[x, y, _]| (x - 20.0).hypot(y - 20.0) > 6.0);
        assert_eq!(loops(&ring), 2);
        // A cap with a hole in its middle is a ring as well, though it closes round the axis.
        let ball: Surface = icosphere(30.0, 4).build();
        let cap = sheet(&ball, |[x, y, z]| z > 20.0 && x.hypot(y) > 5.0);
        assert_eq!(loops(&cap), 2);
    }

    #[test]
    fn the_largest_component_is_taken_and_keeps_the_skins_numbers() {
        let flat: Surface = plane(40, 10, 1.0).build();
        let part = sheet(&flat, |[x, _, _]| !(10.0..=13.0).contains(&x));
        assert!(part.mesh.points.iter().all(|p| p.x > 13.0));
        assert_eq!(part.mesh.triangles.len(), 26 * 10 * 2);
        for (own, of_skin) in part.mesh.triangles.iter().zip(&part.triangle) {
            assert_eq!(own.map(|v| part.vertex[v as usize]), flat.mesh().triangles[*of_skin as usize]);
        }
        assert!(Sheet::of(&flat, |_| false, &Job::silent()).unwrap().is_none());
    }

    #[test]
    fn parts_that_touch_at_a_vertex_only_are_two() {
        let flat: Surface = plane(20, 20, 1.0).build();
        let part = sheet(&flat, |[x, y, _]| (x - 10.0) * (y - 10.0) >= 0.0);
        assert_eq!(loops(&part), 1);
    }
}
