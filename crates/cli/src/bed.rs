//! The printer's bed: given once, then remembered in the preferences that the workbench uses too.

use std::path::Path;

use engine::EngineError;
use session::{Places, Preferences};

use crate::args::Bed;

/// The bed given now, which is remembered, or else the one remembered before.
pub fn known(given: Option<Bed>, home: Option<&Path>) -> Result<Option<[f32; 3]>, EngineError> {
    let file = home.map_or_else(Places::usual, Places::inside).preferences();
    let mut preferences = Preferences::load(&file);
    if let Some(Bed(sides)) = given
        && preferences.bed_mm != Some(sides)
    {
        preferences.bed_mm = Some(sides);
        preferences.save(&file).map_err(|problem| EngineError::File {
            path: file.clone(),
            source: std::io::Error::other(problem.sentence),
        })?;
    }
    Ok(preferences.known_bed_mm())
}
