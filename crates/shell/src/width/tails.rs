//! Thin tails of a zone: parts that stay narrow all the way to their end.
//!
//! Where the zone is at least `least` deep the wall is sound; that is its core. The skin is walked from the core
//! outward over the zone. At a smooth edge it ends `least` from the core, and at a corner of angle α after
//! `least / sin(α/2)`, so what goes on for three times `least` is sharper than 39 degrees, or a strip narrower than
//! twice `least`.

use mesh::{Cancelled, FloodRange, Job, Surface, flood};

use super::core::{Core, NO_COMPONENT, VERTICES_A_LOOK, covered};

/// A tail reaches out from the core by at least this many times what the rim needs.
const LEAST_REACH: f32 = 3.0;
/// Tails are told apart beyond this many times what the rim needs; a right corner ends at 1.41.
const APART: f32 = 2.0;

/// A part of a zone that is thin all the way to its end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tail {
    /// From where it becomes thin to its end, about.
    pub length_mm: f32,
    /// Greatest width, about.
    pub width_mm: f32,
    /// The vertex at its end.
    pub end: usize,
}

/// Tails narrower than twice `least_mm`, longest first.
///
/// # Errors
/// [`Cancelled`] on request.
pub(super) fn tails(
    skin: &Surface,
    distance_mm: &[f32],
    least_mm: f32,
    core: &Core,
    job: &Job,
) -> Result<Vec<Tail>, Cancelled> {
    let away = FromCore::new(skin, distance_mm, core, job)?;
    let count = away.mm.len();
    let in_tail = |v: usize| away.mm[v].is_finite() && away.mm[v] > APART * least_mm;
    let mut seen = vec![false; count];
    let mut found = Vec::new();
    for start in 0..count {
        if seen[start] || !in_tail(start) {
            continue;
        }
        seen[start] = true;
        let mut members = vec![start];
        let mut next = 0;
        while next < members.len() {
            if next.is_multiple_of(VERTICES_A_LOOK) {
                job.check()?;
            }
            for w in skin.adjacency().vertices_around(skin.mesh(), members[next] as u32) {
                let w = w as usize;
                if !seen[w] && in_tail(w) {
                    seen[w] = true;
                    members.push(w);
                }
            }
            next += 1;
        }
        // What comes from two cores is a neck between them.
        if members.iter().any(|v| away.core[*v] != away.core[start]) {
            continue;
        }
        let end = members.iter().copied().fold(start, |a, b| if away.mm[b] > away.mm[a] { b } else { a });
        if away.mm[end] >= LEAST_REACH * least_mm {
            let width_mm = 2.0 * members.iter().map(|v| distance_mm[*v]).fold(0.0, f32::max);
            found.push(Tail { length_mm: away.mm[end] - least_mm, width_mm, end });
        }
    }
    found.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm).then(a.end.cmp(&b.end)));
    Ok(found)
}

/// How far each covered vertex is from the core, along the edges of triangles inside the zone (Dijkstra).
struct FromCore {
    /// Infinite where the zone is not connected with a core.
    mm: Vec<f32>,
    /// The component of the core it was reached from.
    core: Vec<u32>,
}

impl FromCore {
    fn new(skin: &Surface, distance_mm: &[f32], from: &Core, job: &Job) -> Result<Self, Cancelled> {
        let (mesh, adjacency) = (skin.mesh(), skin.adjacency());
        let outside = |w: u32| covered(distance_mm, w as usize) && from.component[w as usize] == NO_COMPONENT;
        let edges = |v: u32| {
            let p = mesh.points[v as usize];
            let around = adjacency.vertices_around(mesh, v).into_iter().filter(|w| outside(*w));
            around.map(move |w| (w, (mesh.points[w as usize] - p).norm()))
        };
        let range = FloodRange { from: &from.border, reach: f32::INFINITY, goal: None };
        let reached = flood(mesh.points.len(), range, edges, job)?;
        let mut core = from.component.clone();
        let mut mm: Vec<f32> = reached.distance[..core.len()].to_vec();
        let mut way = Vec::new();
        for v in 0..core.len() {
            if from.component[v] != NO_COMPONENT {
                mm[v] = 0.0;
                continue;
            }
            let mut at = v;
            while mm[at].is_finite() && core[at] == NO_COMPONENT {
                way.push(at);
                at = reached.before[at] as usize;
            }
            let component = core[at];
            way.drain(..).for_each(|v| core[v] = component);
        }
        Ok(Self { mm, core })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample_skins::{flat, inside_box, zone};

    const LEAST_MM: f32 = 4.0;

    /// Tails of a square of 40 mm about (0, −20) joined with `more`.
    fn found(more: impl Fn(f32, f32) -> f32) -> (Surface, Vec<Tail>) {
        let skin = flat(60.0, 120.0, 1.0);
        let zone = zone(&skin, |p| inside_box([20.0, 20.0], [p.x, p.z + 20.0]).max(more(p.x, p.z)));
        let distance_mm = &zone.covered.distance_mm;
        let job = Job::silent();
        let core = Core::new(&skin, distance_mm, LEAST_MM, &job).unwrap();
        let tails = tails(&skin, distance_mm, LEAST_MM, &core, &job).unwrap();
        (skin, tails)
    }

    #[test]
    fn a_strip_is_a_tail_with_its_length_width_and_end() {
        for (length, width) in [(15.0, 5.0), (30.0, 5.0), (40.0, 7.0)] {
            let (skin, tails) =
                found(|x, z| inside_box([0.5 * width, 0.5 * length + 5.0], [x, z - 0.5 * length + 5.0]));
            assert_eq!(tails.len(), 1, "{tails:?}");
            // Between the square's side and the strip's end; the core ends up to 4 mm inside that side.
            assert!((tails[0].length_mm - length).abs() < 4.0, "{tails:?} for {length}");
            assert!((tails[0].width_mm - width).abs() < 1.01, "{tails:?} for {width}");
            let p = skin.mesh().points[tails[0].end];
            assert!((p.z - length).abs() < 1.6 && p.x.abs() < 0.5 * width, "{p}");
        }
    }

    #[test]
    fn a_wedge_is_a_tail_when_it_is_sharper_than_39_degrees() {
        for (degrees, sharp) in [(20.0_f32, true), (30.0, true), (60.0, false), (90.0, false)] {
            // A wedge with its tip at z = 45 and its sides running down into the square.
            let (sin, cos) = (0.5 * degrees).to_radians().sin_cos();
            let (skin, tails) = found(|x, z| ((45.0 - z) * sin - x.abs() * cos).min(z + 30.0));
            assert_eq!(tails.len(), usize::from(sharp), "{degrees}: {tails:?}");
            if sharp {
                // The core ends 4 / sin(α/2) from the tip.
                assert!((tails[0].length_mm - (LEAST_MM / sin - LEAST_MM)).abs() < 2.5, "{degrees}: {tails:?}");
                assert!((skin.mesh().points[tails[0].end].z - 45.0).abs() < 6.0);
            }
        }
    }

    #[test]
    fn corners_stubs_wide_strips_and_necks_are_no_tails() {
        assert_eq!(found(|_, _| -1.0).1, []);
        assert_eq!(found(|x, z| inside_box([2.5, 5.0], [x, z])).1, []);
        assert_eq!(found(|x, z| inside_box([5.0, 25.0], [x, z - 15.0])).1, []);
        let neck = found(|x, z| inside_box([2.0, 25.0], [x, z - 15.0]).max(inside_box([15.0, 9.0], [x, z - 45.0])));
        assert_eq!(neck.1, []);
    }
}
