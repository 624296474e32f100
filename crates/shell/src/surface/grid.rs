//! The grid on which a function is sampled, in blocks of 16³ cells.

use nalgebra::Point3;

/// Cells along one side of a block.
pub(super) const SIDE: usize = 16;
pub(super) const CELLS: usize = SIDE * SIDE * SIDE;
/// Grid points along one side of a block: one more, shared with the next block.
pub(super) const POINTS: usize = SIDE + 1;

/// Where the function is sampled: multiples of the voxel within a box.
#[derive(Debug, Clone, Copy)]
pub struct Grid {
    pub(super) voxel_mm: f32,
    first: [i32; 3],
    blocks: [usize; 3],
}

impl Grid {
    /// A grid that covers the box from `lo` to `hi`.
    #[must_use]
    pub fn new(lo: Point3<f32>, hi: Point3<f32>, voxel_mm: f32) -> Self {
        let block_mm = voxel_mm * SIDE as f32;
        let first = lo.coords.map(|x| (x / block_mm).floor() as i32);
        let last = hi.coords.map(|x| (x / block_mm).floor() as i32);
        let blocks = [0, 1, 2].map(|k| usize::try_from(i64::from(last[k]) - i64::from(first[k]) + 1).unwrap_or(0));
        Self { voxel_mm, first: first.into(), blocks }
    }

    /// The number of a block, by which blocks are sorted.
    pub(super) fn block_number(&self, block: [i32; 3]) -> Option<u64> {
        let mut number = 0_u64;
        for k in (0..3).rev() {
            let i = usize::try_from(i64::from(block[k]) - i64::from(self.first[k])).ok();
            number = number.checked_mul(self.blocks[k] as u64)? + i.filter(|i| *i < self.blocks[k])? as u64;
        }
        Some(number)
    }

    pub(super) fn block_at(&self, number: u64) -> [i32; 3] {
        let [nx, ny, _] = self.blocks.map(|n| n as u64);
        let within = [number % nx, number / nx % ny, number / nx / ny];
        [0, 1, 2].map(|k| self.first[k] + within[k] as i32)
    }

    pub(super) fn point(&self, at: [i32; 3]) -> Point3<f32> {
        Point3::from(at.map(|i| (f64::from(i) * f64::from(self.voxel_mm)) as f32))
    }

    /// The block and cell that hold `p`.
    pub(super) fn cell_of(&self, p: &Point3<f32>) -> Option<(u64, u16)> {
        self.cell_at([0, 1, 2].map(|k| (p[k] / self.voxel_mm).floor() as i32))
    }

    /// The block and cell at a grid position.
    pub(super) fn cell_at(&self, at: [i32; 3]) -> Option<(u64, u16)> {
        let side = SIDE as i32;
        let block = self.block_number(at.map(|i| i.div_euclid(side)))?;
        Some((block, cell_number(at.map(|i| i.rem_euclid(side) as usize))))
    }
}

pub(super) fn cell_number(local: [usize; 3]) -> u16 {
    (local[0] + SIDE * (local[1] + SIDE * local[2])) as u16
}

/// Where in its block a cell is.
pub(super) fn position(cell: u16) -> [usize; 3] {
    let c = cell as usize;
    [c % SIDE, c / SIDE % SIDE, c / SIDE / SIDE]
}

/// Where in a block's list of grid points a point is.
pub(super) fn slot_of(local: [usize; 3]) -> usize {
    local[0] + POINTS * (local[1] + POINTS * local[2])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_and_cells_are_numbered_and_found_again() {
        let grid = Grid::new(Point3::new(-20.0, 3.0, -1.0), Point3::new(17.0, 30.0, 9.0), 0.5);
        for at in [[-40, 6, -2], [0, 0, 0], [31, 59, 17], [-1, 16, 15]] {
            let (block, cell) = grid.cell_at(at).unwrap();
            let (corner, within) = (grid.block_at(block), position(cell));
            assert_eq!([0, 1, 2].map(|k| corner[k] * SIDE as i32 + within[k] as i32), at);
        }
        assert_eq!(grid.cell_at([400, 0, 0]), None);
        assert_eq!(grid.cell_at([0, -17, 0]), None);
    }
}
