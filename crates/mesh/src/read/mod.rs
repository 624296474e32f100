//! Reading what scanners and other programs write: STL, OBJ, PLY, told apart by content.

mod scan_file;

pub use scan_file::{Format, ScanFile, Texture};
