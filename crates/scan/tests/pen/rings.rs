//! Rings inside the pen line, and what looks like one and is none.

use mesh::Job;
use scan::pen::{PenFinding, PenLine, PenSettings, find};

use crate::measure::apart;
use crate::skin::{
    BLACK, BLUE, Place, Skin, Stroke, TONES, WHITE, blob, contains, dashed, on_tube, overlap, place, place_of,
};

/// The middle of everything that is drawn here.
const U: f32 = 100.0;

fn stroke(path: Vec<Place>, closed: bool, width: f32) -> Stroke {
    Stroke { path, closed, width, colour: BLACK, cover: 0.93 }
}

fn main_line(seed: u64) -> Vec<Place> {
    blob(place(U, 0.0), 44.0, 60.0, seed)
}

fn line_on(name: &str, skin: &Skin) -> PenLine {
    match find(&skin.build(), &PenSettings::default(), &Job::silent()).unwrap() {
        PenFinding::Closed(line) => line,
        PenFinding::Open { why, .. } => panic!("{name}: {why}"),
        PenFinding::None { why } => panic!("{name}: {why}"),
    }
}

/// The main line with things drawn inside it.
fn with(seed: u64, inside: Vec<Stroke>) -> Skin {
    let mut strokes = vec![stroke(main_line(seed), true, 3.0)];
    strokes.extend(inside);
    Skin { tone: TONES[(seed % 5) as usize], strokes, spacing: 1.1, moles: 10, seed, ..Skin::default() }
}

/// Area inside a closed path on the tube, mm²: the tube's skin is laid flat along the path's coordinates, stretched
/// round the limb by the local radius.
fn area_mm2(path: &[Place]) -> f64 {
    let (mut area, step) = (0.0, 0.25_f32);
    let (low, high) = path.iter().fold((path[0], path[0]), |(l, h), p| (l.inf(p), h.sup(p)));
    let mut p = low;
    while p.y < high.y {
        p.x = low.x;
        while p.x < high.x {
            if contains(path, &p) {
                let [a, b, c] = [p, place(p.x + step, p.y), place(p.x, p.y + step)].map(|q| on_tube(&q));
                area += f64::from((b - a).cross(&(c - a)).norm());
            }
            p.x += step;
        }
        p.y += step;
    }
    area
}

fn is_ring_at(name: &str, line: &PenLine, k: usize, truth: &[Place]) {
    let ring = &line.rings[k];
    let (mean, most) = apart(&ring.centre, &truth.iter().map(on_tube).collect::<Vec<_>>());
    let area = area_mm2(truth);
    eprintln!(
        "{name}: mean {mean:.3} mm, most {most:.2} mm, {:.0} of {area:.0} mm², {:.1} wide",
        ring.area_mm2, ring.width_mm
    );
    assert!(mean < 0.35 && most < 1.2, "{name}: mean {mean}, most {most}");
    // Noise and the band of a millimetre at the line itself, which counts with either side.
    let edge = 0.5 * ring.centre.len() as f64;
    assert!((ring.area_mm2 - area).abs() < 0.06 * area + edge, "{name}: {} of {area} mm²", ring.area_mm2);
    assert!(contains(truth, &place_of(&ring.seed_inside, U)), "{name}: seed outside");
    let found: Vec<Place> = ring.centre.iter().map(|p| place_of(p, U)).collect();
    assert!(overlap(&found, truth) > 0.9);
    // Inside is on the left: anticlockwise in (u, z), as the tube is seen from outside.
    let turn: f32 = (0..found.len()).map(|i| found[i].coords.perp(&found[(i + 1) % found.len()].coords)).sum();
    assert!(turn > 0.0, "{name}: runs clockwise");
}

#[test]
fn a_ring_of_one_to_sixty_square_centimetres_is_found() {
    for (k, (a, b)) in [(6.2, 6.2), (8.0, 8.0), (10.0, 14.0), (18.0, 22.0), (33.0, 47.0)].into_iter().enumerate() {
        for (i, width) in [2.0, 3.0].into_iter().enumerate() {
            let seed = 600 + (2 * k + i) as u64;
            let ring = blob(place(U + 2.0, -3.0), a, b, seed + 50);
            let name = format!("ring of {a} by {b} mm, {width} wide");
            let line = line_on(&name, &with(seed, vec![stroke(ring.clone(), true, width)]));
            assert!(overlap(&line.centre.iter().map(|p| place_of(p, U)).collect::<Vec<_>>(), &main_line(seed)) > 0.97);
            assert_eq!(line.rings.len(), 1, "{name}: {}", line.sentence);
            is_ring_at(&name, &line, 0, &ring);
            assert!((line.rings[0].width_mm - width).abs() < 0.6, "{name}: {}", line.rings[0].width_mm);
            assert!(line.others.is_empty(), "{name}: {}", line.sentence);
            assert!(line.sentence.contains("1 ring inside it"), "{}", line.sentence);
        }
    }
}

