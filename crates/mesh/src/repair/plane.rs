//! Detection of the table, floor or wall that the scanned object stood on.

use nalgebra::{Matrix3, Point3, Vector3};
use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};

use crate::job::Every;
use crate::{Cancelled, Job, Mesh};

/// A flat part of the surface that carries the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct SupportPlane {
    /// A point on it.
    pub point: Point3<f64>,
    /// Unit normal, pointing to the object's side.
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
/// It counts as one only if it holds 8 % of the area, the rest lies on one side, the side that it faces, and a good
/// part of it lies beside the shadow of the rest. So neither a sole, nor a flat cut end, nor a flat back is taken for a
/// table.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn support_plane(mesh: &Mesh, job: &Job) -> Result<Option<SupportPlane>, Cancelled> {
    let Some((lo, hi)) = mesh.bounds() else { return Ok(None) };
    let size = (hi.cast::<f64>() - lo.cast::<f64>()).norm();
    let faces = Faces::of(mesh, (0.003 * size).clamp(1.0, 3.0));
    let Some(mut plane) = faces.most_held(job)? else { return Ok(None) };
    for _ in 0..3 {
        job.check()?;
        let Some(fitted) = faces.fit(&plane) else { return Ok(None) };
        plane = fitted;
    }
    let Some((plane, area_mm2, deviation_mm)) = faces.standing_on(plane) else { return Ok(None) };
    job.check()?;
    let heights: Vec<f64> = mesh.points.iter().map(|p| plane.height(&p.cast())).collect();
    let shadow = Shadow::new(mesh, &heights, &plane.normal, 2.0 * faces.tolerance, size / 120.0);
    job.check()?;
    let beside: f64 = (0..faces.middles.len())
        .filter(|t| plane.height(&faces.middles[*t]) < faces.tolerance && !shadow.covers(&faces.middles[*t]))
        .map(|t| 0.5 * faces.crosses[t].norm())
        .sum();
    if beside < BESIDE * area_mm2 {
        return Ok(None);
    }
    let height_mm = faces.tolerance.max(4.0 * deviation_mm);
    let triangles = mesh.triangles.iter().map(|c| c.iter().all(|v| heights[*v as usize] < height_mm)).collect();
    let point = Point3::from(plane.normal * plane.offset);
    Ok(Some(SupportPlane { point, normal: plane.normal, area_mm2, height_mm, triangles }))
}

/// The points p with normal · p = offset.
#[derive(Clone, Copy)]
struct Plane {
    normal: Vector3<f64>,
    offset: f64,
}

impl Plane {
    fn height(&self, p: &Point3<f64>) -> f64 {
        p.coords.dot(&self.normal) - self.offset
    }
}

/// The middles of the triangles and twice their areas along their normals.
struct Faces {
    middles: Vec<Point3<f64>>,
    crosses: Vec<Vector3<f64>>,
    total_mm2: f64,
    /// What is nearer to a plane than this lies on it, mm.
    tolerance: f64,
}

impl Faces {
    fn of(mesh: &Mesh, tolerance: f64) -> Self {
        let middle = |t: usize| {
            let [a, b, c] = mesh.corners(t).map(|p| p.coords.cast::<f64>());
            Point3::from((a + b + c) / 3.0)
        };
        let count = mesh.triangles.len();
        let crosses: Vec<Vector3<f64>> = (0..count).map(|t| mesh.cross(t)).collect();
        let total_mm2 = crosses.iter().map(|c| 0.5 * c.norm()).sum();
        Self { middles: (0..count).map(middle).collect(), crosses, total_mm2, tolerance }
    }

    /// Whether a triangle lies on a plane and along it.
    fn is_on(&self, t: usize, plane: &Plane) -> bool {
        plane.height(&self.middles[t]).abs() < self.tolerance
            && self.crosses[t].dot(&plane.normal).abs() > 0.7 * self.crosses[t].norm()
    }

