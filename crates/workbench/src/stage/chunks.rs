//! The limb cut into chunks, so that a dab of the brush sends few of its points to the graphics card.

use mesh::Mesh;

/// Most triangles of a chunk.
const MOST: usize = 12_000;

/// A part of a mesh with a numbering of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Chunk {
    /// Numbers of its vertices in the whole mesh, ascending.
    pub vertices: Vec<u32>,
    /// Its triangles, in its own numbers.
    pub triangles: Vec<[u32; 3]>,
}

/// Cuts a mesh into chunks by halving it across its longest side.
pub fn chunks(mesh: &Mesh) -> Vec<Chunk> {
    let mut numbers: Vec<u32> = (0..mesh.triangles.len() as u32).collect();
    halve(mesh, &mut numbers)
}

fn halve(mesh: &Mesh, triangles: &mut [u32]) -> Vec<Chunk> {
    if triangles.len() <= MOST {
        return (!triangles.is_empty()).then(|| chunk(mesh, triangles)).into_iter().collect();
    }
    let corner = |t: u32| mesh.points[mesh.triangles[t as usize][0] as usize];
    let first = corner(triangles[0]);
    let (low, high) = triangles.iter().fold((first, first), |(l, h), t| (l.inf(&corner(*t)), h.sup(&corner(*t))));
    let axis = (high - low).imax();
    let middle = triangles.len() / 2;
    triangles.select_nth_unstable_by(middle, |a, b| corner(*a)[axis].total_cmp(&corner(*b)[axis]).then(a.cmp(b)));
    let (left, right) = triangles.split_at_mut(middle);
    let (mut parts, more) = rayon::join(|| halve(mesh, left), || halve(mesh, right));
    parts.extend(more);
    parts
}

fn chunk(mesh: &Mesh, triangles: &[u32]) -> Chunk {
    let mut vertices: Vec<u32> = triangles.iter().flat_map(|t| mesh.triangles[*t as usize]).collect();
    vertices.sort_unstable();
    vertices.dedup();
    let own = |v: u32| vertices.binary_search(&v).unwrap_or(0) as u32;
    let triangles = triangles.iter().map(|t| mesh.triangles[*t as usize].map(own)).collect();
    Chunk { vertices, triangles }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    #[test]
    fn every_triangle_is_in_one_chunk_with_its_own_corners() {
        let side = 201_u32;
        let points = (0..side * side).map(|i| Point3::new((i % side) as f32, (i / side) as f32, 0.0)).collect();
        let triangles: Vec<[u32; 3]> = (0..(side - 1) * (side - 1))
            .flat_map(|i| {
                let a = i / (side - 1) * side + i % (side - 1);
                [[a, a + 1, a + side + 1], [a, a + side + 1, a + side]]
            })
            .collect();
        let mesh = Mesh::new(points, triangles);
        let parts = chunks(&mesh);
        assert!(parts.len() > 4 && parts.iter().all(|p| p.triangles.len() <= MOST));
        let mut found: Vec<[u32; 3]> =
            parts.iter().flat_map(|p| p.triangles.iter().map(|t| t.map(|v| p.vertices[v as usize]))).collect();
        found.sort_unstable();
        let mut expected = mesh.triangles.clone();
        expected.sort_unstable();
        assert_eq!(found, expected);
    }
}
