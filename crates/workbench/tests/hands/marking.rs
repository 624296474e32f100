//! Pen lines, regions and the trim line.

use bevy::prelude::KeyCode;
use mesh::Job;
use nalgebra::Point3;
use scan::BodySite;
use scan::pen::PenFinding;
use zone::{RegionKind, Source};

use crate::sitting::{Sitting, demo_scan};

/// A stretch of the line is wiped off within this of its middle, mm.
const WIPED_MM: f32 = 14.0;

/// Writes the demo's wrist with its pen line wiped off along a stretch.
fn wiped(into: &std::path::Path) {
    let file = mesh::read::read_file(&demo_scan("wrist-12.ply"), &Job::silent()).expect("the demo scan");
    let mut mesh = file.mesh;
    let truth: serde_json::Value =
        serde_json::from_slice(&std::fs::read(demo_scan("truth.json")).expect("truth")).expect("JSON");
    let line = truth
        .as_array()
        .and_then(|all| all.iter().find(|scan| scan["file"] == "wrist-12.ply"))
        .and_then(|scan| scan["line"].as_array())
        .expect("a line");
    let at = |i: usize| {
        let p = line[i].as_array().expect("a point");
        Point3::from([0, 1, 2].map(|k| p[k].as_f64().expect("a number") as f32))
    };
    let middle = at(line.len() / 3);
    let from_line = |p: &Point3<f32>| (0..line.len()).map(|i| (at(i) - p).norm()).fold(f32::INFINITY, f32::min);
    let colours = mesh.colours.as_mut().expect("colours");
    let near = |p: &Point3<f32>, within: f32| (p - middle).norm() < within;
    // The skin's own colour beside the line.
    let plain: Vec<[u8; 3]> = mesh
        .points
        .iter()
        .zip(colours.iter())
        .filter(|(p, _)| near(p, 2.0 * WIPED_MM) && from_line(p) > 5.0)
        .map(|(_, colour)| *colour)
        .collect();
    let mut others = plain.iter().cycle();
    for (p, colour) in mesh.points.iter().zip(colours.iter_mut()) {
        if near(p, WIPED_MM) && from_line(p) < 5.0 {
            *colour = *others.next().expect("skin beside the line");
        }
    }
    mesh::write::save_atomic(into, |out| mesh::write::ply(&mesh, &[], out)).expect("written");
}

fn zone_line(sitting: &mut Sitting) -> Option<Vec<Point3<f32>>> {
    sitting.design().zone.sources.iter().find_map(|source| match source {
        Source::Line { points_mm, .. } => Some(points_mm.clone()),
        _ => None,
    })
}

/// The line as drawn is the check: closed as proposed, the wiped one may be off it only where it was wiped.
#[test]
fn a_pen_line_that_does_not_close_is_closed_as_proposed_once_it_was_in_sight() {
    let mut whole = Sitting::with(&demo_scan("wrist-12.ply"), BodySite::Wrist);
    whole.trial.press(&[], KeyCode::KeyP);
    let drawn = zone_line(&mut whole).expect("a closed line is taken at the first press");

    let mut sitting = Sitting::begin();
    let scan = sitting.folder.path().join("wiped.ply");
    wiped(&scan);
    sitting.trial.session().open(&scan, BodySite::Wrist, scan::Side::Left);
    sitting.until("the limb", |trial| trial.shows_limb());
    sitting.rests();
    let found = sitting.trial.session().derived().pen.value().expect("searched").clone();
    let PenFinding::Open { proposal: Some(proposal), .. } = &*found else { panic!("{found:?}") };
    assert!(proposal.added_mm > 8.0 && proposal.added_mm < 40.0, "{}", proposal.added_mm);
    // At the scan step the proposal is not in sight: the first press only brings it there.
    sitting.trial.press(&[], KeyCode::KeyP);
    assert_eq!(zone_line(&mut sitting), None, "nothing is taken unseen");
    assert!(sitting.trial.said().is_some_and(|said| said.contains("does not close")));
    sitting.trial.press(&[], KeyCode::KeyP);
    let closed = zone_line(&mut sitting).expect("taken as proposed");
    let off = |p: &Point3<f32>| drawn.iter().map(|q| (p - q).norm()).fold(f32::INFINITY, f32::min);
    let far: Vec<&Point3<f32>> = closed.iter().filter(|p| off(p) > 1.5).collect();
    let widest = far.iter().flat_map(|p| far.iter().map(move |q| (*p - *q).norm())).fold(0.0, f32::max);
    assert!(widest < 2.0 * WIPED_MM + 4.0, "off the line over {widest} mm");
    assert!(closed.iter().all(|p| off(p) < 6.0), "the way across keeps near the line");
    let covers = |p: &Point3<f32>| closed.iter().any(|q| (p - q).norm() < 6.0);
    assert!(drawn.iter().all(covers), "it goes all the way round");
}

