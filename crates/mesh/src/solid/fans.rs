//! Vertices whose fan is flat enough that no two of its triangles can intersect, so that pairs need not be tested.

use smallvec::SmallVec;

use super::crossing::{flat_axis, turn};
use crate::{Cancelled, Job, Mesh};

/// For each vertex whether its triangles go round it exactly once, all facing one way, when seen along an axis.
///
/// Then their shadows, and so they themselves, share nothing but the vertex and the edges between them. Exact: the
/// corners' stored coordinates are compared as they are.
///
/// # Errors
/// [`Cancelled`] when the job was.
pub fn flat_fans(mesh: &Mesh, job: &Job) -> Result<Vec<bool>, Cancelled> {
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
    job.each(mesh.points.len(), |v| is_flat_fan(mesh, v as u32, sides_of(v)))
}

fn is_flat_fan(mesh: &Mesh, v: u32, sides: &[[u32; 2]]) -> bool {
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
    if at != first {
        return false;
    }
    let point = |w: u32| mesh.points[w as usize];
    let middle = point(v);
    let axis = flat_axis(&[middle, point(sides[0][0]), point(sides[0][1])]);
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

    #[test]
    fn a_cone_is_flat_enough_from_either_side_and_a_saddle_too() {
        let cone: Vec<(f32, f32)> = (0..6).map(|i| (10.0 + 60.0 * i as f32, 0.4)).collect();
        let mut mesh = fan(&cone);
        assert!(flat_fans(&mesh, &Job::silent()).unwrap()[0]);
        mesh.triangles.iter_mut().for_each(|t| t.swap(1, 2));
        assert!(flat_fans(&mesh, &Job::silent()).unwrap()[0]);
        let saddle: Vec<(f32, f32)> = (0..8).map(|i| (45.0 * i as f32, 0.3 * (-1.0_f32).powi(i))).collect();
        assert!(flat_fans(&fan(&saddle), &Job::silent()).unwrap()[0]);
    }

    #[test]
    fn open_folded_and_double_fans_are_left_to_the_pairs() {
        let cone: Vec<(f32, f32)> = (0..6).map(|i| (60.0 * i as f32, 0.4)).collect();
        let mut open = fan(&cone);
        open.triangles.pop();
        assert!(!flat_fans(&open, &Job::silent()).unwrap()[0]);
        // Back by 20 degrees in one place: a fold.
        assert!(
            !flat_fans(&fan(&[(0., 0.), (90., 0.), (70., 0.1), (180., 0.), (270., 0.)]), &Job::silent()).unwrap()[0]
        );
        // Twice round, as the middle of a spiral stair: every triangle faces up.
        let stair: Vec<(f32, f32)> = (0..12).map(|i| (60.0 * i as f32, 0.05 * i as f32)).collect();
        assert!(!flat_fans(&fan(&stair), &Job::silent()).unwrap()[0]);
        // A fan over another, touching in the vertex.
        let mut two = fan(&cone);
        let other = fan(&cone.iter().map(|(a, z)| (a + 30.0, z + 0.3)).collect::<Vec<_>>());
        two.points.extend(&other.points[1..]);
        two.triangles.extend(other.triangles.iter().map(|t| t.map(|v| if v == 0 { 0 } else { v + 6 })));
        assert!(!flat_fans(&two, &Job::silent()).unwrap()[0]);
    }
}
