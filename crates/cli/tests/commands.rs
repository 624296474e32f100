//! The program as a user runs it.
#![allow(clippy::unwrap_used)]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

fn pauldron(folder: &Path, args: &[&str]) -> Output {
    let mut program = Command::new(env!("CARGO_BIN_EXE_pauldron"));
    program.current_dir(folder).args(args).args(["--quiet", "--home", "home"]).output().unwrap()
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
    assert_eq!(found["format"], "binary PLY, big-endian");
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

/// The corners in a binary STL file: 50 bytes a triangle after a header of 84.
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
    // What a blow does to it in each filament, with how far the data leave it open.
    let rows = report["strength"]["rows"].as_array().unwrap();
    assert_eq!(rows.len(), 3);
    for row in rows {
        let [low, value, high] = ["low", "value", "high"].map(|end| row["peak_kpa"][end].as_f64().unwrap());
        assert!(0.0 < low && low <= value && value <= high && low < high, "{row}");
    }
    assert_eq!(report["strength_refused"], serde_json::Value::Null);
    make("b");
    let names: Vec<&str> = report["files"].as_array().unwrap().iter().map(|f| f["name"].as_str().unwrap()).collect();
    let endings = ["shell.stl", "shell.3mf", "guard.png", "summary.pdf", "design.json", "zone.ply", "report.json"];
    assert_eq!(names, endings.map(|ending| format!("forearm-{ending}")));
    assert_eq!(std::fs::read_dir(folder.path().join("a")).unwrap().count(), names.len(), "the list is whole");
    for name in names {
        let read = |out: &str| std::fs::read(folder.path().join(out).join(name)).unwrap();
        assert!(read("a") == read("b"), "{name} differs from run to run");
    }
    let checked = pauldron(folder.path(), &["check", "a/forearm-shell.stl", "--json"]);
    assert_eq!(checked.status.code(), Some(0), "{checked:?}");
    // Two readings of the same solid: the report's own and that of the file that was written.
    let volume = |v: &Value| v.as_f64().unwrap();
    let (said, found) = (volume(&report["shell"]["volume_cm3"]), volume(&json(&checked)["solid"]["volume"]) / 1000.0);
    assert!((said / found - 1.0).abs() < 1e-4, "{said} {found}");
    // The filament of a new design, with its own line on heat.
    assert_eq!(report["filament"], "PETG");
    let cautions: Vec<&str> = report["cautions"].as_array().unwrap().iter().map(|c| c.as_str().unwrap()).collect();
    assert!(cautions.last().unwrap().contains("PETG") && !cautions.concat().contains("PLA"), "{cautions:?}");

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

/// A rigid guard spreads a blow over more skin than a flexible one and gives less under a hand; an upright print is no stronger
/// than one that lies; thicker foam of the same kind lowers the pressure; what is not known is named.
#[test]
fn a_guard_is_struck_in_each_filament() {
    let folder = tempfile::tempdir().unwrap();
    let scan = demo_scan("forearm-07.ply");
    let started = pauldron(folder.path(), &["start", &scan, "-o", "guard.json", "--site", "forearm"]);
    assert!(started.status.success(), "{started:?}");
    let struck = |more: &[&str]| {
        let args = [&["strength", "guard.json", "--json", "--quick"], more].concat();
        let done = pauldron(folder.path(), &args);
        assert!(done.status.success(), "{done:?}");
        json(&done)
    };
    let upright = struck(&[]);
    let of = |report: &serde_json::Value, row: usize, field: &str| {
        let value = &report["rows"][row][field];
        value.as_f64().or_else(|| value["value"].as_f64()).unwrap()
    };
    assert_eq!(upright["rows"].as_array().unwrap().len(), 3);
    for field in ["peak_kpa", "push_mm", "dent_mm"] {
        assert!(of(&upright, 0, field) < of(&upright, 2, field), "{field}: {upright}");
    }
    let bare = &upright["without"]["bare_skin"];
    assert!(1e3 * bare["peak_mpa"].as_f64().unwrap() > of(&upright, 2, "peak_kpa"));
    assert!(upright["caution"].as_str().unwrap().contains("Not a certified protector"));
    let lying = struck(&["--lies", "lying"]);
    assert!(of(&lying, 0, "spare") >= of(&upright, 0, "spare"));
    assert!((of(&lying, 0, "peak_kpa") / of(&upright, 0, "peak_kpa") - 1.0).abs() < 1e-6);
    let elsewhere = struck(&["--at", "0,-30,30", "--blow", "stud, 2 J"]);
    assert!(elsewhere["at_mm"][2].as_f64() == Some(30.0) && elsewhere["energy_j"].as_f64() == Some(2.0));
    let text = pauldron(folder.path(), &["strength", "guard.json", "--quick"]);
    let said = String::from_utf8(text.stdout).unwrap();
    assert!(said.contains("Times to spare") && said.contains("to compare, not to certify"), "{said}");
    for (args, named) in [
        (["--blow", "hammer"], "dome, 3 J"),
        (["--foam", "straw"], "EVA, firm"),
        (["--under", "ice"], "muscle side"),
        (["--liner", "0.2"], "between 1 and 20 mm"),
    ] {
        let (code, sentence) = refused(folder.path(), &[&["strength", "guard.json"], &args[..]].concat());
        assert!(code == Some(1) && sentence.contains(named), "{code:?} {sentence}");
    }
}

/// What is found holds, is lighter than what holds and is no lighter than what misses; taken, the design has it and holds to it.
#[test]
fn the_lightest_guard_that_holds_is_sought() {
    let folder = tempfile::tempdir().unwrap();
    let started =
        pauldron(folder.path(), &["start", &demo_scan("ankle-31.ply"), "-o", "guard.json", "--site", "ankle"]);
    assert!(started.status.success(), "{started:?}");
    let none = refused(folder.path(), &["lightest", "guard.json"]);
    assert!(none.0 == Some(1) && none.1.contains("what the guard has to hold to"), "{none:?}");
    let now = json(&pauldron(folder.path(), &["strength", "guard.json", "--json", "--quick"]));
    // Half as near to breaking again as it is.
    let semi_rigid = &now["rows"][1];
    let spare = 1.4 * semi_rigid["spare"]["value"].as_f64().unwrap();
    let args = ["lightest", "guard.json", "--json", "--take", "--within", "600", "--spare", &format!("{spare:.3}")];
    let done = pauldron(folder.path(), &args);
    assert_eq!(done.status.code(), Some(0), "{done:?}");
    let found = json(&done);
    let grams = |trial: &serde_json::Value| trial["grams"].as_f64().unwrap();
    let best = &found["best"];
    assert!(best["worst"].as_f64().unwrap() <= 1.0, "{best}");
    let trace = found["trace"].as_array().unwrap();
    assert!(trace.len() > 8 && found["gave_up"].as_array().is_some_and(|said| !said.is_empty()));
    // As it is it does not hold, so that something lighter was seen to miss.
    assert!(trace.iter().any(|trial| grams(trial) < grams(best) && trial["worst"].as_f64().unwrap() > 1.0));
    let taken = json(&pauldron(folder.path(), &["strength", "guard.json", "--json", "--quick"]));
    let holds = taken["rows"][1]["spare"]["value"].as_f64().unwrap();
    assert!(holds >= 0.999 * spare, "{holds} for {spare}");
    assert!((grams(&taken["rows"][1]) / grams(best) - 1.0).abs() < 1e-6);
    // What cannot be held is said.
    let done = pauldron(folder.path(), &["lightest", "guard.json", "--within", "600", "--spare", "1000"]);
    let said = String::from_utf8(done.stdout).unwrap();
    assert!(done.status.code() == Some(3) && said.contains("holds; the nearest"), "{said}");
}

/// Runs the program in `folder`; the exit code, and the one sentence on stderr.
fn refused(folder: &Path, args: &[&str]) -> (Option<i32>, String) {
    let output = pauldron(folder, args);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(said.trim().lines().count(), 1, "one sentence: {said}");
    (output.status.code(), said)
}

#[test]
fn an_outline_of_a_few_corners_makes_the_zone() {
    let folder = tempfile::tempdir().unwrap();
    let line = truth("forearm-07.ply");
    let corners: Vec<[f64; 3]> = line.iter().copied().step_by(line.len() / 40).collect();
    std::fs::write(folder.path().join("o.json"), serde_json::json!({ "outline": corners }).to_string()).unwrap();
    let scan = demo_scan("forearm-07.ply");
    let output = pauldron(folder.path(), &["start", &scan, "-o", "guard.json", "--outline", "o.json", "--json"]);
    assert!(output.status.success(), "{output:?}");
    let started = json(&output);
    assert!(started["pen"].is_null());
    let edges: Vec<Vec<[f64; 3]>> = serde_json::from_value(started["zone"]["edges_in_scan"].clone()).unwrap();
    assert!(apart(&edges[0], &line) < 1.0, "{}", apart(&edges[0], &line));
}

/// The demo scan cut off across its pen line.
fn cut_through_the_pen_line(folder: &Path) -> PathBuf {
    let bytes = std::fs::read(demo_scan("forearm-07.ply")).unwrap();
    let mut mesh = mesh::read::read_bytes(&bytes, "demo", &|_| None, &mesh::Job::silent()).unwrap().mesh;
    let line = truth("forearm-07.ply");
    let n = line.len() as f64;
    let middle = line.iter().fold([0.0; 3], |s, p| [0, 1, 2].map(|k| s[k] + p[k] / n));
    // The plane passes through the line's middle, its normal towards the point farthest from there.
    let far = line.iter().map(|p| [0, 1, 2].map(|k| p[k] - middle[k]));
    let far = far.max_by(|a, b| length(a).total_cmp(&length(b))).unwrap();
    mesh::repair::clip_by_plane(&mut mesh, &middle.into(), &far.into());
    let path = folder.join("cut.ply");
    mesh::write::ply(&mesh, &[], &mut std::fs::File::create(&path).unwrap()).unwrap();
    path
}

fn length(p: &[f64; 3]) -> f64 {
    p.iter().map(|x| x * x).sum::<f64>().sqrt()
}

#[test]
fn a_pen_line_that_runs_off_the_scan_is_told_with_a_proposal() {
    let folder = tempfile::tempdir().unwrap();
    let scan = cut_through_the_pen_line(folder.path()).display().to_string();
    let (code, said) = refused(folder.path(), &["start", &scan, "-o", "guard.json"]);
    assert_eq!(code, Some(1));
    for part in ["runs off the scan", "would close it", "(scan coordinates)", "--accept-proposal"] {
        assert!(said.contains(part), "{said}");
    }
    assert!(!folder.path().join("guard.json").exists(), "nothing is guessed");
    let output = pauldron(folder.path(), &["start", &scan, "-o", "guard.json", "--json"]);
    let error = &json(&output)["error"];
    let proposal: Vec<[f64; 3]> = serde_json::from_value(error["proposal"]["line"].clone()).unwrap();
    assert!(proposal.len() > 100 && error["proposal"]["added_mm"].as_f64().unwrap() > 10.0, "{error}");
    let seen = json(&pauldron(folder.path(), &["inspect", &scan, "--json"]));
    assert_eq!(seen["pen"]["found"], "open");
    let taken = pauldron(folder.path(), &["start", &scan, "-o", "guard.json", "--accept-proposal", "--json"]);
    assert!(taken.status.success(), "{taken:?}");
    let edges: Vec<Vec<[f64; 3]>> = serde_json::from_value(json(&taken)["zone"]["edges_in_scan"].clone()).unwrap();
    // The trim line may leave what is marked by 1.5 mm to be even.
    assert!(apart(&edges[0], &proposal) < 1.6, "the zone is the one proposed: {}", apart(&edges[0], &proposal));
    let notices = json(&taken)["notices"].to_string();
    assert!(notices.contains("closed as proposed"), "{notices}");
}

#[test]
fn what_cannot_be_built_says_which_setting_and_where() {
    let folder = tempfile::tempdir().unwrap();
    let start = ["start", &demo_scan("forearm-07.ply"), "-o", "guard.json", "--site", "forearm", "--number", "7"];
    assert!(pauldron(folder.path(), &start).status.success());
    let text = std::fs::read_to_string(folder.path().join("guard.json")).unwrap();
    let design: Value = serde_json::from_str(&text).unwrap();
    let make = |edit: &dyn Fn(&mut Value)| {
        let mut edited = design.clone();
        edit(&mut edited);
        std::fs::write(folder.path().join("edited.json"), edited.to_string()).unwrap();
        refused(folder.path(), &["make", "edited.json", "--out", "out", "--resolution", "1.5"])
    };
    let edge = design["zone"]["sources"][0]["line"]["points_mm"][0].clone();
    let off = make(&|d| {
        d["shell"]["fittings"][1]["at_mm"] = edge.clone();
        // One that follows would be placed where it has room.
        d["shell"]["fittings"][1]["follows"] = false.into();
    });
    assert!(
        off.0 == Some(3) && off.1.contains("shell.fittings[1]") && off.1.contains("beyond the zone's edge"),
        "{off:?}"
    );
    let strap = |mm: f64| serde_json::json!({ "strap-slot": { "strap_mm": mm, "opening_mm": 4.0 } });
    let wide = make(&|d| {
        d["shell"]["fittings"][0]["kind"] = strap(80.0);
        d["shell"]["fittings"][0]["follows"] = false.into();
    });
    let named = "shell.fittings[0]: the slot for a 80 mm strap (fitting 1)";
    assert!(wide.0 == Some(3) && wide.1.contains(named) && wide.1.contains(" mm have room at this place"), "{wide:?}");
    // The slot that the program placed has room, so what is offered is no narrower.
    let offered: f64 = wide.1.split_once("Straps up to ").unwrap().1.split(' ').next().unwrap().parse().unwrap();
    assert!((25.0..80.0).contains(&offered), "{wide:?}");
    let round = make(&|d| d["shell"]["rim"]["round_mm"] = 2.0.into());
    assert!(round.0 == Some(1) && round.1.contains("between 0 and 1.5 mm, half of the 3 mm wall"), "{round:?}");
    let vents =
        serde_json::json!({ "kind": "round", "size_mm": 25, "ligament_mm": 3, "rim_distance_mm": 60, "seed": 1 });
    let eaten = make(&|d| d["shell"]["vents"] = vents.clone());
    assert!(eaten.0 == Some(3) && eaten.1.contains("shell.vents.size_mm") && eaten.1.contains("near x"), "{eaten:?}");
    // Two wide dabs, joined by a strip of dabs with a radius of 1.6 mm.
    let points = &design["zone"]["sources"][0]["line"]["points_mm"];
    let inside = &design["zone"]["sources"][0]["line"]["inside_mm"];
    let at = |k: usize| inside[k].as_f64().unwrap();
    assert!(points.as_array().unwrap().len() > 100);
    let dab = |z: f64, r: f64| serde_json::json!({ "at_mm": [at(0), at(1), at(2) + z], "radius_mm": r });
    let strip = (-10..=10).map(|i| dab(0.8 * f64::from(i), 1.6));
    let dabs: Vec<Value> = [dab(-24.0, 20.0), dab(24.0, 20.0)].into_iter().chain(strip).collect();
    let neck = make(&|d| {
        d["shell"] = serde_json::json!({});
        // As drawn: a fair edge would widen the neck.
        d["zone"] = serde_json::json!({ "sources": [{ "strokes": { "dabs": dabs } }], "tolerance_mm": 0.0 });
    });
    assert!(neck.0 == Some(3) && neck.1.contains("neck about") && neck.1.contains("near x"), "{neck:?}");
    assert!(!folder.path().join("out").join("forearm-shell.stl").exists());
}

#[test]
fn typical_slips_in_a_design_are_told_with_line_and_field() {
    let folder = tempfile::tempdir().unwrap();
    let start = ["start", &demo_scan("forearm-07.ply"), "-o", "guard.json", "--site", "forearm"];
    assert!(pauldron(folder.path(), &start).status.success());
    let text = std::fs::read_to_string(folder.path().join("guard.json")).unwrap();
    for (from, to, field, why) in [
        ("\"gap_mm\": 3.0,", "\"gap_mm\": 3,5,", "at shell:", "a field's name in quotes is expected"),
        ("\"gap_mm\": 3.0,", "\"gap\": 3.0,", "shell.gap", "unknown field `gap`, expected one of `gap_mm`"),
        ("\"gap_mm\": 3.0,", "\"gap_mm\": \"3 mm\",", "shell.gap_mm", "expected a number"),
        ("\"gap_mm\": 3.0,", "\"gap_mm\": -3.0,", "shell.gap_mm", "-3"),
        (
            "\"layout\": \"along\"",
            "\"layout\": \"length\"",
            "shell.ribs.layout",
            "unknown choice `length`, expected one of `along`",
        ),
        ("\"site\": \"forearm\"", "\"site\": \"arm\"", "site", "unknown choice `arm`"),
        ("\"mirror\": false", "\"mirror\": \"no\"", "clean.mirror", "expected true or false"),
    ] {
        assert!(text.contains(from), "{from}");
        let at = text.find(from).unwrap();
        let line = text[..at].matches('\n').count() + 1;
        std::fs::write(folder.path().join("slip.json"), text.replacen(from, to, 1)).unwrap();
        let (code, said) = refused(folder.path(), &["make", "slip.json", "--out", "out"]);
        assert_eq!(code, Some(1));
        assert!(said.contains(&format!("slip.json, line {line}, ")), "{said}, not {line}");
        assert!(said.contains(field) && said.contains(why), "{said}");
    }
}

#[test]
fn a_place_that_cannot_be_written_costs_one_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let start = ["start", &demo_scan("forearm-07.ply"), "-o", "guard.json", "--site", "forearm"];
    assert!(pauldron(folder.path(), &start).status.success());
    std::fs::write(folder.path().join("file"), "x").unwrap();
    let (code, said) = refused(folder.path(), &["make", "guard.json", "--out", "file/out"]);
    assert!(code == Some(1) && said.contains("file"), "{said}");
    // A folder lies where the file should go.
    std::fs::create_dir_all(folder.path().join("out/forearm-shell.stl")).unwrap();
    let (code, said) =
        refused(folder.path(), &["make", "guard.json", "--out", "out", "--resolution", "2", "--no-strength"]);
    assert!(code == Some(1) && said.contains("forearm-shell.stl"), "{said}");
    let halves = std::fs::read_dir(folder.path().join("out")).unwrap().filter(|e| {
        let name = e.as_ref().unwrap().file_name().to_string_lossy().into_owned();
        !["forearm-shell.stl", "scans"].contains(&name.as_str())
    });
    assert_eq!(halves.count(), 0, "nothing half written is left");
}

