//! A ring drawn inside the pen line becomes a relief; tested on a cylinder, where a circle of the unrolled skin has the
//! area π r² and its middle lies r away from its edge.
#![allow(clippy::unwrap_used)]

use std::f32::consts::PI;

use engine::{pen_rings, pen_source};
use mesh::{Job, Mesh, Surface};
use nalgebra::{Isometry3, Point2, Point3};
use scan::Placement;
use scan::pen::{PenFinding, PenSettings, find};
use zone::{RegionKind, ZoneSettings};

const RADIUS: f32 = 45.0;
const SKIN: [f32; 3] = [210.0, 158.0, 124.0];
const INK: [f32; 3] = [30.0, 32.0, 60.0];

/// A circle of ink on the unrolled cylinder: middle (round, along), radius, and the part of it that is drawn, from one
/// share of a turn to another.
struct Circle {
    middle: Point2<f32>,
    radius: f32,
    drawn: [f32; 2],
}

/// A cylinder of 1 mm triangles with circles of ink 3 mm wide.
fn drawn(circles: &[Circle]) -> Surface {
    let mut mesh: Mesh = test_shapes::even_tube(f64::from(RADIUS), 160.0, 1.0).build();
    let colour = |(i, p): (usize, &Point3<f32>)| {
        let at = Point2::new(RADIUS * p.y.atan2(p.x), p.z);
        let cover = circles.iter().map(|circle| {
            let d = at - circle.middle;
            let turn = d.y.atan2(d.x) / (2.0 * PI) + 0.5;
            let far = (d.norm() - circle.radius).abs();
            if (circle.drawn[0]..=circle.drawn[1]).contains(&turn) { (1.85 - far).clamp(0.0, 1.0) } else { 0.0 }
        });
        let cover = 0.93 * cover.fold(0.0, f32::max);
        // Skin is never of one even colour.
        let grain = 1.0 + 0.02 * ((i * 7919 % 101) as f32 / 50.0 - 1.0);
        std::array::from_fn(|k| ((SKIN[k] + (INK[k] - SKIN[k]) * cover) * grain) as u8)
    };
    mesh.colours = Some(mesh.points.iter().enumerate().map(colour).collect());
    Surface::new(mesh)
}

fn circle(round: f32, along: f32, radius: f32) -> Circle {
    Circle { middle: Point2::new(round, along), radius, drawn: [0.0, 1.0] }
}

fn found(skin: &Surface) -> PenFinding {
    find(skin, &PenSettings::default(), &Job::silent()).unwrap()
}

#[test]
fn rings_become_reliefs_of_their_own_size_and_place() {
    let rings = [circle(0.0, 18.0, 14.0), circle(-8.0, -20.0, 9.0)];
    let skin = drawn(&[circle(0.0, 0.0, 48.0), circle(0.0, 18.0, 14.0), circle(-8.0, -20.0, 9.0)]);
    let finding = found(&skin);
    let reliefs = pen_rings(&finding, false);
    assert_eq!(reliefs.len(), 2, "{finding:?}");
    let (source, _) =
        pen_source(finding, false, &Placement { unit_mm: 1.0, pose: Isometry3::identity(), mirrored: false }).unwrap();
    let settings = ZoneSettings { sources: vec![source], regions: reliefs, ..ZoneSettings::default() };
    settings.check().unwrap();
    let zone = zone::make(&skin, &settings, &Job::silent()).unwrap();
    let RegionKind::Relief { depth_mm, falloff_mm } = RegionKind::RELIEF else { panic!("not a relief") };
    for (relief, ring) in zone.reliefs.iter().zip(rings) {
        assert_eq!((relief.height_mm, relief.falloff_mm), (depth_mm, falloff_mm));
        for (v, p) in skin.mesh().points.iter().enumerate() {
            let at = Point2::new(RADIUS * p.y.atan2(p.x), p.z);
            let inside = ring.radius - (at - ring.middle).norm();
            // Within 10 mm of the ring, where the shell is changed.
            if inside > -10.0 {
                let told = relief.region.distance_mm[v];
                assert!((told - inside).abs() < 0.6, "{told} mm from the edge, not {inside}");
            }
        }
    }
}

#[test]
fn rings_of_an_open_line_come_with_its_proposal_only() {
    let main = Circle { middle: Point2::new(0.0, 0.0), radius: 44.0, drawn: [0.05, 1.0] };
    let skin = drawn(&[main, circle(4.0, 6.0, 12.0)]);
    let finding = found(&skin);
    assert!(matches!(&finding, PenFinding::Open { proposal: Some(_), .. }), "a gap of 14 mm taken for closed");
    assert!(pen_rings(&finding, false).is_empty());
    assert_eq!(pen_rings(&finding, true).len(), 1);
}

#[test]
fn without_a_ring_there_is_no_relief() {
    assert!(pen_rings(&found(&drawn(&[circle(0.0, 0.0, 44.0)])), true).is_empty());
    assert!(pen_rings(&found(&drawn(&[])), true).is_empty());
}