/// The paint of the demo ends along the pen line in one part of it and is nowhere near in another.
#[test]
fn the_demo_opens_at_a_half_painted_zone() {
    let mut sitting = Sitting::begin();
    sitting.trial.press(&[], KeyCode::F2);
    sitting.until("the demo", |trial| trial.session().derived().sketch.value().is_some());
    sitting.rests();
    assert_eq!(sitting.trial.view().step, workbench::Step::Zone);
    let design = sitting.design();
    assert_eq!(design.squad_number, Some(23));
    let session = sitting.trial.session();
    let sketch = session.derived().sketch.value().expect("marked").clone();
    let limb = session.derived().limb.value().expect("a limb").clone();
    let Some(PenFinding::Closed(line)) = session.derived().pen.value().map(|found| (**found).clone()) else {
        panic!("the demo has a closed pen line");
    };
    // Painted along one part of the pen line and bare along another.
    let depth = |p: &Point3<f32>| {
        let hit = limb.skin.nearest(p, None).expect("skin");
        let corner = limb.skin.mesh().triangles[hit.triangle as usize][0];
        sketch.covered_mm[corner as usize]
    };
    let painted = line.centre.iter().filter(|p| depth(p) > -2.0).count();
    let share = painted as f32 / line.centre.len() as f32;
    assert!((0.2..0.8).contains(&share), "{share} of the line lies at the paint");
}

/// Corners stand where they were clicked; a dragged one goes along and no other moves.
#[test]
fn an_outline_is_clicked_closed_and_its_corner_dragged() {
    let mut sitting = Sitting::with(&demo_scan("shin-23.obj"), BodySite::Shin);
    sitting.trial.press(&[], KeyCode::KeyO);
    sitting.trial.frame();
    let places = [[0.45, 0.4], [0.55, 0.4], [0.54, 0.6], [0.46, 0.6]].map(|[x, y]| sitting.skin_at(x, y));
    for place in &places {
        let click = sitting.seen(place);
        sitting.trial.click(click);
    }
    sitting.trial.press(&[], KeyCode::Enter);
    let corners = |sitting: &mut Sitting| -> Vec<Point3<f32>> {
        let sources = sitting.design().zone.sources;
        let found = sources.into_iter().find_map(|source| match source {
            Source::Outline { corners_mm, .. } => Some(corners_mm),
            _ => None,
        });
        found.expect("an outline")
    };
    let closed = corners(&mut sitting);
    assert_eq!(closed.len(), 4);
    assert!(closed.iter().zip(&places).all(|(corner, place)| (corner - place).norm() < 0.3), "{closed:?} {places:?}");
    let there = sitting.skin_at(0.43, 0.36);
    let (from, to) = (sitting.seen(&closed[0]), sitting.seen(&there));
    sitting.trial.drag(from, to);
    let dragged = corners(&mut sitting);
    assert!((dragged[0] - there).norm() < 0.3 && dragged[1..] == closed[1..], "{dragged:?}");
    sitting.trial.undo();
    sitting.trial.frame();
    assert_eq!(corners(&mut sitting), closed);
}

