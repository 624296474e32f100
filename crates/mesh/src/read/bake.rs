//! From a picture laid over a mesh to a colour at each point.

use super::scan_file::Texture;
use crate::Mesh;
use nalgebra::Point3;
use std::collections::HashMap;

/// Cutting stops before a mesh has more triangles than this.
const MOST_TRIANGLES: usize = 8_000_000;

impl Texture {
    /// A copy of `mesh` with point colours from the picture.
    ///
    /// Triangles are cut at the middle of each edge longer than `longest_edge` (in the unit of the mesh) until
    /// none is left, so that the picture's detail finds points to sit on; neighbours are cut alike, so no crack
    /// opens, and the surface itself does not change. Colours are smoothed between the four nearest pixels; a
    /// point where picture coordinates differ (a seam) gets the average. Cutting stops at eight million triangles.
    ///
    /// `mesh` must be the mesh that this picture came with: where the number of triangles differs, or
    /// `longest_edge` is not a positive number, nothing is cut, and in the first case nothing is coloured either.
    #[must_use]
    pub fn bake(&self, mesh: &Mesh, longest_edge: f32) -> Mesh {
        if self.uv.len() != mesh.triangles.len() || self.pixels.len() < self.width as usize * self.height as usize {
            return mesh.clone();
        }
        let mut out = Mesh::new(mesh.points.clone(), mesh.triangles.clone());
        let mut uv = self.uv.clone();
        if longest_edge > 0.0 {
            while cut_once(&mut out, &mut uv, longest_edge) {}
        }
        let mut sums = vec![([0.0_f32; 3], 0.0_f32); out.points.len()];
        for (corners, uv) in out.triangles.iter().zip(&uv) {
            for (v, uv) in corners.iter().zip(uv) {
                let Some(colour) = self.at(*uv) else { continue };
                let (sum, count) = &mut sums[*v as usize];
                for k in 0..3 {
                    sum[k] += colour[k];
                }
                *count += 1.0;
            }
        }
        let average = |(i, (sum, count)): (usize, &([f32; 3], f32))| {
            if *count > 0.0 {
                sum.map(|s| (s / count).round() as u8)
            } else {
                mesh.colours.as_ref().and_then(|c| c.get(i)).copied().unwrap_or([255; 3])
            }
        };
        out.colours = Some(sums.iter().enumerate().map(average).collect());
        out
    }

    /// Colour at picture coordinates, smoothed between pixels; outside 0..1 the picture repeats.
    fn at(&self, uv: [f32; 2]) -> Option<[f32; 3]> {
        if !uv.iter().all(|v| v.is_finite()) || self.width == 0 || self.height == 0 {
            return None;
        }
        let [u, v] = uv.map(|v| if (0.0..=1.0).contains(&v) { v } else { v.rem_euclid(1.0) });
        let along = |place: f32, size: u32| {
            let place = (place * size as f32 - 0.5).clamp(0.0, (size - 1) as f32);
            let low = place.floor();
            (low as usize, (low as usize + 1).min(size as usize - 1), place - low)
        };
        let (left, right, x) = along(u, self.width);
        let (top, bottom, y) = along(1.0 - v, self.height);
        let pixel = |x: usize, y: usize| self.pixels[y * self.width as usize + x].map(f32::from);
        let between = |a: [f32; 3], b: [f32; 3], t: f32| [0, 1, 2].map(|k| a[k] + (b[k] - a[k]) * t);
        let upper = between(pixel(left, top), pixel(right, top), x);
        let lower = between(pixel(left, bottom), pixel(right, bottom), x);
        Some(between(upper, lower, y))
    }
}

