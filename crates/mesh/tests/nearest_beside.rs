//! The nearest point found from triangle to triangle is the nearest of all where a surface bends little.

use mesh::Surface;
use nalgebra::Point3;
use test_shapes::{Diagonals, height_field, icosphere};

#[test]
fn over_gentle_waves_it_is_the_nearest_of_all_from_wherever_it_starts() {
    // Radii of curvature from 10 mm on; points up to 4 mm above and below. In a dish of flat facets one beside the
    // nearest but one may be met first.
    let waves = |x: f64, y: f64| 1.0 * (x / 3.2).sin() * (y / 4.0).cos();
    let skin = Surface::new(height_field(60, 60, 1.0, Diagonals::Alternate, waves).build());
    let count = skin.mesh().triangles.len() as u32;
    let mut off = Vec::new();
    for k in 0..4000_u32 {
        let [x, y, h] = [7919, 104_729, 1_299_709].map(|prime| f64::from(k.wrapping_mul(prime) % 1000) / 1000.0);
        let [x, y] = [10.0 + 40.0 * x, 10.0 + 40.0 * y];
        let p = Point3::new(x, y, waves(x, y) + 8.0 * h - 4.0).cast::<f32>();
        let all = skin.nearest(&p, None).unwrap();
        // From a triangle within a few millimetres, which a neighbour's foot is.
        let aside = p + nalgebra::Vector3::new(1.5, -1.0, 0.3);
        let from = skin.nearest(&aside, None).unwrap().triangle;
        let beside = skin.nearest_beside(&p, from);
        assert!(beside.triangle < count);
        off.push(beside.distance2.sqrt() - all.distance2.sqrt());
    }
    off.sort_by(f32::total_cmp);
    assert!(off[3900] < 1e-6 && off[3999] < 0.02, "{} {}", off[3900], off[3999]);
}

#[test]
fn it_keeps_to_the_sheet_it_starts_on() {
    let ball = icosphere(20.0, 4);
    let two = Surface::new(ball.clone().and(&ball.moved([41.0, 0.0, 0.0])).build());
    let p = Point3::new(20.6, 0.0, 0.0);
    let from = two.nearest(&Point3::new(19.0, 3.0, 0.0), None).unwrap().triangle;
    assert!((two.nearest_beside(&p, from).distance2.sqrt() - 0.6).abs() < 0.05);
    assert!((two.nearest(&p, None).unwrap().distance2.sqrt() - 0.4).abs() < 0.05);
}
