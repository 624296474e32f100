//! The mesh cut into slabs that are worked on side by side.

use super::Face;
use crate::Mesh;

/// The vertices in use, cut into slabs of about equal count along the longest side of the box.
pub(super) struct Slabs {
    /// Slab of each vertex.
    pub(super) slab_of: Vec<u16>,
    /// Number of each vertex within its slab.
    pub(super) number: Vec<u32>,
    /// Vertices of each slab in rising order.
    pub(super) global: Vec<Vec<u32>>,
}

impl Slabs {
    pub(super) fn new(mesh: &Mesh, triangles: &[Face], slabs: usize) -> Self {
        const BINS: usize = 4096;
        let mut used = vec![false; mesh.points.len()];
        triangles.iter().flat_map(|t| t.corners).for_each(|v| used[v as usize] = true);
        let (lo, hi) = mesh.bounds().unwrap_or_default();
        let axis = (hi - lo).imax();
        let scale = BINS as f32 / (hi[axis] - lo[axis]).max(f32::MIN_POSITIVE);
        let bin = |v: usize| (((mesh.points[v][axis] - lo[axis]) * scale) as usize).min(BINS - 1);
        let mut counts = vec![0; BINS];
        (0..used.len()).filter(|v| used[*v]).for_each(|v| counts[bin(v)] += 1);
        let all: usize = counts.iter().sum();
        let mut before = 0;
        let slab_of_bin: Vec<u16> = counts
            .iter()
            .map(|count| {
                let slab = (before + count / 2) * slabs / all.max(1);
                before += count;
                slab.min(slabs - 1) as u16
            })
            .collect();
        let mut global = vec![Vec::with_capacity(all / slabs + all / slabs / 8); slabs];
        let (mut slab_of, mut number) = (vec![0; used.len()], vec![0; used.len()]);
        for v in (0..used.len()).filter(|v| used[*v]) {
            let slab = slab_of_bin[bin(v)];
            slab_of[v] = slab;
            number[v] = global[slab as usize].len() as u32;
            global[slab as usize].push(v as u32);
        }
        Self { slab_of, number, global }
    }
}
