//! Two families of slanted ribs that cross in upright diamonds, on the drawing board.

use mesh::Cancelled;
use nalgebra::Point2;

use super::RibContext;
use crate::pattern::tangent_frame::TangentFrame;

/// Height of a diamond over its width.
const UPRIGHT: f64 = 1.6;
/// Distance between the points of a rib, mm upwards.
const STEP_MM: f64 = 2.0;
/// Ribs end this far inside the trim line, mm.
const END_MM: f32 = 0.3;

/// The ribs, from rim to rim. A diamond stands on the middle of the board, and where one half of the board mirrors the
/// other, so do the ribs.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn lines(context: &RibContext<'_>) -> Result<Vec<Vec<TangentFrame>>, Cancelled> {
    let (low, high) = context.board.bounds();
    let wide = f64::from(context.ribs.spacing_mm);
    let middle = 0.5 * (low.y + high.y);
    let half = low.x.abs().max(high.x.abs()) + 0.5 * (high.y - low.y) / UPRIGHT;
    let reach = (half / wide).ceil() as i32;
    let steps = ((high.y - low.y) / STEP_MM).ceil() as i32;
    let mut all = Vec::new();
    for slant in [1.0, -1.0] {
        for k in -reach..reach {
            context.job.check()?;
            let start = (f64::from(k) + 0.5) * wide;
            let place = |n: i32| {
                let y = low.y + f64::from(n) * STEP_MM;
                Point2::new(start + slant * (y - middle) / UPRIGHT, y)
            };
            let mut part = Vec::new();
            for n in 0..=steps {
                let frame = context.board.site(place(n)).map(|site| site.frame);
                match frame.filter(|f| context.skin.interpolate(context.edge_mm, &f.hit) > END_MM) {
                    Some(frame) => part.push(frame),
                    None => all.push(std::mem::take(&mut part)),
                }
            }
            all.push(part);
        }
    }
    all.retain(|part| part.len() > 1);
    Ok(all)
}
