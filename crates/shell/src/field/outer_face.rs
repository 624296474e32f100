//! How far the outer face has to stand above the fair skin for the wall to be nowhere thinner than it was set.

use std::collections::BTreeMap;

use mesh::{Cancelled, Job, SpatialHash, Surface};
use nalgebra::{Point3, Vector3};

use super::near::Near;

/// Heights are blended over this distance, mm: the height changes no faster than over about half of it.
const REACH_MM: f32 = 36.0;
/// One height is kept for all vertices in a cube of this side that face one way, mm.
const CELL_MM: f32 = 4.0;
/// A cell counts where its normal turns from that of the place by less than about 70 degrees.
const FACES: f32 = 0.35;
/// Rounds of raising what is too low.
const ROUNDS: usize = 80;

/// The vertices in one cube that face one way.
struct Cell {
    at: Point3<f32>,
    normal: Vector3<f32>,
    /// Greatest height of the skin over its fair copy, mm.
    highest: f32,
    /// What goes into the blend here, mm.
    height: f32,
}

/// Sums over the vertices of a cell.
#[derive(Default)]
struct Sums {
    at: Vector3<f64>,
    normal: Vector3<f64>,
    count: f64,
    highest: f32,
}

impl Sums {
    fn cell(&self) -> Cell {
        let normal = self.normal.try_normalize(1e-12).unwrap_or_default().cast();
        let at = Point3::from((self.at / self.count).cast());
        Cell { at, normal, highest: self.highest, height: self.highest }
    }
}

/// For each vertex a height, mm, that changes gently and is nowhere below that of the skin over its fair copy.
///
/// A blend of heights kept in cells, each of which is raised for as long as the blend is too low in its middle. What is
/// then still too low at a vertex is added everywhere.
pub(super) fn above_fair(skin: &Surface, fair: &Surface, near: &Near, job: &Job) -> Result<Vec<f32>, Cancelled> {
    let (own, copy, normals) = (&skin.mesh().points, &fair.mesh().points, skin.vertex_normals());
    let over = |v: u32| (own[v as usize] - copy[v as usize]).dot(&normals[v as usize]);
    let at = |v: u32| (copy[v as usize], normals[v as usize]);
    let (blend, cells) = Blend::new(near.vertices.iter().map(|v| (at(*v), over(*v))), job)?;
    let found = job.each(near.vertices.len(), |i| {
        let (place, normal) = at(near.vertices[i]);
        blend.at(&place, &normal, cells[i]).max(f32::MIN)
    })?;
    let missing = near.vertices.iter().zip(&found).map(|(v, height)| over(*v) - height).fold(0.0, f32::max);
    let mut all = vec![0.0; own.len()];
    near.vertices.iter().zip(found).for_each(|(v, height)| all[*v as usize] = height + missing);
    Ok(all)
}

/// Heights in cells, blended.
struct Blend {
    cells: Vec<Cell>,
    /// For each cell those that can count at a place in it.
    beside: Vec<Vec<u32>>,
}

