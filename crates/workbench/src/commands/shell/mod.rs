//! The commands of the shell step: starting points, settings by steps, straps and numbers.

pub mod items;

use std::path::Path;

use engine::{GuardPurpose, PRESETS, Preset};
use locker::DesignFile;
use scan::BodySite;
use shell::limits::{self, Limit};
use shell::{Design, FittingKind, RibLayout, Ribs, VentKind, Vents};

use super::files::choose;
use super::next_of;
use crate::actions::Action;
use crate::state::files::FileRequest;
use crate::state::shell::{Item, Placing};
use crate::state::{Bench, View};

/// Ribs as first switched on.
pub const USUAL_RIBS: Ribs = Ribs { layout: RibLayout::Along, height_mm: 1.8, width_mm: 5.0, spacing_mm: 34.0 };

/// Does what a key or button of this step asks for.
pub fn perform(action: Action, bench: &mut Bench, view: &mut View) {
    match action {
        Action::Immobilise => start(bench, GuardPurpose::Immobilise),
        Action::Deflect => start(bench, GuardPurpose::Deflect),
        Action::Cushion => start(bench, GuardPurpose::CushionAndMove),
        Action::UsualForSite => bench.session.edit("start: body site", |design| {
            design.shell = usual_shell(design.site, &design.shell);
        }),
        Action::AddStrap | Action::AddLace | Action::AddTie | Action::AddStitch | Action::AddSeat => {
            place(action, bench, view);
        }
        Action::SuggestStraps => suggest_straps(bench),
        Action::AddNumber => place_number(bench, view),
        Action::RaisePicture => choose(bench, FileRequest::Raise),
        Action::NextItem => view.shell.chosen = bench.session.design().and_then(|d| items::next(d, view.shell.chosen)),
        Action::TurnLeft | Action::TurnRight => turn(action, bench, view),
        other => {
            let label = label(other);
            bench.session.edit(label, |design| set(other, &mut design.shell));
        }
    }
}

/// The usual settings of a body site, with the fittings and marks of a shell.
fn usual_shell(site: BodySite, shell: &Design) -> Design {
    let (fittings, marks) = (shell.fittings.clone(), shell.marks.clone());
    Design { fittings, marks, pictures: shell.pictures.clone(), ..engine::shell_for(site) }
}

/// The starting point that a design still matches in everything.
pub fn start_in_use(design: &DesignFile) -> Option<Action> {
    let stands_at = |start: &&Preset| {
        let mut shell = design.shell.clone();
        start.put_into(&mut shell);
        start.material == design.material && shell == design.shell
    };
    let preset = PRESETS.iter().find(stands_at).map(|start| start_action(start.purpose));
    let mut usual = usual_shell(design.site, &design.shell);
    // How far apart its ribs are follows from the zone.
    if let (Some(usual), Some(now)) = (&mut usual.ribs, design.shell.ribs) {
        usual.spacing_mm = now.spacing_mm;
    }
    preset.or_else(|| (usual == design.shell).then_some(Action::UsualForSite))
}

/// The action that starts from the preset of a purpose.
pub fn start_action(purpose: GuardPurpose) -> Action {
    match purpose {
        GuardPurpose::Immobilise => Action::Immobilise,
        GuardPurpose::Deflect => Action::Deflect,
        GuardPurpose::CushionAndMove => Action::Cushion,
    }
}

fn start(bench: &mut Bench, purpose: GuardPurpose) {
    let Some(start) = PRESETS.iter().find(|start| start.purpose == purpose) else { return };
    bench.session.edit(&format!("start: {}", start.name.to_lowercase()), |design| {
        start.put_into(&mut design.shell);
        (design.material, design.filament) = (start.material, None);
    });
}

/// The undo label of an action that changes a setting.
fn label(action: Action) -> &'static str {
    match action {
        Action::Thicker | Action::Thinner => "wall",
        Action::MoreGap | Action::LessGap => "gap to the skin",
        Action::Rounder | Action::LessRound => "rounding",
        Action::MoreLift | Action::LessLift => "lift off the skin",
        Action::Ribs | Action::RibLayout => "ribs",
        Action::Rearrange => "another arrangement",
        _ => "vents",
    }
}

