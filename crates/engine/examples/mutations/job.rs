//! The whole job on one spoilt input.

use std::path::Path;

use engine::{EngineError, LimbOnAxes, MakeSettings, Marking, StartSettings};
use mechanics::Materials;
use mesh::{Job, Mesh};
use scan::{BodySite, CleanSettings, Crop, Side, Unit};
use shell::{Quality, Shell};
use zone::{Dab, Source, Zone, ZoneSettings};

use crate::case::{Case, Kind};
use crate::chance::Chance;
use crate::samples::Samples;

/// The share of cases that go through the whole commands, files included.
const WITH_FILES: f32 = 0.06;

/// How a case ended that broke no promise.
pub enum End {
    /// All the way to a shell.
    Built,
    /// Refused with this sentence.
    Refused(String),
}

/// Why the job stopped.
enum Stop {
    Refused(EngineError),
    /// A promise is broken.
    Broken(String),
}

impl<E: Into<EngineError>> From<E> for Stop {
    fn from(error: E) -> Self {
        Self::Refused(error.into())
    }
}

/// Takes the case through the job in `folder`; the error is a broken promise.
pub fn run(case: &Case, samples: &Samples, folder: &Path, chance: &mut Chance, job: &Job) -> Result<End, String> {
    for (name, bytes) in &case.files {
        std::fs::write(folder.join(name), bytes).map_err(|e| e.to_string())?;
    }
    let path = folder.join(&case.files[0].0);
    let done = match case.kind {
        Kind::Design => design(&path, samples, folder, chance, job),
        Kind::Strokes => engine::read_strokes(&path).map_err(Stop::from).and_then(|marked| marks(marked, samples, job)),
        Kind::Outline => engine::read_outline(&path).map_err(Stop::from).and_then(|marked| marks(marked, samples, job)),
        Kind::Materials => materials(&path),
        _ => scan(&path, folder, chance, job),
    };
    match done {
        Ok(()) => Ok(End::Built),
        Err(Stop::Refused(error)) => Ok(End::Refused(error.to_string())),
        Err(Stop::Broken(what)) => Err(what),
    }
}

fn scan(path: &Path, folder: &Path, chance: &mut Chance, job: &Job) -> Result<(), Stop> {
    let clean = clean_settings(chance);
    let site = *chance.of(&[BodySite::Forearm, BodySite::Ankle, BodySite::Other, BodySite::Shin]);
    if chance.happens(WITH_FILES) {
        return commands(path, folder, site, clean, chance, job);
    }
    let loaded = engine::read_scan(path, job)?;
    let limb = engine::limb(&loaded, site, Side::Left, &clean, None, job)?;
    sound(limb.skin.mesh())?;
    let line = engine::pen_source(engine::pen_line(&limb, job)?, true, &limb.placement);
    let source = line.map_or_else(|_| painted(&limb, chance), |(source, _)| source);
    let zone_settings = ZoneSettings { sources: vec![source], ..ZoneSettings::default() };
    let zone = zone::make(&limb.skin, &zone_settings, job)?;
    let mut design = engine::shell_for(site);
    engine::add_fittings(&mut design, &limb.skin, &zone, site, Some(16), job)?;
    if chance.happens(0.7) {
        // Small zones have no room for these.
        (design.ribs, design.vents, design.fittings) = (None, None, Vec::new());
    }
    build(&limb, &zone, &design, chance, job)
}

/// The commands that only read a scan, or those from a scan to print files.
fn commands(
    path: &Path,
    folder: &Path,
    site: BodySite,
    clean: CleanSettings,
    chance: &mut Chance,
    job: &Job,
) -> Result<(), Stop> {
    if chance.happens(0.5) {
        engine::check(path, job)?;
        engine::inspect(path, &clean, job)?;
        return Ok(());
    }
    let marking = Marking::Given(engine::MarkedRegion::Strokes(vec![([15.0, 0.0, 36.0], 15.0, false)]));
    let settings = StartSettings {
        site,
        side: Side::Right,
        squad_number: Some(16),
        title: String::new(),
        clean,
        marking,
        grow_mm: 0.0,
        keep: engine::Keep::Beside,
        ..StartSettings::default()
    };
    let started = engine::start(path, folder, &settings, job)?;
    make(&started.design, folder, folder, job)
}

fn clean_settings(chance: &mut Chance) -> CleanSettings {
    let mut settings = CleanSettings { longest_edge_mm: Some(3.0), ..CleanSettings::default() };
    if chance.happens(0.5) {
        settings.unit = Some(*chance.of(&[Unit::Mm, Unit::Mm, Unit::Mm, Unit::Cm, Unit::M, Unit::Inch]));
    }
    match chance.below(10) {
        0 => settings.longest_edge_mm = CleanSettings::default().longest_edge_mm,
        1 => settings.longest_edge_mm = None,
        2 => settings.mend = false,
        3 => settings.drop_small_pieces = false,
        4 => settings.mirror = true,
        5 => settings.weld_tolerance_mm = None,
        6 => settings.fill_holes_mm = 1000.0,
        7 => settings.crop.push(Crop::Box { low: [-40.0, -40.0, 5.0], high: [40.0, 40.0, 70.0] }),
        _ => {}
    }
    if !matches!(settings.unit, None | Some(Unit::Mm)) {
        // In a larger unit the thumb is as large as a trunk: valid, but a fine mesh of it takes too long.
        settings.longest_edge_mm = Some(20.0);
    }
    settings
}

