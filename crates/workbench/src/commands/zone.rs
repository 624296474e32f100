//! The commands of the zone step: tools, the pen line, outlines, special spots, the edge.

use scan::pen::{NoLine, PenFinding};
use session::Session;
use session::marking;
use zone::{ExtraRegion, Source};

use crate::actions::Action;
use crate::state::zone::{Aim, BRUSH_MM, KEEP_CLEAR, REINFORCEMENT, RELIEF};
use crate::state::{Bench, Step, Tool, View};

/// Does what a key or button of this step asks for; `was` is the step that was in sight.
pub fn perform(action: Action, bench: &mut Bench, view: &mut View, was: Step) {
    match action {
        Action::Paint => view.tool = Tool::Paint,
        Action::Erase => view.tool = Tool::Erase,
        Action::TurnLimb => view.tool = Tool::Turn,
        Action::Outline => view.tool = Tool::Outline,
        Action::Crease => view.tool = Tool::Crease,
        Action::TakeRings => take_rings(bench),
        Action::RelieveBonyPoints => relieve_bony_points(bench),
        Action::TakePenLine => {
            // An open line is shown before it is taken, so the step that was in sight decides.
            view.step = was;
            take_pen_line(bench, view);
        }
        Action::MarkZone => aim(view, Aim::Zone),
        Action::MarkRelief => aim(view, Aim::New(RELIEF)),
        Action::MarkReinforcement => aim(view, Aim::New(REINFORCEMENT)),
        Action::MarkKeepClear => aim(view, Aim::New(KEEP_CLEAR)),
        Action::NextRegion => next_region(bench, view),
        Action::RemoveRegion => remove_region(bench, view),
        Action::Grow => grow(bench, 1.0),
        Action::Shrink => grow(bench, -1.0),
        Action::Smoother => smooth(bench, 1.0),
        Action::LessSmooth => smooth(bench, -1.0),
        Action::LargerBrush => view.brush_mm = (view.brush_mm * 1.15).min(BRUSH_MM.1),
        Action::SmallerBrush => view.brush_mm = (view.brush_mm / 1.15).max(BRUSH_MM.0),
        _ => {}
    }
    if !matches!(view.tool, Tool::Outline | Tool::Crease) {
        view.zone.open.clear();
    }
}

/// Closes the open outline, or says why it cannot.
pub fn close_outline(bench: &mut Bench, view: &mut View) {
    if view.zone.open.is_empty() {
        return;
    }
    if view.zone.open.len() < 3 {
        bench.say("An outline needs three corners; click one more on the limb.", true);
        return;
    }
    let corners = std::mem::take(&mut view.zone.open);
    let marking = &mut view.zone;
    bench.session.edit("outline", |design| {
        let target = marking.begin(&mut design.zone);
        marking::add_outline(&mut design.zone, target, &corners);
    });
}

/// Takes the last open corner away, or the selected one of a closed outline.
pub fn delete_corner(bench: &mut Bench, view: &mut View) {
    if view.zone.open.pop().is_none()
        && let Some(corner) = view.zone.selected.take()
    {
        bench.session.edit("delete a corner", |design| marking::delete_corner(&mut design.zone, corner));
    }
}

/// Makes the pen line the edge of the zone. One that does not close is closed as proposed, once the proposal has been
/// in sight.
pub fn take_pen_line(bench: &mut Bench, view: &mut View) {
    let in_sight = view.step == Step::Zone;
    let Some(finding) = bench.session.derived().pen.value().map(|f| (**f).clone()) else {
        bench.say("The skin is still being searched for a pen line.", false);
        return;
    };
    if !in_sight && matches!(finding, PenFinding::Open { .. }) {
        view.step = Step::Zone;
        bench.say("The pen line does not close. Look at the dashed part and press again to close it that way.", false);
        return;
    }
    let Some(placement) = bench.session.design().map(|d| d.placement) else { return };
    match engine::pen_source(finding, true, &placement) {
        Ok((source, told)) => {
            let mut notices: Vec<String> = told.iter().map(engine::PenNotice::on_limb).collect();
            let replaced = take_source(&mut bench.session, source);
            if replaced {
                notices.push("what was marked before was replaced; undo brings it back".to_owned());
            }
            let told = if notices.is_empty() { String::new() } else { format!(" Note: {}.", notices.join("; ")) };
            bench.say(format!("The pen line is the edge of the zone.{told}"), false);
            view.step = Step::Zone;
        }
        Err(engine::EngineError::NoPenLine { why }) => bench.say(no_pen_line(why), true),
        Err(error) => bench.say(session::capitalised(&error.to_string()), true),
    }
}

/// The rings within the pen line that are no relief of the design yet.
#[must_use]
pub fn rings(session: &Session) -> Vec<ExtraRegion> {
    let (Some(finding), Some(design)) = (session.derived().pen.value(), session.design()) else { return Vec::new() };
    let taken = |ring: &ExtraRegion| design.zone.regions.iter().any(|region| region.sources == ring.sources);
    engine::pen_rings(finding, true).into_iter().filter(|ring| !taken(ring)).collect()
}

/// Makes reliefs of the rings within the pen line.
pub fn take_rings(bench: &mut Bench) {
    let rings = rings(&bench.session);
    if rings.is_empty() {
        bench.say("There is no ring within the pen line that is not a relief already.", true);
        return;
    }
    let count = rings.len();
    bench.session.edit("rings as reliefs", |design| design.zone.regions.extend(rings));
    bench.say(format!("{} within the pen line now a relief.", one_or_more(count, "The ring", "rings")), false);
}

