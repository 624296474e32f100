//! The scan step: the ends of the limb that are being cut off, and the squad number as it is typed.

use std::sync::Arc;

use engine::LimbOnAxes;
use fit::SectionLine;
use nalgebra::{Point3, Vector3};
use scan::Placement;
use session::crop::Ends;
use session::{Outcome, Session, Task};

/// Least length of limb that cutting leaves, mm.
const LEAST_LEFT_MM: f32 = 30.0;

/// State of the scan step.
#[derive(Debug, Default)]
pub struct ScanView {
    /// Lowest and highest point of the limb before its ends were cut.
    whole: Option<Whole>,
    /// The same being found, and of which limb.
    finding: (Option<(u64, Placement)>, Task<Whole>),
    /// Cuts as the sliders have them while dragged, not made yet.
    pub cut: Option<Ends>,
    /// Which of them are being dragged: the lower, the upper.
    pub moves: [bool; 2],
    /// Where the planes that are being dragged meet the skin.
    pub outlines: Outlines,
    /// The squad number as it is typed.
    pub number: Option<String>,
}

impl ScanView {
    /// The cuts that are being dragged: height on the limb and how much is cut off, mm.
    pub fn cuts_in_hand(&self) -> Vec<(f32, f32)> {
        let (Some(Whole { low, high, .. }), Some(cut)) = (self.whole, self.cut) else { return Vec::new() };
        let lower = cut.low_mm.unwrap_or(low);
        let upper = cut.high_mm.unwrap_or(high);
        let both = [(self.moves[0], lower, lower - low), (self.moves[1], upper, high - upper)];
        both.into_iter().filter(|(moves, ..)| *moves).map(|(_, z, off)| (z, off)).collect()
    }
}

/// Lowest and highest point of a limb before its ends are cut, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Whole {
    /// The limb: which one was opened, and the axes that it stands on.
    of: (u64, Placement),
    /// Its lowest point.
    pub low: f32,
    /// Its highest point.
    pub high: f32,
}

/// Lowest and highest point of the limb before its ends are cut, mm; none until known. If the limb was opened with its
/// ends cut, the points of the scan are searched in the background, once; otherwise the limb itself tells.
pub fn whole(keep: &mut ScanView, session: &Session) -> Option<(f32, f32)> {
    let (document, limb) = (session.document()?, session.derived().limb.value()?);
    let design = document.design();
    let placement = design.placement;
    let of = (session.opened(), placement);
    if let Some(Outcome::Done(found)) = keep.finding.1.take() {
        keep.whole = Some(found);
    }
    let uncut = Ends::of(&design.clean.crop, &placement) == Ends::default();
    if uncut && keep.cut.is_none() {
        keep.whole = limb.skin.bounds().map(|(low, high)| Whole { of, low: low.z, high: high.z });
    } else if keep.whole.is_none_or(|whole| whole.of != of) && keep.finding.0 != Some(of) {
        let loaded = Arc::clone(document.scan());
        keep.finding.0 = Some(of);
        keep.finding.1.start(move |_| {
            let heights = loaded.scan.mesh.points.iter().map(|p| placement.limb_from_scan(&p.cast()).z as f32);
            let (low, high) = heights.fold((f32::INFINITY, f32::NEG_INFINITY), |(l, h), z| (l.min(z), h.max(z)));
            Whole { of, low, high }
        });
    }
    let known = keep.whole.filter(|whole| whole.of == of && whole.low < whole.high);
    known.map(|whole| (whole.low, whole.high))
}

/// Most that may go off one end, mm.
pub fn most_off(low: f32, high: f32) -> f32 {
    0.5 * (high - low - LEAST_LEFT_MM).max(0.0)
}

/// How much is off the lower and the upper end, mm.
pub fn off(ends: Ends, low: f32, high: f32) -> [f32; 2] {
    let most = most_off(low, high);
    [ends.low_mm.map_or(0.0, |z| z - low).clamp(0.0, most), ends.high_mm.map_or(0.0, |z| high - z).clamp(0.0, most)]
}

/// The ends with `below` and `above` mm cut off the lower and the upper one.
pub fn without(low: f32, high: f32, below: f32, above: f32) -> Ends {
    let end = |cut: f32, z: f32| (cut > 0.0).then_some(z);
    Ends { low_mm: end(below, low + below), high_mm: end(above, high - above) }
}

/// Where planes meet the skin, found in the background for the cuts that are being dragged.
#[derive(Debug, Default)]
pub struct Outlines {
    /// Serial of the limb.
    limb: u64,
    /// The two found last, as both ends may be dragged.
    known: Vec<Outline>,
    finding: Task<Outline>,
}

/// Where one plane meets the skin.
#[derive(Debug)]
pub struct Outline {
    /// Height of the plane, mm.
    pub height_mm: f32,
    /// Where it meets the skin.
    pub lines: Vec<SectionLine>,
}

impl Outlines {
    /// Takes what was found, and starts the search for the next one missing.
    pub fn keep(&mut self, serial: u64, limb: &Arc<LimbOnAxes>, mut heights_mm: impl Iterator<Item = f32>) {
        if serial != self.limb {
            *self = Self { limb: serial, ..Self::default() };
        }
        if let Some(Outcome::Done(found)) = self.finding.take() {
            self.known.insert(0, found);
            self.known.truncate(2);
        }
        if self.finding.is_running() {
            return;
        }
        let missing = heights_mm.find(|height_mm| self.known.iter().all(|known| known.height_mm != *height_mm));
        if let Some(height_mm) = missing {
            let limb = Arc::clone(limb);
            self.finding.start(move |_| {
                let cut = fit::section(limb.skin.mesh(), &Point3::new(0.0, 0.0, height_mm), &Vector3::z());
                Outline { height_mm, lines: cut.map(|section| section.lines).unwrap_or_default() }
            });
        }
    }

    /// The one found for the nearest height.
    pub fn nearest(&self, height_mm: f32) -> Option<&Outline> {
        let off = |outline: &Outline| (outline.height_mm - height_mm).abs();
        self.known.iter().min_by(|a, b| off(a).total_cmp(&off(b)))
    }
}
