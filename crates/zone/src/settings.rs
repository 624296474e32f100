//! What the user can set about a zone.

use nalgebra::Point3;
use serde::{Deserialize, Serialize};

use crate::ZoneError;
use crate::limits::{self, Limit};

/// All settings of one zone. Points are in limb axes; lengths are millimetres.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ZoneSettings {
    /// What is to be covered, joined in this order.
    pub sources: Vec<Source>,
    /// Moves the edge outward on the skin, or inward when negative. −30 to 60, usually 0.
    pub grow_mm: f32,
    /// Rounds the edge so that it turns no sharper than this, out or in. 0 to 20.
    /// Corners may lose up to half a triangle side more than the circle in them.
    pub smooth_mm: f32,
    /// How far the edge may leave what was drawn to become fair. 0 to 5; 0 keeps it as drawn.
    pub tolerance_mm: f32,
    /// Where the fair edge was pulled by hand, in this order.
    pub pulls: Vec<EdgePull>,
    /// Regions that change the shell or are left out of it.
    pub regions: Vec<ExtraRegion>,
}

impl Default for ZoneSettings {
    fn default() -> Self {
        Self {
            sources: Vec::new(),
            grow_mm: 0.0,
            smooth_mm: 0.0,
            tolerance_mm: 1.5,
            pulls: Vec::new(),
            regions: Vec::new(),
        }
    }
}

/// Where a part of a zone comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Source {
    /// Painted: each dab adds to all before it, in this source and earlier ones, or takes away from it.
    Strokes {
        /// The dabs in the order in which they were painted.
        dabs: Vec<Dab>,
    },
    /// A few points on the skin, joined in turn by the shortest lines over it and closed.
    Outline {
        /// At least three corners.
        corners_mm: Vec<Point3<f32>>,
        /// A point inside; without it the smaller side is taken.
        #[serde(default)]
        inside_mm: Option<Point3<f32>>,
    },
    /// A closed line with many points, such as one drawn on the skin with a pen.
    Line {
        /// Points along the line; the last is joined to the first.
        points_mm: Vec<Point3<f32>>,
        /// A point inside; without it the smaller side is taken.
        #[serde(default)]
        inside_mm: Option<Point3<f32>>,
    },
}

/// One dab of the brush: all skin within `radius_mm` measured over the skin.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dab {
    /// Its middle; the nearest skin point is taken.
    pub at_mm: Point3<f32>,
    /// 0.5 to 200.
    pub radius_mm: f32,
    /// Takes away instead of adding.
    #[serde(default)]
    pub remove: bool,
}

/// A pull at the edge of the zone: it moves straight out or in, and fades to both sides ([`crate::trim`]).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EdgePull {
    /// Where the edge is held; the nearest point of it is taken, at most 25 mm away.
    pub at_mm: Point3<f32>,
    /// How far it moves out of the zone, into it when negative. −60 to 60.
    pub by_mm: f32,
}

/// A region with a kind of its own.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExtraRegion {
    /// What it is for.
    pub kind: RegionKind,
    /// Where it is, joined in this order.
    pub sources: Vec<Source>,
}

/// What an extra region does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
#[non_exhaustive]
pub enum RegionKind {
    /// The shell stands off over a bony point, a wound or a stitch.
    Relief {
        /// Extra gap, 0.2 to 20.
        depth_mm: f32,
        /// Width over which it fades out beyond the region, 0 to 60.
        falloff_mm: f32,
    },
    /// The wall is thicker.
    Reinforcement {
        /// Extra wall, 0.2 to 10.
        extra_mm: f32,
        /// Width over which it fades out beyond the region, 0 to 60.
        falloff_mm: f32,
    },
    /// Nothing may cover it.
    KeepClear {
        /// Distance kept all round, 0 to 30.
        margin_mm: f32,
    },
}