/// Cuts every edge longer than `longest` at its middle, once; false where there was none or the mesh grew too large.
fn cut_once(mesh: &mut Mesh, uv: &mut Vec<[[f32; 2]; 3]>, longest: f32) -> bool {
    // Numbered in the order in which the triangles come; the map is asked, never walked.
    let mut middles: HashMap<(u32, u32), u32> = HashMap::new();
    let mut marks: Vec<[Option<u32>; 3]> = Vec::with_capacity(mesh.triangles.len());
    let limit = f64::from(longest).powi(2);
    for t in 0..mesh.triangles.len() {
        let corners = mesh.triangles[t];
        marks.push([0, 1, 2].map(|k| {
            let (a, b) = (corners[k].min(corners[(k + 1) % 3]), corners[k].max(corners[(k + 1) % 3]));
            let (p, q) = (mesh.points[a as usize], mesh.points[b as usize]);
            let length = (q.cast::<f64>() - p.cast::<f64>()).norm_squared();
            let middle: Point3<f32> = nalgebra::center(&p, &q);
            // An edge between neighbouring numbers has no middle of its own.
            (length > limit && middle != p && middle != q).then(|| {
                *middles.entry((a, b)).or_insert_with(|| {
                    mesh.points.push(middle);
                    mesh.points.len() as u32 - 1
                })
            })
        }));
    }
    let grown = mesh.triangles.len() + marks.iter().flatten().flatten().count();
    if middles.is_empty() || grown > MOST_TRIANGLES {
        mesh.points.truncate(mesh.points.len() - middles.len());
        return false;
    }
    let mut triangles = Vec::with_capacity(grown);
    let mut coordinates = Vec::with_capacity(grown);
    for (t, mark) in marks.iter().enumerate() {
        let (v, w) = (mesh.triangles[t], uv[t]);
        let half = |k: usize| [0, 1].map(|i| 0.5 * (w[k][i] + w[(k + 1) % 3][i]));
        let mut push = |corners: [(u32, [f32; 2]); 3]| {
            triangles.push(corners.map(|c| c.0));
            coordinates.push(corners.map(|c| c.1));
        };
        // Turned so that the pattern of cut edges starts at corner `r`.
        let corner = |k: usize| (v[k % 3], w[k % 3]);
        let middle = |k: usize| mark[k % 3].map(|m| (m, half(k % 3)));
        match mark.iter().flatten().count() {
            0 => push([corner(0), corner(1), corner(2)]),
            1 => {
                let r = mark.iter().position(Option::is_some).unwrap_or(0);
                if let Some(m) = middle(r) {
                    push([corner(r), m, corner(r + 2)]);
                    push([m, corner(r + 1), corner(r + 2)]);
                }
            }
            2 => {
                // Edge r + 2 is whole; the tip between the two cut ones is corner r + 1.
                let whole = mark.iter().position(Option::is_none).unwrap_or(0);
                let r = whole + 1;
                if let (Some(m), Some(n)) = (middle(r), middle(r + 1)) {
                    push([m, corner(r + 1), n]);
                    push([corner(r), m, n]);
                    push([corner(r), n, corner(r + 2)]);
                }
            }
            _ => {
                if let (Some(l), Some(m), Some(n)) = (middle(0), middle(1), middle(2)) {
                    push([corner(0), l, n]);
                    push([l, corner(1), m]);
                    push([n, m, corner(2)]);
                    push([l, m, n]);
                }
            }
        }
    }
    mesh.triangles = triangles;
    *uv = coordinates;
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Adjacency;

    /// Red grows to the right, green upwards, over 64 × 64 pixels.
    fn ramp() -> Vec<[u8; 3]> {
        (0..64 * 64).map(|i| [(i % 64) as u8 * 4, 252 - (i / 64) as u8 * 4, 9]).collect()
    }

    fn square() -> (Mesh, Texture) {
        let corner = |x: f32, y: f32| Point3::new(100.0 * x, 100.0 * y, 0.0);
        let mesh =
            Mesh::new(vec![corner(0., 0.), corner(1., 0.), corner(1., 1.), corner(0., 1.)], vec![[0, 1, 2], [0, 2, 3]]);
        let uv = mesh
            .triangles
            .iter()
            .map(|t| t.map(|v| [mesh.points[v as usize].x / 100.0, mesh.points[v as usize].y / 100.0]));
        let uv = uv.collect();
        (mesh, Texture { width: 64, height: 64, pixels: ramp(), uv })
    }

    #[test]
    fn a_ramp_lands_where_it_belongs_without_cracks() {
        let (mesh, texture) = square();
        let baked = texture.bake(&mesh, 7.0);
        assert!((baked.area_mm2() - 10_000.0).abs() < 1e-6);
        let adjacency = Adjacency::new(&baked);
        assert_eq!(
            (adjacency.crowded_edges, adjacency.flipped_edges, adjacency.boundary_loops(&baked).len()),
            (0, 0, 1)
        );
        for t in &baked.triangles {
            for k in 0..3 {
                let (a, b) = (baked.points[t[k] as usize], baked.points[t[(k + 1) % 3] as usize]);
                assert!((b - a).norm() <= 7.0);
            }
        }
        for (p, colour) in baked.points.iter().zip(baked.colours.as_ref().unwrap()) {
            // A pixel is 100 / 64 wide and a step of 4; its colour sits in its middle.
            let expected = |x: f32| ((x * 0.64 - 0.5) * 4.0).clamp(0.0, 252.0);
            assert!((f32::from(colour[0]) - expected(p.x)).abs() <= 0.51, "{p} {colour:?}");
            assert!((f32::from(colour[1]) - expected(p.y)).abs() <= 0.51, "{p} {colour:?}");
            assert_eq!(colour[2], 9);
        }
    }

    #[test]
    fn a_seam_gets_the_average_and_a_foreign_mesh_is_left_alone() {
        let (mesh, mut texture) = square();
        texture.uv[0] = [[0.5 / 64.0, 0.5]; 3];
        texture.uv[1] = [[10.5 / 64.0, 0.5]; 3];
        let baked = texture.bake(&mesh, 1e9);
        let red: Vec<u8> = baked.colours.as_ref().unwrap().iter().map(|c| c[0]).collect();
        assert_eq!(red, [20, 0, 20, 40]);
        texture.uv.pop();
        assert_eq!(texture.bake(&mesh, 1.0), mesh);
    }
}
