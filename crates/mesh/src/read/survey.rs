//! Survey of an unrepaired mesh: open edges, wrong joins, duplicates, scale.

use super::weld_exact::weld_exact;
use crate::job::Every;
use crate::non_manifold::non_manifold_vertices;
use crate::{Adjacency, Cancelled, Job, Mesh, NONE};
use nalgebra::Point3;
use rayon::prelude::*;

/// What [`survey`] found. Counts are of a copy whose equal points were joined, so seams of a picture do not show.
#[derive(Debug, Clone, PartialEq)]
pub struct Survey {
    /// Triangles in the file.
    pub triangles: usize,
    /// Edges with one triangle.
    pub open_edges: usize,
    /// Edges with more than two triangles.
    pub non_manifold_edges: usize,
    /// Edges whose two triangles face opposite ways.
    pub flipped_edges: usize,
    /// No flipping of triangles can make all face the same way, as on a Möbius strip.
    pub one_sided: bool,
    /// Connected components over edges.
    pub components: usize,
    /// Share of the whole area that the largest of them has, 0 to 1.
    pub largest_component: f64,
    /// Triangles with equal corners, or so thin that they have no direction.
    pub degenerate: usize,
    /// Triangles that lie on another one with the same corners.
    pub duplicates: usize,
    /// Points where parts of the surface touch without sharing an edge.
    pub non_manifold_vertices: usize,
    /// Lengths of the box round all triangles, in the file's unit.
    pub size: [f32; 3],
    /// Step between numbers at the point farthest out, in the file's unit: finer detail is lost.
    pub step: f32,
}

/// A triangle whose height is less than this share of its longest side has no direction: its corners are rounded
/// to 6e-8 of their distance from the origin.
const THINNEST: f64 = 1e-7;
/// Largest and smallest longest side of a scan of a person, or of a part of one, in any unit: 3 m in millimetres, 3 cm
/// in metres.
const LARGEST: f32 = 3000.0;
const SMALLEST: f32 = 0.03;

/// Looks at a mesh without changing it.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn survey(mesh: &Mesh, job: &Job) -> Result<Survey, Cancelled> {
    let mut index = vec![0; mesh.points.len()];
    let points = weld_exact(&mut index, |i| mesh.points[i].coords.into(), job)?;
    let joined: Vec<[u32; 3]> = mesh.triangles.iter().map(|corners| corners.map(|v| index[v as usize])).collect();
    let different: Vec<[u32; 3]> = joined.into_iter().filter(|[a, b, c]| a != b && b != c && c != a).collect();
    let collapsed = mesh.triangles.len() - different.len();
    let joined = Mesh::new(points, different);
    let adjacency = Adjacency::build(&joined, job)?;

    job.check()?;
    let mut sorted: Vec<[u32; 3]> = joined.triangles.clone();
    sorted.par_iter_mut().for_each(|corners| corners.sort_unstable());
    sorted.par_sort_unstable();
    let duplicates = sorted.windows(2).filter(|pair| pair[0] == pair[1]).count();
    job.check()?;

    let thin = job.each(joined.triangles.len(), |t| is_thin(&joined, t))?.into_iter().filter(|thin| *thin).count();
    let (component, components) = adjacency.connected_components();
    let (size, step) = extent(&joined);
    job.check()?;
    let non_manifold_vertices = non_manifold_vertices(&joined, &adjacency, job)?.len();
    let largest_component = largest_share(&joined, &component, components);
    job.check()?;
    Ok(Survey {
        triangles: mesh.triangles.len(),
        open_edges: adjacency.open_edges,
        non_manifold_edges: adjacency.non_manifold_edges,
        flipped_edges: adjacency.flipped_edges,
        one_sided: adjacency.flipped_edges > 0 && is_one_sided(&joined, &adjacency, job)?,
        components,
        largest_component,
        degenerate: collapsed + thin,
        duplicates,
        non_manifold_vertices,
        size,
        step,
    })
}

