//! What strikes a guard: its mass and speed, the form of its face, and where that touches.

use nalgebra::{Point3, Unit, Vector3};
use parry3d::math::Vec3;
use parry3d::query::{Ray, RayCast};
use parry3d::shape::{Ball, Cuboid, Cylinder, RoundShape};
use serde::{Deserialize, Serialize};

use crate::mid_surface::MidSurface;

/// What strikes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Striker {
    /// Its mass, kg.
    pub mass_kg: f64,
    /// Its speed, m/s.
    pub speed_m_per_s: f64,
}

/// Standard acceleration of a falling body, m/s² (ISO 80000-3:2019).
pub const GRAVITY: f64 = 9.806_65;

impl Striker {
    /// What falls from a height, m.
    #[must_use]
    pub fn falling(mass_kg: f64, height_m: f64) -> Self {
        Self { mass_kg, speed_m_per_s: (2.0 * GRAVITY * height_m).sqrt() }
    }

    /// Its energy, J.
    #[must_use]
    pub fn energy_j(&self) -> f64 {
        0.5 * self.mass_kg * self.speed_m_per_s * self.speed_m_per_s
    }
}

/// The form of what touches first; its edges are rounded.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Face {
    /// A flat round face, as of a stud or a plate.
    Flat {
        /// Its width, mm.
        across_mm: f32,
        /// Radius of its edge, mm; at most half the width.
        edge_mm: f32,
    },
    /// A part of a ball.
    Round {
        /// Radius of the ball, mm.
        radius_mm: f32,
        /// Its width, mm; at most twice the radius.
        across_mm: f32,
    },
    /// A flat bar that lies across the limb.
    Bar {
        /// Its length, around the limb, mm.
        length_mm: f32,
        /// Its width, along the limb, mm.
        width_mm: f32,
        /// Radius of its edges, mm; at most half the width.
        edge_mm: f32,
    },
}

/// How deep a striker's body is taken to be, mm: enough that rays meet its face.
const DEEP_MM: f32 = 400.0;
/// A face is looked for from so far before it, mm.
const BEFORE_MM: f32 = 10.0;

impl Face {
    /// How far its surface lies behind its foremost point, mm, at a place aside of its axis: `around` and `along` the limb.
    /// `None` beside it.
    #[must_use]
    pub fn behind_mm(&self, around: f32, along: f32) -> Option<f32> {
        // Its axis is that of y, its body below the plane of x and z.
        let below = |ray: &dyn RayCast, middle: f32| {
            let from = Vec3::new(around, BEFORE_MM - middle, along);
            let ray_down = Ray::new(from, Vec3::new(0.0, -1.0, 0.0));
            ray.cast_local_ray(&ray_down, DEEP_MM, true).map(|way| (way - BEFORE_MM).max(0.0))
        };
        let half = 0.5 * DEEP_MM;
        match *self {
            Self::Flat { across_mm, edge_mm } => {
                let edge = edge_mm.min(0.499 * across_mm);
                let body = Cylinder::new(half - edge, 0.5 * across_mm - edge);
                below(&RoundShape { inner_shape: body, border_radius: edge }, -half)
            }
            Self::Round { radius_mm, across_mm } => {
                let beside = around.hypot(along) > 0.5 * across_mm;
                if beside { None } else { below(&Ball::new(radius_mm), -radius_mm) }
            }
            Self::Bar { length_mm, width_mm, edge_mm } => {
                let edge = edge_mm.min(0.499 * width_mm.min(length_mm));
                let body = Cuboid::new(Vec3::new(0.5 * length_mm - edge, half - edge, 0.5 * width_mm - edge));
                below(&RoundShape { inner_shape: body, border_radius: edge }, -half)
            }
        }
    }

    /// How far it reaches from its axis, mm.
    #[must_use]
    pub fn reach_mm(&self) -> f32 {
        match *self {
            Self::Flat { across_mm, .. } | Self::Round { across_mm, .. } => 0.5 * across_mm,
            Self::Bar { length_mm, width_mm, .. } => 0.5 * length_mm.hypot(width_mm),
        }
    }
}

/// A blow: what strikes, with which face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blow {
    /// What strikes.
    pub striker: Striker,
    /// Its face.
    pub face: Face,
    /// Whether it falls, and goes on falling while it is stopped.
    pub falls: bool,
    /// How much the striker itself gives, MPa for each millimetre; infinite where it is hard.
    pub pad_mpa_per_mm: f64,
}

