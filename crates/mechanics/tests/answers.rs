//! What a guard on a tube comes to: signs and orders of magnitude that any such guard has.

use std::sync::Arc;

use mechanics::answer::{Answer, Weak};
use mechanics::mid_surface::{Fineness, MidSurface, Slice};
use mechanics::ready::{Aimed, End, Ready, Setting, Struck, Without};
use mechanics::strength::{Plastic, Strength, stresses};
use mechanics::striker::Line;
use mechanics::surroundings::{Foam, SourcedBlow, SourcedTissue, blows, foams, tissues};
use mechanics::worn::Built;
use mechanics::{Material, Materials};
use mesh::{Hit, Job, Surface, TriangleFeature};
use nalgebra::{Matrix3, Point3, Vector3};
use shared::tube::{RADIUS, on_a_tube};
use shell::{Design, Rim, VentKind, Vents, arrange};
use zone::Zone;

mod shared;

const HEIGHT: f32 = 110.0;
/// Half the width of the zone on the skin.
const HALF: f32 = 45.0;

/// A guard on a tube as thick as a forearm.
struct Tube {
    skin: Surface,
    zone: Zone,
}

impl Tube {
    fn new(half: f32) -> Self {
        let (skin, zone) = on_a_tube(half, HEIGHT, 1.5);
        Self { skin, zone }
    }

    fn middle(&self, vents: Option<Vents>, thickness_mm: f32) -> Arc<MidSurface> {
        let rim = Rim { round_mm: 0.5, flare_mm: 0.0, flare_width_mm: 1.0, bead_mm: 0.0 };
        let design = Design { gap_mm: 4.0, thickness_mm, rim, vents, ..Design::default() };
        let job = Job::silent();
        let layout = arrange(&self.skin, &self.zone, &design, &job).expect("it can be made");
        let made = MidSurface::new(&self.skin, &self.zone, &design, &layout, &Fineness::default(), &job);
        Arc::new(made.expect("it can be made"))
    }
}

/// All else that is asked.
struct Asking {
    foam: Foam,
    foam_mm: f64,
    tissue: SourcedTissue,
    blow: SourcedBlow,
    layers: Vector3<f64>,
}

impl Asking {
    fn usual() -> Self {
        let tissue = tissues().into_iter().find(|tissue| tissue.site == "forearm").expect("it is there");
        Self { foam: foams().remove(0), foam_mm: 4.0, tissue, blow: blows().remove(0), layers: Vector3::x() }
    }

    fn setting(&self) -> Setting<'_> {
        Setting {
            foam: &self.foam,
            foam_mm: self.foam_mm,
            tissue: Some(&self.tissue),
            straps: &[],
            strap_pull_n: 60.0,
            layers: self.layers,
        }
    }

    fn aimed(&self, middle: &MidSurface, at: Point3<f64>) -> Aimed {
        Aimed { blow: self.blow.blow(), line: Line::square_to(middle, &at).expect("it has nodes") }
    }

    fn struck(&self, middle: &Arc<MidSurface>, material: &Material, end: End) -> Struck {
        let aimed = self.aimed(middle, Point3::new(f64::from(RADIUS), 0.0, 0.0));
        self.ready(middle, material, end).struck(&aimed, &Job::silent()).expect("an answer")
    }

    fn ready(&self, middle: &Arc<MidSurface>, material: &Material, end: End) -> Ready {
        // Assembled for another modulus: it counts as told.
        let plastic = Plastic { young_mpa: 1000.0, poisson: material.poisson_ratio.value };
        let built = Built::new(middle, plastic).expect("an assembly");
        Ready::new(&built, &self.setting(), material, end, &Job::silent()).expect("it lies on the limb")
    }

    fn answer(&self, middle: &Arc<MidSurface>, material: &Material) -> Answer {
        Answer::of(material, &self.struck(middle, material, End::Usual), &[])
    }
}

fn materials() -> [Material; 3] {
    Materials::built_in().materials.try_into().expect("three")
}

