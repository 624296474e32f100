//! Seeded random numbers and smooth noise, the same on every machine.

use nalgebra::{UnitQuaternion, Vector3};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

/// A stream of seeded random numbers.
pub(crate) struct Random(Pcg64Mcg);

impl Random {
    pub(crate) fn new(seed: u64) -> Self {
        Self(Pcg64Mcg::seed_from_u64(seed))
    }

    /// Uniform in [0, 1).
    pub(crate) fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub(crate) fn between(&mut self, lo: f64, hi: f64) -> f64 {
        lo + (hi - lo) * self.unit()
    }

    pub(crate) fn below(&mut self, count: usize) -> usize {
        ((self.unit() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// Standard normal (Box and Muller 1958).
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = libm::sqrt(-2.0 * libm::log(1.0 - self.unit()));
        radius * libm::cos(std::f64::consts::TAU * self.unit())
    }

    /// A uniform random rotation: four normal numbers made to unit length (Muller 1959).
    pub(crate) fn turn(&mut self) -> UnitQuaternion<f64> {
        let [w, x, y, z] = [self.normal(), self.normal(), self.normal(), self.normal()];
        UnitQuaternion::new_normalize(nalgebra::Quaternion::new(w, x, y, z))
    }
}

/// Smooth noise between about −1 and 1 with features about one unit across (value noise on a lattice).
pub(crate) fn noise(p: &Vector3<f64>, seed: u64) -> f64 {
    let base = p.map(f64::floor);
    let t = p - base;
    let s = t.map(|t| t * t * (3.0 - 2.0 * t));
    let mut sum = 0.0;
    for corner in 0..8u8 {
        let bit = |k: u8| f64::from(corner >> k & 1);
        let weight = |k: u8, s: f64| if bit(k) > 0.5 { s } else { 1.0 - s };
        let w = weight(0, s.x) * weight(1, s.y) * weight(2, s.z);
        sum += w * lattice(&(base + Vector3::new(bit(0), bit(1), bit(2))), seed);
    }
    sum
}

fn lattice(p: &Vector3<f64>, seed: u64) -> f64 {
    let mut h = seed ^ 0x9e37_79b9_7f4a_7c15;
    for c in [p.x, p.y, p.z] {
        // The mixing step of SplitMix64 (Steele, Lea and Flood 2014).
        h = (h ^ (c as i64) as u64).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        h = (h ^ (h >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        h ^= h >> 31;
    }
    (h >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}
