//! The files of a guard: what they are called, what each is for, and whether a folder is free for them.

use std::path::{Path, PathBuf};

use locker::{DesignFile, KeptScan, ScanBytes, StagedScan};
use mesh::Job;
use mesh::write::StagedFile;
use scan::{BodySite, Side};
use serde::Serialize;

use crate::EngineError;

/// What a file is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FileUse {
    /// For the printer; any one of these is enough.
    Printer,
    /// For the printer, together with the shell: a second body in a second colour.
    SecondColour,
    /// A picture of the guard.
    Picture,
    /// The page for the job folder.
    Page,
    /// The design, to make or change the guard again.
    Design,
    /// The scan that the design needs.
    Scan,
    /// The limb with the zone on it, to check where the guard goes.
    Zone,
    /// All figures.
    Report,
}

impl FileUse {
    /// In a few words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Printer => "for the printer",
            Self::SecondColour => "for the printer: the inlay, to print with the shell",
            Self::Picture => "the guard on the limb from five sides",
            Self::Page => "the page for the job folder",
            Self::Design => "the design, to make or change the guard again",
            Self::Scan => "the scan, which the design needs",
            Self::Zone => "the cleaned limb with the zone in colours",
            Self::Report => "all figures",
        }
    }
}

/// A file that was written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FileMade {
    /// Its path below the output folder, with `/` between folders.
    pub name: String,
    /// What it is, in a few words.
    pub what: &'static str,
    /// What it is for.
    pub usage: FileUse,
    /// Its length; absent for the report, which lists itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bytes: Option<u64>,
    /// SHA-256 of its bytes; absent for the report.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sha256: Option<String>,
}

/// What the files of a guard are called, without their endings: squad number, body site and side, such as
/// `07-forearm-left`, never a person. What is not known is left out.
#[must_use]
pub fn guard_name(site: BodySite, side: Side, squad_number: Option<u32>) -> String {
    let site = match site {
        BodySite::Forearm => "forearm",
        BodySite::Wrist => "wrist",
        BodySite::Shoulder => "shoulder",
        BodySite::Ribs => "ribs",
        BodySite::Thigh => "thigh",
        BodySite::Shin => "shin",
        BodySite::Ankle => "ankle",
        _ => "guard",
    };
    let number = squad_number.map(|n| format!("{n:02}-")).unwrap_or_default();
    let side = match side {
        Side::Left => "-left",
        Side::Right => "-right",
        Side::Unknown => "",
    };
    format!("{number}{site}{side}")
}

/// The ending of the report's name.
const REPORT: &str = "report.json";

/// An output folder and the files staged for it.
pub(crate) struct GuardFolder<'a> {
    out: &'a Path,
    guard: String,
    made: Vec<FileMade>,
    staged: Vec<StagedFile>,
    /// Files of an earlier copy that this one does not have.
    stale: Vec<PathBuf>,
    scan: Option<StagedScan>,
    /// Whether it was made here and is still empty.
    is_new: bool,
}

impl Drop for GuardFolder<'_> {
    /// Removes a folder that was made in vain, as where the work is stopped or refused.
    fn drop(&mut self) {
        self.staged.clear();
        self.scan = None;
        if self.is_new {
            // Fails, as it should, where somebody else has put something into it.
            let _ = std::fs::remove_dir(self.out);
        }
    }
}

impl<'a> GuardFolder<'a> {
    /// Takes a folder for the files of a design; makes it where it does not exist.
    ///
    /// # Errors
    /// The folder cannot be made, or it has the files of another guard and they are not to be mixed.
    pub(crate) fn take(out: &'a Path, design: &DesignFile, overwrite: bool) -> Result<Self, EngineError> {
        let is_new = !out.exists();
        std::fs::create_dir_all(out).map_err(|source| EngineError::File { path: out.into(), source })?;
        let guard = guard_name(design.site, design.side, design.squad_number);
        if !overwrite && let Some(title) = other_guard(out, &guard, &design.scan) {
            return Err(EngineError::FolderTaken { folder: out.into(), title });
        }
        Ok(Self { out, guard, made: Vec::new(), staged: Vec::new(), stale: Vec::new(), scan: None, is_new })
    }

    pub(crate) fn path(&self) -> &Path {
        self.out
    }

    /// Writes a file under a temporary name for [`Self::finish`] to rename; it is called after the guard and `ending`.
    pub(crate) fn stage(&mut self, ending: &str, usage: FileUse, bytes: &[u8], job: &Job) -> Result<(), EngineError> {
        let name = format!("{}-{ending}", self.guard);
        let sha256 = locker::sha256(bytes, job)?;
        self.staged.push(StagedFile::write(&self.out.join(&name), bytes, job)?);
        let (bytes, sha256) = (Some(bytes.len() as u64), Some(sha256));
        self.made.push(FileMade { name, what: usage.words(), usage, bytes, sha256 });
        Ok(())
    }

