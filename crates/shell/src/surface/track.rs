//! Follows the zero set of a function from cell to cell, sampling only the grid points it needs.
//!
//! A wave of blocks is worked through in parallel, each block flooding over its own crossed cells from the cells where
//! the surface comes in and handing on the cells where it leaves; the next wave starts from those. Sampled points,
//! crossings and numbering depend on the function and grid alone, so the mesh is the same to the byte on any number of
//! threads. Where the function changes in a few places only, the blocks away from them are kept.

use std::collections::BTreeMap;
use std::sync::Arc;

use mesh::{Cancelled, Job, Mesh};
use nalgebra::{Point3, distance_squared};
use rayon::prelude::*;

use super::assemble::assemble;
use super::block::Block;
use super::crossings::crossings;
use super::grid::Grid;

/// Cells to flood from in each block.
type Wave = BTreeMap<u64, Vec<u16>>;

/// A zero set, with the samples by which it was followed.
#[derive(Debug, Clone)]
pub struct Tracked {
    grid: Grid,
    blocks: BTreeMap<u64, Arc<Block>>,
    /// Grid points at which the function was evaluated for it; those on the border of two blocks count twice.
    pub grid_samples: usize,
}

/// A ball in space.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ball {
    /// Its centre.
    pub centre: Point3<f32>,
    /// Its radius, mm.
    pub radius_mm: f32,
}

impl Ball {
    /// Whether it reaches the axis-aligned box from `lo` to `hi`.
    fn reaches(&self, (lo, hi): (Point3<f32>, Point3<f32>)) -> bool {
        let nearest = self.centre.sup(&lo).inf(&hi);
        distance_squared(&self.centre, &nearest) <= self.radius_mm * self.radius_mm
    }
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

/// The zero set of `f` (negative inside) through the cells near `seeds`.
///
/// A seed counts where the cell that holds it is crossed; one for each connected component of the surface is enough.
/// `f` takes a point and a hint, and returns its value and the hint for points nearby; hints must not change values.
///
/// # Errors
/// [`TrackError`] where the surface leaves the grid, or on cancel (checked every 128 cells).
pub fn track<F>(grid: &Grid, f: &F, seeds: &[Point3<f32>], job: &Job) -> Result<Tracked, TrackError>
where
    F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32) + Sync,
{
    let mut wave = Wave::new();
    for (block, cell) in seeds.iter().filter_map(|p| grid.cell_of(p)) {
        let cells = wave.entry(block).or_default();
        // Seeds follow each other on the skin: many lie in one cell.
        if cells.last() != Some(&cell) {
            cells.push(cell);
        }
    }
    let mut tracked = Tracked { grid: grid.clone(), blocks: BTreeMap::new(), grid_samples: 0 };
    tracked.follow(f, wave, job)?;
    Ok(tracked)
}

impl Tracked {
    /// The zero set of `f`, which differs from the function followed before only within these balls: only blocks that
    /// they reach are sampled again.
    ///
    /// A connected component of `f` that holds no cell crossed before is not found, and one that is cut off from all
    /// seeds is kept.
    ///
    /// # Errors
    /// As [`track`].
    pub fn changed<F>(&self, f: &F, balls: &[Ball], job: &Job) -> Result<Self, TrackError>
    where
        F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32) + Sync,
    {
        let mut again = Self { grid: self.grid.clone(), blocks: self.blocks.clone(), grid_samples: 0 };
        let mut wave = Wave::new();
        for (n, block) in &self.blocks {
            if balls.iter().any(|ball| ball.reaches(block.bounds(&self.grid))) {
                wave.insert(*n, block.crossed().collect());
                again.blocks.remove(n);
            }
        }
        again.follow(f, wave, job)?;
        Ok(again)
    }

    /// Floods from the cells of `wave` through all blocks that the surface goes on to, and finds where it crosses the
    /// grid's edges there.
    fn follow<F>(&mut self, f: &F, mut wave: Wave, job: &Job) -> Result<(), TrackError>
    where
        F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32) + Sync,
    {
        let grid = self.grid.clone();
        while !wave.is_empty() {
            job.check()?;
            let work: Vec<(u64, Block, Vec<u16>)> = std::mem::take(&mut wave)
                .into_iter()
                .map(|(n, cells)| (n, self.blocks.remove(&n), cells))
                .map(|(n, block, cells)| {
                    (n, block.map_or_else(|| Block::new(grid.block_at(n)), Arc::unwrap_or_clone), cells)
                })
                .collect();
            let done: Vec<(u64, Block, usize, Vec<[i32; 3]>)> = work
                .into_par_iter()
                .map(|(n, mut block, cells)| {
                    let before = block.samples;
                    let out = if job.check().is_ok() { block.flood(&grid, f, &cells, job) } else { Vec::new() };
                    let samples = block.samples - before;
                    (n, block, samples, out)
                })
                .collect();
            for (n, block, samples, out) in done {
                self.blocks.insert(n, Arc::new(block));
                self.grid_samples += samples;
                for at in out {
                    let Some((block, cell)) = grid.cell_at(at) else {
                        return Err(TrackError::LeavesBox(grid.point(at)));
                    };
                    wave.entry(block).or_default().push(cell);
                }
            }
            wave.retain(|n, cells| {
                cells.sort_unstable();
                cells.dedup();
                if let Some(block) = self.blocks.get(n) {
                    cells.retain(|c| !block.has_visited(*c));
                }
                !cells.is_empty()
            });
        }
        job.check()?;
        self.blocks.par_iter_mut().filter(|(_, block)| block.crossings.is_none()).try_for_each(|(_, block)| {
            let found = crossings(&grid, f, block, job)?;
            Arc::make_mut(block).crossings = Some(found);
            Ok(())
        })
    }

    /// The zero set as a closed mesh facing outward.
    ///
    /// Each of its edges joins two triangles, because every cell draws its faces by their signs alone.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn mesh(&self, job: &Job) -> Result<Mesh, Cancelled> {
        assemble(&self.grid, &self.blocks, job)
    }
}

