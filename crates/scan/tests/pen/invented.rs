//! Synthetic skins with every trouble that a pen line meets, all with known truth.

use std::f32::consts::TAU;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

use mesh::Job;
use scan::pen::{Ink, PenFinding, PenLine, PenSettings, find, find_on_filled};

use crate::found::{closed, places, search};
use crate::measure::apart;
use crate::skin::{
    BLACK, BLUE, LENGTH, Place, RADIUS, Skin, Stroke, TONES, WHITE, blob, on_tube, overlap, place, place_of, random,
    uniform,
};

fn round(path: Vec<Place>, colour: [f32; 3]) -> Stroke {
    Stroke { path, closed: true, width: 3.0, colour, cover: 0.93 }
}

fn open(path: Vec<Place>, colour: [f32; 3]) -> Stroke {
    Stroke { closed: false, ..round(path, colour) }
}

/// The targets of every closed line: 0.5 mm in the mean, overlap 0.95.
fn matches(name: &str, line: &PenLine, truth: &[Place]) {
    let near = truth.iter().map(|p| p.x).sum::<f32>() / truth.len() as f32;
    let (mean, most) = apart(&line.centre, &truth.iter().map(on_tube).collect::<Vec<_>>());
    let overlap = overlap(&places(&line.centre, near), truth);
    eprintln!(
        "{name}: mean {mean:.3} mm, most {most:.2} mm, overlap {overlap:.4}, width {:.2}, {:.2} {}",
        line.width_mm, line.confidence, line.sentence
    );
    assert!(mean < 0.5, "{name}: {mean} mm");
    assert!(overlap > 0.95, "{name}: {overlap}");
    let seed = place_of(&line.seed_inside, near);
    assert!(crate::skin::contains(truth, &seed), "{name}: seed outside");
}

#[test]
fn dark_ink_on_six_tones_with_moles_and_shadow() {
    for (k, tone) in TONES.into_iter().enumerate() {
        for (i, colour) in [BLACK, BLUE].into_iter().enumerate() {
            let seed = (10 * k + i) as u64;
            let path = blob(place(60.0, 5.0), 30.0, 45.0, seed);
            let spacing = [0.9, 1.3, 1.7][(k + i) % 3];
            let skin = Skin {
                tone,
                strokes: vec![round(path.clone(), colour)],
                seed,
                spacing,
                shadow: 0.4,
                ..Skin::default()
            };
            let name = format!("tone {k} ink {i}");
            let line = closed(&name, &skin);
            let as_light_as_skin = k == 5 && i == 1;
            assert!(line.ink == Ink::Dark || (as_light_as_skin && line.ink == Ink::Coloured));
            matches(&name, &line, &path);
        }
    }
}

#[test]
fn light_ink_on_dark_skin() {
    for seed in 0..4 {
        let path = blob(place(200.0, -10.0), 26.0, 40.0, seed);
        let tone = TONES[4 + (seed % 2) as usize];
        let skin = Skin { tone, strokes: vec![round(path.clone(), WHITE)], seed, shadow: 0.45, ..Skin::default() };
        let line = closed("light", &skin);
        assert_eq!(line.ink, Ink::Light);
        matches(&format!("light ink {seed}"), &line, &path);
    }
}

#[test]
fn gaps_are_bridged_and_told() {
    for (k, gap) in [2.5_f32, 4.0, 5.0, 6.0, 7.0].into_iter().enumerate() {
        let seed = 40 + k as u64;
        let path = blob(place(100.0, 0.0), 28.0, 38.0, seed);
        let spots = [path[30 + 5 * k], path[210 + 9 * k]];
        let skin = Skin {
            tone: TONES[k],
            strokes: vec![round(path.clone(), BLACK)],
            gaps: spots.iter().map(|p| (*p, gap / 2.0)).collect(),
            seed,
            ..Skin::default()
        };
        let name = format!("gaps of {gap} mm");
        let line = closed(&name, &skin);
        matches(&name, &line, &path);
        if gap > 3.0 {
            assert_eq!(line.gaps_bridged.len(), 2, "{name}");
            for g in &line.gaps_bridged {
                let off = spots.iter().map(|p| (on_tube(p) - g.at).norm()).fold(f32::INFINITY, f32::min);
                assert!(off < 2.0, "{name}: gap told {off} mm from where it is");
                assert!((g.length_mm - gap).abs() < 2.1, "{name}: told as {} mm", g.length_mm);
                assert!(!g.over_hole);
            }
        }
    }
}

