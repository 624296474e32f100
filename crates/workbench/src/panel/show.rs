//! The show step: the guard as the athlete will see it.

use std::io::Cursor;
use std::path::Path;

use bevy_egui::egui::{Color32, DragValue, Sense, Slider, StrokeKind, Ui, vec2};
use locker::{Appearance, Art, Artwork, Finish, Laid, PatternKind};

use super::Desk;
use super::scan::after;
use crate::actions::Action;
use crate::bench::Bench;
use crate::look::icons::Icon;
use crate::look::{button, choice, problem, remark, section, steady, switch, title};
use crate::stage::LONGEST;
use crate::view::View;

/// Colours to begin with.
const COLOURS: [[u8; 3]; 8] = [
    [240, 226, 196],
    [245, 244, 240],
    [46, 52, 64],
    [29, 107, 102],
    [31, 78, 140],
    [163, 45, 52],
    [224, 138, 30],
    [110, 150, 70],
];

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    title(ui, "Show");
    let Some(design) = desk.bench.session.design() else {
        ui.label("Open a scan first.");
        return;
    };
    if desk.bench.session.derived().best_shell(design).is_none() {
        ui.label("There is no shell yet. Mark the zone; the shell follows by itself.");
        return;
    }
    let before = design.look.clone().unwrap_or_default();
    let mut look = before.clone();
    let mut number = design.squad_number;
    switch(ui, &mut desk.view.show.alone, "Guard alone");
    switch(ui, &mut desk.view.show.turning, "Turn slowly");
    if button(ui, None, "Put the panels away").clicked() {
        desk.asked.0.push(Action::CleanStage);
    }
    if button(ui, Some(Icon::Picture), "Save a picture, 10 × 15 cm…").clicked() {
        desk.asked.0.push(Action::SavePicture);
    }
    if button(ui, Some(Icon::Turntable), "Save a short turn…").clicked() {
        desk.asked.0.push(Action::SaveTurn);
    }
    section(ui, "Colour");
    colours(ui, &mut look.colour);
    let finishes = [(Finish::Matt, "Matt"), (Finish::Satin, "Satin"), (Finish::Gloss, "Gloss")];
    choice(ui, &mut look.finish, &finishes);
    section(ui, "On the outer face");
    artwork(ui, desk, &mut look);
    section(ui, "Squad number");
    ui.horizontal(|ui| {
        let mut value = number.unwrap_or(0);
        let none = number.is_none();
        let field = DragValue::new(&mut value).range(0..=9999);
        // No number is not the number nought.
        let field = field.custom_formatter(move |n, _| if none { "–".to_owned() } else { n.to_string() });
        if steady(ui, "squad number", |ui| ui.add(field)).changed() {
            number = Some(value);
        }
        if number.is_some() && button(ui, None, "None").clicked() {
            number = None;
        }
    });
    if let Some(caution) = print::words::cautions().first() {
        ui.add_space(6.0);
        remark(ui, caution);
    }
    let held = ui.input(|i| i.pointer.any_down());
    let session = &mut desk.bench.session;
    if look != before {
        session.edit_live("look", |design| design.look = Some(look));
    }
    if session.design().is_some_and(|design| design.squad_number != number) {
        session.edit_live("squad number", |design| renumber(design, number));
    }
    if !held && session.document().is_some_and(|document| document.history().is_live()) {
        session.settle();
    }
}

/// Gives the guard another number, and its mark with it.
fn renumber(design: &mut locker::DesignFile, number: Option<u32>) {
    let old = design.squad_number.map(|n| n.to_string());
    design.squad_number = number;
    if let (Some(old), Some(new)) = (old, number) {
        let marks = design.shell.marks.iter_mut().filter(|mark| mark.text == old);
        marks.for_each(|mark| mark.text = new.to_string());
    }
}