    /// Of many planes through three sampled triangles the one that most samples lie on.
    fn most_held(&self, job: &Job) -> Result<Option<Plane>, Cancelled> {
        let samples = evenly_by_area(&self.crosses, self.total_mm2);
        if samples.len() < 100 {
            return Ok(None);
        }
        let mut best = (0, Plane { normal: Vector3::z(), offset: 0.0 });
        let mut random = Pcg64::seed_from_u64(0x7ab1e);
        let mut pick = || self.middles[samples[(random.next_u64() % samples.len() as u64) as usize]];
        let mut every = Every::new(job, 64);
        for _ in 0..TRIES {
            every.tick()?;
            let (a, b, c) = (pick(), pick(), pick());
            let Some(normal) = (b - a).cross(&(c - a)).try_normalize(1.0) else { continue };
            let plane = Plane { normal, offset: normal.dot(&a.coords) };
            let on = samples.iter().filter(|t| self.is_on(**t, &plane)).count();
            if on > best.0 {
                best = (on, plane);
            }
        }
        Ok(Some(best.1))
    }

    /// Least-squares plane through the triangles on a plane.
    fn fit(&self, plane: &Plane) -> Option<Plane> {
        let near = || (0..self.middles.len()).filter(|t| self.is_on(*t, plane));
        let area: f64 = near().map(|t| self.crosses[t].norm()).sum();
        if area <= 0.0 {
            return None;
        }
        let middle = near().map(|t| self.middles[t].coords * self.crosses[t].norm()).sum::<Vector3<f64>>() / area;
        let spread: Matrix3<f64> = near()
            .map(|t| {
                let off = self.middles[t].coords - middle;
                off * off.transpose() * self.crosses[t].norm()
            })
            .sum();
        let axes = spread.symmetric_eigen();
        let normal: Vector3<f64> = axes.eigenvectors.column(axes.eigenvalues.imin()).into_owned();
        let normal = if normal.dot(&plane.normal) < 0.0 { -normal } else { normal };
        Some(Plane { normal, offset: normal.dot(&middle) })
    }

    /// The plane turned towards what stands on it, its area in mm², and the root mean square height of that area in mm;
    /// `None` where too little is on it, things lie behind it, or it faces away from them.
    fn standing_on(&self, mut plane: Plane) -> Option<(Plane, f64, f64)> {
        let (mut area, mut facing, mut above, mut below, mut square) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (middle, cross) in self.middles.iter().zip(&self.crosses) {
            let (a, h) = (0.5 * cross.norm(), plane.height(middle));
            if h.abs() < self.tolerance {
                area += a;
                facing += 0.5 * cross.dot(&plane.normal);
                square += a * h * h;
            } else if h > 0.0 {
                above += a;
            } else {
                below += a;
            }
        }
        if below > above {
            plane = Plane { normal: -plane.normal, offset: -plane.offset };
            (above, below, facing) = (below, above, -facing);
        }
        let stands = area >= SHARE * self.total_mm2 && below <= BEHIND * (above + below) && facing >= 0.3 * area;
        stands.then(|| (plane, area, (square / area).sqrt()))
    }
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

/// Most cells of a [`Shadow`] along one axis: more than the box of a mesh has with cells of a 120th of its diagonal.
const MOST_CELLS: usize = 256;

/// The part of a plane that is hidden by what stands on it, seen along the normal.
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
        let [width, depth] = [0, 1].map(|i| (((high[i] - low[i]) / cell).ceil() as usize).min(MOST_CELLS) + 1);
        let mut found = Self { x, y, low, cell, width, dark: vec![false; width * depth] };
        for (p, h) in flat.iter().zip(heights) {
            if *h > above {
                // One cell around as well, so that no light falls between the points.
                let [i, j] = [0, 1].map(|k| (((p[k] - low[k]) / cell) as usize).min(MOST_CELLS));
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
        let [i, j] = [(self.x, self.low[0]), (self.y, self.low[1])]
            .map(|(axis, low)| (((p.coords.dot(&axis) - low) / self.cell) as usize).min(MOST_CELLS));
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
        let found = support_plane(&mesh, &Job::silent()).unwrap().expect("there is a table");
        assert!(found.normal.z > 0.9999 && (found.point.z + 100.0).abs() < 0.1);
        let limb_faces = &found.triangles[..limb.triangles.len()];
        assert!(limb_faces.iter().filter(|x| **x).count() < limb_faces.len() / 50);
        let table = &found.triangles[limb.triangles.len()..];
        assert!(table.iter().filter(|x| **x).count() > table.len() * 99 / 100);
    }

    #[test]
    fn a_closed_cut_end_and_a_plain_tube_are_no_table() {
        let limb = even_tube(40.0, 200.0, 3.0);
        for shape in [limb.clone(), with_table(&limb, 40.0, -100.0)] {
            assert!(support_plane(&shape.build(), &Job::silent()).unwrap().is_none());
        }
    }
}