/// A dab somewhere on the limb.
fn painted(limb: &LimbOnAxes, chance: &mut Chance) -> Source {
    let points = &limb.skin.mesh().points;
    let at_mm = if points.is_empty() { Default::default() } else { points[chance.below(points.len())] };
    Source::Strokes { dabs: vec![Dab { at_mm, radius_mm: chance.between(8.0, 22.0), remove: false }] }
}

fn design(path: &Path, samples: &Samples, folder: &Path, chance: &mut Chance, job: &Job) -> Result<(), Stop> {
    let design = locker::load_design(path)?;
    let beside = samples.folder.path();
    if chance.happens(WITH_FILES) {
        return make(&design, beside, folder, job);
    }
    let opened = engine::open(&design, beside, job)?;
    sound(opened.skin.mesh())?;
    let voxel_mm = design.resolution_mm.max(1.5);
    let shell =
        shell::build(&opened.skin, &opened.zone, &design.shell, &Quality { voxel_mm, tolerance_mm: 0.02 }, job)?;
    sound(&shell.mesh)?;
    if let Some(look) = &design.look {
        engine::artwork::cover(&shell.mesh, &opened.skin, look, &design.shell.marks, job)?;
    }
    // A design survives being written and read.
    let text = locker::write_design(&design)?;
    if locker::parse_design(&text, "again")? != design {
        return Err(Stop::Broken("the design is another one after it was written and read".into()));
    }
    Ok(())
}

fn marks(marked: engine::MarkedRegion, samples: &Samples, job: &Job) -> Result<(), Stop> {
    let source = marked.source(&samples.limb.placement);
    let settings = ZoneSettings { sources: vec![source], ..ZoneSettings::default() };
    settings.check()?;
    let zone = zone::make(&samples.limb.skin, &settings, job)?;
    shell::build(&samples.limb.skin, &zone, &shell::Design::default(), &Quality::FIRST_LOOK, job)?;
    Ok(())
}

fn materials(path: &Path) -> Result<(), Stop> {
    let materials = Materials::load(Some(path))?;
    let table = mechanics::compare(20_000.0, 8_000.0, &materials);
    let text = serde_json::to_string(&table).map_err(EngineError::from)?;
    if text.contains("null") && !text.contains("\"null") {
        return Err(Stop::Broken("a figure of the comparison is no number".into()));
    }
    Ok(())
}

fn build(limb: &LimbOnAxes, zone: &Zone, design: &shell::Design, chance: &mut Chance, job: &Job) -> Result<(), Stop> {
    let quality = Quality { voxel_mm: chance.between(1.5, 3.0), tolerance_mm: 0.02 };
    let shell: Shell = shell::build(&limb.skin, zone, design, &quality, job)?;
    sound(&shell.mesh)?;
    if !shell.proof.as_ref().is_some_and(mesh::solid::SolidReport::is_solid) {
        return Err(Stop::Broken("the shell is no solid".into()));
    }
    engine::clearance(&limb.skin, &shell.mesh, job)?;
    let height_mm = shell.mesh.points.first().map_or(0.0, |p| p.z);
    engine::cuts(&limb.skin, &shell.mesh, height_mm)?;
    Ok(())
}

/// Makes all files; where that is refused, none may be left.
fn make(design: &locker::DesignFile, beside: &Path, folder: &Path, job: &Job) -> Result<(), Stop> {
    let out = folder.join("out");
    let settings = MakeSettings { resolution_mm: Some(2.0), without_strength: true, ..MakeSettings::default() };
    let made = engine::make(design, beside, &out, &settings, &Materials::built_in(), job);
    let left: Vec<String> = std::fs::read_dir(&out)
        .map(|entries| entries.filter_map(|e| Some(e.ok()?.file_name().to_string_lossy().into_owned())).collect())
        .unwrap_or_default();
    match made {
        Ok(report) => {
            let missing: Vec<&str> =
                report.files.iter().map(|file| file.name.as_str()).filter(|name| !out.join(name).is_file()).collect();
            if missing.is_empty() { Ok(()) } else { Err(Stop::Broken(format!("{missing:?} were not written"))) }
        }
        Err(error) if left.is_empty() => Err(error.into()),
        Err(error) => Err(Stop::Broken(format!("refused ({error}), but left {left:?}"))),
    }
}

/// Checks that corners exist and coordinates are finite.
fn sound(mesh: &Mesh) -> Result<(), Stop> {
    let points = mesh.points.len();
    if mesh.triangles.iter().flatten().any(|v| *v as usize >= points) {
        return Err(Stop::Broken("a triangle names a point that is not there".into()));
    }
    if mesh.points.iter().any(|p| !p.coords.iter().all(|x| x.is_finite())) {
        return Err(Stop::Broken("a coordinate is no number".into()));
    }
    Ok(())
}
