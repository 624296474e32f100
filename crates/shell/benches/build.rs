//! Time and memory to build the shell of half a forearm from a scan of 300 000 triangles, by voxel size.
//!
//! `cargo bench -p shell --bench build` runs on two threads and measures beside it, in the same run, the closest
//! points of the `parry3d` crate at the grid points of the same wall. `-- FILE.stl` also leaves the limb in that file,
//! on which `tests/reference/shell_speed.py` measures the closest points of Embree.

use mesh::{Job, Mesh, Surface};
use nalgebra::Point3;
use parry3d::math::Vec3;
use parry3d::query::PointQuery;
use parry3d::shape::TriMesh;
use peak_alloc::PeakAlloc;
use rayon::prelude::*;
use shell::{Design, Quality};
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;
use test_shapes::{Diagonals, Wrap, grid};
use zone::Zone;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

const THREADS: usize = 2;
const RUNS: usize = 7;
const TOLERANCE_MM: f32 = 0.02;
/// The voxels through which the straight line is laid, and last that of the first look.
const VOXELS_MM: [f32; 6] = [0.3, 0.4, 0.5, 0.7, 1.0, 1.5];
const LINE: usize = 5;
/// The ends of the zone along the limb: 24 and 76 % of its length, which makes about 180 cm² of shell.
const FROM_MM: f32 = 62.4;
const TO_MM: f32 = 197.6;

/// A forearm-like tube, open at both ends, 260 mm long, with the 0.02 mm of noise that cleaning leaves.
fn invented_limb() -> Mesh {
    let smooth = grid(353, 423, Wrap::Columns, Diagonals::Alike, |u, v| {
        let (a, z) = (u * std::f64::consts::TAU, 260.0 * v);
        let r = 26.0 + 16.0 * (std::f64::consts::PI * (0.15 + 0.75 * v)).sin();
        let x = r * (1.0 + 0.08 * (2.0 * a).cos() + 0.02 * (5.0 * a + z / 40.0).sin()) * a.cos();
        let y = r * 0.86 * (1.0 + 0.03 * (3.0 * a + z / 70.0).sin()) * a.sin();
        [x, y, z]
    });
    smooth.noisy(0.02, 3).build()
}

/// The half with x > 0 between 24 and 76 % of the length, and its area in mm².
fn half_forearm(skin: &Surface) -> (Zone, f64) {
    let mesh = skin.mesh();
    let inside = |p: &Point3<f32>| (p.z - FROM_MM).min(TO_MM - p.z).min(p.x);
    let mut zone = Zone::default();
    zone.covered.distance_mm = mesh.points.iter().map(inside).collect();
    // Only the number of edges counts here: more tunnels than edges ask for would be searched for folds.
    zone.covered.edges = vec![vec![Point3::origin(); 3]];
    let covered = |t: &usize| inside(&nalgebra::center(&mesh.corners(*t)[0], &mesh.corners(*t)[1])) > 0.0;
    let area = (0..mesh.triangles.len()).filter(covered).map(|t| 0.5 * mesh.cross(t).norm()).sum();
    (zone, area)
}

/// Grid points in and near the wall, as `|d - gap - t/2| < t/2 + 2h` picks them.
fn band(skin: &Surface, design: &Design, voxel_mm: f32) -> Vec<Point3<f32>> {
    let (lo, hi) = skin.mesh().bounds().expect("a limb");
    let (half, out) = (0.5 * design.thickness_mm, design.gap_mm + design.thickness_mm + 2.0);
    let steps =
        |from: f32, to: f32| (0..((to - from) / voxel_mm).ceil() as u32).map(move |i| from + i as f32 * voxel_mm);
    let columns: Vec<(f32, f32)> =
        steps(-1.0, hi.x + out).flat_map(|x| steps(lo.y - out, hi.y + out).map(move |y| (x, y))).collect();
    let column = |(x, y): &(f32, f32)| {
        let (mut seed, mut clear_mm, mut near) = (None, 0.0_f32, Vec::new());
        for p in steps(FROM_MM - 2.0, TO_MM + 2.0).map(|z| Point3::new(*x, *y, z)) {
            // The distance changes by no more than the length of a step, so points far from the wall are skipped.
            clear_mm -= voxel_mm;
            if clear_mm > 0.0 {
                continue;
            }
            let hit = skin.nearest(&p, seed).expect("a limb");
            seed = Some(hit.triangle);
            clear_mm = (hit.distance2.sqrt() - design.gap_mm - half).abs() - half - 2.0 * voxel_mm;
            if clear_mm < 0.0 {
                near.push(p);
            }
        }
        near
    };
    columns.par_iter().flat_map_iter(column).collect()
}

