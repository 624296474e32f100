//! Skins and zones with closed forms, for tests: tubes, cones, balls and sheets with regular or uneven triangles and
//! noise.

use std::f64::consts::TAU;

use mesh::Surface;
use nalgebra::Point3;
use test_shapes::{Diagonals, Wrap, grid, uneven_grid};
use zone::{Region, Zone};

/// How rough a sample skin is.
#[derive(Debug, Clone, Copy, Default)]
pub struct Rough {
    /// Vertices are moved along the skin by up to this share of the spacing.
    pub uneven: f32,
    /// Standard deviation of the noise along the normal, mm.
    pub noise_mm: f32,
}

/// A grid of sides of about `edge` on a surface of `width` round by `height` up, mapped from the unit square.
fn rough_skin(width: f32, height: f32, edge: f32, rough: Rough, place: impl Fn(f64, f64) -> [f64; 3]) -> Surface {
    let (columns, rows) = ((width / edge).ceil() as u32, (height / (edge * 0.866)).ceil() as u32);
    uneven_grid(columns, rows, rough.uneven.into(), 7, place).noisy(rough.noise_mm.into(), 11).build()
}

/// A tube about the z axis from −length/2 to length/2.
pub fn tube(radius: f32, length: f32, edge: f32, rough: Rough) -> Surface {
    cone(radius, radius, length, edge, rough)
}

/// A cone frustum about the z axis, `low` wide at −length/2 and `high` at length/2 (radii).
pub fn cone(low: f32, high: f32, length: f32, edge: f32, rough: Rough) -> Surface {
    let [lower, upper, height] = [low, high, length].map(f64::from);
    rough_skin(std::f32::consts::TAU * low.max(high), length, edge, rough, |u, v| {
        let ((sin, cos), radius) = ((u * TAU).sin_cos(), lower + (upper - lower) * v);
        [radius * cos, radius * sin, (v - 0.5) * height]
    })
}

/// A ball about the origin without its polar caps.
pub fn ball(radius: f32, edge: f32, rough: Rough) -> Surface {
    let half = 1.2_f32;
    let (r, most) = (f64::from(radius), f64::from(half));
    rough_skin(std::f32::consts::TAU * radius, 2.0 * half * radius, edge, rough, |u, v| {
        let ((sin, cos), (up, out)) = ((u * TAU).sin_cos(), ((v * 2.0 - 1.0) * most).sin_cos());
        [r * cos * out, r * sin * out, r * up]
    })
}

/// A sheet bent by `place(u, v)`, of `width` by `height` about its middle, in squares with sides of about `side`, cut
/// in turn one way and the other. Places are worked out in `f32`: on an exact grid the zones of the tests would have
/// ties.
fn sheet(width: f32, height: f32, side: f32, wrap: Wrap, place: impl Fn(f32, f32) -> [f32; 3]) -> Surface {
    let (columns, rows) = ((width / side).ceil(), (height / side).ceil());
    let along = |share: f64, count: f32, length: f32| {
        let step = (share * f64::from(count)).round() as f32;
        (step / count - 0.5) * length
    };
    grid(columns as u32, rows as u32, wrap, Diagonals::Alternate, |u, v| {
        place(along(u, columns, width), along(v, rows, height)).map(f64::from)
    })
    .build()
}

/// A flat sheet about the origin facing −y, with its height along z: the limb directions are x and z on it.
pub fn flat(width: f32, height: f32, side: f32) -> Surface {
    sheet(width, height, side, Wrap::None, |u, v| [u, 0.0, v])
}

/// A tube about the z axis from −height/2 to height/2, its seam on −x.
pub fn cylinder(radius: f32, height: f32, side: f32) -> Surface {
    sheet(std::f32::consts::TAU * radius, height, side, Wrap::Columns, |u, v| {
        let (s, c) = (u / radius).sin_cos();
        [radius * c, radius * s, v]
    })
}

/// A ball without its poles (beyond 80 degrees), its seam on −x.
pub fn sphere(radius: f32, side: f32) -> Surface {
    sheet(std::f32::consts::TAU * radius, radius * 160.0_f32.to_radians(), side, Wrap::Columns, |u, v| {
        let ((s, c), (up, out)) = ((u / radius).sin_cos(), (v / radius).sin_cos());
        [radius * out * c, radius * out * s, radius * up]
    })
}

/// The zone in which `inside(point)`, a distance to its edge, is positive.
pub fn zone(skin: &Surface, inside: impl Fn(&Point3<f32>) -> f32) -> Zone {
    let distance_mm = skin.mesh().points.iter().map(inside).collect();
    Zone { covered: Region { distance_mm, edges: Vec::new() }, ..Zone::default() }
}

/// Distance to the edge of a box of half sides `half` round the origin, positive inside.
pub fn inside_box(half: [f32; 2], p: [f32; 2]) -> f32 {
    let (x, y) = (p[0].abs() - half[0], p[1].abs() - half[1]);
    -(x.max(0.0).hypot(y.max(0.0)) + x.max(y).min(0.0))
}

/// A zone on a tube: a box of `around_mm` by `along_mm` in the unrolled tube, in the middle of the +x side.
/// Distances are exact but for the zone's outer corners, where they are those to the nearer side.
pub fn tube_zone(skin: &Surface, radius: f32, around_mm: f32, along_mm: f32) -> Zone {
    let half = [0.5 * around_mm, 0.5 * along_mm];
    let distance_mm = skin
        .mesh()
        .points
        .iter()
        .map(|p| (half[0] - (radius * p.y.atan2(p.x)).abs()).min(half[1] - p.z.abs()))
        .collect();
    let place = |s: f32, z: f32| Point3::new(radius * (s / radius).cos(), radius * (s / radius).sin(), z);
    let corners = [[-half[0], -half[1]], [half[0], -half[1]], [half[0], half[1]], [-half[0], half[1]]];
    let mut edge = Vec::new();
    for (k, a) in corners.iter().enumerate() {
        let b = corners[(k + 1) % 4];
        let steps = ((b[0] - a[0]).hypot(b[1] - a[1])).ceil().max(1.0);
        edge.extend((0..steps as usize).map(|i| {
            let t = i as f32 / steps;
            place(a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t)
        }));
    }
    Zone { covered: Region { distance_mm, edges: vec![edge] }, ..Zone::default() }
}
