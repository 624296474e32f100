//! Dashes painted on a cylinder and on a demo limb along the skin's intersection with a sphere: a point of the skin is
//! f / |∇f| away from that curve, where f is its distance from the middle of the sphere less the radius, and ∇f lies in
//! the skin.

use std::f32::consts::TAU;

use mesh::{Job, Mesh, Surface};
use nalgebra::{Point3, Vector3};
use scan::pen::{PenFinding, PenLine, PenSettings, find};

use crate::measure::apart;
use crate::skin::{random, uniform};

const TONE: [f32; 3] = [210.0, 158.0, 124.0];
const INK: [f32; 3] = [30.0, 34.0, 66.0];

/// Mean and greatest distance allowed between the found line and the curve that was painted, mm.
const MEAN_MM: f32 = 0.25;
const MOST_MM: f32 = 1.0;

/// A closed polyline cut into even dashes of about `on` mm from tip to tip with about `off` mm between two.
fn dashes(curve: &[Point3<f32>], on: f32, off: f32, width: f32) -> Vec<Vec<Point3<f32>>> {
    let closed: Vec<Point3<f32>> = curve.iter().chain(&curve[..1]).copied().collect();
    let mut along = vec![0.0];
    for pair in closed.windows(2) {
        along.push(along[along.len() - 1] + (pair[1] - pair[0]).norm());
    }
    let whole = along[along.len() - 1];
    let at = |s: f32| {
        let k = along.partition_point(|x| *x <= s).clamp(1, along.len() - 1);
        closed[k - 1] + (closed[k] - closed[k - 1]) * ((s - along[k - 1]) / (along[k] - along[k - 1]))
    };
    let count = (whole / (on + off)).round();
    let dash = |k: usize| {
        let start = whole * k as f32 / count;
        (0..=8).map(|i| at((start + (on - width) * i as f32 / 8.0).min(whole))).collect()
    };
    (0..count as usize).map(dash).collect()
}

/// Paints round strokes on a skin that has its colours, with edges soft over 0.7 mm.
fn paint(mesh: &mut Mesh, strokes: &[Vec<Point3<f32>>], width: f32) {
    let points = mesh.points.clone();
    for (p, colour) in points.iter().zip(mesh.colours.as_mut().unwrap()) {
        let far = |stroke: &Vec<Point3<f32>>| {
            let to = |pair: &[Point3<f32>]| {
                let d = pair[1] - pair[0];
                let f = ((p - pair[0]).dot(&d) / d.norm_squared().max(1e-9)).clamp(0.0, 1.0);
                (p - (pair[0] + d * f)).norm()
            };
            stroke.windows(2).map(to).fold(f32::INFINITY, f32::min)
        };
        let near = strokes.iter().filter(|stroke| (stroke[0] - p).norm() < 20.0).map(far).fold(f32::INFINITY, f32::min);
        let cover = 0.93 * ((0.5 * width + 0.35 - near) / 0.7).clamp(0.0, 1.0);
        *colour = std::array::from_fn(|k| (f32::from(colour[k]) + (INK[k] - f32::from(colour[k])) * cover) as u8);
    }
}

fn line_on(name: &str, mesh: Mesh) -> (PenLine, Surface) {
    let skin = Surface::new(mesh);
    match find(&skin, &PenSettings::default(), &Job::silent()).unwrap() {
        PenFinding::Closed(line) => (line, skin),
        PenFinding::Open { why, .. } => panic!("{name}: {why}"),
        PenFinding::None { why } => panic!("{name}: {why}"),
    }
}

/// A cylinder of radius R about z and a sphere of radius ρ about (R, 0, 0): z² = ρ² − 2 R² (1 − cos θ).
#[test]
fn dashes_on_a_cylinder_where_it_meets_a_sphere() {
    let (radius, ball): (f32, f32) = (45.0, 38.0);
    let most = (1.0 - ball * ball / (2.0 * radius * radius)).acos();
    let curve: Vec<Point3<f32>> = (0..2000)
        .map(|i| {
            // The square root is steep at both ends, so the points lie closer there.
            let t = TAU * i as f32 / 2000.0;
            let turn = most * t.cos();
            let z = (ball * ball - 2.0 * radius * radius * (1.0 - turn.cos())).max(0.0).sqrt() * t.sin().signum();
            Point3::new(radius * turn.cos(), radius * turn.sin(), z)
        })
        .collect();
    for (k, (on, off, width)) in
        [(8.0, 6.0, 2.0), (8.0, 6.0, 3.0), (5.0, 5.0, 2.5), (5.0, 5.0, 4.0), (10.0, 8.0, 3.0)].into_iter().enumerate()
    {
        let mut rng = random(300 + k as u64);
        let mut mesh: Mesh = test_shapes::even_tube(f64::from(radius), 160.0, 1.0).noisy(0.1, 300 + k as u64).build();
        let grain = |rng: &mut _| TONE.map(|c| (c * (1.0 + 0.06 * (uniform(rng) - 0.5))) as u8);
        mesh.colours = Some(mesh.points.iter().map(|_| grain(&mut rng)).collect());
        let strokes = dashes(&curve, on, off, width);
        paint(&mut mesh, &strokes, width);
        let name = format!("cylinder, {on} on, {off} off, {width} wide");
        let (line, _) = line_on(&name, mesh);
        let (mean, most) = apart(&line.centre, &curve);
        eprintln!("{name}: mean {mean:.3} mm, most {most:.2} mm. {}", line.sentence);
        assert!(mean < MEAN_MM && most < MOST_MM, "{name}: mean {mean}, most {most}");
        assert_eq!(line.dashes, strokes.len());
        assert!((line.width_mm - width).abs() < 0.5, "{name}: {}", line.width_mm);
        assert!(line.gaps_bridged.is_empty() && line.rings.is_empty() && line.others.is_empty());
    }
}

