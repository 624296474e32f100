//! Writing the files for the printer, in the background.

use std::path::Path;
use std::sync::Arc;

use engine::{EngineError, MakeSettings};

use crate::Session;

impl Session {
    /// Writes the files of the guard into `folder`, in the background. A folder with the files of another guard is left
    /// alone: a note brings a problem of the kind [`crate::ProblemKind::FolderTaken`], and [`Session::export_over`]
    /// writes all the same.
    pub fn export(&mut self, folder: &Path, made_on: Option<String>) {
        self.start_export(folder, made_on, false);
    }

    /// As [`Session::export`], whatever is in the folder.
    pub fn export_over(&mut self, folder: &Path, made_on: Option<String>) {
        self.start_export(folder, made_on, true);
    }

    fn start_export(&mut self, folder: &Path, made_on: Option<String>, overwrite: bool) {
        let Some(document) = &self.document else { return };
        let (design, loaded) = (document.design().clone(), Arc::clone(&document.loaded));
        let (home, out) = (self.recovery.folder().to_owned(), folder.to_owned());
        let materials = self.materials.clone();
        let team = Some(self.preferences.team.clone()).filter(|t| !t.is_empty());
        let bed_mm = self.preferences.known_bed_mm();
        let settings = MakeSettings { team, made_on, bed_mm, overwrite, ..MakeSettings::default() };
        self.exporting.start(move |job| {
            locker::keep_beside(&loaded.bytes, &home, job).map_err(EngineError::from)?;
            let report = engine::make(&design, &home, &out, &settings, &materials, job)?;
            Ok((out, report))
        });
    }

    /// Proposed name of the folder for the open design's files: squad number, site and side, so that no two guards
    /// share one.
    #[must_use]
    pub fn folder_name(&self) -> Option<String> {
        self.design().map(|design| engine::guard_name(design.site, design.side, design.squad_number))
    }
}
