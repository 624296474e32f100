//! Do two triangles meet beyond what they share? Decided by exact signs (Shewchuk 1997), so no tolerance is involved.

use nalgebra::Point3;
use robust::{Coord, Coord3D, orient2d, orient3d};

type Triangle = [Point3<f32>; 3];

/// Sign of the volume of the tetrahedron `a b c d`: exact for f32 input.
fn side(a: &Point3<f32>, b: &Point3<f32>, c: &Point3<f32>, d: &Point3<f32>) -> i8 {
    let of = |p: &Point3<f32>| Coord3D { x: f64::from(p.x), y: f64::from(p.y), z: f64::from(p.z) };
    sign(orient3d(of(a), of(b), of(c), of(d)))
}

fn sign(x: f64) -> i8 {
    i8::from(x > 0.0) - i8::from(x < 0.0)
}

/// Whether two triangles without a common vertex touch or cross.
pub fn meet(s: &Triangle, t: &Triangle) -> bool {
    let over_t = s.map(|p| side(&t[0], &t[1], &t[2], &p));
    if over_t == [1; 3] || over_t == [-1; 3] {
        return false;
    }
    let over_s = t.map(|p| side(&s[0], &s[1], &s[2], &p));
    if over_s == [1; 3] || over_s == [-1; 3] {
        return false;
    }
    if over_t == [0; 3] {
        return meet_in_plane(s, t);
    }
    (0..3).any(|k| pierces(&s[k], &s[(k + 1) % 3], over_t[k], over_t[(k + 1) % 3], t))
        || (0..3).any(|k| pierces(&t[k], &t[(k + 1) % 3], over_s[k], over_s[(k + 1) % 3], s))
}

/// Whether two triangles that share corner 0 of both meet anywhere else.
pub fn meet_beyond_vertex(s: &Triangle, t: &Triangle) -> bool {
    let over_t = [side(&t[0], &t[1], &t[2], &s[1]), side(&t[0], &t[1], &t[2], &s[2])];
    let over_s = [side(&s[0], &s[1], &s[2], &t[1]), side(&s[0], &s[1], &s[2], &t[2])];
    if over_t == [0; 2] {
        return fans_overlap(s, t);
    }
    pierces(&s[1], &s[2], over_t[0], over_t[1], t) || pierces(&t[1], &t[2], over_s[0], over_s[1], s)
}

/// Whether two triangles that share their corners 0 and 1 are folded onto each other.
pub fn meet_beyond_edge(s: &Triangle, t: &Triangle) -> bool {
    if side(&s[0], &s[1], &s[2], &t[2]) != 0 {
        return false;
    }
    let axis = flat_axis(s);
    turn(&s[0], &s[1], &s[2], axis) == turn(&s[0], &s[1], &t[2], axis)
}

/// Whether the segment `p q`, whose ends lie on sides `sp` and `sq` of the plane of `t`, meets `t`.
fn pierces(p: &Point3<f32>, q: &Point3<f32>, sp: i8, sq: i8, t: &Triangle) -> bool {
    if sp * sq > 0 {
        return false;
    }
    if sp == 0 && sq == 0 {
        let axis = flat_axis(t);
        return inside(p, t, axis) || inside(q, t, axis) || (0..3).any(|k| cross(p, q, &t[k], &t[(k + 1) % 3], axis));
    }
    let around = [side(p, q, &t[0], &t[1]), side(p, q, &t[1], &t[2]), side(p, q, &t[2], &t[0])];
    around.iter().all(|s| *s >= 0) || around.iter().all(|s| *s <= 0)
}

/// The axis along which a triangle is seen largest; dropping it keeps the triangle from collapsing.
pub fn flat_axis(t: &Triangle) -> usize {
    let [a, b, c] = t.map(|p| p.cast::<f64>());
    (b - a).cross(&(c - a)).iamax()
}

/// Sign of the turn `a b c` seen along `axis`: exact for f32 input.
pub fn turn(a: &Point3<f32>, b: &Point3<f32>, c: &Point3<f32>, axis: usize) -> i8 {
    let of = |p: &Point3<f32>| Coord { x: f64::from(p[(axis + 1) % 3]), y: f64::from(p[(axis + 2) % 3]) };
    sign(orient2d(of(a), of(b), of(c)))
}

