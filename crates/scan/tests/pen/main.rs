//! The pen line on scans with known truth and on synthetic skins.
#![allow(clippy::unwrap_used, clippy::print_stderr)]

mod dashed;
mod found;
mod given;
mod invented;
mod measure;
mod painted;
mod rings;
mod skin;
