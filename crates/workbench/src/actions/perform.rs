//! Does what was asked for: whatever belongs to a step brings that step into sight.

use bevy::prelude::*;

use super::{Action, Asked};
use crate::bench::Bench;
use crate::files::{Drawn, Next, Purpose};
use crate::mark::{self, Aim};
use crate::panel::{fit, material, print, scan, shell, show};
use crate::stage::BRUSH_MM;
use crate::step::Step;
use crate::view::{Tool, View};

/// Does what was asked for.
pub fn perform(mut asked: ResMut<Asked>, mut bench: ResMut<Bench>, mut view: ResMut<View>) {
    for action in std::mem::take(&mut asked.0) {
        perform_one(action, &mut bench, &mut view);
    }
}

/// Does one thing.
pub(crate) fn perform_one(action: Action, bench: &mut Bench, view: &mut View) {
    let was = view.step;
    view.step = action.step().unwrap_or(was);
    match view.step {
        _ if action.step().is_none() => anywhere(action, bench, view),
        Step::Scan => scan::perform(action, bench, view),
        Step::Zone => zone(action, bench, view, was),
        Step::Shell => shell::perform(action, bench, view),
        Step::Fit => fit::perform(action, view),
        Step::Material => material::perform(action, bench, view),
        Step::Print if action == Action::OpenFolder => print::open_folder(bench),
        Step::Print => print::export(bench),
        Step::Show => in_show(action, bench, view),
    }
}

