//! The part of a zone that is deep enough for a sound wall: the zone eroded by what the rim needs.

use mesh::{Cancelled, Job, Surface};

/// Vertex outside of the core.
pub(super) const NO_COMPONENT: u32 = u32::MAX;

/// Vertices between two checks for cancellation.
pub(super) const VERTICES_A_LOOK: usize = 16_384;

/// The covered vertices at least some distance from the zone's edge, as connected components.
pub(super) struct Core {
    /// The component of each vertex, or [`NO_COMPONENT`].
    pub component: Vec<u32>,
    /// The deepest vertex of each component.
    pub deepest: Vec<usize>,
    /// Vertices with covered neighbours outside of the core.
    pub border: Vec<u32>,
}

impl Core {
    /// # Errors
    /// [`Cancelled`] on request; checked every [`VERTICES_A_LOOK`] vertices.
    pub(super) fn new(skin: &Surface, distance_mm: &[f32], least_mm: f32, job: &Job) -> Result<Self, Cancelled> {
        let (mesh, adjacency) = (skin.mesh(), skin.adjacency());
        let count = distance_mm.len().min(mesh.points.len());
        let is_deep = |v: usize| v < count && distance_mm[v] >= least_mm && distance_mm[v].is_finite();
        let mut core = Self { component: vec![NO_COMPONENT; count], deepest: Vec::new(), border: Vec::new() };
        let mut members = Vec::new();
        for start in 0..count {
            if start % VERTICES_A_LOOK == 0 {
                job.check()?;
            }
            if !is_deep(start) || core.component[start] != NO_COMPONENT {
                continue;
            }
            let component = core.deepest.len() as u32;
            let mut deepest = start;
            core.component[start] = component;
            members.push(start);
            let mut seen = 0;
            while let Some(v) = members.pop() {
                seen += 1;
                if seen % VERTICES_A_LOOK == 0 {
                    job.check()?;
                }
                if distance_mm[v] > distance_mm[deepest] {
                    deepest = v;
                }
                let mut on_border = false;
                for w in adjacency.vertices_around(mesh, v as u32) {
                    let w = w as usize;
                    if !is_deep(w) {
                        on_border |= covered(distance_mm, w);
                    } else if core.component[w] == NO_COMPONENT {
                        core.component[w] = component;
                        members.push(w);
                    }
                }
                if on_border {
                    core.border.push(v as u32);
                }
            }
            core.deepest.push(deepest);
        }
        Ok(core)
    }
}

/// Whether vertex `v` is inside the zone.
pub(super) fn covered(distance_mm: &[f32], v: usize) -> bool {
    distance_mm.get(v).is_some_and(|d| *d > 0.0 && d.is_finite())
}
