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
    /// Number of dashes where the line is dashed; 0 where it is drawn in one.
    pub dashes: usize,
    /// Where ink was missing and the line was carried straight on. In a dashed line the usual space between two dashes
    /// does not count.
    pub gaps_bridged: Vec<BridgedGap>,
    /// How the ink differs from the skin.
    pub ink: Ink,
    /// 0 (a guess) to 1 (plain ink all the way round).
    pub confidence: f32,
    /// What was found, in one or two sentences.
    pub sentence: String,
    /// Rings drawn inside the line, such as round a bony point or a wound, largest first; of nested ones the outer only.
    pub rings: Vec<PenRing>,
    /// Centre lines of other closed lines that were found and left aside, largest first.
    pub others: Vec<Vec<Point3<f32>>>,
}

/// A closed curve of ink that lies wholly inside the pen line and encloses about 1 to 60 cm².
///
/// It is one curve without a branch or a crossing, so crosses and most letters are none. A letter or figure that is
/// itself one plain closed curve, such as a zero of more than 1 cm², cannot be told from a ring.
#[derive(Debug, Clone, PartialEq)]
pub struct PenRing {
    /// Closed polyline along the centre of the ink, about one point a millimetre, the last joined to the first;
    /// inside on the left seen from outside the skin.
    pub centre: Vec<Point3<f32>>,
    /// A point of the skin well inside the ring.
    pub seed_inside: Point3<f32>,
    /// Area of the skin inside the ring, mm².
    pub area_mm2: f64,
    /// Usual width of the ink, mm.
    pub width_mm: f32,
    /// Number of dashes where the ring is dashed; 0 where it is drawn in one.
    pub dashes: usize,
    /// Where ink was missing, as in [`PenLine::gaps_bridged`].
    pub gaps_bridged: Vec<BridgedGap>,
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
