//! What the tests of the shell elements share: grids, loads and supports.

#![allow(dead_code)]

pub mod tube;

use mechanics::elements::{Hold, Section, Spring, Structure, System, UNKNOWNS};
use nalgebra::{Point2, Point3, Vector6};

/// A grid of `n` by `m` cells over the unit square, each cut in two, by one diagonal and the other in turn.
pub fn grid(n: usize, m: usize, section: Section, place: impl Fn(f64, f64) -> Point3<f64>) -> Structure {
    let points = (0..=m).flat_map(|j| (0..=n).map(move |i| (i as f64 / n as f64, j as f64 / m as f64)));
    let at = |i: usize, j: usize| (j * (n + 1) + i) as u32;
    let mut triangles = Vec::new();
    for (i, j) in (0..m).flat_map(|j| (0..n).map(move |i| (i, j))) {
        let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
        triangles.extend(if (i + j) % 2 == 0 { [[a, b, c], [a, c, d]] } else { [[a, b, d], [b, c, d]] });
    }
    let sections = vec![section; triangles.len()];
    Structure { points: points.map(|(x, y)| place(x, y)).collect(), triangles, sections }
}

/// A plane region between outlines.
pub fn region(outlines: &[Vec<Point2<f64>>], side_mm: f64, section: Section) -> Structure {
    let mesh = mechanics::plane_mesh::plane_mesh(outlines, side_mm, 100_000).expect("it can be made");
    let sections = vec![section; mesh.triangles.len()];
    let points = mesh.points.iter().map(|p| Point3::new(p.x, p.y, 0.0)).collect();
    Structure { points, triangles: mesh.triangles, sections }
}

/// Points along an arc about a centre, angles in quarters of a turn.
pub fn arc(centre: [f64; 2], radius: f64, quarters: [f64; 2], sides: usize) -> Vec<Point2<f64>> {
    (0..=sides)
        .map(|i| {
            let share = i as f64 / sides as f64;
            let angle = (quarters[0] + (quarters[1] - quarters[0]) * share) * std::f64::consts::FRAC_PI_2;
            Point2::new(centre[0] + radius * angle.cos(), centre[1] + radius * angle.sin())
        })
        .collect()
}

/// No load.
pub fn unloaded(structure: &Structure) -> Vec<Vector6<f64>> {
    vec![Vector6::zeros(); structure.points.len()]
}

/// A force per area, shared out to the corners of each triangle.
pub fn spread(structure: &Structure, per_area: [f64; 3]) -> Vec<Vector6<f64>> {
    let mut loads = unloaded(structure);
    for t in 0..structure.triangles.len() {
        let [a, b, c] = structure.corners(t);
        let third = (b - a).cross(&(c - a)).norm() / 6.0;
        for v in structure.triangles[t] {
            (0..3).for_each(|k| loads[v as usize][k] += third * per_area[k]);
        }
    }
    loads
}

/// A force shared out over the nodes on a straight edge, those at its ends getting half.
pub fn on_edge(structure: &Structure, total: Vector6<f64>, is_on: impl Fn(&Point3<f64>) -> bool) -> Vec<Vector6<f64>> {
    let mut loads = unloaded(structure);
    let mut on: Vec<usize> = (0..structure.points.len()).filter(|v| is_on(&structure.points[*v])).collect();
    let far = on.iter().map(|v| structure.points[*v]).fold(structure.points[on[0]], |far, p| {
        let from = structure.points[on[0]];
        if (p - from).norm() > (far - from).norm() { p } else { far }
    });
    on.sort_by(|a, b| (structure.points[*a] - far).norm().total_cmp(&(structure.points[*b] - far).norm()));
    let length = (structure.points[on[0]] - structure.points[on[on.len() - 1]]).norm();
    for pair in on.windows(2) {
        let share = (structure.points[pair[0]] - structure.points[pair[1]]).norm() / length / 2.0;
        pair.iter().for_each(|v| loads[*v] += total * share);
    }
    loads
}

/// What is held, by place.
pub fn holds(structure: &Structure, held: impl Fn(&Point3<f64>) -> [bool; UNKNOWNS]) -> Vec<[Hold; UNKNOWNS]> {
    structure.points.iter().map(|p| held(p).map(|held| if held { Hold::Held } else { Hold::Free })).collect()
}

/// The structure held so, without springs.
pub fn factored(structure: &Structure, holds: &[[Hold; UNKNOWNS]]) -> System {
    on_springs(structure, holds, &[])
}

/// The structure held so and on springs.
pub fn on_springs(structure: &Structure, holds: &[[Hold; UNKNOWNS]], springs: &[Spring]) -> System {
    structure.assembled(holds).expect("an assembly").with(springs).expect("held")
}

/// The node nearest to a place.
pub fn nearest(structure: &Structure, x: f64, y: f64, z: f64) -> usize {
    let by = |v: &usize| (structure.points[*v] - Point3::new(x, y, z)).norm();
    (0..structure.points.len()).min_by(|a, b| by(a).total_cmp(&by(b))).expect("it can be made")
}

/// Makes the unknown `k` of all nodes for which `is_on` holds follow that of the first of them; gives that one.
pub fn tie(
    structure: &Structure,
    holds: &mut [[Hold; UNKNOWNS]],
    k: usize,
    is_on: impl Fn(&Point3<f64>) -> bool,
) -> usize {
    let mut on = (0..structure.points.len()).filter(|v| is_on(&structure.points[*v]));
    let first = on.next().expect("it can be made");
    on.for_each(|v| holds[v][k] = Hold::With(first as u32));
    first
}

/// That a figure is within a share of its target; how near it is, is printed.
#[allow(clippy::print_stdout)]
pub fn is_near(name: &str, found: f64, target: f64, share: f64) {
    println!("{name}: {found:.6e} for {target:.6e}, {:+.3} %", 100.0 * (found / target - 1.0));
    assert!((found / target - 1.0).abs() <= share, "{name}: {found} for {target}");
}