#[test]
fn several_rings_come_largest_first_and_nested_ones_only_once() {
    let [small, large, middle] = [
        blob(place(U - 18.0, -28.0), 8.0, 8.0, 1),
        blob(place(U, 18.0), 22.0, 20.0, 2),
        blob(place(U + 14.0, -24.0), 12.0, 12.0, 3),
    ];
    let nested = [blob(place(U, 18.0), 10.0, 9.0, 4), blob(place(U, -20.0), 6.0, 6.0, 5)];
    let drawn = [&small, &large, &middle, &nested[0]].map(|p| stroke(p.clone(), true, 2.5));
    let line = line_on("several", &with(620, drawn.into()));
    assert_eq!(line.rings.len(), 3, "{}", line.sentence);
    for (k, truth) in [&large, &middle, &small].into_iter().enumerate() {
        is_ring_at(&format!("ring {k} of three"), &line, k, truth);
    }
}

#[test]
fn a_ring_inside_a_dashed_line_and_a_dashed_ring() {
    for seed in 630..633 {
        let path = main_line(seed);
        let (one, other) = (blob(place(U, -22.0), 10.0, 11.0, seed + 1), blob(place(U, 22.0), 20.0, 22.0, seed + 2));
        let mut strokes = dashed(&path, 8.0, 6.0, 3.0, BLUE);
        strokes.push(stroke(one.clone(), true, 3.0));
        strokes.extend(dashed(&other, 5.0, 5.0, 2.5, BLUE));
        let skin = Skin { tone: TONES[(seed % 4) as usize], strokes, spacing: 1.0, moles: 6, seed, ..Skin::default() };
        let line = line_on("dashed line", &skin);
        assert!(line.dashes > 15, "{}", line.sentence);
        assert!(overlap(&line.centre.iter().map(|p| place_of(p, U)).collect::<Vec<_>>(), &path) > 0.97);
        assert_eq!(line.rings.len(), 2, "{}", line.sentence);
        is_ring_at("dashed ring", &line, 0, &other);
        is_ring_at("ring in a dashed line", &line, 1, &one);
        assert!(line.rings[0].dashes >= 6 && line.rings[1].dashes == 0);
    }
}

#[test]
fn a_light_ring_in_a_light_line() {
    let ring = blob(place(U, 0.0), 12.0, 14.0, 641);
    let mut skin = with(640, vec![stroke(ring.clone(), true, 3.0)]);
    skin.tone = TONES[5];
    skin.strokes.iter_mut().for_each(|s| s.colour = WHITE);
    let line = line_on("light", &skin);
    assert_eq!(line.rings.len(), 1);
    is_ring_at("light ring", &line, 0, &ring);
}

/// Points joined by straight strokes, as (across, up) in mm.
type Line<'a> = &'a [(f32, f32)];

