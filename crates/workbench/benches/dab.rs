//! Work of one frame while painting on a limb of a million triangles, without the graphics card; then the time for
//! sketch and zone of the whole stroke.
//!
//! `cargo bench -p workbench --bench dab`

use std::hint::black_box;
use std::time::{Duration, Instant};

use mesh::{Job, Surface};
use nalgebra::{Point3, Vector3};
use session::marking::{self, Target};
use workbench::{Aim, Brush, SkinOnStage};
use zone::ZoneSettings;

/// Frames of a stroke.
const FRAMES: usize = 300;

#[allow(clippy::print_stdout)]
fn main() {
    let start = Instant::now();
    let skin = test_shapes::limb(500).build::<Surface>();
    println!("{} triangles, surface ready in {:.2} s", skin.mesh().triangles.len(), start.elapsed().as_secs_f64());
    for radius_mm in [6.0, 12.0, 30.0, 80.0] {
        let start = Instant::now();
        let mut shown = SkinOnStage::new(&skin);
        let ready = start.elapsed().as_secs_f64();
        let (mut brush, mut zone, mut last) = (Brush::default(), ZoneSettings::default(), None);
        let mut taken = Vec::with_capacity(FRAMES);
        let mut sent = 0;
        for frame in 0..FRAMES {
            // To and fro over the front of the limb, up to 5.5 mm a frame, while the pointer rises.
            let turn = frame as f32 / 40.0 * std::f32::consts::TAU;
            let aim = Point3::new(0.0, 35.0 * turn.sin(), 120.0 + 0.3 * frame as f32);
            let eye = Point3::new(700.0, 60.0, 200.0);
            let start = Instant::now();
            let Some(hit) = skin.ray(&eye, &Vector3::from(aim - eye), 2000.0) else { continue };
            black_box(workbench::ring(&skin, &hit, radius_mm));
            let dabs = brush.dabs(&skin, last, &hit, radius_mm, false);
            if let Some(dab) = dabs.last() {
                last = Some(dab.at_mm);
                marking::add_dabs(&mut zone, Target::Zone, &dabs);
                brush.show(Target::Zone, Aim::Zone, radius_mm, false);
            }
            brush.go_on(&skin, &mut shown, Duration::from_millis(5));
            let colours = shown.take_changed(&skin, 24);
            sent += colours.len();
            black_box(colours);
            taken.push(start.elapsed().as_secs_f64() * 1e3);
        }
        taken.sort_by(f64::total_cmp);
        let dabs: usize =
            zone.sources.iter().map(|s| if let zone::Source::Strokes { dabs } = s { dabs.len() } else { 0 }).sum();
        let start = Instant::now();
        let sketch = zone::sketch(&skin, &zone, &Job::silent()).map(|s| s.covered_mm.len());
        let sketched = start.elapsed().as_secs_f64();
        let settings = ZoneSettings { smooth_mm: 4.0, ..zone };
        let start = Instant::now();
        let made = zone::make(&skin, &settings, &Job::silent()).map(|z| z.covered.distance_mm.len());
        println!(
            "radius {radius_mm} mm: ready {ready:.2} s; a frame {:.2} ms in the middle, {:.2} ms in 99 of 100, {:.2} ms at most, {:.1} patches; \
             {dabs} dabs: sketch {sketched:.2} s ({}), zone {:.2} s ({})",
            taken[taken.len() / 2],
            taken[taken.len() * 99 / 100],
            taken[taken.len() - 1],
            sent as f64 / FRAMES as f64,
            sketch.is_ok(),
            start.elapsed().as_secs_f64(),
            made.map_or_else(|e| e.to_string(), |_| "made".to_owned())
        );
    }
}
