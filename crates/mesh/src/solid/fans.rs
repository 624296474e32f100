//! Vertices whose fan is flat enough that no two of its triangles can intersect, so that pairs need not be tested, and
//! those where there are too many to test them all.

use smallvec::SmallVec;

use super::crossing::{flat_axis, turn};
use crate::{Cancelled, Job, Mesh};

/// Most triangles round one vertex that are compared with each other, as pairs grow with the square of their number.
/// Surfaces hardly ever have more, except in flat fans such as the cap of a cylinder.
pub const MOST_COMPARED: usize = 512;

/// How the triangles round a vertex lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Fan {
    /// They go round it exactly once, all facing one way, when seen along an axis. Then their shadows, and so they
    /// themselves, share nothing but the vertex and the edges between them.
    Flat,
    /// Otherwise: all pairs have to be tested.
    #[default]
    Folded,
    /// As `Folded`, but of more than [`MOST_COMPARED`] triangles.
    HighValence,
}

/// How the triangles round each vertex lie. Exact: the corners' stored coordinates are compared as they are.
///
/// # Errors
/// [`Cancelled`] when the job was.
pub fn fans(mesh: &Mesh, job: &Job) -> Result<Vec<Fan>, Cancelled> {
    let mut starts = vec![0_u32; mesh.points.len() + 1];
    mesh.triangles.iter().flatten().for_each(|v| starts[*v as usize + 1] += 1);
    for i in 1..starts.len() {
        starts[i] += starts[i - 1];
    }
    let mut fill = starts.clone();
    // Each triangle round a vertex as the two corners that follow.
    let mut sides = vec![[0_u32; 2]; 3 * mesh.triangles.len()];
    for [a, b, c] in &mesh.triangles {
        for (v, side) in [(a, [*b, *c]), (b, [*c, *a]), (c, [*a, *b])] {
            sides[fill[*v as usize] as usize] = side;
            fill[*v as usize] += 1;
        }
    }
    let sides_of = |v: usize| &sides[starts[v] as usize..starts[v + 1] as usize];
    job.each(mesh.points.len(), |v| fan(mesh, v as u32, sides_of(v)))
}

fn fan(mesh: &Mesh, v: u32, sides: &[[u32; 2]]) -> Fan {
    let high_valence = sides.len() > MOST_COMPARED;
    if is_ring(sides) {
        let point = |w: u32| mesh.points[w as usize];
        let axis = flat_axis(&[point(v), point(sides[0][0]), point(sides[0][1])]);
        // A steep cone is not flat along the axis of one of its triangles. The other axes are only worth trying where
        // there are many pairs.
        if is_flat(mesh, v, sides, axis) || high_valence && (1..3).any(|k| is_flat(mesh, v, sides, (axis + k) % 3)) {
            return Fan::Flat;
        }
    }
    if high_valence { Fan::HighValence } else { Fan::Folded }
}

/// Whether the sides make one closed ring.
fn is_ring(sides: &[[u32; 2]]) -> bool {
    let Some([first, mut at]) = sides.first().copied() else { return false };
    // Sorted by where they start, so that the next side is found quickly however many there are.
    let mut by_start: SmallVec<[[u32; 2]; 16]> = sides.into();
    by_start.sort_unstable();
    // One closed ring: from side to side back to the first, and not earlier.
    for step in 1..=sides.len() {
        if at == first {
            if step < sides.len() {
                return false;
            }
            break;
        }
        match by_start.get(by_start.partition_point(|s| s[0] < at)).filter(|s| s[0] == at) {
            Some(next) => at = next[1],
            None => return false,
        }
    }
    at == first
}