/// Where the skin crosses a sphere, one point on each edge of a triangle, in turn about the middle of the sphere.
fn crossing(mesh: &Mesh, middle: &Point3<f32>, ball: f32) -> Vec<Point3<f32>> {
    let out = |p: &Point3<f32>| (p - middle).norm() - ball;
    let mut found = Vec::new();
    for corners in &mesh.triangles {
        for k in 0..3 {
            let (a, b) = (mesh.points[corners[k] as usize], mesh.points[corners[(k + 1) % 3] as usize]);
            let (x, y) = (out(&a), out(&b));
            if x < 0.0 && y >= 0.0 {
                found.push(a + (b - a) * (x / (x - y)));
            }
        }
    }
    let axis = found.iter().map(|p| p - middle).sum::<Vector3<f32>>();
    let first = axis.cross(&Vector3::x()).normalize();
    let second = axis.normalize().cross(&first);
    let turn = |p: &Point3<f32>| (p - middle).dot(&second).atan2((p - middle).dot(&first));
    found.sort_by(|p, q| turn(p).total_cmp(&turn(q)));
    found
}

#[test]
fn dashes_on_a_demo_limb_where_it_meets_a_sphere() {
    let mut bare = demo_limbs::catalogue().into_iter().find(|limb| limb.file == "forearm-07.ply").unwrap();
    (bare.ink, bare.step_mm, bare.noise_mm, bare.bits) = (demo_limbs::Ink::None, 1.0, 0.1, 0);
    let made = demo_limbs::make(&bare);
    let scan = mesh::read::read_bytes(&made.files[0].1, "forearm", &|_| None, &Job::silent()).unwrap().mesh;
    let whole = Surface::new(scan);
    let centroid = Point3::from(
        whole.mesh().points.iter().map(|p| p.coords).sum::<Vector3<f32>>() / whole.mesh().points.len() as f32,
    );
    let middle = whole.nearest(&centroid, None).unwrap().point;
    let ball = 34.0;
    let curve = crossing(whole.mesh(), &middle, ball);
    for (on, off, width) in [(8.0, 6.0, 3.0), (8.0, 6.0, 2.0), (5.0, 5.0, 3.0), (10.0, 8.0, 4.0)] {
        let mut mesh = whole.mesh().clone();
        let strokes = dashes(&curve, on, off, width);
        paint(&mut mesh, &strokes, width);
        let name = format!("forearm, {on} on, {off} off, {width} wide");
        let (line, skin) = line_on(&name, mesh);
        let away = |p: &Point3<f32>| {
            let hit = skin.nearest(p, None).unwrap();
            let [a, b, c] = skin.mesh().triangles[hit.triangle as usize].map(|v| skin.vertex_normals()[v as usize]);
            let normal = (a + b + c).normalize();
            let out = (p - middle).normalize();
            ((p - middle).norm() - ball).abs() / (out - normal * out.dot(&normal)).norm()
        };
        let all: Vec<f32> = line.centre.iter().map(away).collect();
        let (mean, most) = (all.iter().sum::<f32>() / all.len() as f32, all.iter().copied().fold(0.0, f32::max));
        eprintln!("{name}: mean {mean:.3} mm, most {most:.2} mm. {}", line.sentence);
        assert!(mean < MEAN_MM && most < MOST_MM, "{name}: mean {mean}, most {most}");
        // It goes once all the way round: no part of the curve is left out.
        assert!(apart(&line.centre, &curve).1 < 1.5 * MOST_MM);
        assert!(line.dashes.abs_diff(strokes.len()) <= 1, "{} of {}", line.dashes, strokes.len());
        assert!(line.rings.is_empty());
    }
}
