//! How much each vertex differs in lightness and hue from the skin around it.

use mesh::{Cancelled, Job};
use rayon::prelude::*;

use super::Ink;
use super::skin_graph::SkinGraph;

/// Radius of the patch whose median counts as the skin's own tone, mm: wider than any pen line and any mole,
/// narrower than the shadows on a limb.
const PATCH_MM: f32 = 12.0;
/// Radius of the clusters for which the skin's tone is worked out, mm.
const CLUSTER_MM: f32 = 2.5;
/// Added to the skin's lightness when contrast is taken relative to it, so that noise in deep shadow stays small.
const FLOOR_LIGHTNESS: f32 = 8.0;

/// Skin is never taken to be smoother than this.
const LEAST_SPREAD: f32 = 0.012;
/// What counts as full contrast of hue, in CIE a*b* units: about what blue or red ink has on brown skin.
const FULL_HUE: f32 = 40.0;

/// How far each vertex stands out from its surroundings.
pub(super) struct Contrast {
    /// Positive where it looks like ink. By lightness: ±(L − skin) / (skin + 8), which a shadow over both changes
    /// little; or by hue: the distance of a*, b* from the skin's own, over 40.
    pub value: Vec<f32>,
    /// The usual spread of `value` around each vertex (1.4826 × median deviation), at least 0.012.
    pub spread: Vec<f32>,
}

impl Contrast {
    /// Contrast as seen by one kind of ink: positive where the skin looks inked. Against the median of the seen skin
    /// within [`PATCH_MM`].
    pub fn towards(
        ink: Ink,
        graph: &SkinGraph,
        clusters: &Clusters,
        colours: &[[u8; 3]],
        job: &Job,
    ) -> Result<Self, Cancelled> {
        let lab = job.each(colours.len(), |v| lab(colours[v]))?;
        let around = |values: &[f32]| clusters.at_vertices(graph, &clusters.medians(graph, values, job)?, job);
        let channel = |k: usize| lab.iter().map(|c| c[k]).collect::<Vec<f32>>();
        let value: Vec<f32> = if ink == Ink::Coloured {
            let (a, b) = (channel(1), channel(2));
            let (skin_a, skin_b) = (around(&a)?, around(&b)?);
            (0..a.len()).map(|v| (a[v] - skin_a[v]).hypot(b[v] - skin_b[v]) / FULL_HUE).collect()
        } else {
            let l = channel(0);
            let skin = around(&l)?;
            let sign = if ink == Ink::Dark { -1.0 } else { 1.0 };
            l.iter().zip(&skin).map(|(l, s)| sign * (l - s) / (s + FLOOR_LIGHTNESS)).collect()
        };
        let deviation: Vec<f32> = value.iter().map(|c| c.abs()).collect();
        let spread = around(&deviation)?.into_iter().map(|d| (1.4826 * d).max(LEAST_SPREAD)).collect();
        Ok(Self { value, spread })
    }

    /// The same contrast for the other kind of ink: light for dark, dark for light.
    pub fn turned(mut self) -> Self {
        self.value.iter_mut().for_each(|c| *c = -*c);
        self
    }
}

/// CIE 1976 L*, a*, b* (D65) of an sRGB colour: IEC 61966-2-1 transfer curve and matrix.
pub(super) fn lab(rgb: [u8; 3]) -> [f32; 3] {
    let [r, g, b]: [f32; 3] = palette::Srgb::from(rgb).into_linear::<f32>().into();
    let x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505;
    let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
    let z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089;
    let f = |t: f32| if t > 216.0 / 24389.0 { t.cbrt() } else { (24389.0 / 27.0 * t + 16.0) / 116.0 };
    [116.0 * f(y) - 16.0, 500.0 * (f(x) - f(y)), 200.0 * (f(y) - f(z))]
}

/// The skin cut into small connected clusters, so that medians need not be taken at every vertex.
pub(super) struct Clusters {
    of_vertex: Vec<u32>,
    /// Vertex in the middle of each cluster.
    heads: Vec<u32>,
    members: Vec<Vec<u32>>,
    /// Clusters that touch, in rising order.
    beside: Vec<Vec<u32>>,
}

