//! Pictures raised on the outer face.

use std::sync::Arc;

use mesh::{Cancelled, Job, Surface};
use zone::Zone;

use super::outline::CHART_MARGIN_MM;
use super::placement::Workpiece;
use super::way_out::{elsewhere, largest, sentence, succeeded};
use crate::design_check::check_picture;
use crate::layout::Shades;
use crate::limits::{self, rim_wall_mm};
use crate::{Design, DesignItem, Emboss, Layout, Picture, Shape, ShellError, Tones};

/// Shades on the guard lie this far apart, mm.
const STEP_MM: f32 = 0.2;
/// Shades are averaged over this radius, mm: sides rise over about what those of letters do, and print as cleanly.
const EVEN_MM: f32 = 0.4;
/// Corners of the picture's field, mm.
const CORNER_MM: f32 = 1.0;

/// Places pictures.
///
/// # Errors
/// [`ShellError::CannotBuild`] where one does not fit.
pub fn place_pictures(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: &mut Layout,
    job: &Job,
) -> Result<(), ShellError> {
    if design.pictures.is_empty() {
        return Ok(());
    }
    let workpiece = Workpiece::new(skin, zone, design, job)?;
    for (number, picture) in design.pictures.iter().enumerate() {
        job.step("placing pictures", number as f32 / design.pictures.len() as f32)?;
        match place_picture(&workpiece, layout, number, picture) {
            Ok(emboss) => layout.embosses.push(emboss),
            Err(refusal) => return Err(with_way_out(&workpiece, layout, number, picture, refusal)?),
        }
    }
    Ok(())
}

fn place_picture(
    workpiece: &Workpiece<'_>,
    layout: &Layout,
    number: usize,
    picture: &Picture,
) -> Result<Emboss, ShellError> {
    let setting = |field: &str| format!("shell.pictures[{number}]{field}");
    workpiece.allowed(check_picture(number, picture), &picture.at_mm)?;
    let at = workpiece.require_place(&picture.at_mm, &setting(".at_mm"))?;
    let half = half_mm(picture);
    let chart = Arc::new(workpiece.chart(&at, picture.turn_deg, half[0].hypot(half[1]) + CHART_MARGIN_MM)?);
    let shape =
        Shape::RoundedBox { centre: [0.0; 2], direction: [1.0, 0.0], half, round: CORNER_MM.min(half[0]).min(half[1]) };
    if let Some(misfit) = workpiece.misfit(layout, &chart, &shape, rim_wall_mm(workpiece.design), 1.0)? {
        let place = if workpiece.edge_mm(&at) <= 0.0 { ".at_mm" } else { "" };
        let cure = "It has no room at this place at any size: move it or turn it.";
        return Err(misfit.error(setting(place), &thing(picture), workpiece.design, cure));
    }
    let shades = Some(Arc::new(shades(&picture.tones, half)));
    Ok(Emboss { chart, shape, height_mm: picture.relief_mm, shades, item: DesignItem::Picture(number) })
}

fn thing(picture: &Picture) -> String {
    format!("the picture “{}”", picture.name)
}

/// Half its width and height, mm.
fn half_mm(picture: &Picture) -> [f32; 2] {
    let upright = picture.tones.rows() as f32 / picture.tones.columns.max(1) as f32;
    [0.5 * picture.width_mm, 0.5 * picture.width_mm * upright]
}

/// Its shades on a grid in the chart, with even sides.
fn shades(tones: &Tones, half: [f32; 2]) -> Shades {
    let samples = half.map(|h| (2.0 * h / STEP_MM).ceil() as usize + 1);
    let reach = (EVEN_MM / STEP_MM).round() as i32;
    // A cone: its slopes are the most even of its width.
    let weight = |i: i32, j: i32| (1.0 - STEP_MM * (i as f32).hypot(j as f32) / (EVEN_MM + STEP_MM)).max(0.0);
    let near: Vec<(f32, f32, f32)> = (-reach..=reach)
        .flat_map(|j| (-reach..=reach).map(move |i| (i, j)))
        .map(|(i, j)| (i as f32 * STEP_MM, j as f32 * STEP_MM, weight(i, j)))
        .filter(|(.., weight)| *weight > 0.0)
        .collect();
    let whole: f32 = near.iter().map(|(.., weight)| weight).sum();
    let at = |k: usize| {
        let place = [k % samples[0], k / samples[0]].map(|i| i as f32 * STEP_MM);
        let shade = |(x, y, weight): &(f32, f32, f32)| {
            weight * tones.at([(place[0] + x) / (2.0 * half[0]), (place[1] + y) / (2.0 * half[1])])
        };
        near.iter().map(shade).sum::<f32>() / whole
    };
    let values = (0..samples[0] * samples[1]).map(at).collect();
    Shades { origin: half.map(|h| -h), step: STEP_MM, width: samples[0], values }
}

/// The refusal of a picture that has no room with a way out: a smaller one at its place, or the same one near by.
fn with_way_out(
    workpiece: &Workpiece<'_>,
    layout: &Layout,
    number: usize,
    picture: &Picture,
    refusal: ShellError,
) -> Result<ShellError, Cancelled> {
    let workpiece = &Workpiece { only_asked: true, ..*workpiece };
    let ShellError::CannotBuild { setting, place, what, cure } = refusal else { return Ok(refusal) };
    if !(setting.ends_with(']') || setting.ends_with("at_mm")) || check_picture(number, picture).is_err() {
        return Ok(ShellError::CannotBuild { setting, place, what, cure });
    }
    let has_room = |picture: Picture| succeeded(place_picture(workpiece, layout, number, &picture));
    let most = (picture.width_mm.ceil() as u32).saturating_sub(1);
    let widest = largest(most, limits::PICTURE_WIDTH.least as u32, |mm| {
        has_room(Picture { width_mm: mm as f32, ..picture.clone() })
    })?;
    let smaller = widest.map(|mm| format!("Up to {mm} mm wide it has room at this place"));
    let [wide, high] = half_mm(picture);
    let elsewhere =
        elsewhere(workpiece, &picture.at_mm, wide.hypot(high), |at_mm| has_room(Picture { at_mm, ..picture.clone() }))?;
    let cure = sentence(smaller, elsewhere).unwrap_or(cure);
    Ok(ShellError::CannotBuild { setting, place, what, cure })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Black left half: the side between the halves rises over less than a millimetre, and the whole keeps its mean.
    #[test]
    fn sides_are_even_and_short() {
        let values = (0..64 * 32).map(|k| if k % 64 < 32 { 255 } else { 0 }).collect();
        let shades = shades(&Tones { columns: 64, values }, [16.0, 8.0]);
        assert!((shades.at([-4.0, 0.0]) - 1.0).abs() < 1e-3 && shades.at([4.0, 0.0]).abs() < 1e-3);
        assert!((shades.at([0.0, 0.0]) - 0.5).abs() < 0.05, "{}", shades.at([0.0, 0.0]));
        let steepest = (-40..40)
            .map(|k| (shades.at([0.05 * k as f32, 0.0]) - shades.at([0.05 * (k + 1) as f32, 0.0])) / 0.05)
            .fold(0.0, f32::max);
        assert!((0.8..2.0).contains(&steepest), "{steepest} a millimetre");
        assert_eq!(shades.at([30.0, 0.0]), 0.0);
    }
}
