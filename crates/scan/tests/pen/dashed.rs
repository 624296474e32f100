//! Dashed lines on synthetic skins.

use std::f32::consts::TAU;

use nalgebra::{Point3, Vector2};
use scan::pen::{Ink, NotClosed, PenFinding, PenLine};

use crate::found::{closed, places, search};
use crate::measure::apart;
use crate::skin::{
    BLACK, BLUE, LENGTH, Place, Skin, Stroke, TONES, WHITE, blob, contains, dashed, on_tube, overlap, place, place_of,
    random, uniform,
};

/// Mean and greatest distance allowed between the found line and the one that was drawn, mm.
const MEAN_MM: f32 = 0.35;
const MOST_MM: f32 = 2.0;

fn matches(name: &str, line: &PenLine, truth: &[Place]) {
    let near = truth.iter().map(|p| p.x).sum::<f32>() / truth.len() as f32;
    let (mean, most) = apart(&line.centre, &truth.iter().map(on_tube).collect::<Vec<_>>());
    let overlap = overlap(&places(&line.centre, near), truth);
    eprintln!("{name}: mean {mean:.3} mm, most {most:.2} mm, overlap {overlap:.4}. {}", line.sentence);
    assert!(mean < MEAN_MM && most < MOST_MM, "{name}: mean {mean}, most {most}");
    assert!(overlap > 0.97, "{name}: {overlap}");
    assert!(contains(truth, &place_of(&line.seed_inside, near)), "{name}: seed outside");
}

#[test]
fn dashes_of_three_rhythms_and_widths_on_five_tones() {
    for (k, (on, off)) in [(8.0, 6.0), (5.0, 5.0), (10.0, 8.0)].into_iter().enumerate() {
        for (i, width) in [2.0, 3.0, 4.0].into_iter().enumerate() {
            let seed = 400 + (10 * k + i) as u64;
            let path = blob(place(60.0, 5.0), 30.0, 45.0, seed);
            let strokes = dashed(&path, on, off, width, [BLACK, BLUE][(k + i) % 2]);
            let drawn = strokes.len();
            let spacing = [0.85, 1.0, 1.15][i];
            let skin = Skin { tone: TONES[(3 * k + i) % 5], strokes, spacing, seed, shadow: 0.5, ..Skin::default() };
            let name = format!("{on} on, {off} off, {width} wide");
            let line = closed(&name, &skin);
            matches(&name, &line, &path);
            // A mole on a dash may part it in two or join two.
            assert!(line.dashes.abs_diff(drawn) <= 1, "{name}: {} of {drawn} dashes", line.dashes);
            assert!((line.width_mm - width).abs() < 0.6, "{name}: {}", line.width_mm);
            assert!(line.sentence.contains("dashes of dark ink"), "{}", line.sentence);
            assert_eq!(line.ink, Ink::Dark);
        }
    }
}

#[test]
fn light_dashes_on_dark_skin() {
    for seed in 420..423 {
        let path = blob(place(200.0, -10.0), 28.0, 42.0, seed);
        let strokes = dashed(&path, 8.0, 6.0, 3.0, WHITE);
        let skin = Skin { tone: TONES[4 + (seed % 2) as usize], strokes, spacing: 1.0, seed, ..Skin::default() };
        let line = closed("light dashes", &skin);
        assert_eq!(line.ink, Ink::Light);
        matches(&format!("light dashes {seed}"), &line, &path);
    }
}

/// Dashes as an unsteady hand draws them: each is shifted, turned, and up to a quarter longer or shorter.
fn unsteady(strokes: &mut [Stroke], seed: u64) {
    let mut rng = random(seed);
    for stroke in strokes {
        let mut pick = |most: f32| most * (2.0 * uniform(&mut rng) - 1.0);
        let (shift, turn, stretch) = (place(pick(0.5), pick(0.5)).coords, pick(0.12), 1.0 + pick(0.25));
        let middle = stroke.path[stroke.path.len() / 2];
        let (sin, cos) = turn.sin_cos();
        for p in &mut stroke.path {
            let d = (*p - middle) * stretch;
            *p = middle + shift + place(d.x * cos - d.y * sin, d.x * sin + d.y * cos).coords;
        }
    }
}

