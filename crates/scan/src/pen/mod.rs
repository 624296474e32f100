//! Finds the closed line that somebody drew with a pen on the skin, from the scan's colours.
//!
//! The lightness of every vertex is compared with the usual tone of the skin within 12 mm, so that skin tone and shadows drop out.
//! Where a narrow strip stands out against the skin on both of its sides, beads are set in its middle. Beads are linked along unbroken
//! ink and, from the ends of ink, over short gaps; rings of linked beads are moved into the centre of the ink, measured, and judged.
//!
//! A line that does not close is never closed in silence: it comes back as [`PenFinding::Open`] with a proposal.

mod boxes;
mod centre;
mod closing;
mod contrast;
mod cycles;
mod finding;
mod inside;
mod judge;
mod links;
mod made_up;
mod ridge;
mod settings;
mod skin_graph;

use mesh::{Cancelled, Job, Surface};

use contrast::Contrast;

pub use finding::{BridgedGap, PenFinding, PenLine, Proposal};
pub use made_up::made_up_vertices;
pub use settings::{Ink, PenSettings};

/// Finds the pen line on `skin`, whose points are in mm and which must be welded.
///
/// Wants vertices about 0.5 to 2 mm apart and a line 1.5 to 5 mm wide. The answer is in the mesh's own coordinates.
///
/// # Errors
/// [`Cancelled`] when `job` is; it is looked at every few milliseconds.
pub fn find(skin: &Surface, settings: &PenSettings, job: &Job) -> Result<PenFinding, Cancelled> {
    find_on_mended(skin, &[], settings, job)
}

/// As [`find`], on a skin whose holes were filled: `filled` says for each vertex whether it was made up
/// (see [`made_up_vertices`]).
///
/// Colours of made-up vertices count for nothing. A line may be carried further over them than over bare skin,
/// as over a hole.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn find_on_mended(
    skin: &Surface,
    filled: &[bool],
    settings: &PenSettings,
    job: &Job,
) -> Result<PenFinding, Cancelled> {
    let Some(colours) = skin.mesh().colours.as_ref().filter(|c| c.len() == skin.mesh().points.len()) else {
        return Ok(PenFinding::None {
            why: "The scan has no colours, so a pen line cannot be seen. Mark the region by hand.".into(),
        });
    };
    if skin.mesh().triangles.is_empty() {
        return Ok(PenFinding::None { why: "The scan has no surface.".into() });
    }
    job.step("Looking at the skin's colours", 0.0)?;
    let graph = skin_graph::SkinGraph::new(skin, filled);
    job.check()?;
    let cells = contrast::Cells::new(&graph);
    job.check()?;
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
            _ => Contrast::towards(*ink, &graph, &cells, colours),
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
    Ok(best.map_or_else(|| PenFinding::None { why: "No ink was looked for.".into() }, |b| b.finding))
}
