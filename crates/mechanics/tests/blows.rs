//! Blows against closed forms.

mod shared;

use mechanics::blow::{BlowError, Stopped, Strike, met, stopped};
use mechanics::contact::{BALANCED, Bed, Laid, Rest};
use mechanics::elements::{Section, Structure};
use mechanics::foam::{FoamCurve, Layers, Tissue};
use mechanics::in_time::{Pace, in_time};
use mechanics::striker::{Face, Line, Striker};
use mesh::Job;
use nalgebra::{Point3, Vector3};
use shared::{grid, holds, is_near, spread, unloaded};

/// A plate so stiff that it only goes down, on a layer, struck all over by a face as hard.
struct Block {
    structure: Structure,
    rests: Vec<Rest>,
    face: Vec<Rest>,
}

fn block(area_mm2: f64, layers: Layers) -> Block {
    let side = area_mm2.sqrt();
    let structure = grid(4, 4, Section::plain(2e5, 0.3, 20.0, 0.0), |x, y| Point3::new(side * x, side * y, 0.0));
    let areas = spread(&structure, [0.0, 0.0, 1.0]);
    let rest = |(node, area): (u32, &nalgebra::Vector6<f64>)| Rest {
        node,
        out: Vector3::z(),
        area_mm2: area[2],
        gap_mm: 0.0,
        bed: Bed::Layers(layers),
    };
    let rests = (0_u32..).zip(&areas).map(rest).collect();
    let face = (0_u32..).zip(&areas).map(|(node, area)| met(node, -Vector3::z(), area[2], 7.0, 1e4)).collect();
    Block { structure, rests, face }
}

fn struck(block: &Block, striker: &Striker, falls: bool) -> Result<Stopped, BlowError> {
    // Only down, as in a guide.
    let held = holds(&block.structure, |_| [true, true, false, true, true, true]);
    let assembly = block.structure.assembled(&held).expect("an assembly");
    let laid = Laid { shell: &assembly, springs: &[], rests: &block.rests };
    let job = Job::silent();
    let before = laid.at_rest(&unloaded(&block.structure), None, BALANCED, &job).expect("it rests");
    stopped(&laid, &Strike { face: &block.face, striker: *striker, falls }, &before, &job)
}

/// A foam that gives in proportion, MPa.
fn linear(young_mpa: f64) -> FoamCurve {
    FoamCurve { young_mpa, collapse_mpa: 1e6, air_mpa: 0.0, solid_share: 0.0 }
}

/// Of a spring of k a falling body asks m g (1 + √(1 + 2 h k / m g)): 636.195 N of 1 kg from 0.2 m at 100 N/mm, and 1990.40 N
/// at 1000 N/mm.
#[test]
fn a_falling_body_is_stopped_by_a_spring() {
    for (newton_per_mm, force) in [(100.0, 636.195), (1000.0, 1990.40)] {
        let layers = Layers { foam: linear(newton_per_mm / 2000.0 * 5.0), foam_mm: 5.0, under: None };
        let found = struck(&block(2000.0, layers), &Striker::falling(1.0, 0.2), true).unwrap();
        is_near("force", found.pressed.force_n, force, 1e-3);
        is_near("way", found.pressed.way_mm, force / newton_per_mm, 1e-3);
        assert!(found.steps < 15, "{}", found.steps);
    }
}

/// What a foam of 100 kPa plateau takes up over 20 cm² and 12.7 mm to a strain of 0.6: 1.524 J.
#[test]
fn a_plateau_takes_up_its_energy_at_an_even_force() {
    let plateau = FoamCurve { young_mpa: 100.0, collapse_mpa: 0.1, air_mpa: 0.0, solid_share: 0.0 };
    let layers = Layers { foam: plateau, foam_mm: 12.7, under: None };
    let striker = Striker { mass_kg: 1.0, speed_m_per_s: (2.0 * 1.524_f64).sqrt() };
    // A plateau that goes on for ever has no force beyond it: a little air ends it.
    let foam = FoamCurve { air_mpa: 1e-3, ..plateau };
    let found = struck(&block(2000.0, Layers { foam, ..layers }), &striker, false).unwrap();
    is_near("force", found.pressed.force_n, 200.0, 0.03);
    is_near("way", found.pressed.way_mm, 0.6 * 12.7, 0.03);
}

/// Thicker foam lowers the force, a harder blow raises it, and what has no energy is refused.
#[test]
fn more_foam_lowers_the_force_and_more_speed_raises_it() {
    let foam = FoamCurve { young_mpa: 1.0, collapse_mpa: 0.08, air_mpa: 0.1, solid_share: 0.12 };
    let force = |foam_mm: f64, speed_m_per_s: f64| {
        let layers = Layers { foam, foam_mm, under: None };
        struck(&block(2000.0, layers), &Striker { mass_kg: 1.0, speed_m_per_s }, false)
            .map(|found| found.pressed.force_n)
    };
    assert!(force(3.0, 2.0).unwrap() > force(6.0, 2.0).unwrap());
    assert!(force(3.0, 3.0).unwrap() > force(3.0, 2.0).unwrap());
    assert_eq!(force(3.0, 0.0).err(), Some(BlowError::Nothing));
}