    /// [`Self::stage`] where there is such a file; where there is none, one that an earlier copy of the guard left is
    /// removed.
    pub(crate) fn stage_if(
        &mut self,
        there: bool,
        ending: &str,
        usage: FileUse,
        bytes: &[u8],
        job: &Job,
    ) -> Result<(), EngineError> {
        if there {
            return self.stage(ending, usage, bytes, job);
        }
        self.stale.push(self.out.join(format!("{}-{ending}", self.guard)));
        Ok(())
    }

    /// Writes a scan under temporary names for [`Self::finish`] to rename; returns how the design names it.
    pub(crate) fn stage_scan(&mut self, scan: &ScanBytes, job: &Job) -> Result<KeptScan, EngineError> {
        let staged = locker::stage_beside(scan, self.out, job)?;
        let kept = staged.kept().clone();
        self.scan = Some(staged);
        Ok(kept)
    }

    /// Lists the files of a scan that was kept here.
    pub(crate) fn list_scan(&mut self, scan: &KeptScan) {
        for file in std::iter::once(&scan.file).chain(scan.companions.iter().map(|c| &c.file)) {
            if file.inside.is_none() {
                let name = locker::place_beside(file);
                let (bytes, sha256) = (Some(file.bytes), Some(file.sha256.clone()));
                self.made.push(FileMade { name, what: FileUse::Scan.words(), usage: FileUse::Scan, bytes, sha256 });
            }
        }
    }

    /// All files, those for the printer first, the report last.
    pub(crate) fn all(&self) -> Vec<FileMade> {
        let mut all = self.made.clone();
        let report = format!("{}-{REPORT}", self.guard);
        let usage = FileUse::Report;
        all.push(FileMade { name: report, what: usage.words(), usage, bytes: None, sha256: None });
        all.sort_by_key(|file| match file.usage {
            FileUse::Printer => 0,
            FileUse::SecondColour => 1,
            _ => 2,
        });
        all
    }

    /// Renames all files to their own names, the report last.
    pub(crate) fn finish(mut self, report: &impl Serialize) -> Result<(), EngineError> {
        let json = serde_json::to_vec_pretty(report)?;
        let path = self.out.join(format!("{}-{REPORT}", self.guard));
        self.staged.push(StagedFile::write(&path, &json, &Job::silent())?);
        if let Some(scan) = self.scan.take() {
            scan.put_in_place()?;
            self.is_new = false;
        }
        for file in std::mem::take(&mut self.staged) {
            file.put_in_place()?;
            self.is_new = false;
        }
        for file in &self.stale {
            // Mostly there is none.
            let _ = std::fs::remove_file(file);
        }
        Ok(())
    }
}

/// Title of another guard whose report lies in a folder: of another name than `guard`, or made from another scan.
fn other_guard(folder: &Path, guard: &str, scan: &KeptScan) -> Option<String> {
    let mut reports: Vec<_> = std::fs::read_dir(folder)
        .ok()?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.file_name().is_some_and(|name| name.to_string_lossy().ends_with(REPORT)))
        .collect();
    reports.sort();
    reports.into_iter().find_map(|path| {
        let report: serde_json::Value = serde_json::from_slice(&std::fs::read(&path).ok()?).ok()?;
        let text = |field: &str| report.get(field).and_then(serde_json::Value::as_str);
        let (title, sha256) = (text("title")?, text("scan_sha256")?);
        let same_name = path.file_name().is_some_and(|name| name.to_string_lossy() == format!("{guard}-{REPORT}"));
        (!same_name || sha256 != scan.file.sha256).then(|| title.to_owned())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_go_by_number_site_and_side() {
        assert_eq!(guard_name(BodySite::Forearm, Side::Left, Some(7)), "07-forearm-left");
        assert_eq!(guard_name(BodySite::Ankle, Side::Unknown, Some(12)), "12-ankle");
        assert_eq!(guard_name(BodySite::Other, Side::Right, None), "guard-right");
    }

    #[test]
    fn a_folder_with_another_guard_is_told_from_one_with_an_earlier_copy() {
        let folder = tempfile::tempdir().unwrap();
        let kept = |text: &str| {
            locker::keep_inside(&ScanBytes { file: text.as_bytes().to_vec(), companions: Vec::new() }, &Job::silent())
        };
        let (mine, theirs) = (kept("mine").unwrap(), kept("theirs").unwrap());
        assert_eq!(other_guard(folder.path(), "07-forearm-left", &mine), None);
        let report = serde_json::json!({ "title": "Guard A", "scan_sha256": mine.file.sha256 });
        std::fs::write(folder.path().join("07-forearm-left-report.json"), report.to_string()).unwrap();
        std::fs::write(folder.path().join("notes-report.json"), "not one of ours").unwrap();
        assert_eq!(other_guard(folder.path(), "07-forearm-left", &mine), None);
        assert_eq!(other_guard(folder.path(), "07-forearm-left", &theirs).as_deref(), Some("Guard A"));
        assert_eq!(other_guard(folder.path(), "16-forearm-left", &mine).as_deref(), Some("Guard A"));
    }
}