fn anywhere(action: Action, bench: &mut Bench, view: &mut View) {
    match action {
        Action::Open => bench.choose(Purpose::Open),
        Action::OpenLatest => match bench.session.preferences.recent.iter().find(|path| path.is_file()).cloned() {
            Some(path) => bench.go_on_to(Next::Open(path)),
            None => bench.say("No design was opened or saved here lately.", true),
        },
        Action::Save => bench.save(),
        Action::SaveAs if bench.session.document().is_some() => bench.choose(Purpose::SaveAs),
        Action::SaveAs => {}
        Action::Undo => {
            if let Some(label) = bench.session.undo() {
                bench.say(format!("Undone: {label}"), false);
            }
        }
        Action::Redo => {
            if let Some(label) = bench.session.redo() {
                bench.say(format!("Done again: {label}"), false);
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
        Action::Confirm if view.shaping.placing.is_some() => view.shaping.place_here = true,
        Action::Confirm => mark::close_outline(bench, view),
        Action::Delete if view.step == Step::Shell => shell::take_away_chosen(bench, view),
        Action::Delete => mark::delete_corner(bench, view),
        // An outline that is being set, or a thing that waits for its place, is given up first.
        Action::Stop if !view.marking.open.is_empty() => view.marking.open.clear(),
        Action::Stop if view.shaping.placing.take().is_some() => {}
        Action::Stop => {
            bench.session.stop();
            bench.files.drawing.stop();
        }
        Action::List => view.actions_open = !view.actions_open,
        Action::Settings => view.settings_open = !view.settings_open,
        Action::Contrast => {
            let strong = &mut bench.session.preferences.high_contrast;
            *strong = !*strong;
            bench.session.keep_preferences();
        }
        Action::LargerText => scale_text(bench, 0.1),
        Action::SmallerText => scale_text(bench, -0.1),
        Action::Demo => bench.go_on_to(Next::Demo),
        Action::Restore => {
            if let Some(leftover) = bench.session.leftovers().first().cloned() {
                bench.go_on_to(Next::Restore(leftover));
            }
        }
        Action::ThrowAway => {
            if let Some(leftover) = bench.session.leftovers().first().cloned() {
                bench.throw_away(&leftover);
            }
        }
        Action::Close => bench.go_on_to(Next::Close),
        // The stage looks at the space bar itself for as long as it is held.
        _ => {}
    }
}

fn scale_text(bench: &mut Bench, by: f32) {
    let scale = &mut bench.session.preferences.text_scale;
    *scale = (10.0 * (*scale + by)).round().clamp(8.0, 20.0) / 10.0;
    bench.session.keep_preferences();
}

fn zone(action: Action, bench: &mut Bench, view: &mut View, was: Step) {
    match action {
        Action::Paint => view.tool = Tool::Paint,
        Action::Erase => view.tool = Tool::Erase,
        Action::Look => view.tool = Tool::Look,
        Action::Outline => view.tool = Tool::Outline,
        Action::TakePenLine => {
            // What is taken is looked at first, where it has to be.
            view.step = was;
            mark::take_pen_line(bench, view);
        }
        Action::MarkZone => mark::aim(view, Aim::Zone),
        Action::MarkRelief => mark::aim(view, Aim::New(mark::RELIEF)),
        Action::MarkReinforcement => mark::aim(view, Aim::New(mark::REINFORCEMENT)),
        Action::MarkKeepClear => mark::aim(view, Aim::New(mark::KEEP_CLEAR)),
        Action::NextRegion => mark::next_region(bench, view),
        Action::RemoveRegion => mark::remove_region(bench, view),
        Action::Grow => mark::grow(bench, 1.0),
        Action::Shrink => mark::grow(bench, -1.0),
        Action::Smoother => mark::smooth(bench, 1.0),
        Action::LessSmooth => mark::smooth(bench, -1.0),
        Action::LargerBrush => view.brush_mm = (view.brush_mm * 1.15).min(BRUSH_MM.1),
        Action::SmallerBrush => view.brush_mm = (view.brush_mm / 1.15).max(BRUSH_MM.0),
        _ => {}
    }
    if view.tool != Tool::Outline {
        view.marking.open.clear();
    }
}

fn in_show(action: Action, bench: &mut Bench, view: &mut View) {
    match action {
        Action::CleanStage => view.show.clean = !view.show.clean,
        Action::TurnSlowly => view.show.turning = !view.show.turning,
        Action::GuardAlone => view.show.alone = !view.show.alone,
        Action::SavePicture => bench.choose(Purpose::Draw(Drawn::Photo)),
        Action::SaveTurn => bench.choose(Purpose::Draw(Drawn::Turn)),
        Action::ChoosePicture => bench.choose(Purpose::Picture),
        other => show::perform(other, bench, view),
    }
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, Instant};

    use ::scan::{BodySite, Side, Unit};
    use session::{Places, Session};

    use super::*;

    /// A bench with the wrist of the demo scans on it.
    fn wrist(folder: &std::path::Path) -> Bench {
        let mut session = Session::begin(Places::inside(folder)).unwrap();
        let scan = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans/wrist-12.ply");
        session.open(&scan, BodySite::Wrist, Side::Left);
        let start = Instant::now();
        while session.document().is_none() {
            assert!(start.elapsed() < Duration::from_secs(60), "the scan never opens");
            session.poll();
            std::thread::sleep(Duration::from_millis(5));
        }
        Bench::new(session)
    }

    /// Every action that edits the design does so, brings its step, and is undone as one step.
    #[test]
    fn actions_edit_the_design_in_their_step_and_are_undone() {
        let folder = tempfile::tempdir().unwrap();
        let mut bench = wrist(folder.path());
        let mut view = View::default();
        bench.session.edit("something marked", |design| {
            session::marking::add_region(&mut design.zone, mark::RELIEF);
            let slot = ::shell::FittingKind::StrapSlot { strap_mm: 25.0, opening_mm: 4.0 };
            design.shell.fittings.push(::shell::Fitting {
                kind: slot,
                at_mm: nalgebra::Point3::origin(),
                turn_deg: 90.0,
            });
        });
        view.marking.aim = Aim::Region(0);
        view.shaping.chosen = Some(crate::shaping::Item::Fitting(0));
        view.weigh(4.0);
        let edits = [
            Action::NextSite,
            Action::NextSide,
            Action::NextUnit,
            Action::CutUpper,
            Action::CutLower,
            Action::Mend,
            Action::Table,
            Action::Pieces,
            Action::Noise,
            Action::Holes,
            Action::LongTriangles,
            Action::Upright,
            Action::Mirror,
            Action::RemoveRegion,
            Action::Grow,
            Action::Shrink,
            Action::Smoother,
            Action::Immobilise,
            Action::Deflect,
            Action::Cushion,
            Action::Thicker,
            Action::Thinner,
            Action::MoreGap,
            Action::LessGap,
            Action::LessRound,
            Action::MoreLift,
            Action::LessLift,
            Action::Ribs,
            Action::RibLayout,
            Action::Vents,
            Action::VentKind,
            Action::TurnLeft,
            Action::TurnRight,
            Action::NextMaterial,
            Action::PreviousMaterial,
            Action::TakeWall,
            Action::NextColour,
            Action::NextFinish,
            Action::NextArtwork,
        ];
        for action in edits {
            let before = bench.session.design().cloned().unwrap();
            perform_one(action, &mut bench, &mut view);
            assert_eq!(view.step, action.step().unwrap(), "{action:?}");
            assert_ne!(*bench.session.design().unwrap(), before, "{action:?} changes nothing");
            perform_one(Action::Undo, &mut bench, &mut view);
            assert_eq!(*bench.session.design().unwrap(), before, "{action:?} is one step");
            // What an edit took from the view is put back for the next one.
            (view.marking.aim, view.shaping.chosen) = (Aim::Region(0), Some(crate::shaping::Item::Fitting(0)));
            view.weigh(4.0);
        }
        perform_one(Action::ToShell, &mut bench, &mut view);
        perform_one(Action::Delete, &mut bench, &mut view);
        assert!(bench.session.design().unwrap().shell.fittings.is_empty());
        let units: Vec<Unit> = (0..Unit::ALL.len())
            .filter_map(|_| {
                perform_one(Action::NextUnit, &mut bench, &mut view);
                bench.session.design()?.clean.unit
            })
            .collect();
        assert!(Unit::ALL.iter().all(|unit| units.contains(unit)), "{units:?}");
    }

    /// Nothing falls over where nothing is open.
    #[test]
    fn actions_without_a_design_do_no_harm() {
        let folder = tempfile::tempdir().unwrap();
        let mut bench = Bench::new(Session::begin(Places::inside(folder.path())).unwrap());
        let mut view = View::default();
        for action in Action::ALL {
            // Choosing a file and ending the sitting are for the window.
            let asks = action.name().ends_with('…') || *action == Action::Demo;
            if !asks {
                perform_one(*action, &mut bench, &mut view);
            }
        }
        assert!(bench.session.design().is_none());
    }

    #[test]
    fn text_grows_and_shrinks_between_its_ends() {
        let folder = tempfile::tempdir().unwrap();
        let mut bench = Bench::new(Session::begin(Places::inside(folder.path())).unwrap());
        let mut view = View::default();
        for _ in 0..20 {
            perform_one(Action::LargerText, &mut bench, &mut view);
        }
        assert_eq!(bench.session.preferences.text_scale, 2.0);
        perform_one(Action::SmallerText, &mut bench, &mut view);
        assert_eq!(bench.session.preferences.text_scale, 1.9);
    }
}
