//! The program as a user runs it.
#![allow(clippy::unwrap_used)]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

fn pauldron(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_pauldron")).current_dir(folder).args(args).arg("--quiet").output().unwrap()
}

fn demo_scan(name: &str) -> String {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans").join(name);
    path.canonicalize().unwrap().display().to_string()
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|e| panic!("{e}: {output:?}"))
}

fn truth(name: &str) -> Vec<[f64; 3]> {
    let all: Value = serde_json::from_str(&std::fs::read_to_string(demo_scan("truth.json")).unwrap()).unwrap();
    let row = all.as_array().unwrap().iter().find(|row| row["file"] == name).unwrap();
    serde_json::from_value(row["line"].clone()).unwrap()
}

/// Mean distance from the points of `a` to the points of `b`.
fn apart(a: &[[f64; 3]], b: &[[f64; 3]]) -> f64 {
    let distance = |p: &[f64; 3], q: &[f64; 3]| (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f64>().sqrt();
    a.iter().map(|p| b.iter().map(|q| distance(p, q)).fold(f64::INFINITY, f64::min)).sum::<f64>() / a.len() as f64
}

#[test]
fn wrong_use_is_told_from_bad_input() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(pauldron(folder.path(), &["inspect"]).status.code(), Some(2));
    assert_eq!(pauldron(folder.path(), &["make", "x.json", "--out", "o", "--resolution", "9"]).status.code(), Some(2));
    let missing = pauldron(folder.path(), &["inspect", "nowhere.ply"]);
    assert_eq!(missing.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&missing.stderr).contains("nowhere.ply"));
    let missing = pauldron(folder.path(), &["make", "nowhere.json", "--out", "o", "--json"]);
    assert_eq!(missing.status.code(), Some(1));
    assert_eq!(json(&missing)["error"]["kind"], "bad-input");
    let help = pauldron(folder.path(), &["start", "--help"]);
    assert!(help.status.success() && String::from_utf8_lossy(&help.stdout).contains("Examples:"));
}

#[test]
fn inspect_says_what_a_scan_in_metres_holds() {
    let folder = tempfile::tempdir().unwrap();
    let output = pauldron(folder.path(), &["inspect", &demo_scan("shoulder-19.ply"), "--json"]);
    assert!(output.status.success(), "{output:?}");
    let found = json(&output);
    assert_eq!(found["format"], "binary PLY, highest byte first");
    assert_eq!(found["unit"]["unit"], "m");
    assert_eq!(found["colours_from"], "points");
    assert!(found["pieces"].as_u64().unwrap() > 9, "the loose bits are pieces");
}

#[test]
fn start_finds_the_pen_line_and_gives_it_in_scan_coordinates() {
    let folder = tempfile::tempdir().unwrap();
    let scan = demo_scan("forearm-07.ply");
    let args = ["start", &scan, "-o", "guard.json", "--site", "forearm", "--side", "left", "--number", "7", "--json"];
    let output = pauldron(folder.path(), &args);
    assert!(output.status.success(), "{output:?}");
    let started = json(&output);
    let edges: Vec<Vec<[f64; 3]>> = serde_json::from_value(started["zone"]["edges_in_scan"].clone()).unwrap();
    assert_eq!(edges.len(), 1);
    let line = truth("forearm-07.ply");
    // The pen line is to be found within 1 mm on average; the file is in millimetres.
    assert!(apart(&edges[0], &line) < 1.0, "{}", apart(&edges[0], &line));
    assert!(apart(&line, &edges[0]) < 1.0, "{}", apart(&line, &edges[0]));
    let again = pauldron(folder.path(), &args);
    assert_eq!(again.status.code(), Some(1), "a design is not written over unasked");
    assert!(folder.path().join("scans").read_dir().unwrap().count() == 1);
}

#[test]
fn a_scan_without_colours_wants_an_outline() {
    let folder = tempfile::tempdir().unwrap();
    let scan = demo_scan("forearm-16.stl");
    let none = pauldron(folder.path(), &["start", &scan, "-o", "guard.json"]);
    assert_eq!(none.status.code(), Some(1));
    let said = String::from_utf8_lossy(&none.stderr).into_owned();
    assert!(said.contains("no colours") && said.contains("--outline"), "{said}");
    std::fs::write(folder.path().join("o.json"), "{\"outline\": [[0,0,0]], \"insid\": 1}").unwrap();
    let wrong = pauldron(folder.path(), &["start", &scan, "-o", "guard.json", "--outline", "o.json"]);
    assert_eq!(wrong.status.code(), Some(1));
    let said = String::from_utf8_lossy(&wrong.stderr).into_owned();
    assert!(said.contains("o.json, line 1") && said.contains("unknown field `insid`"), "{said}");
}

#[test]
fn check_tells_an_open_scan_from_a_solid() {
    let folder = tempfile::tempdir().unwrap();
    let open = pauldron(folder.path(), &["check", &demo_scan("forearm-16.stl"), "--json"]);
    assert_eq!(open.status.code(), Some(3));
    assert_eq!(json(&open)["printable"], false);
    let corners = ["0 0 0", "9 0 0", "0 9 0", "0 0 9"];
    let faces = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]];
    let facet = |f: [usize; 3]| {
        let [a, b, c] = f.map(|v| corners[v]);
        format!("facet normal 0 0 0\nouter loop\nvertex {a}\nvertex {b}\nvertex {c}\nendloop\nendfacet\n")
    };
    let stl = format!("solid t\n{}endsolid t\n", faces.map(facet).concat());
    std::fs::write(folder.path().join("t.stl"), stl).unwrap();
    let solid = pauldron(folder.path(), &["check", "t.stl", "--json"]);
    assert_eq!(solid.status.code(), Some(0), "{solid:?}");
    // Volume of a corner of a cube: 9³ / 6.
    assert!((json(&solid)["solid"]["volume"].as_f64().unwrap() - 121.5).abs() < 1e-3);
}

