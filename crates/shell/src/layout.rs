//! Everything that is placed on the skin before the solid is made.

use std::sync::Arc;

use mesh::{Hit, Job, Surface};
use nalgebra::Point3;
use zone::Zone;

use crate::{Chart, Design, Fitting, Shape, ShellError};

/// The item of a design that an opening or emboss belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DesignItem {
    /// A vent of the pattern.
    Vent,
    /// The fitting with this number in the design.
    Fitting(usize),
    /// The mark with this number in the design.
    Mark(usize),
    /// The picture with this number in the design.
    Picture(usize),
}

/// An opening through the wall.
#[derive(Debug, Clone, PartialEq)]
pub struct Opening {
    /// Map of the skin round it; must reach at least 3 mm beyond the shape.
    pub chart: Arc<Chart>,
    /// Its outline on the skin.
    pub shape: Shape,
    /// What it is a part of, where that has more than one opening, as a word that is cut through: other things keep off
    /// the whole.
    pub part_of: Option<Arc<Shape>>,
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
    /// Which share of that is taken where, inside of the outline; all of it where there are none.
    pub shades: Option<Arc<Shades>>,
    /// The item of the design that it belongs to.
    pub item: DesignItem,
}

/// Shares of a height on a square grid in a chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Shades {
    /// Chart coordinates of the first sample.
    pub origin: [f32; 2],
    /// Distance between samples, mm.
    pub step: f32,
    /// Samples in a row.
    pub width: usize,
    /// Shares, 0 to 1, row by row upwards.
    pub values: Vec<f32>,
}

impl Shades {
    /// The share at a place; 0 off the grid.
    #[must_use]
    pub fn at(&self, p: [f32; 2]) -> f32 {
        let height = self.values.len() / self.width;
        let [x, y] = [0, 1].map(|k| (p[k] - self.origin[k]) / self.step);
        if x < 0.0 || y < 0.0 || x >= (self.width - 1) as f32 || y >= (height - 1) as f32 {
            return 0.0;
        }
        let (i, j) = (x as usize, y as usize);
        let (s, t) = (x - i as f32, y - j as f32);
        let row = |j: usize| self.values[j * self.width + i] * (1.0 - s) + self.values[j * self.width + i + 1] * s;
        row(j) * (1.0 - t) + row(j + 1) * t
    }
}

/// Everything that has its place on the skin for one shell, in the order in which it was placed:
/// fittings, marks, pictures, ribs, vents, stitch holes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Layout {
    /// The fittings, each with its number in the design; those that follow where they were placed.
    pub fittings: Vec<(usize, Fitting)>,
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
    /// All openings, those that are parts of one thing as that, then all embosses.
    pub fn placed(&self) -> impl Iterator<Item = Placed<'_>> {
        let same =
            |a: &Opening, b: &Opening| matches!((&a.part_of, &b.part_of), (Some(a), Some(b)) if Arc::ptr_eq(a, b));
        let first = move |n: usize, o: &Opening| n == 0 || !same(&self.openings[n - 1], o);
        let openings = self.openings.iter().enumerate().filter(move |(n, o)| first(*n, o)).map(|(_, o)| Placed {
            chart: &o.chart,
            shape: o.part_of.as_deref().unwrap_or(&o.shape),
            item: o.item,
        });
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

/// Lays out fittings, marks, pictures, ribs and vents of `design` on the zone.
///
/// # Errors
/// [`ShellError::CannotBuild`] where a thing has no room, naming its setting and place.
pub fn arrange(skin: &Surface, zone: &Zone, design: &Design, job: &Job) -> Result<Layout, ShellError> {
    let mut layout = Layout::default();
    crate::fitting::place_fittings(skin, zone, design, &mut layout, &job.part(0.0, 0.2))?;
    crate::fitting::place_marks(skin, zone, design, &mut layout, &job.part(0.2, 0.28))?;
    crate::fitting::place_pictures(skin, zone, design, &mut layout, &job.part(0.28, 0.3))?;
    crate::pattern::place_ribs(skin, zone, design, &mut layout, &job.part(0.3, 0.5))?;
    crate::fitting::place_stitch_holes(skin, zone, design, &mut layout, &job.part(0.5, 0.6))?;
    crate::pattern::place_vents(skin, zone, design, &mut layout, &job.part(0.6, 1.0))?;
    Ok(layout)
}