#[test]
fn a_hole_of_the_scan_across_the_line() {
    for (k, radius) in [2.5_f32, 4.0, 5.5, 7.0].into_iter().enumerate() {
        let seed = 60 + k as u64;
        let path = blob(place(150.0, 0.0), 30.0, 44.0, seed);
        let spot = path[37 * (k + 1)];
        let skin =
            Skin { strokes: vec![round(path.clone(), BLUE)], holes: vec![(spot, radius)], seed, ..Skin::default() };
        let name = format!("hole of radius {radius} mm");
        let line = closed(&name, &skin);
        matches(&name, &line, &path);
        assert!(line.gaps_bridged.iter().any(|g| g.over_hole && (g.at - on_tube(&spot)).norm() < 3.0), "{name}");
    }
}

#[test]
fn a_gap_too_wide_is_not_closed_in_silence() {
    for (k, gap) in [13.0_f32, 18.0, 30.0].into_iter().enumerate() {
        let seed = 70 + k as u64;
        let path = blob(place(80.0, 0.0), 28.0, 40.0, seed);
        let spot = path[100];
        let skin =
            Skin { strokes: vec![round(path.clone(), BLACK)], gaps: vec![(spot, gap / 2.0)], seed, ..Skin::default() };
        let PenFinding::Open { ends, proposal, why, .. } = search(&skin) else {
            panic!("gap of {gap} mm taken for closed")
        };
        eprintln!("gap of {gap} mm: {why}");
        for e in ends {
            assert!(((e - on_tube(&spot)).norm() - gap / 2.0).abs() < 3.0, "end {e} is not at the gap");
        }
        let proposal = proposal.unwrap();
        assert!((proposal.added_mm - gap).abs() < 0.15 * gap + 3.0, "{}", proposal.added_mm);
        let path_of = places(&proposal.line.centre, 80.0);
        assert!(overlap(&path_of, &path) > 0.9);
    }
}

#[test]
fn creases_across_the_line_do_not_lead_it_astray() {
    for seed in 80..84 {
        let mut rng = random(seed);
        let path = blob(place(120.0, 0.0), 30.0, 42.0, seed);
        let creases = (0..6)
            .map(|_| {
                let a = place(80.0 + 80.0 * uniform(&mut rng), -60.0 + 120.0 * uniform(&mut rng));
                let angle = uniform(&mut rng) * TAU;
                (a, place(a.x + 45.0 * angle.cos(), a.y + 45.0 * angle.sin()), 0.3)
            })
            .collect();
        let tone = TONES[(seed % 5) as usize];
        let skin = Skin { tone, strokes: vec![round(path.clone(), BLACK)], creases, seed, ..Skin::default() };
        matches(&format!("creases {seed}"), &closed("creases", &skin), &path);
    }
}

#[test]
fn no_line_no_finding() {
    for seed in 100..108 {
        let mut rng = random(seed);
        let creases = (0..5)
            .map(|_| {
                let a = place(280.0 * uniform(&mut rng), -80.0 + 160.0 * uniform(&mut rng));
                let angle = uniform(&mut rng) * TAU;
                (a, place(a.x + 50.0 * angle.cos(), a.y + 50.0 * angle.sin()), 0.25)
            })
            .collect();
        let tone = TONES[(seed % 6) as usize];
        let skin = Skin { tone, creases, moles: 60, shadow: 0.4, seed, ..Skin::default() };
        let found = search(&skin);
        assert!(matches!(found, PenFinding::None { .. }), "seed {seed}: {found:?}");
    }
}

#[test]
fn a_line_off_the_scan_is_open_with_a_proposal() {
    for seed in 110..113 {
        // Half of a ring; the rest would lie beyond the end of the tube.
        let whole = blob(place(100.0, LENGTH / 2.0), 32.0, 55.0, seed);
        let skin = Skin { strokes: vec![round(whole, BLACK)], seed, ..Skin::default() };
        let PenFinding::Open { ends, proposal, why, .. } = search(&skin) else { panic!("seed {seed}") };
        eprintln!("off the scan: {why}");
        assert!(why.ends_off_scan == 2, "{why}");
        assert!(ends.iter().all(|e| (e.z - LENGTH / 2.0).abs() < 5.0));
        assert!(proposal.unwrap().added_mm > 40.0);
    }
}