#[test]
#[allow(clippy::print_stdout)]
fn a_shell_spreads_a_blow_and_the_stiffer_the_more() {
    let (tube, asking) = (Tube::new(HALF), Asking::usual());
    let middle = tube.middle(None, 3.0);
    let [rigid, semi_rigid, flexible] = materials().map(|material| asking.answer(&middle, &material));
    let aimed = asking.aimed(&middle, Point3::new(f64::from(RADIUS), 0.0, 0.0));
    let Without { foam_alone, bare_skin } = asking.setting().without(&tube.skin, &aimed, &Job::silent()).unwrap();
    let (foam_alone, bare_skin) = (foam_alone.unwrap(), bare_skin.unwrap());
    for answer in [&rigid, &semi_rigid, &flexible] {
        println!(
            "{}: push {:.2} mm, {:.0} N in {:.1} ms, {:.0} kPa, dent {:.1} mm, {:.2} times to spare",
            answer.name,
            answer.push_mm.value,
            answer.force_n.value,
            answer.time_ms,
            answer.peak_kpa.value,
            answer.dent_mm.value,
            answer.spare.value
        );
    }
    // The pressure on the skin: rigid, semi-rigid, flexible, foam alone, bare.
    let peaks = [rigid.peak_kpa.value, semi_rigid.peak_kpa.value, flexible.peak_kpa.value, 1e3 * foam_alone.peak_mpa];
    assert!(peaks.is_sorted_by(|a, b| a < b), "{peaks:?}");
    assert!(foam_alone.peak_mpa < bare_skin.peak_mpa);
    // The dome alone would press a place of a few square centimetres; under a shell it is a good part of the guard.
    assert!(rigid.areas_mm2[0] > 3.0 * foam_alone.areas_mm2[0], "{:?} {foam_alone:?}", rigid.areas_mm2);
    // Under a hand, as a splint, and nearest to breaking.
    assert!(rigid.push_mm.value < flexible.push_mm.value);
    assert!(rigid.bending_n_m_per_deg.value > 20.0 * flexible.bending_n_m_per_deg.value);
    assert!(flexible.spare.value > rigid.spare.value);
    // A weight that falls from 12 cm is stopped in some milliseconds.
    assert!(rigid.time_ms > 1.0 && rigid.time_ms < 20.0, "{}", rigid.time_ms);
    // An arc of a good third of the way round lies on without being sprung.
    assert_eq!(rigid.springing.map(|on| on.opening_mm), Some(0.0));
}

#[test]
fn vents_make_it_softer_and_a_thicker_wall_and_liner_help() {
    let (tube, mut asking) = (Tube::new(HALF), Asking::usual());
    let [rigid, ..] = materials();
    let vents = Some(Vents { kind: VentKind::Round, size_mm: 9.0, ligament_mm: 3.0, ..Vents::USUAL });
    let [plain, vented, thicker] =
        [(None, 3.0), (vents, 3.0), (None, 4.0)].map(|(vents, wall)| tube.middle(vents, wall));
    let [on_plain, on_vented, on_thicker] = [&plain, &vented, &thicker].map(|middle| asking.answer(middle, &rigid));
    assert!(on_vented.bending_n_m_per_deg.value < 0.9 * on_plain.bending_n_m_per_deg.value);
    assert!(on_vented.peak_kpa.value > on_plain.peak_kpa.value);
    assert!(on_vented.spare.value < on_plain.spare.value);
    assert!(on_thicker.peak_kpa.value < on_plain.peak_kpa.value && on_thicker.spare.value > on_plain.spare.value);
    // The gap is filled by either liner.
    asking.foam_mm = 2.0;
    let shallow = Tube::new(HALF);
    let rim = Rim { round_mm: 0.5, flare_mm: 0.0, flare_width_mm: 1.0, bead_mm: 0.0 };
    let design = Design { gap_mm: 2.0, thickness_mm: 3.0, rim, ..Design::default() };
    let job = Job::silent();
    let layout = arrange(&shallow.skin, &shallow.zone, &design, &job).unwrap();
    let near = MidSurface::new(&shallow.skin, &shallow.zone, &design, &layout, &Fineness::default(), &job).unwrap();
    let thin = asking.answer(&Arc::new(near), &rigid);
    assert!(thin.force_n.value > on_plain.force_n.value, "{:?} {:?}", thin.force_n, on_plain.force_n);
}

/// A long narrow guard is bent along the limb: printed upright its layers part first, lying flat they do not.
#[test]
fn an_upright_print_breaks_across_its_layers_first() {
    let (tube, mut asking) = (Tube::new(0.5 * HALF), Asking::usual());
    let middle = tube.middle(None, 3.0);
    let [rigid, ..] = materials();
    let flat = asking.answer(&middle, &rigid);
    asking.layers = Vector3::z();
    let upright = asking.answer(&middle, &rigid);
    assert_eq!((flat.weak, upright.weak), (Weak::AlongLayers, Weak::AcrossLayers));
    assert!(upright.spare.value < flat.spare.value);
}

/// What is struck again lies as if it had not been struck before.
#[test]
fn a_guard_can_be_struck_again_and_elsewhere() {
    let (tube, asking) = (Tube::new(HALF), Asking::usual());
    let middle = tube.middle(None, 3.0);
    let [rigid, ..] = materials();
    let ready = asking.ready(&middle, &rigid, End::Usual);
    let job = Job::silent();
    let aimed = [0.0, 30.0].map(|z| asking.aimed(&middle, Point3::new(f64::from(RADIUS), 0.0, z)));
    let first = ready.struck(&aimed[0], &job).unwrap();
    let elsewhere = ready.struck(&aimed[1], &job).unwrap();
    let again = ready.struck(&aimed[0], &job).unwrap();
    assert!((again.peak_mpa / first.peak_mpa - 1.0).abs() < 1e-9);
    // Nearer to its edge it gives more.
    assert!(elsewhere.dent_mm > 1.1 * first.dent_mm, "{} {}", elsewhere.dent_mm, first.dent_mm);
}

