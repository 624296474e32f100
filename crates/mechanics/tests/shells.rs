//! The shell elements on curved shells, against published solutions.

mod shared;

use std::f64::consts::{FRAC_PI_2, PI};

use mechanics::elements::Section;
use nalgebra::{Point3, Vector6};
use shared::{factored, grid, holds, is_near, nearest, on_edge, spread, unloaded};

/// Scordelis and Lo's roof by a quarter. Customary is 0.3024 (Belytschko et al. 1985, Comput. Methods Appl. Mech. Eng. 51,
/// 221); the limit of thin-shell theory, by a series of our sources, is 0.300601.
#[test]
fn a_roof_sags() {
    let (radius, half) = (25.0, 40.0_f64.to_radians());
    for (n, share) in [(8, 0.02), (16, 0.01)] {
        let structure = grid(n, n, Section::plain(4.32e8, 0.0, 0.25, 0.0), |x, y| {
            Point3::new(radius * (half * x).sin(), 25.0 * y, radius * (half * x).cos())
        });
        let supports = holds(&structure, |p| {
            let (middle, end, top) = (p.y < 1e-9, p.y > 25.0 - 1e-9, p.x < 1e-9);
            [end || top, middle, end, middle, top, top || middle]
        });
        let found = factored(&structure, &supports).under(&spread(&structure, [0.0, 0.0, -90.0]));
        let edge = nearest(&structure, radius * half.sin(), 0.0, radius * half.cos());
        is_near("roof", -found[edge][2], 0.300_601, share);
    }
}

/// A cylinder with end diaphragms pinched in the middle, by an eighth (Belytschko et al. 1985).
#[test]
fn a_cylinder_is_pinched() {
    let radius = 300.0;
    let structure = grid(32, 32, Section::plain(3e6, 0.3, 3.0, 0.0), |x, y| {
        Point3::new(radius * (FRAC_PI_2 * x).sin(), 300.0 * y, radius * (FRAC_PI_2 * x).cos())
    });
    let supports = holds(&structure, |p| {
        let (middle, end, top, side) = (p.y < 1e-6, p.y > 300.0 - 1e-6, p.x < 1e-6, p.z < 1e-6);
        [end || top, middle, end || side, middle || side, top || side, top || middle]
    });
    let mut loads = unloaded(&structure);
    let top = nearest(&structure, 0.0, 0.0, radius);
    loads[top][2] = -0.25;
    let found = factored(&structure, &supports).under(&loads);
    is_near("cylinder", -found[top][2], 1.8248e-5, 0.03);
}

/// A hemisphere with a hole of 18 degrees, pulled and pressed, by a quarter: 0.0940 by MacNeal and Harder 1985, 0.0935 by
/// thin-shell theory.
#[test]
fn a_hemisphere_is_pulled_and_pressed() {
    let radius = 10.0;
    let structure = grid(32, 32, Section::plain(6.825e7, 0.3, 0.04, 0.0), |x, y| {
        let (a, b) = (FRAC_PI_2 * x, 72.0_f64.to_radians() * y);
        Point3::new(radius * a.cos() * b.cos(), radius * a.sin() * b.cos(), radius * b.sin())
    });
    let on_x = nearest(&structure, radius, 0.0, 0.0);
    let on_y = nearest(&structure, 0.0, radius, 0.0);
    let supports = holds(&structure, |p| {
        let (along_x, along_y) = (p.y.abs() < 1e-9, p.x.abs() < 1e-9);
        let one = along_x && p.z.abs() < 1e-9;
        [along_y, along_x, one, along_x, along_y, along_x || along_y]
    });
    let mut loads = unloaded(&structure);
    loads[on_x][0] = 1.0;
    loads[on_y][1] = -1.0;
    let found = factored(&structure, &supports).under(&loads);
    is_near("hemisphere, out", found[on_x][0], 0.093_519, 0.03);
    is_near("hemisphere, in", -found[on_y][1], 0.093_519, 0.03);
}

/// A cantilever twisted by a quarter of a turn, MacNeal and Harder 1985.
#[test]
fn a_twisted_beam_is_bent_both_ways() {
    let structure = grid(24, 4, Section::plain(29e6, 0.22, 0.32, 0.0), |x, y| {
        let (angle, off) = (FRAC_PI_2 * x, 1.1 * (y - 0.5));
        Point3::new(12.0 * x, off * angle.cos(), off * angle.sin())
    });
    let system = factored(&structure, &holds(&structure, |p| [p.x < 1e-9; 6]));
    let tip = nearest(&structure, 12.0, 0.0, 0.0);
    for (k, target) in [(1, 1.754e-3), (2, 5.424e-3)] {
        let loads = on_edge(&structure, Vector6::ith(k, 1.0), |p| p.x > 12.0 - 1e-9);
        is_near("twisted beam", system.under(&loads)[tip][k], target, 0.03);
    }
}

/// An arc of ring spread at its tips opens by P R³ / EI times α + 2α cos² α − 1.5 sin 2α, α half of its angle (Roark,
/// "Formulas for Stress and Strain", chapter 9, derived again).
#[test]
fn a_split_ring_opens() {
    let (radius, young, thickness, width) = (40.0, 2000.0, 1.0, 10.0);
    for degrees in [180.0_f64, 240.0, 300.0] {
        let half = 0.5 * degrees.to_radians();
        // From the middle of the arc to a tip.
        let structure = grid(64, 4, Section::plain(young, 0.0, thickness, 0.0), |x, y| {
            Point3::new(radius * (half * x).sin(), width * y, radius * (half * x).cos())
        });
        let supports = holds(&structure, |p| {
            let middle = p.x.abs() < 1e-9 && p.z > 0.0;
            [middle, p.y < 1e-9 && middle, middle && p.y < 1e-9, middle, middle, middle]
        });
        let tip = Point3::new(radius * half.sin(), 0.0, radius * half.cos());
        let at_tip = |p: &Point3<f64>| (p.x - tip.x).abs() < 1e-9 && (p.z - tip.z).abs() < 1e-9;
        let found = factored(&structure, &supports).under(&on_edge(&structure, Vector6::ith(0, 1.0), at_tip));
        let opened = 2.0 * found[nearest(&structure, tip.x, 0.5 * width, tip.z)][0];
        let inertia = width * f64::powi(thickness, 3) / 12.0;
        let share = half + 2.0 * half * half.cos().powi(2) - 1.5 * (2.0 * half).sin();
        is_near("ring", opened, radius.powi(3) / (young * inertia) * share, 0.02);
        assert!(degrees > 180.0 || (share - PI / 2.0).abs() < 1e-9);
    }
}
