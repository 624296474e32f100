//! Where the surface crosses the grid edges of a block.

use mesh::{Cancelled, Job};
use nalgebra::Point3;

use super::block::Block;
use super::grid::{Grid, POINTS, SIDE, position, slot_of};
use super::root::root;

/// Which of the three edges from a cell's lowest corner the surface crosses, as bits.
pub(super) fn own_edges(pattern: u8) -> u8 {
    let lowest = pattern & 1;
    (0..3).filter(|axis| pattern >> (1 << axis) & 1 != lowest).fold(0, |bits, axis| bits | 1 << axis)
}

/// Points where the surface crosses the edges that belong to the block's cells, in order.
pub(super) fn crossings<F>(grid: &Grid, f: &F, block: &Block, job: &Job) -> Result<Vec<Point3<f32>>, Cancelled>
where
    F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32),
{
    let mut points = Vec::new();
    for (cell, pattern) in block.patterns.iter().enumerate() {
        if cell % (SIDE * SIDE) == 0 {
            job.check()?;
        }
        let edges = own_edges(*pattern);
        for axis in (0..3).filter(|axis| edges >> axis & 1 == 1) {
            let local = position(cell as u16);
            let slot = slot_of(local);
            let step = [1, POINTS, POINTS * POINTS][axis];
            let at = block.grid_position(local);
            let mut next = at;
            next[axis] += 1;
            let from = grid.point(at);
            let along = grid.point(next) - from;
            let values = [block.values[slot], block.values[slot + step]];
            let nearer = if values[0].abs() <= values[1].abs() { slot } else { slot + step };
            points.push(root(f, from, along, values, block.hints[nearer], grid.close_mm));
        }
    }
    Ok(points)
}
