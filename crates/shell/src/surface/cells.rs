//! How the surface crosses one cube of the grid: the table of marching cubes, with a closed manifold as its output.
//!
//! After Lorensen and Cline 1987, with the two ambiguities closed: on a face with two opposite inside corners the
//! outside ones are cut off one by one, from both sides of the face alike, so that thin walls stay connected; and no
//! polygon is split along a line that lies in a face, so that an edge inside a cube always belongs to two triangles of
//! that cube. The tests go through all 256 sign patterns, and all pairs of them that can lie side by side.

/// Corner `c` of a cube lies at `(c & 1, c >> 1 & 1, c >> 2 & 1)`.
pub const CORNERS: usize = 8;

/// The twelve edges: lower corner and axis. The upper corner is the lower one with the axis bit set.
pub const EDGES: [(u8, u8); 12] =
    [(0, 0), (2, 0), (4, 0), (6, 0), (0, 1), (1, 1), (4, 1), (5, 1), (0, 2), (1, 2), (2, 2), (3, 2)];

/// The six faces, corners counter-clockwise seen from outside the cube.
const FACES: [[u8; 4]; 6] = [[0, 4, 6, 2], [1, 3, 7, 5], [0, 1, 5, 4], [2, 6, 7, 3], [0, 2, 3, 1], [4, 5, 7, 6]];

/// Triangles of each of the 256 sign patterns, as edge numbers; bit `c` of the pattern is set where corner `c` is
/// inside.
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

/// Closed loops of crossed edges round the corners of `pattern`, each run of them on a face by itself.
fn loops_of(pattern: u8) -> Vec<Vec<u8>> {
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
    let mut loops = Vec::new();
    for start in 0..12_u8 {
        if next[start as usize] == u8::MAX {
            continue;
        }
        let mut found = Vec::new();
        let mut at = start;
        while next[at as usize] != u8::MAX {
            found.push(at);
            at = std::mem::replace(&mut next[at as usize], u8::MAX);
        }
        loops.push(found);
    }
    loops
}

fn share_a_face(a: u8, b: u8) -> bool {
    let on = |edge: u8, face: &[u8; 4]| {
        let (low, axis) = EDGES[edge as usize];
        face.contains(&low) && face.contains(&(low | 1 << axis))
    };
    FACES.iter().any(|f| on(a, f) && on(b, f))
}

