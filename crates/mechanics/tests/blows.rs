//! Blows against closed forms.

mod shared;

use mechanics::blow::{BlowError, Stopped, Strike, met, stopped};
use mechanics::contact::{BALANCED, Bed, Laid, Rest};
use mechanics::elements::{Section, Structure};
use mechanics::foam::{FoamCurve, Layers};
use mechanics::striker::Striker;
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
        assert!(found.tries < 10, "{}", found.tries);
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
