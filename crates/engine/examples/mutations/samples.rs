//! The sound files that are spoilt: a thumb in each format, and designs on it.

use std::path::Path;

use engine::{Keep, LimbOnAxes, LoadedScan, MarkedRegion, Marking, StartSettings};
use mesh::Job;
use scan::{BodySite, CleanSettings, Side, Unit};
use serde_json::{Value, json};
use tempfile::TempDir;

use crate::files::{self, Files, Order};
use crate::polygons::Polygons;

/// Rows of squares on a thumb without colours, and on one whose points carry them.
const COARSE: usize = 20;
const FINE: usize = 52;

/// Middle of the front, and the radius of a dab that covers most of it, mm.
const FRONT: [f64; 3] = [15.0, 0.0, 36.0];
const DAB_MM: f32 = 15.0;

pub type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

/// What is spoilt, and the limb on which spoilt marks are tried.
pub struct Samples {
    pub coarse: Polygons,
    pub fine: Polygons,
    /// A file of each kind, from which parts are taken.
    pub any: Vec<Vec<u8>>,
    /// Holds the scans that designs name.
    pub folder: TempDir,
    pub designs: Vec<Value>,
    pub strokes: Value,
    pub outline: Value,
    pub materials: Value,
    pub limb: LimbOnAxes,
}

impl Samples {
    pub fn new() -> Result<Self> {
        let (coarse, fine) = (Polygons::thumb(COARSE), Polygons::thumb(FINE));
        let folder = tempfile::tempdir()?;
        let kinds = [
            files::stl_binary(&coarse),
            files::stl_text(&coarse),
            files::obj(&coarse),
            files::ply(&fine, Order::Text),
            files::ply(&fine, Order::Little),
        ];
        let strokes = MarkedRegion::Strokes(vec![(FRONT, DAB_MM, false)]);
        let marked = [strokes.clone(), strokes.clone(), strokes].map(Marking::Given);
        let pen = Marking::Pen { accept_proposal: true };
        let markings = marked.into_iter().chain([pen.clone(), pen]);
        let mut designs = Vec::new();
        for (n, (kind, marking)) in kinds.iter().zip(markings).enumerate() {
            designs.push(design(kind, marking, folder.path(), n)?);
        }
        let any = kinds.iter().map(|kind| kind[0].1.clone()).chain([serde_json::to_vec(&designs[0])?]).collect();
        let (_, loaded) = load(&kinds[0], folder.path())?;
        let clean = settings();
        let limb = engine::limb(&loaded, BodySite::Other, Side::Left, &clean, None, &Job::silent())?;
        let [x, y, z] = FRONT;
        Ok(Self {
            coarse,
            fine,
            any,
            designs,
            limb,
            strokes: json!({ "strokes": [
                { "at": FRONT, "radius_mm": DAB_MM },
                { "at": [x, y, z + 15.0], "radius_mm": 8.0, "remove": true },
                { "at": [x, y, z - 10.0], "radius_mm": 12.0 },
            ] }),
            outline: json!({ "outline": [
                [x, y - 12.0, z - 14.0], [x, y + 12.0, z - 14.0], [x, y + 12.0, z + 14.0], [x, y - 12.0, z + 14.0],
            ], "inside": FRONT }),
            materials: serde_json::from_str(include_str!("../../../../assets/materials.json"))?,
            folder,
        })
    }
}

/// A coarse mesh keeps a case short.
fn settings() -> CleanSettings {
    CleanSettings { unit: Some(Unit::Mm), longest_edge_mm: Some(3.0), ..CleanSettings::default() }
}

/// Writes the files and reads the scan.
fn load(files: &Files, folder: &Path) -> Result<(std::path::PathBuf, LoadedScan)> {
    for (name, bytes) in files {
        std::fs::write(folder.join(name), bytes)?;
    }
    let path = folder.join(&files[0].0);
    let loaded = engine::read_scan(&path, &Job::silent())?;
    Ok((path, loaded))
}

