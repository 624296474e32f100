//! The surface cut into pieces small enough that one place on each can speak for it.

use nalgebra::Point3;

use super::cut::{cut, longest, off_segment, place_in};
use crate::job::Every;
use crate::{Cancelled, Job, Mesh, SpatialHash};

/// Largest piece, mm².
const PIECE_MM2: f64 = 1.0;
/// Small pieces are taken together up to about this, mm².
const TOGETHER_MM2: f64 = 1.0;
/// Longest side of a piece, mm, so that long narrow triangles are looked at all along.
const SIDE_MM: f64 = 2.0;
/// An edge over which the surface turns by more, degrees, has flanks that thin out to nothing.
pub const KEEN_DEG: f64 = 95.0;
/// Sides of pieces at such an edge, mm; they grow with the distance from it.
const KEEN_SIDE_MM: f64 = 0.25;
/// Sides of pieces where it is looked at closely, mm.
const CLOSE_SIDE_MM: f64 = 0.5;
/// How far round a place it is looked at closely, mm.
pub const CLOSE_MM: f32 = 2.0;
/// About so many pieces are made at most, and so many more for each triangle; beyond, all are larger.
const MOST_PIECES: [f64; 2] = [1e5, 4.0];

/// A piece of a triangle.
#[derive(Debug, Clone, Copy)]
pub struct Piece {
    /// The triangle that it is part of.
    pub triangle: u32,
    /// A place on it.
    pub place: Point3<f32>,
    /// Its area, mm².
    pub area_mm2: f64,
}

/// How the triangles of a mesh are cut into pieces.
pub struct Cutting<'a> {
    mesh: &'a Mesh,
    turns_deg: Vec<[f64; 3]>,
    /// How many times as long and large as usual pieces are.
    coarser: f64,
}

