//! What cleaning is asked to do.

use nalgebra::{Point3, Vector3};
use serde::{Deserialize, Serialize};

use crate::{ScanError, Unit};

/// A part of the scan to keep, in the scan file's own coordinates and unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Crop {
    /// Keeps the side of a plane.
    Plane {
        /// A point of the plane.
        point: [f64; 3],
        /// Direction towards what is kept, of any length but zero.
        keep: [f64; 3],
    },
    /// Keeps the inside of a box along the file's axes.
    Box {
        /// Lowest corner.
        low: [f64; 3],
        /// Highest corner.
        high: [f64; 3],
    },
}

impl Crop {
    /// Whether a point of the scan lies in the part that is kept.
    pub(crate) fn holds(&self, p: &Point3<f64>) -> bool {
        match self {
            Self::Plane { point, keep } => (p - Point3::from(*point)).dot(&Vector3::from(*keep)) >= 0.0,
            Self::Box { low, high } => (0..3).all(|i| (low[i]..=high[i]).contains(&p[i])),
        }
    }

    /// For a sentence.
    fn said(&self) -> String {
        let numbers = |of: &[f64; 3]| of.map(|x| plain_json::number(&x.to_string())).join(", ");
        match self {
            Self::Plane { point, keep } => format!("a plane at ({}) in direction ({})", numbers(point), numbers(keep)),
            Self::Box { low, high } => format!("a box from ({}) to ({})", numbers(low), numbers(high)),
        }
    }
}

/// What cleaning does; every step can be switched off but the dropping of outliers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CleanSettings {
    /// Unit of the file. Default: none, that is, guessed from the size of the limb.
    pub unit: Option<Unit>,
    /// Parts to keep, applied one after another. Default: none.
    pub crop: Vec<Crop>,
    /// Points closer together than this are welded, 0 to 1 mm; never more than a tenth of the median edge. 0 welds
    /// equal points only, `None` nothing. Default 0.01 mm.
    pub weld_tolerance_mm: Option<f32>,
    /// Drop bad and duplicate triangles, make the surface manifold, turn everything outward. Default: yes.
    pub mend: bool,
    /// Remove a table, floor or wall that the limb stood on or leant against. Default: yes.
    pub remove_table_plane: bool,
    /// Keep the largest curved connected component only. Default: yes.
    pub drop_small_pieces: bool,
    /// How strongly scanner noise is removed, 0 to 3: 1 aims at a quarter of the noise found, 0 is off. Surfaces with
    /// less than 0.02 mm are left alone. Default 1.
    pub smooth: f64,
    /// Fill holes whose rim is at most this long, 0 to 1000 mm; 0 is off. The limb's own cut ends stay open. Default
    /// 150 mm.
    pub fill_holes_mm: f64,
    /// Split edges longer than this, 0.2 to 20 mm; `None` is off. Default 1.5 mm.
    pub longest_edge_mm: Option<f32>,
    /// Even out waves of the skin shorter than this, 0 to 20 mm, by at most 0.3 mm; 0 is off. Default 8 mm.
    pub roughness_mm: f64,
    /// Turn the long axis to z with the end nearer the body up; otherwise the limb is only moved to the origin.
    /// Default: yes.
    pub upright: bool,
    /// Swap left and right. Default: no.
    pub mirror: bool,
}

impl Default for CleanSettings {
    fn default() -> Self {
        Self {
            unit: None,
            crop: Vec::new(),
            weld_tolerance_mm: Some(0.01),
            mend: true,
            remove_table_plane: true,
            drop_small_pieces: true,
            smooth: 1.0,
            fill_holes_mm: 150.0,
            longest_edge_mm: Some(1.5),
            roughness_mm: 8.0,
            upright: true,
            mirror: false,
        }
    }
}

impl CleanSettings {
    /// Whether every number is in its range.
    ///
    /// # Errors
    /// [`ScanError::Setting`] names the field and what is allowed.
    pub fn check(&self) -> Result<(), ScanError> {
        let within = |field, value: f64, low: f64, high: f64, allowed| {
            // False for NaN as well.
            if (low..=high).contains(&value) {
                Ok(())
            } else {
                Err(ScanError::Setting { field, value: plain_json::outside(value, low, high, 1), allowed })
            }
        };
        if let Some(mm) = self.weld_tolerance_mm {
            within("weld_tolerance_mm", mm.into(), 0.0, 1.0, "between 0 and 1 mm, or left out")?;
        }
        if let Some(mm) = self.longest_edge_mm {
            within("longest_edge_mm", mm.into(), 0.2, 20.0, "between 0.2 and 20 mm, or left out")?;
        }
        within("smooth", self.smooth, 0.0, 3.0, "between 0 (off) and 3")?;
        within("roughness_mm", self.roughness_mm, 0.0, 20.0, "between 0 (off) and 20 mm")?;
        within("fill_holes_mm", self.fill_holes_mm, 0.0, 1000.0, "between 0 (off) and 1000 mm")?;
        for crop in &self.crop {
            let (numbers, sound) = match crop {
                Crop::Plane { point, keep } => ([*point, *keep], keep.iter().any(|x| *x != 0.0)),
                Crop::Box { low, high } => ([*low, *high], (0..3).all(|i| low[i] < high[i])),
            };
            if !sound || numbers.iter().flatten().any(|x| !x.is_finite()) {
                return Err(ScanError::Setting {
                    field: "crop",
                    value: crop.said(),
                    allowed: "a plane with a direction other than zero, or a box with each low below its high",
                });
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_are_read_with_defaults_and_checked() {
        let read = |text: &str| serde_json::from_str::<CleanSettings>(text);
        assert_eq!(read("{}").unwrap(), CleanSettings::default());
        let some = read(r#"{"unit":"inch","crop":[{"plane":{"point":[0,0,0],"keep":[0,0,1]}}]}"#).unwrap();
        assert_eq!(some.unit, Some(Unit::Inch));
        assert!(some.check().is_ok());
        assert!(read(r#"{"smoth":1}"#).is_err());
        let wrong = read(r#"{"longest_edge_mm":0}"#).unwrap().check().unwrap_err().to_string();
        assert_eq!(wrong, "Cleaning setting 'longest_edge_mm' is 0, but must be between 0.2 and 20 mm, or left out.");
        let wrong = |text: &str| read(text).unwrap().check().unwrap_err().to_string();
        assert!(wrong(r#"{"smooth":16.642496948242187}"#).contains("is 16.7, but must be between 0 (off) and 3"));
        let flat = wrong(r#"{"crop":[{"box":{"low":[0,0.123456789012,0],"high":[1,0,1]}}]}"#);
        assert!(flat.contains("is a box from (0, 0.123, 0) to (1, 0, 1), but must be"), "{flat}");
    }
}
