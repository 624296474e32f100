//! The shell elements on flat plates, against published solutions.

mod shared;

use mechanics::contact::{BALANCED, Bed, Laid, Rest};
use mechanics::elements::{Facet, Hold, OF_TRIANGLE, Section, Spring, Structure, principal};
use mechanics::foam::{FoamCurve, Layers};
use mesh::Job;
use nalgebra::{Point2, Point3, SymmetricEigen, Vector3, Vector6};
use shared::{arc, factored, grid, holds, is_near, nearest, on_edge, on_springs, region, spread, tie, unloaded};

/// The patch of MacNeal and Harder 1985, "A proposed standard set of problems to test finite element accuracy", Finite
/// Elem. Anal. Des. 1, 3–20: a rectangle of 0.24 by 0.12 with four nodes inside, from memory.
fn patch(section: Section) -> Structure {
    let corners =
        [[0.0, 0.0], [0.24, 0.0], [0.24, 0.12], [0.0, 0.12], [0.04, 0.02], [0.18, 0.03], [0.16, 0.08], [0.08, 0.08]];
    let four = [[0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7], [4, 5, 6, 7]];
    let triangles: Vec<[u32; 3]> = four.iter().flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]]).collect();
    let sections = vec![section; triangles.len()];
    Structure { points: corners.map(|[x, y]| Point3::new(x, y, 0.0)).to_vec(), triangles, sections }
}

/// Under the forces that belong to them, all nodes but the held ones take the displacements of the field.
fn takes_the_field(structure: &Structure, field: impl Fn(&Point3<f64>) -> Vector6<f64>) -> Vec<Vector6<f64>> {
    let wanted: Vec<Vector6<f64>> = structure.points.iter().map(field).collect();
    // The outer four are moved as they should be; what then pulls at the inner four is undone by moving them.
    let mut loads = unloaded(structure);
    for (t, section) in structure.sections.iter().enumerate() {
        let mut moved = wanted.clone();
        moved[4..].iter_mut().for_each(|m| *m = Vector6::zeros());
        let forces = Facet::new(structure.corners(t)).expect("it can be made").stiffness(section)
            * structure.unknowns_of(t, &moved);
        for (i, v) in structure.triangles[t].iter().enumerate() {
            (0..6).for_each(|k| loads[*v as usize][k] -= forces[6 * i + k]);
        }
    }
    let mut supports = holds(structure, |_| [false; 6]);
    supports[..4].fill([Hold::Held; 6]);
    let mut found = factored(structure, &supports).under(&loads);
    found[..4].copy_from_slice(&wanted[..4]);
    for (found, wanted) in found.iter().zip(&wanted) {
        assert!((found - wanted).norm() <= 1e-9 * wanted.norm().max(1e-3), "{found} for {wanted}");
    }
    found
}

#[test]
fn a_patch_is_stretched_evenly() {
    let structure = patch(Section::plain(1e6, 0.25, 0.001, 0.0));
    let found = takes_the_field(&structure, |p| {
        Vector6::new(1e-3 * (p.x + 0.5 * p.y), 1e-3 * (p.y + 0.5 * p.x), 0.0, 0.0, 0.0, 0.0)
    });
    for t in 0..structure.triangles.len() {
        let facet = Facet::new(structure.corners(t)).unwrap();
        let strains = facet.strains(&structure.sections[t], &structure.unknowns_of(t, &found));
        let n = strains.resultants(&structure.sections[t])[0] / 0.001;
        // The mean of both stresses and the greatest shear do not hang on the axes.
        let (mean, shear) = (0.5 * (n.x + n.y), (0.25 * (n.x - n.y).powi(2) + n.z * n.z).sqrt());
        assert!((mean / (4000.0 / 3.0) - 1.0).abs() < 1e-9 && (shear / 400.0 - 1.0).abs() < 1e-9, "{n}");
    }
}