fn colours(ui: &mut Ui, colour: &mut [u8; 3]) {
    ui.horizontal(|ui| {
        // All in one row.
        let count = COLOURS.len() as f32;
        let side = (ui.available_width() - (count - 1.0) * ui.spacing().item_spacing.x) / count;
        for known in COLOURS {
            let (rect, response) = ui.allocate_exact_size(vec2(side, side), Sense::click());
            let [r, g, b] = known;
            ui.painter().rect_filled(rect.shrink(2.0), 6.0, Color32::from_rgb(r, g, b));
            let mut edge = ui.visuals().widgets.inactive.bg_stroke;
            if *colour == known {
                edge = ui.visuals().widgets.hovered.bg_stroke;
                edge.width = 2.5;
            }
            ui.painter().rect_stroke(rect.shrink(2.0), 6.0, edge, StrokeKind::Outside);
            if response.clicked() {
                *colour = known;
            }
        }
    });
    ui.horizontal(|ui| {
        ui.label("Another colour");
        ui.color_edit_button_srgb(colour);
    });
}

/// Does what a key or button of this step asks for.
pub(crate) fn perform(action: Action, bench: &mut Bench, view: &mut View) {
    let Some(mut look) = bench.session.design().map(|design| design.look.clone().unwrap_or_default()) else { return };
    let front_deg = view.show.front_deg;
    match action {
        Action::NextColour => look.colour = after(&COLOURS, &look.colour).unwrap_or(look.colour),
        Action::NextFinish => {
            look.finish = after(&[Finish::Matt, Finish::Satin, Finish::Gloss], &look.finish).unwrap_or(look.finish);
        }
        Action::NextArtwork => {
            let kinds = [
                Kind::Nothing,
                Kind::Pattern(PatternKind::Stripes),
                Kind::Pattern(PatternKind::Dots),
                Kind::Pattern(PatternKind::Chevrons),
                Kind::Pattern(PatternKind::Waves),
            ];
            let next = after(&kinds, &Kind::of(look.artwork.as_ref())).unwrap_or(Kind::Nothing);
            lay(&mut look, next, front_deg);
        }
        Action::ThisSide => {
            if let Some(artwork) = &mut look.artwork {
                artwork.front_deg = front_deg;
            }
        }
        _ => {}
    }
    bench.session.edit("look", |design| {
        if design.look.clone().unwrap_or_default() != look {
            design.look = Some(look);
        }
    });
}

/// Lays a pattern on, or takes off what lies there.
fn lay(look: &mut Appearance, kind: Kind, front_deg: f32) {
    match kind {
        Kind::Nothing => look.artwork = None,
        Kind::Picture => {}
        Kind::Pattern(kind) => {
            let colour = if look.colour == COLOURS[2] { COLOURS[1] } else { COLOURS[2] };
            let art = Art::Pattern { kind, colour };
            let fresh = Artwork { art: art.clone(), laid: Laid::Round, front_deg, width_mm: 26.0, shift_mm: [0.0; 2] };
            let kept = look.artwork.take().filter(|old| matches!(old.art, Art::Pattern { .. }));
            look.artwork = Some(kept.map_or(fresh, |old| Artwork { art, ..old }));
        }
    }
}

impl Kind {
    fn of(artwork: Option<&Artwork>) -> Self {
        match artwork {
            None => Self::Nothing,
            Some(Artwork { art: Art::Pattern { kind, .. }, .. }) => Self::Pattern(*kind),
            Some(Artwork { art: Art::Picture(_), .. }) => Self::Picture,
        }
    }
}

/// What can be laid on, as buttons.
#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Nothing,
    Pattern(PatternKind),
    Picture,
}

