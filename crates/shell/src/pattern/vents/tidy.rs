//! Leaves out vents that would look like an oversight: without a mirror image or without neighbours.

use mesh::{Cancelled, SpatialHash};
use nalgebra::{Point2, Point3};

use super::{Vent, VentContext};
use crate::board::Board;

/// A vent's mirror image lies where it should to within this share of a step.
const IMAGE_STEPS: f64 = 0.35;
/// Neighbours are at most this many steps apart.
const NEAR_STEPS: f64 = 1.3;
/// Fewer neighbours make a stray.
const LEAST_NEIGHBOURS: usize = 2;

/// The vents that have a mirror image, where the board is mirrored, and two neighbours. `steps` says how far places are
/// apart, 1 for neighbours. What would leave none leaves all.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn tidy(
    context: &VentContext<'_>,
    vents: Vec<Vent>,
    reach_mm: f64,
    steps: impl Fn(Point2<f64>, Point2<f64>) -> f64,
) -> Result<Vec<Vent>, Cancelled> {
    let places: Vec<Option<Point2<f64>>> = vents.iter().map(|v| context.board.place_of(&v.frame.hit)).collect();
    // Off the map, in a plane of its own, none is anyone's neighbour.
    let flat =
        |p: &Option<Point2<f64>>| p.map_or(Point3::new(0.0, 0.0, 1e6), |p| Point3::new(p.x as f32, p.y as f32, 0.0));
    let hash = SpatialHash::of(reach_mm as f32, places.iter().map(flat));
    let near = |place: Point2<f64>, within: f64, kept: &[bool]| -> usize {
        let found = hash.within(&flat(&Some(place)), 1.5 * reach_mm as f32);
        found.into_iter().filter(|n| kept[*n] && places[*n].is_some_and(|p| steps(place, p) < within)).count()
    };
    let mut kept = vec![true; vents.len()];
    loop {
        context.job.check()?;
        let lone: Vec<usize> = (0..vents.len())
            .filter(|n| kept[*n])
            .filter(|n| {
                places[*n].is_none_or(|place| {
                    let image = !context.board.mirrored || near(Board::mirror(place), IMAGE_STEPS, &kept) > 0;
                    // It is found itself, too.
                    !image || near(place, NEAR_STEPS, &kept) < LEAST_NEIGHBOURS + 1
                })
            })
            .collect();
        if lone.is_empty() {
            break;
        }
        lone.into_iter().for_each(|n| kept[n] = false);
    }
    if !kept.contains(&true) {
        return Ok(vents);
    }
    Ok(vents.into_iter().zip(kept).filter(|(_, kept)| *kept).map(|(vent, _)| vent).collect())
}
