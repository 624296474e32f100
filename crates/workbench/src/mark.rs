//! Marking the limb: what the window knows about it, and what its keys and buttons do.

use nalgebra::Point3;
use scan::pen::PenFinding;
use session::Session;
use session::marking::{self, Corner, Target};
use zone::{RegionKind, Source, ZoneSettings};

use crate::bench::Bench;
use crate::overlay::Letters;
use crate::step::Step;
use crate::view::{Tool, View};

/// What brush and outline mark.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Aim {
    /// What is to be covered.
    #[default]
    Zone,
    /// A region that is there.
    Region(usize),
    /// A region that begins with the first stroke.
    New(RegionKind),
}

/// What the window knows about marking besides the document.
#[derive(Debug, Default)]
pub struct Marking {
    /// What is marked.
    pub aim: Aim,
    /// Corners of an outline that is not closed yet.
    pub open: Vec<Point3<f32>>,
    /// The corner that was touched last.
    pub selected: Option<Corner>,
    /// Where the letters of the regions stand.
    pub letters: Letters,
}

/// A relief as it begins.
pub const RELIEF: RegionKind = RegionKind::Relief { depth_mm: 3.0, falloff_mm: 10.0 };
/// A reinforcement as it begins.
pub const REINFORCEMENT: RegionKind = RegionKind::Reinforcement { extra_mm: 1.5, falloff_mm: 10.0 };
/// A keep-clear region as it begins.
pub const KEEP_CLEAR: RegionKind = RegionKind::KeepClear { margin_mm: 3.0 };

impl Marking {
    /// What an edit made now would mark, beginning a region where it has to.
    pub fn begin(&mut self, zone: &mut ZoneSettings) -> Target {
        match self.aim {
            Aim::Region(i) if i < zone.regions.len() => Target::Region(i),
            Aim::New(kind) => {
                let target = marking::add_region(zone, kind);
                if let Target::Region(i) = target {
                    self.aim = Aim::Region(i);
                }
                target
            }
            _ => {
                self.aim = Aim::Zone;
                Target::Zone
            }
        }
    }

    /// What is marked, if it is there already.
    pub fn target(&self, zone: &ZoneSettings) -> Option<Target> {
        match self.aim {
            Aim::Region(i) if i < zone.regions.len() => Some(Target::Region(i)),
            Aim::New(_) => None,
            _ => Some(Target::Zone),
        }
    }
}

/// The name of a kind of region.
pub fn kind_name(kind: RegionKind) -> &'static str {
    match kind {
        RegionKind::Relief { .. } => "Relief",
        RegionKind::Reinforcement { .. } => "Reinforcement",
        RegionKind::KeepClear { .. } => "Keep clear",
        _ => "Region",
    }
}

/// Closes the open outline, or says why it cannot.
pub fn close_outline(bench: &mut Bench, view: &mut View) {
    if view.marking.open.is_empty() {
        return;
    }
    if view.marking.open.len() < 3 {
        bench.say("An outline needs three corners; click one more on the limb.", true);
        return;
    }
    let corners = std::mem::take(&mut view.marking.open);
    let marking = &mut view.marking;
    bench.session.edit("outline", |design| {
        let target = marking.begin(&mut design.zone);
        marking::add_outline(&mut design.zone, target, &corners);
    });
}

/// Takes the last open corner away, or the selected one of a closed outline.
pub fn delete_corner(bench: &mut Bench, view: &mut View) {
    if view.marking.open.pop().is_none()
        && let Some(corner) = view.marking.selected.take()
    {
        bench.session.edit("delete a corner", |design| marking::delete_corner(&mut design.zone, corner));
    }
}

/// Makes the pen line the zone. One that does not close is closed as drawn on the limb, where that is in sight.
pub fn take_pen_line(bench: &mut Bench, view: &mut View) {
    let in_sight = view.step == Step::Zone;
    let Some(finding) = bench.session.derived().pen.value().map(|f| (**f).clone()) else {
        bench.say("The skin is still being searched for a pen line.", false);
        return;
    };
    if !in_sight && matches!(finding, PenFinding::Open { .. }) {
        view.step = Step::Zone;
        bench.say("The pen line does not close. Look at the dashed part and press again to close it so.", false);
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
        Err(error) => bench.say(error.to_string(), true),
    }
}

/// Makes a pen line the only source of the zone; whether it replaced anything.
fn take_source(session: &mut Session, source: Source) -> bool {
    let replaced = session.design().is_some_and(|d| !d.zone.sources.is_empty());
    session.edit("take the pen line", |design| {
        design.zone.sources = vec![source];
        design.zone.smooth_mm = design.zone.smooth_mm.max(engine::PEN_SMOOTH_MM);
    });
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

/// Aims at the region after the one at hand; after the last at the zone.
pub fn next_region(bench: &Bench, view: &mut View) {
    let count = bench.session.design().map_or(0, |design| design.zone.regions.len());
    let next = match view.marking.aim {
        Aim::Region(i) => i + 1,
        _ => 0,
    };
    aim(view, if next < count { Aim::Region(next) } else { Aim::Zone });
}

/// Takes the region away that is aimed at.
pub fn remove_region(bench: &mut Bench, view: &mut View) {
    let Aim::Region(number) = view.marking.aim else {
        bench.say("Choose a region first: the zone itself is erased with the brush.", true);
        return;
    };
    bench.session.edit("take a region away", |design| marking::remove_region(&mut design.zone, number));
    view.marking.aim = Aim::Zone;
}

/// Aims brush and outline at something else.
pub fn aim(view: &mut View, aim: Aim) {
    view.step = Step::Zone;
    view.marking.aim = aim;
    view.marking.open.clear();
    view.marking.selected = None;
    if matches!(view.tool, Tool::Look | Tool::Erase) {
        view.tool = Tool::Paint;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use session::{Places, Session};

    #[test]
    fn a_region_begins_with_its_first_stroke_and_its_number_may_go_away() {
        let mut zone = ZoneSettings::default();
        let mut marking = Marking { aim: Aim::New(RELIEF), ..Marking::default() };
        assert_eq!(marking.target(&zone), None);
        assert_eq!(marking.begin(&mut zone), Target::Region(0));
        assert_eq!((marking.aim, marking.begin(&mut zone), zone.regions.len()), (Aim::Region(0), Target::Region(0), 1));
        // Undone: the brush falls back to the zone.
        zone.regions.clear();
        assert_eq!(marking.target(&zone), Some(Target::Zone));
        assert_eq!(marking.begin(&mut zone), Target::Zone);
    }

    #[test]
    fn an_outline_is_not_closed_in_silence() {
        let folder = tempfile::tempdir().unwrap();
        let mut bench = Bench::new(Session::begin(Places::inside(folder.path())).unwrap());
        let mut view = View::default();
        close_outline(&mut bench, &mut view);
        assert!(bench.fresh().is_none());
        view.marking.open = vec![Point3::origin(); 2];
        close_outline(&mut bench, &mut view);
        assert!(bench.fresh().is_some_and(|said| said.bad), "two corners are refused in words");
        delete_corner(&mut bench, &mut view);
        assert_eq!(view.marking.open.len(), 1);
        take_pen_line(&mut bench, &mut view);
        assert!(view.step == Step::Scan, "nothing is taken while nothing is open");
    }
}