impl Clusters {
    pub fn new(graph: &SkinGraph, job: &Job) -> Result<Self, Cancelled> {
        let mut of_vertex = vec![u32::MAX; graph.len()];
        let (mut heads, mut members) = (Vec::new(), Vec::<Vec<u32>>::new());
        for v in 0..graph.len() as u32 {
            if of_vertex[v as usize] != u32::MAX {
                continue;
            }
            job.check()?;
            let cluster = heads.len() as u32;
            of_vertex[v as usize] = cluster;
            let mut own = vec![v];
            let mut at = 0;
            while at < own.len() {
                for &w in graph.neighbours(own[at]) {
                    if of_vertex[w as usize] == u32::MAX
                        && (graph.point(w) - graph.point(v)).norm_squared() < CLUSTER_MM * CLUSTER_MM
                    {
                        of_vertex[w as usize] = cluster;
                        own.push(w);
                    }
                }
                at += 1;
            }
            heads.push(v);
            members.push(own);
        }
        let mut beside = vec![Vec::new(); heads.len()];
        for v in 0..graph.len() as u32 {
            let a = of_vertex[v as usize];
            beside[a as usize].extend(graph.neighbours(v).iter().map(|w| of_vertex[*w as usize]).filter(|b| *b != a));
        }
        for list in &mut beside {
            list.sort_unstable();
            list.dedup();
        }
        Ok(Self { of_vertex, heads, members, beside })
    }

    /// The median of `values` over the connected skin within [`PATCH_MM`] of each cluster.
    fn medians(&self, graph: &SkinGraph, values: &[f32], job: &Job) -> Result<Vec<f32>, Cancelled> {
        (0..self.heads.len())
            .into_par_iter()
            .map_init(
                || (vec![u32::MAX; self.heads.len()], Vec::new(), Vec::new()),
                |(seen, near, pool), cluster| {
                    job.check()?;
                    let centre = graph.point(self.heads[cluster]);
                    near.clear();
                    pool.clear();
                    near.push(cluster as u32);
                    seen[cluster] = cluster as u32;
                    let mut at = 0;
                    while at < near.len() {
                        let here = near[at] as usize;
                        pool.extend(
                            self.members[here]
                                .iter()
                                .filter(|v| !graph.unseen[**v as usize])
                                .map(|v| values[*v as usize]),
                        );
                        for &next in &self.beside[here] {
                            let far = (graph.point(self.heads[next as usize]) - centre).norm_squared();
                            if seen[next as usize] != cluster as u32 && far < PATCH_MM * PATCH_MM {
                                seen[next as usize] = cluster as u32;
                                near.push(next);
                            }
                        }
                        at += 1;
                    }
                    if pool.is_empty() {
                        return Ok(values[self.heads[cluster] as usize]);
                    }
                    let middle = pool.len() / 2;
                    Ok(*pool.select_nth_unstable_by(middle, f32::total_cmp).1)
                },
            )
            .collect()
    }

    /// The values of the clusters around each vertex, interpolated there by a Gaussian weight.
    fn at_vertices(&self, graph: &SkinGraph, cluster_values: &[f32], job: &Job) -> Result<Vec<f32>, Cancelled> {
        (0..graph.len() as u32)
            .into_par_iter()
            .map(|v| {
                job.check()?;
                let own = self.of_vertex[v as usize];
                let (mut sum, mut weight) = (0.0, 0.0);
                for cluster in self.beside[own as usize].iter().copied().chain([own]) {
                    let d2 = (graph.point(self.heads[cluster as usize]) - graph.point(v)).norm_squared();
                    let w = (-d2 / (2.0 * CLUSTER_MM * CLUSTER_MM)).exp().max(1e-6);
                    sum += w * cluster_values[cluster as usize];
                    weight += w;
                }
                Ok(sum / weight)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::lab;

    /// CIE 15:2004 worked by hand: mid grey 119 has Y = 0.1845, so L* = 50.03; 5 lies on the straight part:
    /// 5 / 255 / 12.92 × 903.3 = 1.371. The sRGB primaries' values are those widely printed: red 53.2, 80.1, 67.2.
    #[test]
    fn lab_of_greys_and_red() {
        assert_abs_diff_eq!(lab([0, 0, 0])[0], 0.0, epsilon = 1e-4);
        assert_abs_diff_eq!(lab([119, 119, 119])[0], 50.03, epsilon = 0.02);
        assert_abs_diff_eq!(lab([255, 255, 255])[0], 100.0, epsilon = 1e-3);
        assert_abs_diff_eq!(lab([5, 5, 5])[0], 1.371, epsilon = 2e-3);
        assert_abs_diff_eq!(lab([200, 200, 200])[1], 0.0, epsilon = 0.05);
        assert_abs_diff_eq!(lab([200, 200, 200])[2], 0.0, epsilon = 0.05);
        for (got, want) in lab([255, 0, 0]).into_iter().zip([53.2, 80.1, 67.2]) {
            assert_abs_diff_eq!(got, want, epsilon = 0.1);
        }
    }
}