fn inside(p: &Point3<f32>, t: &Triangle, axis: usize) -> bool {
    let turns = [turn(&t[0], &t[1], p, axis), turn(&t[1], &t[2], p, axis), turn(&t[2], &t[0], p, axis)];
    turns.iter().all(|s| *s >= 0) || turns.iter().all(|s| *s <= 0)
}

fn cross(p: &Point3<f32>, q: &Point3<f32>, a: &Point3<f32>, b: &Point3<f32>, axis: usize) -> bool {
    let (pa, pb) = (turn(a, b, p, axis), turn(a, b, q, axis));
    let (qa, qb) = (turn(p, q, a, axis), turn(p, q, b, axis));
    if [pa, pb, qa, qb] == [0; 4] {
        // All on one line: they overlap where their ranges do on both remaining axes.
        return (1..3).all(|k| {
            let k = (axis + k) % 3;
            p[k].min(q[k]) <= a[k].max(b[k]) && a[k].min(b[k]) <= p[k].max(q[k])
        });
    }
    pa * pb <= 0 && qa * qb <= 0
}

fn meet_in_plane(s: &Triangle, t: &Triangle) -> bool {
    let axis = flat_axis(t);
    inside(&s[0], t, axis)
        || inside(&t[0], s, axis)
        || (0..3).any(|i| (0..3).any(|k| cross(&s[i], &s[(i + 1) % 3], &t[k], &t[(k + 1) % 3], axis)))
}

/// Two triangles in one plane with a common corner 0: do their corners' wedges overlap?
fn fans_overlap(s: &Triangle, t: &Triangle) -> bool {
    let axis = flat_axis(s);
    let within = |p: &Point3<f32>, w: &Triangle| {
        let way = turn(&w[0], &w[1], &w[2], axis);
        turn(&w[0], &w[1], p, axis) * way >= 0 && turn(&w[0], p, &w[2], axis) * way >= 0
    };
    within(&s[1], t) || within(&s[2], t) || within(&t[1], s) || within(&t[2], s)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tri(c: [[f32; 3]; 3]) -> Triangle {
        c.map(Point3::from)
    }

    const FLAT: [[f32; 3]; 3] = [[0., 0., 0.], [4., 0., 0.], [0., 4., 0.]];

    #[test]
    fn crossing_touching_and_apart() {
        let flat = tri(FLAT);
        assert!(meet(&flat, &tri([[1., 1., -1.], [1., 1., 1.], [5., 5., 1.]])));
        assert!(meet(&flat, &tri([[1., 1., 0.], [1., 1., 1.], [2., 1., 1.]])), "a corner on the face");
        assert!(!meet(&flat, &tri([[1., 1., 0.1], [1., 1., 1.], [2., 1., 1.]])));
        assert!(!meet(&flat, &tri([[3., 3., -1.], [3., 3., 1.], [5., 5., 1.]])));
        assert!(meet(&flat, &tri([[1., 1., 0.], [9., 1., 0.], [9., 9., 0.]])), "in one plane");
        assert!(!meet(&flat, &tri([[5., 5., 0.], [9., 5., 0.], [9., 9., 0.]])));
    }

    #[test]
    fn neighbours_meet_only_when_folded() {
        let flat = tri(FLAT);
        assert!(!meet_beyond_edge(&flat, &tri([FLAT[0], FLAT[1], [2., -3., 0.]])));
        assert!(meet_beyond_edge(&flat, &tri([FLAT[0], FLAT[1], [2., 3., 0.]])));
        assert!(!meet_beyond_edge(&flat, &tri([FLAT[0], FLAT[1], [2., 3., 0.5]])));
        assert!(!meet_beyond_vertex(&flat, &tri([FLAT[0], [-1., 0., 1.], [0., -1., 1.]])));
        assert!(meet_beyond_vertex(&flat, &tri([FLAT[0], [2., 2., 1.], [1., 1., -1.]])));
        assert!(meet_beyond_vertex(&flat, &tri([FLAT[0], [1., 1., 0.], [-1., 1., 0.]])));
        assert!(!meet_beyond_vertex(&flat, &tri([FLAT[0], [-1., 0., 0.], [0., -1., 0.]])));
    }
}
