//! What the search for a pen line gives back.

use nalgebra::Point3;

use super::{Ink, NoLine, WhyOpen};

/// A place where the ink was missing and the line was carried over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BridgedGap {
    /// Middle of the gap.
    pub at: Point3<f32>,
    /// Length without ink along the line, mm.
    pub length_mm: f32,
    /// The scan has a hole here.
    pub over_hole: bool,
}

/// A closed line drawn on the skin.
#[derive(Debug, Clone, PartialEq)]
pub struct PenLine {
    /// Closed polyline along the centre of the ink, about one point a millimetre, the last joined to the first;
    /// inside on the left seen from outside the skin.
    pub centre: Vec<Point3<f32>>,
    /// A point of the skin well inside the line.
    pub seed_inside: Point3<f32>,
    /// Area of the skin inside the line, mm².
    pub area_mm2: f64,
    /// The line goes round the limb, so that both sides of it reach an end of the scan; inside is the smaller side.
    pub round_the_limb: bool,
    /// Usual width of the ink, mm.
    pub width_mm: f32,
    /// Where ink was missing and the line was carried straight on.
    pub gaps_bridged: Vec<BridgedGap>,
    /// How the ink differs from the skin.
    pub ink: Ink,
    /// 0 (a guess) to 1 (plain ink all the way round).
    pub confidence: f32,
    /// What was found, in one or two sentences.
    pub sentence: String,
    /// Centre lines of other closed lines that were found and left aside, largest first.
    pub others: Vec<Vec<Point3<f32>>>,
}

/// The answer of [`super::find`].
#[derive(Debug, Clone, PartialEq)]
pub enum PenFinding {
    /// A closed line; where there are several, the one that encloses the most skin.
    Closed(PenLine),
    /// A line that does not close, with a way to close it that somebody has to agree to.
    Open {
        /// Centre of the ink from one end to the other.
        line: Vec<Point3<f32>>,
        /// Its two ends.
        ends: [Point3<f32>; 2],
        /// Where it could be closed; `None` if no closing gives a region of the least size.
        proposal: Option<Proposal>,
        /// Why it does not count as closed.
        why: WhyOpen,
    },
    /// No pen line.
    None {
        /// Why not.
        why: NoLine,
    },
}

/// A way to close an open line. Nothing is marked until somebody agrees to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The line as it would be once closed.
    pub line: PenLine,
    /// The part that would be added, from the ink to the ink.
    pub added: Vec<Point3<f32>>,
    /// Its length, mm.
    pub added_mm: f32,
}