#[test]
fn an_unsteady_hand() {
    for seed in 430..438 {
        let path = blob(place(100.0, 0.0), 32.0, 46.0, seed);
        let (on, off) = [(8.0, 6.0), (5.0, 5.0), (10.0, 8.0)][(seed % 3) as usize];
        let mut strokes = dashed(&path, on, off, 3.0, BLACK);
        unsteady(&mut strokes, seed);
        let tone = TONES[(seed % 5) as usize];
        let skin = Skin { tone, strokes, spacing: 1.0, seed, moles: 20, ..Skin::default() };
        let line = closed("unsteady", &skin);
        let (mean, most) = apart(&line.centre, &path.iter().map(on_tube).collect::<Vec<_>>());
        eprintln!("unsteady {seed}: mean {mean:.3} mm, most {most:.2} mm");
        // The dashes themselves lie 0.4 mm off the path in the mean, and at most 0.7.
        assert!(mean < MEAN_MM + 0.4 && most < MOST_MM + 0.7, "{mean} {most}");
        assert!(overlap(&places(&line.centre, 100.0), &path) > 0.95);
    }
}

#[test]
fn the_last_space_may_be_half_as_long_again() {
    for seed in 440..444 {
        let path = blob(place(120.0, 0.0), 30.0, 44.0, seed);
        let mut strokes = dashed(&path, 8.0, 6.0, 3.0, BLUE);
        // Half of one dash is missing at its end: its space is wider by 2.5 mm.
        let cut = strokes.last_mut().unwrap();
        cut.path.truncate(cut.path.len() / 2 + 1);
        let line = closed("wider space", &Skin { strokes, spacing: 1.0, seed, ..Skin::default() });
        matches("wider space", &line, &path);
    }
}

#[test]
fn where_a_dash_is_missing_the_line_is_open_and_the_gap_is_told() {
    for seed in 450..454 {
        let path = blob(place(80.0, 0.0), 30.0, 42.0, seed);
        let mut strokes = dashed(&path, 8.0, 6.0, 3.0, BLACK);
        let missing = strokes.remove(3 + seed as usize % 5);
        let middle = on_tube(&missing.path[missing.path.len() / 2]);
        let PenFinding::Open { line, ends, proposal, why } =
            search(&Skin { strokes, spacing: 1.0, seed, moles: 4, ..Skin::default() })
        else {
            panic!("{seed}: a gap of 20 mm taken for closed")
        };
        eprintln!("missing dash: {why}");
        // 6 mm on either side of a dash of 8 mm, measured in a straight line.
        let Some(NotClosed::WideGap { length_mm }) = why.refused else { panic!("{why}") };
        assert!((length_mm - 20.0).abs() < 3.0, "{length_mm}");
        assert_eq!(why.to_string().matches('.').count(), 2, "{why}");
        for end in ends {
            assert!(((end - middle).norm() - 10.0).abs() < 3.0, "an end is {} mm from the gap", (end - middle).norm());
        }
        assert!(line.len() > 150);
        let proposal = proposal.unwrap();
        assert!((proposal.added_mm - 20.0).abs() < 4.0, "{}", proposal.added_mm);
        assert!(overlap(&places(&proposal.line.centre, 80.0), &path) > 0.95);
    }
}

