//! Which triangles of a map lie where.

use mesh::Mesh;
use nalgebra::Point2;

/// Side of a cell, mm: a few triangles of a usual scan.
const CELL_MM: f64 = 2.0;
/// Fewer cells a side than this, whatever the map's size.
const MOST_A_SIDE: f64 = 1000.0;

/// A grid of cells over a map, each with the triangles whose boxes reach into it.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Cells {
    low: [f64; 2],
    cell_mm: f64,
    size: [usize; 2],
    starts: Vec<u32>,
    triangles: Vec<u32>,
}

impl Cells {
    pub(super) fn new(mesh: &Mesh, flat: &[Point2<f64>]) -> Self {
        let Some(first) = flat.first() else { return Self::default() };
        let (low, high) = flat.iter().fold((*first, *first), |(lo, hi), p| (lo.inf(p), hi.sup(p)));
        let cell_mm = CELL_MM.max((high - low).max() / MOST_A_SIDE);
        let size = [0, 1].map(|k| ((high[k] - low[k]) / cell_mm) as usize + 1);
        let mut cells =
            Self { low: low.into(), cell_mm, size, starts: vec![0; size[0] * size[1] + 1], triangles: Vec::new() };
        let boxes: Vec<[[usize; 2]; 2]> = mesh
            .triangles
            .iter()
            .map(|t| {
                let [a, b, c] = t.map(|v| flat[v as usize]);
                [cells.cell(&a.inf(&b).inf(&c)), cells.cell(&a.sup(&b).sup(&c))]
            })
            .collect();
        let within = |[low, high]: [[usize; 2]; 2]| {
            (low[1]..=high[1]).flat_map(move |j| (low[0]..=high[0]).map(move |i| i + size[0] * j))
        };
        for cell in boxes.iter().flat_map(|b| within(*b)) {
            cells.starts[cell + 1] += 1;
        }
        for i in 1..cells.starts.len() {
            cells.starts[i] += cells.starts[i - 1];
        }
        let mut next = cells.starts.clone();
        cells.triangles = vec![0; *cells.starts.last().unwrap_or(&0) as usize];
        for (t, b) in (0..).zip(&boxes) {
            for cell in within(*b) {
                cells.triangles[next[cell] as usize] = t;
                next[cell] += 1;
            }
        }
        cells
    }

    /// The triangles that may hold a place, in rising order.
    pub(super) fn at(&self, place: &Point2<f64>) -> &[u32] {
        let inside = (0..2).all(|k| {
            let steps = (place[k] - self.low[k]) / self.cell_mm;
            steps >= 0.0 && steps < self.size[k] as f64
        });
        if !inside {
            return &[];
        }
        let [i, j] = self.cell(place);
        let cell = i + self.size[0] * j;
        &self.triangles[self.starts[cell] as usize..self.starts[cell + 1] as usize]
    }

    fn cell(&self, place: &Point2<f64>) -> [usize; 2] {
        [0, 1].map(|k| (((place[k] - self.low[k]) / self.cell_mm) as usize).min(self.size[k] - 1))
    }
}
