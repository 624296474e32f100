//! Pictures of the darkest and the palest demo limb: their form, and the words on them.

use std::path::Path;

use mesh::{Job, Mesh};

use super::legible::{LEAST_CONTRAST, contrast, ink_on};
use super::sheet::views;
use super::{RenderStyle, Sheet, View, single};

/// Tones of the skin of the demo limbs, in crates/demo-limbs/src/catalogue.rs.
const DARKEST: [u8; 3] = [92, 60, 46];
const PALEST: [u8; 3] = [232, 190, 168];

/// A demo limb in its own unit, made 350 mm long.
fn limb(name: &str) -> Mesh {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans").join(name);
    let mut mesh = mesh::read::read_file(&path, &Job::silent()).expect("a demo scan").mesh;
    let (low, high) = mesh.bounds().expect("a limb");
    let scale = 350.0 / (high - low).max();
    mesh.points.iter_mut().for_each(|p| *p = (*p - low).map(|x| x * scale).into());
    mesh
}

fn luminance(pixel: [u8; 3]) -> f64 {
    // IEC 61966-2-1.
    let [r, g, b] = pixel.map(|c| {
        let c = f64::from(c) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    });
    0.2126 * r + 0.7152 * g + 0.0722 * b
}

/// CIE 1976 lightness (CIE 15:2018, 8.2.1).
fn lightness(pixel: [u8; 3]) -> f64 {
    let y = luminance(pixel);
    if y > (6.0_f64 / 29.0).powi(3) { 116.0 * y.cbrt() - 16.0 } else { y * (29.0_f64 / 3.0).powi(3) }
}

/// Standard deviation of lightness, and its 5th and 95th percentile, over the limb in one tone.
fn spread(limb: &Mesh, tone: [u8; 3]) -> (f64, f64, f64) {
    let draw = |page: [u8; 3]| {
        let look = RenderStyle { limb: tone, scan_colours: false, page, ..RenderStyle::default() };
        single(limb, &Mesh::default(), View::FRONT, &look, [400, 400], &Job::silent()).expect("a picture")
    };
    // Pixels that are the same on a white and a black page show nothing but limb.
    let (white, black) = (draw([255; 3]), draw([0; 3]));
    let mut seen: Vec<f64> =
        white.pixels().zip(black.pixels()).filter(|(a, b)| a == b).map(|(a, _)| lightness(a.0)).collect();
    assert!(seen.len() > 10_000, "{}", seen.len());
    seen.sort_by(f64::total_cmp);
    let mean = seen.iter().sum::<f64>() / seen.len() as f64;
    let deviation = (seen.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / seen.len() as f64).sqrt();
    (deviation, seen[seen.len() / 20], seen[seen.len() * 19 / 20])
}

#[test]
fn form_shows_as_plainly_on_the_darkest_skin_as_on_the_palest() {
    for name in ["shoulder-19.ply", "forearm-07.ply"] {
        let limb = limb(name);
        let (dark, dark_low, dark_high) = spread(&limb, DARKEST);
        let (pale, pale_low, pale_high) = spread(&limb, PALEST);
        let told = format!("{name}: dark {dark} {dark_low} {dark_high}, pale {pale} {pale_low} {pale_high}");
        assert!((0.8..1.25).contains(&(dark / pale)), "{told}");
        assert!((0.8..1.25).contains(&((dark_high - dark_low) / (pale_high - pale_low))), "{told}");
        // Dark skin stays dark: below the middle of the palest limb's range.
        assert!(dark_high < 0.5 * (pale_low + pale_high), "{told}");
    }
}

/// Drawn without the words and with them: where they differ are the words, and the first shows what lies under them.
#[test]
fn captions_and_scale_bar_stand_on_the_page_and_never_on_skin() {
    for (name, tone) in [("shoulder-19.ply", DARKEST), ("shin-23.obj", PALEST)] {
        let limb = limb(name);
        let look = RenderStyle { limb: tone, scan_colours: false, ..RenderStyle::default() };
        let sheet = Sheet { size: [1200, 900], look, ..Sheet::default() };
        let (under, labels) = views(&limb, &Mesh::default(), &sheet, &Job::silent()).unwrap();
        assert_eq!(labels.len(), 6, "five captions and a scale bar");
        let mut written = under.clone();
        labels.iter().for_each(|label| label.write(&mut written, look.page));
        let ink = ink_on(look.page);
        assert!(contrast(ink, look.page) >= LEAST_CONTRAST);
        let (mut changed, mut full) = (0, 0);
        for (below, word) in under.pixels().zip(written.pixels()).filter(|(a, b)| a != b) {
            changed += 1;
            full += usize::from(word.0 == ink);
            assert_eq!(below.0, look.page, "{name}");
        }
        assert!(changed > 1000 && full > 200, "{changed} {full}");
    }
}
