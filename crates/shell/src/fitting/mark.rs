//! Numbers and words on the outer face.

use std::sync::Arc;

use mesh::{Cancelled, Job, Surface};
use zone::Zone;

use super::glyphs::{self, Lettering, thinnest_stroke_mm};
use super::outline::CHART_MARGIN_MM;
use super::placement::{Misfit, Workpiece};
use super::stencil;
use super::way_out::{elsewhere, largest, sentence, succeeded};
use crate::design_check::check_mark;
use crate::limits::{self, rim_wall_mm};
use crate::{Design, DesignItem, Emboss, Layout, Mark, MarkKind, Opening, Shape, ShellError};

/// Strokes thinner than two lines of a 0.4 mm nozzle do not print, mm.
const LEAST_STROKE_MM: f32 = 0.8;
/// Strokes thinner than three lines print, but wear off, mm.
const GOOD_STROKE_MM: f32 = 1.2;

/// Places numbers and words.
///
/// # Errors
/// [`ShellError::CannotBuild`] where one does not fit.
pub fn place_marks(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: &mut Layout,
    job: &Job,
) -> Result<(), ShellError> {
    if design.marks.is_empty() {
        return Ok(());
    }
    let workpiece = Workpiece::new(skin, zone, design, job)?;
    for (number, mark) in design.marks.iter().enumerate() {
        job.step("placing marks", number as f32 / design.marks.len() as f32)?;
        match place_mark(&workpiece, layout, number, mark) {
            Ok(LaidMark::On(emboss)) => layout.embosses.push(emboss),
            Ok(LaidMark::Through(openings)) => layout.openings.extend(openings),
            Err(refusal) => return Err(with_way_out(&workpiece, layout, number, mark, refusal)?),
        }
    }
    Ok(())
}

/// A mark with its place.
enum LaidMark {
    /// On the outer face.
    On(Emboss),
    /// Through the wall.
    Through(Vec<Opening>),
}

fn place_mark(
    workpiece: &Workpiece<'_>,
    layout: &mut Layout,
    number: usize,
    mark: &Mark,
) -> Result<LaidMark, ShellError> {
    let setting = |field: &str| format!("shell.marks[{number}].{field}");
    workpiece.allowed(check_mark(workpiece.design, number, mark), &mark.at_mm)?;
    let at = workpiece.require_place(&mark.at_mm, &setting("at_mm"))?;
    let lettering = glyphs::set(&mark.text, mark.height_mm).map_err(|missing| ShellError::CannotBuild {
        setting: setting("text"),
        place: at.point,
        what: no_letters(&missing),
        cure: "Use letters, digits and common signs.".to_owned(),
    })?;
    let chart = Arc::new(workpiece.chart(&at, mark.turn_deg, reach(&lettering) + CHART_MARGIN_MM)?);
    let rim_mm = rim_wall_mm(workpiece.design);
    let refuse = |misfit: Misfit| {
        let place = if workpiece.edge_mm(&at) <= 0.0 { ".at_mm" } else { "" };
        let thing = format!("the mark “{}”", mark.text);
        let cure = "It has no room at this place at any size: move it or turn it.";
        misfit.error(format!("shell.marks[{number}]{place}"), &thing, workpiece.design, cure)
    };
    // A box well inside the ink finds most misfits before the letters are drawn.
    let [lo, hi] = lettering.ink;
    let middle = Shape::RoundedBox {
        centre: [0.5 * (lo[0] + hi[0]), 0.5 * (lo[1] + hi[1])],
        direction: [1.0, 0.0],
        half: [0.4 * (hi[0] - lo[0]), 0.3 * (hi[1] - lo[1])],
        round: 0.0,
    };
    if let Some(misfit) = workpiece.misfit(layout, &chart, &middle, rim_mm, 1.0)? {
        return Err(refuse(misfit));
    }
    let shape = lettering.drawing((mark.height_mm / 120.0).clamp(0.15, 0.25), workpiece.job)?;
    if let Some(misfit) = workpiece.misfit(layout, &chart, &shape, rim_mm, 1.0)? {
        return Err(refuse(misfit));
    }
    match stroke_fault(mark, &shape) {
        Some(Stroke::Unprintable { what, cure }) => {
            return Err(ShellError::CannotBuild { setting: setting("height_mm"), place: at.point, what, cure });
        }
        Some(Stroke::Thin(said)) => layout.notices.push(format!("{said} ({}).", setting("height_mm"))),
        None => {}
    }
    let item = DesignItem::Mark(number);
    if mark.kind == MarkKind::CutThrough {
        let whole = Some(Arc::new(shape.clone()));
        let opening = |shape| Opening { chart: chart.clone(), shape, part_of: whole.clone(), item };
        return Ok(LaidMark::Through(stencil::openings(&shape).into_iter().map(opening).collect()));
    }
    Ok(LaidMark::On(Emboss { chart, shape, height_mm: mark.relief_mm, shades: None, item }))
}

