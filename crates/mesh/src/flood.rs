//! Shortest paths along the edges of a graph.

use crate::job::Every;
use crate::{Cancelled, Job, NONE, NearestFirst};

/// What [`flood`] reached: for each vertex its distance, and the vertex before it on the shortest path.
#[derive(Debug, Clone, PartialEq)]
pub struct Flood {
    /// Length of the shortest path from a source; infinite where there is none shorter than the reach.
    pub distance: Vec<f32>,
    /// The vertex before it on that path; [`NONE`] at sources and at vertices that were not reached.
    pub before: Vec<u32>,
}

impl Flood {
    /// The shortest path from a source to `v`, both included; `None` where `v` was not reached.
    #[must_use]
    pub fn way_to(&self, v: u32) -> Option<Vec<u32>> {
        self.distance[v as usize].is_finite().then(|| {
            let mut way: Vec<u32> =
                std::iter::successors(Some(v), |v| Some(self.before[*v as usize]).filter(|w| *w != NONE)).collect();
            way.reverse();
            way
        })
    }
}

/// Where a [`flood`] starts and ends.
#[derive(Debug, Clone, Copy)]
pub struct FloodRange<'a> {
    /// Vertices at distance 0.
    pub from: &'a [u32],
    /// Only what is nearer than this is reached.
    pub reach: f32,
    /// Stop when this vertex is reached.
    pub goal: Option<u32>,
}

/// Floods a graph of `vertices` vertices from some of them, nearest first (Dijkstra 1959).
///
/// `edges` gives for each vertex its neighbours and the lengths of the edges to them, none negative. Along the edges of
/// a triangle mesh paths come out up to 15 % too long, as they cannot cross triangles: [`crate::geodesic`] measures
/// better.
///
/// # Errors
/// [`Cancelled`] when `job` is; it is checked every 4096 vertices.
pub fn flood<I: IntoIterator<Item = (u32, f32)>>(
    vertices: usize,
    range: FloodRange<'_>,
    edges: impl Fn(u32) -> I,
    job: &Job,
) -> Result<Flood, Cancelled> {
    let mut found = Flood { distance: vec![f32::INFINITY; vertices], before: vec![NONE; vertices] };
    let mut queue = NearestFirst::default();
    for v in range.from {
        found.distance[*v as usize] = 0.0;
        queue.push(0.0, *v, ());
    }
    let mut every = Every::new(job, 4096);
    while let Some((distance, v, ())) = queue.pop() {
        if range.goal == Some(v) {
            break;
        }
        let here = found.distance[v as usize];
        if distance > f64::from(here) {
            continue;
        }
        every.tick()?;
        for (w, length) in edges(v) {
            let there = here + length;
            if there < found.distance[w as usize] && there < range.reach {
                found.distance[w as usize] = there;
                found.before[w as usize] = v;
                queue.push(there.into(), w, ());
            }
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Reference: the matrix of all shortest paths by Floyd and Warshall.
        #[test]
        fn distances_are_those_of_all_shortest_ways(
            edges in prop::collection::vec((0_u32..12, 0_u32..12, 1_u8..50), 0..40)
        ) {
            let mut all = vec![[f32::INFINITY; 12]; 12];
            (0..12).for_each(|v| all[v][v] = 0.0);
            for (a, b, length) in &edges {
                let least = all[*a as usize][*b as usize].min(f32::from(*length));
                (all[*a as usize][*b as usize], all[*b as usize][*a as usize]) = (least, least);
            }
            let direct = all.clone();
            for k in 0..12 {
                for i in 0..12 {
                    for j in 0..12 {
                        all[i][j] = all[i][j].min(all[i][k] + all[k][j]);
                    }
                }
            }
            let neighbours = |v: u32| {
                let row = direct[v as usize];
                (0..12_u32).filter(move |w| row[*w as usize].is_finite()).map(move |w| (w, row[w as usize]))
            };
            let range = FloodRange { from: &[0], reach: f32::INFINITY, goal: None };
            let found = flood(12, range, neighbours, &Job::silent()).unwrap();
            prop_assert_eq!(&found.distance[..], &all[0][..]);
            for v in 0..12_u32 {
                let way = found.way_to(v);
                prop_assert_eq!(way.is_some(), all[0][v as usize].is_finite());
                let length = way.map(|way| way.windows(2).map(|w| direct[w[0] as usize][w[1] as usize]).sum::<f32>());
                prop_assert_eq!(length.unwrap_or(f32::INFINITY), all[0][v as usize]);
            }
            let near = flood(12, FloodRange { reach: 30.0, ..range }, neighbours, &Job::silent()).unwrap();
            for (near, all) in near.distance.iter().zip(&all[0]) {
                prop_assert_eq!(*near, if *all < 30.0 { *all } else { f32::INFINITY });
            }
            let aimed = flood(12, FloodRange { goal: Some(7), ..range }, neighbours, &Job::silent()).unwrap();
            prop_assert_eq!(aimed.distance[7], all[0][7]);
        }
    }
}
