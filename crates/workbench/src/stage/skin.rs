//! What the skin of the limb shows, vertex by vertex, and which chunks have to be sent again. No graphics here.

use std::sync::Arc;

use mesh::Surface;
use print::picture::EVEN_LIGHT;
use session::DrawnMap;
use session::marking::Target;
use zone::RegionKind;

use super::chunks::{Chunk, chunks};
use crate::look::heat;
use crate::look::regions::pattern;

/// Skin without colours of its own, linear RGB.
const SKIN: [f32; 3] = [0.62, 0.45, 0.35];

/// What is covered, linear RGB.
const ZONE: [f32; 3] = [0.05, 0.30, 0.29];

/// Share of the zone's colour over the skin.
const ZONE_SHARE: f32 = 0.72;

/// The preview of a dab reaches this far beyond its radius, so that its soft edge is whole.
pub const BEYOND_MM: f32 = 1.0;

/// Below this share of their scale the skin is seen through measured values.
const FAINT: f32 = 0.06;

/// Depth far outside everything marked, mm.
const OUT_MM: f32 = -1000.0;

/// Measured values that are shown in colours over the skin.
#[derive(Debug)]
pub struct Measured {
    /// A value of each vertex, NaN where there is none.
    pub map: Arc<DrawnMap>,
    /// The end of the scale.
    pub scale: f32,
}

impl Measured {
    fn of(&self, v: usize) -> Option<f32> {
        self.map.values.skin.get(v).copied().filter(|value| value.is_finite())
    }
}

/// The skin in chunks with what is marked on it.
#[derive(Debug, Default)]
pub struct SkinOnStage {
    chunks: Vec<Chunk>,
    dirty: Vec<bool>,
    /// Chunks of each vertex: those of `v` are `homes[starts[v]..starts[v + 1]]`.
    starts: Vec<u32>,
    homes: Vec<u32>,
    own: Vec<[f32; 3]>,
    /// Depth inside what is covered of each vertex as shown now, mm.
    covered_mm: Vec<f32>,
    regions: Vec<(RegionKind, Vec<f32>)>,
    /// How much lighter or darker each vertex is; empty until it is known.
    shade: Vec<f32>,
    /// Marks are left out.
    bare: bool,
    measured: Option<Measured>,
}

