//! Cuts through shapes with closed forms.

use fit::{FitError, Section, section};
use mesh::Mesh;
use nalgebra::{Point3, Vector3};
use proptest::prelude::*;
use test_shapes::{cuboid, torus, tube};

const PI: f64 = std::f64::consts::PI;

fn cut(mesh: &Mesh, point: [f32; 3], normal: [f32; 3]) -> Section {
    section(mesh, &Point3::from(point), &Vector3::from(normal)).expect("the mesh and plane are sound")
}

/// Signed area of a drawn line, positive where it runs counter-clockwise.
fn area(line: &[[f32; 2]]) -> f64 {
    let ends = line.iter().zip(line.iter().cycle().skip(1));
    0.5 * ends.map(|(a, b)| f64::from(a[0]) * f64::from(b[1]) - f64::from(b[0]) * f64::from(a[1])).sum::<f64>()
}

#[test]
fn across_a_torus_there_are_two_circles_and_along_it_two_rings() {
    let mesh: Mesh = torus(50.0, 10.0, 720, 360).build();
    // Both planes go exactly through points of the mesh.
    for normal in [[1.0, 0.0, 0.0], [0.0, 3.0, 0.0]] {
        let found = cut(&mesh, [0.0; 3], normal);
        assert_eq!(found.lines.len(), 2);
        for (line, drawn) in found.lines.iter().zip(found.in_plane(&Vector3::z())) {
            assert!(line.closed);
            assert!((line.length_mm() / (20.0 * PI) - 1.0).abs() < 1e-3, "{}", line.length_mm());
            assert!((area(&drawn) / (100.0 * PI) - 1.0).abs() < 1e-3, "solid on the left: {}", area(&drawn));
        }
    }
    let along = cut(&mesh, [0.0; 3], [0.0, 0.0, 1.0]);
    let mut areas: Vec<f64> = along.in_plane(&Vector3::y()).iter().map(|l| area(l)).collect();
    areas.sort_by(f64::total_cmp);
    assert_eq!(areas.len(), 2);
    assert!((areas[0] / (-1600.0 * PI) - 1.0).abs() < 1e-3, "the hole runs the other way: {areas:?}");
    assert!((areas[1] / (3600.0 * PI) - 1.0).abs() < 1e-3);
    assert!(along.lines.iter().all(|l| l.closed));
}

/// x² + y² = (R ± √(r² − z²))² between: at height z the rings' areas differ by 4πR√(r² − z²).
#[test]
fn at_any_height_the_torus_has_the_area_of_its_equation() {
    let mesh: Mesh = torus(50.0, 10.0, 720, 360).build();
    for z in [-9.0_f32, -3.3, 1.7, 8.0] {
        let total: f64 =
            cut(&mesh, [0.0, 0.0, z], [0.0, 0.0, 1.0]).in_plane(&Vector3::x()).iter().map(|l| area(l)).sum();
        let exact = 4.0 * PI * 50.0 * (100.0 - f64::from(z * z)).sqrt();
        assert!((total / exact - 1.0).abs() < 1e-3, "{total} for {exact}");
    }
}

#[test]
fn a_cut_that_meets_a_border_is_open_and_drawn_to_scale() {
    let mesh: Mesh = tube(30.0, [0.0, 100.0], 360, 51).build();
    let along = cut(&mesh, [5.0, 0.0, 50.0], [0.0, 1.0, 0.0]);
    assert_eq!(along.lines.len(), 2);
    assert!(along.lines.iter().all(|l| !l.closed && (l.length_mm() - 100.0).abs() < 1e-3));
    // y out along x: the two sides stand 25 mm out and 35 mm in from the point.
    let drawn = along.in_plane(&Vector3::new(1.0, 0.7, 0.0));
    let mut heights: Vec<f32> = drawn.iter().map(|l| l[0][1]).collect();
    heights.sort_by(f32::total_cmp);
    assert!((heights[0] + 35.0).abs() < 1e-3 && (heights[1] - 25.0).abs() < 1e-3, "{heights:?}");
    for line in &drawn {
        let xs = line.iter().map(|p| p[0]);
        assert!((xs.clone().fold(f32::MIN, f32::max) - 50.0).abs() < 1e-3);
        assert!((xs.fold(f32::MAX, f32::min) + 50.0).abs() < 1e-3);
    }
    let round = cut(&mesh, [0.0, 0.0, 51.0], [0.0, 0.0, -2.0]);
    assert_eq!(round.lines.len(), 1);
    assert!(round.lines[0].closed && (round.lines[0].length_mm() / (60.0 * PI) - 1.0).abs() < 1e-4);
}