/// Design `n` on the scan; all designs together hold everything that a design can.
fn design(files: &Files, marking: Marking, folder: &Path, n: usize) -> Result<Value> {
    let (path, _) = load(files, folder)?;
    let settings = StartSettings {
        site: BodySite::Forearm,
        side: Side::Left,
        squad_number: Some(7),
        title: String::new(),
        clean: settings(),
        marking,
        grow_mm: 0.0,
        keep: if n == 1 { Keep::Inside } else { Keep::Beside },
        ..StartSettings::default()
    };
    let started = engine::start(&path, folder, &settings, &Job::silent())?;
    let mut design: Value = serde_json::from_str(&locker::write_design(&started.design)?)?;
    let at = started.placement.limb_from_scan(&FRONT.into());
    let at = [at.x, at.y, at.z];
    design["resolution_mm"] = json!(2.0);
    design["clean"]["crop"] = json!([{ "plane": { "point": [0, 0, 1], "keep": [0, 0, 1] } }]);
    let dab = json!([{ "strokes": { "dabs": [{ "at_mm": at, "radius_mm": 4.0 }] } }]);
    let at_the_edge = json!([{ "strokes": { "dabs": [{ "at_mm": [at[0], at[1], at[2] + 14.0], "radius_mm": 3.0 }] } }]);
    let regions = [
        json!({ "kind": { "relief": { "depth_mm": 1.0, "falloff_mm": 4.0 } }, "sources": dab }),
        json!({ "kind": { "reinforcement": { "extra_mm": 1.0, "falloff_mm": 4.0 } }, "sources": dab }),
        json!({ "kind": { "keep-clear": { "margin_mm": 1.0 } }, "sources": at_the_edge }),
    ];
    design["zone"]["regions"] = json!(regions[..n.min(3)]);
    // One or two things a design: a thumb has no room for more.
    let kinds = ["round", "slot", "honeycomb", "cells"];
    let layouts = ["along", "around", "crossed", "branching"];
    let fittings = [
        json!({ "strap-slot": { "strap_mm": 8.0, "opening_mm": 3.0 } }),
        json!({ "lace-holes": { "count": 2, "hole_mm": 3.0, "pitch_mm": 6.0 } }),
        json!({ "tie-slot": { "tie_mm": 3.0, "bridge_mm": 3.0 } }),
        json!({ "stitch-holes": { "hole_mm": 1.2, "pitch_mm": 5.0, "inset_mm": 4.0 } }),
        json!({ "hook-and-loop-seat": { "length_mm": 9.0, "width_mm": 8.0, "depth_mm": 0.5 } }),
    ];
    let vents = json!({ "kind": kinds[n % 4], "size_mm": 2.5, "ligament_mm": 1.8, "rim_distance_mm": 3.0, "seed": 1 });
    let ribs = json!({ "layout": layouts[n % 4], "height_mm": 1.0, "width_mm": 1.5, "spacing_mm": 14.0 });
    let fitting = json!({ "kind": fittings[n], "at_mm": at, "turn_deg": 10.0 });
    let mark = json!({ "text": "7", "height_mm": 6.0, "relief_mm": 0.6, "at_mm": at, "turn_deg": 0.0 });
    let rim = json!({ "round_mm": 0.8, "flare_mm": 1.0, "flare_width_mm": 4.0 });
    design["shell"] = match n {
        0 => json!({ "thickness_mm": 2.0, "rim": rim, "vents": vents }),
        1 => json!({ "thickness_mm": 2.0, "rim": rim, "ribs": ribs }),
        2 => json!({ "thickness_mm": 2.0, "rim": rim, "marks": [mark] }),
        _ => json!({ "thickness_mm": 2.0, "rim": rim, "fittings": [fitting] }),
    };
    let picture = files::obj(&Polygons::thumb(4)).pop().map(|(_, png)| locker::keep_picture(&png));
    let art = if n == 0 {
        json!({ "picture": picture })
    } else {
        json!({ "pattern": { "kind": "dots", "colour": [9, 9, 9] } })
    };
    let artwork = json!({ "art": art, "laid": "round", "front_deg": 0.0, "width_mm": 30.0, "shift_mm": [0.0, 0.0] });
    design["look"] = json!({ "colour": [240, 226, 196], "finish": "satin", "artwork": artwork });
    buildable(&design, folder).map_err(|why| format!("sample {n}: {why}"))?;
    Ok(design)
}

/// Spoilt copies of a sample that cannot be built would all be refused.
fn buildable(design: &Value, folder: &Path) -> Result<()> {
    let design = locker::parse_design(&design.to_string(), "sample")?;
    let opened = engine::open(&design, folder, &Job::silent())?;
    shell::build(&opened.skin, &opened.zone, &design.shell, &shell::Quality::FIRST_LOOK, &Job::silent())?;
    Ok(())
}