impl Survey {
    /// One sentence for each thing that a fitter should know.
    #[must_use]
    pub fn warnings(&self) -> Vec<String> {
        let mut all = Vec::new();
        let mut say = |when: bool, sentence: String| {
            if when {
                all.push(sentence);
            }
        };
        let longest = self.size.iter().fold(0.0_f32, |a, b| a.max(*b));
        let [x, y, z] = self.size;
        say(
            !(SMALLEST..=LARGEST).contains(&longest),
            format!(
                "{} × {} × {} is not the size of a limb in millimetres, centimetres, metres or inches",
                short(x),
                short(y),
                short(z)
            ),
        );
        say(
            longest > 0.0 && self.step > 1e-4 * longest,
            format!(
                "it lies so far from the origin that details below {} are lost; move it there and export again",
                short(self.step)
            ),
        );
        say(self.open_edges > 0, format!("the surface is open along {} edge(s)", self.open_edges));
        say(
            self.non_manifold_edges > 0,
            format!("more than two triangles meet at {} edge(s)", self.non_manifold_edges),
        );
        say(
            self.flipped_edges > 0 && !self.one_sided,
            format!("triangles face opposite ways across {} edge(s)", self.flipped_edges),
        );
        say(
            self.one_sided,
            "the surface has one side only, like a Möbius strip; inside and outside cannot be told".into(),
        );
        say(
            self.components > 1 && self.largest_component < 0.499,
            format!(
                "it falls into {} pieces, and none of them is half of it ({:.0} % at most)",
                self.components,
                100.0 * self.largest_component
            ),
        );
        say(self.degenerate > 0, format!("{} triangle(s) have no area", self.degenerate));
        say(self.duplicates > 0, format!("{} triangle(s) are duplicates", self.duplicates));
        say(
            self.non_manifold_vertices > 0,
            format!("parts of the surface touch in a single point at {} place(s)", self.non_manifold_vertices),
        );
        all
    }
}

/// A length in a unit that is not known: three figures where it is small, one decimal otherwise.
fn short(length: f32) -> String {
    match length {
        0.0 => "0".into(),
        l if !(1e-3..1e7).contains(&l) => format!("{l:.1e}"),
        l if l < 1.0 => format!("{l:.3}"),
        l => format!("{}", (10.0 * f64::from(l)).round() / 10.0),
    }
}

fn is_thin(mesh: &Mesh, t: usize) -> bool {
    let [a, b, c] = mesh.corners(t).map(|p| p.cast::<f64>());
    let longest = (b - a).norm_squared().max((c - b).norm_squared()).max((a - c).norm_squared());
    mesh.cross(t).norm() <= THINNEST * longest
}

fn extent(mesh: &Mesh) -> ([f32; 3], f32) {
    let mut used = mesh.triangles.iter().flatten().map(|v| mesh.points[*v as usize]);
    let Some(first) = used.next() else { return ([0.0; 3], 0.0) };
    let (low, high) = used.fold((first, first), |(low, high), p: Point3<f32>| (low.inf(&p), high.sup(&p)));
    let farthest = low.coords.amax().max(high.coords.amax());
    let step = if farthest < f32::MAX { farthest.next_up() - farthest } else { farthest - farthest.next_down() };
    ((high - low).into(), step)
}

fn largest_share(mesh: &Mesh, component: &[u32], components: usize) -> f64 {
    let mut areas = vec![0.0; components];
    for (t, p) in component.iter().enumerate() {
        areas[*p as usize] += mesh.cross(t).norm();
    }
    let whole: f64 = areas.iter().sum();
    if whole > 0.0 { areas.into_iter().fold(0.0, f64::max) / whole } else { 0.0 }
}

/// Flips triangles, component by component, so that neighbours agree; true where one would have to face both ways.
fn is_one_sided(mesh: &Mesh, adjacency: &Adjacency, job: &Job) -> Result<bool, Cancelled> {
    let mut every = Every::new(job, 1 << 15);
    let mut turned: Vec<Option<bool>> = vec![None; mesh.triangles.len()];
    let mut stack = Vec::new();
    for start in 0..turned.len() {
        if turned[start].is_some() {
            continue;
        }
        turned[start] = Some(false);
        stack.push((start, false));
        while let Some((t, turn)) = stack.pop() {
            every.tick()?;
            for (k, n) in adjacency.neighbours[t].iter().enumerate().filter(|(_, n)| **n != NONE) {
                let (a, b) = (mesh.triangles[t][k], mesh.triangles[t][(k + 1) % 3]);
                let other = mesh.triangles[*n as usize];
                let same_way = (0..3).any(|l| other[l] == a && other[(l + 1) % 3] == b);
                let needed = turn ^ same_way;
                match turned[*n as usize] {
                    None => {
                        turned[*n as usize] = Some(needed);
                        stack.push((*n as usize, needed));
                    }
                    // Two triangles on the same three points share several edges and prove nothing.
                    Some(found) if found != needed && !same_corners(&mesh.triangles[t], &other) => return Ok(true),
                    Some(_) => {}
                }
            }
        }
    }
    Ok(false)
}

