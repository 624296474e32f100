//! Finding the table, floor or wall on which a scanned thing stood.

use nalgebra::{Matrix3, Point3, Vector3};
use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};

use crate::Mesh;

/// A flat part of the surface that carries the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct SupportPlane {
    /// A point on it.
    pub point: Point3<f64>,
    /// Unit normal, towards what stands on it.
    pub normal: Vector3<f64>,
    /// Area of it that was scanned, mm².
    pub area_mm2: f64,
    /// Points up to this height count as part of it, mm.
    pub height_mm: f64,
    /// For each triangle whether it belongs to the plane or lies behind it.
    pub triangles: Vec<bool>,
}

/// Least part of the whole area that a plane must have.
const SHARE: f64 = 0.08;
/// Most of the rest that may lie behind the plane.
const BEHIND: f64 = 0.03;
/// Least part of the plane that must lie beside the shadow of the rest: a sole or a closed cut end has none.
const BESIDE: f64 = 0.35;
const TRIES: usize = 4000;
const SAMPLES: usize = 1500;

/// Looks for a support plane by random sampling (Fischler and Bolles 1981, with a fixed seed) and tests it.
///
/// It counts as one only if it holds 8 % of the area, the rest lies on one side, the side that it faces, and a good part of
/// it lies beside the shadow of the rest. So neither a sole, nor a flat cut end, nor a flat back is taken for a table.
#[must_use]
pub fn support_plane(mesh: &Mesh) -> Option<SupportPlane> {
    let (lo, hi) = mesh.bounds()?;
    let size = f64::from((hi - lo).norm());
    let tolerance = (0.003 * size).clamp(1.0, 3.0);
    let middles: Vec<Point3<f64>> = (0..mesh.triangles.len())
        .map(|t| {
            let [a, b, c] = mesh.corners(t).map(|p| p.coords.cast::<f64>());
            Point3::from((a + b + c) / 3.0)
        })
        .collect();
    let crosses: Vec<Vector3<f64>> = (0..mesh.triangles.len()).map(|t| mesh.cross(t)).collect();
    let total: f64 = crosses.iter().map(|c| 0.5 * c.norm()).sum();
    let samples = evenly_by_area(&crosses, total);
    if samples.len() < 100 {
        return None;
    }
    let mut best = (0, Vector3::z(), 0.0);
    let mut random = Pcg64::seed_from_u64(0x7ab1e);
    let mut pick = || middles[samples[(random.next_u64() % samples.len() as u64) as usize]];
    for _ in 0..TRIES {
        let (a, b, c) = (pick(), pick(), pick());
        let Some(n) = (b - a).cross(&(c - a)).try_normalize(1.0) else { continue };
        let offset = n.dot(&a.coords);
        let on = samples
            .iter()
            .filter(|t| {
                (middles[**t].coords.dot(&n) - offset).abs() < tolerance
                    && crosses[**t].dot(&n).abs() > 0.7 * crosses[**t].norm()
            })
            .count();
        if on > best.0 {
            best = (on, n, offset);
        }
    }
    let (_, mut normal, mut offset) = best;
    for _ in 0..3 {
        (normal, offset) = fit(&middles, &crosses, normal, offset, tolerance)?;
    }

    let on = |t: usize| (middles[t].coords.dot(&normal) - offset).abs() < tolerance;
    let (mut area, mut facing, mut above, mut below, mut square) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for t in 0..middles.len() {
        let a = 0.5 * crosses[t].norm();
        let h = middles[t].coords.dot(&normal) - offset;
        if on(t) {
            area += a;
            facing += 0.5 * crosses[t].dot(&normal);
            square += a * h * h;
        } else if h > 0.0 {
            above += a;
        } else {
            below += a;
        }
    }
    if below > above {
        (normal, offset, facing) = (-normal, -offset, -facing);
        (above, below) = (below, above);
    }
    if area < SHARE * total || below > BEHIND * (above + below) || facing < 0.3 * area {
        return None;
    }
    let heights: Vec<f64> = mesh.points.iter().map(|p| p.coords.cast::<f64>().dot(&normal) - offset).collect();
    let shadow = Shadow::new(mesh, &heights, &normal, 2.0 * tolerance, size / 120.0);
    let beside: f64 = (0..middles.len())
        .filter(|t| middles[*t].coords.dot(&normal) - offset < tolerance && !shadow.covers(&middles[*t]))
        .map(|t| 0.5 * crosses[t].norm())
        .sum();
    if beside < BESIDE * area {
        return None;
    }
    let height = tolerance.max(4.0 * (square / area).sqrt());
    let triangles = mesh.triangles.iter().map(|c| c.iter().all(|v| heights[*v as usize] < height)).collect();
    Some(SupportPlane { point: Point3::from(normal * offset), normal, area_mm2: area, height_mm: height, triangles })
}

/// Triangles at even steps of area.
fn evenly_by_area(crosses: &[Vector3<f64>], total: f64) -> Vec<usize> {
    let step = total / SAMPLES as f64;
    let mut found = Vec::with_capacity(SAMPLES);
    let mut sum = 0.5 * step;
    for (t, c) in crosses.iter().enumerate() {
        sum += 0.5 * c.norm();
        if step > 0.0 && sum >= step {
            found.push(t);
            sum %= step;
        }
    }
    found
}