/// All ways to split a polygon into triangles without a diagonal in a face of the cube.
fn splits(polygon: &[u8]) -> Vec<Vec<[u8; 3]>> {
    if polygon.len() < 3 {
        return vec![Vec::new()];
    }
    if polygon.len() == 3 {
        return vec![vec![[polygon[0], polygon[1], polygon[2]]]];
    }
    // The side from the last to the first stays; its triangle picks one of the others.
    let n = polygon.len();
    let mut found = Vec::new();
    for k in 1..n - 1 {
        let allowed = |i: usize, j: usize| j - i == 1 || !share_a_face(polygon[i], polygon[j]);
        if !allowed(0, k) || !allowed(k, n - 1) {
            continue;
        }
        for left in splits(&polygon[..=k]) {
            for right in splits(&polygon[k..]) {
                let mut all = left.clone();
                all.extend(&right);
                all.push([polygon[0], polygon[k], polygon[n - 1]]);
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
    for polygon in loops_of(pattern) {
        let best = splits(&polygon).into_iter().max_by(|a, b| thinnest(a).total_cmp(&thinnest(b)));
        triangles.extend(best.unwrap_or_default());
    }
    triangles
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::{BTreeMap, BTreeSet};

    /// Directed edges that triangles use in one direction only: their common outline.
    fn outline_of(triangles: &[[u8; 3]]) -> BTreeSet<(u8, u8)> {
        let mut uses = BTreeMap::<(u8, u8), i32>::new();
        for t in triangles {
            for k in 0..3 {
                *uses.entry((t[k], t[(k + 1) % 3])).or_default() += 1;
            }
        }
        for ((a, b), times) in &uses {
            assert_eq!(*times, 1, "the edge from {a} to {b} is used twice in one direction");
        }
        uses.keys().copied().filter(|(a, b)| !uses.contains_key(&(*b, *a))).collect()
    }

    fn faces_of(a: u8, b: u8) -> Vec<usize> {
        let on = |edge: u8, face: &[u8; 4]| {
            let (low, axis) = EDGES[edge as usize];
            face.contains(&low) && face.contains(&(low | 1 << axis))
        };
        (0..6).filter(|f| on(a, &FACES[*f]) && on(b, &FACES[*f])).collect()
    }

    /// What the outline must be on one face, from its signs alone: round each run of outside corners a segment, with
    /// the inside on its right as seen from outside the cube. Written down by cases, not by the code under test.
    fn segments_on_face(pattern: u8, face: [u8; 4]) -> BTreeSet<(u8, u8)> {
        let inside = face.map(|c| pattern >> c & 1 == 1);
        let side = |k: usize| edge_between(face[k % 4], face[(k + 1) % 4]);
        let mut segments = BTreeSet::new();
        match inside.iter().filter(|i| **i).count() {
            0 | 4 => {}
            1 => {
                let k = inside.iter().position(|i| *i).unwrap();
                segments.insert((side(k + 3), side(k)));
            }
            3 => {
                let k = inside.iter().position(|i| !*i).unwrap();
                segments.insert((side(k), side(k + 3)));
            }
            _ => match inside {
                [true, false, true, false] => segments.extend([(side(1), side(0)), (side(3), side(2))]),
                [false, true, false, true] => segments.extend([(side(0), side(3)), (side(2), side(1))]),
                _ => {
                    let first = (0..4).find(|k| inside[*k] && inside[(k + 1) % 4]).unwrap();
                    segments.insert((side(first + 3), side(first + 1)));
                }
            },
        }
        segments
    }

    #[test]
    fn every_pattern_is_closed_inside_the_cube_and_meets_each_face_as_its_signs_say() {
        let table = CellTable::new();
        for pattern in 0..=255_u8 {
            let outline = outline_of(table.triangles(pattern));
            let mut expected = BTreeSet::new();
            for face in FACES {
                let segments = segments_on_face(pattern, face);
                assert!(expected.is_disjoint(&segments));
                expected.extend(segments);
            }
            assert_eq!(outline, expected, "pattern {pattern:08b}");
        }
    }

    #[test]
    fn cells_side_by_side_share_the_outline_on_the_face_between_them_the_other_way_round() {
        let table = CellTable::new();
        let outlines: Vec<_> = (0..=255_u8).map(|p| outline_of(table.triangles(p))).collect();
        let mut pairs = 0;
        for axis in 0..3_u8 {
            let bit = 1 << axis;
            let upper = FACES.iter().position(|f| f.iter().all(|c| c & bit != 0)).unwrap();
            let lower = FACES.iter().position(|f| f.iter().all(|c| c & bit == 0)).unwrap();
            for (p, here) in outlines.iter().enumerate() {
                for (q, there) in outlines.iter().enumerate() {
                    // They can be neighbours if the corners that they share have the same signs.
                    let agree =
                        (0..8).filter(|c| c & bit as usize == 0).all(|c| q >> c & 1 == p >> (c | bit as usize) & 1);
                    if !agree {
                        continue;
                    }
                    pairs += 1;
                    let on = |outline: &BTreeSet<(u8, u8)>, face: usize| -> BTreeSet<(u8, u8)> {
                        outline.iter().copied().filter(|(a, b)| faces_of(*a, *b).contains(&face)).collect()
                    };
                    // An edge of the upper face is the edge one cell up the axis of the lower face.
                    let moved = |edge: u8| {
                        let (low, along) = EDGES[edge as usize];
                        edge_between(low & !bit, (low & !bit) | 1 << along)
                    };
                    let from_here: BTreeSet<_> =
                        on(here, upper).into_iter().map(|(a, b)| (moved(b), moved(a))).collect();
                    assert_eq!(from_here, on(there, lower), "patterns {p:08b} and {q:08b} across axis {axis}");
                }
            }
        }
        assert_eq!(pairs, 3 * 16 * 16 * 16);
    }

    #[test]
    fn every_crossed_edge_is_used_and_no_other_and_none_lies_in_a_face_twice() {
        for pattern in 0..=255_u8 {
            let used: BTreeSet<u8> = outward(pattern).into_iter().flatten().collect();
            let crossed = |e: &u8| {
                let (low, axis) = EDGES[*e as usize];
                (pattern >> low & 1) != (pattern >> (low | 1 << axis) & 1)
            };
            assert_eq!(used, (0..12).filter(crossed).collect(), "pattern {pattern:08b}");
            let outline = outline_of(&outward(pattern));
            for t in outward(pattern) {
                for k in 0..3 {
                    let (a, b) = (t[k], t[(k + 1) % 3]);
                    let inner = !outline.contains(&(a, b));
                    assert_eq!(inner, !share_a_face(a, b), "pattern {pattern:08b}: a diagonal along a face, or a gap");
                }
            }
        }
    }

    #[test]
    fn triangles_face_away_from_the_inside_corners() {
        // One corner inside, and its opposite: the normal of the triangle points away from the corner.
        for corner in 0..8_u8 {
            let at = |c: u8| nalgebra::Vector3::from([c & 1, c >> 1 & 1, c >> 2 & 1].map(f32::from));
            for (pattern, sign) in [(1 << corner, 1.0), (!(1 << corner), -1.0)] {
                let table = CellTable::new();
                let [t] = table.triangles(pattern) else { panic!("one triangle") };
                let [a, b, c] = t.map(|e| nalgebra::Vector3::from(middle_of(e)));
                assert!(sign * (b - a).cross(&(c - a)).dot(&(a - at(corner))) > 0.0, "corner {corner}");
            }
        }
    }
}
