//! How the surface crosses one cube of the grid: marching cubes whose output is manifold.
//!
//! After Lorensen and Cline 1987, with the two ambiguities closed: on a face with two opposite inside corners the outside
//! ones are cut off one by one, from both sides of the face alike, so that thin walls hold together; and no polygon is
//! split along a line that lies in a face, so that an edge inside a cube always belongs to two triangles of that cube.

/// Corner `c` of a cube lies at `(c & 1, c >> 1 & 1, c >> 2 & 1)`.
pub const CORNERS: usize = 8;

/// The twelve edges: lower corner and axis. The upper corner is the lower one with the axis bit set.
pub const EDGES: [(u8, u8); 12] =
    [(0, 0), (2, 0), (4, 0), (6, 0), (0, 1), (1, 1), (4, 1), (5, 1), (0, 2), (1, 2), (2, 2), (3, 2)];

/// The six faces, corners counter-clockwise seen from outside the cube.
const FACES: [[u8; 4]; 6] = [[0, 4, 6, 2], [1, 3, 7, 5], [0, 1, 5, 4], [2, 6, 7, 3], [0, 2, 3, 1], [4, 5, 7, 6]];

/// Triangles of each of the 256 sign patterns, as edge numbers; bit `c` of the pattern is set where corner `c` is inside.
pub struct CellTable {
    triangles: Vec<Vec<[u8; 3]>>,
}

impl CellTable {
    /// Works out all patterns.
    #[must_use]
    pub fn new() -> Self {
        Self { triangles: (0..=255).map(outward).collect() }
    }

    /// Triangles of one sign pattern, outward (away from inside corners).
    #[must_use]
    pub fn triangles(&self, pattern: u8) -> &[[u8; 3]] {
        &self.triangles[pattern as usize]
    }
}

fn edge_between(a: u8, b: u8) -> u8 {
    let (low, axis) = (a.min(b), (a ^ b).trailing_zeros() as u8);
    EDGES.iter().position(|e| *e == (low, axis)).map_or(u8::MAX, |i| i as u8)
}

/// Triangles of a sign pattern: those that cut off its outside corners, the other way round.
fn outward(pattern: u8) -> Vec<[u8; 3]> {
    triangles_of(!pattern).into_iter().map(|[a, b, c]| [a, c, b]).collect()
}

/// Rings of edges that cut off the corners of `pattern`, each run of them on a face by itself.
fn rings_of(pattern: u8) -> Vec<Vec<u8>> {
    let cut = |c: u8| pattern >> c & 1 == 1;
    let mut next = [u8::MAX; 12];
    for face in FACES {
        for k in 0..4 {
            // A run of such corners starts at k and ends at `last`; on an ambiguous face each run is one corner.
            if !cut(face[k]) || cut(face[(k + 3) % 4]) {
                continue;
            }
            let mut last = k;
            while cut(face[(last + 1) % 4]) {
                last = (last + 1) % 4;
            }
            let entry = edge_between(face[(k + 3) % 4], face[k]);
            let exit = edge_between(face[last], face[(last + 1) % 4]);
            next[entry as usize] = exit;
        }
    }
    let mut rings = Vec::new();
    for start in 0..12_u8 {
        if next[start as usize] == u8::MAX {
            continue;
        }
        let mut ring = Vec::new();
        let mut at = start;
        while next[at as usize] != u8::MAX {
            ring.push(at);
            at = std::mem::replace(&mut next[at as usize], u8::MAX);
        }
        rings.push(ring);
    }
    rings
}

fn share_a_face(a: u8, b: u8) -> bool {
    let on = |edge: u8, face: &[u8; 4]| {
        let (low, axis) = EDGES[edge as usize];
        face.contains(&low) && face.contains(&(low | 1 << axis))
    };
    FACES.iter().any(|f| on(a, f) && on(b, f))
}

/// All ways to split a ring into triangles without a diagonal in a face of the cube.
fn splits(ring: &[u8]) -> Vec<Vec<[u8; 3]>> {
    if ring.len() < 3 {
        return vec![Vec::new()];
    }
    if ring.len() == 3 {
        return vec![vec![[ring[0], ring[1], ring[2]]]];
    }
    // The side from the last to the first stays; its triangle picks one of the others.
    let n = ring.len();
    let mut found = Vec::new();
    for k in 1..n - 1 {
        let allowed = |i: usize, j: usize| j - i == 1 || !share_a_face(ring[i], ring[j]);
        if !allowed(0, k) || !allowed(k, n - 1) {
            continue;
        }
        for left in splits(&ring[..=k]) {
            for right in splits(&ring[k..]) {
                let mut all = left.clone();
                all.extend(&right);
                all.push([ring[0], ring[k], ring[n - 1]]);
                found.push(all);
            }
        }
    }
    found
}

fn middle_of(edge: u8) -> [f32; 3] {
    let (low, axis) = EDGES[edge as usize];
    let mut p = [f32::from(low & 1), f32::from(low >> 1 & 1), f32::from(low >> 2 & 1)];
    p[axis as usize] = 0.5;
    p
}

/// Smallest area of a split with all crossings in the middle: the fatter the better.
fn thinnest(split: &[[u8; 3]]) -> f32 {
    split
        .iter()
        .map(|t| {
            let [a, b, c] = t.map(|e| nalgebra::Vector3::from(middle_of(e)));
            (b - a).cross(&(c - a)).norm()
        })
        .fold(f32::INFINITY, f32::min)
}

fn triangles_of(pattern: u8) -> Vec<[u8; 3]> {
    let mut triangles = Vec::new();
    for ring in rings_of(pattern) {
        let best = splits(&ring).into_iter().max_by(|a, b| thinnest(a).total_cmp(&thinnest(b)));
        triangles.extend(best.unwrap_or_default());
    }
    triangles
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn every_pattern_is_split_into_triangles_that_cover_its_rings() {
        for pattern in 0..=255_u8 {
            let rings = rings_of(pattern);
            let expected: usize = rings.iter().map(|r| r.len() - 2).sum();
            assert_eq!(triangles_of(pattern).len(), expected, "pattern {pattern:08b}: {rings:?}");
        }
    }

    #[test]
    fn inner_edges_belong_to_two_triangles_and_lie_in_no_face() {
        for pattern in 0..=255_u8 {
            let mut uses = BTreeMap::<(u8, u8), i32>::new();
            for t in triangles_of(pattern) {
                for k in 0..3 {
                    let (a, b) = (t[k], t[(k + 1) % 3]);
                    *uses.entry((a.min(b), a.max(b))).or_default() += if a < b { 1 } else { -1 };
                    *uses.entry((b.max(a), 100)).or_default() += 0;
                }
            }
            for ((a, b), sum) in uses.into_iter().filter(|((_, b), _)| *b != 100) {
                if sum == 0 {
                    assert!(!share_a_face(a, b), "pattern {pattern:08b} splits along a face");
                } else {
                    assert!(share_a_face(a, b) && sum.abs() == 1);
                }
            }
        }
    }

    #[test]
    fn one_inside_corner_is_cut_off_facing_away_from_it() {
        let table = CellTable::new();
        let [t] = table.triangles(0b1) else { panic!("one triangle") };
        let [a, b, c] = t.map(|e| nalgebra::Vector3::from(middle_of(e)));
        assert!((b - a).cross(&(c - a)).sum() > 0.0);
    }
}
