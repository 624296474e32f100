//! Polylines on a surface that know the triangle of each segment.

use nalgebra::Point3;

use super::path;
use crate::{Adjacency, Cancelled, Hit, Job, NONE, Place, Surface};

/// Why a line cannot be laid on the surface.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LineError {
    /// Stopped by its [`Job`].
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// The two points lie on different connected components of the surface.
    #[error(
        "there is no path over the surface from {} to {} mm: they lie on separate pieces of \
         the surface; remove the loose piece or move the point",
        Place::new(from, 1),
        Place::new(to, 1)
    )]
    Apart {
        /// From here.
        from: Point3<f32>,
        /// To there.
        to: Point3<f32>,
    },
    /// The surface has no triangles or the line no points.
    #[error("there is nothing to draw a line on, or no point to draw it through")]
    Empty,
}

/// Where two segments cross.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// The place.
    pub at: Point3<f32>,
    /// Number of the line, and of the segment on it, for both.
    pub segments: [(usize, usize); 2],
}

/// A polyline on a surface.
///
/// Segment `i`, from `points[i]` to the next point, lies in `triangles[i]`; triangles of successive segments are the
/// same or share an edge, on which the point between them lies. A closed line has as many segments as points and
/// its last runs back to the first point; an open one has one segment fewer.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SurfaceLine {
    /// The corners of the line.
    pub points: Vec<Point3<f32>>,
    /// The triangle of each segment.
    pub triangles: Vec<u32>,
    /// The last point is joined to the first.
    pub closed: bool,
}

impl SurfaceLine {
    /// Lays a line through the surface points nearest to `through`, joined by geodesics.
    ///
    /// # Errors
    /// [`LineError`] where two of them are not connected over the surface, where there is nothing to join, or when
    /// `job` is cancelled.
    pub fn lay(surface: &Surface, through: &[Point3<f32>], closed: bool, job: &Job) -> Result<Self, LineError> {
        let mut stops: Vec<Hit> = Vec::with_capacity(through.len());
        for p in through {
            let hit = surface.nearest(p, stops.last().map(|h| h.triangle)).ok_or(LineError::Empty)?;
            if stops.last().is_none_or(|last| (last.point - hit.point).norm() > 1e-4) {
                stops.push(hit);
            }
        }
        if closed && stops.len() > 1 && (stops[0].point - stops[stops.len() - 1].point).norm() <= 1e-4 {
            stops.pop();
        }
        let (Some(first), true) = (stops.first().copied(), stops.len() > 1) else { return Err(LineError::Empty) };
        let legs = if closed { stops.len() } else { stops.len() - 1 };
        let mut line = Self { points: vec![first.point], triangles: Vec::new(), closed };
        for i in 0..legs {
            let leg = path(surface, &stops[i], &stops[(i + 1) % stops.len()], job)?;
            line.points.extend_from_slice(&leg.points[1..]);
            line.triangles.extend(leg.triangles);
        }
        if closed {
            line.points.pop();
        }
        Ok(line)
    }

    /// The open ends of the surface, each a closed line along its border edges.
    #[must_use]
    pub fn borders(surface: &Surface) -> Vec<Self> {
        let (mesh, adjacency) = (surface.mesh(), surface.adjacency());
        adjacency
            .boundary_loops(mesh)
            .into_iter()
            .filter(|ring| ring.len() > 2)
            .map(|ring| Self {
                triangles: (0..ring.len())
                    .map(|i| border_triangle(mesh, adjacency, ring[i], ring[(i + 1) % ring.len()]))
                    .collect(),
                points: ring.iter().map(|v| mesh.points[*v as usize]).collect(),
                closed: true,
            })
            .collect()
    }

    /// Start, end and triangle of each segment.
    pub fn segments(&self) -> impl Iterator<Item = (Point3<f32>, Point3<f32>, u32)> + '_ {
        let n = self.points.len();
        self.triangles.iter().enumerate().map(move |(i, t)| (self.points[i % n], self.points[(i + 1) % n], *t))
    }

    /// Length, mm.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        self.segments().map(|(a, b, _)| f64::from((b - a).norm())).sum()
    }

    /// A place where the lines cross themselves or each other, if any. Touching without crossing does not count.
    #[must_use]
    pub fn first_crossing(surface: &Surface, lines: &[Self]) -> Option<Crossing> {
        let mut here: Vec<(u32, usize, usize)> = Vec::new();
        for (l, line) in lines.iter().enumerate() {
            here.extend(line.triangles.iter().enumerate().map(|(s, t)| (*t, l, s)));
        }
        here.sort_unstable();
        for group in here.chunk_by(|x, y| x.0 == y.0) {
            let normal = surface.mesh().cross(group[0].0 as usize);
            let segment = |l: usize, s: usize| {
                let points = &lines[l].points;
                [points[s].cast::<f64>(), points[(s + 1) % points.len()].cast::<f64>()]
            };
            for (i, x) in group.iter().enumerate() {
                for y in &group[i + 1..] {
                    let ([a, b], [c, d]) = (segment(x.1, x.2), segment(y.1, y.2));
                    let side = |p: Point3<f64>, q: Point3<f64>, r: Point3<f64>| (q - p).cross(&(r - p)).dot(&normal);
                    let (ac, ad, ca, cb) = (side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b));
                    let least = 1e-9 * normal.norm_squared();
                    let apart = |u: f64, v: f64| u * v < 0.0 && u.abs() > least && v.abs() > least;
                    if apart(ac, ad) && apart(ca, cb) {
                        let at = a + (b - a) * (ca / (ca - cb));
                        return Some(Crossing { at: at.cast(), segments: [(x.1, x.2), (y.1, y.2)] });
                    }
                }
            }
        }
        None
    }
}

fn border_triangle(mesh: &crate::Mesh, adjacency: &Adjacency, a: u32, b: u32) -> u32 {
    let has = |t: &&u32| {
        let c = mesh.triangles[**t as usize];
        (0..3).any(|k| c[k] == a && c[(k + 1) % 3] == b && adjacency.neighbours[**t as usize][k] == NONE)
    };
    let around = adjacency.triangles_around(a);
    around.iter().find(has).or(around.first()).copied().unwrap_or(0)
}
