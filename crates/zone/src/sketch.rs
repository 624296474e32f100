//! What is marked, quickly, even where no zone can be made of it yet.

use mesh::{Job, Surface};

use crate::region_field::RegionField;
use crate::source::join;
use crate::{RegionKind, Source, ZoneError, ZoneSettings};

/// What is marked, to be shown while it is being marked.
///
/// Positive inside; the sign and the zero line are right, the values further off are only roughly distances. The edge
/// is not smoothed and not kept off the ends of the limb; nothing is refused for being too thin or in pieces.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sketch {
    /// For each vertex how deep it lies in what is covered, mm.
    pub covered_mm: Vec<f32>,
    /// The same for each extra region, in the order of the settings.
    pub regions_mm: Vec<Vec<f32>>,
}

/// Joins what `settings` mark on `skin`.
///
/// # Errors
/// A number is out of range, a line cannot be laid on the skin, or the work was stopped.
pub fn sketch(skin: &Surface, settings: &ZoneSettings, job: &Job) -> Result<Sketch, ZoneError> {
    settings.check()?;
    if skin.mesh().triangles.is_empty() {
        return Err(ZoneError::NoSkin);
    }
    job.step("showing what is marked", 0.0)?;
    let mut covered = marked(skin, &settings.sources, "zone", job)?;
    covered.grow(skin, settings.grow_mm, job)?;
    let mut regions_mm = Vec::with_capacity(settings.regions.len());
    for (i, region) in settings.regions.iter().enumerate() {
        let shape = marked(skin, &region.sources, &format!("region {}", i + 1), job)?;
        if let RegionKind::KeepClear { margin_mm } = region.kind {
            let mut clear = shape.clone();
            clear.grow(skin, margin_mm, job)?;
            covered.keep(clear.field.iter().map(|d| -d));
        }
        regions_mm.push(shape.field);
    }
    Ok(Sketch { covered_mm: covered.field, regions_mm })
}

/// All sources joined; an empty region where they mark nothing.
fn marked(skin: &Surface, sources: &[Source], what: &str, job: &Job) -> Result<RegionField, ZoneError> {
    match join(skin, sources, what, &mut Vec::new(), job) {
        Err(ZoneError::Empty { .. }) => Ok(RegionField::nothing(skin)),
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::Point3;

    use super::*;
    use crate::{Dab, ExtraRegion};

    /// A flat skin of 100 × 100 mm with a vertex every millimetre.
    fn flat() -> Surface {
        test_shapes::plane(100, 100, 1.0).build()
    }

    fn dab(x: f32, y: f32, radius_mm: f32, remove: bool) -> Dab {
        Dab { at_mm: Point3::new(x, y, 0.0), radius_mm, remove }
    }

    #[test]
    fn pieces_and_empty_regions_are_shown_and_clear_skin_is_left_out() {
        let skin = flat();
        let strokes = |dabs: Vec<Dab>| vec![Source::Strokes { dabs }];
        let settings = ZoneSettings {
            sources: strokes(vec![dab(20.0, 50.0, 10.0, false), dab(70.0, 50.0, 20.0, false)]),
            grow_mm: 2.0,
            regions: vec![
                ExtraRegion {
                    kind: RegionKind::Relief { depth_mm: 2.0, falloff_mm: 5.0 },
                    sources: strokes(vec![dab(20.0, 50.0, 5.0, true)]),
                },
                ExtraRegion {
                    kind: RegionKind::KeepClear { margin_mm: 3.0 },
                    sources: strokes(vec![dab(70.0, 50.0, 5.0, false)]),
                },
            ],
            ..ZoneSettings::default()
        };
        assert!(crate::make(&skin, &settings, &Job::silent()).is_err(), "two pieces are no zone");
        let sketch = sketch(&skin, &settings, &Job::silent()).unwrap();
        for (v, p) in skin.mesh().points.iter().enumerate() {
            let from = |x: f32, y: f32| (p - Point3::new(x, y, 0.0)).norm();
            // Discs grown by 2 mm, and a disc of 5 + 3 mm left out of the second.
            let depth = (12.0 - from(20.0, 50.0)).max((22.0 - from(70.0, 50.0)).min(from(70.0, 50.0) - 8.0));
            if depth.abs() > 0.3 {
                assert_eq!(sketch.covered_mm[v] > 0.0, depth > 0.0, "covered at {p:?}");
            }
            assert!(sketch.regions_mm[0][v] < 0.0, "only erased, so nothing is in it");
            let clear = 5.0 - from(70.0, 50.0);
            if clear.abs() > 0.3 {
                assert_eq!(sketch.regions_mm[1][v] > 0.0, clear > 0.0, "clear at {p:?}");
            }
        }
    }
}
