//! The show step: the guard as the athlete will see it.

use bevy_egui::egui::{Color32, DragValue, Sense, Slider, StrokeKind, Ui, vec2};
use engine::WHOLE_LOOKS;
use locker::{Appearance, Art, Artwork, Finish, Laid, PatternKind};
use session::{about, capitalised};

use crate::actions::Action;
use crate::commands::show::{ArtworkChoice, ArtworkStyle, COLOURS, Style, take_artwork, take_look};
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::{button, choice, listed, problem, remark, section, steady, switch, title};

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
    switch(ui, &mut desk.view.show.alone, "Guard alone").on_hover_text(Action::GuardAlone.keys());
    switch(ui, &mut desk.view.show.turning, "Turn slowly").on_hover_text(Action::TurnSlowly.keys());
    for (icon, text, action) in [
        (None, "Put the panels away", Action::CleanStage),
        (Some(Icon::Picture), "Save a picture, 10 × 15 cm…", Action::SavePicture),
        (Some(Icon::Turntable), "Save a short turn…", Action::SaveTurn),
    ] {
        if button(ui, icon, text).on_hover_text(action.keys()).clicked() {
            desk.asked.0.push(action);
        }
    }
    let before = design.look.as_ref().map_or_else(|| Style::of(&Appearance::default()), Style::of);
    let mut style = before.clone();
    section(ui, "Whole look");
    whole_looks(ui, desk);
    section(ui, "Colour");
    colours(ui, &mut style.colour);
    let finishes = [(Finish::Matt, "Matt"), (Finish::Satin, "Satin"), (Finish::Gloss, "Gloss")];
    choice(ui, &mut style.finish, &finishes);
    section(ui, "Squad number");
    squad_number(ui, desk);
    section(ui, "Pattern or picture");
    choose_artwork(ui, desk);
    // These come and go with what lies there, so no control stands below them.
    if let Some(artwork) = &mut style.artwork {
        artwork_settings(ui, desk, artwork);
    }
    ui.add_space(6.0);
    remark(ui, print::NOT_CERTIFIED);
    let held = ui.input(|i| i.pointer.any_down());
    let session = &mut desk.bench.session;
    if style != before {
        session.edit_live("look", |design| style.put(design.look.get_or_insert_default()));
    }
    if !held && session.document().is_some_and(|document| document.history().is_live()) {
        session.settle();
    }
}

/// Looks of which one press takes ribs, vents, edge, number, colour and finish together.
fn whole_looks(ui: &mut Ui, desk: &mut Desk<'_>) {
    let session = &desk.bench.session;
    let Some(design) = session.design() else { return };
    let weighed = session.derived().looks_now(design).cloned();
    let mut taken = None;
    for (n, look) in WHOLE_LOOKS.iter().enumerate() {
        let found = weighed.as_ref().and_then(|all| all.get(n));
        let now = found.is_some_and(|found| found.on_guard.shell == design.shell);
        let grams = found.and_then(|found| found.grams(design, &session.materials));
        let weight = match (grams, found) {
            (Some(grams), _) => format!("   {grams:.0} g"),
            (None, Some(_)) => "   no room".to_owned(),
            (None, None) => String::new(),
        };
        let told = found.iter().flat_map(|found| found.on_guard.notices.iter().chain(&found.why_not));
        let tip = told.fold(capitalised(look.about) + ".", |tip, notice| format!("{tip} {notice}"));
        let can = found.is_some_and(|found| found.volume_mm3.is_some());
        let row = ui.add_enabled_ui(can, |ui| listed(ui, now, None, &format!("{}{weight}", look.name))).inner;
        if row.on_hover_text(&tip).on_disabled_hover_text(tip).clicked() {
            taken = found.map(|found| found.on_guard.clone());
        }
    }
    remark(ui, "Weights to about 2 %, in the filament that is chosen.");
    if let Some(look) = taken {
        take_look(desk.bench, &look);
    }
}

fn squad_number(ui: &mut Ui, desk: &mut Desk<'_>) {
    let before = desk.bench.session.design().and_then(|design| design.squad_number);
    let mut number = before;
    ui.horizontal(|ui| {
        let mut value = number.unwrap_or(0);
        let none = number.is_none();
        let field = DragValue::new(&mut value).range(0..=locker::MOST_SQUAD_NUMBER);
        // No number must not look like the number 0.
        let field = field.custom_formatter(move |n, _| if none { "–".to_owned() } else { n.to_string() });
        if steady(ui, "squad number", |ui| ui.add(field)).changed() {
            number = Some(value);
        }
        if number.is_some() && button(ui, None, "None").clicked() {
            number = None;
        }
    });
    if number != before {
        desk.bench.session.edit_live("squad number", |design| about::set_number(design, number));
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
            if *colour == known || response.has_focus() {
                edge = ui.visuals().widgets.hovered.bg_stroke;
                edge.width = if *colour == known { 2.5 } else { 1.5 };
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

/// What lies on the outer face.
fn choose_artwork(ui: &mut Ui, desk: &mut Desk<'_>) {
    let look = desk.bench.session.design().and_then(|design| design.look.as_ref());
    let now = ArtworkChoice::of(look.and_then(|look| look.artwork.as_ref()));
    let mut chosen = now;
    let kinds = [
        (ArtworkChoice::Nothing, "Nothing"),
        (ArtworkChoice::Pattern(PatternKind::Stripes), "Stripes"),
        (ArtworkChoice::Pattern(PatternKind::Dots), "Dots"),
        (ArtworkChoice::Pattern(PatternKind::Chevrons), "Chevrons"),
        (ArtworkChoice::Pattern(PatternKind::Waves), "Waves"),
        (ArtworkChoice::Picture, "Picture…"),
    ];
    if choice(ui, &mut chosen, &kinds) {
        match chosen {
            ArtworkChoice::Picture => desk.asked.0.push(Action::ChoosePicture),
            other => take_artwork(desk.bench, other, desk.view.show.front_deg),
        }
    }
}

/// How it lies there.
fn artwork_settings(ui: &mut Ui, desk: &mut Desk<'_>, artwork: &mut ArtworkStyle) {
    if let Some(colour) = &mut artwork.colour {
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
    if button(ui, None, "This side is the front").on_hover_text(Action::ThisSide.keys()).clicked() {
        desk.asked.0.push(Action::ThisSide);
    }
    remark(ui, "Shown only, not printed.");
    let look = desk.bench.session.design().and_then(|design| design.look.as_ref());
    if let Some(Artwork { art: Art::Picture(kept), .. }) = look.and_then(|look| look.artwork.as_ref())
        && desk.view.show.is_damaged(kept)
    {
        problem(ui, "The picture in the design file is damaged; choose it again.");
    }
}
