//! Whether what is marked fills the pen line, found in the background.

use std::sync::Arc;

use engine::LimbOnAxes;
use nalgebra::Point3;
use scan::pen::PenFinding;
use session::{Outcome, Session, Task};
use zone::Sketch;

/// What is marked may end this far inside the line, mm: a hand that paints up to a line stays a little off it.
const SHORT_MM: f32 = 4.0;
/// Least share of the line that what is marked reaches.
const REACHED: f64 = 0.95;

/// Whether what is marked fills the pen line.
#[derive(Debug, Default)]
pub struct Filling {
    /// Serials of the pen line and the sketch that it was last asked for.
    asked: (u64, u64),
    finding: Task<bool>,
    filled: bool,
}

impl Filling {
    /// Takes what was found, and searches again when something else is marked.
    pub fn keep(&mut self, session: &Session) {
        if let Some(Outcome::Done(filled)) = self.finding.take() {
            self.filled = filled;
        }
        let derived = session.derived();
        let serials = (derived.pen.serial(), derived.sketch.serial());
        if self.asked == serials || self.finding.is_running() {
            return;
        }
        self.asked = serials;
        let (Some(limb), Some(sketch), Some(pen)) =
            (derived.limb.value().cloned(), derived.sketch.value().cloned(), derived.pen.value().cloned())
        else {
            self.filled = false;
            return;
        };
        self.finding.start(move |_| match &*pen {
            PenFinding::Closed(line) => is_filled(&limb, &sketch, &line.centre),
            _ => false,
        });
    }

    /// Whether what is marked fills the pen line, as far as was found.
    pub fn is_filled(&self) -> bool {
        self.filled
    }
}

/// Whether what is marked reaches nearly all of a line.
fn is_filled(limb: &Arc<LimbOnAxes>, sketch: &Sketch, line: &[Point3<f32>]) -> bool {
    let mut seed = None;
    let reached = line.iter().filter(|p| {
        let Some(hit) = limb.skin.nearest(p, seed) else { return false };
        seed = Some(hit.triangle);
        let corners = limb.skin.mesh().triangles[hit.triangle as usize];
        corners.iter().any(|v| sketch.covered_mm.get(*v as usize).is_some_and(|depth_mm| *depth_mm > -SHORT_MM))
    });
    reached.count() as f64 >= REACHED * line.len().max(1) as f64
}