/// Dashes of 8 mm with spaces of 6 mm from one place to another along a path, leaving both ends free for other dashes.
fn row_between(path: &[Place]) -> Vec<Stroke> {
    let length: f32 = path.windows(2).map(|pair| (pair[1] - pair[0]).norm()).sum();
    let at = |s: f32| {
        let mut left = s;
        for pair in path.windows(2) {
            let long = (pair[1] - pair[0]).norm();
            if left <= long {
                return pair[0] + (pair[1] - pair[0]) * (left / long);
            }
            left -= long;
        }
        path[path.len() - 1]
    };
    let count = (length / 14.0).round();
    (1..count as usize)
        .map(|k| {
            let middle = length * k as f32 / count;
            let path = (0..=4).map(|i| at(middle - 2.5 + 1.25 * i as f32)).collect();
            Stroke { path, closed: false, width: 3.0, colour: BLACK, cover: 0.93 }
        })
        .collect()
}

#[test]
fn a_dashed_line_straight_across_leaves_the_outer_one() {
    let path = blob(place(100.0, 0.0), 36.0, 46.0, 460);
    let mut strokes = dashed(&path, 8.0, 6.0, 3.0, BLACK);
    let [from, to] = [0, strokes.len() / 2].map(|k| strokes[k].path[4]);
    strokes.extend(row_between(&[from, to]));
    let line = closed("across", &Skin { strokes, spacing: 1.0, seed: 460, ..Skin::default() });
    matches("a row straight across", &line, &path);
}

#[test]
fn dashes_that_branch_can_be_joined_in_more_than_one_way() {
    // Two uprights joined by half circles, and a row that leaves the uprights by 35° and sags from one to the other.
    let (half, radius, middle) = (16.0_f32, 34.0_f32, 100.0_f32);
    let round = |y: f32, from: f32| -> Vec<Place> {
        (0..=60)
            .map(|i| {
                let t = TAU * (from + 0.5 * i as f32 / 60.0);
                place(middle + radius * t.cos(), y + radius * t.sin())
            })
            .collect()
    };
    let path: Vec<Place> = [round(half, 0.0), round(-half, 0.5)].concat();
    let mut strokes = dashed(&path, 8.0, 6.0, 3.0, BLACK);
    let upright = |x: f32| {
        let middles = strokes.iter().map(|stroke| stroke.path[4]).filter(|p| (p.x - x).abs() < 1.0);
        middles.min_by(|p, q| (p.y - 4.0).abs().total_cmp(&(q.y - 4.0).abs())).unwrap()
    };
    let (a, b) = (upright(middle - radius), upright(middle + radius));
    let (leave, meet) = (place(a.x + 14.0, a.y - 20.0), place(b.x - 14.0, b.y - 20.0));
    let sag: Vec<Place> = (0..=100)
        .map(|i| {
            let t = i as f32 / 100.0;
            let u = 1.0 - t;
            let weights = [u * u * u, 3.0 * u * u * t, 3.0 * u * t * t, t * t * t];
            Place::from([a, leave, meet, b].iter().zip(weights).map(|(p, w)| p.coords * w).sum::<Vector2<f32>>())
        })
        .collect();
    strokes.extend(row_between(&sag));
    let found = search(&Skin { strokes, spacing: 1.0, seed: 461, moles: 0, ..Skin::default() });
    let PenFinding::Open { proposal, why, .. } = found else { panic!("one of two ways was taken") };
    assert_eq!(why.refused, Some(NotClosed::ManyWays));
    assert_eq!(why.to_string(), "The pen line does not close. Its dashes can be joined in more than one way.");
    assert!(proposal.is_none(), "a proposal would be a guess");
}

#[test]
fn dashes_that_come_back_beside_the_first_ones_are_closed() {
    for seed in 465..468 {
        let (whole, middle) = (blob(place(100.0, 0.0), 34.0, 44.0, seed), place(100.0, 0.0));
        let path: Vec<Place> = (0..435)
            .map(|i| {
                let d = whole[i % 400] - middle;
                let inward = 6.0 * ((i as f32 - 300.0) / 100.0).clamp(0.0, 1.0);
                middle + d * (1.0 - inward / d.norm())
            })
            .collect();
        let line = closed("passing", &Skin { strokes: row_between(&path), spacing: 1.0, seed, ..Skin::default() });
        eprintln!("passing ends {seed}: {}", line.sentence);
        // Either of the two rows of dashes may be taken where they lie side by side.
        assert!(overlap(&places(&line.centre, 100.0), &whole) > 0.93);
    }
}

