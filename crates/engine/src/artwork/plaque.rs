//! Plain plaques round numbers and words, so that a pattern or picture leaves them readable.

use mesh::Surface;
use nalgebra::{Point3, Vector3};
use shell::Mark;

/// Width of a letter and the space after it, as a share of its height.
const LETTER: f32 = 0.85;
/// Margin round the letters, as a share of their height.
const MARGIN: f32 = 0.4;
/// How far above and below the skin a plaque reaches, mm: past gap, wall and ribs, but not through the limb.
const REACH_MM: f32 = 25.0;

/// A rectangle on the skin that shows plain plastic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plaque {
    middle: Point3<f32>,
    /// Along the line of writing, up the letters, and away from the skin.
    axes: [Vector3<f32>; 3],
    /// Half its sides along the first two axes, mm.
    half_mm: [f32; 2],
}

/// The plaques of numbers and words on the skin.
#[must_use]
pub fn plaques(skin: &Surface, marks: &[Mark]) -> Vec<Plaque> {
    marks.iter().filter_map(|mark| Plaque::of(skin, mark)).collect()
}

impl Plaque {
    fn of(skin: &Surface, mark: &Mark) -> Option<Self> {
        let hit = shell::skin_point(skin, &mark.at_mm)?;
        let normal = skin.normal_at(&hit).normalize();
        let (around, along) = shell::skin_directions(&normal);
        let (sin, cos) = mark.turn_deg.to_radians().sin_cos();
        let (writing, up) = (around * cos + along * sin, along * cos - around * sin);
        let letters = LETTER * mark.text.chars().count() as f32;
        let half_mm = [letters, 1.0].map(|side| mark.height_mm * (0.5 * side + MARGIN));
        Some(Self { middle: hit.point, axes: [writing, up, normal], half_mm })
    }

    /// Whether an outward-facing triangle overlaps it.
    pub(super) fn meets(&self, corners: &[Point3<f32>; 3]) -> bool {
        let [writing, up, out] = self.axes;
        let normal = (corners[1] - corners[0]).cross(&(corners[2] - corners[0]));
        let near = corners.iter().any(|p| (p - self.middle).dot(&out).abs() < REACH_MM);
        if !near || normal.dot(&out) <= 0.0 {
            return false;
        }
        let flat = corners.map(|p| [(p - self.middle).dot(&writing), (p - self.middle).dot(&up)]);
        // Separating axes: they are apart where all of one lies beyond a side of the other.
        let sides = [0, 1, 2].map(|i| {
            let ([ax, ay], [bx, by]) = (flat[i], flat[(i + 1) % 3]);
            [by - ay, ax - bx]
        });
        !sides.into_iter().chain([[1.0, 0.0], [0.0, 1.0]]).any(|[x, y]| {
            let along = flat.map(|[u, v]| x * u + y * v);
            let reach = x.abs() * self.half_mm[0] + y.abs() * self.half_mm[1];
            along.iter().all(|a| *a > reach) || along.iter().all(|a| *a < -reach)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// On a flat skin a number 10 mm high of two letters has a plaque of 25 × 18 mm.
    #[test]
    fn a_triangle_meets_the_plaque_where_any_of_it_lies_there() {
        let skin: Surface = test_shapes::plane(100, 100, 1.0).build();
        let mark = Mark {
            text: "23".into(),
            height_mm: 10.0,
            relief_mm: 0.8,
            at_mm: Point3::new(50.0, 50.0, 0.0),
            turn_deg: 0.0,
            kind: shell::MarkKind::Relief,
        };
        let plaque = plaques(&skin, std::slice::from_ref(&mark))[0];
        let [wide, high] = [12.5, 9.0];
        let at = |u: f32, v: f32| plaque.middle + plaque.axes[0] * u + plaque.axes[1] * v + plaque.axes[2] * 4.0;
        let small = |u: f32, v: f32| [at(u, v), at(u + 0.2, v), at(u, v + 0.2)];
        for (u, v, inside) in [
            (0.0, 0.0, true),
            (wide - 0.1, 0.0, true),
            (wide + 0.1, 0.0, false),
            (0.0, high - 0.1, true),
            (0.0, -high - 0.4, false),
            (-wide - 0.4, -high - 0.4, false),
        ] {
            assert_eq!(plaque.meets(&small(u, v)), inside, "{u} {v}");
        }
        let across = [at(-90.0, -90.0), at(90.0, -80.0), at(0.0, 90.0)];
        assert!(plaque.meets(&across), "a triangle that has all of it inside");
        let [a, b, c] = small(0.0, 0.0);
        assert!(!plaque.meets(&[a, c, b]), "the inner face has no plaque");
    }
}