#[test]
fn ranges_hold_the_usual_value() {
    let (tube, asking) = (Tube::new(HALF), Asking::usual());
    let middle = tube.middle(None, 3.0);
    let [rigid, ..] = materials();
    let [usual, softest, stiffest] =
        [End::Usual, End::Softest, End::Stiffest].map(|end| asking.struck(&middle, &rigid, end));
    let answer = Answer::of(&rigid, &usual, &[&softest, &stiffest]);
    for ranged in
        [answer.push_mm, answer.force_n, answer.peak_kpa, answer.dent_mm, answer.spare, answer.bending_n_m_per_deg]
    {
        assert!(ranged.low < ranged.value && ranged.value < ranged.high, "{ranged:?}");
    }
}

/// A flat strip that is pulled and bent: F / A and 6 M / b t², counted less where it is bent by a material that is stronger so.
#[test]
fn stresses_of_a_strip_are_those_of_a_beam() {
    let (length, width, thickness) = (60.0, 10.0, 2.0);
    let shape = shared::grid(30, 6, mechanics::elements::Section::plain(1.0, 0.0, 1.0, 0.0), |x, y| {
        Point3::new(length * x, width * (y - 0.5), 0.0)
    });
    let below = |p: &Point3<f64>| Hit {
        point: (p - Vector3::z()).cast::<f32>(),
        triangle: 0,
        weights: [1.0, 0.0, 0.0],
        distance2: 0.0,
        feature: TriangleFeature::Face,
    };
    let wall = [Slice { thickness_mm: thickness, over_mm: 0.0 }; 3];
    let middle = MidSurface {
        below: shape.points.iter().map(below).collect(),
        inner_mm: vec![0.0; shape.points.len()],
        walls: vec![wall; shape.triangles.len()],
        points: shape.points,
        triangles: shape.triangles,
        notices: Vec::new(),
    };
    let plastic = Plastic { young_mpa: 2000.0, poisson: 0.0 };
    let structure = middle.of(plastic.young_mpa, plastic.poisson);
    let held = shared::holds(&structure, |p| [p.x < 1e-9; 6]);
    let (pull, moment) = (40.0, 30.0);
    let loads =
        shared::on_edge(&structure, nalgebra::Vector6::new(pull, 0.0, 0.0, 0.0, moment, 0.0), |p| p.x > length - 1e-9);
    let moved = shared::factored(&structure, &held).under(&loads);
    let strength = Strength { along_mpa: 20.0, across_mpa: 10.0, bent: 1.5, layers: Vector3::z() };
    let found = stresses(&middle, &plastic, &strength, &moved, &Job::silent()).unwrap();
    let (even, bent) = (pull / (width * thickness), 6.0 * moment / (width * thickness * thickness));
    for places in found.iter().filter(|places| (places[0][0].at.x - 0.5 * length).abs() < 5.0) {
        for faces in places {
            // Seen from above, the moment about the second axis presses the upper face.
            let sides = [faces[0], faces[1]].map(|face| face.von_mises_mpa);
            let both = [(even + bent).abs(), (even - bent).abs()];
            let near = |a: f64, b: f64| (a - b).abs() < 0.02 * bent;
            assert!(
                (near(sides[0], both[0]) && near(sides[1], both[1]))
                    || (near(sides[0], both[1]) && near(sides[1], both[0])),
                "{sides:?} {both:?}"
            );
            let pulled = faces.iter().max_by(|a, b| a.principal_mpa.total_cmp(&b.principal_mpa)).unwrap();
            assert!((pulled.along - (even + bent / 1.5) / 20.0).abs() < 0.02 * bent / 20.0, "{pulled:?}");
            // Layers that lie in the plane of the strip are not pulled apart.
            assert!(pulled.across < 0.02, "{pulled:?}");
        }
    }
}

/// Pulled across its layers a print bears what it does across, sheared along them 0.577 of that, pressed together anything.
#[test]
fn layers_part_when_they_are_pulled_or_sheared() {
    let strength = Strength { along_mpa: 50.0, across_mpa: 25.0, bent: 1.0, layers: Vector3::z() };
    let stress = |zz: f64, xz: f64| Matrix3::new(0.0, 0.0, xz, 0.0, 0.0, 0.0, xz, 0.0, zz);
    let across = |zz: f64, xz: f64| strength.shares(&stress(zz, xz), &Vector3::new(zz, 0.0, xz))[1];
    assert!((across(25.0, 0.0) - 1.0).abs() < 1e-9);
    assert!((across(0.0, 0.577 * 25.0) - 1.0).abs() < 1e-9);
    assert_eq!(across(-40.0, 0.0), 0.0);
    assert!((strength.shares(&stress(0.0, 0.0), &Vector3::new(50.0, 0.0, 0.0))[0] - 1.0).abs() < 1e-9);
}
