//! Stitch holes along the rim.

use std::sync::Arc;

use mesh::{Hit, Job, Surface};
use nalgebra::Point3;
use zone::Zone;

use super::line::Line;
use super::outline::CHART_MARGIN_MM;
use super::placement::Workpiece;
use crate::design_check::{check_fitting, up};
use crate::limits::{MIN_LIGAMENT_MM, least_stitch_inset_mm, least_stitch_pitch_mm, rim_wall_mm};
use crate::{Design, DesignItem, FittingKind, Layout, Opening, Shape, ShellError};

/// A line of equal distance is only as exact as the triangles; a hole may stand this much nearer to the rim, mm.
const LINE_SLACK_MM: f32 = 0.25;
/// Most holes on one edge.
const MOST_HOLES: usize = 2000;

/// Places stitch holes along the rim, leaving out those that would meet something else.
///
/// They stand on the line at `inset_mm` inside the trim line that is nearest to `at_mm`, equally spaced, with the
/// spacing nearest to `pitch_mm` that divides the line. The notices say how many were left out.
///
/// # Errors
/// [`ShellError::CannotBuild`] where the settings leave no wall.
pub fn place_stitch_holes(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: &mut Layout,
    job: &Job,
) -> Result<(), ShellError> {
    for (number, fitting) in design.fittings.iter().enumerate() {
        if let FittingKind::StitchHoles { hole_mm, pitch_mm, inset_mm } = fitting.kind {
            let workpiece = Workpiece::new(skin, zone, design, job)?;
            workpiece.allowed(check_fitting(design, number, fitting), &fitting.at_mm)?;
            let row = Row { number, hole_mm, pitch_mm, inset_mm, at_mm: fitting.at_mm };
            place_row(&workpiece, layout, &row)?;
        }
    }
    Ok(())
}

struct Row {
    number: usize,
    hole_mm: f32,
    pitch_mm: f32,
    inset_mm: f32,
    at_mm: Point3<f32>,
}

fn place_row(workpiece: &Workpiece<'_>, layout: &mut Layout, row: &Row) -> Result<(), ShellError> {
    let (skin, design) = (workpiece.skin, workpiece.design);
    let setting = |field: &str| format!("shell.fittings[{}].{field}", row.number);
    let place = workpiece.require_place(&row.at_mm, &setting("at_mm"))?.point;
    let rim_mm = rim_wall_mm(design);
    let lines = lines_of_edge(skin, workpiece.zone, row, &place);
    let shape = Shape::Circle { centre: [0.0; 2], radius: 0.5 * row.hole_mm };
    let (mut placed, mut left_out) = (0_usize, 0_usize);
    for line in &lines {
        for at in spaced(line, row) {
            workpiece.job.step("placing stitch holes", 0.5)?;
            let Some(hit) = skin.nearest(&at, None) else { continue };
            let chart = workpiece.chart(&hit, 0.0, 0.5 * row.hole_mm + CHART_MARGIN_MM)?;
            let misfit = workpiece.misfit(layout, &chart, &shape, rim_mm - LINE_SLACK_MM, 1.0)?;
            if misfit.is_some() || on_a_rib(skin, design, layout, &hit, row) {
                left_out += 1;
                continue;
            }
            let item = DesignItem::Fitting(row.number);
            layout.openings.push(Opening { chart: Arc::new(chart), shape: shape.clone(), part_of: None, item });
            placed += 1;
        }
    }
    if placed == 0 {
        return Err(ShellError::CannotBuild {
            setting: setting("kind.stitch-holes.inset_mm"),
            place,
            what: format!("no stitch hole has room {:.1} mm inside this edge", row.inset_mm),
            cure: format!(
                "Set them nearer to the edge (inset_mm, at least {} mm), or move other things off it.",
                up(least_stitch_inset_mm(row.hole_mm, design))
            ),
        });
    }
    if left_out > 0 {
        layout.notices.push(format!(
            "{left_out} of {} stitch holes were left out because they would meet another opening, a mark, a rib or the rim ({}).",
            placed + left_out,
            setting("kind.stitch-holes.pitch_mm"),
        ));
    }
    Ok(())
}

fn on_a_rib(skin: &Surface, design: &Design, layout: &Layout, hit: &Hit, row: &Row) -> bool {
    let Some(ribs) = design.ribs else { return false };
    layout.rib_distance_mm.len() == skin.mesh().points.len()
        && skin.interpolate(&layout.rib_distance_mm, hit) < 0.5 * (ribs.width_mm + row.hole_mm) + MIN_LIGAMENT_MM
}

/// The lines at the inset that follow the edge nearest to `place`.
fn lines_of_edge(skin: &Surface, zone: &Zone, row: &Row, place: &Point3<f32>) -> Vec<Line> {
    let wanted = nearest_edge(zone, place);
    mesh::geodesic::contour(skin, &zone.covered.distance_mm, row.inset_mm)
        .into_iter()
        .map(|contour| Line { points: contour.line.points, closed: contour.line.closed })
        .filter(|line| line.length_mm() > 3.0 * row.pitch_mm)
        .filter(|line| {
            let step = (line.points.len() / 32).max(1);
            let votes = line.points.iter().step_by(step).map(|p| nearest_edge(zone, p) == wanted);
            let (yes, all) = votes.fold((0, 0), |(yes, all), v| (yes + usize::from(v), all + 1));
            2 * yes > all
        })
        .map(|line| line.smoothed(1.0, 3))
        .collect()
}

/// Number of the zone's edge that comes nearest to `place`.
fn nearest_edge(zone: &Zone, place: &Point3<f32>) -> Option<usize> {
    let away = |edge: &[Point3<f32>]| edge.iter().map(|p| (p - place).norm_squared()).fold(f32::INFINITY, f32::min);
    let edges = zone.covered.edges.iter().enumerate().map(|(i, edge)| (away(edge), i));
    edges.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))).map(|(_, i)| i)
}

/// Equally spaced points of the line.
fn spaced(line: &Line, row: &Row) -> Vec<Point3<f32>> {
    let length = line.length_mm();
    let least = least_stitch_pitch_mm(row.hole_mm);
    let count = ((length / row.pitch_mm).round() as usize).min((length / least) as usize).clamp(1, MOST_HOLES);
    let step = length / count as f32;
    // An open line, along the end of the scan, keeps half a step free at both ends.
    let start = if line.closed { 0.0 } else { 0.5 * step };
    line.points_at((0..count).map(|i| start + i as f32 * step))
}