/// Shortest and median time of some runs, s.
fn time<T>(runs: usize, mut work: impl FnMut() -> T) -> (f64, f64) {
    let mut taken: Vec<f64> = (0..runs)
        .map(|_| {
            let start = Instant::now();
            black_box(work());
            start.elapsed().as_secs_f64()
        })
        .collect();
    taken.sort_by(f64::total_cmp);
    (taken[0], taken[runs / 2])
}

/// Straight line through points by least squares: start, slope, and the largest distance from it as a share.
fn line(points: &[(f64, f64)]) -> (f64, f64, f64) {
    let n = points.len() as f64;
    let (mx, my) = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let slope = points.iter().map(|(x, y)| (x - mx) * (y - my)).sum::<f64>()
        / points.iter().map(|(x, _)| (x - mx).powi(2)).sum::<f64>();
    let start = my - slope * mx;
    let off = points.iter().map(|(x, y)| ((start + slope * x) / y - 1.0).abs()).fold(0.0, f64::max);
    (start, slope, off)
}

#[allow(clippy::print_stdout)]
fn main() {
    rayon::ThreadPoolBuilder::new().num_threads(THREADS).build_global().expect("threads");
    let limb = invented_limb();
    if let Some(path) = std::env::args().skip(1).find(|a| !a.starts_with("--")) {
        let path = Path::new(&path);
        mesh::write::save_atomic(path, |out| mesh::write::stl_binary(&limb, "invented limb", out)).expect("room");
        println!("limb in {}", path.display());
    }
    let reference =
        TriMesh::new(limb.points.iter().map(|p| Vec3::new(p.x, p.y, p.z)).collect(), limb.triangles.clone())
            .expect("a mesh");
    let (ready, _) = time(3, || Surface::new(limb.clone()));
    let skin = Surface::new(limb);
    let (zone, area_mm2) = half_forearm(&skin);
    let design = Design::default();
    println!(
        "{} triangles, surface ready in {ready:.3} s; zone {:.0} cm²; {THREADS} threads, best and middle of {RUNS}",
        skin.mesh().triangles.len(),
        area_mm2 / 100.0
    );
    println!(
        "voxel mm   best s  middle s  triangles  grid samples  area/voxel²  µs per area/voxel²  peak MB  parry3d: points, s"
    );
    let mut points = Vec::new();
    for voxel_mm in VOXELS_MM {
        let first_look = voxel_mm == Quality::FIRST_LOOK.voxel_mm;
        let quality = if first_look { Quality::FIRST_LOOK } else { Quality { voxel_mm, tolerance_mm: TOLERANCE_MM } };
        let make = || shell::build(&skin, &zone, &design, &quality, &Job::silent()).expect("a shell");
        MEMORY.reset_peak_usage();
        let made = make();
        let peak = MEMORY.peak_usage_as_mb();
        let (best, middle) = time(RUNS, make);
        let near = band(&skin, &design, voxel_mm);
        let closest = |p: &Point3<f32>| reference.project_local_point(Vec3::new(p.x, p.y, p.z), false).point;
        let (theirs, _) = time(3, || near.par_iter().map(closest).collect::<Vec<_>>());
        let cells = area_mm2 / f64::from(voxel_mm).powi(2);
        println!(
            "{voxel_mm:8.1} {best:8.3} {middle:9.3} {:10} {:13} {cells:12.0} {:19.2} {peak:8.0}  {:10} {theirs:8.3}",
            made.mesh.triangles.len(),
            made.grid_samples,
            best / cells * 1e6,
            near.len(),
        );
        points.push((cells, best));
    }
    let (start, slope, off) = line(&points[..LINE]);
    println!(
        "{:.1} to {:.1} mm: seconds = {start:.3} + {:.2}e-6 · area/voxel², off by at most {:.0} %",
        VOXELS_MM[0],
        VOXELS_MM[LINE - 1],
        slope * 1e6,
        off * 100.0
    );
}
