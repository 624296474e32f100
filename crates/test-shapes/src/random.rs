//! Seeded random numbers, the same on every machine.

pub use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};

/// A generator that gives the same numbers for the same seed.
#[must_use]
pub fn seeded(seed: u64) -> Pcg64 {
    Pcg64::seed_from_u64(seed)
}

/// Uniform in (0, 1).
pub fn uniform(random: &mut Pcg64) -> f64 {
    ((random.next_u64() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
}

/// Uniform from `low` to `high`.
pub fn between(random: &mut Pcg64, low: f64, high: f64) -> f64 {
    low + (high - low) * uniform(random)
}

/// Standard normal (Box and Muller 1958).
pub fn gauss(random: &mut Pcg64) -> f64 {
    (-2.0 * uniform(random).ln()).sqrt() * (std::f64::consts::TAU * uniform(random)).cos()
}
