//! Upright diamonds in staggered columns, the wall between them even on all four sides.

use super::bays::lay_bays;
use super::convex::{Cell, convex, inset};
use super::raster::Raster;
use super::tidy::tidy;
use super::weave::{Weave, most_places};
use super::{Vent, VentContext};
use crate::ShellError;
use crate::pattern::Site;

/// Height over width.
const UPRIGHT: f32 = 1.7;
/// Corner radius as a share of the size, and at least, mm: sharper ones are where a wall tears, and grids tear them.
const CORNER_SHARE: f32 = 0.12;
const LEAST_CORNER_MM: f32 = 0.8;
/// A place counts as roomy from this much room on, in sizes: between the circle in a diamond and that round it.
const ROOM: f32 = 0.62;

pub fn lay_out(context: &VentContext<'_>) -> Result<Vec<Vent>, ShellError> {
    let (size, ligament) = (context.vents.size_mm, context.vents.ligament_mm);
    // Opposite sides of a diamond with half axes a and u a are 2 a u / √(1 + u²) apart.
    let half = 0.5 * size * (1.0 + UPRIGHT * UPRIGHT).sqrt() / UPRIGHT;
    let corners = [[half, 0.0], [0.0, UPRIGHT * half], [-half, 0.0], [0.0, -UPRIGHT * half]];
    let round = (CORNER_SHARE * size).max(LEAST_CORNER_MM).min(0.9 * 0.5 * size);
    let corners = inset(&corners, 0.5 * size, round);
    // Diamonds larger by the wall fill the plane.
    let grown = f64::from(half * (size + ligament) / size) * (1.0 + context.board.slack());
    let weave = Weave { columns: true, step: [grown, 2.0 * grown * f64::from(UPRIGHT)] };
    let raster = Raster::new(context)?;
    let laid = most_places(context, &raster, &[weave], ROOM * size)?;
    let bays: Vec<(u32, Vec<Site>)> = laid.iter().map(|l| (l.bay, l.sites(&context.board, &raster))).collect();
    let vents = lay_bays(context, &bays, |sites| {
        let cells: Vec<Cell> = sites.iter().map(|site| Cell { site: *site, corners: corners.clone() }).collect();
        convex(context, &cells, round)
    })?;
    Ok(tidy(context, vents, weave.step[1], |a, b| weave.steps_between(a, b))?)
}
