//! The part of the skin that a shell stands over.

use mesh::Surface;

/// How far it reaches beyond the trim line, mm.
const BEYOND_MM: f32 = 8.0;

/// The vertices near the zone in a numbering of their own, and after them the neighbours that they look at.
#[derive(Debug)]
pub(super) struct Near {
    pub(super) vertices: Vec<u32>,
    /// How many of them are averaged; the rest are only read.
    pub(super) count: usize,
    /// Neighbours of vertex i: `neighbours[starts[i]..starts[i + 1]]`, as places in `vertices`.
    neighbours: Vec<u32>,
    starts: Vec<usize>,
    /// Mean length of the edges between them, mm.
    pub(super) mean_edge_mm: f64,
}

impl Near {
    /// The vertices inside the trim line and less than [`BEYOND_MM`] beyond it; `edge_mm` is the distance to it, positive inside.
    pub(super) fn find(skin: &Surface, edge_mm: &[f32]) -> Self {
        let mesh = skin.mesh();
        let is_near = |v: usize| edge_mm.get(v).is_some_and(|edge| *edge > -BEYOND_MM);
        let mut vertices: Vec<u32> = (0..mesh.points.len() as u32).filter(|v| is_near(*v as usize)).collect();
        let count = vertices.len();
        let mut place = vec![u32::MAX; mesh.points.len()];
        vertices.iter().enumerate().for_each(|(i, v)| place[*v as usize] = i as u32);
        let mut starts = vec![0];
        let mut neighbours: Vec<u32> = Vec::with_capacity(7 * count);
        let mut lengths = 0.0_f64;
        for i in 0..count {
            let v = vertices[i];
            let begin = neighbours.len();
            for w in skin.adjacency().triangles_around(v).iter().flat_map(|t| mesh.triangles[*t as usize]) {
                if place[w as usize] == u32::MAX {
                    place[w as usize] = vertices.len() as u32;
                    vertices.push(w);
                }
                let n = place[w as usize];
                if w != v && !neighbours[begin..].contains(&n) {
                    lengths += f64::from((mesh.points[v as usize] - mesh.points[w as usize]).norm());
                    neighbours.push(n);
                }
            }
            starts.push(neighbours.len());
        }
        let mean_edge_mm = lengths / neighbours.len().max(1) as f64;
        Self { vertices, count, neighbours, starts, mean_edge_mm }
    }

    /// Neighbours of a vertex, as places in `vertices`.
    pub(super) fn around(&self, i: usize) -> &[u32] {
        &self.neighbours[self.starts[i]..self.starts[i + 1]]
    }
}
