//! The lines in which a plane cuts a mesh.

use mesh::Mesh;
use nalgebra::{Point3, Unit, Vector3};
use rayon::prelude::*;

use crate::FitError;
use crate::error::check;

/// A plane's cut through a mesh.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// The point that the plane was laid through.
    pub origin: Point3<f32>,
    /// Its unit normal.
    pub normal: Vector3<f32>,
    /// The lines, in an order that depends on the mesh and plane only.
    pub lines: Vec<SectionLine>,
}

/// One line of a cut.
#[derive(Debug, Clone, PartialEq)]
pub struct SectionLine {
    /// Its corners in order; the first is not repeated at the end.
    ///
    /// Seen against the normal, what the mesh encloses is on the left of the line.
    pub points: Vec<Point3<f32>>,
    /// Whether the last point joins the first; a line that meets a border of the mesh is open.
    pub closed: bool,
}

impl SectionLine {
    /// Length, mm: round a limb, its girth there.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        let step = |a: &Point3<f32>, b: &Point3<f32>| (b.cast::<f64>() - a.cast::<f64>()).norm();
        let open: f64 = self.points.windows(2).map(|w| step(&w[0], &w[1])).sum();
        match (self.closed, self.points.first(), self.points.last()) {
            (true, Some(first), Some(last)) => open + step(last, first),
            _ => open,
        }
    }
}

impl Section {
    /// The lines drawn flat, in mm from [`Section::origin`], in the order of [`Section::lines`]: y runs `out` (as far
    /// as that lies in the plane), x around, to the right of it as seen against the normal.
    ///
    /// Where `out` stands along the normal or has no length, y runs along the axis of space that lies most in the
    /// plane.
    #[must_use]
    pub fn in_plane(&self, out: &Vector3<f32>) -> Vec<Vec<[f32; 2]>> {
        let n = self.normal.cast::<f64>();
        let flat = |v: Vector3<f64>| (v - n * v.dot(&n)).try_normalize(1e-6);
        let mut axis = Vector3::zeros();
        axis[n.iamin()] = 1.0;
        let up = out.cast::<f64>().try_normalize(0.0).and_then(flat).or_else(|| flat(axis)).unwrap_or_default();
        let right = up.cross(&n);
        let drawn = |p: &Point3<f32>| {
            let off = p.cast::<f64>() - self.origin.cast::<f64>();
            [off.dot(&right) as f32, off.dot(&up) as f32]
        };
        self.lines.iter().map(|line| line.points.iter().map(drawn).collect()).collect()
    }
}

/// An edge that the plane crosses, by its two points, the lower first.
type Edge = (u32, u32);

/// Cuts `mesh` with the plane through `point` along `normal` (of any length).
///
/// Points on the plane count as above it, so every line passes from edge to edge and closes wherever the mesh does;
/// what touches the plane from below in a single point or edge gives no line. A closed mesh gives closed lines only.
///
/// # Errors
/// The plane has no direction, or the mesh is broken.
pub fn section(mesh: &Mesh, point: &Point3<f32>, normal: &Vector3<f32>) -> Result<Section, FitError> {
    let finite = point.iter().chain(normal.iter()).all(|x| x.is_finite());
    let Some(unit) = Unit::try_new(normal.cast::<f64>(), 0.0).filter(|_| finite) else {
        return Err(FitError::NoPlane);
    };
    check(mesh)?;
    let middle = point.cast::<f64>();
    let heights: Vec<f64> = mesh.points.par_iter().map(|p| (p.cast::<f64>() - middle).dot(&unit)).collect();
    let above = |v: u32| heights[v as usize] >= 0.0;
    let pieces: Vec<[Edge; 2]> = mesh.triangles.par_iter().filter_map(|t| crossed(*t, t.map(above))).collect();
    let place = |&(a, b): &Edge| {
        let (ha, hb) = (heights[a as usize], heights[b as usize]);
        let [pa, pb] = [a, b].map(|v| mesh.points[v as usize].coords.cast::<f64>());
        Point3::from(pa + (pb - pa) * (ha / (ha - hb))).cast::<f32>()
    };
    let lines = chains(&pieces)
        .into_iter()
        .filter_map(|(edges, closed)| {
            // Lines through a point of the mesh cross all its edges in that one place.
            let mut points: Vec<Point3<f32>> = edges.iter().map(place).collect();
            points.dedup();
            while closed && points.len() > 1 && points.first() == points.last() {
                points.pop();
            }
            (points.len() > if closed { 2 } else { 1 }).then_some(SectionLine { points, closed })
        })
        .collect();
    Ok(Section { origin: *point, normal: unit.cast::<f32>().into_inner(), lines })
}

/// The two sides of a triangle that the plane crosses, first the one that runs down through it.
fn crossed(t: [u32; 3], above: [bool; 3]) -> Option<[Edge; 2]> {
    if above[0] == above[1] && above[1] == above[2] {
        return None;
    }
    let side = |up: bool| (0..3).find(|k| above[*k] != up && above[(k + 1) % 3] == up);
    let edge = |k: usize| {
        let (a, b) = (t[k], t[(k + 1) % 3]);
        (a.min(b), a.max(b))
    };
    Some([edge(side(false)?), edge(side(true)?)])
}

/// Joins pieces over the edges that they share; each chain as its edges, and whether it closes.
///
/// Where triangles are flipped, pieces are joined all the same; where more than two meet at an edge, the lower triangle
/// goes first.
fn chains(pieces: &[[Edge; 2]]) -> Vec<(Vec<Edge>, bool)> {
    let mut ends: Vec<(Edge, u32)> =
        pieces.iter().enumerate().flat_map(|(i, [a, b])| [(*a, i as u32), (*b, i as u32)]).collect();
    ends.par_sort_unstable();
    let at = |edge: Edge| {
        let first = ends.partition_point(|e| e.0 < edge);
        ends[first..].iter().take_while(move |e| e.0 == edge).map(|e| e.1)
    };
    let mut used = vec![false; pieces.len()];
    let mut found = Vec::new();
    // Walks from `edge` along unused pieces.
    let walk = |start: Edge, used: &mut Vec<bool>| {
        let mut edges = vec![start];
        let mut here = start;
        while let Some(piece) = at(here).find(|i| !used[*i as usize]) {
            used[piece as usize] = true;
            let [a, b] = pieces[piece as usize];
            here = if a == here { b } else { a };
            if here == start {
                return (edges, true);
            }
            edges.push(here);
        }
        (edges, false)
    };
    // Open lines first, from where they begin as their triangles run, or from whichever end is free.
    for forward in [true, false] {
        for i in 0..pieces.len() {
            for (k, edge) in pieces[i].iter().enumerate() {
                if !used[i] && at(*edge).count() == 1 && (k == 0 || !forward) {
                    found.push(walk(*edge, &mut used));
                }
            }
        }
    }
    for i in 0..pieces.len() {
        if !used[i] {
            found.push(walk(pieces[i][0], &mut used));
        }
    }
    found
}
