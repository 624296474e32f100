//! Volume and area of plain shells against the closed forms of parallel surfaces.
//!
//! Source: Steiner's formula, J. Steiner 1840, in the form for a patch of a surface with principal curvatures κ₁, κ₂:
//! dA(d) = (1 + κ₁ d)(1 + κ₂ d) dA, integrated here by hand for a ball, a cylinder and a torus.
//! The zone's distances are closed forms too, so that nothing but the shell is measured.

use approx::assert_relative_eq;
use mesh::{Job, Mesh, Surface};
use nalgebra::Point3;
use shell::{Design, Quality, Rim, build};
use test_shapes::{Diagonals, Wrap};
use zone::{Region, Zone};

const GAP: f64 = 3.0;
const OUTER: f64 = 6.0;

/// A surface over a grid of parameters, its triangles at most about 1 mm; `wrap` joins the last column to the first.
fn grid(rows: u32, columns: u32, wrap: bool, at: impl Fn(f64, f64) -> [f64; 3]) -> Mesh {
    let wrap = if wrap { Wrap::Columns } else { Wrap::None };
    test_shapes::grid(columns, rows, wrap, Diagonals::Alike, at).build()
}

fn square_edged() -> Design {
    Design {
        gap_mm: GAP as f32,
        thickness_mm: (OUTER - GAP) as f32,
        rim: Rim { round_mm: 0.0, flare_mm: 0.0, flare_width_mm: 1.0, bead_mm: 0.0 },
        ..Design::default()
    }
}

/// Builds on `skin` where `edge` (distance to the zone's edge at a point) is positive; compares volume and area, which
/// may be off by a share of `within`. Both are given for square edges, `edges_mm` long in all; on a grid they are rounded
/// with a radius of a cell, which takes r² (1 − π/4) of volume and r (2 − π/2) of area a millimetre.
fn compare(mesh: Mesh, edge: impl Fn(&Point3<f64>) -> f64, [volume_mm3, area_mm2, edges_mm]: [f64; 3], within: f64) {
    use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};
    let skin = Surface::new(mesh);
    let distance_mm = skin.mesh().points.iter().map(|p| edge(&p.cast()) as f32).collect();
    let zone = Zone { covered: Region { distance_mm, edges: Vec::new() }, ..Zone::default() };
    let quality = Quality { voxel_mm: 0.5, tolerance_mm: 0.02 };
    let shell = build(&skin, &zone, &square_edged(), &quality, &Job::silent()).expect("a plain shell can be built");
    let proof = shell.proof.as_ref().expect("a shell for printing is proven");
    assert!(proof.is_solid() && proof.components == 1, "{:?}", proof.faults());
    assert_on_raster(&shell.mesh);
    let round = f64::from(quality.voxel_mm);
    let volume_mm3 = volume_mm3 - round * round * (1.0 - FRAC_PI_4) * edges_mm;
    let area_mm2 = area_mm2 - round * (2.0 - FRAC_PI_2) * edges_mm;
    assert_relative_eq!(proof.volume_mm3, volume_mm3, max_relative = within);
    assert_relative_eq!(proof.area_mm2, area_mm2, max_relative = within);
}

/// Points lie on a raster of 1/16384 mm, so that a shell is moved onto a printer's bed without rounding again.
fn assert_on_raster(mesh: &Mesh) {
    let off = mesh.points.iter().flat_map(|p| p.iter()).find(|x| (**x * 16384.0).fract() != 0.0);
    assert_eq!(off, None, "a coordinate is no whole number of 1/16384 mm");
    // In f32 that holds something only where the raster is coarser than the numbers themselves.
    assert!(mesh.points.iter().flat_map(|p| p.iter()).any(|x| x.abs() > 1.0 && x.abs() < 512.0));
}

#[test]
fn ball_cap_matches_steiner_within_half_a_percent() {
    let (r, cap) = (50.0_f64, 1.15_f64);
    // A belt of the ball whose axis is x, so that the cap round z has no pole of the grid in it.
    let mesh = grid(280, 320, true, |u, v| {
        let (around, along) = (u * std::f64::consts::TAU, (v - 0.5) * 2.8);
        [r * along.sin(), r * along.cos() * around.cos(), r * along.cos() * around.sin()]
    });
    let whole = std::f64::consts::TAU * (1.0 - cap.cos());
    let (a, b) = (r + GAP, r + OUTER);
    let volume = whole * (b.powi(3) - a.powi(3)) / 3.0;
    let area = whole * (a * a + b * b) + std::f64::consts::PI * cap.sin() * (b * b - a * a);
    let edges = std::f64::consts::TAU * cap.sin() * (a + b);
    compare(mesh, |p| r * (cap - (p.z / p.coords.norm()).clamp(-1.0, 1.0).acos()), [volume, area, edges], 5e-3);
}