/// Strokes about a middle.
fn figure(middle: Place, lines: &[Line<'_>], scale: f32) -> Vec<Stroke> {
    let at = |(x, y): &(f32, f32)| place(middle.x + scale * x, middle.y + scale * y);
    lines.iter().map(|line| stroke(line.iter().map(at).collect(), false, 2.5)).collect()
}

/// Part of a circle from one angle to another, in parts of a turn.
fn arc(middle: (f32, f32), radius: f32, from: f32, to: f32) -> Vec<(f32, f32)> {
    (0..=24)
        .map(|i| {
            let t = std::f32::consts::TAU * (from + (to - from) * i as f32 / 24.0);
            (middle.0 + radius * t.cos(), middle.1 + radius * t.sin())
        })
        .collect()
}

fn no_ring(name: &str, inside: Vec<Stroke>, seed: u64) {
    let line = line_on(name, &with(seed, inside));
    let near: Vec<Place> = line.centre.iter().map(|p| place_of(p, U)).collect();
    assert!(overlap(&near, &main_line(seed)) > 0.95, "{name}: the main line is lost");
    assert!(line.rings.is_empty(), "{name}: {}", line.sentence);
}

#[test]
fn crosses_are_no_rings() {
    for (k, half) in [5.0_f32, 9.0, 14.0].into_iter().enumerate() {
        let upright: [Line<'_>; 2] = [&[(-1.0, 0.0), (1.0, 0.0)], &[(0.0, -1.0), (0.0, 1.0)]];
        no_ring("plus", figure(place(U, 0.0), &upright, half), 650 + k as u64);
        let slanted: [Line<'_>; 2] = [&[(-1.0, -1.0), (1.0, 1.0)], &[(-1.0, 1.0), (1.0, -1.0)]];
        no_ring("times", figure(place(U, 0.0), &slanted, half), 660 + k as u64);
    }
    // A hash: four strokes that enclose a square of 1.4 cm² between them.
    let hash: [Line<'_>; 4] =
        [&[(-6., -15.), (-6., 15.)], &[(6., -15.), (6., 15.)], &[(-15., -6.), (15., -6.)], &[(-15., 6.), (15., 6.)]];
    no_ring("hash", figure(place(U, 0.0), &hash, 1.0), 670);
}

#[test]
fn letters_are_no_rings() {
    let bowl = |y: f32| -> Vec<(f32, f32)> {
        let mut bowl = vec![(-6.0, y + 7.0)];
        bowl.extend(arc((0.0, y), 7.0, 0.25, -0.25));
        bowl.push((-6.0, y - 7.0));
        bowl
    };
    let (upper, lower, stem) = (bowl(7.0), bowl(-7.0), vec![(-6.0, -14.0), (-6.0, 14.0)]);
    let leg = vec![(0.0, 0.0), (7.0, -14.0)];
    let (left, right, bar) =
        (vec![(-11.0, -15.0), (0.0, 15.0)], vec![(0.0, 15.0), (11.0, -15.0)], vec![(-7.5, -5.5), (7.5, -5.5)]);
    let c = arc((0.0, 0.0), 10.0, 0.12, 0.88);
    let o: Vec<(f32, f32)> = arc((0.0, 0.0), 5.0, 0.0, 1.0);
    let u: Vec<(f32, f32)> = [vec![(-8.0, 14.0)], arc((0.0, -4.0), 8.0, 0.5, 1.0), vec![(8.0, 14.0)]].concat();
    let eight = [arc((0.0, 8.0), 8.0, -0.25, 0.75), arc((0.0, -8.0), 8.0, 0.25, 1.25)].concat();
    let six = [arc((10.0, -6.0), 18.0, 0.32, 0.5), arc((0.0, -6.0), 8.0, 0.5, 1.5)].concat();
    let letters: [(&str, Vec<Line<'_>>); 9] = [
        ("A", vec![&left, &right, &bar]),
        ("B", vec![&stem, &upper, &lower]),
        ("C", vec![&c]),
        ("O of 1 cm", vec![&o]),
        ("P", vec![&stem, &upper]),
        ("R", vec![&stem, &upper, &leg]),
        ("U", vec![&u]),
        ("8", vec![&eight]),
        ("6", vec![&six]),
    ];
    for (k, (name, lines)) in letters.into_iter().enumerate() {
        for scale in [0.6, 1.0] {
            no_ring(&format!("{name}, {scale} times"), figure(place(U, 0.0), &lines, scale), 680 + k as u64);
        }
    }
}

#[test]
fn spots_and_stray_marks_are_no_rings() {
    for (k, size) in [4.0_f32, 8.0, 12.0, 18.0].into_iter().enumerate() {
        let spot = vec![place(U, 0.0), place(U + 0.1, 0.0)];
        no_ring(&format!("spot of {size} mm"), vec![stroke(spot, false, size)], 710 + k as u64);
    }
    let marks: [Line<'_>; 5] = [
        &[(-20., -30.), (-4., -24.)],
        &[(10., -30.), (16., -12.), (4., -2.)],
        &[(-22., 4.), (-14., 22.), (-2., 28.), (12., 24.)],
        &[(6., 8.), (20., 10.)],
        &[(-10., -8.), (-9., 6.)],
    ];
    no_ring("stray marks", figure(place(U, 0.0), &marks, 1.0), 720);
    // A ring of less than a square centimetre, and one that is too near to the main line.
    no_ring("small ring", vec![stroke(blob(place(U, 0.0), 4.2, 4.2, 721), true, 2.0)], 721);
    let shrunk = main_line(722).iter().map(|p| place(U + (p.x - U) * 0.9, p.y * 0.9)).collect();
    no_ring("line drawn twice", vec![stroke(shrunk, true, 2.5)], 722);
}

#[test]
fn rings_outside_the_line_and_across_it_are_none_of_its_rings() {
    let beside = blob(place(U + 75.0, 0.0), 12.0, 12.0, 731);
    let line = line_on("beside", &with(730, vec![stroke(beside, true, 3.0)]));
    assert!(line.rings.is_empty() && line.others.len() == 1, "{}", line.sentence);
}

#[test]
fn a_ring_inside_a_line_that_does_not_close_is_not_taken_for_the_line() {
    for dashes in [false, true] {
        let path = main_line(740);
        let ring = blob(place(U, 4.0), 14.0, 13.0, 741);
        let mut skin = with(740, vec![stroke(ring.clone(), true, 3.0)]);
        if dashes {
            let mut row = dashed(&path, 8.0, 6.0, 3.0, BLACK);
            row.remove(4);
            row.push(stroke(ring.clone(), true, 3.0));
            skin.strokes = row;
        } else {
            skin.gaps = vec![(path[100], 9.0)];
        }
        let PenFinding::Open { proposal, why, .. } =
            find(&skin.build(), &PenSettings::default(), &Job::silent()).unwrap()
        else {
            panic!("dashes {dashes}: the ring is taken for the line")
        };
        eprintln!("ring in an open line: {why}");
        let line = proposal.unwrap().line;
        assert!(overlap(&line.centre.iter().map(|p| place_of(p, U)).collect::<Vec<_>>(), &path) > 0.95);
        assert_eq!(line.rings.len(), 1);
        is_ring_at("ring in an open line", &line, 0, &ring);
    }
}
