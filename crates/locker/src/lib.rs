//! What the team keeps: design files and the scans that belong to them.
//!
//! A design file is JSON that people can read and edit ([`DesignFile`] documents each field). The one promise: files
//! appear whole or not at all, a scan is found by its content even when renamed, and a wrong file is never half read
//! but refused with the line, the column, the field and what is allowed.
//!
//! Not promised: that a design can be built; that is for the shell to say.

mod appearance;
mod compact_json;
mod design_file;
mod error;
mod field_place;
mod kept_scan;
mod parse;
mod strength_settings;

pub use appearance::{Appearance, Art, Artwork, Finish, Laid, PatternKind};
pub use design_file::{Companion, DesignFile, KeptFile, KeptScan, MOST_SQUAD_NUMBER, USUAL_SQUAD_NUMBER, VERSION};
pub use error::LockerError;
pub use kept_scan::{
    ScanBytes, StagedScan, keep_beside, keep_inside, keep_picture, load_picture, load_scan, place_beside, sha256,
    stage_beside,
};
pub use parse::{load_design, parse_design, save_design, write_design};
pub use strength_settings::{LINER_MM, Lies, StrengthSettings};
