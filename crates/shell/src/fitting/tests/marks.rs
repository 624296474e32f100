//! Numbers and words.

use super::*;

#[test]
fn a_number_has_its_height_on_the_skin() {
    let (skin, zone) = sample();
    let design = Design { marks: vec![mark("17", 25.0, 4.0, -3.0)], ..Design::default() };
    let layout = arrange_all(&skin, &zone, &design).unwrap();
    let emboss = &layout.embosses[0];
    let (mut low, mut high) = (f32::INFINITY, f32::NEG_INFINITY);
    for i in 0..700 {
        for s in -20..20 {
            let z = i as f32 * 0.05 - 17.5;
            let hit = skin_point(&skin, &on_tube(4.0 + s as f32, z - 3.0)).unwrap();
            if emboss.shape.signed_distance(emboss.chart.uv_at(&skin, &hit).unwrap()) < 0.0 {
                (low, high) = (low.min(z), high.max(z));
            }
        }
    }
    assert!((high - low - 25.0).abs() < 0.3, "{} mm high", high - low);
    assert!((high + low).abs() < 0.3, "middle off by {}", 0.5 * (high + low));
}

#[test]
fn marks_that_cannot_be_written_say_why() {
    let (skin, zone) = sample();
    let place = |m: Mark| arrange_all(&skin, &zone, &Design { marks: vec![m], ..Design::default() });
    assert!(refusal(place(mark("漢7", 20.0, 0.0, 0.0))).1.contains("漢 (U+6F22)"));
    assert_eq!(refusal(place(mark("  ", 20.0, 0.0, 0.0))).0, "shell.marks[0].text");
    assert_eq!(refusal(place(mark("17", 80.0, 0.0, 40.0))).0, "shell.marks[0]");
    assert_eq!(refusal(place(mark("17", f32::NAN, 0.0, 40.0))).0, "shell.marks[0].height_mm");
    let mut sunk = mark("17", 20.0, 0.0, 0.0);
    sunk.relief_mm = -2.5;
    assert_eq!(refusal(place(sunk)).0, "shell.marks[0].relief_mm");
    assert!(refusal(place(mark("17", 4.0, 0.0, 0.0))).1.contains("do not print"));
    let small = place(mark("17", 6.5, 0.0, 0.0)).unwrap();
    assert!(small.notices[0].contains("thin"), "{:?}", small.notices);
    let large = place(mark("17", 20.0, 0.0, 0.0)).unwrap();
    assert!(large.notices.is_empty());
}