#[test]
fn a_patch_is_bent_evenly() {
    let structure = patch(Section::plain(1e6, 0.25, 0.001, 0.0));
    let found = takes_the_field(&structure, |p| {
        let (x, y) = (p.x, p.y);
        Vector6::new(0.0, 0.0, 0.5e-3 * (x * x + x * y + y * y), 1e-3 * (0.5 * x + y), -1e-3 * (x + 0.5 * y), 0.0)
    });
    for t in 0..structure.triangles.len() {
        let facet = Facet::new(structure.corners(t)).unwrap();
        let strains = facet.strains(&structure.sections[t], &structure.unknowns_of(t, &found));
        let m = strains.resultants(&structure.sections[t])[1];
        let (mean, twist) = (0.5 * (m.x + m.y), (0.25 * (m.x - m.y).powi(2) + m.z * m.z).sqrt());
        assert!((mean.abs() / 1.0e-6 * 9.0 - 1.0).abs() < 1e-9, "{m}");
        assert!((twist / 3.0e-8 * 0.9 - 1.0).abs() < 1e-9, "{m}");
    }
}

/// Six ways to move as a whole without force, and no more.
#[test]
fn a_triangle_resists_all_but_moving_as_a_whole() {
    let corners = [Point3::new(1.0, 2.0, 0.5), Point3::new(4.0, 1.0, -0.3), Point3::new(2.0, 5.0, 1.7)];
    let stiffness = Facet::new(corners).unwrap().stiffness(&Section::plain(2000.0, 0.35, 1.5, 0.4));
    let values = SymmetricEigen::new(stiffness).eigenvalues;
    let most = values.max();
    assert_eq!(values.iter().filter(|value| value.abs() < 1e-10 * most).count(), 6, "{values}");
    assert!(values.iter().all(|value| *value > -1e-10 * most), "{values}");
    let turn = Vector3::new(0.2, -0.5, 0.3);
    let moved = nalgebra::SVector::<f64, OF_TRIANGLE>::from_fn(|k, _| {
        let shift = turn.cross(&corners[k / 6].coords);
        if k % 6 < 3 { shift[k % 3] } else { turn[k % 3] }
    });
    assert!((stiffness * moved).norm() < 1e-10 * most);
}

/// The straight cantilever of MacNeal and Harder 1985, 6 by 0.2 by 0.1, from memory.
#[test]
fn a_cantilever_is_pulled_bent_and_twisted() {
    // Twice as wide as thick: only a mesh that is fine across sees how shear goes to nothing at the sides.
    let structure = grid(128, 16, Section::plain(1e7, 0.3, 0.1, 0.0), |x, y| Point3::new(6.0 * x, 0.2 * y, 0.0));
    let system = factored(&structure, &holds(&structure, |p| [p.x < 1e-9; 6]));
    let tip = nearest(&structure, 6.0, 0.1, 0.0);
    for (k, target, share) in [(0, 3.0e-5, 0.01), (1, 0.1081, 0.01), (2, 0.4321, 0.01), (3, 0.03208, 0.03)] {
        let loads = on_edge(&structure, Vector6::ith(k, 1.0), |p| p.x > 6.0 - 1e-9);
        is_near(["pulled", "bent in its plane", "bent", "twisted"][k], system.under(&loads)[tip][k], target, share);
    }
}

/// Square plates by a quarter: Timoshenko and Woinowsky-Krieger 1959, "Theory of Plates and Shells", tables 8, 23, 35 and
/// 37, with more digits from the same series.
#[test]
fn square_plates_give_as_in_the_tables() {
    let (young, poisson, thickness) = (1e7, 0.3, 0.01);
    let rigidity = young * f64::powi(thickness, 3) / 12.0 / (1.0 - poisson * poisson);
    for (clamped, uniform, at_point) in [(false, 0.004_062_35, 0.011_600_8), (true, 0.001_265_32, 0.005_612)] {
        let mut before = f64::INFINITY;
        for n in [4, 8, 16] {
            let structure =
                grid(n, n, Section::plain(young, poisson, thickness, 0.0), |x, y| Point3::new(0.5 * x, 0.5 * y, 0.0));
            let supports = holds(&structure, |p| {
                let (on_x, on_y) = (p.y < 1e-9, p.x < 1e-9);
                let (end_x, end_y) = (p.x > 0.5 - 1e-9, p.y > 0.5 - 1e-9);
                let held = clamped && (end_x || end_y);
                [true, true, end_x || end_y, on_x || end_x || held, on_y || end_y || held, true]
            });
            let system = factored(&structure, &supports);
            let middle = system.under(&spread(&structure, [0.0, 0.0, 1.0]))[0][2] * rigidity;
            let mut loads = unloaded(&structure);
            loads[0][2] = 0.25;
            let under_point = system.under(&loads)[0][2] * rigidity;
            let off = (middle / uniform - 1.0).abs().max((under_point / at_point - 1.0).abs());
            assert!(off < before, "it comes nearer: {off} after {before}");
            before = off;
            if n == 16 {
                is_near("uniform", middle, uniform, 0.01);
                is_near("point", under_point, at_point, 0.01);
            }
        }
    }
}