impl RegionKind {
    /// A relief as it starts out: 3 mm deep, gone 10 mm beyond the region.
    pub const RELIEF: Self = Self::Relief { depth_mm: 3.0, falloff_mm: 10.0 };
}

impl ZoneSettings {
    /// Checks every number against its range.
    ///
    /// # Errors
    /// [`ZoneError::OutOfRange`] or [`ZoneError::TooFewPoints`] for the first that is wrong, with its field.
    pub fn check(&self) -> Result<(), ZoneError> {
        within(&limits::GROW, "grow_mm", self.grow_mm)?;
        within(&limits::SMOOTH, "smooth_mm", self.smooth_mm)?;
        within(&limits::TOLERANCE, "tolerance_mm", self.tolerance_mm)?;
        check_sources("sources", &self.sources)?;
        for (i, pull) in self.pulls.iter().enumerate() {
            finite(&format!("pulls[{i}].at_mm"), &pull.at_mm)?;
            within(&limits::PULL, &format!("pulls[{i}].by_mm"), pull.by_mm)?;
        }
        for (i, region) in self.regions.iter().enumerate() {
            let field = |name: &str| format!("regions[{i}].kind.{name}");
            match region.kind {
                RegionKind::Relief { depth_mm, falloff_mm } => {
                    within(&limits::RELIEF_DEPTH, &field("relief.depth_mm"), depth_mm)?;
                    within(&limits::FALLOFF, &field("relief.falloff_mm"), falloff_mm)?;
                }
                RegionKind::Reinforcement { extra_mm, falloff_mm } => {
                    within(&limits::REINFORCEMENT, &field("reinforcement.extra_mm"), extra_mm)?;
                    within(&limits::FALLOFF, &field("reinforcement.falloff_mm"), falloff_mm)?;
                }
                RegionKind::KeepClear { margin_mm } => {
                    within(&limits::MARGIN, &field("keep-clear.margin_mm"), margin_mm)?;
                }
            }
            check_sources(&format!("regions[{i}].sources"), &region.sources)?;
        }
        Ok(())
    }
}

fn check_sources(field: &str, sources: &[Source]) -> Result<(), ZoneError> {
    for (i, source) in sources.iter().enumerate() {
        match source {
            Source::Strokes { dabs } => {
                for (k, dab) in dabs.iter().enumerate() {
                    let field = format!("{field}[{i}].strokes.dabs[{k}]");
                    finite(&format!("{field}.at_mm"), &dab.at_mm)?;
                    within(&limits::DAB_RADIUS, &format!("{field}.radius_mm"), dab.radius_mm)?;
                }
            }
            Source::Outline { corners_mm, inside_mm } => {
                check_line(&format!("{field}[{i}].outline.corners_mm"), corners_mm, *inside_mm)?;
            }
            Source::Line { points_mm, inside_mm } => {
                check_line(&format!("{field}[{i}].line.points_mm"), points_mm, *inside_mm)?;
            }
        }
    }
    Ok(())
}

fn check_line(field: &str, points: &[Point3<f32>], inside: Option<Point3<f32>>) -> Result<(), ZoneError> {
    for (k, p) in points.iter().enumerate() {
        finite(&format!("{field}[{k}]"), p)?;
    }
    if let Some(p) = inside {
        finite(&format!("inside_mm beside {field}"), &p)?;
    }
    if points.len() < 3 {
        return Err(ZoneError::TooFewPoints { field: field.to_owned(), found: points.len() });
    }
    Ok(())
}

fn finite(field: &str, p: &Point3<f32>) -> Result<(), ZoneError> {
    for value in p.iter() {
        within(&limits::COORDINATE, field, *value)?;
    }
    Ok(())
}

fn within(limit: &Limit, field: &str, value: f32) -> Result<(), ZoneError> {
    if limit.allows(value) {
        return Ok(());
    }
    Err(ZoneError::OutOfRange { field: field.to_owned(), value, low: limit.least, high: limit.most })
}