/// Least-squares plane through the triangles near a plane.
fn fit(
    middles: &[Point3<f64>],
    crosses: &[Vector3<f64>],
    normal: Vector3<f64>,
    offset: f64,
    tolerance: f64,
) -> Option<(Vector3<f64>, f64)> {
    let near = || {
        middles.iter().zip(crosses).filter(|(p, c)| {
            (p.coords.dot(&normal) - offset).abs() < tolerance && c.dot(&normal).abs() > 0.7 * c.norm()
        })
    };
    let area: f64 = near().map(|(_, c)| c.norm()).sum();
    if area <= 0.0 {
        return None;
    }
    let middle = near().map(|(p, c)| p.coords * c.norm()).sum::<Vector3<f64>>() / area;
    let spread: Matrix3<f64> =
        near().map(|(p, c)| (p.coords - middle) * (p.coords - middle).transpose() * c.norm()).sum();
    let axes = spread.symmetric_eigen();
    let n: Vector3<f64> = axes.eigenvectors.column(axes.eigenvalues.imin()).into_owned();
    let n = if n.dot(&normal) < 0.0 { -n } else { n };
    Some((n, n.dot(&middle)))
}

/// Where what stands on a plane hides it, seen along the normal.
struct Shadow {
    x: Vector3<f64>,
    y: Vector3<f64>,
    low: [f64; 2],
    cell: f64,
    width: usize,
    dark: Vec<bool>,
}

impl Shadow {
    fn new(mesh: &Mesh, heights: &[f64], normal: &Vector3<f64>, above: f64, cell: f64) -> Self {
        let x = normal.cross(&Vector3::ith(normal.iamin(), 1.0)).normalize();
        let y = normal.cross(&x);
        let flat: Vec<[f64; 2]> =
            mesh.points.iter().map(|p| p.coords.cast::<f64>()).map(|p| [p.dot(&x), p.dot(&y)]).collect();
        let low = [0, 1].map(|i| flat.iter().map(|p| p[i]).fold(f64::INFINITY, f64::min) - cell);
        let high = [0, 1].map(|i| flat.iter().map(|p| p[i]).fold(f64::NEG_INFINITY, f64::max) + 2.0 * cell);
        let [width, depth] = [0, 1].map(|i| ((high[i] - low[i]) / cell).ceil() as usize + 1);
        let mut found = Self { x, y, low, cell, width, dark: vec![false; width * depth] };
        for (p, h) in flat.iter().zip(heights) {
            if *h > above {
                // One cell around as well, so that no light falls between the points.
                let [i, j] = [0, 1].map(|k| ((p[k] - low[k]) / cell) as usize);
                for j in j.saturating_sub(1)..(j + 2).min(depth) {
                    for i in i.saturating_sub(1)..(i + 2).min(width) {
                        found.dark[j * width + i] = true;
                    }
                }
            }
        }
        found.fill_inside(depth);
        found
    }

    /// Darkens what light from beside cannot reach: the inside of a standing tube.
    fn fill_inside(&mut self, depth: usize) {
        let width = self.width;
        let mut light = vec![false; self.dark.len()];
        let mut stack: Vec<usize> = (0..self.dark.len())
            .filter(|c| c % width == 0 || c % width == width - 1 || c / width == 0 || c / width == depth - 1)
            .collect();
        while let Some(c) = stack.pop() {
            if light[c] || self.dark[c] {
                continue;
            }
            light[c] = true;
            let (i, j) = (c % width, c / width);
            stack.extend((i > 0).then(|| c - 1));
            stack.extend((i + 1 < width).then(|| c + 1));
            stack.extend((j > 0).then(|| c - width));
            stack.extend((j + 1 < depth).then(|| c + width));
        }
        for (dark, light) in self.dark.iter_mut().zip(light) {
            *dark = !light;
        }
    }

    fn covers(&self, p: &Point3<f64>) -> bool {
        let i = ((p.coords.dot(&self.x) - self.low[0]) / self.cell) as usize;
        let j = ((p.coords.dot(&self.y) - self.low[1]) / self.cell) as usize;
        self.dark.get(j * self.width + i).copied().unwrap_or(false)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use test_shapes::{Shape, even_tube, plane};

    /// What stands with its lower end at `height` on a table of 2 · `half` mm about the z axis.
    fn with_table(standing: &Shape, half: f32, height: f32) -> Shape {
        let squares = (half / 2.0) as u32;
        standing.clone().and(&plane(squares, squares, 4.0).moved([-half, -half, height]))
    }

    #[test]
    fn a_table_under_a_standing_limb_is_found_and_the_limb_is_not_touched() {
        let limb = even_tube(40.0, 200.0, 3.0);
        let mesh: Mesh = with_table(&limb, 100.0, -100.0).noisy(0.3, 3).build();
        let found = support_plane(&mesh).expect("there is a table");
        assert!(found.normal.z > 0.9999 && (found.point.z + 100.0).abs() < 0.1);
        let limb_faces = &found.triangles[..limb.triangles.len()];
        assert!(limb_faces.iter().filter(|x| **x).count() < limb_faces.len() / 50);
        let table = &found.triangles[limb.triangles.len()..];
        assert!(table.iter().filter(|x| **x).count() > table.len() * 99 / 100);
    }

    #[test]
    fn a_closed_cut_end_and_a_plain_tube_are_no_table() {
        let limb = even_tube(40.0, 200.0, 3.0);
        assert!(support_plane(&limb.clone().build()).is_none());
        assert!(support_plane(&with_table(&limb, 40.0, -100.0).build()).is_none());
    }
}
