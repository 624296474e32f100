//! The part as it goes into a print file.

use crate::Error;
use mesh::Mesh;
use nalgebra::Point3;

/// The part moved so that its box starts at the origin: all coordinates positive, the lowest point at z = 0.
///
/// STL asks for the positive octant and slicers put parts on the bed that way; directions stay those of the limb.
/// Coordinates are rounded once, to f32, so prove the mesh returned here and give the same one to
/// [`crate::stl`] and [`crate::threemf`]: both write what they get, bit for bit.
#[must_use]
pub fn at_origin(part: &Mesh) -> Mesh {
    let low = part.bounds().map_or_else(Point3::origin, |(low, _)| low);
    Mesh { points: part.points.iter().map(|p| Point3::from(p - low)).collect(), ..part.clone() }
}

/// A second body moved as [`at_origin`] moves the part that it belongs to.
#[must_use]
pub fn beside_part(body: &Mesh, part: &Mesh) -> Mesh {
    let low = part.bounds().map_or_else(Point3::origin, |(low, _)| low);
    Mesh { points: body.points.iter().map(|p| Point3::from(p - low)).collect(), ..body.clone() }
}

/// Refuses a part that no print file can hold.
///
/// # Errors
/// No triangles, too many of them, a triangle that names a missing point, or a coordinate that is not a number.
pub(crate) fn check(part: &Mesh) -> Result<(), Error> {
    if part.triangles.is_empty() {
        return Err(Error::Empty);
    }
    if u32::try_from(part.triangles.len()).is_err() {
        return Err(Error::TooBig { triangles: part.triangles.len() });
    }
    let points = part.points.len();
    for (triangle, corners) in part.triangles.iter().enumerate() {
        if let Some(&point) = corners.iter().find(|&&v| v as usize >= points) {
            return Err(Error::NoSuchPoint { triangle, point, points });
        }
    }
    match part.points.iter().position(|p| !p.iter().all(|x| x.is_finite())) {
        Some(point) => Err(Error::NotFinite { point }),
        None => Ok(()),
    }
}

#[cfg(test)]
pub(crate) mod samples {
    use super::*;

    /// A closed ring of `around` by `across` quads; its volume tends to 2π²·40·9².
    pub fn torus(around: u32, across: u32) -> Mesh {
        test_shapes::torus(40.0, 9.0, around, across).build()
    }

    #[test]
    fn the_part_stands_in_the_positive_octant_with_its_shape_kept() {
        let ring = torus(60, 24);
        let moved = at_origin(&ring);
        let (low, high) = moved.bounds().unwrap();
        assert_eq!(low, Point3::origin());
        assert!((high.x - 98.0).abs() < 1e-3 && (high.z - 18.0).abs() < 1e-3, "{high}");
        assert!((moved.volume_mm3() / ring.volume_mm3() - 1.0).abs() < 1e-6);
    }

    #[test]
    fn broken_parts_are_refused_with_the_place() {
        let mut part = torus(8, 6);
        part.points[5].y = f32::NAN;
        assert!(check(&part).unwrap_err().to_string().contains("Point 5 "));
        part.triangles[7][1] = 999;
        assert!(check(&part).unwrap_err().to_string().contains("Triangle 7 "));
        assert!(matches!(check(&Mesh::default()), Err(Error::Empty)));
    }
}