/// Whether the triangles round `v` go round it once, all facing one way, when seen along `axis`.
fn is_flat(mesh: &Mesh, v: u32, sides: &[[u32; 2]], axis: usize) -> bool {
    let point = |w: u32| mesh.points[w as usize];
    let middle = point(v);
    let below = |w: u32| point(w)[(axis + 2) % 3] < middle[(axis + 2) % 3];
    let way = turn(&middle, &point(sides[0][0]), &point(sides[0][1]), axis);
    let mut rounds = 0;
    for [a, b] in sides {
        let turned = turn(&middle, &point(*a), &point(*b), axis);
        if turned != way || turned == 0 {
            return false;
        }
        // Going round to the left, the ray to the right is crossed from below, once a round.
        rounds += usize::from(if way > 0 { below(*a) && !below(*b) } else { below(*b) && !below(*a) });
    }
    rounds == 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    /// A fan round the origin with corners at these angles (degrees) and heights.
    fn fan(ring: &[(f32, f32)]) -> Mesh {
        let mut points = vec![Point3::origin()];
        points.extend(ring.iter().map(|(angle, z)| {
            let (s, c) = angle.to_radians().sin_cos();
            Point3::new(c, s, *z)
        }));
        let n = ring.len() as u32;
        Mesh::new(points, (0..n).map(|i| [0, i + 1, (i + 1) % n + 1]).collect())
    }

    fn fan_of(mesh: &Mesh) -> Fan {
        fans(mesh, &Job::silent()).unwrap()[0]
    }

    #[test]
    fn a_cone_is_flat_enough_from_either_side_and_a_saddle_too() {
        let cone: Vec<(f32, f32)> = (0..6).map(|i| (10.0 + 60.0 * i as f32, 0.4)).collect();
        let mut mesh = fan(&cone);
        assert!(fan_of(&mesh) == Fan::Flat);
        mesh.triangles.iter_mut().for_each(|t| t.swap(1, 2));
        assert!(fan_of(&mesh) == Fan::Flat);
        let saddle: Vec<(f32, f32)> = (0..8).map(|i| (45.0 * i as f32, 0.3 * (-1.0_f32).powi(i))).collect();
        assert!(fan_of(&fan(&saddle)) == Fan::Flat);
    }

    #[test]
    fn open_folded_and_double_fans_are_left_to_the_pairs() {
        let cone: Vec<(f32, f32)> = (0..6).map(|i| (60.0 * i as f32, 0.4)).collect();
        let mut open = fan(&cone);
        open.triangles.pop();
        assert!(fan_of(&open) != Fan::Flat);
        // Back by 20 degrees in one place: a fold.
        assert!(fan_of(&fan(&[(0., 0.), (90., 0.), (70., 0.1), (180., 0.), (270., 0.)])) != Fan::Flat);
        // Twice round, as the middle of a spiral stair: every triangle faces up.
        let stair: Vec<(f32, f32)> = (0..12).map(|i| (60.0 * i as f32, 0.05 * i as f32)).collect();
        assert!(fan_of(&fan(&stair)) != Fan::Flat);
        // A fan over another, touching in the vertex.
        let mut two = fan(&cone);
        let other = fan(&cone.iter().map(|(a, z)| (a + 30.0, z + 0.3)).collect::<Vec<_>>());
        two.points.extend(&other.points[1..]);
        two.triangles.extend(other.triangles.iter().map(|t| t.map(|v| if v == 0 { 0 } else { v + 6 })));
        assert!(fan_of(&two) != Fan::Flat);
    }

    #[test]
    fn a_folded_vertex_of_high_valence_is_told_from_a_cone() {
        let n = MOST_COMPARED + 1;
        let angle = |i: usize, rounds: f32| 360.0 * rounds * i as f32 / n as f32;
        // A steep cone: its triangles are flattest along x and y, its fan only along z.
        let cone: Vec<(f32, f32)> = (0..n).map(|i| (angle(i, 1.0), -20.0)).collect();
        assert_eq!(fan_of(&fan(&cone)), Fan::Flat);
        let stair = |n: usize| (0..n).map(|i| (angle(i, 2.0), 0.01 * i as f32)).collect::<Vec<_>>();
        assert_eq!(fan_of(&fan(&stair(n))), Fan::HighValence);
        assert_eq!(fan_of(&fan(&stair(MOST_COMPARED))), Fan::Folded);
    }
}