/// Changes one setting of the shell by one step.
fn set(action: Action, shell: &mut Design) {
    let by = |value: f32, by: f32, limit: &Limit, most: f32| {
        ((10.0 * (value + by)).round() / 10.0).clamp(limit.least, limit.most.min(most))
    };
    let (free, full) = (f32::INFINITY, limits::most_round_mm(shell));
    match action {
        Action::Thicker | Action::Thinner => {
            let step = if action == Action::Thicker { 0.2 } else { -0.2 };
            shell.thickness_mm = by(shell.thickness_mm, step, &limits::THICKNESS, free);
            shell.rim.round_mm = shell.rim.round_mm.min(limits::most_round_mm(shell));
        }
        Action::MoreGap => shell.gap_mm = by(shell.gap_mm, 0.5, &limits::GAP, free),
        Action::LessGap => shell.gap_mm = by(shell.gap_mm, -0.5, &limits::GAP, free),
        Action::Rounder => shell.rim.round_mm = by(shell.rim.round_mm, 0.2, &limits::ROUND, full),
        Action::LessRound => shell.rim.round_mm = by(shell.rim.round_mm, -0.2, &limits::ROUND, full),
        Action::MoreLift => {
            shell.rim.flare_mm = by(shell.rim.flare_mm, 0.5, &limits::FLARE, free);
            // A higher lift needs a wider edge to rise over.
            shell.rim.flare_width_mm = shell.rim.flare_width_mm.max(limits::least_flare_width_mm(shell.rim.flare_mm));
        }
        Action::LessLift => shell.rim.flare_mm = by(shell.rim.flare_mm, -0.5, &limits::FLARE, free),
        Action::Ribs => shell.ribs = if shell.ribs.is_some() { None } else { Some(USUAL_RIBS) },
        Action::RibLayout => {
            let next = shell.ribs.and_then(|ribs| next_of(&RibLayout::ALL, &ribs.layout)).unwrap_or(USUAL_RIBS.layout);
            shell.ribs = Some(Ribs { layout: next, ..shell.ribs.unwrap_or(USUAL_RIBS) });
        }
        Action::Vents => shell.vents = if shell.vents.is_some() { None } else { Some(Vents::USUAL) },
        Action::VentKind => {
            let next = shell.vents.and_then(|vents| next_of(&VentKind::ALL, &vents.kind)).unwrap_or(Vents::USUAL.kind);
            shell.vents = Some(Vents { kind: next, ..shell.vents.unwrap_or(Vents::USUAL) });
        }
        Action::Rearrange => {
            if let Some(vents) = &mut shell.vents {
                vents.seed = vents.seed.wrapping_add(1);
            }
        }
        _ => {}
    }
}

/// The action that places a new fitting of this kind.
pub fn place_action(kind: &FittingKind) -> Action {
    match kind {
        FittingKind::LaceHoles { .. } => Action::AddLace,
        FittingKind::TieSlot { .. } => Action::AddTie,
        FittingKind::StitchHoles { .. } => Action::AddStitch,
        FittingKind::HookAndLoopSeat { .. } => Action::AddSeat,
        _ => Action::AddStrap,
    }
}

fn place(action: Action, bench: &Bench, view: &mut View) {
    let Some(design) = bench.session.design() else { return };
    let kind = items::new_fittings(design.site, &design.shell).into_iter().find(|kind| place_action(kind) == action);
    view.shell.placing = kind.map(Placing::Fitting);
}

fn place_number(bench: &mut Bench, view: &mut View) {
    let typed = view.shell.text.as_deref().unwrap_or_default().trim().to_owned();
    let number = bench.session.design().and_then(|design| design.squad_number).map(|n| n.to_string());
    let text = if typed.is_empty() { number } else { Some(typed) };
    if text.is_none() {
        bench.say("Type a number or a short word first, or give the athlete's squad number in the scan step.", true);
    }
    view.shell.placing = text.map(Placing::Mark);
}

fn suggest_straps(bench: &mut Bench) {
    let derived = bench.session.derived();
    let (Some(limb), Some(zone)) = (derived.limb.value().cloned(), derived.zone.value().cloned()) else { return };
    let slot = |kind: &FittingKind| matches!(kind, FittingKind::StrapSlot { .. });
    if bench.session.design().is_none_or(|design| design.shell.fittings.iter().any(|f| slot(&f.kind))) {
        return;
    }
    let mut notices = Vec::new();
    bench.session.edit("suggested straps", |design| {
        // It fails only when stopped, and a silent job never is.
        let job = mesh::Job::silent();
        notices =
            engine::add_fittings(&mut design.shell, &limb.skin, &zone, design.site, None, &job).unwrap_or_default();
    });
    if let Some(first) = notices.into_iter().next() {
        bench.say(session::capitalised(&first), true);
    }
}

