//! The search for the lightest guard that holds.

use bevy_egui::egui::Ui;
use engine::Lightest;
use locker::DesignFile;
use print::words::two_digits;

use crate::actions::Action;
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::{self, Setting};

/// Shows what it has to hold to, the search, and what was found.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>, design: &DesignFile) {
    look::section(ui, "The lightest that holds");
    let targets = &mut desk.view.material.targets;
    let each = [
        (&mut targets.spare, Setting::new("Times to spare, at least", "×", 0.2..=5.0)),
        (
            &mut targets.peak_kpa,
            Setting::new("Pressure on the skin, at most", "kPa", 50.0..=5000.0).step(10.0).logarithmic(),
        ),
        (&mut targets.dent_mm, Setting::new("Dent, at most", "mm", 1.0..=20.0).step(0.5)),
        (&mut targets.bending, Setting::new("Bends a joint by 1°, at least", "N·m", 0.1..=50.0).logarithmic()),
    ];
    for ((counts, value), setting) in each {
        let name = setting.name();
        look::switch(ui, counts, name);
        ui.add_enabled_ui(*counts, |ui| setting.without_name().show(ui, value));
    }
    let seeking = desk.bench.session.seeking();
    let (running, (tried, best)) = (seeking.is_running(), seeking.so_far());
    let found = seeking.found(&design.shell).cloned();
    let begin = if running { "Stop and keep the lightest so far" } else { "Find it" };
    let action = if running { Action::Stop } else { Action::SeekLightest };
    if look::wide_button(ui, Some(if running { Icon::Stop } else { Icon::Done }), begin)
        .on_hover_text(action.keys())
        .clicked()
    {
        desk.asked.0.push(action);
    }
    let so_far = match (&best, &found) {
        (_, Some(found)) => found_in_words(found, design),
        (Some(best), None) if running => {
            format!("{tried} guards tried. So far: {:.0} g, wall {:.1} mm, {}.", best.grams, best.wall_mm, best.what)
        }
        (None, None) if running => format!("{tried} guards tried, none of them holds so far."),
        _ => "Wall, ribs and vents are tried on the guard’s own model, in the filament that is chosen. It takes up to a minute."
            .to_owned(),
    };
    look::noted(ui, 4, None, &so_far);
    let can_take = found.as_ref().and_then(|found| found.best.as_ref()).is_some_and(|best| best.design != design.shell);
    ui.add_enabled_ui(can_take, |ui| {
        if look::wide_button(ui, Some(Icon::Done), "Use it").on_hover_text(Action::TakeLightest.keys()).clicked() {
            desk.asked.0.push(Action::TakeLightest);
        }
    });
    if let Some(found) = &found {
        found.gave_up.iter().for_each(|said| look::remark(ui, said));
    }
}

/// What was found, in a sentence.
fn found_in_words(found: &Lightest, design: &DesignFile) -> String {
    let cut = if found.is_cut_short { " The search was ended early." } else { "" };
    let Some(best) = &found.best else { return format!("None of {} guards holds.{cut}", found.trace.len()) };
    let taken = if best.design == design.shell { " It is in use; undo brings the guard before back." } else { "" };
    let spare = two_digits(best.answer.spare.value);
    format!(
        "{:.0} g with a wall of {:.1} mm, {}: {spare} times to spare.{taken}{cut}",
        best.grams, best.wall_mm, best.what
    )
}
