//! Ctrl-C and the terminate signal stop every command all along its way, with exit code 130 and nothing written.
#![cfg(unix)]
#![allow(clippy::unwrap_used)]

use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

/// A program that takes this long to answer hangs, however busy the machine.
const HANGS: Duration = Duration::from_secs(600);

fn demo_scan(name: &str) -> String {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans").join(name);
    path.canonicalize().unwrap().display().to_string()
}

/// Runs the program and sends it the signal once it reports the step of that number. Returns the exit code and the
/// steps reported.
fn run(folder: &Path, args: &[&str], step: Option<(usize, &str)>) -> (Option<i32>, Vec<String>) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_pauldron"))
        .current_dir(folder)
        .args(args)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let id = child.id();
    let lines = BufReader::new(child.stderr.take().unwrap()).lines();
    let (ended, waits) = std::sync::mpsc::channel::<()>();
    let guard = std::thread::spawn(move || {
        let hangs = waits.recv_timeout(HANGS) == Err(std::sync::mpsc::RecvTimeoutError::Timeout);
        if hangs {
            send("KILL", id);
        }
    });
    let mut steps = Vec::new();
    for line in lines.map_while(Result::ok) {
        if let Some((_, what)) = line.split_once(" %  ") {
            if let Some((_, signal)) = step.filter(|(n, _)| *n == steps.len()) {
                send(signal, id);
            }
            steps.push(what.to_owned());
        }
    }
    let code = child.wait().unwrap().code();
    drop(ended);
    guard.join().unwrap();
    (code, steps)
}

fn send(signal: &str, id: u32) {
    assert!(Command::new("kill").args([&format!("-{signal}"), &id.to_string()]).status().unwrap().success());
}

/// All files and folders in a folder.
fn inside(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(inside(&path));
        }
        found.push(path);
    }
    found.sort();
    found
}

/// So many steps of a command are tried, evenly among all of them: the crates below are stopped at every look.
const TRIED: usize = 8;

/// Stops a command at steps all along its way, by one signal and the other.
fn stops_along_the_way(folder: &Path, args: &[&str]) {
    let before = inside(folder);
    let remove_new = || {
        for path in inside(folder).into_iter().rev().filter(|path| !before.contains(path)) {
            if path.is_dir() { std::fs::remove_dir(path).unwrap() } else { std::fs::remove_file(path).unwrap() }
        }
    };
    let (code, steps) = run(folder, args, None);
    assert_eq!(code, Some(0), "{args:?}");
    assert!(steps.len() >= 3, "{args:?} says what it does: {steps:?}");
    let whole: Vec<PathBuf> = inside(folder);
    remove_new();
    let mut stopped = 0;
    let every = steps.len().div_ceil(TRIED);
    for (turn, (n, step)) in steps.iter().enumerate().step_by(every).enumerate() {
        let signal = if turn % 2 == 0 { "INT" } else { "TERM" };
        let (code, _) = run(folder, args, Some((n, signal)));
        let left = inside(folder);
        // It may have finished before the signal came: then all files are there.
        let wanted = if code == Some(0) { &whole } else { &before };
        assert!(matches!(code, Some(0 | 130)), "{args:?}, {signal} at {step:?}: {code:?}");
        assert_eq!(&left, wanted, "{args:?}, {signal} at {step:?}: {code:?}");
        stopped += usize::from(code == Some(130));
        remove_new();
    }
    assert!(stopped > 0, "{args:?} was never stopped");
}

#[test]
fn reading_a_scan_stops() {
    let folder = tempfile::tempdir().unwrap();
    stops_along_the_way(folder.path(), &["inspect", &demo_scan("shin-23.obj")]);
    stops_along_the_way(
        folder.path(),
        &["start", &demo_scan("forearm-07.ply"), "-o", "guard.json", "--site", "forearm"],
    );
}

#[test]
fn making_a_guard_stops() {
    let folder = tempfile::tempdir().unwrap();
    let start = ["start", &demo_scan("forearm-07.ply"), "-o", "guard.json", "--site", "forearm", "--number", "7"];
    assert_eq!(run(folder.path(), &start, None).0, Some(0));
    stops_along_the_way(folder.path(), &["make", "guard.json", "--out", "out", "--resolution", "2"]);
    stops_along_the_way(folder.path(), &["demo", "--resolution", "2"]);
}

#[test]
fn comparing_and_checking_stop() {
    let folder = tempfile::tempdir().unwrap();
    let start = ["start", &demo_scan("forearm-07.ply"), "-o", "guard.json", "--site", "forearm"];
    assert_eq!(run(folder.path(), &start, None).0, Some(0));
    let text = std::fs::read_to_string(folder.path().join("guard.json")).unwrap();
    let coarse = text.replacen("\"resolution_mm\": 0.5", "\"resolution_mm\": 2.0", 1);
    assert_ne!(coarse, text);
    std::fs::write(folder.path().join("guard.json"), coarse).unwrap();
    stops_along_the_way(folder.path(), &["compare", "guard.json"]);
    stops_along_the_way(folder.path(), &["strength", "guard.json", "--quick"]);
    let make = ["make", "guard.json", "--out", "out", "--resolution", "2"];
    assert_eq!(run(folder.path(), &make, None).0, Some(0));
    stops_along_the_way(folder.path(), &["check", "out/forearm-shell.stl"]);
}
