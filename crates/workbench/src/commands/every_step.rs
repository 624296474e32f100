//! Commands that can be given in every step.

use super::files::{choose, go_on_to, save, throw_away};
use super::{shell, zone};
use crate::actions::Action;
use crate::state::files::{FileRequest, Next};
use crate::state::{Bench, Floating, Step, View};

/// Does what a key or button that belongs to no step asks for.
pub fn perform(action: Action, bench: &mut Bench, view: &mut View) {
    match action {
        Action::Open => choose(bench, FileRequest::Open),
        Action::OpenLatest => match bench.session.preferences.recent.iter().find(|path| path.is_file()).cloned() {
            Some(path) => go_on_to(bench, view, Next::Open(path)),
            None => bench.say("There is no recent design.", true),
        },
        Action::Save => save(bench),
        Action::SaveAs if bench.session.document().is_some() => choose(bench, FileRequest::SaveAs),
        Action::SaveAs => {}
        Action::Undo => {
            if let Some(label) = bench.session.undo() {
                bench.say(format!("Undone: {label}"), false);
            }
        }
        Action::Redo => {
            if let Some(label) = bench.session.redo() {
                bench.say(format!("Redone: {label}"), false);
            }
        }
        Action::NextStep => view.step = view.step.next().unwrap_or(view.step),
        Action::PreviousStep => view.step = view.step.previous().unwrap_or(view.step),
        Action::ToScan => view.step = Step::Scan,
        Action::ToZone => view.step = Step::Zone,
        Action::ToShell => view.step = Step::Shell,
        Action::ToFit => view.step = Step::Fit,
        Action::ToMaterial => view.step = Step::Material,
        Action::ToPrint => view.step = Step::Print,
        Action::ToShow => view.step = Step::Show,
        // Something waits for its place on the limb.
        Action::Confirm if view.shell.placing.is_some() => view.shell.place_here = true,
        Action::Confirm => zone::close_outline(bench, view),
        Action::Delete if view.step == Step::Shell => shell::take_away_chosen(bench, view),
        Action::Delete => zone::delete_corner(bench, view),
        Action::Stop if view.floating.take().is_some() => {}
        // An open outline, or a thing that waits for its place, is given up first.
        Action::Stop if !view.zone.open.is_empty() => view.zone.open.clear(),
        Action::Stop if view.shell.placing.take().is_some() => {}
        Action::Stop => {
            bench.session.stop();
            bench.files.rendering.cancel();
        }
        Action::List => toggle(view, Floating::Keys),
        Action::Settings => toggle(view, Floating::Settings),
        Action::SeeAll => view.see_all = true,
        Action::Contrast => {
            let strong = &mut bench.session.preferences.high_contrast;
            *strong = !*strong;
            bench.session.keep_preferences();
        }
        Action::LargerText => scale_text(bench, 0.1),
        Action::SmallerText => scale_text(bench, -0.1),
        Action::Demo => go_on_to(bench, view, Next::Demo),
        Action::Restore => {
            if let Some(unsaved) = bench.session.unsaved_designs().first().cloned() {
                go_on_to(bench, view, Next::Restore(unsaved));
            }
        }
        Action::ThrowAway => {
            if let Some(unsaved) = bench.session.unsaved_designs().first().cloned() {
                throw_away(bench, &unsaved);
            }
        }
        Action::Close => go_on_to(bench, view, Next::Close),
        // The stage reads the space bar itself while it is held.
        _ => {}
    }
}

/// Opens a small window in place of another, or closes it.
fn toggle(view: &mut View, window: Floating) {
    view.floating = (view.floating != Some(window)).then_some(window);
}

fn scale_text(bench: &mut Bench, by: f32) {
    let scale = &mut bench.session.preferences.text_scale;
    *scale = (10.0 * (*scale + by)).round().clamp(8.0, 20.0) / 10.0;
    bench.session.keep_preferences();
}