/// Two clicks mark the crease of a joint: all skin within the distance in the panel is kept clear, and undo takes it
/// back.
#[test]
fn a_crease_is_marked_by_two_clicks() {
    let mut sitting = Sitting::with(&demo_scan("shin-23.obj"), BodySite::Shin);
    sitting.trial.press(&[], KeyCode::Digit2);
    sitting.trial.press(&[KeyCode::ShiftLeft], KeyCode::KeyC);
    sitting.trial.frame();
    let ends = [[0.46, 0.5], [0.54, 0.5]].map(|[x, y]| sitting.skin_at(x, y));
    for end in &ends {
        let click = sitting.seen(end);
        sitting.trial.click(click);
    }
    let regions = sitting.design().zone.regions;
    let [region] = regions.as_slice() else { panic!("{regions:?}") };
    let RegionKind::KeepClear { margin_mm } = region.kind else { panic!("{region:?}") };
    let [Source::Strokes { dabs }] = region.sources.as_slice() else { panic!("{region:?}") };
    assert!(dabs.iter().all(|dab| (dab.radius_mm + margin_mm - 10.0).abs() < 1e-3), "{region:?}");
    for end in &ends {
        let off = dabs.iter().map(|dab| (dab.at_mm - end).norm()).fold(f32::INFINITY, f32::min);
        assert!(off < 0.5, "{off}");
    }
    sitting.trial.undo();
    sitting.trial.frame();
    assert_eq!(sitting.design().zone.regions, []);
}

/// One press lays a relief over each bony point that the zone covers; then none is left to be offered.
#[test]
fn bony_points_in_the_zone_are_relieved_by_one_press() {
    let mut sitting = Sitting::with(&demo_scan("wrist-12.ply"), BodySite::Wrist);
    sitting.trial.press(&[], KeyCode::Digit2);
    sitting.trial.press(&[], KeyCode::KeyP);
    sitting.rests();
    let bare = |sitting: &mut Sitting| {
        let design = sitting.design();
        sitting.trial.session().derived().bare_bony_points(&design)
    };
    let found = bare(&mut sitting);
    assert!(!found.is_empty(), "the wrist has the head of its ulna");
    assert!(sitting.trial.texts().iter().any(|text| text.text.contains("bony point")), "it is offered");
    sitting.trial.press(&[], KeyCode::KeyM);
    sitting.rests();
    let regions = sitting.design().zone.regions;
    assert_eq!(regions.len(), found.len());
    assert!(regions.iter().all(|region| matches!(region.kind, RegionKind::Relief { .. })), "{regions:?}");
    assert_eq!(bare(&mut sitting), []);
    sitting.trial.undo();
    sitting.rests();
    assert_eq!(bare(&mut sitting), found);
}

/// The edge of the zone runs where its grip was dragged, outward and inward, and undo takes each pull back whole.
#[test]
fn the_trim_line_runs_where_its_grip_is_dragged() {
    let mut sitting = Sitting::with_shell();
    let before = sitting.design().zone;
    for outward_mm in [7.0_f32, -7.0] {
        let session = sitting.trial.session();
        let limb = session.derived().limb.value().expect("a limb").clone();
        let zone = session.derived().zone.value().expect("a zone").clone();
        let eye = sitting.trial.eye().expect("a camera");
        // The grip that faces the camera most squarely.
        let facing = |at: &Point3<f32>| {
            let hit = limb.skin.nearest(at, None).expect("skin");
            limb.skin.normal_at(&hit).dot(&(eye - at).normalize())
        };
        let grips = zone::trim::grips(&limb.skin, &zone.covered.edges);
        let grip = grips.iter().max_by(|a, b| facing(&a.at_mm).total_cmp(&facing(&b.at_mm))).expect("grips");
        let (there, _) = sitting.skin_under(&(grip.at_mm + grip.outward * outward_mm));
        let (stand, _) = sitting.outer_face(&grip.at_mm);
        let (from, to) = (sitting.seen(&stand), sitting.seen(&there));
        sitting.trial.drag(from, to);
        sitting.rests();
        let pulled = sitting.trial.session().derived().zone.value().expect("a zone").clone();
        let away = |p: &Point3<f32>| {
            let edges = pulled.covered.edges.iter().flatten();
            edges.map(|q| (q - p).norm()).fold(f32::INFINITY, f32::min)
        };
        // Points of an edge stand about a millimetre apart, and a fair one leaves its place by up to 1.5 mm.
        assert!(away(&there) < 2.7, "{outward_mm}: the edge passes {there} at {} mm", away(&there));
        assert!(away(&grip.at_mm) > 4.0, "{outward_mm}: the edge has left its grip");
        sitting.trial.undo();
        sitting.rests();
        assert_eq!(sitting.design().zone, before, "{outward_mm}: a pull is one step");
    }
}
