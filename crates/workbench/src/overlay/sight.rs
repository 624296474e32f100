//! From places on the limb to places in the window, and back along a line of sight.

use bevy::prelude::{Mat4, Vec3};
use bevy_egui::egui::{Pos2, Rect, pos2};
use mesh::Surface;
use nalgebra::{Point3, Vector3};

use crate::state::SIGHT_MM;

/// Skin this much nearer than a place hides it, mm.
const HIDES_MM: f32 = 6.0;

/// How the stage is seen in this frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sight {
    /// From the stage to clip space, depth reversed.
    pub clip_from_stage: Mat4,
    /// Where the camera stands, mm.
    pub eye: Vec3,
    /// Where the stage is in the window.
    pub field: Rect,
}

impl Sight {
    /// Where a place is seen in the window; none behind the camera.
    pub fn see(&self, place: &Point3<f32>) -> Option<Pos2> {
        let clip = self.clip_from_stage * Vec3::new(place.x, place.y, place.z).extend(1.0);
        (clip.w > 1e-3).then(|| {
            let (x, y) = (clip.x / clip.w, clip.y / clip.w);
            pos2(
                self.field.left() + 0.5 * (x + 1.0) * self.field.width(),
                self.field.top() + 0.5 * (1.0 - y) * self.field.height(),
            )
        })
    }

    /// Whether a surface with that normal at that place faces the camera.
    pub fn faces(&self, place: &Point3<f32>, normal: &Vector3<f32>) -> bool {
        let to_eye = Point3::new(self.eye.x, self.eye.y, self.eye.z) - place;
        normal.dot(&to_eye) > 0.0
    }

    /// Whether the limb itself hides a place.
    pub fn hidden(&self, skin: &Surface, place: &Point3<f32>) -> bool {
        let eye = Point3::new(self.eye.x, self.eye.y, self.eye.z);
        let way = place - eye;
        skin.ray(&eye, &way, SIGHT_MM).is_some_and(|hit| (hit.point - eye).norm() + HIDES_MM < way.norm())
    }

    /// The line of sight through a place in the window: from the camera, and which way.
    pub fn through(&self, at: Pos2) -> (Point3<f32>, Vector3<f32>) {
        let x = 2.0 * (at.x - self.field.left()) / self.field.width().max(1.0) - 1.0;
        let y = 1.0 - 2.0 * (at.y - self.field.top()) / self.field.height().max(1.0);
        let near = self.clip_from_stage.inverse().project_point3(Vec3::new(x, y, 1.0));
        let way = near - self.eye;
        (Point3::new(self.eye.x, self.eye.y, self.eye.z), Vector3::new(way.x, way.y, way.z))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bevy::prelude::Transform;
    use bevy_egui::egui::vec2;

    #[test]
    fn a_line_of_sight_goes_through_what_is_seen() {
        let eye = Vec3::new(300.0, -420.0, 90.0);
        let stand = Transform::from_translation(eye).looking_at(Vec3::new(10.0, 5.0, -20.0), Vec3::Z);
        let lens = Mat4::perspective_infinite_reverse_rh(0.5, 1.6, 5.0);
        let field = Rect::from_min_size(pos2(0.0, 56.0), vec2(932.0, 640.0));
        let sight = Sight { clip_from_stage: lens * stand.to_matrix().inverse(), eye, field };
        let middle = sight.see(&Point3::new(10.0, 5.0, -20.0)).unwrap();
        assert!((middle - field.center()).length() < 0.1, "{middle:?}");
        for place in [Point3::new(40.0, 10.0, 30.0), Point3::new(-30.0, 0.0, -60.0)] {
            let (from, way) = sight.through(sight.see(&place).unwrap());
            let off = (place - from).cross(&way.normalize()).norm();
            assert!(off < 0.05, "{off}");
            assert!(way.dot(&(place - from)) > 0.0);
        }
        let behind = eye + (eye - Vec3::new(10.0, 5.0, -20.0));
        assert_eq!(sight.see(&Point3::new(behind.x, behind.y, behind.z)), None);
        let up = Point3::new(10.0, 5.0, 0.0);
        assert!(sight.see(&up).unwrap().y < middle.y, "what is higher on the limb is higher in the window");
        assert!(sight.faces(&up, &Vector3::new(0.5, -0.8, 0.0)) && !sight.faces(&up, &Vector3::new(-0.5, 0.8, 0.0)));
    }
}
