//! A guard that is ready to be struck in every filament, and how it is struck.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::sync::Arc;

use mechanics::answer::Answer;
use mechanics::ready::{AnswerError, End, Maps, Ready, Struck, Without};
use mechanics::strength::Plastic;
use mechanics::worn::Built;
use mechanics::{Material, Materials};
use mesh::{Job, Surface};

use super::chosen::Chosen;
use super::wall::GuardWall;
use crate::{EngineError, StrengthError};

/// A guard on its liner and on the limb in each material: what is needed to strike it anywhere.
#[derive(Debug, Clone)]
pub struct ReadyGuard {
    /// Its wall.
    pub wall: Arc<GuardWall>,
    each: Vec<Ready>,
}

/// A guard that was struck, in each material.
#[derive(Debug, Clone)]
pub struct StruckGuard {
    /// By material.
    pub each: Vec<Struck>,
    /// The blow without a guard.
    pub without: Without,
}

impl ReadyGuard {
    /// Puts a guard on in each material, with the usual values or those at one end of their ranges.
    ///
    /// # Errors
    /// [`StrengthError::Answer`].
    pub fn new(
        wall: &Arc<GuardWall>,
        chosen: &Chosen,
        materials: &Materials,
        end: End,
        job: &Job,
    ) -> Result<Self, EngineError> {
        // One assembly does for all moduli.
        let mut built: BTreeMap<u64, Built> = BTreeMap::new();
        for material in &materials.materials {
            let poisson = material.poisson_ratio.value;
            if let Entry::Vacant(place) = built.entry(poisson.to_bits()) {
                job.check()?;
                let plastic = Plastic { young_mpa: material.modulus_mpa.value, poisson };
                let of = Built::new(&wall.middle, plastic);
                place.insert(of.map_err(|error| StrengthError::from(AnswerError::from(error)))?);
            }
        }
        let setting = chosen.setting(wall);
        let each = side_by_side(&materials.materials, |material| {
            let of = built.get(&material.poisson_ratio.value.to_bits()).ok_or(AnswerError::Nowhere)?;
            Ready::new(of, &setting, material, end, job)
        })?;
        Ok(Self { wall: Arc::clone(wall), each })
    }

    /// Strikes it.
    ///
    /// # Errors
    /// [`StrengthError::Answer`].
    pub fn struck(&self, skin: &Surface, chosen: &Chosen, job: &Job) -> Result<StruckGuard, EngineError> {
        let aimed = chosen.aimed(&self.wall)?;
        job.step("striking it", 0.0)?;
        let each = side_by_side(&self.each, |ready| ready.struck(&aimed, job))?;
        Ok(StruckGuard { each, without: chosen.setting(&self.wall).without(skin, &aimed, job)? })
    }
}

impl StruckGuard {
    /// What it comes to in each of the materials, with how far the ends leave it open where they are known.
    #[must_use]
    pub fn answers(&self, materials: &[Material], ends: &[&Self]) -> Vec<Answer> {
        let all = self.each.iter().zip(materials).enumerate();
        let of_ends = |n: usize| ends.iter().filter_map(|end| end.each.get(n)).collect::<Vec<_>>();
        all.map(|(n, (usual, material))| Answer::of(material, usual, &of_ends(n))).collect()
    }

    /// What it looks like in each material.
    #[must_use]
    pub fn maps(&self) -> Vec<&Maps> {
        self.each.iter().map(|struck| &struck.maps).collect()
    }
}

/// The same for all at once.
fn side_by_side<A: Sync, B: Send>(
    all: &[A],
    of: impl Fn(&A) -> Result<B, AnswerError> + Sync,
) -> Result<Vec<B>, StrengthError> {
    let of = &of;
    let found = std::thread::scope(|scope| {
        let started: Vec<_> = all.iter().map(|one| scope.spawn(move || of(one))).collect();
        started.into_iter().map(|thread| thread.join().unwrap_or(Err(AnswerError::Nowhere))).collect::<Vec<_>>()
    });
    found.into_iter().map(|found| found.map_err(StrengthError::from)).collect()
}
