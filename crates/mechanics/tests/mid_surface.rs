//! The middle surface of a guard against closed forms, and against the solid made from the same layout.

mod shared;

use mechanics::mid_surface::{Fineness, MidSurface};
use mesh::{Job, Surface};
use shell::{Design, Quality, RibLayout, Ribs, Rim, VentKind, Vents, arrange, build_layout};
use zone::Zone;

const HEIGHT: f32 = 100.0;
/// Half the width of the zone on the skin.
const HALF: f32 = 35.0;

/// A rectangle on a tube.
fn on_a_tube() -> (Surface, Zone) {
    shared::tube::on_a_tube(HALF, HEIGHT, 1.2)
}

fn plain() -> Design {
    let rim = Rim { round_mm: 0.5, flare_mm: 0.0, flare_width_mm: 1.0, bead_mm: 0.0 };
    Design { gap_mm: 3.0, thickness_mm: 3.0, rim, ribs: None, vents: None, ..Design::default() }
}

/// The middle surface, and the volume of the solid on a grid of 0.5 mm.
fn made(design: &Design) -> (MidSurface, f64) {
    let ((skin, zone), job) = (on_a_tube(), Job::silent());
    let layout = arrange(&skin, &zone, design, &job).expect("it can be made");
    let surface = MidSurface::new(&skin, &zone, design, &layout, &Fineness::default(), &job).expect("it can be made");
    let solid = build_layout(&skin, &zone, design, layout, &Quality::default(), &job).expect("it can be made");
    (surface, solid.mesh.volume_mm3())
}

#[test]
fn a_plain_wall_lies_in_the_middle_and_has_its_volume() {
    let (surface, solid) = made(&plain());
    for p in &surface.points {
        let radius = p.x.hypot(p.y);
        assert!((radius - 44.5).abs() < 0.03, "{radius}");
    }
    let area = f64::from(2.0 * HALF * HEIGHT) * 44.5 / 40.0;
    assert!((surface.area_mm2() / area - 1.0).abs() < 0.01, "{} for {area}", surface.area_mm2());
    assert!((surface.volume_mm3() / solid - 1.0).abs() < 0.01, "{} for {solid}", surface.volume_mm3());
    assert!(surface.notices.is_empty());
    // Outward, as the skin.
    for [a, b, c] in surface.triangles.iter().map(|t| t.map(|v| surface.points[v as usize])) {
        assert!((b - a).cross(&(c - a)).dot(&a.coords) > 0.0);
    }
}

#[test]
fn vents_take_their_own_area_and_ribs_add_their_volume() {
    let vents = Some(Vents { kind: VentKind::Round, size_mm: 8.0, ligament_mm: 3.0, ..Vents::USUAL });
    let ribs = Some(Ribs { layout: RibLayout::Along, height_mm: 2.0, width_mm: 5.0, spacing_mm: 30.0 });
    let (without, _) = made(&plain());
    let (vented, solid) = made(&Design { vents, ..plain() });
    let design = Design { vents, ..plain() };
    let ((skin, zone), job) = (on_a_tube(), Job::silent());
    let count = arrange(&skin, &zone, &design, &job).unwrap().openings.len();
    assert!(count > 20, "{count}");
    // A hole has its own size in the middle of the wall, as far as a polygon has.
    let open = (without.area_mm2() - vented.area_mm2()) / count as f64;
    assert!((open / (16.0 * std::f64::consts::PI) - 1.0).abs() < 0.04, "{open}");
    assert!((vented.volume_mm3() / solid - 1.0).abs() < 0.02, "{} for {solid}", vented.volume_mm3());

    let (ribbed, solid) = made(&Design { ribs, ..plain() });
    assert!(ribbed.volume_mm3() > 1.04 * without.volume_mm3());
    assert!((ribbed.volume_mm3() / solid - 1.0).abs() < 0.02, "{} for {solid}", ribbed.volume_mm3());
    // Ribs do not move the nodes; they thicken the wall outward.
    assert!(ribbed.points.iter().all(|p| (p.x.hypot(p.y) - 44.5).abs() < 0.03));
    let most = ribbed.walls.iter().flatten().map(|slice| slice.over_mm).fold(0.0, f64::max);
    assert!((most - 1.0).abs() < 0.05, "{most}");
}

/// Twice as stiff a material gives half as much, and the wall with vents more than that without.
#[test]
fn a_vented_wall_is_softer() {
    use mechanics::elements::Hold;
    let vents = Some(Vents { kind: VentKind::Round, size_mm: 8.0, ligament_mm: 3.0, ..Vents::USUAL });
    let gives = |surface: &MidSurface, young: f64| {
        // Held along its lower end, pushed at the upper.
        let [low, high] =
            [f64::min as fn(f64, f64) -> f64, f64::max].map(|f| surface.points.iter().map(|p| p.z).reduce(f).unwrap());
        let holds = surface.points.iter().map(|p| [if p.z < low + 2.0 { Hold::Held } else { Hold::Free }; 6]);
        let holds: Vec<_> = holds.collect();
        let top: Vec<usize> = (0..surface.points.len()).filter(|v| surface.points[*v].z > high - 2.0).collect();
        let mut loads = vec![nalgebra::Vector6::zeros(); surface.points.len()];
        top.iter().for_each(|v| loads[*v][0] = -10.0 / top.len() as f64);
        let found = surface.of(young, 0.35).assembled(&holds).unwrap().with(&[]).unwrap().under(&loads);
        top.iter().map(|v| -found[*v][0]).sum::<f64>() / top.len() as f64
    };
    let (without, _) = made(&plain());
    let (vented, _) = made(&Design { vents, ..plain() });
    let (stiff, soft) = (gives(&without, 2000.0), gives(&vented, 2000.0));
    assert!(soft > 1.1 * stiff && stiff > 0.0, "{soft} against {stiff}");
    assert!((gives(&vented, 4000.0) * 2.0 / soft - 1.0).abs() < 1e-9);
}

#[test]
fn a_sleeve_is_refused_in_words() {
    let (skin, mut zone) = on_a_tube();
    let job = Job::silent();
    for (depth, p) in zone.covered.distance_mm.iter_mut().zip(&skin.mesh().points) {
        *depth = 40.0 - p.z.abs();
    }
    let found = MidSurface::new(&skin, &zone, &plain(), &shell::Layout::default(), &Fineness::default(), &job);
    assert_eq!(found.err().map(|error| error.to_string().contains("closes round the limb")), Some(true));
}