#[test]
fn a_spiral_is_open() {
    for seed in 120..123 {
        let path: Vec<Place> = (0..600)
            .map(|i| {
                let t = i as f32 / 599.0;
                let (r, a) = (42.0 - 26.0 * t, 1.9 * TAU * t + seed as f32);
                place(130.0 + r * a.cos(), r * a.sin())
            })
            .collect();
        let skin = Skin { strokes: vec![open(path.clone(), BLACK)], seed, ..Skin::default() };
        let PenFinding::Open { ends, why, .. } = search(&skin) else {
            panic!("seed {seed}: a spiral taken for closed")
        };
        eprintln!("spiral: {why}");
        for tip in [path[0], path[599]] {
            let off = ends.iter().map(|e| (e - on_tube(&tip)).norm()).fold(f32::INFINITY, f32::min);
            // A mole that touches the tip may draw the end out by its own width.
            assert!(off < 6.0, "end {off} mm from the tip");
        }
    }
}

#[test]
fn of_two_closed_lines_the_larger_is_taken_and_the_other_told() {
    for seed in 130..133 {
        let (large, small) =
            (blob(place(60.0, 0.0), 30.0, 45.0, seed), blob(place(200.0, 10.0), 15.0, 18.0, seed + 50));
        let strokes = vec![round(small.clone(), BLACK), round(large.clone(), BLACK)];
        let line = closed("two", &Skin { strokes, seed, ..Skin::default() });
        matches("two lines", &line, &large);
        assert_eq!(line.others.len(), 1);
        assert!(apart(&line.others[0], &small.iter().map(on_tube).collect::<Vec<_>>()).0 < 0.5);
    }
}

#[test]
fn a_line_across_the_round_leaves_the_outer_ring() {
    let path = blob(place(60.0, 0.0), 32.0, 45.0, 140);
    let strokes = vec![round(path.clone(), BLACK), open(vec![path[20], place(60.0, 5.0), path[190]], BLACK)];
    let line = closed("divided", &Skin { strokes, seed: 140, ..Skin::default() });
    matches("a round with a line across", &line, &path);
}

#[test]
fn tails_where_the_pen_was_set_down_and_lifted_are_left_out() {
    let mut path = blob(place(60.0, 0.0), 32.0, 45.0, 141);
    let round_path = path.clone();
    path.push(path[0]);
    path.insert(0, place(path[0].x + 14.0, path[0].y - 9.0));
    path.push(place(round_path[0].x + 10.0, round_path[0].y + 12.0));
    let line = closed("tails", &Skin { strokes: vec![open(path, BLACK)], seed: 141, ..Skin::default() });
    matches("tails", &line, &round_path);
}

#[test]
fn a_line_round_the_limb_is_closed_but_doubtful() {
    let path = (0..400)
        .map(|i| place(TAU * RADIUS * i as f32 / 400.0, -30.0 + 6.0 * (TAU * i as f32 / 400.0).sin()))
        .collect();
    let line = closed("round", &Skin { strokes: vec![round(path, BLACK)], seed: 142, ..Skin::default() });
    assert!(line.round_the_limb && line.confidence <= 0.5);
    assert!(line.seed_inside.z < -30.0);
}

#[test]
fn same_input_same_answer() {
    let path = blob(place(60.0, 0.0), 30.0, 45.0, 150);
    let skin = Skin { strokes: vec![round(path, BLACK)], seed: 150, ..Skin::default() };
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap().install(|| search(&skin));
    let two = rayon::ThreadPoolBuilder::new().num_threads(2).build().unwrap().install(|| search(&skin));
    assert_eq!(one, two);
}

/// A job that cancels itself at its report number `at`, and the number of reports so far.
fn cancelled_at(at: usize) -> (Job, Arc<AtomicUsize>) {
    let (own, reports) = (Arc::new(OnceLock::<Job>::new()), Arc::new(AtomicUsize::new(0)));
    let (inner, count) = (own.clone(), reports.clone());
    let job = Job::new(move |_, _| {
        if count.fetch_add(1, Ordering::Relaxed) == at {
            inner.get().unwrap().cancel();
        }
    });
    own.set(job.clone()).unwrap();
    (job, reports)
}

