//! Sides of closed lines on a surface.

use super::line::SurfaceLine;
use super::sleeve::portal;
use crate::job::Every;
use crate::{Cancelled, Job, NONE, Surface};

/// For each vertex, whether it lies on the other side of `lines` from the first vertex of its connected component.
///
/// Exact: an edge is crossed as often as the lines change triangle over it, wherever on the edge that is. `None`
/// where the lines do not divide the surface: one is open, leaves it, or runs through a handle.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn sides(surface: &Surface, lines: &[SurfaceLine], job: &Job) -> Result<Option<Vec<bool>>, Cancelled> {
    let mesh = surface.mesh();
    let mut crossed: Vec<[u32; 2]> = Vec::new();
    for line in lines {
        if !line.closed {
            return Ok(None);
        }
        for (i, t) in line.triangles.iter().enumerate() {
            let next = line.triangles[(i + 1) % line.triangles.len()];
            if *t != next {
                let Some([a, b]) = portal(surface, *t, next) else { return Ok(None) };
                crossed.push([a.min(b), a.max(b)]);
            }
        }
    }
    crossed.sort_unstable();
    let odd: Vec<[u32; 2]> = crossed.chunk_by(|x, y| x == y).filter(|g| g.len() % 2 == 1).map(|g| g[0]).collect();

    let mut side = vec![NONE; mesh.points.len()];
    let mut stack = Vec::new();
    let mut every = Every::new(job, 1 << 14);
    for start in 0..mesh.points.len() as u32 {
        if side[start as usize] != NONE {
            continue;
        }
        side[start as usize] = 0;
        stack.push(start);
        while let Some(v) = stack.pop() {
            every.tick()?;
            for t in surface.adjacency().triangles_around(v) {
                for w in mesh.triangles[*t as usize] {
                    if w == v {
                        continue;
                    }
                    let there = side[v as usize] ^ u32::from(odd.binary_search(&[v.min(w), v.max(w)]).is_ok());
                    if side[w as usize] == NONE {
                        side[w as usize] = there;
                        stack.push(w);
                    } else if side[w as usize] != there {
                        return Ok(None);
                    }
                }
            }
        }
    }
    Ok(Some(side.into_iter().map(|s| s == 1).collect()))
}