#[test]
fn planes_on_faces_and_tips_give_whole_lines_or_none() {
    let cube: Mesh = cuboid([1.0; 3]).build();
    // On the top face (all else below): the face's outline. On the bottom face: nothing is below.
    let top = cut(&cube, [0.0, 0.0, 1.0], [0.0, 0.0, 1.0]);
    assert_eq!((top.lines.len(), top.lines[0].closed, top.lines[0].length_mm()), (1, true, 4.0));
    assert!(cut(&cube, [0.0; 3], [0.0, 0.0, 1.0]).lines.is_empty());
    // Through two edges and their four corners: a rectangle of 1 by √2.
    let across = cut(&cube, [0.0; 3], [1.0, -1.0, 0.0]);
    assert_eq!(across.lines.len(), 1);
    assert!((across.lines[0].length_mm() - 2.0 - 2.0 * 2f64.sqrt()).abs() < 1e-6);
    // One corner from below, from above, and past everything.
    for (normal, at) in [([1.0, 1.0, 1.0], 1.0), ([-1.0, -1.0, -1.0], 1.0), ([1.0, 1.0, 1.0], 2.0)] {
        assert!(cut(&cube, [at; 3], normal).lines.is_empty());
    }
    assert!(cut(&Mesh::default(), [0.0; 3], [0.0, 0.0, 1.0]).lines.is_empty());
}

#[test]
fn turned_triangles_and_non_manifold_edges_still_give_lines() {
    let mut mesh: Mesh = tube(30.0, [0.0, 100.0], 36, 11).build();
    for t in (0..mesh.triangles.len()).step_by(7) {
        mesh.triangles[t].swap(0, 1);
    }
    let found = cut(&mesh, [0.0, 0.0, 43.0], [0.0, 0.0, 1.0]);
    assert_eq!((found.lines.len(), found.lines[0].closed), (1, true));
    // Each triangle twice: the same total length twice over.
    let twice = Mesh::new(mesh.points.clone(), [mesh.triangles.clone(), mesh.triangles].concat());
    let length = |s: &Section| s.lines.iter().map(fit::SectionLine::length_mm).sum::<f64>();
    let both = cut(&twice, [0.0, 0.0, 43.0], [0.0, 0.0, 1.0]);
    assert!((length(&both) - 2.0 * length(&found)).abs() < 12.0, "{} {}", length(&both), length(&found));
}

#[test]
fn planes_and_meshes_that_are_none_are_refused() {
    let mut mesh: Mesh = torus(50.0, 10.0, 12, 6).build();
    let origin = Point3::origin();
    for normal in [Vector3::zeros(), Vector3::new(f32::NAN, 0.0, 1.0)] {
        assert_eq!(section(&mesh, &origin, &normal), Err(FitError::NoPlane));
    }
    mesh.triangles[3][0] = 72;
    let refused = section(&mesh, &origin, &Vector3::x());
    assert_eq!(refused, Err(FitError::NoSuchPoint { triangle: 3, point: 72, points: 72 }));
}

proptest! {
    /// A closed mesh gives closed lines only, all on the plane, through its own points as elsewhere.
    #[test]
    fn closed_meshes_give_closed_lines(point in 0_usize..1200, normal in prop::array::uniform3(-1.0_f32..1.0)) {
        prop_assume!(Vector3::from(normal).norm() > 0.01);
        let mesh: Mesh = torus(50.0, 10.0, 60, 20).build();
        let through = mesh.points[point];
        let found = section(&mesh, &through, &Vector3::from(normal)).unwrap();
        for line in &found.lines {
            prop_assert!(line.closed);
            for p in &line.points {
                prop_assert!((p - through).dot(&found.normal).abs() < 2e-4);
            }
        }
    }
}
