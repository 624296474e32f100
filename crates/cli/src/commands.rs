//! One function a command: arguments in, engine called, findings printed.

use std::io::Write as _;
use std::path::Path;

use engine::{EngineError, Keep, MakeSettings, Marking, StartSettings, Targets};
use locker::{DesignFile, Lies, StrengthSettings};
use mechanics::Materials;
use mesh::Job;
use scan::CleanSettings;
use serde::Serialize;
use shell::MarkKind;

use crate::args::{Args, Cleaning, Command, LiesArg, LightestArgs, MarkWay, StartArgs, StrengthArgs};
use crate::{bed, demo, say};

/// How high or deep numbers and words are made at first, mm.
const USUAL_DEPTH_MM: f32 = 0.8;

/// Runs a command; gives the exit code.
pub fn run(args: &Args, job: &Job) -> Result<u8, EngineError> {
    match &args.command {
        Command::Demo { out, resolution, output } => demo::run(out, *resolution, output, args, job),
        Command::Inspect { scan, cleaning } => {
            let report = engine::inspect(scan, &clean_settings(cleaning), job)?;
            show(args.json, &report, || say::inspected(&report))
        }
        Command::Start(start) => run_start(args, start, job),
        Command::Make { design, out, resolution, materials, team, date, output } => {
            let settings = MakeSettings {
                resolution_mm: *resolution,
                team: team.clone(),
                made_on: date.clone(),
                bed_mm: bed::known(output.bed, args.home.as_deref())?,
                overwrite: output.overwrite,
                without_strength: output.no_strength,
            };
            let materials = Materials::load(materials.as_deref())?;
            let file = locker::load_design(design)?;
            let report = engine::make(&file, folder_of(design), out, &settings, &materials, job)?;
            show(args.json, &report, || say::made(&report, out))
        }
        Command::Mark { design, text, kind, depth } => {
            let mut file = locker::load_design(design)?;
            let depth_mm = depth.unwrap_or(USUAL_DEPTH_MM);
            if let Some(text) = text {
                engine::add_mark(&mut file, folder_of(design), text, job)?;
            }
            let last = file.shell.marks.len().saturating_sub(1);
            for mark in file.shell.marks.iter_mut().skip(if text.is_some() { last } else { 0 }) {
                (mark.kind, mark.relief_mm) = match kind {
                    MarkWay::Raised => (MarkKind::Relief, depth_mm),
                    MarkWay::Sunk => (MarkKind::Relief, -depth_mm),
                    MarkWay::CutThrough => (MarkKind::CutThrough, mark.relief_mm),
                    MarkWay::Inlay => (MarkKind::Inlay, -depth_mm),
                };
            }
            locker::save_design(&file, design)?;
            show(args.json, &file.shell.marks, || say::marked(&file.shell.marks, design))
        }
        Command::Picture { design, file, width, relief } => {
            let mut changed = locker::load_design(design)?;
            let mut picture = engine::read_picture(file, job)?;
            picture.relief_mm = *relief;
            engine::add_picture_to(&mut changed, folder_of(design), &picture, *width, job)?;
            locker::save_design(&changed, design)?;
            let places: Vec<_> = changed.shell.pictures.iter().map(|p| (&p.name, p.width_mm, p.at_mm)).collect();
            show(args.json, &places, || say::pictured(&changed.shell.pictures, design))
        }
        Command::Looks { design, take, materials } => {
            let materials = Materials::load(materials.as_deref())?;
            let file = locker::load_design(design)?;
            let (list, taken) = engine::looks(&file, folder_of(design), *take, &materials, job)?;
            if let Some(taken) = taken {
                locker::save_design(&taken, design)?;
            }
            show(args.json, &list, || say::looks(&list, take.map(|look| look.name), design))
        }
        Command::Compare { design, materials } => {
            let materials = Materials::load(materials.as_deref())?;
            let file = locker::load_design(design)?;
            let report = engine::compare(&file, folder_of(design), &materials, job)?;
            show(args.json, &report, || say::compared(&report))
        }
        Command::Strength(given) => run_strength(args, given, job),
        Command::Lightest(given) => run_lightest(args, given, job),
        Command::Check { file } => {
            let report = engine::check(file, job)?;
            show(args.json, &report, || say::checked(&report))?;
            Ok(if report.printable { 0 } else { 3 })
        }
    }
}

