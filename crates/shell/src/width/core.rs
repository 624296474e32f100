//! The parts of a zone that are deep enough for a sound wall.

use mesh::Surface;

/// Vertex outside of the core.
pub(super) const NO_PART: u32 = u32::MAX;

/// The covered vertices at least some distance from the zone's edge, in parts that hang together.
pub(super) struct Core {
    /// The part of each vertex, or [`NO_PART`].
    pub part: Vec<u32>,
    /// The deepest vertex of each part.
    pub deepest: Vec<usize>,
    /// Vertices with covered neighbours outside of the core.
    pub border: Vec<usize>,
}

impl Core {
    pub(super) fn new(skin: &Surface, distance_mm: &[f32], least_mm: f32) -> Self {
        let (mesh, adjacency) = (skin.mesh(), skin.adjacency());
        let count = distance_mm.len().min(mesh.points.len());
        let is_deep = |v: usize| v < count && distance_mm[v] >= least_mm && distance_mm[v].is_finite();
        let mut core = Self { part: vec![NO_PART; count], deepest: Vec::new(), border: Vec::new() };
        let mut members = Vec::new();
        for start in 0..count {
            if !is_deep(start) || core.part[start] != NO_PART {
                continue;
            }
            let part = core.deepest.len() as u32;
            let mut deepest = start;
            core.part[start] = part;
            members.push(start);
            while let Some(v) = members.pop() {
                if distance_mm[v] > distance_mm[deepest] {
                    deepest = v;
                }
                let mut on_border = false;
                for w in adjacency.vertices_around(mesh, v as u32) {
                    let w = w as usize;
                    if !is_deep(w) {
                        on_border |= covered(distance_mm, w);
                    } else if core.part[w] == NO_PART {
                        core.part[w] = part;
                        members.push(w);
                    }
                }
                if on_border {
                    core.border.push(v);
                }
            }
            core.deepest.push(deepest);
        }
        core
    }
}

/// Whether vertex `v` is inside the zone.
pub(super) fn covered(distance_mm: &[f32], v: usize) -> bool {
    distance_mm.get(v).is_some_and(|d| *d > 0.0 && d.is_finite())
}
