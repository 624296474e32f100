//! Everything that is placed on the skin before the solid is made.

use std::sync::Arc;

use mesh::{Hit, Job, Surface};
use nalgebra::Point3;
use zone::Zone;

use crate::{Chart, Design, Shape, ShellError};

/// The item of a design that an opening or emboss belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DesignItem {
    /// A vent of the pattern.
    Vent,
    /// The fitting with this number in the design.
    Fitting(usize),
    /// The mark with this number in the design.
    Mark(usize),
}

/// An opening through the wall.
#[derive(Debug, Clone, PartialEq)]
pub struct Opening {
    /// Map of the skin round it; must reach at least 3 mm beyond the shape.
    pub chart: Arc<Chart>,
    /// Its outline on the skin.
    pub shape: Shape,
    /// The item of the design that it belongs to.
    pub item: DesignItem,
}

/// A part of the outer face that is raised or lowered.
#[derive(Debug, Clone, PartialEq)]
pub struct Emboss {
    /// Map of the skin round it; must reach at least 3 mm beyond the shape.
    pub chart: Arc<Chart>,
    /// Its outline on the skin.
    pub shape: Shape,
    /// Height above the outer face, mm; negative is sunk.
    pub height_mm: f32,
    /// The item of the design that it belongs to.
    pub item: DesignItem,
}

/// Everything that has its place on the skin for one shell, in the order in which it was placed:
/// fittings, marks, ribs, vents, stitch holes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Layout {
    /// Openings through the wall.
    pub openings: Vec<Opening>,
    /// Raised and lowered parts of the outer face.
    pub embosses: Vec<Emboss>,
    /// Centre lines of the ribs on the skin.
    pub rib_lines: Vec<Vec<Point3<f32>>>,
    /// Geodesic distance from each skin vertex to the nearest centre line of a rib, mm; empty without ribs. Only values
    /// up to the rib's width plus 6 mm need to be exact.
    pub rib_distance_mm: Vec<f32>,
    /// What could not be placed as asked, one sentence each.
    pub notices: Vec<String>,
}

/// A placed opening or emboss.
#[derive(Debug, Clone, Copy)]
pub struct Placed<'a> {
    /// Map of the skin round it.
    pub chart: &'a Arc<Chart>,
    /// Its outline on the skin.
    pub shape: &'a Shape,
    /// The item of the design that it belongs to.
    pub item: DesignItem,
}

impl Placed<'_> {
    /// Distance on the skin from its outline to a skin point, negative inside; `None` where its chart does not reach.
    #[must_use]
    pub fn signed_distance(&self, skin: &Surface, at: &Hit) -> Option<f32> {
        // The straight distance is never longer than that over the skin: what is farther is not in the chart.
        if (self.chart.centre.point - at.point).norm() > self.chart.radius_mm {
            return None;
        }
        Some(self.shape.signed_distance(self.chart.uv_at(skin, at)?))
    }
}

impl Layout {
    /// All openings, then all embosses.
    pub fn placed(&self) -> impl Iterator<Item = Placed<'_>> {
        let openings = self.openings.iter().map(|o| Placed { chart: &o.chart, shape: &o.shape, item: o.item });
        let embosses = self.embosses.iter().map(|e| Placed { chart: &e.chart, shape: &e.shape, item: e.item });
        openings.chain(embosses)
    }

    /// The nearest opening or emboss whose chart reaches a skin point, with its signed distance.
    pub(crate) fn nearest_placed(&self, skin: &Surface, at: &Hit) -> Option<(f32, DesignItem)> {
        self.placed()
            .filter_map(|placed| Some((placed.signed_distance(skin, at)?, placed.item)))
            .min_by(|a, b| a.0.total_cmp(&b.0))
    }
}

/// Lays out fittings, marks, ribs and vents of `design` on the zone.
///
/// # Errors
/// [`ShellError::CannotBuild`] where a thing has no room, naming its setting and place.
pub fn arrange(skin: &Surface, zone: &Zone, design: &Design, job: &Job) -> Result<Layout, ShellError> {
    let mut layout = Layout::default();
    crate::fitting::place_fittings(skin, zone, design, &mut layout, &job.part(0.0, 0.2))?;
    crate::fitting::place_marks(skin, zone, design, &mut layout, &job.part(0.2, 0.3))?;
    crate::pattern::place_ribs(skin, zone, design, &mut layout, &job.part(0.3, 0.5))?;
    crate::fitting::place_stitch_holes(skin, zone, design, &mut layout, &job.part(0.5, 0.6))?;
    crate::pattern::place_vents(skin, zone, design, &mut layout, &job.part(0.6, 1.0))?;
    Ok(layout)
}