/// Moments per q a² in the middle, and clamped also in the middle of an edge: tables 8 and 35, with more digits from the same
/// series.
#[test]
fn square_plates_are_strained_as_in_the_tables() {
    let (young, poisson, thickness) = (1e7, 0.3, 0.01);
    let section = Section::plain(young, poisson, thickness, 0.0);
    let n = 32;
    let structure = grid(n, n, section, |x, y| Point3::new(0.5 * x, 0.5 * y, 0.0));
    for (clamped, middle, edge) in [(false, 0.047_886, None), (true, 0.022_905, Some(-0.051_334))] {
        let supports = holds(&structure, |p| {
            let (on_x, on_y) = (p.y < 1e-9, p.x < 1e-9);
            let (end_x, end_y) = (p.x > 0.5 - 1e-9, p.y > 0.5 - 1e-9);
            let held = clamped && (end_x || end_y);
            [true, true, end_x || end_y, on_x || end_x || held, on_y || end_y || held, true]
        });
        let found = factored(&structure, &supports).under(&spread(&structure, [0.0, 0.0, 1.0]));
        // The mean over the two triangles of a cell, whose axes lie along the plate's or a half right angle aside.
        let moments = |cell: usize| {
            let two = [2 * cell, 2 * cell + 1].map(|t| {
                let strains =
                    Facet::new(structure.corners(t)).unwrap().strains(&section, &structure.unknowns_of(t, &found));
                principal(&strains.resultants(&section)[1])
            });
            [0.5 * (two[0][0] + two[1][0]), 0.5 * (two[0][1] + two[1][1])]
        };
        is_near("middle", moments(0)[0], middle, 0.01);
        if let Some(edge) = edge {
            // From the middles of the last two cells to the edge.
            let (last, before) = (moments(n - 1)[1], moments(n - 2)[1]);
            is_near("edge", last + 0.5 * (last - before), edge, 0.02);
        }
    }
}

/// Round plates: Timoshenko and Woinowsky-Krieger 1959, §§ 16 and 19.
#[test]
fn round_plates_give_as_by_the_closed_forms() {
    let (young, poisson, thickness, radius) = (2000.0, 0.3, 0.5, 100.0);
    let rigidity = young * f64::powi(thickness, 3) / 12.0 / (1.0 - poisson * poisson);
    let mut outline = vec![Point2::origin()];
    outline.extend(arc([0.0, 0.0], radius, [0.0, 1.0], 40));
    let structure = region(&[outline], 4.0, Section::plain(young, poisson, thickness, 0.0));
    let pi = std::f64::consts::PI;
    for (clamped, uniform, at_point) in [
        (true, 1.0 / 64.0, 1.0 / (16.0 * pi)),
        (false, (5.0 + poisson) / (64.0 * (1.0 + poisson)), (3.0 + poisson) / (1.0 + poisson) / (16.0 * pi)),
    ] {
        let supports = holds(&structure, |p| {
            let edge = p.coords.norm() > radius * 0.9985;
            let held = clamped && edge;
            [true, true, edge, p.y < 1e-9 || held, p.x < 1e-9 || held, true]
        });
        let system = factored(&structure, &supports);
        let middle = nearest(&structure, 0.0, 0.0, 0.0);
        let found = system.under(&spread(&structure, [0.0, 0.0, 1e-4]))[middle][2];
        is_near("uniform", found, uniform * 1e-4 * radius.powi(4) / rigidity, 0.01);
        let mut loads = unloaded(&structure);
        loads[middle][2] = 0.25;
        is_near("point", system.under(&loads)[middle][2], at_point * radius.powi(2) / rigidity, 0.01);
    }
}

