//! The drawing board: the zone's map, on which what repeats or comes in pairs is laid out as on paper.
//!
//! Places on it are millimetres to the right of the guard's middle line and up along the limb. Shapes are not drawn on
//! the board but in charts of the skin round their middles, so that they have their true size where the map has not.

mod edge_curves;

use std::sync::Arc;

use mesh::{Hit, Job, Surface};
use nalgebra::{Point2, Point3, Vector3};
use zone::Zone;
use zone::map::{MapError, ZoneMap};

pub use self::edge_curves::EdgeCurves;
use crate::ShellError;
use crate::pattern::{Site, TangentFrame};

/// An outline whose halves differ by less than this share of the zone is taken for symmetric, and so is what is laid out
/// in it.
const ALIKE: f64 = 0.08;

/// The zone laid flat, and how to get from there to the skin.
#[derive(Debug)]
pub struct Board<'a> {
    skin: &'a Surface,
    map: Arc<ZoneMap>,
    /// Whether what is laid out is to be its own mirror image.
    pub mirrored: bool,
    /// How the upper and the lower edge bend.
    pub curves: EdgeCurves,
}

impl<'a> Board<'a> {
    /// The board of a zone. `setting` is named where there is none.
    ///
    /// # Errors
    /// [`ShellError::CannotBuild`] where the covered skin cannot be laid flat.
    pub fn new(skin: &'a Surface, zone: &Zone, setting: &str, job: &Job) -> Result<Self, ShellError> {
        Self::of(skin, zone, zone.map(skin, job), setting)
    }

    /// The board of the face at a height over the skin ([`Zone::map_over`]), on which lengths are those there.
    ///
    /// # Errors
    /// As [`Board::new`].
    pub fn over(
        skin: &'a Surface,
        zone: &Zone,
        ways: &[Vector3<f32>],
        height_mm: f32,
        setting: &str,
        job: &Job,
    ) -> Result<Self, ShellError> {
        Self::of(skin, zone, zone.map_over(skin, ways, height_mm, job), setting)
    }

    fn of(
        skin: &'a Surface,
        zone: &Zone,
        map: Result<Arc<ZoneMap>, MapError>,
        setting: &str,
    ) -> Result<Self, ShellError> {
        let map = map.map_err(|error| match error {
            MapError::Cancelled(stop) => stop.into(),
            other => ShellError::CannotBuild {
                setting: setting.to_owned(),
                place: Point3::origin(),
                what: other.to_string(),
                cure: "Clean the scan or draw the zone smaller.".to_owned(),
            },
        })?;
        let curves = EdgeCurves::of(&map.level(&zone.covered.distance_mm));
        let mirrored = map.asymmetry() < ALIKE;
        Ok(Self { skin, map, mirrored, curves })
    }

    /// What lies at a place; `None` off the map. The first axis of the site is to the right on the board.
    pub fn site(&self, place: Point2<f64>) -> Option<Site> {
        let local = self.map.at(&place)?;
        let frame = TangentFrame::new(self.skin, local.hit);
        // Of the two axes of the map the one to the right is kept square to the mean of both.
        let [across, up] = [local.across, local.up].map(|way| [way.dot(&frame.around), way.dot(&frame.along)]);
        let axis = [across[0] + up[1], across[1] - up[0]];
        let length = axis[0].hypot(axis[1]);
        let axis = if length > 1e-6 { axis.map(|x| x / length) } else { [1.0, 0.0] };
        Some(Site { frame, axis })
    }

    /// The edge of the zone, in pieces.
    pub fn edge(&self, zone: &Zone) -> Vec<[Point2<f64>; 2]> {
        self.map.level(&zone.covered.distance_mm)
    }

    /// The skin point at a place; `None` off the map.
    pub fn hit(&self, place: Point2<f64>) -> Option<Hit> {
        self.map.at(&place).map(|local| local.hit)
    }

    /// Millimetres on the skin for one upwards on the board.
    pub fn up_scale(&self, place: Point2<f64>) -> f32 {
        self.map.at(&place).map_or(1.0, |local| local.up.norm())
    }

    /// Where a skin point lies; `None` off the map.
    pub fn place_of(&self, hit: &Hit) -> Option<Point2<f64>> {
        self.map.flat_of(hit)
    }

    /// The place on the other side of the middle line.
    pub fn mirror(place: Point2<f64>) -> Point2<f64> {
        Point2::new(-place.x, place.y)
    }

    /// The least and greatest coordinates of the map.
    pub fn bounds(&self) -> (Point2<f64>, Point2<f64>) {
        let start = (Point2::new(f64::INFINITY, f64::INFINITY), Point2::new(f64::NEG_INFINITY, f64::NEG_INFINITY));
        self.map.points().fold(start, |(low, high), (_, p)| (low.inf(&p), high.sup(&p)))
    }

    /// How much longer lengths are on the map than on the face that it was made of, as a share, in all but the most stretched tenth of it.
    pub fn slack(&self) -> f64 {
        self.map.most_within(0.9) - 1.0
    }
}