/// Bodies that strike a block on a spring, step by step: the furthest way is v √(m / k) after a quarter of a period, π/2 √(m / k),
/// the force then v √(k m), and no energy is lost: there is none to lose.
#[test]
fn in_time_a_spring_stops_a_body_as_a_pendulum_is_stopped() {
    let (newton_per_mm, mass_kg, speed_m_per_s) = (100.0, 1.0, 2.0);
    let layers = Layers { foam: linear(newton_per_mm / 2000.0 * 5.0), foam_mm: 5.0, under: None };
    let block = block(2000.0, layers);
    let held = holds(&block.structure, |_| [true, true, false, true, true, true]);
    let assembly = block.structure.assembled(&held).unwrap();
    let laid = Laid { shell: &assembly, springs: &[], rests: &block.rests };
    let job = Job::silent();
    let before = laid.at_rest(&unloaded(&block.structure), None, BALANCED, &job).unwrap();
    let striker = Striker { mass_kg, speed_m_per_s };
    let strike = Strike { face: &block.face, striker, falls: false };
    // A block without mass, to a part in a million.
    let masses = vec![1e-6; block.structure.points.len()];
    let pace = Pace { step_s: 5e-5, most_steps: 2000 };
    let moments = in_time(&laid, &strike, &masses, &before, &pace, &job).unwrap();
    let most = moments.iter().max_by(|a, b| a.way_mm.total_cmp(&b.way_mm)).unwrap();
    is_near("way", most.way_mm, 2e3 * (mass_kg * 1e-3 / newton_per_mm).sqrt(), 2e-3);
    is_near("time", most.time_s, std::f64::consts::FRAC_PI_2 * (mass_kg / (newton_per_mm * 1e3)).sqrt(), 0.01);
    let energy = striker.energy_j() * 1e3;
    let lost = moments.iter().map(|moment| moment.energy_n_mm.abs()).fold(0.0, f64::max);
    assert!(lost < 1e-3 * energy, "{lost} of {energy}");
    // By its energy alone.
    let stopped = stopped(&laid, &strike, &before, &job).unwrap();
    is_near("by energy", stopped.pressed.force_n, 2.0 * (newton_per_mm * 1e3 * mass_kg).sqrt(), 2e-3);
    is_near("its time", stopped.time_s(&strike), most.time_s, 0.01);
}

/// A plate on foam struck by a ball: energy is kept to a thousandth where the foam gives all back, and it goes as far and takes as
/// long as by energy alone. The force on the ball has in it how the plate's own mass is thrown about: the less, the lighter it is.
#[test]
fn in_time_energy_is_kept_on_a_plate_on_foam() {
    let foam = FoamCurve { young_mpa: 1.2, collapse_mpa: 0.09, air_mpa: 0.101, solid_share: 0.13 };
    let layers = Layers { foam, foam_mm: 4.0, under: Some(Tissue { young_mpa: 0.3, thickness_mm: 15.0 }) };
    let side = 100.0;
    let structure = grid(20, 20, Section::plain(2500.0, 0.35, 3.0, 0.0), |x, y| {
        Point3::new(side * (x - 0.5), side * (y - 0.5), 0.0)
    });
    let areas = spread(&structure, [0.0, 0.0, 1.0]);
    let bed = Bed::Layers(layers);
    let rests: Vec<Rest> = (0_u32..)
        .zip(&areas)
        .map(|(node, area)| Rest { node, out: Vector3::z(), area_mm2: area[2], gap_mm: 0.0, bed })
        .collect();
    let line = Line::new(Point3::origin(), -Vector3::z_axis());
    let ball = Face::Round { radius_mm: 60.0, across_mm: 60.0 };
    let face: Vec<Rest> = (0_u32..)
        .zip(structure.points.iter().zip(&areas))
        .filter_map(|(node, (place, area))| Some(met(node, -Vector3::z(), area[2], line.meets(&ball, place)?, 800.0)))
        .collect();
    let held = holds(&structure, |_| [true, true, false, false, false, true]);
    let assembly = structure.assembled(&held).unwrap();
    let laid = Laid { shell: &assembly, springs: &[], rests: &rests };
    let job = Job::silent();
    let before = laid.at_rest(&unloaded(&structure), None, BALANCED, &job).unwrap();
    let strike = Strike { face: &face, striker: Striker { mass_kg: 2.5, speed_m_per_s: 1.5 }, falls: true };
    let by_energy = stopped(&laid, &strike, &before, &job).unwrap();
    // 1.24 g/cm³, and a tenth of that.
    for (grams_per_mm3, near) in [(0.124e-3, 0.06), (1.24e-3, 0.3)] {
        let masses: Vec<f64> = areas.iter().map(|area| area[2] * 3.0 * grams_per_mm3 * 1e-3).collect();
        let pace = Pace { step_s: 4e-5, most_steps: 400 };
        let moments = in_time(&laid, &strike, &masses, &before, &pace, &job).unwrap();
        let most = moments.iter().max_by(|a, b| a.way_mm.total_cmp(&b.way_mm)).unwrap();
        let energy = strike.striker.energy_j() * 1e3;
        let off = moments.iter().map(|moment| moment.energy_n_mm.abs()).fold(0.0, f64::max) / energy;
        assert!(off < 1e-3, "{off}");
        is_near("way", most.way_mm, by_energy.pressed.way_mm, 0.01);
        is_near("time", by_energy.time_s(&strike), most.time_s, 0.015);
        let force = moments.iter().map(|moment| moment.force_n).fold(0.0, f64::max);
        is_near("force", force, by_energy.pressed.force_n, near);
    }
}