/// A plate on springs under a load on a disc: Timoshenko and Woinowsky-Krieger 1959, §§ 57 and 58: P / 8√(kD) times
/// (8 / πc²) (1 + c ker′ c), c the disc's radius by the length (D/k)^¼, which is 0.91775 for a half and 0.77768 for one. Far
/// off it is −(4/π) kei r of the deflection under a point load.
#[test]
fn a_plate_on_foam_gives_as_hertz_found() {
    let (young, poisson, thickness, foam) = (3000.0, 0.35, 3.0_f64, 0.01);
    let rigidity = young * thickness.powi(3) / 12.0 / (1.0 - poisson * poisson);
    let length = (rigidity / foam).powf(0.25);
    let size = 9.0 * length;
    let section = Section::plain(young, poisson, thickness, 0.0);
    let at = |x: f64| size * x.powf(1.6);
    let structure = grid(48, 48, section, |x, y| Point3::new(at(x), at(y), 0.0));
    let supports = holds(&structure, |p| [true, true, false, p.y < 1e-9, p.x < 1e-9, true]);
    let areas = spread(&structure, [0.0, 0.0, 1.0]);
    let springs: Vec<Spring> =
        (0_u32..).zip(&areas).map(|(v, area)| Spring::along(v, &Vector3::z(), foam * area[2])).collect();
    let system = on_springs(&structure, &supports, &springs);
    let under_point = 100.0 / (8.0 * (foam * rigidity).sqrt());
    for (radius, share) in [(0.5, 0.91775), (1.0, 0.77768)] {
        let mut loads = unloaded(&structure);
        // A quarter of 100 N, by small parts of each triangle.
        let per_area = 100.0 / (std::f64::consts::PI * (radius * length).powi(2));
        const PARTS: usize = 12;
        for t in 0..structure.triangles.len() {
            let [a, b, c] = structure.corners(t);
            let part = (b - a).cross(&(c - a)).norm() / 2.0 / (PARTS * (PARTS + 1) / 2) as f64;
            for (i, j) in (0..PARTS).flat_map(|i| (0..PARTS - i).map(move |j| (i, j))) {
                let [u, v] = [i, j].map(|i| (i as f64 + 1.0 / 3.0) / PARTS as f64);
                let place = a + (b - a) * u + (c - a) * v;
                if place.coords.norm() < radius * length {
                    let shares = [1.0 - u - v, u, v];
                    let corners = structure.triangles[t].iter().zip(shares);
                    corners.for_each(|(corner, share)| loads[*corner as usize][2] += per_area * part * share);
                }
            }
        }
        let found = system.under(&loads);
        is_near("under the load", found[0][2], share * under_point, 0.02);
        let (pressed, pressing): (f64, f64) = found
            .iter()
            .zip(&areas)
            .zip(&loads)
            .fold((0.0, 0.0), |(p, l), ((u, area), load)| (p + foam * area[2] * u[2], l + load[2]));
        is_near("the springs carry", pressed, pressing, 1e-9);
        is_near("the load", pressing, 25.0, 0.01);
    }
    let mut loads = unloaded(&structure);
    loads[0][2] = 25.0;
    let found = system.under(&loads);
    let far = nearest(&structure, 2.0 * length, 0.0, 0.0);
    // −(4/π) kei is 0.63025, 0.25770 and 0.06509 at 1, 2 and 3 lengths: a parabola through these tells it near 2.
    let off = structure.points[far].x / length - 2.0;
    let there = 0.25770 + off * (0.06509 - 0.63025) / 2.0 + off * off * (0.06509 - 2.0 * 0.25770 + 0.63025) / 2.0;
    is_near("beside it", found[far][2], under_point * there, 0.02);
}

/// A strip of 20 by 3 mm with a rib of 4 by 6 mm: its second moment of area is 464.143 mm⁴ by the transformed section.
#[test]
fn a_rib_stiffens_a_strip_by_its_transformed_section() {
    let (young, length) = (2000.0, 200.0);
    let wall = Section::plain(young, 0.0, 3.0, 0.0);
    let mut structure = grid(100, 10, wall, |x, y| Point3::new(length * x, 20.0 * y, 0.0));
    for t in 0..structure.triangles.len() {
        let middle = structure.corners(t).iter().map(|p| p.y).sum::<f64>() / 3.0;
        if (8.0..12.0).contains(&middle) {
            structure.sections[t] = wall.with(&Section::plain(young, 0.0, 6.0, 4.5));
        }
    }
    let system = factored(&structure, &holds(&structure, |p| [p.x < 1e-9; 6]));
    let loads = on_edge(&structure, Vector6::ith(2, 1.0), |p| p.x > length - 1e-9);
    let tip = system.under(&loads)[nearest(&structure, length, 10.0, 0.0)][2];
    is_near("tip", tip, length.powi(3) / (3.0 * young * 464.143), 0.03);
}