/// A line along which something strikes, with the directions of its face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// A point on it, mm.
    pub through: Point3<f64>,
    /// Which way it goes.
    pub way: Unit<Vector3<f64>>,
    around: Vector3<f64>,
    along: Vector3<f64>,
}

impl Line {
    /// The line through a place along a direction that has a length.
    #[must_use]
    pub fn new(through: Point3<f64>, way: Unit<Vector3<f64>>) -> Self {
        // Around the limb, whose axis is z.
        let around = Vector3::z().cross(&way).try_normalize(1e-3).unwrap_or_else(Vector3::x);
        Self { through, way, around, along: way.cross(&around) }
    }

    /// The line square to a guard at its node nearest to a place: through the place, as deep as the guard is there. `None` of a
    /// guard without nodes.
    #[must_use]
    pub fn square_to(middle: &MidSurface, place: &Point3<f64>) -> Option<Self> {
        let off = |v: &usize| (middle.points[*v] - place).norm_squared();
        let node = (0..middle.points.len()).min_by(|a, b| off(a).total_cmp(&off(b)))?;
        let out = middle.out(node);
        let through = place + out * (middle.points[node] - place).dot(&out);
        Some(Self::new(through, Unit::try_new(-out, 1e-9)?))
    }

    /// A place aside of its point: around and along the limb, mm.
    #[must_use]
    pub fn aside(&self, [around, along]: [f32; 2]) -> Point3<f64> {
        self.through + self.around * f64::from(around) + self.along * f64::from(along)
    }

    /// How far a face that moves along the line from before it goes until it meets a place, mm, measured from the point on the
    /// line; `None` where it passes the place by.
    #[must_use]
    pub fn meets(&self, face: &Face, place: &Point3<f64>) -> Option<f64> {
        let to = place - self.through;
        let behind = face.behind_mm(to.dot(&self.around) as f32, to.dot(&self.along) as f32)?;
        Some(to.dot(&self.way) + f64::from(behind))
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    #[test]
    fn a_ball_falls_off_as_a_circle_does_and_a_plate_at_its_edge() {
        let ball = Face::Round { radius_mm: 50.0, across_mm: 80.0 };
        for off in [0.0_f32, 10.0, 30.0, 39.0] {
            let falls = 50.0 - (2500.0 - off * off).sqrt();
            assert_relative_eq!(ball.behind_mm(0.6 * off, 0.8 * off).unwrap(), falls, epsilon = 1e-3);
        }
        assert_eq!(ball.behind_mm(41.0, 0.0), None);
        let stud = Face::Flat { across_mm: 12.0, edge_mm: 2.0 };
        assert_relative_eq!(stud.behind_mm(3.9, 0.0).unwrap(), 0.0, epsilon = 1e-3);
        assert_relative_eq!(stud.behind_mm(0.0, 5.0).unwrap(), 2.0 - 3.0_f32.sqrt(), epsilon = 2e-3);
        assert_eq!(stud.behind_mm(6.1, 0.0), None);
        let bar = Face::Bar { length_mm: 40.0, width_mm: 30.0, edge_mm: 1.0 };
        assert_relative_eq!(bar.behind_mm(18.0, 13.0).unwrap(), 0.0, epsilon = 1e-3);
        assert!(bar.behind_mm(13.0, 18.0).is_none() && bar.behind_mm(21.0, 0.0).is_none());
    }

    #[test]
    fn what_lies_nearer_is_met_first() {
        let line = Line::new(Point3::new(40.0, 0.0, 10.0), -Vector3::x_axis());
        let face = Face::Round { radius_mm: 20.0, across_mm: 30.0 };
        assert_relative_eq!(line.meets(&face, &Point3::new(38.0, 0.0, 10.0)).unwrap(), 2.0, epsilon = 1e-3);
        let aside = 20.0 - (400.0_f64 - 25.0).sqrt();
        assert_relative_eq!(line.meets(&face, &Point3::new(38.0, 3.0, 14.0)).unwrap(), 2.0 + aside, epsilon = 1e-3);
        assert_eq!(line.meets(&face, &Point3::new(38.0, 20.0, 10.0)), None);
    }
}
