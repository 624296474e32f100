//! A guard's zone on a tube as thick as a forearm.

use mesh::{Job, Surface};
use nalgebra::Point3;
use zone::{Source, Zone, ZoneSettings};

/// Radius of the tube, mm.
pub const RADIUS: f32 = 40.0;

/// A rectangle on a tube, so wide to either side on the skin and so high, mm; `spacing_mm` is that of the skin's points.
pub fn on_a_tube(half: f32, height: f32, spacing_mm: f64) -> (Surface, Zone) {
    let skin: Surface = test_shapes::even_tube(f64::from(RADIUS), 180.0, spacing_mm).build();
    let corners = [[-half, -0.5 * height], [half, -0.5 * height], [half, 0.5 * height], [-half, 0.5 * height]];
    let place = |[x, z]: [f32; 2]| Point3::new(RADIUS * (x / RADIUS).cos(), RADIUS * (x / RADIUS).sin(), z);
    let sources = vec![Source::Outline {
        corners_mm: corners.map(place).to_vec(),
        inside_mm: Some(Point3::new(RADIUS, 0.0, 0.0)),
    }];
    let settings = ZoneSettings { sources, tolerance_mm: 0.0, ..ZoneSettings::default() };
    let zone = zone::make(&skin, &settings, &Job::silent()).expect("it can be made");
    (skin, zone)
}