#[test]
fn a_search_cancelled_at_any_step_stops_there() {
    let surface =
        Skin { spacing: 1.7, strokes: vec![round(blob(place(60.0, 0.0), 30.0, 45.0, 5), BLACK)], ..Skin::default() }
            .build();
    let (job, reports) = cancelled_at(usize::MAX);
    assert!(matches!(find(&surface, &PenSettings::default(), &job), Ok(PenFinding::Closed(_))));
    let all = reports.load(Ordering::Relaxed);
    assert!(all >= 5, "{all} reports");
    // The last report says that all is done.
    for at in 0..all - 1 {
        let (job, reports) = cancelled_at(at);
        assert_eq!(find(&surface, &PenSettings::default(), &job), Err(mesh::Cancelled), "at report {at}");
        assert_eq!(reports.load(Ordering::Relaxed), at + 1);
    }
}

#[test]
fn a_skin_without_colours_says_so() {
    let mut mesh = Skin::default().build().mesh().clone();
    mesh.colours = None;
    let found = find(&mesh::Surface::new(mesh), &PenSettings::default(), &Job::silent()).unwrap();
    let PenFinding::None { why } = found else { panic!() };
    assert_eq!(why, scan::pen::NoLine::NoColours);
}

#[test]
fn thin_thick_faint_and_cornered_lines_on_coarse_and_fine_scans() {
    for (k, (width, cover, spacing)) in
        [(2.0, 0.9, 0.8), (2.2, 0.93, 1.2), (4.0, 0.93, 1.7), (5.0, 0.93, 1.3), (3.0, 0.5, 1.2), (3.0, 0.93, 2.0)]
            .into_iter()
            .enumerate()
    {
        let seed = 160 + k as u64;
        let mut path = blob(place(110.0, 0.0), 28.0, 40.0, seed);
        if k % 2 == 1 {
            // A box with corners of 4 mm radius.
            path = (0..400)
                .map(|i| {
                    let t = TAU * i as f32 / 400.0;
                    let corner = |s: f32, half: f32| (s * 2.0 * half).clamp(-half + 4.0, half - 4.0);
                    place(110.0 + corner(t.cos(), 26.0) + 4.0 * t.cos(), corner(t.sin(), 34.0) + 4.0 * t.sin())
                })
                .collect();
        }
        let stroke = Stroke { width, cover, ..round(path.clone(), BLACK) };
        let skin = Skin { tone: TONES[k % 5], strokes: vec![stroke], seed, spacing, noise: 0.15, ..Skin::default() };
        let name = format!("width {width} cover {cover} spacing {spacing}");
        let line = closed(&name, &skin);
        matches(&name, &line, &path);
        assert!((line.width_mm - width).abs() < 0.5, "{name}: {}", line.width_mm);
    }
}

#[test]
fn over_a_filled_hole_the_line_is_carried_on() {
    for (k, radius) in [4.0_f32, 6.0, 7.5].into_iter().enumerate() {
        let seed = 170 + k as u64;
        let path = blob(place(150.0, 0.0), 30.0, 44.0, seed);
        let spot = path[60 * (k + 1)];
        let strokes = vec![round(path.clone(), BLACK)];
        let skin = Skin { strokes, filled: vec![(spot, radius)], seed, ..Skin::default() };
        let (surface, filled) = skin.build_filled();
        let found = find_on_filled(&surface, &filled, &PenSettings::default(), &Job::silent()).unwrap();
        let PenFinding::Closed(line) = found else { panic!("{found:?}") };
        matches(&format!("filled hole of radius {radius} mm"), &line, &path);
        assert!(line.gaps_bridged.iter().any(|g| g.over_hole && (g.at - on_tube(&spot)).norm() < 3.0));
        if radius > 5.0 {
            // If the filled skin counted as scanned, the same gap would be too wide.
            let found = find(&surface, &PenSettings::default(), &Job::silent()).unwrap();
            assert!(matches!(found, PenFinding::Open { .. }));
        }
    }
}

#[test]
fn the_edge_of_a_shadow_is_no_line_and_hides_none() {
    for seed in 180..183 {
        let tone = TONES[(seed % 3 + 1) as usize];
        let bare = Skin { tone, hard_shadow: 0.5, shadow: 0.8, seed, ..Skin::default() };
        let found = search(&bare);
        assert!(matches!(found, PenFinding::None { .. }), "{found:?}");
        let path = blob(place(40.0, 0.0), 30.0, 42.0, seed);
        let skin = Skin { strokes: vec![round(path.clone(), BLACK)], ..bare };
        matches("under a shadow's edge", &closed("shadow", &skin), &path);
    }
}

