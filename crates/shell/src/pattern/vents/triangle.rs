//! Triangles, one up and one down in turn, so that straight struts run between them three ways.

use nalgebra::{Point2, Vector2};

use super::bays::lay_bays;
use super::convex::{Cell, convex, inset};
use super::raster::Raster;
use super::tidy::tidy;
use super::weave::{Laid, Weave, choose};
use super::{Vent, VentContext};
use crate::ShellError;

/// Corner radius as a share of the height, and at least, mm: sharper ones are where a wall tears, and grids tear them.
const CORNER_SHARE: f32 = 0.1;
const LEAST_CORNER_MM: f32 = 0.8;
/// A place counts as roomy from this much room on, in heights: between the circle in a triangle, 1/3, and that round it.
const ROOM: f32 = 0.5;

pub fn lay_out(context: &VentContext<'_>) -> Result<Vec<Vent>, ShellError> {
    let (size, ligament) = (context.vents.size_mm, context.vents.ligament_mm);
    // Of a triangle of height h the sides are h / 3 from the middle and the corners 2 h / 3; the side is 2 h / √3.
    let side = 2.0 * size / 3.0_f32.sqrt();
    let up = [[-0.5 * side, -size / 3.0], [0.5 * side, -size / 3.0], [0.0, 2.0 * size / 3.0]];
    let round = (CORNER_SHARE * size).max(LEAST_CORNER_MM).min(0.9 * size / 3.0);
    let up = inset(&up, size / 3.0, round);
    let down: Vec<[f32; 2]> = up.iter().map(|p| [-p[0], -p[1]]).collect();
    // With half a wall on each side a triangle is higher by three halves of a wall.
    let height = f64::from(size + 1.5 * ligament) * (1.0 + context.board.slack());
    let weave = Weave::rows(2.0 * height / 3.0_f64.sqrt());
    let raster = Raster::new(context)?;
    let laid = choose(context, &raster, &[weave], |laid| {
        let roomy = places(context, &raster, laid, height).filter(|(place, _)| raster.room(*place) >= ROOM * size);
        roomy.count() as f64
    })?;
    let bays: Vec<(u32, Vec<Cell>)> = laid
        .iter()
        .map(|laid| {
            let cell = |(place, upright)| {
                let corners = if upright { up.clone() } else { down.clone() };
                Some(Cell { site: context.board.site(place)?, corners })
            };
            (laid.bay, places(context, &raster, laid, height).filter_map(cell).collect())
        })
        .collect();
    let vents = lay_bays(context, &bays, |cells| convex(context, cells, round))?;
    let apart = 2.0 * height / 3.0;
    Ok(tidy(context, vents, apart, |a, b| (b - a).norm() / apart)?)
}

/// The middles of the triangles of a net of struts whose knots are the places of a weave of rows, on the board, and
/// whether each stands on its side. A knot has one up and one down above it.
fn places<'a>(
    context: &'a VentContext<'_>,
    raster: &'a Raster,
    laid: &'a Laid,
    height: f64,
) -> impl Iterator<Item = (Point2<f64>, bool)> + 'a {
    let side = if laid.flipped { -1.0 } else { 1.0 };
    laid.places(&context.board, raster).flat_map(move |(at, _)| {
        let knot = laid.weave.place(at, laid.shift);
        let up = (Vector2::new(0.5 * laid.weave.step[0], height / 3.0), true);
        let down = (Vector2::new(0.0, 2.0 * height / 3.0), false);
        [up, down].map(|(off, upright)| {
            let place = knot + off;
            (context.board.curves.bent(Point2::new(place.x * side, place.y)), upright)
        })
    })
}