impl SkinOnStage {
    /// A bare skin.
    #[must_use]
    pub fn new(skin: &Surface) -> Self {
        let chunks = chunks(skin.mesh());
        let count = skin.mesh().points.len();
        let mut starts = vec![0_u32; count + 1];
        for v in chunks.iter().flat_map(|p| &p.vertices) {
            starts[*v as usize + 1] += 1;
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut fill = starts.clone();
        let mut homes = vec![0; starts[count] as usize];
        for (number, chunk) in chunks.iter().enumerate() {
            for v in &chunk.vertices {
                homes[fill[*v as usize] as usize] = number as u32;
                fill[*v as usize] += 1;
            }
        }
        let linear: Vec<f32> = (0..=255_u8).map(|c| bevy::color::Srgba::gamma_function(f32::from(c) / 255.0)).collect();
        let own = match skin.mesh().colours.as_ref().filter(|c| c.len() == count) {
            Some(colours) => colours.iter().map(|c| c.map(|c| linear[usize::from(c)])).collect(),
            None => vec![SKIN; count],
        };
        let dirty = vec![false; chunks.len()];
        Self {
            chunks,
            dirty,
            starts,
            homes,
            own,
            covered_mm: vec![OUT_MM; count],
            regions: Vec::new(),
            shade: Vec::new(),
            bare: false,
            measured: None,
        }
    }

    /// Shows measured values in colours over the skin, or no more.
    pub fn measured(&mut self, values: Option<Measured>) {
        let same = match (&self.measured, &values) {
            (Some(a), Some(b)) => Arc::ptr_eq(&a.map, &b.map) && a.scale == b.scale,
            (a, b) => a.is_none() && b.is_none(),
        };
        if same {
            return;
        }
        let before = std::mem::replace(&mut self.measured, values);
        let shown = [&before, &self.measured];
        let told = |v: &u32| shown.iter().any(|shown| shown.as_ref().is_some_and(|all| all.of(*v as usize).is_some()));
        for (dirty, chunk) in self.dirty.iter_mut().zip(&self.chunks) {
            *dirty |= chunk.vertices.iter().any(told);
        }
    }

    /// Hides the marks, for steps that show the guard and not how it was made, or shows them again.
    pub fn bare(&mut self, bare: bool) {
        if self.bare == bare {
            return;
        }
        self.bare = bare;
        let depths = || self.regions.iter().map(|(_, depths)| depths).chain([&self.covered_mm]);
        let marked = |chunk: &Chunk| chunk.vertices.iter().any(|v| depths().any(|mm| share(mm[*v as usize]) > 0.0));
        let dirty: Vec<bool> = self.chunks.iter().map(marked).collect();
        self.dirty.iter_mut().zip(dirty).for_each(|(dirty, marked)| *dirty |= marked);
    }

    /// Takes the shading of the skin.
    pub fn shade(&mut self, factors: &[f32]) {
        let even = |(factor, tone): (&f32, &[f32; 3])| factor.powf(EVEN_LIGHT.exponent(*tone));
        self.shade = factors.iter().zip(&self.own).map(even).collect();
        self.dirty.fill(true);
    }

    /// The chunks.
    #[must_use]
    pub fn chunks(&self) -> &[Chunk] {
        &self.chunks
    }

    /// Shows a dab at once: the vertices with their distance from its middle, mm.
    pub fn dab(&mut self, target: Target, kind: Option<RegionKind>, near: &[(u32, f32)], radius_mm: f32, remove: bool) {
        let count = self.covered_mm.len();
        let depths = match target {
            Target::Zone => &mut self.covered_mm,
            Target::Region(i) => {
                if let Some(kind) = kind.filter(|_| i == self.regions.len()) {
                    self.regions.push((kind, vec![OUT_MM; count]));
                }
                let Some((_, depths)) = self.regions.get_mut(i) else { return };
                depths
            }
        };
        for (v, distance) in near {
            let v = *v as usize;
            let Some(depth) = depths.get_mut(v) else { continue };
            let inside = radius_mm - distance;
            let new = if remove { depth.min(-inside) } else { depth.max(inside) };
            if share(new) != share(*depth) {
                for home in &self.homes[self.starts[v] as usize..self.starts[v + 1] as usize] {
                    self.dirty[*home as usize] = true;
                }
            }
            *depth = new;
        }
    }

    /// Shows what is marked; a list of another length than the skin counts as nothing.
    pub fn show(&mut self, covered_mm: Option<&[f32]>, regions: &[(RegionKind, &[f32])]) {
        let count = self.covered_mm.len();
        let fits = |depths: &&[f32]| depths.len() == count;
        let nothing = vec![OUT_MM; count];
        let new = covered_mm.filter(fits).unwrap_or(&nothing);
        let mut dirty = differing(&self.chunks, &self.covered_mm, new);
        self.covered_mm.copy_from_slice(new);
        for i in 0..regions.len().max(self.regions.len()) {
            let old = self.regions.get(i);
            let new = regions.get(i).filter(|r| fits(&r.1));
            let here = if old.map(|o| pattern(o.0)) == new.map(|n| pattern(n.0)) {
                differing(&self.chunks, old.map_or(&nothing, |o| &o.1), new.map_or(&nothing, |n| n.1))
            } else {
                // The pattern is another one: everything inside the old or the new region changes.
                let one = differing(&self.chunks, old.map_or(&nothing, |o| &o.1), &nothing);
                let two = differing(&self.chunks, new.map_or(&nothing, |n| n.1), &nothing);
                one.iter().zip(two).map(|(a, b)| *a | b).collect()
            };
            dirty.iter_mut().zip(here).for_each(|(d, h)| *d |= h);
        }
        self.regions = regions
            .iter()
            .map(|(kind, depths)| (*kind, if depths.len() == count { depths.to_vec() } else { nothing.clone() }))
            .collect();
        self.dirty.iter_mut().zip(dirty).for_each(|(d, n)| *d |= n);
    }

    /// Whether there are chunks whose colours are to be sent again.
    #[must_use]
    pub fn is_changing(&self) -> bool {
        self.dirty.contains(&true)
    }

    /// Takes at most `most` chunks whose colours are to be sent again, with their colours, linear RGB.
    pub fn take_changed(&mut self, skin: &Surface, most: usize) -> Vec<(usize, Vec<[f32; 4]>)> {
        let which: Vec<usize> = (0..self.dirty.len()).filter(|i| self.dirty[*i]).take(most).collect();
        which.iter().for_each(|i| self.dirty[*i] = false);
        // Not in parallel: builds keep the other threads busy, and waiting for them would cost more than they save.
        which.into_iter().map(|i| (i, self.colours(skin, i))).collect()
    }

    /// Colours of the vertices of a chunk, linear RGB.
    #[must_use]
    pub fn colours(&self, skin: &Surface, chunk: usize) -> Vec<[f32; 4]> {
        let points = &skin.mesh().points;
        let Some(chunk) = self.chunks.get(chunk) else { return Vec::new() };
        chunk
            .vertices
            .iter()
            .map(|v| {
                let v = *v as usize;
                let marks = if self.bare { 0.0 } else { share(self.covered_mm[v]) };
                let mut colour = mix(self.own[v], ZONE, ZONE_SHARE * marks);
                for (kind, depths) in self.regions.iter().filter(|_| !self.bare) {
                    let share = share(depths[v]);
                    if share > 0.0 {
                        colour = mix(colour, pattern(*kind).at(&points[v]), 0.85 * share);
                    }
                }
                let shade = self.shade.get(v).copied().unwrap_or(1.0);
                let mut colour = colour.map(|c| c * shade);
                if let Some(measured) = &self.measured
                    && let Some(value) = measured.of(v)
                {
                    let share = value / measured.scale;
                    colour = mix(colour, heat::linear(share), (share / FAINT).clamp(0.0, 1.0));
                }
                let [r, g, b] = colour;
                [r, g, b, 1.0]
            })
            .collect()
    }
}

/// Share of the mark's colour: a soft edge one millimetre wide.
fn share(depth_mm: f32) -> f32 {
    (0.5 + depth_mm).clamp(0.0, 1.0)
}

fn mix(a: [f32; 3], b: [f32; 3], share: f32) -> [f32; 3] {
    [0, 1, 2].map(|k| a[k] + (b[k] - a[k]) * share)
}

/// For each chunk whether it would look different.
fn differing(chunks: &[Chunk], old: &[f32], new: &[f32]) -> Vec<bool> {
    chunks
        .iter()
        .map(|chunk| chunk.vertices.iter().any(|v| share(old[*v as usize]) != share(new[*v as usize])))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    /// A flat skin of 300 × 300 mm, a vertex every millimetre: several chunks.
    fn flat() -> Surface {
        test_shapes::plane(300, 300, 1.0).build()
    }

    fn near(skin: &Surface, at: [f32; 2], radius_mm: f32) -> Vec<(u32, f32)> {
        let middle = Point3::new(at[0], at[1], 0.0);
        let all = skin.mesh().points.iter().enumerate().map(|(v, p)| (v as u32, (p - middle).norm()));
        all.filter(|(_, d)| *d <= radius_mm + BEYOND_MM).collect()
    }

    #[test]
    fn a_dab_sends_only_the_chunks_that_look_different() {
        let skin = flat();
        let mut shown = SkinOnStage::new(&skin);
        let whole: Vec<_> = (0..shown.chunks().len()).map(|i| shown.colours(&skin, i)).collect();
        shown.dab(Target::Zone, None, &near(&skin, [40.0, 40.0], 12.0), 12.0, false);
        let sent = shown.take_changed(&skin, usize::MAX);
        assert!(!sent.is_empty() && sent.len() < shown.chunks().len() / 2, "{} of {}", sent.len(), whole.len());
        for (i, before) in whole.iter().enumerate() {
            let changed = shown.colours(&skin, i) != *before;
            assert_eq!(changed, sent.iter().any(|(k, _)| *k == i), "chunk {i}");
        }
        shown.dab(Target::Zone, None, &near(&skin, [40.0, 40.0], 12.0), 12.0, false);
        assert!(shown.take_changed(&skin, usize::MAX).is_empty(), "the same dab again changes nothing");
        shown.dab(Target::Zone, None, &near(&skin, [40.0, 40.0], 14.0), 14.0, true);
        shown.take_changed(&skin, usize::MAX);
        for (i, before) in whole.iter().enumerate() {
            assert_eq!(shown.colours(&skin, i), *before, "erased again");
        }
    }

    #[test]
    fn a_new_region_shows_before_anything_else_knows_of_it_and_goes_again() {
        let skin = flat();
        let mut shown = SkinOnStage::new(&skin);
        let whole: Vec<_> = (0..shown.chunks().len()).map(|i| shown.colours(&skin, i)).collect();
        let kind = RegionKind::KeepClear { margin_mm: 2.0 };
        shown.dab(Target::Region(0), Some(kind), &near(&skin, [200.0, 200.0], 9.0), 9.0, false);
        assert!(!shown.take_changed(&skin, usize::MAX).is_empty());
        shown.show(None, &[]);
        assert!(!shown.take_changed(&skin, usize::MAX).is_empty(), "its chunks are sent without it");
        for (i, before) in whole.iter().enumerate() {
            assert_eq!(shown.colours(&skin, i), *before);
        }
    }

    #[test]
    fn a_bare_skin_shows_no_marks_until_they_are_wanted_again() {
        let skin = flat();
        let mut shown = SkinOnStage::new(&skin);
        let colours =
            |shown: &SkinOnStage| -> Vec<_> { (0..shown.chunks().len()).map(|i| shown.colours(&skin, i)).collect() };
        let unmarked = colours(&shown);
        shown.dab(Target::Zone, None, &near(&skin, [40.0, 40.0], 12.0), 12.0, false);
        let kind = RegionKind::KeepClear { margin_mm: 2.0 };
        shown.dab(Target::Region(0), Some(kind), &near(&skin, [200.0, 200.0], 9.0), 9.0, false);
        let sent = |shown: &mut SkinOnStage| -> Vec<usize> {
            shown.take_changed(&skin, usize::MAX).into_iter().map(|(i, _)| i).collect()
        };
        let with_marks = sent(&mut shown);
        let marked = colours(&shown);
        shown.bare(true);
        assert_eq!(sent(&mut shown), with_marks, "just what is marked is sent again");
        assert_eq!(colours(&shown), unmarked);
        shown.bare(false);
        assert_eq!(sent(&mut shown), with_marks);
        assert_eq!(colours(&shown), marked);
    }
}
