//! Joins points that are equal to the bit, in the order in which they first occur.
//!
//! Points are dealt by hash into shards that fit a processor's cache; each shard finds, with a table of its
//! own, the first point equal to each of its points. Which shard or thread came first has no influence: the
//! answer for every point is the lowest equal index.

use nalgebra::Point3;
use rayon::prelude::*;
use std::sync::atomic::{AtomicU32, Ordering};

/// Result of joining a row of points.
pub(crate) struct Welded {
    /// The different points, in order of first occurrence.
    pub points: Vec<Point3<f32>>,
    /// For each point that went in, its index in `points`.
    pub index: Vec<u32>,
}

/// Points dealt to one shard by one chunk: their index and bits.
type Dealt = Vec<(u32, [u32; 3])>;

const CHUNK: usize = 1 << 17;
/// Table slot that holds nothing.
const FREE: u32 = u32::MAX;

/// Joins `count` points given by `point(i)`; -0.0 and 0.0 are equal and come out as 0.0.
///
/// `count` must be below `u32::MAX`.
pub(crate) fn weld_exact(count: usize, point: impl Fn(usize) -> [f32; 3] + Sync) -> Welded {
    // About 8k points a shard: 128 KB of dealt points and a table of 64 KB.
    let shard_bits = (count / 8192).max(1).ilog2().min(10);
    let chunks = count.div_ceil(CHUNK);
    let range = |chunk: usize| chunk * CHUNK..((chunk + 1) * CHUNK).min(count);

    let dealt: Vec<Vec<Dealt>> = (0..chunks)
        .into_par_iter()
        .map(|chunk| {
            let expected = (CHUNK >> shard_bits) + (CHUNK >> shard_bits) / 4 + 8;
            let mut shards: Vec<Dealt> = (0..1_usize << shard_bits).map(|_| Vec::with_capacity(expected)).collect();
            for i in range(chunk) {
                let key = bits(point(i));
                shards[shard_of(hash(key), shard_bits)].push((i as u32, key));
            }
            shards
        })
        .collect();

    let first: Vec<AtomicU32> = (0..count).into_par_iter().map(|_| AtomicU32::new(0)).collect();
    (0..1_usize << shard_bits).into_par_iter().for_each(|shard| {
        let total: usize = dealt.iter().map(|chunk| chunk[shard].len()).sum();
        // In a closed surface each point is a corner of six triangles.
        let mut table = Table::with_room_for(total / 6);
        for (i, key) in dealt.iter().flat_map(|chunk| &chunk[shard]) {
            first[*i as usize].store(table.first(*i, *key), Ordering::Relaxed);
        }
    });
    drop(dealt);

    let mut points = Vec::new();
    let mut index: Vec<u32> = Vec::with_capacity(count);
    for (i, first) in first.into_iter().map(AtomicU32::into_inner).enumerate() {
        if first as usize == i {
            index.push(points.len() as u32);
            points.push(Point3::from(point(i).map(|v| v + 0.0)));
        } else {
            index.push(index[first as usize]);
        }
    }
    Welded { points, index }
}

/// Open addressing with linear steps, at most half full.
struct Table {
    slots: Vec<(u32, [u32; 3])>,
    used: usize,
}

impl Table {
    fn with_room_for(points: usize) -> Self {
        Self { slots: vec![(FREE, [0; 3]); (points * 2).next_power_of_two().max(64)], used: 0 }
    }

    /// The point that came first with these bits; `i` itself where there was none yet.
    fn first(&mut self, i: u32, key: [u32; 3]) -> u32 {
        if self.used * 2 > self.slots.len() {
            self.grow();
        }
        let slot = self.slot(key);
        let entry = &mut self.slots[slot];
        if entry.0 == FREE {
            *entry = (i, key);
            self.used += 1;
        }
        entry.0
    }

    /// Where `key` is, or would be put.
    fn slot(&self, key: [u32; 3]) -> usize {
        let mask = self.slots.len() - 1;
        let mut slot = hash(key) as usize & mask;
        while self.slots[slot].0 != FREE && self.slots[slot].1 != key {
            slot = (slot + 1) & mask;
        }
        slot
    }

    fn grow(&mut self) {
        let larger = vec![(FREE, [0; 3]); self.slots.len() * 4];
        for entry in std::mem::replace(&mut self.slots, larger).into_iter().filter(|e| e.0 != FREE) {
            let slot = self.slot(entry.1);
            self.slots[slot] = entry;
        }
    }
}

/// Bits with -0.0 turned to 0.0.
fn bits(point: [f32; 3]) -> [u32; 3] {
    point.map(|v| (v + 0.0).to_bits())
}

/// Multiply and fold, after the mixing step of wyhash: cheap, and good in high and low bits.
fn hash(key: [u32; 3]) -> u64 {
    let low = u64::from(key[0]) | u64::from(key[1]) << 32;
    let mixed = u128::from(low ^ 0x9e37_79b9_7f4a_7c15) * u128::from(u64::from(key[2]) ^ 0xe703_7ed1_a0b4_28db);
    let folded = (mixed as u64) ^ (mixed >> 64) as u64;
    let again = u128::from(folded ^ low) * u128::from(0x8ebc_6af0_9c88_c6e3_u64);
    (again as u64) ^ (again >> 64) as u64
}

/// The shard uses the high bits of the hash, the table inside it the low ones.
fn shard_of(hash: u64, shard_bits: u32) -> usize {
    if shard_bits == 0 { 0 } else { (hash >> (64 - shard_bits)) as usize }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::HashMap;

    fn plainly(points: &[[f32; 3]]) -> (Vec<[f32; 3]>, Vec<u32>) {
        let mut seen = HashMap::new();
        let mut out = Vec::new();
        let index = points
            .iter()
            .map(|p| {
                *seen.entry(bits(*p)).or_insert_with(|| {
                    out.push(p.map(|v| v + 0.0));
                    out.len() as u32 - 1
                })
            })
            .collect();
        (out, index)
    }

    proptest! {
        #[test]
        fn agrees_with_a_plain_map(points in prop::collection::vec(prop::array::uniform3(-3_i8..3), 0..2000)) {
            let points: Vec<[f32; 3]> = points.iter().map(|p| p.map(|v| f32::from(v) * -0.5)).collect();
            let welded = weld_exact(points.len(), |i| points[i]);
            let (expected, index) = plainly(&points);
            prop_assert_eq!(welded.index, index);
            prop_assert_eq!(welded.points.iter().map(|p| [p.x, p.y, p.z]).collect::<Vec<_>>(), expected);
        }
    }

    #[test]
    fn many_points_over_many_shards_and_chunks() {
        let at = |i: usize| [(i * 7919 % 50_021) as f32, (i % 3) as f32, 1.0];
        let points: Vec<[f32; 3]> = (0..400_000).map(at).collect();
        let welded = weld_exact(points.len(), at);
        let (expected, index) = plainly(&points);
        assert_eq!(welded.points.len(), expected.len());
        assert_eq!(welded.index, index);
    }
}