/// A quarter of the cell of a perforated plate: its outline, and the two sides along each axis that stay straight.
fn cell(pitch: f64, hole: f64, triangular: bool) -> (Vec<Point2<f64>>, f64, f64) {
    let (a, b) = (0.5 * pitch, if triangular { 0.75_f64.sqrt() * pitch } else { 0.5 * pitch });
    let r = 0.5 * hole;
    let mut outline = arc([0.0, 0.0], r, [1.0, 0.0], 16);
    outline.push(Point2::new(a, 0.0));
    if triangular {
        outline.extend(arc([a, b], r, [3.0, 2.0], 16));
    } else {
        outline.push(Point2::new(a, b));
    }
    outline.push(Point2::new(0.0, b));
    (outline, a, b)
}

/// Young's modulus and Poisson's ratio of perforated plates pulled along a row, as shares: a spectral solution of the
/// periodic cell, which Slot 1972, "Stress analysis of thick perforated plates", table B.2, confirms for the square array
/// at a Poisson's ratio of 0; they do not hang on that of the plate (Day et al. 1992), ν* = c + ν E*/E.
#[test]
fn perforated_plates_are_as_soft_as_published() {
    let (young, poisson) = (3000.0, 0.3);
    for (triangular, width, share, c) in [
        (false, 0.3, 0.40685, 0.0754),
        (false, 0.5, 0.61682, 0.0814),
        (true, 0.3, 0.26749, 0.3038),
        (true, 0.5, 0.52910, 0.1606),
    ] {
        let pitch = 10.0;
        let (outline, a, b) = cell(pitch, pitch * (1.0 - width), triangular);
        let structure = region(&[outline], 0.5, Section::plain(young, poisson, 1.0, 0.0));
        let mut supports = holds(&structure, |p| {
            let (left, low) = (p.x < 1e-9, p.y < 1e-9);
            let (right, high) = (p.x > a - 1e-9, p.y > b - 1e-9);
            [left, low, true, true, true, left || low || right || high]
        });
        let pulled = tie(&structure, &mut supports, 0, |p| p.x > a - 1e-9);
        let beside = tie(&structure, &mut supports, 1, |p| p.y > b - 1e-9);
        let mut loads = unloaded(&structure);
        loads[pulled][0] = b;
        let found = factored(&structure, &supports).under(&loads);
        let strain = found[pulled][0] / a;
        is_near("softer", 1.0 / (young * strain), share, 0.05);
        is_near("narrower", -found[beside][1] / b / strain, c + poisson * share, 0.05);
    }
}

/// The same bent: the exact solution of the cell in three dimensions for a plate of a tenth of the pitch.
#[test]
fn perforated_plates_bend_as_published() {
    let (young, poisson, pitch, thickness) = (3000.0, 0.3, 10.0, 1.0);
    for (width, share, narrowing) in [(0.3, 0.3897, 0.103), (0.5, 0.6369, 0.181), (0.7, 0.8494, 0.254)] {
        let (outline, a, b) = cell(pitch, pitch * (1.0 - width), true);
        let structure = region(&[outline], 0.5, Section::plain(young, poisson, thickness, 0.0));
        let mut supports = holds(&structure, |p| [true, true, false, p.y < 1e-9, p.x < 1e-9, true]);
        let bent = tie(&structure, &mut supports, 4, |p| p.x > a - 1e-9);
        let beside = tie(&structure, &mut supports, 3, |p| p.y > b - 1e-9);
        supports[nearest(&structure, a, 0.0, 0.0)][2] = Hold::Held;
        let mut loads = unloaded(&structure);
        loads[bent][4] = b;
        let found = factored(&structure, &supports).under(&loads);
        let curvature = found[bent][4] / a;
        is_near("softer", 12.0 / (young * curvature * thickness.powi(3)), share, 0.05);
        is_near("bent across", found[beside][3] / b / curvature, narrowing, 0.10);
    }
}