#[cfg(test)]
mod tests {
    use super::super::root::{CLOSE_MM, MARGIN};
    use super::*;
    use approx::assert_relative_eq;
    use mesh::Adjacency;
    use nalgebra::Vector3;
    use std::f64::consts::PI;

    fn torus(p: &Point3<f32>, _: Option<u32>) -> (f32, u32) {
        ((p.x.hypot(p.y) - 12.0).hypot(p.z) - 4.0, 0)
    }

    #[test]
    fn a_torus_is_closed_and_has_pappus_volume_and_area() {
        let grid = Grid::new(Point3::new(-17., -17., -5.), Point3::new(17., 17., 5.), 0.5);
        let mesh = track(&grid, &torus, &[Point3::new(15.9, 0.1, 0.1)], &Job::silent()).unwrap();
        let mesh = mesh.mesh(&Job::silent()).unwrap();
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

    /// Half as far apart in a part of the grid: closed across the borders of that part, and four times as near inside.
    #[test]
    fn a_surface_is_closed_where_the_grid_gets_finer_and_nearer_there() {
        let (lo, hi) = (Point3::new(-17., -17., -5.), Point3::new(17., 17., 5.));
        let fine = (Point3::new(-5.3, 6.1, 0.3), Point3::new(4.2, 17.0, 9.0));
        let grid = Grid::finer_in(lo, hi, 0.8, &[fine], 2);
        let mesh = track(&grid, &torus, &[Point3::new(15.9, 0.1, 0.1)], &Job::silent()).unwrap();
        let mesh = mesh.mesh(&Job::silent()).unwrap();
        let adjacency = Adjacency::new(&mesh);
        assert_eq!((adjacency.open_edges, adjacency.non_manifold_edges, adjacency.flipped_edges), (0, 0, 0));
        assert_relative_eq!(mesh.volume_mm3(), 2.0 * PI * PI * 12.0 * 16.0, max_relative = 8e-3);
        // How far the middles of triangles lie off the torus: the sagitta of their sides, as its square.
        let off = |is_fine: bool| {
            let middles = mesh.triangles.iter().map(|t| {
                Point3::from(t.iter().fold(Vector3::zeros(), |s, v| s + mesh.points[*v as usize].coords) / 3.0)
            });
            let inside = |p: &Point3<f32>| p.x.abs() < 4.0 && p.y > 7.0 && p.z > 1.0;
            // Planes run through the whole grid: beside the box they are as near on one or two axes.
            let beyond = |p: &Point3<f32>| p.x.abs() > 7.0 && p.y < 5.0 && p.z < -1.0;
            let kept = middles.filter(|p| if is_fine { inside(p) } else { beyond(p) });
            let squares: Vec<f64> = kept.map(|p| f64::from(torus(&p, None).0).powi(2)).collect();
            (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
        };
        assert!(off(true) < 0.4 * off(false), "{} {}", off(true), off(false));
    }

    #[test]
    fn one_and_two_threads_give_the_same_bytes() {
        let grid = Grid::new(Point3::new(-17., -17., -5.), Point3::new(17., 17., 5.), 0.4);
        let run = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| {
                let tracked = track(&grid, &torus, &[Point3::new(15.9, 0.1, 0.1)], &Job::silent()).unwrap();
                (tracked.mesh(&Job::silent()).unwrap(), tracked.grid_samples)
            })
        };
        assert_eq!(run(1), run(2));
    }

    #[test]
    fn a_change_followed_locally_gives_the_bytes_of_the_whole() {
        let grid = Grid::new(Point3::new(-17., -17., -10.), Point3::new(17., 17., 10.), 0.4);
        let seeds = [Point3::new(15.9, 0.1, 0.1)];
        // A bead on the tube, one in its bore that lies across two blocks, and one that closes the hole in the middle.
        for (centre, radius_mm) in [([12.0, 0.0, 3.5], 1.5), ([6.4, 6.4, 0.0], 3.0), ([0.0, 0.0, 0.0], 9.0)] {
            let ball = Ball { centre: centre.into(), radius_mm };
            let both = |p: &Point3<f32>, _: Option<u32>| {
                let away = (p - ball.centre).norm() - ball.radius_mm;
                (if away < 0.0 { away.min(torus(p, None).0) } else { torus(p, None).0 }, 0)
            };
            let whole = track(&grid, &both, &seeds, &Job::silent()).unwrap();
            let before = track(&grid, &torus, &seeds, &Job::silent()).unwrap();
            let local = before.changed(&both, &[ball], &Job::silent()).unwrap();
            assert_eq!(local.mesh(&Job::silent()).unwrap(), whole.mesh(&Job::silent()).unwrap());
            assert!(local.grid_samples < whole.grid_samples);
            // What was followed before is as it was.
            let torus_again = track(&grid, &torus, &seeds, &Job::silent()).unwrap().mesh(&Job::silent()).unwrap();
            assert_eq!(before.mesh(&Job::silent()).unwrap(), torus_again);
        }
    }

    #[test]
    fn a_surface_that_leaves_the_box_is_reported() {
        let grid = Grid::new(Point3::new(-2., -2., -2.), Point3::new(2., 2., 2.), 0.5);
        let plane = |p: &Point3<f32>, _: Option<u32>| (p.z - 0.1, 0);
        let found = track(&grid, &plane, &[Point3::new(0.1, 0.1, 0.2)], &Job::silent());
        assert!(matches!(found, Err(TrackError::LeavesBox(_))));
    }
}
