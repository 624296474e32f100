//! The zone step: what brush and outline mark, and what is known about it besides the document.

mod filling;
mod letters;

use nalgebra::Point3;
use session::marking::{self, Corner, Target};
use zone::{RegionKind, ZoneSettings};

use filling::Filling;
use letters::Letters;

/// Least and greatest radius of the brush, mm.
pub const BRUSH_MM: (f32, f32) = (2.0, 80.0);

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
#[derive(Debug)]
pub struct ZoneView {
    /// What is marked.
    pub aim: Aim,
    /// Corners of an outline that is not closed yet, or points of a crease that is not done.
    pub open: Vec<Point3<f32>>,
    /// How far the guard keeps from a crease that is marked, mm.
    pub crease_mm: f32,
    /// The corner that was touched last.
    pub selected: Option<Corner>,
    /// Where the letters of the regions stand.
    pub letters: Letters,
    /// Whether what is marked fills the pen line.
    pub filling: Filling,
}

impl Default for ZoneView {
    fn default() -> Self {
        Self {
            aim: Aim::default(),
            open: Vec::new(),
            crease_mm: engine::USUAL_CREASE_MM,
            selected: None,
            letters: Letters::default(),
            filling: Filling::default(),
        }
    }
}

/// Least and greatest distance from a crease in the panel, mm.
pub const CREASE_MM: (f32, f32) = (2.0, 40.0);

/// A new relief.
pub const RELIEF: RegionKind = RegionKind::RELIEF;

/// A new reinforcement.
pub const REINFORCEMENT: RegionKind = RegionKind::Reinforcement { extra_mm: 1.5, falloff_mm: 10.0 };

/// A new keep-clear region.
pub const KEEP_CLEAR: RegionKind = RegionKind::KeepClear { margin_mm: 3.0 };

impl ZoneView {
    /// What an edit made now marks; adds a region if a new one is aimed at.
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

    /// What is aimed at, if it is there already.
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_region_begins_with_its_first_stroke_and_its_number_may_go_away() {
        let mut zone = ZoneSettings::default();
        let mut marking = ZoneView { aim: Aim::New(RELIEF), ..ZoneView::default() };
        assert_eq!(marking.target(&zone), None);
        assert_eq!(marking.begin(&mut zone), Target::Region(0));
        assert_eq!((marking.aim, marking.begin(&mut zone), zone.regions.len()), (Aim::Region(0), Target::Region(0), 1));
        // Undone: the brush falls back to the zone.
        zone.regions.clear();
        assert_eq!(marking.target(&zone), Some(Target::Zone));
        assert_eq!(marking.begin(&mut zone), Target::Zone);
    }
}
