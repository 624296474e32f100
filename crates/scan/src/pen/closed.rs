//! Completes a closed curve of ink with the skin inside it.

use mesh::{Cancelled, Job};
use nalgebra::Point3;

use super::inside::sides;
use super::judge::UsualInk;
use super::skin_graph::SkinGraph;
use super::{BridgedGap, Ink, NotClosed, PenLine, PenSettings};

/// A closed curve in the middle of its ink.
pub(super) struct Drawn {
    pub centre: Vec<Point3<f32>>,
    pub width_mm: f32,
    pub gaps: Vec<BridgedGap>,
    /// Number of dashes, with their usual length; none where the line is drawn in one.
    pub dashes: Option<(usize, f32)>,
    /// 0 to 1, before the clearness of the ink counts.
    pub confidence: f32,
}

/// The pen line along a curve; the inner error says why it is none.
pub(super) fn enclose(
    graph: &SkinGraph,
    (kind, pen): (Ink, UsualInk),
    settings: &PenSettings,
    drawn: Drawn,
    job: &Job,
) -> Result<Result<PenLine, NotClosed>, Cancelled> {
    let mut centre = drawn.centre;
    let Some([left, right]) = sides(graph, &centre, job)? else {
        return Ok(Err(NotClosed::DoesNotPart));
    };
    let inside_left = match (left.reaches_end, right.reaches_end) {
        (false, true) => true,
        (true, false) => false,
        _ => left.area_mm2 <= right.area_mm2,
    };
    let inside = if inside_left { left } else { right };
    if !inside_left {
        centre.reverse();
    }
    if inside.area_mm2 < f64::from(settings.min_area_mm2) {
        return Ok(Err(NotClosed::TooLittleSkin));
    }
    let round_the_limb = left.reaches_end && right.reaches_end;
    let clear = (pen.ink / pen.spread / 10.0).min(1.0);
    let mut line = PenLine {
        centre,
        seed_inside: inside.middle,
        area_mm2: inside.area_mm2,
        round_the_limb,
        width_mm: drawn.width_mm,
        dashes: drawn.dashes.map_or(0, |(count, _)| count),
        gaps_bridged: drawn.gaps,
        ink: kind,
        confidence: (drawn.confidence * clear * if round_the_limb { 0.5 } else { 1.0 }).clamp(0.05, 1.0),
        sentence: String::new(),
        rings: Vec::new(),
        others: Vec::new(),
    };
    line.sentence = sentence(&line, drawn.dashes.map(|(_, length_mm)| length_mm));
    Ok(Ok(line))
}

fn sentence(line: &PenLine, dash_mm: Option<f32>) -> String {
    let ink = match line.ink {
        Ink::Dark => "dark",
        Ink::Light => "light",
        Ink::Coloured => "coloured",
    };
    let (width, length, area) = (line.width_mm, line.centre.len(), line.area_mm2 / 100.0);
    let mut s = match dash_mm {
        Some(dash) => format!(
            "A closed line of {} dashes of {ink} ink, each about {dash:.0} mm long and {width:.1} mm wide; the line \
             through them is {length} mm long, around {area:.1} cm² of skin.",
            line.dashes
        ),
        None => format!(
            "A closed line of {ink} ink, {width:.1} mm wide and {length} mm long, around {area:.1} cm² of skin."
        ),
    };
    if !line.gaps_bridged.is_empty() {
        let parts: Vec<String> = line
            .gaps_bridged
            .iter()
            .map(|g| format!("{:.1} mm{}", g.length_mm, if g.over_hole { " across a hole in the scan" } else { "" }))
            .collect();
        s += &format!(" Carried straight over where ink is missing: {}.", parts.join(", "));
    }
    if line.round_the_limb {
        s += " It goes round the limb; the smaller side is taken as the inside, so check that it is the right one.";
    }
    s
}