impl Blend {
    /// A blend of these points, each with its normal and how high it has to be at least, mm; and the cell of each.
    fn new(
        points: impl Iterator<Item = ((Point3<f32>, Vector3<f32>), f32)>,
        job: &Job,
    ) -> Result<(Self, Vec<u32>), Cancelled> {
        let mut sums: BTreeMap<[i32; 4], Sums> = BTreeMap::new();
        let mut keys = Vec::new();
        for ((p, normal), over) in points {
            let axis = normal.iamax();
            let [x, y, z] = [0, 1, 2].map(|k| (p[k] / CELL_MM).floor() as i32);
            let key = [x, y, z, 2 * axis as i32 + i32::from(normal[axis] > 0.0)];
            let sum = sums.entry(key).or_insert_with(|| Sums { highest: f32::NEG_INFINITY, ..Sums::default() });
            sum.at += p.coords.cast::<f64>();
            sum.normal += normal.cast::<f64>();
            sum.count += 1.0;
            sum.highest = sum.highest.max(over);
            keys.push(key);
        }
        let numbers: BTreeMap<[i32; 4], u32> = sums.keys().copied().zip(0..).collect();
        let cell_of = keys.iter().map(|key| numbers[key]).collect();
        let cells: Vec<Cell> = sums.values().map(Sums::cell).collect();
        // A place in a cell is no farther from the cell's mean than its corners are from each other.
        let reach = REACH_MM + 3.0_f32.sqrt() * CELL_MM;
        let hash = SpatialHash::of(reach, cells.iter().map(|cell| cell.at));
        let beside = job.each(cells.len(), |i| {
            let is_near = |j: &u32| (cells[*j as usize].at - cells[i].at).norm_squared() < reach * reach;
            hash.candidates(&cells[i].at).filter(is_near).collect()
        })?;
        let mut blend = Self { cells, beside };
        let weights: Vec<Vec<(u32, f32)>> = job.each(blend.cells.len(), |i| {
            let cell = &blend.cells[i];
            blend.near(&cell.at, &cell.normal, i as u32).collect()
        })?;
        // From the mean of the highest on, so that nothing is raised for a single bump far away.
        for round in 0..ROUNDS {
            let now = job.each(weights.len(), |i| blend.mean(weights[i].iter().copied()))?;
            for (cell, now) in blend.cells.iter_mut().zip(now) {
                cell.height = if round == 0 { now } else { cell.height + (cell.highest - now).max(0.0) };
            }
        }
        Ok((blend, cell_of))
    }

    /// The blend at a place in a cell whose skin has this normal.
    fn at(&self, place: &Point3<f32>, normal: &Vector3<f32>, cell: u32) -> f32 {
        self.mean(self.near(place, normal, cell))
    }

    /// The cells that count there, with their weights.
    fn near(&self, place: &Point3<f32>, normal: &Vector3<f32>, cell: u32) -> impl Iterator<Item = (u32, f32)> {
        self.beside[cell as usize].iter().filter_map(move |i| {
            let cell = &self.cells[*i as usize];
            let r2 = (cell.at - place).norm_squared() / (REACH_MM * REACH_MM);
            (r2 < 1.0 && cell.normal.dot(normal) > FACES).then(|| (*i, (1.0 - r2).powi(3)))
        })
    }

    /// The mean of the heights of these cells by their weights.
    fn mean(&self, cells: impl Iterator<Item = (u32, f32)>) -> f32 {
        let (sum, weights) = cells.fold((0.0, 0.0), |(sum, weights), (i, weight)| {
            (sum + weight * self.cells[i as usize].height, weights + weight)
        });
        if weights > 0.0 { sum / weights } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample_skins::{Rough, tube};

    #[test]
    fn the_height_is_nowhere_below_the_skin_and_changes_gently() {
        let skin = tube(40.0, 80.0, 1.0, Rough { uneven: 0.0, noise_mm: 0.1 });
        let fair = skin.fair(25.0, &Job::silent()).unwrap();
        let near = Near::find(&skin, &vec![1.0; skin.mesh().points.len()]);
        let heights = above_fair(&skin, &fair, &near, &Job::silent()).unwrap();
        let mut total = 0.0;
        for (v, height) in heights.iter().enumerate() {
            let over = (skin.mesh().points[v] - fair.mesh().points[v]).dot(&skin.vertex_normals()[v]);
            assert!(*height >= over - 1e-4, "{height} under {over}");
            total += height;
        }
        // Of 20 000 points with noise of 0.1 mm the highest is about four times as high.
        assert!(total / (heights.len() as f32) < 0.5, "{}", total / heights.len() as f32);
        for corners in &skin.mesh().triangles {
            let [a, b, c] = corners.map(|v| heights[v as usize]);
            assert!((a - b).abs().max((b - c).abs()) < 0.02, "{a} {b} {c}");
        }
    }
}