#[test]
fn ends_that_pass_each_other_are_closed_over_the_space_between() {
    // The pen comes back 5 mm inside where it began and stops after a short stretch side by side.
    let whole = blob(place(100.0, 0.0), 32.0, 40.0, 190);
    let middle = place(100.0, 0.0);
    let path: Vec<Place> = (0..430)
        .map(|i| {
            let p = whole[i % 400];
            let inward = 5.0 * ((i as f32 - 300.0) / 100.0).clamp(0.0, 1.0);
            let d = p - middle;
            middle + d * (1.0 - inward / d.norm())
        })
        .collect();
    let skin = Skin { strokes: vec![open(path, BLACK)], seed: 190, ..Skin::default() };
    let line = closed("passing ends", &skin);
    let near = places(&line.centre, 100.0);
    assert!(overlap(&near, &whole) > 0.93);
}

#[test]
fn two_hundred_thousand_triangles() {
    let path = blob(place(60.0, 0.0), 32.0, 45.0, 200);
    let skin =
        Skin { strokes: vec![round(path.clone(), BLACK)], seed: 200, spacing: 0.78, noise: 0.1, ..Skin::default() };
    let surface = skin.build();
    let found = find(&surface, &PenSettings::default(), &Job::silent()).unwrap();
    assert!(surface.mesh().triangles.len() > 190_000);
    let PenFinding::Closed(line) = found else { panic!("{found:?}") };
    matches("fine scan", &line, &path);
}

/// One skin with everything at once, chosen by its seed.
fn any_skin(seed: u64) -> (Skin, Vec<Place>) {
    let mut rng = random(seed);
    let mut pick = |low: f32, high: f32| low + (high - low) * uniform(&mut rng);
    let middle = place(pick(0.0, 280.0), pick(-25.0, 25.0));
    let path = blob(middle, pick(16.0, 36.0), pick(18.0, 48.0), seed + 7);
    let tone = pick(0.0, 5.99) as usize;
    let light = tone >= 4 && pick(0.0, 1.0) < 0.5;
    let colour = if light {
        WHITE
    } else if tone < 5 && pick(0.0, 1.0) < 0.5 {
        BLUE
    } else {
        BLACK
    };
    let stroke = Stroke { width: pick(2.4, 4.5), cover: pick(0.8, 0.97), ..round(path.clone(), colour) };
    let spot = |t: f32| path[(t * 399.0) as usize];
    let first = pick(0.0, 1.0);
    let gaps = vec![(spot(first), pick(0.5, 3.0)), (spot((first + 0.3) % 1.0), pick(0.5, 3.0))];
    let holes = vec![(spot((first + 0.6) % 1.0), pick(1.5, 6.0)), (place(pick(0.0, 280.0), pick(-80.0, 80.0)), 6.0)];
    let creases = (0..8)
        .map(|_| {
            let a = place(middle.x + pick(-40.0, 40.0), middle.y + pick(-50.0, 50.0));
            let angle = pick(0.0, TAU);
            let long = pick(10.0, 55.0);
            (a, place(a.x + long * angle.cos(), a.y + long * angle.sin()), pick(0.1, 0.35))
        })
        .collect();
    let skin = Skin {
        tone: TONES[tone],
        spacing: pick(0.9, 1.7),
        noise: pick(0.05, 0.3),
        grain: pick(0.01, 0.05),
        strokes: vec![stroke],
        gaps,
        holes,
        creases,
        moles: pick(0.0, 40.0) as usize,
        shadow: pick(0.4, 1.0),
        seed,
        ..Skin::default()
    };
    (skin, path)
}

#[test]
fn any_skin_with_all_troubles_at_once_and_the_same_skin_bare() {
    for seed in 1000..1008 {
        let (skin, path) = any_skin(seed);
        let name = format!("any skin {seed}");
        matches(&name, &closed(&name, &skin), &path);
        let found = search(&Skin { strokes: Vec::new(), ..skin });
        assert!(matches!(found, PenFinding::None { .. }), "{name}, bare: {found:?}");
    }
}
