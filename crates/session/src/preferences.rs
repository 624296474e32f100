//! What the program remembers about its user.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::Problem;

/// Most designs that are listed as recent.
const MOST_RECENT: usize = 12;

/// Allowed width, depth and height of a printer's build volume, mm.
pub const BED_MM: std::ops::RangeInclusive<f32> = 50.0..=2000.0;

/// The view of a saved design when it was last open, so that it comes back as it was left.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LastLook {
    /// The design file.
    pub design: PathBuf,
    /// Name of the step.
    pub step: String,
    /// The point that the camera looked at, mm.
    pub middle_mm: [f32; 3],
    /// Azimuth and elevation of the camera, radians.
    pub turn: [f32; 2],
    /// Distance of the camera, mm.
    pub distance_mm: f32,
    /// Names of the switches that were on.
    pub switched_on: Vec<String>,
}

/// Settings of the program itself, kept between sittings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Preferences {
    /// Size of the text, 1 is usual; 0.8 to 2.
    pub text_scale: f32,
    /// Strong contrast instead of calm colours.
    pub high_contrast: bool,
    /// Designs opened or saved lately, the newest first.
    pub recent: Vec<PathBuf>,
    /// The last views of designs, the newest first.
    pub looks: Vec<LastLook>,
    /// The folder used last for each kind of file, by the name of the kind.
    pub folders: BTreeMap<String, PathBuf>,
    /// Folder where the scanner saves, watched for new scans.
    pub watched_folder: Option<PathBuf>,
    /// Name of the club on summary pages.
    pub team: String,
    /// Width, depth and height of the printer's build volume, mm, if given; [`Preferences::known_bed_mm`] checks them.
    #[serde(deserialize_with = "bed_or_none")]
    pub bed_mm: Option<[f32; 3]>,
}

/// A bed that is not three numbers counts as unknown and does not spoil the other preferences.
fn bed_or_none<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Option<[f32; 3]>, D::Error> {
    let value = serde_json::Value::deserialize(deserializer)?;
    Ok(serde_json::from_value(value).ok())
}

impl Default for Preferences {
    fn default() -> Self {
        Self {
            text_scale: 1.0,
            high_contrast: false,
            recent: Vec::new(),
            looks: Vec::new(),
            folders: BTreeMap::new(),
            watched_folder: None,
            team: String::new(),
            bed_mm: None,
        }
    }
}

impl Preferences {
    /// Reads them; a missing or damaged file gives the defaults, as only convenience is lost.
    #[must_use]
    pub fn load(path: &Path) -> Self {
        let read = std::fs::read(path).ok().and_then(|bytes| serde_json::from_slice::<Self>(&bytes).ok());
        let mut preferences = read.unwrap_or_default();
        let scale = preferences.text_scale;
        preferences.text_scale = if scale.is_finite() { scale.clamp(0.8, 2.0) } else { 1.0 };
        preferences.bed_mm = preferences.known_bed_mm();
        preferences
    }

    /// Width, depth and height of the printer's build volume, mm, if given and all within [`BED_MM`].
    #[must_use]
    pub fn known_bed_mm(&self) -> Option<[f32; 3]> {
        self.bed_mm.filter(|sides| sides.iter().all(|side| BED_MM.contains(side)))
    }

    /// Writes them, whole or not at all.
    ///
    /// # Errors
    /// The file or its folder cannot be written.
    pub fn save(&self, path: &Path) -> Result<(), Problem> {
        let text = serde_json::to_vec_pretty(self).map_err(|e| Problem::plain(e.to_string()))?;
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder)
                .map_err(|e| Problem::plain(format!("the settings cannot be kept in {}: {e}", folder.display())))?;
        }
        mesh::write::save_atomic(path, |out| out.write_all(&text)).map_err(|e| Problem::plain(e.to_string()))
    }

    /// The last view of a design.
    #[must_use]
    pub fn last_look(&self, design: &Path) -> Option<&LastLook> {
        self.looks.iter().find(|look| look.design == design)
    }

    /// Remembers the view of a design.
    pub fn remember_look(&mut self, look: LastLook) {
        self.looks.retain(|known| known.design != look.design);
        self.looks.insert(0, look);
        self.looks.truncate(MOST_RECENT);
    }

    /// Puts a design at the top of the recent ones.
    pub fn remember(&mut self, path: &Path) {
        self.recent.retain(|known| known != path);
        self.recent.insert(0, path.to_owned());
        self.recent.truncate(MOST_RECENT);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn they_come_back_as_they_were_and_damage_gives_the_defaults() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("deep").join("preferences.json");
        let mut preferences = Preferences { high_contrast: true, text_scale: 1.5, ..Preferences::default() };
        for i in 0..20 {
            preferences.remember(&folder.path().join(format!("{i}.json")));
        }
        preferences.remember(&folder.path().join("15.json"));
        for i in 0..20_u8 {
            preferences.remember_look(LastLook {
                design: folder.path().join(format!("{}.json", i % 15)),
                step: "Fit".into(),
                middle_mm: [0.1, -2.0, 1e-3],
                turn: [f32::from(i), 0.3],
                distance_mm: 612.5,
                switched_on: vec!["gap".into()],
            });
        }
        preferences.folders.insert("print-files".to_owned(), folder.path().join("prints"));
        preferences.save(&path).unwrap();
        let back = Preferences::load(&path);
        assert_eq!(back, preferences);
        assert_eq!(back.recent.len(), MOST_RECENT);
        assert!(back.recent[0].ends_with("15.json"));
        assert_eq!(back.looks.len(), MOST_RECENT);
        let look = back.last_look(&folder.path().join("4.json")).unwrap();
        assert_eq!(look.turn, [19.0, 0.3], "the last one of each design");
        let kept = |text: &str| {
            std::fs::write(&path, text).unwrap();
            Preferences::load(&path)
        };
        let bed = Some([220.0, 220.0, 250.0]);
        assert_eq!(kept("{\"bed_mm\": [220, 220, 250]}"), Preferences { bed_mm: bed, ..Preferences::default() });
        for odd in ["[256, 256]", "null", "[1, 220, 250]", "\"large\""] {
            let read = kept(&format!("{{\"team\": \"Tern Harbour\", \"bed_mm\": {odd}}}"));
            assert_eq!((read.bed_mm, read.team.as_str()), (None, "Tern Harbour"), "{odd}");
        }
        std::fs::write(&path, b"{\"text_scale\": 1e9, \"bed_mm\"").unwrap();
        assert_eq!(Preferences::load(&path), Preferences::default());
    }
}