#[test]
fn dashes_off_the_scan_are_open_at_both_ends() {
    for seed in 470..472 {
        let whole = blob(place(100.0, LENGTH / 2.0), 40.0, 60.0, seed);
        let skin = Skin { strokes: dashed(&whole, 8.0, 6.0, 3.0, BLACK), spacing: 1.0, seed, ..Skin::default() };
        let PenFinding::Open { ends, why, .. } = search(&skin) else { panic!("{seed}: closed off the scan") };
        eprintln!("off the scan: {why}");
        assert!(ends.iter().all(|e| e.z > LENGTH / 2.0 - 16.0), "{ends:?}");
    }
}

#[test]
fn moles_creases_and_a_few_strokes_are_no_dashed_line() {
    for seed in 480..492 {
        let mut rng = random(seed);
        let creases = (0..6)
            .map(|_| {
                let a = place(280.0 * uniform(&mut rng), -80.0 + 160.0 * uniform(&mut rng));
                let angle = uniform(&mut rng) * TAU;
                (a, place(a.x + 12.0 * angle.cos(), a.y + 12.0 * angle.sin()), 0.35)
            })
            .collect();
        let path = blob(place(60.0, 0.0), 30.0, 45.0, seed);
        let mut strokes = dashed(&path, 8.0, 6.0, 3.0, BLACK);
        strokes.truncate((seed % 6) as usize);
        let tone = TONES[(seed % 6) as usize];
        let moles = [60, 150, 300][(seed % 3) as usize];
        let skin = Skin { tone, creases, strokes, moles, spacing: 1.0, shadow: 0.4, seed, ..Skin::default() };
        let found = search(&skin);
        assert!(matches!(found, PenFinding::None { .. }), "seed {seed}, {moles} moles: {found:?}");
    }
}

#[test]
fn dashes_among_moles_and_a_hole_where_a_dash_was() {
    for seed in 500..506 {
        let path = blob(place(150.0, 0.0), 32.0, 46.0, seed);
        let strokes = dashed(&path, 8.0, 6.0, 3.0, BLACK);
        let lost = strokes[5].path[4];
        let holes = vec![(lost, 5.5)];
        let tone = TONES[(seed % 4) as usize];
        let skin = Skin { tone, strokes, holes, moles: 40, spacing: 1.0, seed, ..Skin::default() };
        let name = format!("dash in a hole {seed}");
        let line = closed(&name, &skin);
        matches(&name, &line, &path);
        let near = |at: &Point3<f32>| (at - on_tube(&lost)).norm() < 5.0;
        assert!(
            line.gaps_bridged.iter().any(|gap| gap.over_hole && near(&gap.at)),
            "{:?}, not at {}",
            line.gaps_bridged,
            on_tube(&lost)
        );
    }
}

#[test]
fn same_dashes_same_answer_on_any_number_of_threads() {
    let path = blob(place(60.0, 0.0), 30.0, 45.0, 150);
    let mut strokes = dashed(&path, 8.0, 6.0, 3.0, BLACK);
    let ring = blob(place(60.0, 0.0), 9.0, 9.0, 151);
    strokes.push(Stroke { path: ring, closed: true, width: 3.0, colour: BLACK, cover: 0.93 });
    let skin = Skin { strokes, seed: 150, ..Skin::default() };
    let on = |threads: usize| {
        rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap().install(|| search(&skin))
    };
    let one = on(1);
    let PenFinding::Closed(line) = &one else { panic!("not closed") };
    assert!(line.dashes > 0 && line.rings.len() == 1, "{}", line.sentence);
    assert!(one == on(2) && one == on(5));
}
