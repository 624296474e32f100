//! Laying a picture on the outer face: which triangles face outward, and where in the picture their corners are.

use locker::{Artwork, Laid};
use mesh::{Cancelled, Job, Surface};
use nalgebra::Point3;
use print::picture::Corners;

use super::plaque::Plaque;

/// Least cosine between the normals of a triangle of the outer face and of the skin below it.
const OUTWARD: f32 = 0.35;
/// A picture projected from the front falls on triangles whose normals have at least this cosine with it.
const FRONTAL: f32 = 0.12;

/// The triangles of a shell, those of the outer face apart.
#[derive(Debug, Clone, Default)]
pub struct Faces {
    outer: Vec<u32>,
    rest: Vec<u32>,
}

/// Tells the outer face of a shell from its inside and edges, by the normal of the skin below.
///
/// # Errors
/// Only that the work was stopped.
pub fn outer_faces(shell: &mesh::Mesh, skin: &Surface, job: &Job) -> Result<Faces, Cancelled> {
    let is_outer = job.each(shell.triangles.len(), |t| {
        let [a, b, c] = shell.corners(t);
        let middle = Point3::from((a.coords + b.coords + c.coords) / 3.0);
        let own = (b - a).cross(&(c - a)).normalize();
        skin.nearest(&middle, None).is_some_and(|hit| own.dot(&skin.normal_at(&hit).normalize()) > OUTWARD)
    })?;
    let mut faces = Faces::default();
    for (triangle, outer) in (0_u32..).zip(is_outer) {
        if outer { faces.outer.push(triangle) } else { faces.rest.push(triangle) }
    }
    Ok(faces)
}

/// A shell's triangles with and without the picture.
#[derive(Debug, Clone, Default)]
pub struct TextureMap {
    /// Those on which it falls, each with the places of its corners in the picture.
    pub painted: Vec<(u32, Corners)>,
    /// All others.
    pub bare: Vec<u32>,
}

/// Where a picture of this `aspect` (height over width) falls on the outer face; plaques stay plain.
#[must_use]
pub fn texture_map(
    shell: &mesh::Mesh,
    faces: &Faces,
    artwork: &Artwork,
    aspect: f32,
    plaques: &[Plaque],
) -> TextureMap {
    let place = Place::new(shell, &faces.outer, artwork, aspect);
    let mut mapped = TextureMap { painted: Vec::new(), bare: faces.rest.clone() };
    for &triangle in &faces.outer {
        let corners = shell.triangles[triangle as usize].map(|v| shell.points[v as usize]);
        if place.reaches(&corners) && !plaques.iter().any(|plaque| plaque.meets(&corners)) {
            mapped.painted.push((triangle, place.corners(&corners)));
        } else {
            mapped.bare.push(triangle);
        }
    }
    mapped
}

type Triangle = [Point3<f32>; 3];

/// The map from limb axes to the picture.
struct Place {
    laid: Laid,
    front: [f32; 2],
    middle: Point3<f32>,
    /// Mean distance of the outer face from the limb's axis, mm.
    radius_mm: f32,
    size_mm: [f32; 2],
    shift_mm: [f32; 2],
}

impl Place {
    fn new(shell: &mesh::Mesh, outer: &[u32], artwork: &Artwork, aspect: f32) -> Self {
        let middle = shell.bounds().map_or_else(Point3::origin, |(low, high)| nalgebra::center(&low, &high));
        let (sin, cos) = artwork.front_deg.to_radians().sin_cos();
        let first = |t: &u32| shell.points[shell.triangles[*t as usize][0] as usize];
        let radius_mm = outer.iter().map(|t| first(t).x.hypot(first(t).y)).sum::<f32>() / outer.len().max(1) as f32;
        Self {
            laid: artwork.laid,
            front: [cos, sin],
            middle,
            radius_mm: radius_mm.max(1.0),
            size_mm: [artwork.width_mm, artwork.width_mm * aspect],
            shift_mm: artwork.shift_mm,
        }
    }

    /// Components of a direction toward the front and to the right of it.
    fn toward(&self, x: f32, y: f32) -> [f32; 2] {
        let [cos, sin] = self.front;
        [x * cos + y * sin, y * cos - x * sin]
    }

    /// Whether the picture falls on a triangle.
    fn reaches(&self, [a, b, c]: &Triangle) -> bool {
        let normal = (b - a).cross(&(c - a)).normalize();
        self.laid == Laid::Round || self.toward(normal.x, normal.y)[0] > FRONTAL
    }

