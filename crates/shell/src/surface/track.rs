//! Follows the zero set of a function from cell to cell, sampling only the grid points it needs.
//!
//! Cells are kept in blocks of 16³. A wave of blocks is worked through in parallel, each block flooding over its own
//! crossing cells from the cells where the surface comes in and handing on the cells where it leaves; the next wave
//! takes those up. Sampled points, crossings and numbering depend on the function and grid alone, so the mesh is the
//! same to the byte on any number of threads.

use mesh::{Cancelled, Job, Mesh};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::cells::{CORNERS, CellTable, EDGES};

/// Cells along one side of a block.
const SIDE: usize = 16;
const CELLS: usize = SIDE * SIDE * SIDE;
/// Grid points along one side of a block: one more, shared with the next block.
const POINTS: usize = SIDE + 1;
/// Crossings are kept this far (as a share of the edge) from grid points, so that no triangle degenerates in f32.
const MARGIN: f32 = 0.02;
/// A crossing is good once the function is this small, mm on a grid of half a millimetre; more on coarser grids, whose
/// triangles lie farther off between the crossings.
const CLOSE_MM: f32 = 1e-3;
/// Once it is so many times that, a last step along the chord is taken unasked: what is left is a small share of it.
const NEARLY: f32 = 5.0;
const NO_VERTEX: u32 = u32::MAX;

/// Where the function is sampled: multiples of the voxel within a box.
#[derive(Debug, Clone, Copy)]
pub struct Grid {
    voxel_mm: f32,
    first: [i32; 3],
    blocks: [usize; 3],
}

/// What was found, and at what cost.
#[derive(Debug, Clone, PartialEq)]
pub struct Tracked {
    /// The zero set.
    pub mesh: Mesh,
    /// Grid points at which the function was asked; those on the border of two blocks count twice.
    pub grid_samples: usize,
}

/// The surface could not be followed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum TrackError {
    /// The surface runs out of the box.
    #[error("the surface leaves its box near x {:.0}, y {:.0}, z {:.0} mm", .0.x, .0.y, .0.z)]
    LeavesBox(Point3<f32>),
    /// Stopped on request.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl Grid {
    /// A grid that covers the box from `lo` to `hi`.
    #[must_use]
    pub fn new(lo: Point3<f32>, hi: Point3<f32>, voxel_mm: f32) -> Self {
        let block_mm = voxel_mm * SIDE as f32;
        let first = lo.coords.map(|x| (x / block_mm).floor() as i32);
        let last = hi.coords.map(|x| (x / block_mm).floor() as i32);
        Self { voxel_mm, first: first.into(), blocks: [0, 1, 2].map(|k| (last[k] - first[k] + 1) as usize) }
    }

    fn block_number(&self, block: [i32; 3]) -> Option<usize> {
        let mut number = 0;
        for k in (0..3).rev() {
            let i = usize::try_from(block[k] - self.first[k]).ok().filter(|i| *i < self.blocks[k])?;
            number = number * self.blocks[k] + i;
        }
        Some(number)
    }

    fn block_at(&self, number: usize) -> [i32; 3] {
        let [nx, ny, _] = self.blocks;
        [number % nx, number / nx % ny, number / nx / ny]
            .map(|i| i as i32)
            .iter()
            .zip(self.first)
            .map(|(i, first)| i + first)
            .collect::<Vec<_>>()
            .try_into()
            .unwrap_or_default()
    }

    fn point(&self, at: [i32; 3]) -> Point3<f32> {
        Point3::from(at.map(|i| (f64::from(i) * f64::from(self.voxel_mm)) as f32))
    }

    /// The block and cell that hold `p`.
    fn cell_of(&self, p: &Point3<f32>) -> Option<(usize, u16)> {
        let at = [0, 1, 2].map(|k| (p[k] / self.voxel_mm).floor() as i32);
        split(at).and_then(|(block, cell)| Some((self.block_number(block)?, cell)))
    }
}

/// Block and cell within it of a grid position.
fn split(at: [i32; 3]) -> Option<([i32; 3], u16)> {
    let side = SIDE as i32;
    let block = at.map(|i| i.div_euclid(side));
    let [x, y, z] = at.map(|i| i.rem_euclid(side) as u16);
    Some((block, x + SIDE as u16 * (y + SIDE as u16 * z)))
}

fn slot_of(local: [usize; 3]) -> usize {
    local[0] + POINTS * (local[1] + POINTS * local[2])
}

fn position(cell: u16) -> [usize; 3] {
    let c = cell as usize;
    [c % SIDE, c / SIDE % SIDE, c / SIDE / SIDE]
}

