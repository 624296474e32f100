//! Finds the closed line that somebody drew with a pen on the skin, from the scan's colours.
//!
//! The lightness of every vertex is compared with the usual tone of the skin within 12 mm, so that skin tone and
//! shadows drop out. Where a narrow strip stands out against the skin on both of its sides, ridge points are set in its
//! middle. They are linked along unbroken ink and, from the ends of ink, over short gaps; cycles of this graph are
//! moved into the centre of the ink, measured and judged.
//!
//! Strokes too short to be followed are taken for the dashes of a dashed line where enough of them follow each other; the
//! line is then the curve through them. Closed curves of ink inside the line are its rings.
//!
//! A line that does not close is never closed silently: it comes back as [`PenFinding::Open`] with a proposal.

mod centre;
mod closed;
mod closing;
mod contrast;
mod cycles;
mod dash_chain;
mod dash_curve;
mod dash_leaps;
mod dashed;
mod dashes;
mod filled;
mod finding;
mod ink_profile;
mod inside;
mod judge;
mod links;
mod polyline;
mod reason;
mod ridge;
mod rings;
mod settings;
mod skin_graph;
mod solid;
mod statistics;
mod trace;

use mesh::{Cancelled, Job, Surface};

use contrast::Contrast;

pub use filled::filled_vertices;
pub use finding::{BridgedGap, PenFinding, PenLine, PenRing, Proposal};
pub use reason::{NoLine, NotClosed, WhyOpen};
pub use settings::{Ink, PenSettings};

/// Finds the pen line on `skin`, whose points are in mm and which must be welded.
///
/// Needs vertices about 0.5 to 2 mm apart and a line 1.5 to 5 mm wide. The result is in the mesh's own coordinates.
///
/// # Errors
/// [`Cancelled`] when `job` is; it is checked every few milliseconds.
pub fn find(skin: &Surface, settings: &PenSettings, job: &Job) -> Result<PenFinding, Cancelled> {
    find_on_filled(skin, &[], settings, job)
}

/// As [`find`], on a skin whose holes were filled: `filled` says for each vertex whether it fills one
/// (see [`filled_vertices`]).
///
/// Colours of such vertices count for nothing. A line may be carried further over them than over bare skin,
/// as over a hole.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn find_on_filled(
    skin: &Surface,
    filled: &[bool],
    settings: &PenSettings,
    job: &Job,
) -> Result<PenFinding, Cancelled> {
    let Some(colours) = skin.mesh().colours.as_ref().filter(|c| c.len() == skin.mesh().points.len()) else {
        return Ok(PenFinding::None { why: NoLine::NoColours });
    };
    if skin.mesh().triangles.is_empty() {
        return Ok(PenFinding::None { why: NoLine::NoSurface });
    }
    job.step("Looking at the skin's colours", 0.0)?;
    let graph = skin_graph::SkinGraph::new(skin, filled, job)?;
    let clusters = contrast::Clusters::new(&graph, job)?;
    let kinds = settings.ink.map_or(vec![Ink::Dark, Ink::Light, Ink::Coloured], |ink| vec![ink]);
    let mut best: Option<judge::Judged> = None;
    let mut dark: Option<Contrast> = None;
    for (k, ink) in kinds.iter().enumerate() {
        // Hue is the least sure sign of a pen; it is looked at only where lightness gave no closed line.
        if *ink == Ink::Coloured && best.as_ref().is_some_and(|b| matches!(b.finding, PenFinding::Closed(_))) {
            continue;
        }
        let part = job.part(0.2 + 0.25 * k as f32, 0.45 + 0.25 * k as f32);
        part.step("Looking for a pen line", 0.0)?;
        let contrast = match dark.take() {
            Some(dark) if *ink == Ink::Light => dark.turned(),
            _ => Contrast::towards(*ink, &graph, &clusters, colours, &part)?,
        };
        let judged = judge::judge(&graph, &contrast, *ink, settings, &part)?;
        if *ink == Ink::Dark {
            dark = Some(contrast);
        }
        if best.as_ref().is_none_or(|b| judged.rank > b.rank) {
            best = Some(judged);
        }
    }
    job.step("Looked for a pen line", 1.0)?;
    Ok(best.map_or(PenFinding::None { why: NoLine::NoInk }, |b| b.finding))
}