/// From the middle of letters to their farthest corner, mm.
fn reach(lettering: &Lettering) -> f32 {
    lettering.ink.iter().map(|p| p[0].hypot(p[1])).fold(0.0, f32::max)
}

/// The refusal of a mark that has no room with a way out: smaller letters at its place, or the same ones near by.
fn with_way_out(
    workpiece: &Workpiece<'_>,
    layout: &mut Layout,
    number: usize,
    mark: &Mark,
    refusal: ShellError,
) -> Result<ShellError, Cancelled> {
    let workpiece = &Workpiece { only_asked: true, ..*workpiece };
    let of_its_room = |setting: &str| setting.ends_with(']') || setting.ends_with("at_mm");
    let ShellError::CannotBuild { setting, place, what, cure } = refusal else { return Ok(refusal) };
    let mut has_room = |mark: Mark| {
        let before = layout.notices.len();
        let fits = succeeded(place_mark(workpiece, layout, number, &mark));
        layout.notices.truncate(before);
        fits
    };
    if !of_its_room(&setting) || check_mark(workpiece.design, number, mark).is_err() {
        return Ok(ShellError::CannotBuild { setting, place, what, cure });
    }
    let most = (mark.height_mm.ceil() as u32).saturating_sub(1);
    let highest =
        largest(most, limits::MARK_HEIGHT.least as u32, |mm| has_room(Mark { height_mm: mm as f32, ..mark.clone() }))?;
    let smaller = highest.map(|mm| format!("Letters up to {mm} mm high have room at this place"));
    let reach_mm = glyphs::set(&mark.text, mark.height_mm).map_or(0.0, |lettering| reach(&lettering));
    let elsewhere = elsewhere(workpiece, &mark.at_mm, reach_mm, |at_mm| has_room(Mark { at_mm, ..mark.clone() }))?;
    let cure = sentence(smaller, elsewhere).unwrap_or(cure);
    Ok(ShellError::CannotBuild { setting, place, what, cure })
}

/// What is wrong with the strokes of a mark.
enum Stroke {
    /// They do not print.
    Unprintable { what: String, cure: String },
    /// They print, but wear off.
    Thin(String),
}

fn stroke_fault(mark: &Mark, shape: &Shape) -> Option<Stroke> {
    let stroke = thinnest_stroke_mm(shape)?;
    let height = |least: f32| (mark.height_mm * least / stroke * 2.0).ceil() * 0.5;
    if stroke < LEAST_STROKE_MM {
        let what = format!("the strokes of “{}” are {stroke:.1} mm thin and do not print", mark.text);
        return Some(Stroke::Unprintable { what, cure: format!("Choose at least {:.1}.", height(LEAST_STROKE_MM)) });
    }
    (stroke < GOOD_STROKE_MM).then(|| {
        Stroke::Thin(format!(
            "The strokes of “{}” are only {stroke:.1} mm thin; from a height of {:.1} mm they last longer",
            mark.text,
            height(GOOD_STROKE_MM)
        ))
    })
}

/// Why a text cannot be written, if so.
pub(crate) fn unwritable(text: &str) -> Option<String> {
    match glyphs::set(text, 1.0) {
        Err(missing) => Some(no_letters(&missing)),
        Ok(lettering) => lettering.is_blank().then(|| "there is nothing to write".to_owned()),
    }
}

fn no_letters(missing: &[char]) -> String {
    let names: Vec<String> = missing.iter().map(|c| format!("{} (U+{:04X})", c.escape_debug(), *c as u32)).collect();
    format!("the typeface has no {}", names.join(", "))
}
