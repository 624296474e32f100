//! The pen line against scans with known truth and against skins invented here.
#![allow(clippy::unwrap_used, clippy::print_stderr)]

mod given;
mod invented;
mod measure;
mod skin;
