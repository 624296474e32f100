//! A number stays readable whatever lies on the guard; tested on pixels.

use engine::artwork::{cover, render_style};
use locker::{Appearance, Art, Artwork, Laid, PatternKind};
use mesh::{Job, Mesh, Surface};
use nalgebra::Point3;
use print::picture::{Cover, Guard, View, single};
use shell::Mark;

/// A tube round a limb in a pattern, seen from the number's side: pixels round the number are those of the plain tube.
#[test]
fn a_pattern_leaves_the_number_on_plain_plastic() {
    let tube = |radius_mm: f64| -> Mesh { test_shapes::tube(radius_mm, [-50.0, 50.0], 360, 100).build() };
    let (skin, shell) = (Surface::new(tube(50.0)), tube(56.0));
    let art = Art::Pattern { kind: PatternKind::Dots, colour: [10, 10, 10] };
    let artwork = Artwork { art, laid: Laid::Round, front_deg: 0.0, width_mm: 9.0, shift_mm: [0.0, 0.0] };
    let look = Appearance { artwork: Some(artwork), colour: [230, 210, 90], ..Appearance::default() };
    let at_mm = Point3::new(50.0, 0.0, 0.0);
    let mark = Mark {
        text: "23".into(),
        height_mm: 16.0,
        relief_mm: 0.8,
        at_mm,
        turn_deg: 0.0,
        kind: shell::MarkKind::Relief,
    };
    let job = Job::silent();
    let draw = |cover: Option<&Cover>| {
        let guard = Guard { shell: &shell, cover, front_deg: Some(0.0) };
        single(&Mesh::default(), guard, View::FRONT, &render_style(&look), [400, 400], &job).expect("a picture")
    };
    let covered = |marks: &[Mark]| cover(&shell, &skin, &look, marks, &job).expect("laid on");
    let plain = draw(None);
    let page = *plain.get_pixel(2, 200);
    // 112 mm of tube across the picture.
    let scale = (0..400).filter(|x| *plain.get_pixel(*x, 200) != page).count() as f32 / 112.0;
    let changed = |marks: &[Mark], half_mm: [f32; 2]| {
        let picture = draw(covered(marks).as_ref());
        let [wide, high] = half_mm.map(|mm| (mm * scale) as u32);
        let all = (200 - wide..200 + wide).flat_map(|x| (200 - high..200 + high).map(move |y| (x, y)));
        all.filter(|(x, y)| picture.get_pixel(*x, *y) != plain.get_pixel(*x, *y)).count()
    };
    // A bold digit is about 0.7 of its height wide; plain plastic shows round it.
    let number = [0.7 * 16.0 + 3.0, 8.0 + 3.0];
    let marks = std::slice::from_ref(&mark);
    assert_eq!(changed(marks, number), 0, "dots over the number");
    assert!(changed(&[], number) > 500, "dots are everywhere without it");
    assert!(changed(marks, [45.0, 40.0]) > 2000, "and beside it");
}
