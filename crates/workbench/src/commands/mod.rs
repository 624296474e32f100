//! The commands: what is done when an action is asked for, one file a step.
//!
//! Panels, overlays and dialogs draw and ask; what then happens to document and view is here. An action that belongs to
//! a step also opens that step.

mod every_step;
pub mod file_chooser;
pub mod files;
mod fit;
pub mod material;
pub mod notes;
pub mod print;
pub mod scan;
pub mod shell;
pub mod show;
pub mod zone;

use bevy::prelude::*;

use crate::actions::{Action, Asked};
use crate::state::{Bench, Step, View};

/// Does what was asked for.
pub fn perform(mut asked: ResMut<Asked>, mut bench: ResMut<Bench>, mut view: ResMut<View>) {
    for action in std::mem::take(&mut asked.0) {
        perform_one(action, &mut bench, &mut view);
    }
}

/// Does one thing.
pub fn perform_one(action: Action, bench: &mut Bench, view: &mut View) {
    let was = view.step;
    let Some(step) = action.step() else { return every_step::perform(action, bench, view) };
    view.step = step;
    match step {
        Step::Scan => scan::perform(action, bench, view),
        Step::Zone => zone::perform(action, bench, view, was),
        Step::Shell => shell::perform(action, bench, view),
        Step::Fit => fit::perform(action, view),
        Step::Material => material::perform(action, bench, view),
        Step::Print => print::perform(action, bench, view),
        Step::Show => show::perform(action, bench, view),
    }
}

/// The one after `now`; after the last, the first.
pub fn next_of<T: PartialEq + Copy>(all: &[T], now: &T) -> Option<T> {
    let at = all.iter().position(|one| one == now).map_or(0, |i| i + 1);
    all.get(at % all.len().max(1)).copied()
}

#[cfg(test)]
mod tests {
    use ::scan::Unit;
    use session::{Places, Session};

    use super::*;

    /// Every action that edits the design does so, brings its step, and is undone as one step.
    #[test]
    fn actions_edit_the_design_in_their_step_and_are_undone() {
        let folder = tempfile::tempdir().unwrap();
        let mut bench = Bench::with_wrist(folder.path());
        let mut view = View::default();
        bench.session.edit("something marked", |design| {
            session::marking::add_region(&mut design.zone, crate::state::zone::RELIEF);
            let slot = ::shell::FittingKind::StrapSlot { strap_mm: 25.0, opening_mm: 4.0 };
            design.shell.fittings.push(::shell::Fitting {
                kind: slot,
                at_mm: nalgebra::Point3::origin(),
                turn_deg: 90.0,
                follows: false,
            });
        });
        view.zone.aim = crate::state::zone::Aim::Region(0);
        view.shell.chosen = Some(crate::state::shell::Item::Fitting(0));
        view.material.weigh(4.0);
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
            (view.zone.aim, view.shell.chosen) =
                (crate::state::zone::Aim::Region(0), Some(crate::state::shell::Item::Fitting(0)));
            view.material.weigh(4.0);
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

    /// No action does harm while nothing is open.
    #[test]
    fn actions_without_a_design_do_no_harm() {
        let folder = tempfile::tempdir().unwrap();
        let mut bench = Bench::new(Session::begin(Places::inside(folder.path())).unwrap());
        let mut view = View::default();
        for action in Action::ALL {
            // Choosing a file needs the window, and the demo would open a design.
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
