//! Refinement of a patch to the density of the mesh around the hole.

use std::collections::BTreeMap;

use nalgebra::Point3;

use crate::job::Every;
use crate::{Cancelled, Job};

/// Liepa's density factor: a triangle is split while its middle is farther from its corners than their scale / √2.
const ALPHA2: f64 = 2.0;
const ROUNDS: usize = 40;
/// No round starts with more triangles than the square of the number of rim points, within these bounds: an even round
/// patch has a fifth of that, and one far rim point must not ask for millions.
const LEAST_MOST: usize = 1000;
const MOST: usize = 1_000_000;

/// Splits triangles at their middles and flips edges until the patch is dense and even.
///
/// `scale` is the wanted edge length at each point; both lists grow with the new points. `joined` says whether the mesh
/// outside already joins two rim points; such an edge is never made. Triangles of three rim points keep the rim's
/// edges.
pub(super) fn densify(
    points: &mut Vec<Point3<f64>>,
    scale: &mut Vec<f64>,
    mut triangles: Vec<[u32; 3]>,
    joined: impl Fn(u32, u32) -> bool,
    job: &Job,
) -> Result<Vec<[u32; 3]>, Cancelled> {
    let rim = points.len() as u32;
    let joined = |a: u32, b: u32| a < rim && b < rim && joined(a, b);
    let most = LEAST_MOST.max(points.len() * points.len()).min(MOST);
    turn_edges(points, &mut triangles, &joined, job)?;
    for _ in 0..ROUNDS {
        if triangles.len() > most {
            break;
        }
        let mut finer = Vec::with_capacity(triangles.len() * 2);
        for t in &triangles {
            let corners = t.map(|v| points[v as usize]);
            let middle = Point3::from(corners.iter().map(|p| p.coords).sum::<nalgebra::Vector3<f64>>() / 3.0);
            let wanted = t.iter().map(|v| scale[*v as usize]).sum::<f64>() / 3.0;
            let coarse = t.iter().zip(&corners).all(|(v, p)| {
                let far = ALPHA2 * (middle - p).norm_squared();
                far > wanted * wanted && far > scale[*v as usize].powi(2)
            });
            if coarse {
                let m = points.len() as u32;
                points.push(middle);
                scale.push(wanted);
                let [a, b, c] = *t;
                finer.extend([[a, b, m], [b, c, m], [c, a, m]]);
            } else {
                finer.push(*t);
            }
        }
        let split = finer.len() != triangles.len();
        triangles = finer;
        let turned = turn_edges(points, &mut triangles, &joined, job)?;
        if !split && turned == 0 {
            break;
        }
    }
    Ok(triangles)
}

/// Flips inner edges whose opposite angles add up to more than 180°, until none is left or 60 rounds are done; returns
/// how many.
fn turn_edges(
    points: &[Point3<f64>],
    triangles: &mut [[u32; 3]],
    joined: &impl Fn(u32, u32) -> bool,
    job: &Job,
) -> Result<usize, Cancelled> {
    let mut total = 0;
    let mut every = Every::new(job, 4096);
    for _ in 0..60 {
        let mut sides: BTreeMap<(u32, u32), [usize; 2]> = BTreeMap::new();
        for (t, c) in triangles.iter().enumerate() {
            every.tick()?;
            for k in 0..3 {
                let (a, b) = (c[k], c[(k + 1) % 3]);
                sides.entry((a.min(b), a.max(b))).and_modify(|s| s[1] = t).or_insert([t, usize::MAX]);
            }
        }
        let mut touched = vec![false; triangles.len()];
        let mut made = std::collections::BTreeSet::new();
        let mut turned = 0;
        for ((a, b), [t, u]) in &sides {
            every.tick()?;
            if *u == usize::MAX || touched[*t] || touched[*u] {
                continue;
            }
            let apex = |t: usize| triangles[t].into_iter().find(|v| v != a && v != b);
            let (Some(c), Some(d)) = (apex(*t), apex(*u)) else { continue };
            let key = (c.min(d), c.max(d));
            if c == d || sides.contains_key(&key) || made.contains(&key) || joined(c, d) {
                continue;
            }
            let angle = |at: u32| {
                let p = points[at as usize];
                (points[*a as usize] - p).angle(&(points[*b as usize] - p))
            };
            if angle(c) + angle(d) <= std::f64::consts::PI + 1e-6 {
                continue;
            }
            // Both keep the orientation that triangle t has along the edge.
            let forward = (0..3).any(|k| triangles[*t][k] == *a && triangles[*t][(k + 1) % 3] == *b);
            let (a, b) = if forward { (*a, *b) } else { (*b, *a) };
            triangles[*t] = [c, a, d];
            triangles[*u] = [d, b, c];
            touched[*t] = true;
            touched[*u] = true;
            made.insert(key);
            turned += 1;
        }
        total += turned;
        if turned == 0 {
            break;
        }
    }
    Ok(total)
}
