//! Seeded random numbers for the test programs.

use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

/// A seeded random generator.
#[derive(Clone)]
pub struct Chance(Pcg64Mcg);

#[allow(dead_code)] // No program uses all of it.
impl Chance {
    /// The generator of case `n`, so that each case can be repeated alone.
    pub fn new(seed: u64, n: u64) -> Self {
        Self(Pcg64Mcg::seed_from_u64(seed.wrapping_mul(1_000_003).wrapping_add(n)))
    }

    pub fn number(&mut self) -> u64 {
        self.0.next_u64()
    }

    pub fn between(&mut self, low: f32, high: f32) -> f32 {
        let unit = (self.0.next_u64() >> 40) as f32 / (1_u32 << 24) as f32;
        (low + (high - low) * unit).clamp(low, high)
    }

    /// From `low` to `usual` nine times in ten, else to `high`.
    pub fn mostly(&mut self, low: f32, usual: f32, high: f32) -> f32 {
        let high = if self.happens(0.9) { usual.max(low) } else { high };
        self.between(low, high)
    }

    pub fn happens(&mut self, probability: f32) -> bool {
        self.between(0.0, 1.0) < probability
    }

    pub fn below(&mut self, count: usize) -> usize {
        ((self.0.next_u64() >> 32) as usize * count) >> 32
    }

    pub fn of<'a, T>(&mut self, things: &'a [T]) -> &'a T {
        &things[self.below(things.len())]
    }
}
