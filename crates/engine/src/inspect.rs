//! What a scan file holds, before anything is made of it.

use std::path::Path;

use mesh::read::Format;
use mesh::{Job, Surface};
use scan::pen::{PenFinding, PenSettings, Proposal, WhyOpen, find_on_filled};
use scan::{CleanSettings, Inspection};
use serde::Serialize;

use crate::edges::{in_scan, line_in_scan};
use crate::limb::made_up;
use crate::{EngineError, read_scan};

/// The findings on a scan file.
#[derive(Debug, Clone, Serialize)]
pub struct InspectReport {
    /// The format, by content.
    pub format: &'static str,
    /// What was odd but could be read.
    pub warnings: Vec<String>,
    /// Where the colours come from: `points`, `picture` or `none`.
    pub colours_from: &'static str,
    /// Unit, size, counts, and what cleaning would do.
    #[serde(flatten)]
    pub scan: Inspection,
    /// The pen line; absent where cleaning would fail.
    pub pen: Option<PenSeen>,
}

/// What the search for a pen line saw. Lines are in the scan file's own coordinates and unit.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case", tag = "found")]
pub enum PenSeen {
    /// A closed line.
    Closed {
        /// In words.
        sentence: String,
        /// Skin inside, cm².
        area_cm2: f64,
        /// Width of the ink, mm.
        width_mm: f32,
        /// 0 (a guess) to 1 (plain ink all the way round).
        confidence: f32,
        /// Middle of the ink, closed.
        line: Vec<[f64; 3]>,
        /// Number of gaps in the ink that were bridged.
        gaps: usize,
    },
    /// A line that does not close.
    Open {
        /// In words.
        why: String,
        /// Middle of the ink.
        line: Vec<[f64; 3]>,
        /// How it could be closed; empty if there is no way.
        proposal: Vec<[f64; 3]>,
        /// Length that the proposal adds, mm.
        added_mm: f32,
    },
    /// No line.
    None {
        /// In words.
        why: String,
    },
}

impl PenSeen {
    pub(crate) fn new(finding: &PenFinding, placement: &scan::Placement) -> Self {
        match finding {
            PenFinding::Closed(line) => Self::Closed {
                sentence: line.sentence.clone(),
                area_cm2: line.area_mm2 / 100.0,
                width_mm: line.width_mm,
                confidence: line.confidence,
                line: line_in_scan(&line.centre, placement),
                gaps: line.gaps_bridged.len(),
            },
            PenFinding::Open { line, proposal, why, .. } => Self::Open {
                why: why_open(*why, proposal.as_ref(), placement),
                line: line_in_scan(line, placement),
                proposal: proposal.as_ref().map(|p| line_in_scan(&p.line.centre, placement)).unwrap_or_default(),
                added_mm: proposal.as_ref().map_or(0.0, |p| p.added_mm),
            },
            PenFinding::None { why } => Self::None { why: why.to_string() },
        }
    }
}

/// Why a line counts as open and how it could be closed, with places in the scan file's own coordinates and unit.
pub(crate) fn why_open(why: WhyOpen, proposal: Option<&Proposal>, placement: &scan::Placement) -> String {
    let Some(proposal) = proposal else { return format!("{why} It cannot be closed automatically.") };
    let ends = [proposal.added.first(), proposal.added.last()].map(|p| p.map(|p| in_scan(p, placement)));
    let [Some(from), Some(to)] = ends else { return why.to_string() };
    format!("{why} A line of {:.0} mm from {from} to {to} (scan coordinates) would close it.", proposal.added_mm)
}

/// Looks at a scan file; nothing is written.
///
/// # Errors
/// The file cannot be read, or the work was stopped. A scan that cannot be cleaned is not an error: the report says
/// why.
pub fn inspect(path: &Path, settings: &CleanSettings, job: &Job) -> Result<InspectReport, EngineError> {
    let loaded = read_scan(path, &job.part(0.0, 0.2))?;
    let (scan, limb) = scan::inspect(&loaded.scan, settings, &job.part(0.2, 0.8))?;
    let pen = match limb {
        Some(limb) => {
            let made_up = match &scan.cleaning {
                Some(report) => made_up(&limb, report, &loaded.scan.mesh, job)?,
                None => Vec::new(),
            };
            let placement = limb.placement;
            let skin = Surface::build(limb.mesh, job)?;
            let finding = find_on_filled(&skin, &made_up, &PenSettings::default(), &job.part(0.8, 1.0))?;
            Some(PenSeen::new(&finding, &placement))
        }
        None => None,
    };
    let colours_from = match (loaded.scan.texture.is_some(), loaded.scan.mesh.colours.is_some()) {
        (true, _) => "picture",
        (false, true) => "points",
        _ => "none",
    };
    Ok(InspectReport { format: words(loaded.scan.format), warnings: loaded.scan.warnings, colours_from, scan, pen })
}

fn words(format: Format) -> &'static str {
    match format {
        Format::StlAscii => "text STL",
        Format::StlBinary => "binary STL",
        Format::Obj => "OBJ",
        Format::PlyAscii => "text PLY",
        Format::PlyLittleEndian => "binary PLY, little-endian",
        Format::PlyBigEndian => "binary PLY, big-endian",
    }
}