struct Block {
    at: [i32; 3],
    values: Vec<f32>,
    /// Hint that came with each value, the seed of questions nearby.
    hints: Vec<u32>,
    /// Sign pattern of visited cells that the surface crosses; 0 elsewhere.
    patterns: Vec<u8>,
    visited: [u64; CELLS / 64],
    /// Number of the first vertex on the three edges from the lowest corner of each crossing cell.
    first_vertex: Vec<u32>,
}

impl Block {
    fn new(at: [i32; 3]) -> Self {
        Self {
            at,
            values: vec![f32::NAN; POINTS * POINTS * POINTS],
            hints: vec![0; POINTS * POINTS * POINTS],
            patterns: vec![0; CELLS],
            visited: [0; CELLS / 64],
            first_vertex: Vec::new(),
        }
    }

    fn grid_position(&self, local: [usize; 3]) -> [i32; 3] {
        [0, 1, 2].map(|k| self.at[k] * SIDE as i32 + local[k] as i32)
    }

    /// The value at a grid point; `hint` is taken where it has to be worked out, and made that of this point.
    fn sample<F>(&mut self, grid: &Grid, f: &F, local: [usize; 3], hint: &mut Option<u32>) -> f32
    where
        F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32),
    {
        let slot = slot_of(local);
        if self.values[slot].is_nan() {
            let (value, near) = f(&grid.point(self.grid_position(local)), *hint);
            // A function without a value there counts as outside.
            self.values[slot] = if value.is_nan() { f32::INFINITY } else { value };
            self.hints[slot] = near;
        }
        *hint = Some(self.hints[slot]);
        self.values[slot]
    }

    /// Floods from `seeds`; returns the cells of other blocks that the surface goes on to, as grid positions.
    fn flood<F>(&mut self, grid: &Grid, f: &F, seeds: &[u16]) -> Vec<[i32; 3]>
    where
        F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32),
    {
        let mut out = Vec::new();
        let mut last = None;
        let mut stack = seeds.to_vec();
        while let Some(cell) = stack.pop() {
            let (word, bit) = (cell as usize / 64, 1_u64 << (cell % 64));
            if self.visited[word] & bit != 0 {
                continue;
            }
            self.visited[word] |= bit;
            let base = position(cell);
            let mut pattern = 0_u8;
            let corner_at = |c: usize| [base[0] + (c & 1), base[1] + (c >> 1 & 1), base[2] + (c >> 2 & 1)];
            let known = (0..CORNERS).map(|c| slot_of(corner_at(c))).find(|slot| !self.values[*slot].is_nan());
            let mut hint = known.map(|slot| self.hints[slot]).or(last);
            for corner in 0..CORNERS {
                if self.sample(grid, f, corner_at(corner), &mut hint) < 0.0 {
                    pattern |= 1 << corner;
                }
            }
            last = hint;
            if pattern == 0 || pattern == 255 {
                continue;
            }
            self.patterns[cell as usize] = pattern;
            for axis in 0..3 {
                for (up, corners) in FACE_CORNERS[axis].iter().enumerate() {
                    let on_face = pattern & corners;
                    if on_face == 0 || on_face == *corners {
                        continue;
                    }
                    let mut next = base.map(|i| i as i32);
                    next[axis] += if up == 1 { 1 } else { -1 };
                    if (0..SIDE as i32).contains(&next[axis]) {
                        stack.push((next[0] + SIDE as i32 * (next[1] + SIDE as i32 * next[2])) as u16);
                    } else {
                        out.push([0, 1, 2].map(|k| self.at[k] * SIDE as i32 + next[k]));
                    }
                }
            }
        }
        out
    }
}

/// Corner sets of the lower and upper face across each axis.
const FACE_CORNERS: [[u8; 2]; 3] = [[0b0101_0101, 0b1010_1010], [0b0011_0011, 0b1100_1100], [0b0000_1111, 0b1111_0000]];

/// Which of the three edges from a cell's lowest corner the surface crosses, as bits.
fn own_edges(pattern: u8) -> u8 {
    let lowest = pattern & 1;
    (0..3).filter(|axis| pattern >> (1 << axis) & 1 != lowest).fold(0, |bits, axis| bits | 1 << axis)
}

