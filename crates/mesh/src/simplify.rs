//! Fewer triangles within a named tolerance, for closed manifold meshes.
//!
//! Edge collapses onto one of the two ends: every vertex left is a vertex of the input, so it still lies on the true
//! surface. Each triangle carries a bound on how far the surface has moved under it so far; a collapse adds the distance
//! from the vertex that goes to the triangles that take its place, and from their new edges to those they replace, and is made only while the sum stays within the
//! tolerance (as the error bounds of Ciampalini et al. 1997), where the surface keeps its topology (link condition, Dey
//! et al. 1999), and where no triangle turns by more than a set angle or gets thinner than a set height.
//!
//! The mesh is worked on in slabs with frozen seams, twice, with the seams moved in between. Slabs depend on the mesh
//! alone, so the result is the same on any number of threads.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::four::{FourTriangles, LEAF, spread};
use crate::{Cancelled, Job, Mesh};

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
const LIMITS: [f32; 6] = [0.02, 0.08, 0.2, 0.45, 1.0, 1.0];
/// Price of a millimetre of edge against a millimetre off the plane: on flat parts short edges go first.
const LENGTH_PRICE: f32 = 1e-3;
/// Targets tried for each vertex.
const TRIES: usize = 2;
/// No triangle may turn by more than this in one collapse (cosine): 37°.
const LEAST_TURN: f64 = 0.8;
/// No triangle may become thinner than this, mm, unless it was.
const LEAST_HEIGHT_MM: f64 = 0.01;

