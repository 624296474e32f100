//! A pen line as the edge of a zone.

use nalgebra::Point3;
use scan::Placement;
use scan::pen::{PenFinding, PenLine, PenRing};
use zone::{ExtraRegion, RegionKind, Source};

use crate::EngineError;

/// What the user should know about a pen line that was taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PenNotice {
    /// It was closed as proposed.
    Closed {
        /// By this length, mm.
        added_mm: f32,
    },
    /// A gap in the ink was bridged.
    GapBridged {
        /// Middle of the gap, limb axes, mm.
        at_mm: Point3<f32>,
        /// Its length, mm.
        length_mm: f32,
        /// Whether the scan has a hole there.
        over_hole: bool,
    },
    /// Other closed lines were not taken.
    OthersLeft {
        /// How many.
        count: usize,
    },
}

impl PenNotice {
    /// As a clause, for where the limb is shown.
    #[must_use]
    pub fn on_limb(&self) -> String {
        match self {
            Self::Closed { added_mm } => format!("the pen line was closed as proposed, by {added_mm:.0} mm"),
            Self::GapBridged { length_mm, over_hole, .. } => {
                let over = if *over_hole { ", across a hole in the scan" } else { "" };
                format!("the pen line was bridged over a gap of {length_mm:.1} mm{over}")
            }
            Self::OthersLeft { count: 1 } => "1 other closed line was ignored".to_owned(),
            Self::OthersLeft { count } => format!("{count} other closed lines were ignored"),
        }
    }

    /// As a clause with the place in the scan file's own coordinates and unit.
    #[must_use]
    pub fn in_scan(&self, placement: &Placement) -> String {
        match self {
            Self::GapBridged { at_mm, .. } => {
                format!("{}, at {} in the scan", self.on_limb(), crate::edges::in_scan(at_mm, placement))
            }
            _ => self.on_limb(),
        }
    }
}

/// The source of a zone within a pen line. A line that does not close is taken only with `accept_proposal`.
///
/// # Errors
/// There is no line, or it does not close.
pub fn pen_source(
    finding: PenFinding,
    accept_proposal: bool,
    placement: &Placement,
) -> Result<(Source, Vec<PenNotice>), EngineError> {
    let mut notices = Vec::new();
    let line: PenLine = match finding {
        PenFinding::Closed(line) => line,
        PenFinding::Open { proposal: Some(proposal), .. } if accept_proposal => {
            notices.push(PenNotice::Closed { added_mm: proposal.added_mm });
            proposal.line
        }
        PenFinding::Open { proposal, why, .. } => {
            let added_mm = proposal.as_ref().map_or(0.0, |p| p.added_mm);
            let why = crate::inspect::why_open(why, proposal.as_ref(), placement);
            let proposal = proposal.map(|p| crate::edges::line_in_scan(&p.line.centre, placement)).unwrap_or_default();
            return Err(EngineError::PenLineOpen { why, proposal, added_mm });
        }
        PenFinding::None { why } => return Err(EngineError::NoPenLine { why }),
    };
    notices.extend(line.gaps_bridged.iter().map(|gap| PenNotice::GapBridged {
        at_mm: gap.at,
        length_mm: gap.length_mm,
        over_hole: gap.over_hole,
    }));
    if !line.others.is_empty() {
        notices.push(PenNotice::OthersLeft { count: line.others.len() });
    }
    Ok((Source::Line { points_mm: line.centre, inside_mm: Some(line.seed_inside) }, notices))
}

/// The rings drawn inside a pen line as reliefs of the zone, each as deep as [`RegionKind::RELIEF`], the largest first. The rings of a
/// line that does not close are given only with `accept_proposal`, as in [`pen_source`].
///
/// Nothing is added to a zone here: whoever drew a ring may have meant a relief, so it is offered and not assumed.
#[must_use]
pub fn pen_rings(finding: &PenFinding, accept_proposal: bool) -> Vec<ExtraRegion> {
    let line = match finding {
        PenFinding::Closed(line) => line,
        PenFinding::Open { proposal: Some(proposal), .. } if accept_proposal => &proposal.line,
        _ => return Vec::new(),
    };
    line.rings.iter().map(ring_relief).collect()
}

/// One ring as a relief.
fn ring_relief(ring: &PenRing) -> ExtraRegion {
    let within = Source::Line { points_mm: ring.centre.clone(), inside_mm: Some(ring.seed_inside) };
    ExtraRegion { kind: RegionKind::RELIEF, sources: vec![within] }
}
