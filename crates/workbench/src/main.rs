//! Starts the workbench.

// No console window beside it on Windows.
#![cfg_attr(all(windows, not(debug_assertions)), windows_subsystem = "windows")]

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Parser;
use workbench::{Launch, run};

/// The whole job in one window: from the scan of a limb to the print files of a guard.
#[derive(Parser)]
#[command(name = "workbench", version)]
struct Arguments {
    /// A scan (STL, OBJ, PLY) or a design to open.
    file: Option<PathBuf>,
    /// Goes through all steps with the demo or FILE, saves a picture of each in this folder, then exits.
    #[arg(long, value_name = "DIR")]
    screenshot: Option<PathBuf>,
    /// Expands the panels and takes as many pictures as each needs.
    #[arg(long, requires = "screenshot")]
    opened_out: bool,
    /// Writes the window's state to this file after each frame, for programs that wait for it.
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
    /// Size of the window, such as 1280x800.
    #[arg(long, value_name = "WxH", value_parser = size, default_value = "1280x800")]
    size: [u32; 2],
    /// Folder for settings and unsaved work, instead of the system's usual one.
    #[arg(long, value_name = "DIR")]
    home: Option<PathBuf>,
}

fn size(text: &str) -> Result<[u32; 2], String> {
    let sides = text.split_once('x').and_then(|(w, h)| Some([w.parse().ok()?, h.parse().ok()?]));
    sides.filter(|s| s.iter().all(|n| (640..=7680).contains(n))).ok_or_else(|| "give it as 1280x800".to_owned())
}

fn main() -> ExitCode {
    let Arguments { file, screenshot, opened_out, report, size, home } = Arguments::parse();
    run(Launch { file, screenshot, opened_out, report, size, home })
}
