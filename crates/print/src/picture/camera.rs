//! The viewpoints, and the projection from limb axes to pixels.

use nalgebra::{Point3, Vector3};

/// A viewpoint: a turn about the long axis of the limb from the side that the shell is on, and an elevation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// Its caption: where the viewer stands, so that it is true on every side of every limb.
    pub caption: &'static str,
    /// Turn of the viewer to their right around the limb, degrees.
    pub turn_deg: f32,
    /// Elevation of the viewer, degrees.
    pub raise_deg: f32,
}

impl View {
    /// Facing the shell.
    pub const FRONT: Self = Self { caption: "Facing the guard", turn_deg: 0.0, raise_deg: 0.0 };
    /// From the side away from the shell.
    pub const BACK: Self = Self { caption: "From behind", turn_deg: 180.0, raise_deg: 0.0 };
    /// From the viewer's left.
    pub const LEFT: Self = Self { caption: "From the left", turn_deg: -90.0, raise_deg: 0.0 };
    /// From the viewer's right.
    pub const RIGHT: Self = Self { caption: "From the right", turn_deg: 90.0, raise_deg: 0.0 };
    /// From half right and above.
    pub const THREE_QUARTER: Self = Self { caption: "From half right and above", turn_deg: 36.0, raise_deg: 22.0 };
}

/// A parallel projection.
#[derive(Debug, Clone, Copy)]
pub struct Camera {
    right: Vector3<f32>,
    up: Vector3<f32>,
    /// Towards the viewer.
    towards: Vector3<f32>,
    centre: Point3<f32>,
    /// Pixels a millimetre.
    pub scale: f32,
    /// Pixel of the centre.
    pub middle: [f32; 2],
}

impl Camera {
    /// Looks at `centre`; `front` points across the limb to the side that the shell is on.
    pub fn new(view: View, front: Vector3<f32>, centre: Point3<f32>) -> Self {
        let (turn, raise) = (view.turn_deg.to_radians(), view.raise_deg.to_radians());
        let axis = Vector3::z_axis();
        let level = nalgebra::Rotation3::from_axis_angle(&axis, turn) * front;
        let towards = level * raise.cos() + Vector3::z() * raise.sin();
        let right = Vector3::z().cross(&level);
        Self { right, up: towards.cross(&right), towards, centre, scale: 1.0, middle: [0.0; 2] }
    }

    /// Pixel across, pixel down, and millimetres towards the viewer.
    pub fn project(&self, p: &Point3<f32>) -> [f32; 3] {
        let d = p - self.centre;
        [
            self.middle[0] + self.scale * d.dot(&self.right),
            self.middle[1] - self.scale * d.dot(&self.up),
            d.dot(&self.towards),
        ]
    }

    /// A direction as the viewer sees it: right, up, towards them.
    pub fn turn(&self, v: &Vector3<f32>) -> Vector3<f32> {
        Vector3::new(v.dot(&self.right), v.dot(&self.up), v.dot(&self.towards))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn views_look_from_where_they_say() {
        let front = -Vector3::y();
        for (view, shown) in
            [(View::FRONT, front), (View::BACK, -front), (View::RIGHT, Vector3::x()), (View::LEFT, -Vector3::x())]
        {
            let camera = Camera::new(view, front, Point3::origin());
            assert!((camera.turn(&shown) - Vector3::z()).norm() < 1e-6, "{view:?}");
            assert!((camera.turn(&Vector3::z()) - Vector3::y()).norm() < 1e-6, "up stays up: {view:?}");
        }
        // Seen from the front, x is on the viewer's right and the top of the limb is at a lower pixel number.
        let camera = Camera::new(View::FRONT, front, Point3::origin());
        assert!((camera.project(&Point3::new(3.0, 0.0, 5.0))[0] - 3.0).abs() < 1e-6);
        assert!((camera.project(&Point3::new(3.0, 0.0, 5.0))[1] + 5.0).abs() < 1e-6);
    }
}