/// The zero set of `f` (negative inside) through the cells near `seeds`, as a closed mesh facing outward.
///
/// A seed counts where the cell that holds it is crossed; one for each piece of the surface is enough.
/// `f` takes a point and a hint, and returns its value and the hint for points nearby; hints must not change values.
/// The result is closed and each edge joins two triangles, because every cell draws its faces by their signs alone.
///
/// # Errors
/// [`TrackError`] where the surface leaves the grid, or on cancel (looked at once a wave and block).
pub fn track<F>(grid: &Grid, f: &F, seeds: &[Point3<f32>], job: &Job) -> Result<Tracked, TrackError>
where
    F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32) + Sync,
{
    let mut blocks: Vec<Option<Box<Block>>> = Vec::new();
    blocks.resize_with(grid.blocks.iter().product(), || None);
    // Cells to flood from in each block.
    let mut wave: Vec<Vec<u16>> = vec![Vec::new(); blocks.len()];
    for (block, cell) in seeds.iter().filter_map(|p| grid.cell_of(p)) {
        // Points follow each other on the skin: many in one cell.
        if wave[block].last() != Some(&cell) {
            wave[block].push(cell);
        }
    }
    while wave.iter().any(|cells| !cells.is_empty()) {
        job.check()?;
        let work: Vec<(usize, Box<Block>, Vec<u16>)> = wave
            .iter_mut()
            .enumerate()
            .filter(|(_, seeds)| !seeds.is_empty())
            .map(|(n, seeds)| {
                let block = blocks[n].take().unwrap_or_else(|| Box::new(Block::new(grid.block_at(n))));
                (n, block, std::mem::take(seeds))
            })
            .collect();
        let done: Vec<(usize, Box<Block>, Vec<[i32; 3]>)> = work
            .into_par_iter()
            .map(|(n, mut block, seeds)| {
                let out = if job.check().is_ok() { block.flood(grid, f, &seeds) } else { Vec::new() };
                (n, block, out)
            })
            .collect();
        for (n, block, out) in done {
            blocks[n] = Some(block);
            for at in out {
                let there = split(at).and_then(|(b, cell)| Some((grid.block_number(b)?, cell)));
                let Some((block, cell)) = there else { return Err(TrackError::LeavesBox(grid.point(at))) };
                wave[block].push(cell);
            }
        }
        for (cells, block) in wave.iter_mut().zip(&blocks) {
            cells.sort_unstable();
            cells.dedup();
            if let Some(block) = block {
                cells.retain(|c| block.visited[*c as usize / 64] >> (c % 64) & 1 == 0);
            }
        }
    }
    job.check()?;
    Ok(assemble(grid, f, blocks))
}

fn assemble<F>(grid: &Grid, f: &F, mut blocks: Vec<Option<Box<Block>>>) -> Tracked
where
    F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32) + Sync,
{
    let mut vertices = 0_u32;
    for block in blocks.iter_mut().flatten() {
        block.first_vertex = vec![NO_VERTEX; CELLS];
        for (first, pattern) in block.first_vertex.iter_mut().zip(&block.patterns) {
            if *pattern != 0 {
                *first = vertices;
                vertices += own_edges(*pattern).count_ones();
            }
        }
    }
    let points: Vec<Vec<Point3<f32>>> = blocks.par_iter().flatten().map(|block| crossings(grid, f, block)).collect();
    let table = CellTable::new();
    let triangles: Vec<Vec<[u32; 3]>> =
        blocks.par_iter().flatten().map(|block| triangles(grid, &blocks, block, &table)).collect();
    let grid_samples =
        blocks.par_iter().flatten().map(|block| block.values.iter().filter(|v| !v.is_nan()).count()).sum();
    Tracked { mesh: Mesh::new(points.concat(), triangles.concat()), grid_samples }
}

/// Points where the surface crosses the edges that belong to the block's cells, in order.
fn crossings<F>(grid: &Grid, f: &F, block: &Block) -> Vec<Point3<f32>>
where
    F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32),
{
    let mut points = Vec::new();
    let close_mm = CLOSE_MM * (2.0 * grid.voxel_mm).max(1.0);
    for (cell, pattern) in block.patterns.iter().enumerate() {
        let edges = own_edges(*pattern);
        for axis in (0..3).filter(|axis| edges >> axis & 1 == 1) {
            let local = position(cell as u16);
            let slot = slot_of(local);
            let step = [1, POINTS, POINTS * POINTS][axis];
            let from = grid.point(block.grid_position(local));
            let mut along = Vector3::zeros();
            along[axis] = grid.voxel_mm;
            let values = [block.values[slot], block.values[slot + step]];
            let nearer = if values[0].abs() <= values[1].abs() { slot } else { slot + step };
            points.push(root(f, from, along, values, block.hints[nearer], close_mm));
        }
    }
    points
}