#[test]
fn check_says_what_is_wrong_with_a_mesh_and_where() {
    let folder = tempfile::tempdir().unwrap();
    let cube = |at: f32| -> Vec<[f32; 3]> {
        (0..8).map(|i| [at + 10.0 * (i & 1) as f32, at + 5.0 * (i & 2) as f32, at + 2.5 * (i & 4) as f32]).collect()
    };
    let faces: [[usize; 3]; 12] = [
        [0, 2, 1],
        [1, 2, 3],
        [4, 5, 6],
        [5, 7, 6],
        [0, 1, 4],
        [1, 5, 4],
        [2, 6, 3],
        [3, 6, 7],
        [0, 4, 2],
        [2, 4, 6],
        [1, 3, 5],
        [3, 7, 5],
    ];
    let write = |name: &str, cubes: &[f32], take: usize, more: &str| {
        let mut text = String::new();
        for p in cubes.iter().flat_map(|at| cube(*at)) {
            text += &format!("v {} {} {}\n", p[0], p[1], p[2]);
        }
        for (n, _) in cubes.iter().enumerate() {
            for f in faces.iter().take(take) {
                text += &format!("f {} {} {}\n", f[0] + 8 * n + 1, f[1] + 8 * n + 1, f[2] + 8 * n + 1);
            }
        }
        std::fs::write(folder.path().join(name), text + more).unwrap();
        let output = pauldron(folder.path(), &["check", name, "--json"]);
        (output.status.code(), json(&output)["solid"].clone())
    };
    assert_eq!(write("whole.obj", &[0.0], 12, "").0, Some(0));
    let (code, open) = write("open.obj", &[0.0], 11, "");
    assert!(code == Some(3) && open["open_edges"] == 3, "{open}");
    assert!(!open["places"].as_array().unwrap().is_empty());
    let (code, crowded) = write("crowded.obj", &[0.0], 12, "v 5 5 -20\nf 1 2 9\n");
    assert!(code == Some(3) && crowded["non_manifold_edges"] == 1, "{crowded}");
    // Two cubes, one with a corner inside the other: they cross at x, y, z between 5 and 10.
    let (code, crossing) = write("crossing.obj", &[0.0, 5.0], 12, "");
    assert!(code == Some(3) && crossing["crossing_pairs"].as_u64().unwrap() > 0, "{crossing}");
    let places: Vec<[f32; 3]> = serde_json::from_value(crossing["places"].clone()).unwrap();
    assert!(!places.is_empty() && places.iter().flatten().all(|x| (0.0..=15.0).contains(x)), "{places:?}");
    let words = pauldron(folder.path(), &["check", "crossing.obj"]);
    let said = String::from_utf8_lossy(&words.stdout).into_owned();
    assert!(said.contains("Printable   no") && said.contains("at "), "{said}");
}