/// The outline test's scan has no colours; its points are found in the file itself.
fn stl_points(path: &str) -> Vec<[f64; 3]> {
    let bytes = std::fs::read(path).unwrap();
    let number = |at: usize| f64::from(f32::from_le_bytes(bytes[at..at + 4].try_into().unwrap()));
    (84..bytes.len() - 49).step_by(50).map(|at| [12, 16, 20].map(|k| number(at + k))).collect()
}

#[test]
fn strokes_make_a_guard_whose_files_are_whole_and_the_same_twice() {
    let folder = tempfile::tempdir().unwrap();
    let scan = demo_scan("forearm-16.stl");
    let points = stl_points(&scan);
    // Any skin point of the middle of the arm will do for the brush.
    let mean = [0, 1, 2].map(|k| points.iter().map(|p| p[k]).sum::<f64>() / points.len() as f64);
    let far = |p: &&[f64; 3]| (0..3).map(|k| (p[k] - mean[k]).powi(2)).sum::<f64>();
    let at = points.iter().min_by(|a, b| far(a).total_cmp(&far(b))).unwrap();
    let strokes = serde_json::json!({ "strokes": [{ "at": at, "radius_mm": 32.0 }] }).to_string();
    std::fs::write(folder.path().join("s.json"), strokes).unwrap();
    let args = ["start", &scan, "-o", "guard.json", "--site", "forearm", "--strokes", "s.json", "--inside"];
    let started = pauldron(folder.path(), &args);
    assert!(started.status.success(), "{started:?}");
    assert!(!folder.path().join("scans").exists(), "the scan is kept inside");

    let make = |out: &str| {
        let made = pauldron(folder.path(), &["make", "guard.json", "--out", out, "--resolution", "1.5", "--json"]);
        assert!(made.status.success(), "{made:?}");
        json(&made)
    };
    let report = make("a");
    assert_eq!(report["shell"]["solid"]["is_solid"], true);
    make("b");
    for name in ["design.json", "shell.stl", "shell.3mf", "guard.png", "summary.pdf", "zone.ply", "report.json"] {
        let read = |out: &str| std::fs::read(folder.path().join(out).join(name)).unwrap();
        assert!(read("a") == read("b"), "{name} differs from run to run");
    }
    let checked = pauldron(folder.path(), &["check", "a/shell.stl", "--json"]);
    assert_eq!(checked.status.code(), Some(0), "{checked:?}");
    // Two readings of the same solid: the report's own and that of the file that was written.
    let volume = |v: &Value| v.as_f64().unwrap();
    let (said, found) = (volume(&report["shell"]["volume_cm3"]), volume(&json(&checked)["solid"]["volume"]) / 1000.0);
    assert!((said / found - 1.0).abs() < 1e-4, "{said} {found}");

    let text = std::fs::read_to_string(folder.path().join("guard.json")).unwrap();
    std::fs::write(folder.path().join("bad.json"), text.replace("\"thickness_mm\": 3.0", "\"thickness_mm\": 33.0"))
        .unwrap();
    let bad = pauldron(folder.path(), &["make", "bad.json", "--out", "c"]);
    assert_eq!(bad.status.code(), Some(1));
    let said = String::from_utf8_lossy(&bad.stderr).into_owned();
    assert!(said.contains("bad.json, line ") && said.contains("shell.thickness_mm is 33"), "{said}");
    let thin = text.replace("\"radius_mm\": 32.0", "\"radius_mm\": 2.0");
    std::fs::write(folder.path().join("thin.json"), thin).unwrap();
    assert_eq!(pauldron(folder.path(), &["make", "thin.json", "--out", "c"]).status.code(), Some(3));
}

#[test]
fn a_moved_folder_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let scan = demo_scan("shin-23.obj");
    let started = pauldron(folder.path(), &["start", &scan, "-o", "old/guard.json", "--site", "shin"]);
    assert!(started.status.success(), "{started:?}");
    std::fs::rename(folder.path().join("old"), folder.path().join("new")).unwrap();
    for entry in std::fs::read_dir(folder.path().join("new/scans")).unwrap() {
        let path = entry.unwrap().path();
        let renamed = path.with_extension("renamed");
        std::fs::rename(path, renamed).unwrap();
    }
    let compared = pauldron(folder.path(), &["compare", "new/guard.json", "--json"]);
    assert!(compared.status.success(), "{compared:?}");
    assert_eq!(json(&compared)["rows"].as_array().unwrap().len(), 3);
}

#[cfg(unix)]
#[test]
fn ctrl_c_stops_with_130() {
    let folder = tempfile::tempdir().unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_pauldron"))
        .current_dir(folder.path())
        .args(["demo", "--resolution", "0.2", "--quiet"])
        .spawn()
        .unwrap();
    std::thread::sleep(std::time::Duration::from_millis(700));
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
    assert_eq!(child.wait().unwrap().code(), Some(130));
}