/// Raises the picture of a file on the guard, where it has most room.
pub fn raise_picture(bench: &mut Bench, view: &mut View, path: &Path) {
    let derived = bench.session.derived();
    let (Some(limb), Some(zone)) = (derived.limb.value().cloned(), derived.zone.value().cloned()) else {
        return bench.say("A picture is raised on a shell: mark the zone first.", true);
    };
    // Its size is limited, so that it is read within a blink.
    let job = mesh::Job::silent();
    let picture = match engine::read_picture(path, &job) {
        Ok(picture) => picture,
        Err(error) => return bench.say(session::capitalised(&error.to_string()), true),
    };
    let mut refused = None;
    bench.session.edit("raise a picture", |design| {
        refused = engine::add_picture(&mut design.shell, &limb.skin, &zone, &picture, &job).err();
    });
    match refused {
        Some(error) => bench.say(session::capitalised(&error.to_string()), true),
        None => {
            let last = bench.session.design().map_or(0, |design| design.shell.pictures.len());
            view.shell.chosen = last.checked_sub(1).map(Item::Picture);
        }
    }
}

fn turn(action: Action, bench: &mut Bench, view: &View) {
    let Some(item) = view.shell.chosen else {
        bench.say("Choose a strap or number first.", true);
        return;
    };
    let by = if action == Action::TurnLeft { 5.0 } else { -5.0 };
    let derived = bench.session.derived();
    let shell = bench.session.design().and_then(|design| derived.best_shell(design));
    let placed = shell.map_or_else(Vec::new, |shell| shell.layout.fittings.clone());
    bench.session.edit("turn", |design| {
        items::take_over(&mut design.shell, item, &placed);
        if let Some((_, turn_deg)) = items::pose(&mut design.shell, item) {
            *turn_deg = (*turn_deg + by + 180.0).rem_euclid(360.0) - 180.0;
        }
    });
}

/// Takes the chosen strap, fitting or number away.
pub fn take_away_chosen(bench: &mut Bench, view: &mut View) {
    if let Some(item) = view.shell.chosen.take() {
        bench.session.edit("take away", |design| items::remove(&mut design.shell, item));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// However often a key is pressed, the design stays valid.
    #[test]
    fn pressing_on_stays_within_the_limits() {
        let presses = [
            Action::Thicker,
            Action::Thinner,
            Action::MoreGap,
            Action::LessGap,
            Action::Rounder,
            Action::LessRound,
            Action::MoreLift,
            Action::LessLift,
            Action::RibLayout,
            Action::VentKind,
            Action::Rearrange,
        ];
        for action in presses {
            let mut design = engine::shell_for(scan::BodySite::Shin);
            for _ in 0..80 {
                set(action, &mut design);
            }
            assert_eq!(design.check(), Ok(()), "{action:?}");
        }
    }

    /// Each is recognised once applied, and none after one of its settings was changed.
    #[test]
    fn the_start_that_is_in_use_is_known() {
        let folder = tempfile::tempdir().unwrap();
        let mut bench = Bench::with_wrist(folder.path());
        let mut view = View::default();
        for start in [Action::Immobilise, Action::Deflect, Action::Cushion, Action::UsualForSite] {
            perform(start, &mut bench, &mut view);
            let design = bench.session.design().unwrap();
            assert_eq!(start_in_use(design), Some(start));
            perform(Action::Thicker, &mut bench, &mut view);
            assert_eq!(start_in_use(bench.session.design().unwrap()), None);
        }
    }

    #[test]
    fn layouts_and_kinds_come_round_and_go_off() {
        let mut design = Design { ribs: None, vents: None, ..Design::default() };
        let mut layouts = Vec::new();
        for _ in 0..5 {
            set(Action::RibLayout, &mut design);
            layouts.extend(design.ribs.map(|ribs| ribs.layout));
        }
        layouts.dedup();
        assert_eq!(layouts.len(), 5);
        set(Action::RibLayout, &mut design);
        assert_eq!(design.ribs.map(|ribs| ribs.layout), layouts.first().copied());
        set(Action::Ribs, &mut design);
        set(Action::Vents, &mut design);
        assert!(design.ribs.is_none() && design.vents == Some(Vents::USUAL));
    }
}
