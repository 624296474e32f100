//! Everything that is placed on the skin before the solid is made.

use std::sync::Arc;

use mesh::{Job, Surface};
use nalgebra::Point3;
use zone::Zone;

use crate::{Chart, Design, Shape, ShellError};

/// What a cut or emboss was made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// A vent of the pattern.
    Vent,
    /// The fitting with this number in the design.
    Fitting(usize),
    /// The mark with this number in the design.
    Mark(usize),
}

/// An opening through the wall.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Map of the skin round it; must reach at least 3 mm beyond the shape.
    pub chart: Arc<Chart>,
    /// Its outline on the skin.
    pub shape: Shape,
    /// What it is for.
    pub source: Source,
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
    /// What it is for.
    pub source: Source,
}

/// All that is laid out on the skin for one shell, in the order in which it was given room:
/// fittings, marks, ribs, vents, stitch holes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Layout {
    /// Openings through the wall.
    pub cuts: Vec<Cut>,
    /// Raised and lowered parts of the outer face.
    pub embosses: Vec<Emboss>,
    /// Middle lines of the ribs on the skin.
    pub rib_lines: Vec<Vec<Point3<f32>>>,
    /// Geodesic distance from each skin vertex to the nearest rib's middle line, mm; empty without ribs. Only values
    /// up to the rib's width plus 6 mm need to be exact.
    pub rib_distance_mm: Vec<f32>,
    /// What had to give way, one sentence each.
    pub notices: Vec<String>,
}

impl Layout {
    /// Least distance on the skin from the chart coordinates of a skin point to what has been laid out so far:
    /// cuts and embosses; negative inside one. Things whose chart does not reach the point are left out.
    #[must_use]
    pub fn distance_to_placed(&self, skin: &Surface, at: &mesh::Hit) -> f32 {
        let cuts = self.cuts.iter().map(|c| (&c.chart, &c.shape));
        let embosses = self.embosses.iter().map(|e| (&e.chart, &e.shape));
        cuts.chain(embosses)
            .filter(|(chart, _)| (chart.centre.point - at.point).norm() <= chart.radius_mm)
            .filter_map(|(chart, shape)| Some(shape.signed_distance(chart.uv_at(skin, at)?)))
            .fold(f32::INFINITY, f32::min)
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