/// Zero of `f` on the way from `from` by `along`, whose end values have different signs, by false position with the
/// Illinois rule (Dowell and Jarratt 1971).
fn root<F>(f: &F, from: Point3<f32>, along: Vector3<f32>, values: [f32; 2], mut hint: u32, close_mm: f32) -> Point3<f32>
where
    F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32),
{
    let ([mut a, mut b], [mut fa, mut fb]) = ([0.0_f32, 1.0_f32], values);
    let mut t = 0.5;
    let mut last_side = 0;
    let chord = |a: f32, b: f32, fa: f32, fb: f32| {
        if fa.is_finite() && fb.is_finite() { a + (b - a) * fa / (fa - fb) } else { 0.5 * (a + b) }
    };
    for _ in 0..6 {
        t = chord(a, b, fa, fb);
        let (value, near) = f(&(from + along * t), Some(hint));
        hint = near;
        if value.abs() < close_mm {
            break;
        }
        let side = if (value < 0.0) == (fa < 0.0) { 1 } else { 2 };
        let halved = if side == last_side && value.abs() >= NEARLY * close_mm { 0.5 } else { 1.0 };
        if side == 1 {
            (a, fa) = (t, value);
            fb *= halved;
        } else {
            (b, fb) = (t, value);
            fa *= halved;
        }
        if value.abs() < NEARLY * close_mm {
            t = chord(a, b, fa, fb);
            break;
        }
        last_side = side;
    }
    from + along * t.clamp(MARGIN, 1.0 - MARGIN)
}

fn triangles(grid: &Grid, blocks: &[Option<Box<Block>>], block: &Block, table: &CellTable) -> Vec<[u32; 3]> {
    let mut all = Vec::new();
    for (cell, pattern) in block.patterns.iter().enumerate() {
        if *pattern == 0 {
            continue;
        }
        let base = position(cell as u16);
        let vertex = |edge: u8| -> u32 {
            let (low, axis) = EDGES[edge as usize];
            let local =
                [base[0] + (low & 1) as usize, base[1] + (low >> 1 & 1) as usize, base[2] + (low >> 2) as usize];
            let owner = if local.iter().all(|i| *i < SIDE) {
                Some((block, (local[0] + SIDE * (local[1] + SIDE * local[2])) as u16))
            } else {
                split(block.grid_position(local))
                    .and_then(|(b, c)| Some((blocks[grid.block_number(b)?].as_deref()?, c)))
            };
            owner.map_or(NO_VERTEX, |(owner, c)| {
                let before = own_edges(owner.patterns[c as usize]) & ((1 << axis) - 1);
                owner.first_vertex[c as usize].saturating_add(before.count_ones())
            })
        };
        for t in table.triangles(*pattern) {
            all.push(t.map(vertex));
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use mesh::Adjacency;
    use std::f64::consts::PI;

    fn torus(p: &Point3<f32>, _: Option<u32>) -> (f32, u32) {
        ((p.x.hypot(p.y) - 12.0).hypot(p.z) - 4.0, 0)
    }

    #[test]
    fn a_torus_is_closed_and_has_pappus_volume_and_area() {
        let grid = Grid::new(Point3::new(-17., -17., -5.), Point3::new(17., 17., 5.), 0.5);
        let mesh = track(&grid, &torus, &[Point3::new(15.9, 0.1, 0.1)], &Job::silent()).unwrap().mesh;
        let adjacency = Adjacency::new(&mesh);
        assert_eq!((adjacency.open_edges, adjacency.non_manifold_edges, adjacency.flipped_edges), (0, 0, 0));
        assert_eq!(adjacency.connected_components().1, 1);
        let euler = mesh.points.len() as i64 - mesh.triangles.len() as i64 / 2;
        assert_eq!(euler, 0);
        // Pappus: V = 2π²Rr², A = 4π²Rr.
        assert_relative_eq!(mesh.volume_mm3(), 2.0 * PI * PI * 12.0 * 16.0, max_relative = 3e-3);
        assert_relative_eq!(mesh.area_mm2(), 4.0 * PI * PI * 12.0 * 4.0, max_relative = 3e-3);
        for p in &mesh.points {
            assert!(torus(p, None).0.abs() < 0.5 * MARGIN + 2.0 * CLOSE_MM);
        }
    }

    #[test]
    fn one_and_two_threads_give_the_same_bytes() {
        let grid = Grid::new(Point3::new(-17., -17., -5.), Point3::new(17., 17., 5.), 0.4);
        let run = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| track(&grid, &torus, &[Point3::new(15.9, 0.1, 0.1)], &Job::silent()).unwrap())
        };
        assert_eq!(run(1), run(2));
    }

    #[test]
    fn a_surface_that_leaves_the_box_is_reported() {
        let grid = Grid::new(Point3::new(-2., -2., -2.), Point3::new(2., 2., 2.), 0.5);
        let plane = |p: &Point3<f32>, _: Option<u32>| (p.z - 0.1, 0);
        let found = track(&grid, &plane, &[Point3::new(0.1, 0.1, 0.2)], &Job::silent());
        assert!(matches!(found, Err(TrackError::LeavesBox(_))));
    }
}