fn artwork(ui: &mut Ui, desk: &mut Desk<'_>, look: &mut Appearance) {
    let now = Kind::of(look.artwork.as_ref());
    let mut chosen = now;
    let kinds = [
        (Kind::Nothing, "Nothing"),
        (Kind::Pattern(PatternKind::Stripes), "Stripes"),
        (Kind::Pattern(PatternKind::Dots), "Dots"),
        (Kind::Pattern(PatternKind::Chevrons), "Chevrons"),
        (Kind::Pattern(PatternKind::Waves), "Waves"),
        (Kind::Picture, "Picture…"),
    ];
    if choice(ui, &mut chosen, &kinds) {
        match chosen {
            Kind::Picture => desk.asked.0.push(Action::ChoosePicture),
            other => lay(look, other, desk.view.show.front_deg),
        }
    }
    let Some(artwork) = &mut look.artwork else { return };
    if let Art::Pattern { colour, .. } = &mut artwork.art {
        ui.horizontal(|ui| {
            ui.label("Its colour");
            ui.color_edit_button_srgb(colour);
        });
    }
    choice(ui, &mut artwork.laid, &[(Laid::Flat, "Flat from the front"), (Laid::Round, "Round the limb")]);
    ui.label("Width, mm");
    ui.add(Slider::new(&mut artwork.width_mm, 4.0..=300.0).logarithmic(true).max_decimals(0));
    ui.label("To the right, mm");
    ui.add(Slider::new(&mut artwork.shift_mm[0], -150.0..=150.0).max_decimals(0));
    ui.label("Up, mm");
    ui.add(Slider::new(&mut artwork.shift_mm[1], -150.0..=150.0).max_decimals(0));
    if button(ui, None, "This side is the front").clicked() {
        desk.asked.0.push(Action::ThisSide);
    }
    remark(ui, "It is only shown, not printed.");
    if matches!(&artwork.art, Art::Picture(kept) if locker::load_picture(kept).is_err()) {
        problem(ui, "The picture in the design file is damaged; choose it again.");
    }
}

/// Lays a picture on the guard.
pub fn take_picture(bench: &mut Bench, path: &Path, front_deg: f32) {
    let kept = match read_picture(path) {
        Ok(bytes) => locker::keep_picture(&bytes),
        Err(sentence) => return bench.say(sentence, true),
    };
    bench.session.edit("picture", |design| {
        let look = design.look.get_or_insert_default();
        let art = Art::Picture(kept);
        let fresh = Artwork { art: art.clone(), laid: Laid::Flat, front_deg, width_mm: 60.0, shift_mm: [0.0; 2] };
        let old = look.artwork.take().filter(|old| matches!(old.art, Art::Picture(_)));
        look.artwork = Some(old.map_or(fresh, |old| Artwork { art, ..old }));
    });
}

/// A picture made no larger than is seen, as PNG.
fn read_picture(path: &Path) -> Result<Vec<u8>, String> {
    let cannot = |why: String| format!("{} cannot be taken as a picture: {why}. Take a PNG or JPEG.", path.display());
    let bytes = std::fs::read(path).map_err(|e| cannot(e.to_string()))?;
    let mut reader =
        image::ImageReader::new(Cursor::new(bytes)).with_guessed_format().map_err(|e| cannot(e.to_string()))?;
    let mut limits = image::Limits::default();
    (limits.max_image_width, limits.max_image_height) = (Some(20_000), Some(20_000));
    reader.limits(limits);
    let picture = reader.decode().map_err(|e| cannot(e.to_string()))?;
    let small =
        if picture.width().max(picture.height()) > LONGEST { picture.thumbnail(LONGEST, LONGEST) } else { picture };
    let mut out = Cursor::new(Vec::new());
    small.to_rgba8().write_to(&mut out, image::ImageFormat::Png).map_err(|e| cannot(e.to_string()))?;
    Ok(out.into_inner())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn large_pictures_are_made_small_and_what_is_none_is_refused_in_words() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("large.jpg");
        image::RgbImage::from_pixel(1600, 800, image::Rgb([10, 200, 30])).save(&path).unwrap();
        let small = image::load_from_memory(&read_picture(&path).unwrap()).unwrap().to_rgb8();
        assert_eq!(small.dimensions(), (768, 384));
        assert!(small.get_pixel(300, 200).0[1] > 180);
        std::fs::write(&path, b"no picture at all").unwrap();
        assert!(read_picture(&path).unwrap_err().contains("Take a PNG or JPEG"));
    }
}
