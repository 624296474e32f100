//! The grid on which a function is sampled, in blocks of 16³ cells.

use std::sync::Arc;

use nalgebra::Point3;

use super::root::CLOSE_MM;

/// Cells along one side of a block.
pub(super) const SIDE: usize = 16;
pub(super) const CELLS: usize = SIDE * SIDE * SIDE;
/// Grid points along one side of a block: one more, shared with the next block.
pub(super) const POINTS: usize = SIDE + 1;

/// Where the function is sampled: where planes across the three axes meet. They are multiples of the voxel, and halves
/// or thirds of it between the ends of boxes that are to be finer.
#[derive(Debug, Clone)]
pub struct Grid {
    /// A crossing of an edge is good once the function is this small there, mm.
    pub(super) close_mm: f32,
    /// Coordinates of the planes across each axis, upwards: one more than whole blocks have cells.
    planes: Arc<[Vec<f32>; 3]>,
}

/// A box along the axes: its lowest and its highest corner.
pub type Bounds = (Point3<f32>, Point3<f32>);

impl Grid {
    /// A grid that covers the box from `lo` to `hi`.
    #[must_use]
    pub fn new(lo: Point3<f32>, hi: Point3<f32>, voxel_mm: f32) -> Self {
        Self::finer_in(lo, hi, voxel_mm, &[], 1)
    }

    /// The same, each cell that one of these boxes reaches split `parts` times across each axis on which it does.
    #[must_use]
    pub fn finer_in(lo: Point3<f32>, hi: Point3<f32>, voxel_mm: f32, boxes: &[Bounds], parts: u16) -> Self {
        let planes = [0, 1, 2].map(|k| {
            let at = |i: i32| f64::from(i) * f64::from(voxel_mm);
            let (first, last) = ((lo[k] / voxel_mm).floor() as i32, (hi[k] / voxel_mm).floor() as i32);
            let mut planes = Vec::new();
            let mut i = first;
            // Whole blocks, as far beyond the box as that takes.
            while i <= last || planes.len() % SIDE != 0 {
                let (from, to) = (at(i), at(i + 1));
                let reached = |(low, high): &Bounds| f64::from(low[k]) < to && f64::from(high[k]) > from;
                let split = if i <= last && boxes.iter().any(reached) { parts.max(1) } else { 1 };
                planes.extend((0..split).map(|n| (from + (to - from) * f64::from(n) / f64::from(split)) as f32));
                i += 1;
            }
            planes.push(at(i) as f32);
            planes
        });
        // Triangles of coarser grids lie farther off between the crossings.
        Self { close_mm: CLOSE_MM * (2.0 * voxel_mm).max(1.0), planes: Arc::new(planes) }
    }

    /// The same grid with crossings where the straight line between the values at the ends of an edge has its zero: less
    /// than half the evaluations, and good to a small part of the voxel where the function is about a distance.
    #[must_use]
    pub fn by_chords(self) -> Self {
        Self { close_mm: f32::INFINITY, ..self }
    }

    /// Blocks along each axis.
    fn blocks(&self) -> [usize; 3] {
        [0, 1, 2].map(|k| self.planes[k].len() / SIDE)
    }

    /// The number of a block, by which blocks are sorted.
    pub(super) fn block_number(&self, block: [i32; 3]) -> Option<u64> {
        let blocks = self.blocks();
        let mut number = 0_u64;
        for k in (0..3).rev() {
            let i = usize::try_from(block[k]).ok();
            number = number.checked_mul(blocks[k] as u64)? + i.filter(|i| *i < blocks[k])? as u64;
        }
        Some(number)
    }

    pub(super) fn block_at(&self, number: u64) -> [i32; 3] {
        let [nx, ny, _] = self.blocks().map(|n| n as u64);
        [number % nx, number / nx % ny, number / nx / ny].map(|n| n as i32)
    }

    /// A grid point; the nearest on the border for what lies beyond.
    pub(super) fn point(&self, at: [i32; 3]) -> Point3<f32> {
        Point3::from([0, 1, 2].map(|k| {
            let last = self.planes[k].len() - 1;
            self.planes[k][usize::try_from(at[k]).unwrap_or(0).min(last)]
        }))
    }

    /// The block and cell that hold `p`.
    pub(super) fn cell_of(&self, p: &Point3<f32>) -> Option<(u64, u16)> {
        self.cell_at([0, 1, 2].map(|k| self.planes[k].partition_point(|plane| *plane <= p[k]) as i32 - 1))
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
        let (lo, hi) = (Point3::new(-20.0, 3.0, -1.0), Point3::new(17.0, 30.0, 9.0));
        let fine = (Point3::new(-3.0, 10.0, 2.0), Point3::new(5.0, 14.0, 4.0));
        for (parts, across) in [(1, 80), (2, 96)] {
            let grid = Grid::finer_in(lo, hi, 0.5, &[fine], parts);
            assert_eq!(grid.planes[0].len(), across + 1);
            for at in [[0, 0, 0], [40, 6, 2], [31, 59, 17], [79, 16, 15]] {
                let (block, cell) = grid.cell_at(at).unwrap();
                let (corner, within) = (grid.block_at(block), position(cell));
                assert_eq!([0, 1, 2].map(|k| corner[k] * SIDE as i32 + within[k] as i32), at);
                let middle = nalgebra::center(&grid.point(at), &grid.point(at.map(|i| i + 1)));
                assert_eq!(grid.cell_of(&middle), Some((block, cell)));
            }
            assert_eq!(grid.cell_at([400, 0, 0]), None);
            assert_eq!(grid.cell_at([0, -17, 0]), None);
            assert_eq!(grid.cell_of(&Point3::new(-20.1, 5.0, 0.0)), None);
            assert_eq!(grid.cell_of(&Point3::new(90.0, 5.0, 0.0)), None);
        }
    }

    #[test]
    fn cells_are_split_where_a_box_reaches_and_nowhere_else() {
        let fine = (Point3::new(-1.2, 50.0, 0.1), Point3::new(0.9, 60.0, 0.2));
        let grid = Grid::finer_in(Point3::new(-3.0, 0.0, 0.0), Point3::new(3.0, 3.0, 3.0), 1.0, &[fine], 2);
        assert_eq!(grid.planes[0][..10], [-3.0, -2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0, 3.0]);
        assert_eq!(grid.planes[1][..4], [0.0, 1.0, 2.0, 3.0], "it lies beyond the grid here");
        assert_eq!(grid.planes[2][..4], [0.0, 0.5, 1.0, 2.0]);
    }
}
