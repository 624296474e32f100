//! How far a found line is from the true one.

use mesh::Surface;
use nalgebra::{Point3, Vector3};

/// Mean distance between two closed polylines, both ways, and the greatest one.
pub fn apart(a: &[Point3<f32>], b: &[Point3<f32>]) -> (f32, f32) {
    let (ab, ba) = (one_way(a, b), one_way(b, a));
    (ab.0.max(ba.0), ab.1.max(ba.1))
}

/// Mean and greatest distance of points spread evenly over `from` to the closed polyline `to`.
fn one_way(from: &[Point3<f32>], to: &[Point3<f32>]) -> (f32, f32) {
    let (mut sum, mut weight, mut most) = (0.0, 0.0, 0.0_f32);
    for i in 0..from.len() {
        let (p, q) = (from[i], from[(i + 1) % from.len()]);
        let l = (q - p).norm();
        for k in 0..4 {
            let d = distance(&(p + (q - p) * (k as f32 / 4.0)), to);
            sum += d * l / 4.0;
            weight += l / 4.0;
            most = most.max(d);
        }
    }
    (sum / weight, most)
}

fn distance(p: &Point3<f32>, line: &[Point3<f32>]) -> f32 {
    (0..line.len()).map(|i| (p - on_side(p, line, i)).norm()).fold(f32::INFINITY, f32::min)
}

fn on_side(p: &Point3<f32>, line: &[Point3<f32>], i: usize) -> Point3<f32> {
    let (a, b) = (line[i], line[(i + 1) % line.len()]);
    let d = b - a;
    let f = if d.norm_squared() > 0.0 { ((p - a).dot(&d) / d.norm_squared()).clamp(0.0, 1.0) } else { 0.0 };
    a + d * f
}

/// Vertices inside a closed line on the skin: those near the line by the side on which they lie, and what
/// is connected with the seed without crossing to the other side.
pub fn inside(skin: &Surface, line: &[Point3<f32>], seed: &Point3<f32>) -> Vec<bool> {
    let mesh = skin.mesh();
    let (low, high) = line.iter().fold((line[0], line[0]), |(l, h), p| (l.inf(p), h.sup(p)));
    let margin = Vector3::repeat(5.0);
    let (low, high) = (low - margin, high + margin);
    let n = line.len();
    let side: Vec<i8> = (0..mesh.points.len())
        .map(|v| {
            let p = mesh.points[v];
            if p.inf(&low) != low || p.sup(&high) != high {
                return 0;
            }
            let (d, i) =
                (0..n).map(|i| ((p - on_side(&p, line, i)).norm(), i)).min_by(|x, y| x.0.total_cmp(&y.0)).unwrap();
            if d > 4.0 {
                return 0;
            }
            let along = line[(i + 1) % n] - line[i];
            let left = skin.vertex_normals()[v].cross(&along).dot(&(p - on_side(&p, line, i)));
            if left >= 0.0 { 1 } else { -1 }
        })
        .collect();
    let hit = skin.nearest(seed, None).unwrap();
    let start = mesh.triangles[hit.triangle as usize][0];
    let mut reached = vec![false; mesh.points.len()];
    let mut stack = vec![start];
    let mut own = side[start as usize];
    reached[start as usize] = true;
    while let Some(v) = stack.pop() {
        if own == 0 {
            own = side[v as usize];
        }
        for w in skin.adjacency().vertices_around(mesh, v) {
            if !reached[w as usize] && (side[w as usize] == 0 || own == 0 || side[w as usize] == own) {
                reached[w as usize] = true;
                stack.push(w);
            }
        }
    }
    reached
}

/// Intersection over union of two sets of vertices by the area around each.
pub fn overlap(skin: &Surface, a: &[bool], b: &[bool]) -> f64 {
    let mesh = skin.mesh();
    let mut area = vec![0.0; mesh.points.len()];
    for (t, c) in mesh.triangles.iter().enumerate() {
        c.iter().for_each(|v| area[*v as usize] += mesh.cross(t).norm() / 6.0);
    }
    let (mut both, mut either) = (0.0, 0.0);
    for v in 0..area.len() {
        both += area[v] * f64::from(a[v] && b[v]);
        either += area[v] * f64::from(a[v] || b[v]);
    }
    both / either
}
