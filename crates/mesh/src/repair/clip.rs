//! Cutting a mesh by a plane.

use std::collections::HashMap;

use nalgebra::{Point3, Vector3};

use super::weld::drop_unused_points;
use crate::Mesh;

/// Keeps what lies on the side of the plane through `point` to which `keep` points; returns how many triangles were cut
/// or dropped. Triangles across the plane are cut along it; both neighbours at an edge use the same new point.
pub fn clip_by_plane(mesh: &mut Mesh, point: &Point3<f64>, keep: &Vector3<f64>) -> usize {
    let height: Vec<f64> = mesh.points.iter().map(|p| (p.cast::<f64>() - point).dot(keep)).collect();
    let mut cuts: HashMap<(u32, u32), u32> = HashMap::new();
    let mut triangles = Vec::with_capacity(mesh.triangles.len());
    let mut changed = 0;
    for corners in std::mem::take(&mut mesh.triangles) {
        let inside = corners.map(|v| height[v as usize] >= 0.0);
        let kept = inside.iter().filter(|x| **x).count();
        changed += usize::from(kept < 3);
        let mut cut = |a: u32, b: u32| {
            let (a, b) = (a.min(b), a.max(b));
            *cuts.entry((a, b)).or_insert_with(|| {
                let f = height[a as usize] / (height[a as usize] - height[b as usize]);
                let (p, q) = (mesh.points[a as usize].cast::<f64>(), mesh.points[b as usize].cast::<f64>());
                mesh.points.push((p + (q - p) * f).cast());
                if let Some(colours) = &mut mesh.colours {
                    let (x, y) = (colours[a as usize], colours[b as usize]);
                    colours.push(
                        [0, 1, 2].map(|i| (f64::from(x[i]) + (f64::from(y[i]) - f64::from(x[i])) * f).round() as u8),
                    );
                }
                (mesh.points.len() - 1) as u32
            })
        };
        // Turn so that the odd corner out comes first.
        let odd = (0..3).find(|k| inside[*k] != inside[(k + 1) % 3] && inside[*k] != inside[(k + 2) % 3]).unwrap_or(0);
        let [a, b, c] = [0, 1, 2].map(|i| corners[(odd + i) % 3]);
        match kept {
            3 => triangles.push(corners),
            2 => {
                let (x, y) = (cut(a, b), cut(a, c));
                triangles.extend([[x, b, c], [x, c, y]]);
            }
            1 => triangles.push([a, cut(a, b), cut(a, c)]),
            _ => {}
        }
    }
    mesh.triangles = triangles;
    drop_unused_points(mesh);
    changed
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Adjacency;

    #[test]
    fn a_square_cut_aslant_keeps_the_area_it_should() {
        let p = |x: f32, y: f32| Point3::new(x, y, 0.0);
        let mut mesh = Mesh::new(vec![p(0., 0.), p(10., 0.), p(10., 10.), p(0., 10.)], vec![[0, 1, 2], [0, 2, 3]]);
        mesh.colours = Some(vec![[0; 3], [100; 3], [100; 3], [0; 3]]);
        clip_by_plane(&mut mesh, &Point3::new(4.0, 0.0, 0.0), &Vector3::new(1.0, 0.0, 0.0));
        assert!((mesh.area_mm2() - 60.0).abs() < 1e-4);
        assert_eq!(Adjacency::new(&mesh).boundary_loops(&mesh).len(), 1);
        for (p, c) in mesh.points.iter().zip(mesh.colours.as_ref().unwrap()) {
            assert!((f32::from(c[0]) - 10.0 * p.x).abs() <= 0.5);
        }
    }
}
