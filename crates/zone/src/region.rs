//! Regions on the skin, as the shell needs them.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use mesh::{Job, Surface};
use nalgebra::{Point3, Vector3};

use crate::Trim;
use crate::map::{MapError, ZoneMap};

/// A part of the skin with its edge.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Region {
    /// For each vertex of the limb the geodesic distance on the skin to the nearest edge of the region, mm:
    /// positive inside, negative outside. Exact within 40 mm of the edge; beyond it at least that far.
    pub distance_mm: Vec<f32>,
    /// The edge as closed lines of skin points in limb axes, inside on the left seen from outside the skin.
    pub edges: Vec<Vec<Point3<f32>>>,
}

/// A region that changes a measure of the shell: the stand-off of a relief or the extra wall of a reinforcement.
#[derive(Debug, Clone, PartialEq)]
pub struct Bump {
    /// Where.
    pub region: Region,
    /// Full change inside the region, mm.
    pub height_mm: f32,
    /// Width over which the change is to fade out beyond the edge, mm; see [`Bump::fades_over_mm`].
    pub falloff_mm: f32,
}

impl Bump {
    /// Width over which the change does fade out: at least its height, as a steeper side would tear the wall.
    #[must_use]
    pub fn fades_over_mm(&self) -> f32 {
        self.falloff_mm.max(self.height_mm.abs())
    }
}

/// All regions of one guard on one limb.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Zone {
    /// What is to be covered, keep-clear regions already taken out.
    pub covered: Region,
    /// Stand-offs over bone, wounds and stitches.
    pub reliefs: Vec<Bump>,
    /// Spots with a thicker wall.
    pub reinforcements: Vec<Bump>,
    /// How its fair edges lie to those that were drawn; nothing where they are as drawn.
    pub trim: Option<Trim>,
    /// What was changed or assumed while making it, in words for the user.
    pub notices: Vec<String>,
    /// Its map, once it was asked for.
    pub laid_flat: LaidFlat,
}

/// The maps of a zone, each made when it is first asked for and kept; two zones do not differ by them.
#[derive(Debug, Clone, Default)]
pub struct LaidFlat(Arc<Mutex<Maps>>);

#[derive(Debug, Default)]
struct Maps {
    skin: Option<Arc<ZoneMap>>,
    /// Of the face at a height over the skin; `None` where that is folded.
    over: Option<(f32, Option<Arc<ZoneMap>>)>,
}

impl PartialEq for LaidFlat {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Zone {
    /// The covered skin laid flat ([`ZoneMap::make`]). `skin` must be the one that the zone was made on; after a change
    /// of [`Zone::covered`] set [`Zone::laid_flat`] to its default.
    ///
    /// # Errors
    /// As [`ZoneMap::make`].
    pub fn map(&self, skin: &Surface, job: &Job) -> Result<Arc<ZoneMap>, MapError> {
        if let Some(map) = self.kept().skin.as_ref() {
            return Ok(map.clone());
        }
        let map = Arc::new(ZoneMap::make(skin, self, job)?);
        self.kept().skin = Some(map.clone());
        Ok(map)
    }

    /// The face that lies `height_mm` over the covered skin, laid flat ([`ZoneMap::make_over`]); the skin itself where
    /// that face is folded. `ways` must be the same for each call.
    ///
    /// # Errors
    /// As [`ZoneMap::make`].
    pub fn map_over(
        &self,
        skin: &Surface,
        ways: &[Vector3<f32>],
        height_mm: f32,
        job: &Job,
    ) -> Result<Arc<ZoneMap>, MapError> {
        let known = self.kept().over.as_ref().filter(|(height, _)| *height == height_mm).map(|(_, map)| map.clone());
        let over = match known {
            Some(over) => over,
            None => {
                let over = ZoneMap::make_over(skin, self, ways, height_mm, job)?.map(Arc::new);
                self.kept().over = Some((height_mm, over.clone()));
                over
            }
        };
        over.map_or_else(|| self.map(skin, job), Ok)
    }

    fn kept(&self) -> MutexGuard<'_, Maps> {
        self.laid_flat.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
