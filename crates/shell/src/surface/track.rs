//! Follows the zero set of a function from cell to cell, sampling only the grid points it needs.
//!
//! A wave of blocks is worked through in parallel, each block flooding over its own crossed cells from the cells where
//! the surface comes in and handing on the cells where it leaves; the next wave starts from those. Sampled points,
//! crossings and numbering depend on the function and grid alone, so the mesh is the same to the byte on any number of
//! threads.

use std::collections::BTreeMap;

use mesh::{Cancelled, Job, Mesh};
use nalgebra::Point3;
use rayon::prelude::*;

use super::assemble::assemble;
use super::block::Block;
use super::grid::Grid;

/// What was found, and at what cost.
#[derive(Debug, Clone, PartialEq)]
pub struct Tracked {
    /// The zero set.
    pub mesh: Mesh,
    /// Grid points at which the function was evaluated; those on the border of two blocks count twice.
    pub grid_samples: usize,
}

/// The surface could not be followed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum TrackError {
    /// The surface runs out of the box.
    #[error("the surface leaves its box near {:#} mm", mesh::Place::new(.0, 0))]
    LeavesBox(Point3<f32>),
    /// Stopped on request.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// The zero set of `f` (negative inside) through the cells near `seeds`, as a closed mesh facing outward.
///
/// A seed counts where the cell that holds it is crossed; one for each connected component of the surface is enough.
/// `f` takes a point and a hint, and returns its value and the hint for points nearby; hints must not change values.
/// The result is closed and each edge joins two triangles, because every cell draws its faces by their signs alone.
///
/// # Errors
/// [`TrackError`] where the surface leaves the grid, or on cancel (checked every 128 cells).
pub fn track<F>(grid: &Grid, f: &F, seeds: &[Point3<f32>], job: &Job) -> Result<Tracked, TrackError>
where
    F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32) + Sync,
{
    let mut blocks: BTreeMap<u64, Box<Block>> = BTreeMap::new();
    // Cells to flood from in each block.
    let mut wave: BTreeMap<u64, Vec<u16>> = BTreeMap::new();
    for (block, cell) in seeds.iter().filter_map(|p| grid.cell_of(p)) {
        let cells = wave.entry(block).or_default();
        // Seeds follow each other on the skin: many lie in one cell.
        if cells.last() != Some(&cell) {
            cells.push(cell);
        }
    }
    while !wave.is_empty() {
        job.check()?;
        let work: Vec<(u64, Box<Block>, Vec<u16>)> = std::mem::take(&mut wave)
            .into_iter()
            .map(|(n, cells)| (n, blocks.remove(&n).unwrap_or_else(|| Box::new(Block::new(grid.block_at(n)))), cells))
            .collect();
        let done: Vec<(u64, Box<Block>, Vec<[i32; 3]>)> = work
            .into_par_iter()
            .map(|(n, mut block, cells)| {
                let out = if job.check().is_ok() { block.flood(grid, f, &cells, job) } else { Vec::new() };
                (n, block, out)
            })
            .collect();
        for (n, block, out) in done {
            blocks.insert(n, block);
            for at in out {
                let Some((block, cell)) = grid.cell_at(at) else { return Err(TrackError::LeavesBox(grid.point(at))) };
                wave.entry(block).or_default().push(cell);
            }
        }
        wave.retain(|n, cells| {
            cells.sort_unstable();
            cells.dedup();
            if let Some(block) = blocks.get(n) {
                cells.retain(|c| !block.has_visited(*c));
            }
            !cells.is_empty()
        });
    }
    job.check()?;
    let blocks: Vec<(u64, Box<Block>)> = blocks.into_iter().collect();
    let grid_samples = blocks.par_iter().map(|(_, b)| b.values.iter().filter(|v| !v.is_nan()).count()).sum();
    Ok(Tracked { mesh: assemble(grid, f, blocks, job)?, grid_samples })
}

#[cfg(test)]
mod tests {
    use super::super::root::{CLOSE_MM, MARGIN};
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