/// Collapses edges of `mesh` while the surface stays within about `tolerance_mm`; vertices with `locked` set stay.
///
/// Cancel is looked at once a slab and pass.
///
/// # Errors
/// [`Cancelled`] when the job was.
pub fn simplify(mesh: &Mesh, tolerance_mm: f32, locked: &[bool], job: &Job) -> Result<Simplified, Cancelled> {
    let mut triangles: Vec<Tile> =
        mesh.triangles.iter().map(|corners| Tile { corners: *corners, moved_mm: 0.0 }).collect();
    for shift in 0..2 {
        let slabs = SLABS.min(triangles.len() / SLAB_TRIANGLES + 1);
        if shift == 1 && slabs < 2 {
            break;
        }
        triangles = round(mesh, &triangles, locked, tolerance_mm, slabs - shift, job)?;
    }
    let mut number = vec![u32::MAX; mesh.points.len()];
    let mut kept = Vec::new();
    for v in triangles.iter().flat_map(|t| &t.corners) {
        if number[*v as usize] == u32::MAX {
            number[*v as usize] = 0;
            kept.push(*v);
        }
    }
    kept.sort_unstable();
    for (i, v) in kept.iter().enumerate() {
        number[*v as usize] = i as u32;
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
struct Tile {
    corners: [u32; 3],
    moved_mm: f32,
}

fn round(
    mesh: &Mesh,
    triangles: &[Tile],
    locked: &[bool],
    tolerance_mm: f32,
    slabs: usize,
    job: &Job,
) -> Result<Vec<Tile>, Cancelled> {
    let slab_of = slab_of_vertices(mesh, triangles, slabs);
    let mut members: Vec<Vec<Tile>> = vec![Vec::new(); slabs];
    let mut all = Vec::new();
    let mut frozen = locked.to_vec();
    for t in triangles {
        let [a, b, c] = t.corners.map(|v| slab_of[v as usize]);
        if a == b && b == c {
            members[a as usize].push(*t);
        } else {
            all.push(*t);
            t.corners.iter().for_each(|v| frozen[*v as usize] = true);
        }
    }
    let done: Vec<Result<Vec<Tile>, Cancelled>> = members
        .into_par_iter()
        .map(|own| {
            let mut slab = Slab::new(mesh, own, &frozen);
            for share in LIMITS {
                job.check()?;
                slab.pass(tolerance_mm * share);
            }
            Ok(slab.finish())
        })
        .collect();
    for slab in done {
        all.extend(slab?);
    }
    Ok(all)
}

/// Cuts the vertices in use into slabs of equal count along the longest side of the box.
fn slab_of_vertices(mesh: &Mesh, triangles: &[Tile], slabs: usize) -> Vec<u16> {
    let mut slab_of = vec![0; mesh.points.len()];
    let Some((lo, hi)) = mesh.bounds() else { return slab_of };
    let axis = (hi - lo).imax();
    let mut used: Vec<u32> = triangles.iter().flat_map(|t| t.corners).collect();
    used.par_sort_unstable();
    used.dedup();
    used.par_sort_by(|a, b| mesh.points[*a as usize][axis].total_cmp(&mesh.points[*b as usize][axis]));
    for (i, v) in used.iter().enumerate() {
        slab_of[*v as usize] = (i * slabs / used.len()) as u16;
    }
    slab_of
}

/// One slab under work, with numbers of its own.
struct Slab {
    points: Vec<Point3<f32>>,
    frozen: Vec<bool>,
    gone: Vec<bool>,
    triangles: Vec<Tile>,
    dead: Vec<bool>,
    /// Live triangles round each vertex.
    around: Vec<Vec<u32>>,
    global: Vec<u32>,
    /// For each vertex the least limit under which a collapse may be found; 0 once something near has changed.
    least_mm: Vec<f32>,
}

impl Slab {
    fn new(mesh: &Mesh, own: Vec<Tile>, frozen: &[bool]) -> Self {
        let mut global: Vec<u32> = own.iter().flat_map(|t| t.corners).collect();
        global.sort_unstable();
        global.dedup();
        let local = |v: u32| global.binary_search(&v).map_or(0, |i| i as u32);
        let triangles: Vec<Tile> = own.iter().map(|t| Tile { corners: t.corners.map(local), ..*t }).collect();
        let mut around = vec![Vec::with_capacity(8); global.len()];
        for (t, tile) in triangles.iter().enumerate() {
            tile.corners.iter().for_each(|v| around[*v as usize].push(t as u32));
        }
        Self {
            points: global.iter().map(|v| mesh.points[*v as usize]).collect(),
            frozen: global.iter().map(|v| frozen[*v as usize]).collect(),
            gone: vec![false; global.len()],
            least_mm: vec![0.0; global.len()],
            dead: vec![false; triangles.len()],
            triangles,
            around,
            global,
        }
    }

    fn pass(&mut self, limit_mm: f32) {
        let mut ring = Vec::with_capacity(16);
        let mut prices: Vec<(f32, u32)> = Vec::with_capacity(16);
        for v in 0..self.points.len() as u32 {
            if self.gone[v as usize] || self.frozen[v as usize] || self.least_mm[v as usize] > limit_mm {
                continue;
            }
            let star = &self.around[v as usize];
            let moved = star.iter().map(|t| self.triangles[*t as usize].moved_mm).fold(0.0, f32::max);
            self.ring_of(v, &mut ring);
            self.price_targets(v, &ring, &mut prices);
            let mut least = f32::INFINITY;
            let chosen = prices.iter().take(TRIES).find_map(|(_, w)| {
                let sum = moved + self.distance_after(v, *w).max(self.distance_before(v, *w));
                if sum > limit_mm {
                    least = least.min(sum);
                    return None;
                }
                self.may_collapse(v, *w, &ring).then_some((*w, sum))
            });
            match chosen {
                Some((w, sum)) => self.collapse(v, w, sum),
                None => self.least_mm[v as usize] = least,
            }
        }
    }

    /// Vertices that `v` may move onto, the most promising first: those nearest to the planes of its triangles, and near.
    fn price_targets(&self, v: u32, ring: &[u32], prices: &mut Vec<(f32, u32)>) {
        let from = self.points[v as usize];
        let mut normals = [Vector3::zeros(); 12];
        let star = self.around[v as usize].iter().take(normals.len());
        let mut count = 0;
        for t in star {
            let [a, b, c] = self.triangles[*t as usize].corners.map(|c| self.points[c as usize]);
            let cross = (b - a).cross(&(c - a));
            normals[count] = cross / cross.norm().max(f32::MIN_POSITIVE);
            count += 1;
        }
        prices.clear();
        for &w in ring.iter().filter(|w| !self.frozen[**w as usize]) {
            let along = self.points[w as usize] - from;
            let off = normals[..count].iter().map(|n| n.dot(&along).abs()).fold(0.0, f32::max);
            prices.push((off + LENGTH_PRICE * along.norm(), w));
        }
        prices.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    }

    /// Distance from `v` to the triangles that would take its place if it moved onto `w`.
    fn distance_after(&self, v: u32, w: u32) -> f32 {
        let (from, to) = (self.points[v as usize], self.points[w as usize]);
        let star = self.around[v as usize].iter().map(|t| self.triangles[*t as usize].corners);
        let new =
            star.filter(|c| !c.contains(&w)).map(|c| c.map(|x| if x == v { to } else { self.points[x as usize] }));
        in_groups(new).iter().map(|g| g.least_distance2(&spread(&from))).fold(f32::INFINITY, f32::min).sqrt()
    }

    /// Largest distance from the middles of the edges that would be new if `v` moved onto `w` to the triangles of now.
    fn distance_before(&self, v: u32, w: u32) -> f32 {
        let star = &self.around[v as usize];
        let groups =
            in_groups(star.iter().map(|t| self.triangles[*t as usize].corners.map(|c| self.points[c as usize])));
        let beside = |x: u32| {
            star.iter().any(|t| {
                let corners = self.triangles[*t as usize].corners;
                corners.contains(&w) && corners.contains(&x)
            })
        };
        let mut farthest = 0.0_f32;
        for t in star {
            // Each vertex of the ring follows `v` in exactly one triangle of the star.
            let corners = self.triangles[*t as usize].corners;
            let k = corners.iter().position(|c| *c == v).unwrap_or(0);
            let x = corners[(k + 1) % 3];
            if x == w || beside(x) {
                continue;
            }
            let middle = nalgebra::center(&self.points[w as usize], &self.points[x as usize]);
            let nearest = groups.iter().map(|g| g.least_distance2(&spread(&middle))).fold(f32::INFINITY, f32::min);
            farthest = farthest.max(nearest);
        }
        farthest.sqrt()
    }

    /// Vertices that share a triangle with `v`, in rising order.
    fn ring_of(&self, v: u32, ring: &mut Vec<u32>) {
        ring.clear();
        for t in &self.around[v as usize] {
            ring.extend(self.triangles[*t as usize].corners.iter().filter(|w| **w != v));
        }
        ring.sort_unstable();
        ring.dedup();
    }

    /// Whether `v` can move onto `w` and leave a manifold whose triangles neither turn nor collapse.
    fn may_collapse(&self, v: u32, w: u32, ring: &[u32]) -> bool {
        // Link condition: the two ends share exactly the two vertices opposite their edge.
        let mut common = 0;
        for t in &self.around[w as usize] {
            for x in self.triangles[*t as usize].corners {
                // Each neighbour of `w` shows up in two triangles round it.
                common += usize::from(x != w && x != v && ring.binary_search(&x).is_ok());
            }
        }
        if common != 4 {
            return false;
        }
        let to = self.points[w as usize].cast::<f64>();
        self.around[v as usize].iter().all(|t| {
            let corners = self.triangles[*t as usize].corners;
            if corners.contains(&w) {
                return true;
            }
            let k = corners.iter().position(|c| *c == v).unwrap_or(0);
            let a = self.points[corners[(k + 1) % 3] as usize].cast::<f64>();
            let b = self.points[corners[(k + 2) % 3] as usize].cast::<f64>();
            let from = self.points[v as usize].cast::<f64>();
            let (old, new) = ((a - from).cross(&(b - from)), (a - to).cross(&(b - to)));
            let longest =
                |p: &Point3<f64>| (a - p).norm_squared().max((b - p).norm_squared()).max((b - a).norm_squared());
            let (old2, new2) = (old.norm_squared(), new.norm_squared());
            // Squared height over the longest side.
            let (old_height, new_height) = (old2 / longest(&from), new2 / longest(&to));
            let turned = old.dot(&new) < LEAST_TURN * (old2 * new2).sqrt();
            // Slivers have no steady normal: they may turn if they come out fatter.
            let sliver = old_height < LEAST_HEIGHT_MM * LEAST_HEIGHT_MM;
            let too_thin = new_height < (LEAST_HEIGHT_MM * LEAST_HEIGHT_MM).min(old_height);
            !too_thin && (!turned || (sliver && old.dot(&new) > 0.0))
        })
    }

    fn collapse(&mut self, v: u32, w: u32, moved_mm: f32) {
        self.gone[v as usize] = true;
        let moved = std::mem::take(&mut self.around[v as usize]);
        for t in moved {
            let corners = &mut self.triangles[t as usize].corners;
            if corners.contains(&w) {
                self.dead[t as usize] = true;
                for x in *corners {
                    if x != v {
                        self.around[x as usize].retain(|u| *u != t);
                    }
                }
                continue;
            }
            for c in corners.iter_mut() {
                if *c == v {
                    *c = w;
                }
            }
            for x in *corners {
                self.least_mm[x as usize] = 0.0;
            }
            self.triangles[t as usize].moved_mm = moved_mm;
            self.around[w as usize].push(t);
        }
    }

    fn finish(self) -> Vec<Tile> {
        let alive = self.triangles.iter().zip(&self.dead).filter(|(_, dead)| !**dead);
        alive.map(|(t, _)| Tile { corners: t.corners.map(|v| self.global[v as usize]), ..*t }).collect()
    }
}

/// Packs triangles four by four.
fn in_groups(triangles: impl Iterator<Item = [Point3<f32>; 3]>) -> Vec<FourTriangles> {
    let all: Vec<[Point3<f32>; 3]> = triangles.collect();
    all.chunks(LEAF).map(FourTriangles::new).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solid;
    use approx::assert_relative_eq;

    /// A closed torus of `n` by `m` quads.
    fn torus(n: u32, m: u32) -> Mesh {
        let at = |i: u32, j: u32| {
            let (u, v) = (
                f64::from(i) / f64::from(n) * std::f64::consts::TAU,
                f64::from(j) / f64::from(m) * std::f64::consts::TAU,
            );
            let r = 60.0 + 15.0 * v.cos();
            Point3::new(r * u.cos(), r * u.sin(), 15.0 * v.sin()).cast()
        };
        let points = (0..n).flat_map(|i| (0..m).map(move |j| at(i, j))).collect();
        let number = |i: u32, j: u32| i % n * m + j % m;
        let triangles = (0..n)
            .flat_map(|i| (0..m).map(move |j| (i, j)))
            .flat_map(|(i, j)| {
                let [a, b, c, d] = [number(i, j), number(i + 1, j), number(i + 1, j + 1), number(i, j + 1)];
                [[a, b, c], [a, c, d]]
            })
            .collect();
        Mesh::new(points, triangles)
    }

    #[test]
    fn a_torus_keeps_its_shape_within_the_tolerance() {
        let fine = torus(700, 180);
        let done = simplify(&fine, 0.02, &vec![false; fine.points.len()], &Job::silent()).unwrap();
        println!("{} triangles", done.mesh.triangles.len());
        assert!(done.mesh.triangles.len() * 3 < fine.triangles.len(), "{} triangles left", done.mesh.triangles.len());
        let report = solid::check(&done.mesh, &Job::silent()).unwrap();
        assert!(report.is_solid(), "{:?}", report.faults());
        // Every vertex of the fine mesh is within the tolerance of the simple one, and the volume is that of the torus.
        let simple = crate::NearestIndex::new(&done.mesh);
        let far = fine.points.iter().map(|p| simple.nearest(p, None).unwrap().distance2).fold(0.0, f32::max).sqrt();
        println!("{far}");
        assert!(far < 0.02, "{far}");
        assert_relative_eq!(report.volume_mm3, 266_479.319, max_relative = 1e-3);
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
