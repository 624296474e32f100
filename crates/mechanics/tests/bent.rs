//! Guards as splints, and sprung open, against closed forms.

mod shared;

use std::sync::Arc;

use mechanics::bent::{springing, stiffness};
use mechanics::elements::Section;
use mechanics::mid_surface::{MidSurface, Slice};
use mechanics::strength::Plastic;
use mechanics::worn::Built;
use mesh::{Hit, TriangleFeature};
use nalgebra::{Point3, Vector3};
use shared::{grid, is_near};

/// A flat strip between held ends bends by M L / E I, in its plane and out of it; the ends are a node further in than the share
/// that is held.
#[test]
fn a_strip_bends_as_a_beam() {
    let (young, thickness, width, length) = (2000.0, 3.0_f64, 20.0_f64, 200.0);
    let section = Section::plain(young, 0.0, thickness, 0.0);
    let strip = grid(8, 100, section, |x, y| Point3::new(width * (x - 0.5), 0.0, length * y));
    let found = stiffness(&strip, &strip.assembled(&[]).unwrap(), &-Vector3::y()).unwrap();
    let free = length * (1.0 - 2.0 * 0.11);
    let degree = 1.0_f64.to_radians();
    is_near("bending", found.bending_n_mm_per_deg, young * width * thickness.powi(3) / 12.0 / free * degree, 0.02);
    is_near("sideways", found.sideways_n_mm_per_deg, young * thickness * width.powi(3) / 12.0 / free * degree, 0.03);
    // A thin strip's twisting rigidity is G b t³ / 3 times 0.905 at this width (Timoshenko and Goodier, "Theory of Elasticity",
    // § 109); its held ends keep it from warping, which stiffens it.
    let twisting = 0.5 * young * width * thickness.powi(3) / 3.0 * 0.905 / free * degree;
    assert!(found.twisting_n_mm_per_deg > twisting && found.twisting_n_mm_per_deg < 1.3 * twisting);
}

/// A gutter round a cylinder, its skin as far below as the middle of the wall.
fn gutter(degrees: f64, radius: f64, thickness: f64, length: f64) -> MidSurface {
    let section = Section::plain(1.0, 0.0, 1.0, 0.0);
    let half = 0.5 * degrees.to_radians();
    let shape = grid(96, 24, section, |x, y| {
        let angle = half * (2.0 * x - 1.0);
        Point3::new(radius * angle.cos(), radius * angle.sin(), length * y)
    });
    let below = |p: &Point3<f64>| {
        let share = (radius - 0.5) / radius;
        let point = Point3::new((share * p.x) as f32, (share * p.y) as f32, p.z as f32);
        Hit { point, triangle: 0, weights: [1.0, 0.0, 0.0], distance2: 0.0, feature: TriangleFeature::Face }
    };
    let slice = Slice { thickness_mm: thickness, over_mm: 0.0 };
    MidSurface {
        below: shape.points.iter().map(below).collect(),
        inner_mm: vec![0.0; shape.points.len()],
        walls: vec![[slice; 3]; shape.triangles.len()],
        points: shape.points,
        triangles: shape.triangles,
        notices: Vec::new(),
    }
}

/// The sides of an open ring that must pass the widest chord: δ = 2 R (1 − sin α), P = δ E I / (R³ k), k = α + 2 α cos² α −
/// 1.5 sin 2α, and the strain at its top t (1 − cos α) δ / (2 R² k) (Roark, "Formulas for Stress and Strain", chapter 9; worked
/// out for R 40, t 3 in the shared tables: 10.718 mm, 0.3394 % and P R² / E I 0.06034 at 240°).
#[test]
fn a_gutter_is_sprung_open_as_an_open_ring() {
    let (radius, thickness, length) = (40.0, 3.0, 100.0);
    let plastic = Plastic { young_mpa: 3000.0, poisson: 0.0 };
    for (degrees, opening, strain, force) in
        [(220.0, 4.825, 0.1821e-2, 0.03619), (240.0, 10.718, 0.3394e-2, 0.06034), (300.0, 40.0, 0.8921e-2, 0.12749)]
    {
        let found = springing(&Built::new(&Arc::new(gutter(degrees, radius, thickness, length)), plastic).unwrap())
            .unwrap()
            .unwrap();
        // The skin lies half a millimetre further in.
        is_near("opening", found.opening_mm, opening * (radius - 0.5) / radius, 0.01);
        let share = found.opening_mm / opening;
        let inertia = length * f64::powi(thickness, 3) / 12.0;
        is_near("force", found.force_n, share * force * 3000.0 * inertia / radius.powi(2), 0.02);
        is_near("strain", found.strain, share * strain, 0.02);
    }
    let open =
        springing(&Built::new(&Arc::new(gutter(150.0, radius, thickness, length)), plastic).unwrap()).unwrap().unwrap();
    assert_eq!((open.opening_mm, open.force_n), (0.0, 0.0));
}
