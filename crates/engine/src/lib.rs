//! The one door to the whole job, used by the command line and the workbench alike.
//!
//! Each step of the work is one function here: [`inspect`] a scan, [`start`] a design from it, [`open`] a design on its
//! limb, [`make`] everything that leaves the program, [`compare`] materials, [`check`] a mesh. Nothing is printed and
//! nothing is decided by a window: what a caller shows is in the values that come back, all of which turn into JSON.
//!
//! The one promise: the same scan and settings give the same files, byte for byte.

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
mod look;
mod make;
mod marks;
mod open;
mod pen_source;
mod preset;
mod report;
mod scan_source;
mod start;
mod warning;
mod zone_colours;

pub use bed_check::{BedCheck, bed_check};
pub use check::{CheckReport, check};
pub use compare::{Comparison, compare};
pub use cuts::{Cuts, cuts};
pub use defaults::{add_fittings, shell_for};
pub use demo::{DEMO_FOREARM, DEMO_SHIN, DemoScan, half_painted};
pub use edges::edges_in_scan;
pub use error::{EngineError, Fault};
pub use guard_files::{FileMade, FileUse, guard_name};
pub use inspect::{InspectReport, PenSeen, inspect};
pub use limb::{LimbOnAxes, limb, pen_line};
pub use look::{clearance, turntable};
pub use make::{MakeSettings, make};
pub use marks::{MarkedRegion, read_outline, read_strokes};
pub use open::{OpenDesign, open};
pub use pen_source::{PEN_SMOOTH_MM, PenNotice, pen_source};
pub use preset::{GuardPurpose, PRESETS, Preset};
pub use report::{MakeReport, ShellReport, SolidFaults, ZoneReport};
pub use scan_source::{LoadedScan, read_kept, read_scan};
pub use start::{Keep, Marking, StartSettings, Started, new_design, start, title_for};
pub use warning::{Warning, warnings};