#[test]
fn cylinder_patch_matches_steiner_within_half_a_percent() {
    let (r, half_angle, half_length) = (40.0_f64, 2.2_f64, 70.0_f64);
    let mesh = grid(170, 250, true, |u, v| {
        let turn = u * std::f64::consts::TAU;
        [r * turn.cos(), r * turn.sin(), (v - 0.5) * 170.0]
    });
    let (a, b) = (r + GAP, r + OUTER);
    let ring = half_angle * (b * b - a * a);
    let volume = ring * 2.0 * half_length;
    let area = 2.0 * half_angle * (a + b) * 2.0 * half_length + 2.0 * ring + 2.0 * (b - a) * 2.0 * half_length;
    let edges = 4.0 * half_angle * (a + b) + 8.0 * half_length;
    let edge = |p: &Point3<f64>| (r * (half_angle - p.y.atan2(p.x).abs())).min(half_length - p.z.abs());
    compare(mesh, edge, [volume, area, edges], 5e-3);
}

#[test]
fn torus_patch_matches_steiner_within_eight_parts_in_a_thousand() {
    // The outer face is fair over 38 mm, more than the radius of the tube, and stands a little higher for it.
    let (big, small, half_turn, half_tube) = (60.0_f64, 25.0_f64, 0.8_f64, 1.0_f64);
    let mesh = grid(500, 160, true, |u, v| {
        let (tube, turn) = (u * std::f64::consts::TAU, v * std::f64::consts::TAU);
        // Rows run against the turn so that the triangles face outward.
        let out = big + small * tube.cos();
        [out * turn.cos(), -out * turn.sin(), small * tube.sin()]
    });
    let (a, b) = (small + GAP, small + OUTER);
    let (square, cube) = ((b * b - a * a) / 2.0, (b.powi(3) - a.powi(3)) / 3.0);
    let volume = 2.0 * half_turn * (2.0 * half_tube * big * square + 2.0 * half_tube.sin() * cube);
    let face = |r: f64| 2.0 * half_turn * r * (2.0 * half_tube * big + 2.0 * half_tube.sin() * r);
    let along = 2.0 * 2.0 * half_turn * ((b - a) * big + half_tube.cos() * square);
    let across = 2.0 * 2.0 * half_tube * square;
    let around = |r: f64| 4.0 * half_turn * (big + r * half_tube.cos()) + 4.0 * half_tube * r;
    let edges = around(a) + around(b);
    compare(
        mesh,
        |p| {
            let out = p.x.hypot(p.y);
            let (turn, tube) = (p.y.atan2(p.x), p.z.atan2(out - big));
            (small * (half_tube - tube.abs())).min(out * (half_turn - turn.abs()))
        },
        [volume, face(a) + face(b) + along + across, edges],
        8e-3,
    );
}

#[test]
fn a_first_look_at_a_thin_wall_is_whole() {
    let (r, half_angle, half_length) = (40.0_f64, 1.0_f64, 25.0_f64);
    let mesh = grid(80, 250, true, |u, v| {
        let turn = u * std::f64::consts::TAU;
        [r * turn.cos(), r * turn.sin(), (v - 0.5) * 80.0]
    });
    let skin = Surface::new(mesh);
    let edge = |p: &Point3<f32>| {
        let p = p.cast::<f64>();
        (r * (half_angle - p.y.atan2(p.x).abs())).min(half_length - p.z.abs()) as f32
    };
    let distance_mm = skin.mesh().points.iter().map(edge).collect();
    let zone = Zone { covered: Region { distance_mm, edges: Vec::new() }, ..Zone::default() };
    let design = Design { thickness_mm: 1.0, rim: Rim { round_mm: 0.5, ..Rim::default() }, ..Design::default() };
    let quality = Quality { voxel_mm: 1.5, tolerance_mm: 0.02 };
    let shell = build(&skin, &zone, &design, &quality, &Job::silent()).expect("a thin wall can be built");
    let proof = shell.proof.as_ref().expect("a shell for printing is proven");
    assert!(proof.is_solid() && proof.components == 1, "{:?}", proof.faults());
    assert_on_raster(&shell.mesh);
    // A closed sheet without holes: two more points than half its triangles.
    assert_eq!(shell.mesh.points.len(), shell.mesh.triangles.len() / 2 + 2);
    assert!(shell.notices.iter().any(|n| n.contains("thinnest")), "{:?}", shell.notices);
}
