//! The command line: reads arguments, shows progress, prints what the engine found. Nothing is computed here.
//!
//! Exit codes: 0 done, 1 bad input, 2 wrong use, 3 cannot be built (or, for `check`, not printable), 130 stopped.
#![allow(clippy::print_stderr)]

mod args;
mod bed;
mod commands;
mod demo;
mod progress;
mod say;

use std::process::ExitCode;

use clap::Parser as _;
use engine::{EngineError, Fault};

fn main() -> ExitCode {
    let args = args::Args::parse();
    let shown = progress::Shown::new(args.quiet);
    let job = shown.job();
    let on_interrupt = job.clone();
    // Where no handler can be set, Ctrl-C still ends the program, only less politely.
    let _ = ctrlc::set_handler(move || on_interrupt.cancel());
    let result = commands::run(&args, &job);
    shown.finish();
    match result {
        Ok(code) => ExitCode::from(code),
        Err(error) => {
            report(&error, args.json);
            ExitCode::from(code_of(&error))
        }
    }
}

fn code_of(error: &EngineError) -> u8 {
    match error.fault() {
        Fault::Input => 1,
        Fault::CannotBuild => 3,
        Fault::Cancelled => 130,
    }
}

fn report(error: &EngineError, json: bool) {
    if !json {
        eprintln!("pauldron: {}", say::refused(error));
        return;
    }
    let kind = match error.fault() {
        Fault::Input => "bad-input",
        Fault::CannotBuild => "cannot-be-built",
        Fault::Cancelled => "stopped",
    };
    let mut about = serde_json::json!({ "kind": kind, "message": say::refused(error) });
    if let EngineError::PenLineOpen { proposal, added_mm, .. } = error {
        about["proposal"] = serde_json::json!({ "line": proposal, "added_mm": added_mm });
    }
    commands::print(&serde_json::json!({ "error": about }).to_string());
}