/// A small guard for the forearm of number `number`, started in `name`.json.
fn start_small(folder: &Path, name: &str, number: &str) -> Value {
    let scan = demo_scan("forearm-07.ply");
    let file = format!("{name}.json");
    let started =
        pauldron(folder, &["start", &scan, "-o", &file, "--site", "forearm", "--side", "left", "--number", number]);
    assert!(started.status.success(), "{started:?}");
    serde_json::from_str(&std::fs::read_to_string(folder.join(file)).unwrap()).unwrap()
}

#[test]
fn what_a_keeper_has_to_look_at_is_said_in_words_and_as_json() {
    let folder = tempfile::tempdir().unwrap();
    let mut design = start_small(folder.path(), "guard", "1007");
    design["shell"]["gap_mm"] = 0.into();
    design["filament"] = "my own".into();
    std::fs::write(folder.path().join("guard.json"), design.to_string()).unwrap();
    let make = ["make", "guard.json", "--out", "out", "--resolution", "2", "--no-strength"];
    let words = String::from_utf8(pauldron(folder.path(), &make).stdout).unwrap();
    for said in ["“my own”", "PLA (rigid)", "gap of 0 mm", "bare skin", "squad number 1007"] {
        assert!(words.contains(said), "{said} in {words}");
    }
    assert!(words.contains("not checked") && words.contains("--bed"), "{words}");
    let report = json(&pauldron(folder.path(), &[&make[..], &["--json"]].concat()));
    let kinds: Vec<&str> = report["warnings"].as_array().unwrap().iter().map(|w| w["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["unknown-filament", "no-liner", "unusual-number"]);
    assert_eq!(report["bed"]["bed"], "not-checked");
    let compared = json(&pauldron(folder.path(), &["compare", "guard.json", "--json"]));
    assert_eq!(compared["warnings"], report["warnings"]);
}

#[test]
fn a_bed_is_said_once_and_a_folder_keeps_one_guard() {
    let folder = tempfile::tempdir().unwrap();
    start_small(folder.path(), "seven", "7");
    start_small(folder.path(), "eight", "8");
    let make = |design: &str, more: &[&str]| {
        pauldron(
            folder.path(),
            &[&["make", design, "--out", "out", "--resolution", "2", "--no-strength", "--json"], more].concat(),
        )
    };
    assert_eq!(json(&make("seven.json", &["--bed", "250x210x60"]))["bed"]["bed"], "fits-on-side");
    let low = json(&make("seven.json", &["--bed", "50x50x50"]));
    assert_eq!(low["bed"]["bed"], "too-large");
    let (height, too_high) =
        (low["shell"]["size_mm"][2].as_f64().unwrap(), low["bed"]["too_high_mm"].as_f64().unwrap());
    assert!((height - 50.0 - too_high).abs() < 1e-3, "{height} {too_high}");
    // Remembered, and the same guard may be made again in the same folder.
    assert_eq!(json(&make("seven.json", &[]))["bed"], low["bed"]);
    let before = std::fs::read_dir(folder.path().join("out")).unwrap().count();
    let other = make("eight.json", &[]);
    assert_eq!(other.status.code(), Some(1));
    let said = json(&other)["error"]["message"].as_str().unwrap().to_owned();
    assert!(said.contains("number 7") && said.contains("--overwrite"), "{said}");
    assert_eq!(std::fs::read_dir(folder.path().join("out")).unwrap().count(), before, "nothing was written");
    assert!(make("eight.json", &["--overwrite"]).status.success());
    for file in ["07-forearm-left-shell.stl", "08-forearm-left-shell.stl"] {
        assert!(folder.path().join("out").join(file).exists(), "{file}");
    }
}

/// Numbers and words are changed in how they are made, and added where there is room; nothing else of a design changes.
#[test]
fn marks_of_a_design_are_changed_and_added() {
    let folder = tempfile::tempdir().unwrap();
    start_small(folder.path(), "guard", "7");
    let read = || -> Value {
        serde_json::from_str(&std::fs::read_to_string(folder.path().join("guard.json")).unwrap()).unwrap()
    };
    let before = read();
    assert_eq!(before["shell"]["marks"].as_array().map(Vec::len), Some(1));
    let said = json(&pauldron(folder.path(), &["mark", "guard.json", "--kind", "inlay", "--depth", "0.6", "--json"]));
    let after = read();
    assert_eq!(said, after["shell"]["marks"]);
    let mark = &after["shell"]["marks"][0];
    assert_eq!((mark["text"].as_str(), mark["kind"].as_str()), (Some("7"), Some("inlay")));
    assert!((mark["relief_mm"].as_f64().unwrap() + 0.6).abs() < 1e-6, "{mark}");
    let mut as_it_was = after.clone();
    as_it_was["shell"]["marks"] = before["shell"]["marks"].clone();
    assert_eq!(as_it_was, before);

    pauldron(folder.path(), &["mark", "guard.json", "--text", "TH", "--kind", "sunk"]);
    let added = read();
    let marks = added["shell"]["marks"].as_array().unwrap();
    assert_eq!((marks.len(), &marks[0]), (2, mark), "only the new one is sunk");
    assert_eq!(marks[1]["text"].as_str(), Some("TH"));
    assert!(marks[1]["relief_mm"].as_f64().unwrap() < 0.0);
    let (code, sentence) = refused(folder.path(), &["mark", "guard.json", "--kind", "sunk", "--depth", "9"]);
    assert_ne!(code, Some(0), "{sentence}");
    assert_eq!(read(), added, "a design that cannot be is not written");
}
