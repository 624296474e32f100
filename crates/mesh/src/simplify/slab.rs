//! One slab of the mesh under work: which vertices go, and onto which neighbour.

use nalgebra::{Point3, Vector3};
use smallvec::SmallVec;
use wide::f32x4;

use super::Face;
use super::star::{STAR, Star};
use crate::four::{FourTriangles, LEAF};
use crate::job::Every;
use crate::{Cancelled, Job, Mesh};

/// Price of a millimetre of edge against a millimetre off the plane: on flat parts short edges go first.
const LENGTH_PRICE: f32 = 1e-3;
/// No triangle may turn by more than this in one collapse (cosine): 37°.
const LEAST_TURN: f64 = 0.8;
/// No two neighbours may fold onto each other by more than this (cosine between their normals): 135°.
const SHARPEST_FOLD: f64 = -0.7;
/// No triangle may become thinner than this, mm, unless it was.
const LEAST_HEIGHT_MM: f64 = 0.01;

/// What is left of a slab, in the numbers of the whole.
pub(super) struct Done {
    pub(super) faces: Vec<Face>,
    pub(super) least_mm: Vec<(u32, f32)>,
}

/// One slab under work, with numbers of its own.
pub(super) struct Slab {
    points: Vec<Point3<f32>>,
    frozen: Vec<bool>,
    gone: Vec<bool>,
    triangles: Vec<Face>,
    dead: Vec<bool>,
    /// Live triangles round each vertex.
    around: Vec<SmallVec<[u32; 8]>>,
    global: Vec<u32>,
    /// See [`super::Work::least_mm`].
    least_mm: Vec<f32>,
}

impl Slab {
    pub(super) fn new(mesh: &Mesh, triangles: Vec<Face>, global: Vec<u32>, frozen: &[bool], least_mm: &[f32]) -> Self {
        let mut around = vec![SmallVec::new(); global.len()];
        for (t, face) in triangles.iter().enumerate() {
            face.corners.iter().for_each(|v| around[*v as usize].push(t as u32));
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

    pub(super) fn pass(&mut self, limit_mm: f32, job: &Job) -> Result<(), Cancelled> {
        let mut every = Every::new(job, 2048);
        for v in 0..self.points.len() as u32 {
            every.tick()?;
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
        Ok(())
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

    /// The two most promising vertices for `v` to move onto: nearest to the planes of its triangles, and near.
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
    /// the middles of their new edges to the present triangles. Measures no further once it is more than `room`.
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

    /// Whether `v` can move onto `w` and leave a manifold whose triangles neither turn, collapse nor fold.
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
        let kept = star.sides.iter().zip(&star.places).take(star.count).all(|(side, place)| {
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
        });
        kept && !self.folds(v, w, star)
    }

    /// Whether two neighbours would fold onto each other if `v` moved onto `w`.
    fn folds(&self, v: u32, w: u32, star: &Star) -> bool {
        let normal = |[a, b, c]: [u32; 3]| {
            let [a, b, c] = [a, b, c].map(|x| self.points[x as usize].cast::<f64>());
            (b - a).cross(&(c - a))
        };
        // The triangles round `w` that take the place of those round `v`, by their other corners, with their normals.
        let new: SmallVec<[([u32; 2], Vector3<f64>); STAR]> = star.sides[..star.count]
            .iter()
            .filter(|side| !side.contains(&w))
            .map(|[a, b]| ([*a, *b], normal([w, *a, *b])))
            .collect();
        // The normal of the triangle that stays and has the edge from `q` to `p`.
        let staying = |p: u32, q: u32| {
            let around = self.around[p as usize].iter().map(|t| self.triangles[*t as usize].corners);
            let has_edge = |c: &[u32; 3]| (0..3).any(|k| c[k] == q && c[(k + 1) % 3] == p);
            around.filter(|c| !c.contains(&v)).find(has_edge).map(normal)
        };
        let folded = |own: &Vector3<f64>, other: Option<Vector3<f64>>| {
            // A neighbour beyond the seam is not seen here: the collapse is left to the other round.
            other.is_none_or(|other| {
                own.dot(&other) < SHARPEST_FOLD * (own.norm_squared() * other.norm_squared()).sqrt()
            })
        };
        new.iter().any(|([a, b], own)| {
            let before = new.iter().find(|(side, _)| side[1] == *a).map(|(_, other)| *other);
            // Between two new ones the fold is looked at once.
            let has_after = new.iter().any(|(side, _)| side[0] == *b);
            folded(own, before.or_else(|| staying(w, *a)))
                || folded(own, staying(*a, *b))
                || (!has_after && folded(own, staying(*b, w)))
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

    pub(super) fn finish(mut self) -> Done {
        let alive = || self.triangles.iter().zip(&self.dead).filter(|(_, dead)| !**dead).map(|(t, _)| t);
        // What a frozen vertex held back, or kept another from moving onto, is open again in the next round.
        let mut held = self.frozen.clone();
        for t in alive().filter(|t| t.corners.iter().any(|v| self.frozen[*v as usize])) {
            t.corners.iter().for_each(|v| held[*v as usize] = true);
        }
        let faces = alive().map(|t| Face { corners: t.corners.map(|v| self.global[v as usize]), ..*t }).collect();
        for (least, _) in self.least_mm.iter_mut().zip(&held).filter(|(_, held)| **held) {
            *least = 0.0;
        }
        Done { faces, least_mm: self.global.into_iter().zip(self.least_mm).collect() }
    }
}
