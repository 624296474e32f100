//! Every long step stops when its job is cancelled, and goes through when it is not.

use mesh::geodesic::{SurfaceLine, WeightedPoint, distance_from_points, distance_to_lines, path};
use mesh::read::survey;
use mesh::sound::{SoundLimits, sound};
use mesh::{Adjacency, Bvh, FloodRange, Job, Mesh, Surface, flood, read, repair, simplify, solid, write};
use nalgebra::Point3;

/// A ball of 80,000 triangles with a hole of some 300 edges and a far smaller one.
fn ball() -> Mesh {
    let mut mesh: Mesh = test_shapes::icosphere(40.0, 6).noisy(0.05, 3).build();
    let holes = [(Point3::new(0.0, 0.0, 40.0), 20.0), (Point3::new(40.0, 0.0, 0.0), 3.0)];
    let kept = |v: &u32| holes.iter().all(|(p, radius)| (mesh.points[*v as usize] - p).norm() > *radius);
    mesh.triangles = mesh.triangles.iter().copied().filter(|t| t.iter().all(kept)).collect();
    repair::drop_unused_points(&mut mesh);
    mesh
}

/// A closed ball, for steps that take closed meshes only.
fn closed() -> Mesh {
    test_shapes::icosphere(40.0, 5).build()
}

#[test]
fn every_long_step_stops() {
    let (ball, closed) = (ball(), closed());
    let skin = Surface::new(ball.clone());
    let adjacency = skin.adjacency();
    let loops = adjacency.boundary_loops(&ball);
    assert_eq!(loops.len(), 2);
    let hit = |x: f32, y: f32, z: f32| skin.nearest(&Point3::new(x, y, z), None).expect("the ball has triangles");
    let (from, to) = (hit(0.0, 40.0, 0.0), hit(0.0, -40.0, 0.0));
    let corners = [Point3::new(0.0, 40.0, 0.0), Point3::new(0.0, 0.0, -40.0), Point3::new(-40.0, 0.0, 0.0)];
    let line = SurfaceLine::lay(&skin, &corners, true, &Job::silent()).expect("the corners are connected");
    let points = [WeightedPoint { at: from, start_mm: 0.0 }];
    let edges = |v: u32| adjacency.vertices_around(&ball, v).into_iter().map(|w| (w, 1.0));
    let range = FloodRange { from: &[0], reach: f32::INFINITY, goal: None };
    let mut file = Vec::new();
    write::ply(&ball, &[], &mut file).expect("memory takes all");
    let on_copy = |step: &dyn Fn(&mut Mesh) -> bool| step(&mut ball.clone());

    type Step<'a> = (&'a str, Box<dyn Fn(&Job) -> bool + 'a>);
    let steps: Vec<Step<'_>> = vec![
        ("read", Box::new(|job| read::read_bytes(&file, "ball.ply", &|_| None, job).is_ok())),
        ("survey", Box::new(|job| survey(&ball, job).is_ok())),
        ("neighbours", Box::new(|job| Adjacency::build(&ball, job).is_ok())),
        ("bounding volumes", Box::new(|job| Bvh::build(&ball, job).is_ok())),
        ("surface", Box::new(|job| Surface::build(ball.clone(), job).is_ok())),
        ("weld", Box::new(|job| on_copy(&|mesh| repair::weld(mesh, 0.01, job).is_ok()))),
        ("faces", Box::new(|job| on_copy(&|mesh| repair::drop_bad_faces(mesh, job).is_ok()))),
        ("manifold", Box::new(|job| on_copy(&|mesh| repair::make_manifold(mesh, job).is_ok()))),
        ("orient", Box::new(|job| on_copy(&|mesh| repair::orient(mesh, job).is_ok()))),
        ("plane", Box::new(|job| repair::support_plane(&ball, job).is_ok())),
        ("holes", Box::new(|job| on_copy(&|mesh| repair::fill_holes(mesh, adjacency, &loops, job).is_ok()))),
        ("smooth", Box::new(|job| on_copy(&|mesh| repair::smooth(mesh, 1.0, usize::MAX, job).is_ok()))),
        ("refine", Box::new(|job| on_copy(&|mesh| repair::refine(mesh, 0.6, job).is_ok()))),
        ("simplify", Box::new(|job| simplify::simplify(&closed, 0.02, &vec![false; closed.points.len()], job).is_ok())),
        ("solid", Box::new(|job| solid::check(&ball, job).is_ok())),
        ("sound", Box::new(|job| sound(&ball, &SoundLimits::default(), job).is_ok())),
        ("line", Box::new(|job| SurfaceLine::lay(&skin, &corners, true, job).is_ok())),
        ("path", Box::new(|job| path(&skin, &from, &to, job).is_ok())),
        ("to lines", Box::new(|job| distance_to_lines(&skin, std::slice::from_ref(&line), 90.0, job).is_ok())),
        ("from points", Box::new(|job| distance_from_points(&skin, &points, 90.0, job).is_ok())),
        ("flood", Box::new(|job| flood(ball.points.len(), range, edges, job).is_ok())),
    ];
    let cancelled = Job::silent();
    cancelled.cancel();
    for (name, step) in &steps {
        assert!(step(&Job::silent()), "{name} fails though nobody stops it");
        assert!(!step(&cancelled), "{name} does not stop");
    }
}
