//! One block of cells: its samples, and the flood over the cells that the surface crosses.

use mesh::Job;
use nalgebra::Point3;

use super::cells::CORNERS;
use super::grid::{CELLS, Grid, POINTS, SIDE, cell_number, position, slot_of};

/// Cells between two checks for cancellation.
const CELLS_A_LOOK: usize = 128;

/// Corner sets of the lower and upper face across each axis.
const FACE_CORNERS: [[u8; 2]; 3] = [[0b0101_0101, 0b1010_1010], [0b0011_0011, 0b1100_1100], [0b0000_1111, 0b1111_0000]];

#[derive(Debug, Clone)]
pub(super) struct Block {
    at: [i32; 3],
    pub(super) values: Vec<f32>,
    /// Hint that came with each value, the seed for samples nearby.
    pub(super) hints: Vec<u32>,
    /// Sign pattern of visited cells that the surface crosses; 0 elsewhere.
    pub(super) patterns: Vec<u8>,
    visited: [u64; CELLS / 64],
    /// Where the surface crosses the edges that belong to the block's cells, in order, once it was worked out.
    pub(super) crossings: Option<Vec<Point3<f32>>>,
    /// Grid points at which the function was evaluated.
    pub(super) samples: usize,
}

impl Block {
    pub(super) fn new(at: [i32; 3]) -> Self {
        Self {
            at,
            values: vec![f32::NAN; POINTS * POINTS * POINTS],
            hints: vec![0; POINTS * POINTS * POINTS],
            patterns: vec![0; CELLS],
            visited: [0; CELLS / 64],
            crossings: None,
            samples: 0,
        }
    }

    pub(super) fn grid_position(&self, local: [usize; 3]) -> [i32; 3] {
        [0, 1, 2].map(|k| self.at[k] * SIDE as i32 + local[k] as i32)
    }

    /// Lowest and highest coordinates of its grid points, mm.
    pub(super) fn bounds(&self, grid: &Grid) -> (Point3<f32>, Point3<f32>) {
        (grid.point(self.grid_position([0; 3])), grid.point(self.grid_position([SIDE; 3])))
    }

    /// The cells that the surface crosses.
    pub(super) fn crossed(&self) -> impl Iterator<Item = u16> + '_ {
        (0..).zip(&self.patterns).filter(|(_, pattern)| **pattern != 0).map(|(cell, _)| cell)
    }

    pub(super) fn has_visited(&self, cell: u16) -> bool {
        self.visited[cell as usize / 64] >> (cell % 64) & 1 == 1
    }

    /// The value at a grid point, computed from `hint` where it is not known; `hint` becomes that of this point.
    fn sample<F>(&mut self, grid: &Grid, f: &F, local: [usize; 3], hint: &mut Option<u32>) -> f32
    where
        F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32),
    {
        let slot = slot_of(local);
        if self.values[slot].is_nan() {
            let (value, near) = f(&grid.point(self.grid_position(local)), *hint);
            // Where the function has no value counts as outside.
            self.values[slot] = if value.is_nan() { f32::INFINITY } else { value };
            self.hints[slot] = near;
            self.samples += 1;
        }
        *hint = Some(self.hints[slot]);
        self.values[slot]
    }

    /// Floods from `seeds`; returns the cells of other blocks that the surface goes on to, as grid positions. Stops
    /// early where the job was cancelled.
    pub(super) fn flood<F>(&mut self, grid: &Grid, f: &F, seeds: &[u16], job: &Job) -> Vec<[i32; 3]>
    where
        F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32),
    {
        let mut out = Vec::new();
        self.crossings = None;
        let mut last = None;
        let mut stack = seeds.to_vec();
        let mut seen = 0;
        while let Some(cell) = stack.pop() {
            if self.has_visited(cell) {
                continue;
            }
            seen += 1;
            if seen % CELLS_A_LOOK == 0 && job.check().is_err() {
                break;
            }
            self.visited[cell as usize / 64] |= 1 << (cell % 64);
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
            for next in neighbours(base, pattern) {
                match next.map(usize::try_from) {
                    [Ok(x), Ok(y), Ok(z)] if x.max(y).max(z) < SIDE => stack.push(cell_number([x, y, z])),
                    _ => out.push([0, 1, 2].map(|k| self.at[k] * SIDE as i32 + next[k])),
                }
            }
        }
        out
    }
}

/// The cells beside those faces of a cell that the surface crosses, as positions in the block or just beside it.
fn neighbours(base: [usize; 3], pattern: u8) -> impl Iterator<Item = [i32; 3]> {
    (0..3).flat_map(move |axis| {
        FACE_CORNERS[axis].iter().enumerate().filter_map(move |(up, corners)| {
            let on_face = pattern & corners;
            (on_face != 0 && on_face != *corners).then(|| {
                let mut next = base.map(|i| i as i32);
                next[axis] += if up == 1 { 1 } else { -1 };
                next
            })
        })
    })
}
