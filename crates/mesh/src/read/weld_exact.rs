//! Joins points that are equal to the bit, in the order in which they first occur.
//!
//! Corners of neighbouring triangles stand close together in a file, so most are joined within short chunks, by a
//! table that fits a processor's cache. What is left, about a fifth, is dealt by hash into shards, and each shard
//! finds the first point equal to each of its own. Which chunk, shard or thread was done first has no influence.

use crate::{Cancelled, Job};
use nalgebra::Point3;
use rayon::prelude::*;
use std::sync::atomic::{AtomicU32, Ordering};

/// Points joined at a time before the shards.
const CHUNK: usize = 3 << 14;
/// Table slot that holds nothing.
const FREE: u32 = u32::MAX;

type Bits = [u32; 3];

/// Joins the points `point(0)`, `point(1)`, …: returns the different ones in order of first occurrence, and writes to
/// each place of `index` which of them it is. -0.0 and 0.0 are equal and come out as 0.0.
///
/// `index` must be shorter than `u32::MAX`.
///
/// # Errors
/// [`Cancelled`] when `job` is; `index` is then half written.
pub(crate) fn weld_exact(
    index: &mut [u32],
    point: impl Fn(usize) -> [f32; 3] + Sync,
    job: &Job,
) -> Result<Vec<Point3<f32>>, Cancelled> {
    // Within each chunk: the different points, and for each point which of them it is.
    let in_chunks: Vec<Vec<Bits>> = index
        .par_chunks_mut(CHUNK)
        .enumerate()
        .map_init(Table::default, |table, (chunk, index)| {
            job.check()?;
            Ok(weld_chunk(table, index, |i| point(chunk * CHUNK + i)))
        })
        .collect::<Result<_, Cancelled>>()?;

    // Over all chunks: for each of those the first that is equal, then its number.
    let starts: Vec<usize> = in_chunks
        .iter()
        .scan(0, |start, chunk| {
            *start += chunk.len();
            Some(*start - chunk.len())
        })
        .collect();
    let all = in_chunks.concat();
    drop(in_chunks);
    let mut number = firsts(&all, job)?;
    let mut points = Vec::with_capacity(all.len());
    for i in 0..all.len() {
        if number[i] as usize == i {
            number[i] = points.len() as u32;
            points.push(Point3::from(all[i].map(f32::from_bits)));
        } else {
            // The first one is in front and has its number already.
            number[i] = number[number[i] as usize];
        }
    }
    job.check()?;
    index.par_chunks_mut(CHUNK).zip(&starts).for_each(|(index, start)| {
        for place in index {
            *place = number[start + *place as usize];
        }
    });
    Ok(points)
}

/// The different points of one chunk, and in `index` which of them each point is. A function of its own, as the compiler
/// makes slower code of the loop within a closure that can fail.
fn weld_chunk(table: &mut Table, index: &mut [u32], point: impl Fn(usize) -> [f32; 3]) -> Vec<Bits> {
    table.clear(index.len() / 5);
    let mut different = Vec::with_capacity(index.len() / 5);
    for (i, place) in index.iter_mut().enumerate() {
        let bits = bits(point(i));
        *place = table.first(different.len() as u32, bits);
        if *place as usize == different.len() {
            different.push(bits);
        }
    }
    different
}

/// For each of `all` the lowest place of an equal one.
fn firsts(all: &[Bits], job: &Job) -> Result<Vec<u32>, Cancelled> {
    // About 8k points a shard: 128 KB of dealt points and a table of 256 KB.
    let shard_bits = (all.len() / 8192).max(1).ilog2().min(10);
    let dealt: Vec<Vec<Vec<(u32, Bits)>>> = all
        .par_chunks(CHUNK)
        .enumerate()
        .map(|(chunk, part)| {
            job.check()?;
            let expected = (part.len() >> shard_bits) + (part.len() >> shard_bits) / 4 + 8;
            let mut shards: Vec<_> = (0..1_usize << shard_bits).map(|_| Vec::with_capacity(expected)).collect();
            for (i, bits) in part.iter().enumerate() {
                shards[shard_of(hash(*bits), shard_bits)].push(((chunk * CHUNK + i) as u32, *bits));
            }
            Ok(shards)
        })
        .collect::<Result<_, Cancelled>>()?;
    let first: Vec<AtomicU32> = (0..all.len()).map(|_| AtomicU32::new(0)).collect();
    (0..1_usize << shard_bits).into_par_iter().try_for_each_init(Table::default, |table, shard| {
        job.check()?;
        table.clear(dealt.iter().map(|chunk| chunk[shard].len()).sum());
        for (i, bits) in dealt.iter().flat_map(|chunk| &chunk[shard]) {
            first[*i as usize].store(table.first(*i, *bits), Ordering::Relaxed);
        }
        Ok(())
    })?;
    Ok(first.into_iter().map(AtomicU32::into_inner).collect())
}

/// Open addressing with linear steps, at most half full; kept and cleared between uses.
#[derive(Default)]
struct Table {
    slots: Vec<(u32, Bits)>,
    used: usize,
}

impl Table {
    /// Empties it and makes room for this many points.
    fn clear(&mut self, points: usize) {
        self.slots.clear();
        self.slots.resize((points * 2).next_power_of_two().max(64), (FREE, [0; 3]));
        self.used = 0;
    }

    /// The point that came first with these bits; `i` itself where there was none yet.
    fn first(&mut self, i: u32, key: Bits) -> u32 {
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
    fn slot(&self, key: Bits) -> usize {
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
fn bits(point: [f32; 3]) -> Bits {
    point.map(|v| (v + 0.0).to_bits())
}

/// Multiply and fold, after the mixing step of wyhash: cheap, and good in high and low bits.
fn hash(key: Bits) -> u64 {
    let low = u64::from(key[0]) | u64::from(key[1]) << 32;
    let high = u64::from(key[2]).wrapping_mul(0xe703_7ed1_a0b4_28db);
    let mixed = u128::from(low ^ high ^ 0x9e37_79b9_7f4a_7c15) * u128::from(0x8ebc_6af0_9c88_c6e3_u64);
    (mixed as u64) ^ (mixed >> 64) as u64
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
            let mut joined = vec![0; points.len()];
            let different = weld_exact(&mut joined, |i| points[i], &Job::silent()).unwrap();
            let (expected, index) = plainly(&points);
            prop_assert_eq!(joined, index);
            prop_assert_eq!(different.iter().map(|p| [p.x, p.y, p.z]).collect::<Vec<_>>(), expected);
        }
    }

    #[test]
    fn many_points_over_many_shards_and_chunks() {
        let at = |i: usize| [(i * 7919 % 50_021) as f32, (i % 3) as f32, 1.0];
        let points: Vec<[f32; 3]> = (0..400_000).map(at).collect();
        let mut joined = vec![0; points.len()];
        let different = weld_exact(&mut joined, at, &Job::silent()).unwrap();
        let (expected, index) = plainly(&points);
        assert_eq!(different.len(), expected.len());
        assert_eq!(joined, index);
    }
}
