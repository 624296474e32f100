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

use nalgebra::Point3;
use rayon::prelude::*;
use smallvec::SmallVec;
use wide::f32x4;

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
/// Most triangles round a vertex that may go; a multiple of the group's size.
const STAR: usize = 16;
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
    let mut work = Work { locked, least_mm: vec![0.0; mesh.points.len()] };
    for shift in 0..2 {
        let slabs = SLABS.min(triangles.len() / SLAB_TRIANGLES + 1);
        if shift == 1 && slabs < 2 {
            break;
        }
        triangles = round(mesh, &triangles, &mut work, tolerance_mm, slabs - shift, job)?;
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
    work: &mut Work<'_>,
    tolerance_mm: f32,
    slabs: usize,
    job: &Job,
) -> Result<Vec<Tile>, Cancelled> {
    let Cut { slab_of, number, global } = Cut::new(mesh, triangles, slabs);
    let mut members: Vec<Vec<Tile>> = global.iter().map(|g| Vec::with_capacity(2 * g.len())).collect();
    let mut all = Vec::new();
    let mut frozen = work.locked.to_vec();
    for t in triangles {
        let [a, b, c] = t.corners.map(|v| slab_of[v as usize]);
        if a == b && b == c {
            members[a as usize].push(Tile { corners: t.corners.map(|v| number[v as usize]), ..*t });
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
                job.check()?;
                slab.pass(tolerance_mm * share);
            }
            Ok(slab.finish())
        })
        .collect();
    for slab in done {
        let slab = slab?;
        all.extend(slab.tiles);
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

/// The vertices in use, cut into slabs of about equal count along the longest side of the box.
struct Cut {
    /// Slab of each vertex.
    slab_of: Vec<u16>,
    /// Number of each vertex within its slab.
    number: Vec<u32>,
    /// Vertices of each slab in rising order.
    global: Vec<Vec<u32>>,
}

impl Cut {
    fn new(mesh: &Mesh, triangles: &[Tile], slabs: usize) -> Self {
        const BINS: usize = 4096;
        let mut used = vec![false; mesh.points.len()];
        triangles.iter().flat_map(|t| t.corners).for_each(|v| used[v as usize] = true);
        let (lo, hi) = mesh.bounds().unwrap_or_default();
        let axis = (hi - lo).imax();
        let scale = BINS as f32 / (hi[axis] - lo[axis]).max(f32::MIN_POSITIVE);
        let bin = |v: usize| (((mesh.points[v][axis] - lo[axis]) * scale) as usize).min(BINS - 1);
        let mut counts = vec![0; BINS];
        (0..used.len()).filter(|v| used[*v]).for_each(|v| counts[bin(v)] += 1);
        let all: usize = counts.iter().sum();
        let mut before = 0;
        let slab_of_bin: Vec<u16> = counts
            .iter()
            .map(|count| {
                let slab = (before + count / 2) * slabs / all.max(1);
                before += count;
                slab.min(slabs - 1) as u16
            })
            .collect();
        let mut global = vec![Vec::with_capacity(all / slabs + all / slabs / 8); slabs];
        let (mut slab_of, mut number) = (vec![0; used.len()], vec![0; used.len()]);
        for v in (0..used.len()).filter(|v| used[*v]) {
            let slab = slab_of_bin[bin(v)];
            slab_of[v] = slab;
            number[v] = global[slab as usize].len() as u32;
            global[slab as usize].push(v as u32);
        }
        Self { slab_of, number, global }
    }
}

/// What is left of a slab, in the numbers of the whole.
struct Done {
    tiles: Vec<Tile>,
    least_mm: Vec<(u32, f32)>,
}

/// One slab under work, with numbers of its own.
struct Slab {
    points: Vec<Point3<f32>>,
    frozen: Vec<bool>,
    gone: Vec<bool>,
    triangles: Vec<Tile>,
    dead: Vec<bool>,
    /// Live triangles round each vertex.
    around: Vec<SmallVec<[u32; 8]>>,
    global: Vec<u32>,
    /// See [`Work::least_mm`].
    least_mm: Vec<f32>,
}

/// The triangles round one vertex, as the collapses of that vertex need them.
struct Star {
    count: usize,
    /// The two other corners of each, in the direction of the triangle.
    sides: [[u32; 2]; STAR],
    places: [[Point3<f32>; 2]; STAR],
    /// The triangles as they are.
    old: [FourTriangles; STAR / LEAF],
    /// Unit normals, each four side by side.
    normals: [[f32x4; 3]; STAR / LEAF],
}

impl Star {
    fn groups(&self) -> usize {
        self.count.div_ceil(LEAF)
    }

    /// The vertices round the middle one, each once.
    fn ring(&self) -> impl Iterator<Item = (u32, &Point3<f32>)> {
        self.sides.iter().zip(&self.places).take(self.count).map(|(side, place)| (side[0], &place[0]))
    }

    fn least_distance2(groups: &[FourTriangles], p: &Point3<f32>) -> f32 {
        let p = spread(p);
        groups.iter().map(|g| g.least_distance2(&p)).fold(f32::INFINITY, f32::min)
    }
}

impl Slab {
    fn new(mesh: &Mesh, triangles: Vec<Tile>, global: Vec<u32>, frozen: &[bool], least_mm: &[f32]) -> Self {
        let mut around = vec![SmallVec::new(); global.len()];
        for (t, tile) in triangles.iter().enumerate() {
            tile.corners.iter().for_each(|v| around[*v as usize].push(t as u32));
        }
        Self {
            points: global.iter().map(|v| mesh.points[*v as usize]).collect(),
            frozen: global.iter().map(|v| frozen[*v as usize]).collect(),
            gone: vec![false; global.len()],
            least_mm: global.iter().map(|v| least_mm[*v as usize]).collect(),
            dead: vec![false; triangles.len()],
            triangles,
            around,
            global,
        }
    }

    fn pass(&mut self, limit_mm: f32) {
        for v in 0..self.points.len() as u32 {
            if self.gone[v as usize] || self.frozen[v as usize] || self.least_mm[v as usize] > limit_mm {
                continue;
            }
            let around = &self.around[v as usize];
            let moved = around.iter().map(|t| self.triangles[*t as usize].moved_mm).fold(0.0, f32::max);
            if moved > limit_mm || around.len() > STAR {
                self.least_mm[v as usize] = if around.len() > STAR { f32::INFINITY } else { moved };
                continue;
            }
            let star = self.star(v);
            let room = limit_mm - moved;
            let mut least = f32::INFINITY;
            let chosen = self.targets(v, &star).into_iter().flatten().find_map(|w| {
                let further = self.distance_moved(v, w, &star, room);
                if further > room {
                    least = least.min(moved + further);
                    return None;
                }
                self.may_collapse(v, w, &star).then_some((w, moved + further))
            });
            match chosen {
                Some((w, sum)) => self.collapse(v, w, sum),
                None => self.least_mm[v as usize] = least,
            }
        }
    }

    fn star(&self, v: u32) -> Star {
        let middle = self.points[v as usize];
        let mut star = Star {
            count: 0,
            sides: [[v; 2]; STAR],
            places: [[middle; 2]; STAR],
            old: [FourTriangles::NONE; STAR / LEAF],
            normals: [[f32x4::ZERO; 3]; STAR / LEAF],
        };
        for t in &self.around[v as usize] {
            let corners = self.triangles[*t as usize].corners;
            let k = corners.iter().position(|c| *c == v).unwrap_or(0);
            let side = [corners[(k + 1) % 3], corners[(k + 2) % 3]];
            let [a, b] = side.map(|x| self.points[x as usize]);
            let at = star.count;
            star.sides[at] = side;
            star.places[at] = [a, b];
            star.old[at / LEAF].set(at % LEAF, &[middle, a, b]);
            let cross = (a - middle).cross(&(b - middle));
            let normal = cross / cross.norm().max(f32::MIN_POSITIVE);
            for k in 0..3 {
                star.normals[at / LEAF][k].as_mut_array()[at % LEAF] = normal[k];
            }
            star.count += 1;
        }
        star
    }

    /// The two vertices that `v` moves onto with the best promise: nearest to the planes of its triangles, and near.
    fn targets(&self, v: u32, star: &Star) -> [Option<u32>; 2] {
        let from = self.points[v as usize];
        let mut best = [(f32::INFINITY, u32::MAX); 2];
        for (w, to) in star.ring().filter(|(w, _)| !self.frozen[*w as usize]) {
            let along = to - from;
            let mut off = f32x4::ZERO;
            for normal in &star.normals[..star.groups()] {
                off = off.fast_max((normal[0] * along.x + normal[1] * along.y + normal[2] * along.z).abs());
            }
            let [a, b, c, d] = off.to_array();
            let price = (a.max(b).max(c.max(d)) + LENGTH_PRICE * along.norm(), w);
            if price < best[0] {
                best = [price, best[0]];
            } else if price < best[1] {
                best[1] = price;
            }
        }
        best.map(|(price, w)| price.is_finite().then_some(w))
    }

    /// How far the surface would move if `v` moved onto `w`: from `v` to the triangles that take its place, and from
    /// the middles of their new edges to the triangles of now. Measures no further once it is more than `room`.
    fn distance_moved(&self, v: u32, w: u32, star: &Star, room: f32) -> f32 {
        let to = self.points[w as usize];
        let mut new = [FourTriangles::NONE; STAR / LEAF];
        let mut count = 0;
        for (_, [a, b]) in star.sides.iter().zip(&star.places).take(star.count).filter(|(side, _)| !side.contains(&w)) {
            new[count / LEAF].set(count % LEAF, &[to, *a, *b]);
            count += 1;
        }
        let mut farthest = Star::least_distance2(&new[..count.div_ceil(LEAF)], &self.points[v as usize]);
        let beside = |x: u32| star.sides[..star.count].iter().any(|side| side.contains(&w) && side.contains(&x));
        for (x, place) in star.ring() {
            if farthest > room * room {
                break;
            }
            if x != w && !beside(x) {
                let middle = nalgebra::center(&to, place);
                farthest = farthest.max(Star::least_distance2(&star.old[..star.groups()], &middle));
            }
        }
        farthest.sqrt()
    }

    /// Whether `v` can move onto `w` and leave a manifold whose triangles neither turn nor collapse.
    fn may_collapse(&self, v: u32, w: u32, star: &Star) -> bool {
        // Link condition: the two ends share exactly the two vertices opposite their edge.
        let mut common = 0;
        for t in &self.around[w as usize] {
            for x in self.triangles[*t as usize].corners {
                // Each neighbour of `w` shows up in two triangles round it.
                common += usize::from(x != w && x != v && star.ring().any(|(y, _)| y == x));
            }
        }
        if common != 4 {
            return false;
        }
        let (from, to) = (self.points[v as usize].cast::<f64>(), self.points[w as usize].cast::<f64>());
        star.sides.iter().zip(&star.places).take(star.count).all(|(side, place)| {
            if side.contains(&w) {
                return true;
            }
            let [a, b] = place.map(|p| p.cast::<f64>());
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

    fn finish(mut self) -> Done {
        let alive = || self.triangles.iter().zip(&self.dead).filter(|(_, dead)| !**dead).map(|(t, _)| t);
        // What a frozen vertex held back, or kept another from moving onto, is open again in the next round.
        let mut held = self.frozen.clone();
        for t in alive().filter(|t| t.corners.iter().any(|v| self.frozen[*v as usize])) {
            t.corners.iter().for_each(|v| held[*v as usize] = true);
        }
        let tiles = alive().map(|t| Tile { corners: t.corners.map(|v| self.global[v as usize]), ..*t }).collect();
        for (least, _) in self.least_mm.iter_mut().zip(&held).filter(|(_, held)| **held) {
            *least = 0.0;
        }
        Done { tiles, least_mm: self.global.into_iter().zip(self.least_mm).collect() }
    }
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
