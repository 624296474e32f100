//! From visited blocks to one mesh: vertices where grid edges are crossed, triangles by the cell table.

use mesh::{Cancelled, Job, Mesh};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::block::Block;
use super::cells::{CellTable, EDGES};
use super::grid::{CELLS, Grid, POINTS, SIDE, cell_number, position, slot_of};
use super::root::{CLOSE_MM, root};

const NO_VERTEX: u32 = u32::MAX;

/// Which of the three edges from a cell's lowest corner the surface crosses, as bits.
fn own_edges(pattern: u8) -> u8 {
    let lowest = pattern & 1;
    (0..3).filter(|axis| pattern >> (1 << axis) & 1 != lowest).fold(0, |bits, axis| bits | 1 << axis)
}

/// The mesh through all crossed cells of `blocks`, which are sorted by their numbers.
pub(super) fn assemble<F>(grid: &Grid, f: &F, mut blocks: Vec<(u64, Box<Block>)>, job: &Job) -> Result<Mesh, Cancelled>
where
    F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32) + Sync,
{
    let mut vertices = 0_u32;
    for (_, block) in &mut blocks {
        job.check()?;
        block.first_vertex = vec![NO_VERTEX; CELLS];
        for (first, pattern) in block.first_vertex.iter_mut().zip(&block.patterns) {
            if *pattern != 0 {
                *first = vertices;
                vertices += own_edges(*pattern).count_ones();
            }
        }
    }
    let points: Vec<Vec<Point3<f32>>> =
        blocks.par_iter().map(|(_, block)| crossings(grid, f, block, job)).collect::<Result<_, _>>()?;
    let table = CellTable::new();
    let triangles: Vec<Vec<[u32; 3]>> = blocks
        .par_iter()
        .map(|(_, block)| {
            job.check()?;
            Ok(triangles(grid, &blocks, block, &table))
        })
        .collect::<Result<_, Cancelled>>()?;
    Ok(Mesh::new(points.concat(), triangles.concat()))
}

/// Points where the surface crosses the edges that belong to the block's cells, in order.
fn crossings<F>(grid: &Grid, f: &F, block: &Block, job: &Job) -> Result<Vec<Point3<f32>>, Cancelled>
where
    F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32),
{
    let mut points = Vec::new();
    let close_mm = CLOSE_MM * (2.0 * grid.voxel_mm).max(1.0);
    for (cell, pattern) in block.patterns.iter().enumerate() {
        if cell % (SIDE * SIDE) == 0 {
            job.check()?;
        }
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
    Ok(points)
}

fn triangles(grid: &Grid, blocks: &[(u64, Box<Block>)], block: &Block, table: &CellTable) -> Vec<[u32; 3]> {
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
                Some((block, cell_number(local)))
            } else {
                let beside = grid.cell_at(block.grid_position(local));
                beside.and_then(|(number, cell)| {
                    let at = blocks.binary_search_by_key(&number, |(n, _)| *n).ok()?;
                    Some((&*blocks[at].1, cell))
                })
            };
            owner.map_or(NO_VERTEX, |(owner, c)| {
                let before = own_edges(owner.patterns[c as usize]) & ((1 << axis) - 1);
                owner.first_vertex[c as usize].saturating_add(before.count_ones())
            })
        };
        all.extend(table.triangles(*pattern).iter().map(|t| t.map(vertex)));
    }
    all
}
