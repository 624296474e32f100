//! The steps of the job from file to file, the same for the command line and the workbench.
//!
//! Each is one function: [`inspect`] a scan, [`start`] a design from it, [`open`] a design on its limb, [`make`] all
//! files of a guard, [`compare`] materials, tell its [`strength`()] in a blow, seek the [`lightest`] that holds, [`check`] a mesh.
//! Nothing is printed; what a caller shows is in the values returned: errors and [`Warning`]s are typed, and reports serialise
//! to JSON.
//!
//! The one promise: the same scan, settings and materials give the same files, byte for byte. Not promised: that
//! callers need nothing else. The session calls the crates `zone` and `shell` directly, to show each result as soon as
//! it is there.

pub mod artwork;
mod bed_check;
mod check;
mod compare;
mod cuts;
mod defaults;
mod demo;
mod edges;
mod error;
mod guard_files;
mod inspect;
mod limb;
mod make;
mod marks;
mod open;
mod pen_source;
mod picture_file;
mod preset;
mod report;
mod scan_source;
mod start;
mod straps;
mod strength;
mod views;
mod warning;
mod whole_looks;
mod zone_colours;

pub use bed_check::{BedCheck, bed_check};
pub use check::{CheckReport, check};
pub use compare::{Comparison, compare};
pub use cuts::{Cuts, cuts};
pub use defaults::{add_fittings, fit_ribs, shell_for, strap_mm_for};
pub use demo::{DEMO_FOREARM, DEMO_SHIN, DemoScan, half_painted};
pub use edges::edges_in_scan;
pub use error::{EngineError, Fault};
pub use guard_files::{FileMade, FileUse, guard_name};
pub use inspect::{InspectReport, PenSeen, inspect};
pub use limb::{LimbOnAxes, limb, pen_line};
pub use make::{MakeSettings, make};
pub use marks::{MarkedCrease, MarkedRegion, USUAL_CREASE_MM, read_crease, read_outline, read_strokes};
pub use open::{OpenDesign, open};
pub use pen_source::{PenNotice, pen_rings, pen_source};
pub use picture_file::{USUAL_PICTURE_MM, add_mark, add_picture, add_picture_to, read_picture};
pub use preset::{GuardPurpose, PRESETS, Preset};
pub use report::{MakeReport, ShellReport, SolidFaults, Soundness, ZoneReport};
pub use scan_source::{LoadedScan, read_kept, read_scan};
pub use start::{BonyPointSeen, Keep, Marking, StartSettings, Started, new_design, start, title_for};
pub use straps::{STRAP_OVERLAP_MM, Strap, straps};
pub use strength::{
    Chosen, GuardWall, Lightest, MapValues, ReadyGuard, STRENGTH_CAUTION, StrengthError, StrengthMap, StrengthReport,
    StrengthRow, StruckGuard, Targets, Trial, WHAT_STRENGTH_MEANS, WallSurface, lightest, lightest_on, scale_of,
    strength, strength_of, strength_on, strength_report, tissues_at, usual_liner_mm, with_wall,
};
pub use views::{clearance, turntable};
pub use warning::{Warning, warnings};
pub use whole_looks::{LookInList, LookOnGuard, WHOLE_LOOKS, WeighedLook, WholeLook, looks, weigh_looks, without_look};
