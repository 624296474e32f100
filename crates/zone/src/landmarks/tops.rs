//! Where the skin bulges most, and which of these places are one bulge.

use mesh::{Cancelled, Job, Surface};
use nalgebra::Point3;

use super::sites::Sites;

/// Least excess of the lesser curvature, 1/mm.
const LEAST_EXCESS: f32 = 0.018;
/// Least lesser curvature, 1/mm: in a hollow of the limb that a bone only fills there is nothing to stand off from.
const LEAST_CURVATURE: f32 = 0.008;
/// Greatest curvature of a bulge, 1/mm: the back of a finger or toe curves more.
const MOST_CURVATURE: f32 = 1.0 / 7.5;
/// Least share of the excess in the greater curvature; an edge of bone, however short, has less.
const LEAST_SHARE: f32 = 0.22;
/// A top is the highest within this distance.
const APART_MM: f32 = 8.0;
/// Tops this near are one bulge where no hollow parts them.
const JOINED_MM: f32 = 25.0;
/// Depth of a hollow.
const HOLLOW_MM: f32 = 0.3;
/// Their normals add up to this at least, where they face within about 42 degrees of each other.
const ALIKE: f32 = 1.87;
/// A top joins a greater one only if its excess is at least this share of that.
const JOINS: f32 = 0.5;

/// One bulge, as the numbers of its tops, the greatest first. Those that string together over more than
/// [`JOINED_MM`] are a ridge and not among them.
pub(super) fn bulges(skin: &Surface, sites: &Sites, job: &Job) -> Result<Vec<Vec<usize>>, Cancelled> {
    let tops = tops(sites, job)?;
    let fair: Vec<Point3<f32>> = tops.iter().map(|i| sites.fair(&sites.all[*i].at, &sites.all[*i].normal)).collect();
    let joined = |a: usize, b: usize| {
        (fair[a] - fair[b]).norm() < JOINED_MM && !hollow(skin, sites, [tops[a], tops[b]], [fair[a], fair[b]])
    };
    let mut taken = vec![false; tops.len()];
    let mut found = Vec::new();
    for first in 0..tops.len() {
        if std::mem::replace(&mut taken[first], true) {
            continue;
        }
        job.check()?;
        let least = JOINS * sites.all[tops[first]].excess;
        let mut group = vec![first];
        let mut next = 0;
        while let Some(&from) = group.get(next) {
            next += 1;
            for to in first + 1..tops.len() {
                if !taken[to] && sites.all[tops[to]].excess >= least && joined(from, to) {
                    taken[to] = true;
                    group.push(to);
                }
            }
        }
        let long = group.iter().any(|a| group.iter().any(|b| (fair[*a] - fair[*b]).norm() > JOINED_MM));
        if !long && is_round(sites, tops[first]) {
            found.push(group.into_iter().map(|k| tops[k]).collect());
        }
    }
    Ok(found)
}

/// The places where the excess is greatest, the greatest first.
fn tops(sites: &Sites, job: &Job) -> Result<Vec<usize>, Cancelled> {
    let is_top = job.each(sites.all.len(), |i| {
        let site = &sites.all[i];
        // Of equals the first.
        let higher = |k: usize| {
            let other = sites.all[k].excess;
            other > site.excess || (other == site.excess && k < i)
        };
        site.curvatures[0] > LEAST_CURVATURE
            && site.excess >= LEAST_EXCESS
            && !sites.within(&site.at, &site.normal, APART_MM).any(higher)
    })?;
    let mut found: Vec<usize> = (0..sites.all.len()).filter(|i| is_top[*i]).collect();
    found.sort_by(|a, b| sites.all[*b].excess.total_cmp(&sites.all[*a].excess));
    Ok(found)
}

/// Whether a top is that of a bulge, rather than of a finger or an edge.
fn is_round(sites: &Sites, top: usize) -> bool {
    let site = &sites.all[top];
    site.curvatures[1] <= MOST_CURVATURE && site.excess >= LEAST_SHARE * site.curvatures[1]
}

/// Whether the skin between two tops lies lower than the straight line from one to the other.
fn hollow(skin: &Surface, sites: &Sites, tops: [usize; 2], fair: [Point3<f32>; 2]) -> bool {
    let middle = nalgebra::center(&fair[0], &fair[1]);
    let [a, b] = tops.map(|i| sites.all[i].normal);
    let (Some(up), Some(hit)) = ((a + b).try_normalize(ALIKE), skin.nearest(&middle, None)) else { return true };
    let between = sites.fair(&hit.point, &skin.normal_at(&hit));
    (between - middle).dot(&up) < -HOLLOW_MM
}
