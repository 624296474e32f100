//! Times a cut and a clearance map on a synthetic limb of a million triangles.
//!
//! `cargo bench -p fit --bench look`

use mesh::{Job, Mesh, Surface};
use nalgebra::{Point3, Vector3};
use std::hint::black_box;
use std::time::Instant;

#[allow(clippy::print_stdout)]
fn main() {
    let skin: Surface = test_shapes::tube(45.0, [0.0, 350.0], 1000, 501).build();
    let ring = test_shapes::torus(49.0, 3.0, 1000, 150);
    let shell: Mesh = ring.mapped(|[x, y, z]| [x, y, 175.0 + 12.0 * z]).build();
    let show = |name: &str, work: &dyn Fn() -> usize| {
        let best = (0..7)
            .map(|_| {
                let start = Instant::now();
                black_box(work());
                start.elapsed().as_secs_f64()
            })
            .fold(f64::INFINITY, f64::min);
        println!("{name}: {:.1} ms", best * 1e3);
    };
    let at = Point3::new(0.0, 0.0, 171.3);
    show("section of 1 000 000 triangles", &|| {
        fit::section(skin.mesh(), &at, &Vector3::z()).map_or(0, |s| s.lines.len())
    });
    show("clearance of 300 000 triangles", &|| {
        fit::clearance(&skin, &shell, &Job::silent()).map_or(0, |c| c.inner.triangles.len())
    });
}