/// Kirsch 1898: three times the stress beside a round hole in a wide plate.
#[test]
fn stress_beside_a_hole_is_three_times_as_large() {
    let (young, poisson, radius, size) = (3000.0, 0.3, 1.0, 30.0);
    let mut outline = arc([0.0, 0.0], radius, [1.0, 0.0], 24);
    outline.extend([Point2::new(size, 0.0), Point2::new(size, size), Point2::new(0.0, size)]);
    let structure = region(&[outline], 3.0, Section::plain(young, poisson, 1.0, 0.0));
    let supports = holds(&structure, |p| {
        let (left, low) = (p.x < 1e-9, p.y < 1e-9);
        [left, low, true, true, true, left || low]
    });
    let loads = on_edge(&structure, Vector6::ith(0, size), |p| p.x > size - 1e-9);
    let found = factored(&structure, &supports).under(&loads);
    // On a free edge there is no stress but along it: it is told by how much the edge's first side got longer.
    let top = nearest(&structure, 0.0, radius, 0.0);
    let by = |v: &usize| (structure.points[*v] - structure.points[top]).norm();
    let on_hole =
        (0..structure.points.len()).filter(|v| *v != top && structure.points[*v].coords.norm() < radius + 1e-6);
    let next = on_hole.min_by(|a, b| by(a).total_cmp(&by(b))).unwrap();
    let way = (structure.points[next] - structure.points[top]).normalize();
    let moved = (found[next] - found[top]).fixed_rows::<3>(0).into_owned();
    is_near("stress", young * moved.dot(&way) / by(&next), 3.0, 0.05);
}

/// A long strip on foam that cannot pull, a load across its middle: it lies on as far as π/2λ, λ = (k/4EI)^¼, as the end of a
/// free beam does not move where cosh λc cos λc = 0, and gives P λ / 2k times coth π/2 (Hetényi 1946, "Beams on Elastic
/// Foundation"; Weitsman 1970, J. Appl. Mech. 37, 1019–1030).
#[test]
fn a_strip_lifts_off_foam_as_weitsman_found() {
    let (young, thickness, width, foam) = (2000.0, 2.0_f64, 4.0, 0.01);
    let lambda = (foam * width / (4.0 * young * width * thickness.powi(3) / 12.0)).powf(0.25);
    let length = 2.5 * std::f64::consts::FRAC_PI_2 / lambda;
    let section = Section::plain(young, 0.0, thickness, 0.0);
    let structure = grid(200, 2, section, |x, y| Point3::new(length * x, width * y, 0.0));
    let held = holds(&structure, |p| [true, true, false, true, p.x < 1e-9, true]);
    // A foam that is as good as linear.
    let curve = FoamCurve { young_mpa: foam, collapse_mpa: 1e6, air_mpa: 0.0, solid_share: 0.0 };
    let layers = Layers { foam: curve, foam_mm: 1.0, under: None };
    let areas = spread(&structure, [0.0, 0.0, 1.0]);
    let rests: Vec<Rest> = (0_u32..)
        .zip(&areas)
        .map(|(node, area)| Rest { node, out: Vector3::z(), area_mm2: area[2], gap_mm: 0.0, bed: Bed::Layers(layers) })
        .collect();
    let load = 0.05;
    let loads = on_edge(&structure, Vector6::ith(2, -0.5 * load), |p| p.x < 1e-9);
    let assembly = structure.assembled(&held).unwrap();
    let found =
        Laid { shell: &assembly, springs: &[], rests: &rests }.at_rest(&loads, None, BALANCED, &Job::silent()).unwrap();
    let gives = -found.moved[nearest(&structure, 0.0, 0.0, 0.0)][2];
    let coth = 1.0 / std::f64::consts::FRAC_PI_2.tanh();
    is_near("gives", gives, load * lambda / (2.0 * foam * width) * coth, 0.01);
    let lies_on = structure.points.iter().zip(&found.moved).filter(|(_, moved)| moved[2] < 0.0).map(|(p, _)| p.x);
    is_near("lies on", lies_on.fold(0.0, f64::max), std::f64::consts::FRAC_PI_2 / lambda, 0.02);
    let carried: f64 = found.pressure_mpa.iter().zip(&areas).map(|(p, area)| p * area[2]).sum();
    is_near("carried", carried, 0.5 * load, 1e-6);
    assert!(found.steps < 15, "{}", found.steps);
}