fn same_corners(one: &[u32; 3], other: &[u32; 3]) -> bool {
    one.iter().all(|v| other.contains(v))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn survey(mesh: &Mesh) -> Survey {
        super::survey(mesh, &Job::silent()).unwrap()
    }

    fn mesh(points: &[[f32; 3]], triangles: &[[u32; 3]]) -> Mesh {
        Mesh::new(points.iter().map(|p| Point3::from(*p)).collect(), triangles.to_vec())
    }

    fn tetrahedron() -> Mesh {
        test_shapes::tetrahedron(50.0).build()
    }

    #[test]
    fn a_closed_body_has_nothing_to_say() {
        let found = survey(&tetrahedron());
        assert_eq!(found.warnings(), Vec::<String>::new());
        assert_eq!((found.components, found.size), (1, [50.0; 3]));
    }

    #[test]
    fn a_strip_with_a_half_turn_is_one_sided_and_one_without_is_not() {
        // Seven squares round a ring; with a half turn the last is joined to the first crosswise.
        let ring = |half_turn: bool| {
            let points: Vec<[f32; 3]> = (0..14)
                .map(|i| {
                    let angle = (i / 2) as f32 * std::f32::consts::TAU / 7.0;
                    [angle.cos() * 40.0, angle.sin() * 40.0, (i % 2) as f32 * 10.0]
                })
                .collect();
            let triangles: Vec<[u32; 3]> = (0..7)
                .flat_map(|i| {
                    let (a, b) = (2 * i, 2 * i + 1);
                    let (c, d) = if i < 6 {
                        (a + 2, b + 2)
                    } else if half_turn {
                        (1, 0)
                    } else {
                        (0, 1)
                    };
                    [[a, c, d], [a, d, b]]
                })
                .collect();
            survey(&mesh(&points, &triangles))
        };
        assert!(ring(true).one_sided);
        assert!(!ring(false).one_sided);
        assert_eq!(ring(false).flipped_edges, 0);
    }

    #[test]
    fn double_thin_touching_and_flipped_triangles_are_counted() {
        let mut body = tetrahedron();
        body.triangles.push([2, 1, 0]);
        assert_eq!((survey(&body).duplicates, survey(&body).non_manifold_edges), (1, 3));

        let mut body = tetrahedron();
        body.triangles[1].swap(0, 1);
        assert_eq!((survey(&body).flipped_edges, survey(&body).one_sided), (3, false));

        // A second body that touches the first in its first corner only, written with a point of its own.
        let mut body = tetrahedron();
        let other: Vec<Point3<f32>> = body.points.iter().map(|p| Point3::from(-p.coords)).collect();
        body.points.extend(other);
        body.triangles.extend([[4, 5, 6], [4, 7, 5], [5, 7, 6], [4, 6, 7]]);
        let found = survey(&body);
        assert_eq!((found.non_manifold_vertices, found.components, found.open_edges), (1, 2, 0));

        let line = mesh(&[[0., 0., 0.], [1., 1., 1.], [2., 2., 2.], [2., 2., 2.]], &[[0, 1, 2], [0, 2, 3]]);
        assert_eq!(survey(&line).degenerate, 2);
    }

    #[test]
    fn lengths_are_said_short() {
        let said = [0.0, 50.0, 16.642_496, 0.262_658_6, 1e22, 4e-5].map(short);
        assert_eq!(said, ["0", "50", "16.6", "0.263", "1.0e22", "4.0e-5"]);
    }

    #[test]
    fn sizes_that_fit_no_unit_and_places_far_out_are_said() {
        let scaled = |by: f32, to: f32| {
            let mut body = tetrahedron();
            body.points.iter_mut().for_each(|p| *p = *p * by + nalgebra::Vector3::repeat(to));
            survey(&body).warnings()
        };
        assert!(scaled(100.0, 0.0)[0].contains("is not the size of a limb"));
        assert!(scaled(0.0001, 0.0)[0].contains("is not the size of a limb"));
        assert!(scaled(1.0, 2e6)[0].contains("far from the origin"));
        assert!(scaled(0.001, 0.0).is_empty());
    }
}