    /// Where the corners of a triangle are in the picture: 0 to 1 to the right and down.
    fn corners(&self, corners: &Triangle) -> Corners {
        let mut right_mm = corners.map(|p| match self.laid {
            Laid::Flat => self.toward(p.x - self.middle.x, p.y - self.middle.y)[1],
            Laid::Round => {
                let [ahead, right] = self.toward(p.x, p.y);
                right.atan2(ahead) * self.radius_mm
            }
        });
        if self.laid == Laid::Round {
            // A triangle across the seam at the back continues past it.
            let turn_mm = std::f32::consts::TAU * self.radius_mm;
            for k in 1..3 {
                right_mm[k] -= turn_mm * ((right_mm[k] - right_mm[0]) / turn_mm).round();
            }
        }
        [0, 1, 2].map(|k| {
            let up_mm = corners[k].z - self.middle.z;
            let u = (right_mm[k] - self.shift_mm[0]) / self.size_mm[0] + 0.5;
            let v = 0.5 - (up_mm - self.shift_mm[1]) / self.size_mm[1];
            [u, v]
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use locker::{Art, PatternKind};

    /// An open tube of radius 50 round z, 100 high, facing outward.
    fn tube(around: u32) -> mesh::Mesh {
        test_shapes::tube(50.0, [-50.0, 50.0], around, 2).build()
    }

    fn artwork(laid: Laid, front_deg: f32) -> Artwork {
        let art = Art::Pattern { kind: PatternKind::Dots, colour: [0; 3] };
        Artwork { art, laid, front_deg, width_mm: 20.0, shift_mm: [0.0, 0.0] }
    }

    #[test]
    fn round_the_limb_the_picture_is_as_wide_as_its_arc_and_has_no_jump_at_the_back() {
        let tube = tube(360);
        let outer: Vec<u32> = (0..720).collect();
        let place = Place::new(&tube, &outer, &artwork(Laid::Round, 90.0), 2.0);
        let on_tube = |deg: f32, z: f32| Point3::new(50.0 * deg.to_radians().cos(), 50.0 * deg.to_radians().sin(), z);
        let uv = place.corners(&[on_tube(90.0, 0.0), on_tube(100.0, 20.0), on_tube(80.0, -20.0)]);
        // The front is the middle; 10° of 50 mm are 8.727 mm; the picture is 20 mm wide and 40 mm high.
        assert!((uv[0][0] - 0.5).abs() < 1e-4 && (uv[0][1] - 0.5).abs() < 1e-4, "{uv:?}");
        assert!((uv[1][0] - 0.5 - 8.727 / 20.0).abs() < 1e-3 && uv[1][1].abs() < 1e-4, "{uv:?}");
        let back = place.corners(&[on_tube(269.0, 0.0), on_tube(271.0, 0.0), on_tube(270.0, 1.0)]);
        let spread = back.iter().map(|uv| uv[0]).fold(f32::NEG_INFINITY, f32::max)
            - back.iter().map(|uv| uv[0]).fold(f32::INFINITY, f32::min);
        assert!((spread - 1.745 / 20.0).abs() < 1e-3, "{spread}");
    }

    #[test]
    fn thrown_flat_it_falls_on_the_front_only() {
        let tube = tube(360);
        let outer: Vec<u32> = (0..720).collect();
        let faces = Faces { outer, rest: Vec::new() };
        let mapped = texture_map(&tube, &faces, &artwork(Laid::Flat, 0.0), 1.0, &[]);
        let bare = mapped.bare;
        assert_eq!(bare.len() + mapped.painted.len(), 720);
        // Cosine above 0.12: within 83.1° of the front on either side.
        let expected = 720.0 * (1.0 - 2.0 * 83.108 / 360.0);
        assert!((bare.len() as f32 - expected).abs() <= 4.0, "{} {expected}", bare.len());
    }

    #[test]
    fn the_outer_face_of_a_wall_is_told_from_its_inside() {
        let skin = Surface::new(tube(90));
        let grown = |by: f32| -> Vec<_> {
            tube(90).points.iter().map(|p| Point3::new(p.x * by, p.y * by, 0.5 * p.z)).collect()
        };
        let mut points = grown(1.1);
        points.extend(grown(1.2));
        let mut triangles: Vec<[u32; 3]> = tube(90).triangles.iter().map(|[a, b, c]| [*a, *c, *b]).collect();
        triangles.extend(tube(90).triangles.iter().map(|t| t.map(|v| v + 180)));
        let faces = outer_faces(&mesh::Mesh::new(points, triangles), &skin, &Job::silent()).unwrap();
        assert_eq!(faces.rest, (0..180).collect::<Vec<u32>>());
        assert_eq!(faces.outer, (180..360).collect::<Vec<u32>>());
    }
}