fn run_strength(args: &Args, given: &StrengthArgs, job: &Job) -> Result<u8, EngineError> {
    let materials = Materials::load(given.materials.as_deref())?;
    let file = locker::load_design(&given.design)?;
    let folder = folder_of(&given.design);
    let report = engine::strength(&file, folder, &asked(given, &file), !given.quick, &materials, job)?;
    show(args.json, &report, || say::struck(&report))
}

fn run_lightest(args: &Args, given: &LightestArgs, job: &Job) -> Result<u8, EngineError> {
    let materials = Materials::load(given.asked.materials.as_deref())?;
    let path = &given.asked.design;
    let mut file = locker::load_design(path)?;
    let targets = Targets {
        peak_kpa: given.peak,
        dent_mm: given.dent,
        push_mm: given.push,
        spare: given.spare,
        bending_n_m_per_deg: given.bending,
        seconds: given.within,
    };
    let asked = asked(&given.asked, &file);
    let found = engine::lightest(&file, folder_of(path), &asked, &targets, &materials, &|_| (), job)?;
    let taken = found.best.as_ref().filter(|best| given.take && best.worst <= 1.0);
    if let Some(best) = taken {
        file.shell = best.design.clone();
        locker::save_design(&file, path)?;
    }
    show(args.json, &found, || say::lightest(&found, taken.map(|_| path.as_path())))?;
    Ok(if found.best.is_some_and(|best| best.worst <= 1.0) { 0 } else { 3 })
}

/// What `strength` and `lightest` are asked alike: what is given, and else what the design says.
fn asked(given: &StrengthArgs, design: &DesignFile) -> StrengthSettings {
    let own = design.strength.clone();
    StrengthSettings {
        blow: given.blow.clone().or(own.blow),
        foam: given.foam.clone().or(own.foam),
        liner_mm: given.liner.or(own.liner_mm),
        under: given.under.clone().or(own.under),
        at_mm: given.at.map(|place| place.0.into()).or(own.at_mm),
        lies: given.lies.map_or(own.lies, |lies| match lies {
            LiesArg::Upright => Lies::Upright,
            LiesArg::Lying => Lies::Lying,
        }),
    }
}

fn run_start(args: &Args, start: &StartArgs, job: &Job) -> Result<u8, EngineError> {
    if start.out.exists() && !start.force {
        return Err(EngineError::FileThere { path: start.out.clone() });
    }
    let marking = match (&start.strokes, &start.outline) {
        (Some(file), _) => Marking::Given(engine::read_strokes(file)?),
        (None, Some(file)) => Marking::Given(engine::read_outline(file)?),
        (None, None) => Marking::Pen { accept_proposal: start.accept_proposal },
    };
    let settings = StartSettings {
        site: start.site,
        side: start.side.into(),
        squad_number: start.number,
        title: start.title.clone(),
        clean: clean_settings(&start.cleaning),
        marking,
        creases: start.crease.iter().map(|file| engine::read_crease(file)).collect::<Result<_, _>>()?,
        relieve_bony_points: start.relieve_bony_points,
        rings: start.rings,
        grow_mm: start.grow,
        keep: if start.inside { Keep::Inside } else { Keep::Beside },
    };
    let started = engine::start(&start.scan, folder_of(&start.out), &settings, job)?;
    locker::save_design(&started.design, &start.out)?;
    show(args.json, &started, || say::started(&started, &start.out))
}

fn clean_settings(cleaning: &Cleaning) -> CleanSettings {
    CleanSettings { unit: cleaning.unit.map(Into::into), mirror: cleaning.mirror, ..CleanSettings::default() }
}

/// The folder in which a file lies.
pub fn folder_of(path: &Path) -> &Path {
    path.parent().unwrap_or(Path::new(""))
}

/// Prints the findings as JSON or in words.
pub fn show(json: bool, report: &impl Serialize, words: impl FnOnce() -> String) -> Result<u8, EngineError> {
    let text = if json { serde_json::to_string_pretty(report)? } else { words() };
    print(&text);
    Ok(0)
}

/// Prints to stdout; a reader that went away, such as `head`, is no error.
pub fn print(text: &str) {
    let mut out = std::io::stdout().lock();
    let _ = writeln!(out, "{}", text.trim_end());
}