/// Lays a relief over each bony point that the zone covers.
pub fn relieve_bony_points(bench: &mut Bench) {
    let Some(design) = bench.session.design() else { return };
    let bare = bench.session.derived().bare_bony_points(design);
    if bare.is_empty() {
        bench.say("No bony point was found in the zone that is not relieved already. Mark others by hand.", true);
        return;
    }
    let count = bare.len();
    bench.session.edit("relieve bony points", |design| {
        design.zone.regions.extend(bare.iter().map(|point| point.relief(RELIEF)));
    });
    bench.say(
        format!(
            "{} now under a relief. Feel for others: not every one shows.",
            one_or_more(count, "The bony point", "bony points")
        ),
        false,
    );
}

fn one_or_more(count: usize, one: &str, more: &str) -> String {
    if count == 1 { format!("{one} is") } else { format!("{count} {more} are") }
}

/// Keeps the guard clear of the open line, the crease of a joint.
pub fn finish_crease(bench: &mut Bench, view: &mut View) {
    if view.zone.open.len() < 2 {
        return;
    }
    let points = std::mem::take(&mut view.zone.open);
    let Some(limb) = bench.session.derived().limb.value().cloned() else { return };
    match zone::landmarks::crease_region(&limb.skin, &points, view.zone.crease_mm, &mesh::Job::silent()) {
        Ok(region) => {
            bench.session.edit("crease of a joint", |design| design.zone.regions.push(region));
            let number = bench.session.design().map_or(0, |design| design.zone.regions.len());
            view.zone.aim = Aim::Region(number.saturating_sub(1));
            bench.say(format!("The guard keeps {:.0} mm clear of the crease.", view.zone.crease_mm), false);
        }
        Err(error) => bench.say(session::capitalised(&error.to_string()), true),
    }
}

/// A sentence that there is no pen line, why, and what to do instead.
pub fn no_pen_line(why: NoLine) -> String {
    match why {
        NoLine::NoColours => {
            "No pen line: the scan has no colours, so none can be seen. Mark the zone by hand, or scan again in colour."
        }
        NoLine::NoInk => {
            "No pen line was found on the skin. Mark the zone by hand, or draw the line darker and scan again in even \
             light."
        }
        NoLine::OnlyStrokes => {
            "No pen line was found, only strokes that are too short or too faint to be one. Mark the zone by hand, or \
             draw the line again and rescan."
        }
        other => return format!("No pen line was found. {other} Mark the zone by hand."),
    }
    .to_owned()
}

/// Makes a pen line the only source of the zone; whether it replaced anything.
fn take_source(session: &mut Session, source: Source) -> bool {
    let replaced = session.design().is_some_and(|d| !d.zone.sources.is_empty());
    session.edit("take the pen line", |design| design.zone.sources = vec![source]);
    replaced
}

/// Grows the zone, or shrinks it.
pub fn grow(bench: &mut Bench, by_mm: f32) {
    bench.session.edit("grow or shrink", |design| {
        design.zone.grow_mm = zone::limits::GROW.clamp(design.zone.grow_mm + by_mm);
    });
}

/// Smooths the edge of the zone more, or less.
pub fn smooth(bench: &mut Bench, by_mm: f32) {
    bench.session.edit("smooth the edge", |design| {
        design.zone.smooth_mm = zone::limits::SMOOTH.clamp(design.zone.smooth_mm + by_mm);
    });
}

/// Aims at the region after the current one; after the last, at the zone.
pub fn next_region(bench: &Bench, view: &mut View) {
    let count = bench.session.design().map_or(0, |design| design.zone.regions.len());
    let next = match view.zone.aim {
        Aim::Region(i) => i + 1,
        _ => 0,
    };
    aim(view, if next < count { Aim::Region(next) } else { Aim::Zone });
}

/// Removes the region that is aimed at.
pub fn remove_region(bench: &mut Bench, view: &mut View) {
    let Aim::Region(number) = view.zone.aim else {
        bench.say("Choose a region first: the zone itself is erased with the brush.", true);
        return;
    };
    bench.session.edit("delete a region", |design| marking::remove_region(&mut design.zone, number));
    view.zone.aim = Aim::Zone;
}

/// Aims brush and outline at something else.
pub fn aim(view: &mut View, aim: Aim) {
    view.step = Step::Zone;
    view.zone.aim = aim;
    view.zone.open.clear();
    view.zone.selected = None;
    if matches!(view.tool, Tool::Turn | Tool::Erase) {
        view.tool = Tool::Paint;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;
    use session::{Places, Session};

    #[test]
    fn an_outline_is_not_closed_in_silence() {
        let folder = tempfile::tempdir().unwrap();
        let mut bench = Bench::new(Session::begin(Places::inside(folder.path())).unwrap());
        let mut view = View::default();
        close_outline(&mut bench, &mut view);
        assert!(bench.fresh().is_none());
        view.zone.open = vec![Point3::origin(); 2];
        close_outline(&mut bench, &mut view);
        assert!(bench.fresh().is_some_and(|said| said.bad), "two corners are refused in words");
        delete_corner(&mut bench, &mut view);
        assert_eq!(view.zone.open.len(), 1);
        take_pen_line(&mut bench, &mut view);
        assert!(view.step == Step::Scan, "nothing is taken while nothing is open");
    }
}
