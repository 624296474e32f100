//! Cuts a polygon into triangles by clipping ears, keeping every corner so that neighbours stay joined.

use nalgebra::{Point3, Vector3};

/// More corners than this are fanned: clipping costs time that grows with their square.
const MOST_CLIPPED: usize = 4096;

/// How the cutting went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Triangulation {
    /// Every triangle is an ear of the polygon.
    Clean,
    /// The polygon crosses itself, has no area or too many corners: what was left was cut as a fan.
    Fanned,
}

/// Cuts the polygon with these corners, three or more, into `corners.len() - 2` triangles, given as places in
/// `corners`.
pub(super) fn triangulate(corners: &[Point3<f32>], out: &mut Vec<[usize; 3]>) -> Triangulation {
    if corners.len() < 3 {
        return Triangulation::Clean;
    }
    if corners.len() == 3 {
        out.push([0, 1, 2]);
        return Triangulation::Clean;
    }
    let Some(flat) = flatten(corners) else {
        fan(&(0..corners.len()).collect::<Vec<_>>(), out);
        return Triangulation::Fanned;
    };
    let n = flat.len();
    if (0..n).all(|i| turn(flat[i], flat[(i + 1) % n], flat[(i + 2) % n]) > 0.0) && turns_once(&flat) {
        fan(&(0..n).collect::<Vec<_>>(), out);
        return Triangulation::Clean;
    }
    let mut left: Vec<usize> = (0..n).collect();
    if n > MOST_CLIPPED {
        fan(&left, out);
        return Triangulation::Fanned;
    }
    let mut at = 0;
    let mut failed = 0;
    while left.len() > 3 {
        let m = left.len();
        let (before, tip, after) = (left[(at + m - 1) % m], left[at % m], left[(at + 1) % m]);
        if is_ear(&flat, &left, before, tip, after) {
            out.push([before, tip, after]);
            left.remove(at % m);
            // Stepping on by one keeps the triangles from all meeting in one corner.
            at = if at >= left.len() { 0 } else { at + 1 } % left.len();
            failed = 0;
        } else {
            at = (at + 1) % m;
            failed += 1;
            if failed > m {
                fan(&left, out);
                return Triangulation::Fanned;
            }
        }
    }
    out.push([left[0], left[1], left[2]]);
    Triangulation::Clean
}

/// Drops the coordinate in which the polygon is thinnest; `None` without area. Dropping keeps the numbers exact.
fn flatten(corners: &[Point3<f32>]) -> Option<Vec<[f64; 2]>> {
    let points: Vec<Point3<f64>> = corners.iter().map(|p| p.cast()).collect();
    // Newell's normal: twice the area vector.
    let normal: Vector3<f64> =
        (0..points.len()).map(|i| (points[i] - points[0]).cross(&(points[(i + 1) % points.len()] - points[0]))).sum();
    let axis = normal.iamax();
    if normal[axis] == 0.0 || !normal[axis].is_finite() {
        return None;
    }
    let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
    let sign = normal[axis].signum();
    Some(points.iter().map(|p| [p[u], p[v] * sign]).collect())
}

/// Twice the signed area of a, b, c: positive for a left turn.
fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

/// A polygon of left turns only is convex when its directions go round once, not twice as a star's do.
fn turns_once(flat: &[[f64; 2]]) -> bool {
    let n = flat.len();
    let falls = |i: usize| {
        let (a, b) = (flat[i % n], flat[(i + 1) % n]);
        (b[1], b[0]) < (a[1], a[0])
    };
    (0..n).filter(|i| falls(*i) != falls(i + 1)).count() == 2
}

fn is_ear(flat: &[[f64; 2]], left: &[usize], before: usize, tip: usize, after: usize) -> bool {
    let (a, b, c) = (flat[before], flat[tip], flat[after]);
    if turn(a, b, c) <= 0.0 {
        return false;
    }
    left.iter().all(|i| {
        let p = flat[*i];
        // Corners at the same place as one of the ear's own (a polygon that touches itself) are no obstacle.
        p == a || p == b || p == c || turn(a, b, p) < 0.0 || turn(b, c, p) < 0.0 || turn(c, a, p) < 0.0
    })
}

fn fan(left: &[usize], out: &mut Vec<[usize; 3]>) {
    out.extend((1..left.len().saturating_sub(1)).map(|i| [left[0], left[i], left[i + 1]]));
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn flat(points: &[[f32; 2]]) -> Vec<Point3<f32>> {
        points.iter().map(|p| Point3::new(p[0], p[1], 0.0)).collect()
    }

    fn area(corners: &[Point3<f32>], triangles: &[[usize; 3]]) -> (f64, f64) {
        let signed = triangles.iter().map(|t| {
            let [a, b, c] = t.map(|i| corners[i].cast::<f64>());
            0.5 * (b - a).cross(&(c - a)).z
        });
        signed.fold((0.0, 0.0), |(sum, least), s| (sum + s, f64::min(least, s)))
    }

    #[test]
    fn a_concave_polygon_keeps_its_area_and_no_triangle_is_turned_over() {
        let l = flat(&[[0., 0.], [4., 0.], [4., 1.], [1., 1.], [1., 3.], [0., 3.]]);
        let mut out = Vec::new();
        assert_eq!(triangulate(&l, &mut out), Triangulation::Clean);
        assert_eq!(out.len(), 4);
        assert_eq!(area(&l, &out), (6.0, 0.0));
    }

    #[test]
    fn corners_in_the_middle_of_a_side_are_kept() {
        let square = flat(&[[0., 0.], [1., 0.], [2., 0.], [2., 2.], [0., 2.]]);
        let mut out = Vec::new();
        assert_eq!(triangulate(&square, &mut out), Triangulation::Clean);
        assert_eq!(area(&square, &out), (4.0, 0.0));
        assert!(out.iter().any(|t| t.contains(&1)));
    }

    #[test]
    fn a_star_that_crosses_itself_is_fanned() {
        let star: Vec<[f32; 2]> =
            (0..5).map(|i| (i as f32 * 2.0 * std::f32::consts::TAU / 5.0).sin_cos()).map(|(s, c)| [c, s]).collect();
        let mut out = Vec::new();
        triangulate(&flat(&star), &mut out);
        assert_eq!(out.len(), 3);
        assert_eq!(triangulate(&flat(&[[0., 0.], [1., 0.], [2., 0.], [3., 0.]]), &mut out), Triangulation::Fanned);
    }

    proptest! {
        #[test]
        fn star_shaped_polygons_keep_their_area(radii in prop::collection::vec(1_u8..20, 3..40)) {
            // Whole numbers keep the sums exact.
            let n = radii.len() as f32;
            let ring: Vec<[f32; 2]> = radii.iter().enumerate().map(|(i, r)| {
                let (s, c) = (i as f32 / n * std::f32::consts::TAU).sin_cos();
                [(c * f32::from(*r) * 64.0).round(), (s * f32::from(*r) * 64.0).round()]
            }).collect();
            let corners = flat(&ring);
            let mut out = Vec::new();
            let cut = triangulate(&corners, &mut out);
            prop_assert_eq!(out.len(), corners.len() - 2);
            let shoelace: f64 = (0..ring.len()).map(|i| {
                let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
                0.5 * (f64::from(a[0]) * f64::from(b[1]) - f64::from(a[1]) * f64::from(b[0]))
            }).sum();
            let (sum, least) = area(&corners, &out);
            prop_assert_eq!(sum, shoelace);
            prop_assert!(cut == Triangulation::Fanned || least >= 0.0);
        }
    }
}
