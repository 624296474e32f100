//! From visited blocks to one mesh: vertices where grid edges are crossed, triangles by the cell table.

use std::collections::BTreeMap;
use std::sync::Arc;

use mesh::{Cancelled, Job, Mesh};
use nalgebra::Point3;
use rayon::prelude::*;

use super::block::Block;
use super::cells::{CellTable, EDGES};
use super::crossings::own_edges;
use super::grid::{CELLS, Grid, SIDE, cell_number, position};

const NO_VERTEX: u32 = u32::MAX;

/// A block whose vertices have numbers.
struct Numbered<'a> {
    number: u64,
    block: &'a Block,
    /// Number of the first vertex on the three edges from the lowest corner of each crossed cell.
    first_vertex: Vec<u32>,
}

/// The mesh through all crossed cells of `blocks`, whose crossings were found.
pub(super) fn assemble(grid: &Grid, blocks: &BTreeMap<u64, Arc<Block>>, job: &Job) -> Result<Mesh, Cancelled> {
    let mut points: Vec<Point3<f32>> = Vec::new();
    let mut numbered = Vec::new();
    for (number, block) in blocks {
        job.check()?;
        let mut vertices = points.len() as u32;
        let mut first_vertex = vec![NO_VERTEX; CELLS];
        for cell in block.crossed() {
            first_vertex[cell as usize] = vertices;
            vertices += own_edges(block.patterns[cell as usize]).count_ones();
        }
        points.extend(block.crossings.iter().flatten());
        numbered.push(Numbered { number: *number, block, first_vertex });
    }
    let table = CellTable::new();
    let triangles: Vec<Vec<[u32; 3]>> = numbered
        .par_iter()
        .map(|of| {
            job.check()?;
            Ok(triangles(grid, &numbered, of, &table))
        })
        .collect::<Result<_, Cancelled>>()?;
    Ok(Mesh::new(points, triangles.concat()))
}

fn triangles(grid: &Grid, all_blocks: &[Numbered<'_>], of: &Numbered<'_>, table: &CellTable) -> Vec<[u32; 3]> {
    let mut all = Vec::new();
    for (cell, pattern) in of.block.patterns.iter().enumerate() {
        if *pattern == 0 {
            continue;
        }
        let base = position(cell as u16);
        let vertex = |edge: u8| -> u32 {
            let (low, axis) = EDGES[edge as usize];
            let local =
                [base[0] + (low & 1) as usize, base[1] + (low >> 1 & 1) as usize, base[2] + (low >> 2) as usize];
            let owner = if local.iter().all(|i| *i < SIDE) {
                Some((of, cell_number(local)))
            } else {
                let beside = grid.cell_at(of.block.grid_position(local));
                beside.and_then(|(number, cell)| {
                    let at = all_blocks.binary_search_by_key(&number, |other| other.number).ok()?;
                    Some((&all_blocks[at], cell))
                })
            };
            owner.map_or(NO_VERTEX, |(owner, c)| {
                let before = own_edges(owner.block.patterns[c as usize]) & ((1 << axis) - 1);
                owner.first_vertex[c as usize].saturating_add(before.count_ones())
            })
        };
        all.extend(table.triangles(*pattern).iter().map(|t| t.map(vertex)));
    }
    all
}