impl<'a> Cutting<'a> {
    /// `turns_deg` is by how much the surface turns over each side of each triangle.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn new(mesh: &'a Mesh, turns_deg: Vec<[f64; 3]>, job: &Job) -> Result<Self, Cancelled> {
        let count = mesh.triangles.len();
        let needed = job.each(count, |t| {
            let side = longest(&mesh.corners(t).map(|p| p.cast::<f64>())).1;
            let along_keen = if turns_deg[t].iter().any(|turn| *turn > KEEN_DEG) { side / KEEN_SIDE_MM } else { 0.0 };
            (0.5 * mesh.cross(t).norm() / PIECE_MM2).max(side / SIDE_MM) + along_keen
        })?;
        let needed: f64 = needed.iter().sum();
        let most = MOST_PIECES[0] + MOST_PIECES[1] * count as f64;
        let coarser = if needed.is_finite() { (needed / most).max(1.0) } else { f64::INFINITY };
        Ok(Self { mesh, turns_deg, coarser })
    }

    /// The pieces of all triangles, in their order.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn all(&self, job: &Job) -> Result<Vec<Piece>, Cancelled> {
        let nowhere = SpatialHash::new(CLOSE_MM);
        self.pieces_of((0..self.mesh.triangles.len()).collect(), &nowhere, job)
    }

    /// Some of these pieces, in their order: one stands for several small ones that follow each other. Those at edges with
    /// thin flanks are all kept. The areas add up to the same.
    #[must_use]
    pub fn sparse(&self, pieces: &[Piece]) -> Vec<Piece> {
        let is_keen = |piece: &Piece| self.turns_deg[piece.triangle as usize].iter().any(|turn| *turn > KEEN_DEG);
        let mut kept = Vec::new();
        let mut passed_mm2 = 0.0;
        for piece in pieces {
            if is_keen(piece) {
                kept.push(*piece);
                continue;
            }
            passed_mm2 += piece.area_mm2;
            if passed_mm2 >= TOGETHER_MM2 {
                kept.push(Piece { area_mm2: passed_mm2, ..*piece });
                passed_mm2 = 0.0;
            }
        }
        if let Some(last) = pieces.last().filter(|_| passed_mm2 > 0.0) {
            kept.push(Piece { area_mm2: passed_mm2, ..*last });
        }
        kept
    }

    /// The pieces of some triangles, smaller near some places.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn pieces_of(&self, triangles: Vec<usize>, close: &SpatialHash, job: &Job) -> Result<Vec<Piece>, Cancelled> {
        let mut every = Every::new(job, 4096);
        let mut pieces = Vec::with_capacity(triangles.len());
        for t in triangles {
            let whole = self.mesh.corners(t).map(|p| p.cast::<f64>());
            let is_keen = |k: &usize| self.turns_deg[t][*k] > KEEN_DEG;
            let keen_sides = || (0..3).filter(is_keen).map(|k| [whole[k], whole[(k + 1) % 3]]);
            let too_large = |corners: &[Point3<f64>; 3], length_mm: f64, area_mm2: f64| {
                let (length_mm, area_mm2) = (length_mm / self.coarser, area_mm2 / self.coarser);
                let off_keen = || keen_sides().flat_map(|ends| corners.map(|p| off_segment(&p, &ends)));
                let is_close = || !close.within(&place_in(corners, 0), CLOSE_MM).is_empty();
                area_mm2 > PIECE_MM2
                    || length_mm > off_keen().fold(SIDE_MM, f64::min).max(KEEN_SIDE_MM)
                    || (length_mm > CLOSE_SIDE_MM && is_close())
            };
            cut(whole, too_large, |corners, area_mm2| {
                let place = place_in(corners, pieces.len());
                pieces.push(Piece { triangle: t as u32, place, area_mm2 });
                every.tick()
            })?;
        }
        Ok(pieces)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn triangle(corners: [[f32; 3]; 3]) -> Mesh {
        Mesh::from((corners.to_vec(), vec![[0, 1, 2]]))
    }

    fn pieces(mesh: &Mesh, turns_deg: [f64; 3]) -> Vec<Piece> {
        Cutting::new(mesh, vec![turns_deg], &Job::silent()).unwrap().all(&Job::silent()).unwrap()
    }

    proptest! {
        /// A place lies on a triangle where its triangles with the three sides are no larger than the whole.
        #[test]
        fn pieces_are_small_lie_on_the_triangle_and_make_up_its_area(
            corners in prop::array::uniform3(prop::array::uniform3(-30.0_f32..30.0))
        ) {
            let mesh = triangle(corners);
            let pieces = pieces(&mesh, [0.0; 3]);
            let area = mesh.area_mm2();
            let sum: f64 = pieces.iter().map(|p| p.area_mm2).sum();
            prop_assert!((sum - area).abs() <= 1e-9 * area);
            let sides = [0, 1, 2].map(|k| [corners[k], corners[(k + 1) % 3]].map(|p| Point3::from(p).cast::<f64>()));
            for piece in pieces {
                prop_assert!(piece.area_mm2 <= 1.0);
                let place = piece.place.cast::<f64>();
                let parts: f64 = sides.iter().map(|[a, b]| 0.5 * (a - place).cross(&(b - place)).norm()).sum();
                // The place is rounded by up to 3e-6 mm, the sides are up to 104 mm long.
                prop_assert!(parts <= area + 3e-6 * 312.0, "{parts} of {area}");
            }
        }
    }

    /// A row of 40 small triangles, one of which has a keen edge.
    #[test]
    fn one_of_some_small_pieces_stands_for_all_but_not_at_keen_edges() {
        let x = |i: u32| 0.5 * i as f32;
        let points = (0..42).map(|i| Point3::new(x(i), if i % 2 == 0 { 0.0 } else { 0.4 }, 0.0)).collect();
        let mesh = Mesh::new(points, (0..40).map(|i| [i, i + 1, i + 2]).collect());
        let mut turns = vec![[0.0; 3]; 40];
        turns[10][0] = 120.0;
        let cutting = Cutting::new(&mesh, turns, &Job::silent()).unwrap();
        let all = cutting.all(&Job::silent()).unwrap();
        let some = cutting.sparse(&all);
        let sum = |pieces: &[Piece]| pieces.iter().map(|p| p.area_mm2).sum::<f64>();
        assert!((sum(&some) - 40.0 * 0.2).abs() < 1e-6 && (sum(&all) - sum(&some)).abs() < 1e-9);
        let keen = |pieces: &[Piece]| pieces.iter().filter(|p| p.triangle == 10).count();
        assert!(keen(&all) > 4 && keen(&all) == keen(&some), "{} of {}", keen(&some), keen(&all));
        // 39 of 0.2 mm²: five at a time are 1 mm², or six by rounding.
        assert!((7..=8).contains(&(some.len() - keen(&some))), "{}", some.len() - keen(&some));
    }

    #[test]
    fn a_long_narrow_triangle_is_looked_at_all_along() {
        let mesh = triangle([[0.0; 3], [30.0, 0.0, 0.0], [30.0, 0.05, 0.0]]);
        let mut along: Vec<f32> = pieces(&mesh, [0.0; 3]).iter().map(|p| p.place.x).collect();
        along.extend([0.0, 30.0]);
        along.sort_by(f32::total_cmp);
        // At most from the start of one piece to the end of the next.
        assert!(along.windows(2).all(|pair| pair[1] - pair[0] <= 4.0), "{along:?}");
    }

    /// Pieces of a right isosceles triangle are such themselves: with a longest side of at most 0.25 mm, of 1/64 mm².
    #[test]
    fn pieces_are_small_at_a_keen_edge_and_large_far_from_it() {
        let mesh = triangle([[0.0; 3], [16.0, 0.0, 0.0], [0.0, 16.0, 0.0]]);
        let found = pieces(&mesh, [120.0, 0.0, 0.0]);
        let at_edge: Vec<f64> = found.iter().filter(|p| p.place.y < 0.1).map(|p| p.area_mm2).collect();
        assert!(at_edge.len() > 60 && at_edge.iter().all(|area| *area <= 1.0 / 64.0), "{at_edge:?}");
        assert!(found.iter().filter(|p| p.place.y > 5.0).all(|p| p.area_mm2 >= 0.5), "no need for small ones");
        let sum: f64 = found.iter().map(|p| p.area_mm2).sum();
        assert!((sum - 128.0).abs() < 1e-9 && found.len() < 2000, "{} pieces of {sum} mm²", found.len());
    }

    #[test]
    fn a_huge_triangle_does_not_make_too_many() {
        for size in [1e4, 1e9, 1e22, f32::MAX, f32::INFINITY] {
            let mesh = triangle([[0.0; 3], [size, 0.0, 0.0], [size, size, 0.0]]);
            for turn in [0.0, 180.0] {
                let count = pieces(&mesh, [turn; 3]).len();
                assert!((1..500_000).contains(&count), "{count} for {size}");
            }
        }
    }
}
