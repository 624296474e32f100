//! Writes the demo scans: `demo-limbs OUT_DIR`.
#![allow(clippy::print_stderr)]

use std::process::ExitCode;

fn main() -> ExitCode {
    let Some(folder) = std::env::args_os().nth(1).map(std::path::PathBuf::from) else {
        eprintln!("demo-limbs OUT_DIR: writes the demo scans of Tern Harbour and their truth.json into OUT_DIR");
        return ExitCode::from(2);
    };
    match write_all(&folder) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{}: {error}", folder.display());
            ExitCode::from(1)
        }
    }
}

fn write_all(folder: &std::path::Path) -> std::io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let mut truths = Vec::new();
    for limb in demo_limbs::catalogue() {
        let made = demo_limbs::make(&limb);
        for (name, bytes) in &made.files {
            std::fs::write(folder.join(name), bytes)?;
        }
        truths.push(made.truth);
    }
    std::fs::write(folder.join("truth.json"), demo_limbs::truth_json(&truths))
}
