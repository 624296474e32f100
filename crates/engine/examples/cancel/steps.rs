//! The long steps of the job, on invented limbs.

use std::path::PathBuf;

use engine::{
    EngineError, Keep, LimbOnAxes, LoadedScan, MakeSettings, MarkedRegion, Marking, StartSettings, read_kept, read_scan,
};
use locker::{Appearance, Art, Artwork, DesignFile, Laid, PatternKind};
use mechanics::Materials;
use mesh::Job;
use nalgebra::Point3;
use print::picture::{Guard, Paper, Sheet, Turntable, View, contact_sheet, picture_at_print_size, png};
use scan::{BodySite, CleanSettings, Crop, Side, Unit};
use shell::{Quality, Shell};
use tempfile::TempDir;
use zone::{Dab, EdgePull, ExtraRegion, RegionKind, Source, Zone, ZoneSettings};

use crate::scans::{RING_MM, files, limb, rough_limb};

pub type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

/// A step that can be run again and again.
pub type Step<'a> = dyn Fn(&Job) -> std::result::Result<(), EngineError> + Sync + 'a;

type Named<'a> = (&'static str, Box<Step<'a>>);

/// How finely the steps work.
#[derive(Debug, Clone, Copy)]
pub struct Fineness {
    /// Rows of triangles along the limb, twice as many round it.
    pub rows: u32,
    /// Longest edge after cleaning.
    pub edge_mm: f32,
    /// Grid of the shell.
    pub voxel_mm: f32,
    /// Height of the picture on paper; its width is 0.7 of that.
    pub paper_mm: f32,
    /// Width of the sheet of views, pixels; its height is 3/4 of that.
    pub sheet: u32,
    /// Frames of a turn.
    pub frames: u16,
}

/// What the steps start from.
pub struct Steps {
    fineness: Fineness,
    folder: TempDir,
    scans: Vec<(&'static str, PathBuf)>,
    loaded: LoadedScan,
    rough: LoadedScan,
    limb: LimbOnAxes,
    zone: Zone,
    all_sources: ZoneSettings,
    design: DesignFile,
    design_inside: DesignFile,
    shell: Shell,
    materials: Materials,
}

impl Steps {
    pub fn new(fineness: Fineness) -> Result<Self> {
        let Fineness { rows, edge_mm, voxel_mm, .. } = fineness;
        let folder = tempfile::tempdir()?;
        let mut scans = Vec::new();
        for (name, ending, bytes) in files(&limb(rows))? {
            let path = folder.path().join(format!("limb-{}.{ending}", scans.len()));
            std::fs::write(&path, bytes)?;
            scans.push((name, path));
        }
        let silent = Job::silent();
        let ply = &scans[0].1;
        let rough_path = folder.path().join("rough.ply");
        let mut bytes = Vec::new();
        mesh::write::ply(&rough_limb(rows), &[], &mut bytes)?;
        std::fs::write(&rough_path, bytes)?;
        let (loaded, rough) = (read_scan(ply, &silent)?, read_scan(&rough_path, &silent)?);
        let mut design = engine::start(ply, folder.path(), &settings(Keep::Beside, edge_mm), &silent)?.design;
        let design_inside = engine::start(ply, folder.path(), &settings(Keep::Inside, edge_mm), &silent)?.design;
        design.resolution_mm = voxel_mm;
        let limb = engine::limb(&loaded, BodySite::Shin, Side::Left, &clean(edge_mm), None, &silent)?;
        let zone = zone::make(&limb.skin, &design.zone, &silent)?;
        let all_sources = all_sources(&limb, &design)?;
        let shell = shell::build(&limb.skin, &zone, &design.shell, &quality(voxel_mm), &silent)?;
        let materials = Materials::built_in();
        Ok(Self {
            fineness,
            folder,
            scans,
            loaded,
            rough,
            limb,
            zone,
            all_sources,
            design,
            design_inside,
            shell,
            materials,
        })
    }

    /// Each step with its name, in the order of the work.
    pub fn all(&self) -> Vec<Named<'_>> {
        let mut steps = self.of_the_scan();
        steps.extend(self.of_the_limb());
        steps.extend(self.of_the_shell());
        steps.extend(self.with_files());
        steps
    }

    /// Reading and cleaning.
    fn of_the_scan(&self) -> Vec<Named<'_>> {
        let mut steps: Vec<Named<'_>> = Vec::new();
        for (name, path) in &self.scans {
            steps.push((name, Box::new(move |job| read_scan(path, job).map(drop))));
        }
        let (file, edge_mm) = (&self.scans[0].1, self.fineness.edge_mm);
        let clean = move || clean(edge_mm);
        let cleaned = |loaded, clean| {
            move |job: &Job| engine::limb(loaded, BodySite::Shin, Side::Left, &clean, None, job).map(drop)
        };
        let fine = CleanSettings { longest_edge_mm: Some(0.4 * edge_mm), ..clean() };
        let tops = Crop::Plane { point: [0.0, 0.0, 330.0], keep: [0.05, 0.1, -1.0] };
        let around = Crop::Box { low: [-150.0; 3], high: [150.0, 150.0, 400.0] };
        let cropped = CleanSettings { crop: vec![tops, around], mirror: true, ..clean() };
        let more: [Named<'_>; 5] = [
            ("inspect", Box::new(move |job| engine::inspect(file, &clean(), job).map(drop))),
            ("clean", Box::new(cleaned(&self.loaded, clean()))),
            ("clean, long edges split", Box::new(cleaned(&self.loaded, fine))),
            ("clean a rough scan", Box::new(cleaned(&self.rough, clean()))),
            ("crop and clean a rough scan", Box::new(cleaned(&self.rough, cropped))),
        ];
        steps.extend(more);
        steps
    }

    /// From the pen line to the layout.
    fn of_the_limb(&self) -> [Named<'_>; 5] {
        let Self { limb, zone, all_sources, design, .. } = self;
        let skin = &limb.skin;
        [
            ("pen line", Box::new(|job| engine::pen_line(limb, job).map(drop))),
            ("zone", Box::new(|job| Ok(zone::make(skin, &design.zone, job).map(drop)?))),
            ("zone of all sources", Box::new(|job| Ok(zone::make(skin, all_sources, job).map(drop)?))),
            ("first look at a zone", Box::new(|job| Ok(zone::sketch(skin, all_sources, job).map(drop)?))),
            ("layout", Box::new(|job| Ok(shell::arrange(skin, zone, &design.shell, job).map(drop)?))),
        ]
    }

    /// The shell, its checks and pictures, and its print files.
    fn of_the_shell(&self) -> Vec<Named<'_>> {
        let Self { limb, zone, design, shell, fineness, .. } = self;
        let Fineness { voxel_mm, paper_mm, sheet, frames, .. } = *fineness;
        let sheet = Sheet { size: [sheet, sheet * 3 / 4], ..Sheet::default() };
        let turn = Turntable { frames, ..Turntable::default() };
        let (skin, mesh) = (&limb.skin, &shell.mesh);
        vec![
            (
                "shell",
                Box::new(move |job| Ok(shell::build(skin, zone, &design.shell, &quality(voxel_mm), job).map(drop)?)),
            ),
            (
                "simplify the limb",
                Box::new(move |job| {
                    let locked = vec![false; skin.mesh().points.len()];
                    Ok(mesh::simplify::simplify(skin.mesh(), 0.05, &locked, job).map(drop)?)
                }),
            ),
            ("prove the shell", Box::new(move |job| Ok(mesh::solid::check(mesh, job).map(drop)?))),
            ("prove the limb", Box::new(move |job| Ok(mesh::solid::check(skin.mesh(), job).map(drop)?))),
            ("clearance", Box::new(move |job| engine::clearance(skin, mesh, job).map(drop))),
            (
                "contact sheet",
                Box::new(move |job| {
                    let picture = contact_sheet(skin.mesh(), mesh, &sheet, job)?;
                    Ok(png(picture, job).map(drop)?)
                }),
            ),
            (
                "picture at print size, with a pattern",
                Box::new(move |job| {
                    let look = look();
                    let cover = engine::artwork::cover(mesh, skin, &look, &design.shell.marks, job)?;
                    let guard = Guard { cover: cover.as_ref(), ..Guard::from(mesh) };
                    let style = engine::artwork::render_style(&look);
                    let paper = Paper { size_mm: [0.7 * paper_mm, paper_mm], dpi: 300 };
                    Ok(picture_at_print_size(skin.mesh(), guard, View::FRONT, &style, &paper, job).map(drop)?)
                }),
            ),
            ("turn", Box::new(move |job| engine::turntable(skin.mesh(), mesh, &turn, job).map(drop))),
            ("STL", Box::new(move |job| Ok(print::stl::write(mesh, &mut Vec::new(), job)?))),
            (
                "3MF",
                Box::new(move |job| {
                    let about = print::threemf::Metadata::default();
                    Ok(print::threemf::write(mesh, &about, &mut Vec::new(), job)?)
                }),
            ),
        ]
    }

    /// The whole commands, and designs with their scans.
    fn with_files(&self) -> Vec<Named<'_>> {
        let (folder, materials) = (self.folder.path(), &self.materials);
        let Self { design, design_inside, loaded, .. } = self;
        let (file, edge_mm) = (&self.scans[0].1, self.fineness.edge_mm);
        let started = move || settings(Keep::Beside, edge_mm);
        vec![
            ("start", Box::new(move |job| engine::start(file, folder, &started(), job).map(drop))),
            (
                "keep the scan inside, save the design",
                Box::new(move |job| {
                    let scan = locker::keep_inside(&loaded.bytes, job)?;
                    let design = DesignFile { scan, ..design.clone() };
                    Ok(locker::save_design(&design, &folder.join("inside.json"))?)
                }),
            ),
            (
                "keep the scan beside",
                Box::new(move |job| {
                    let kept = tempfile::tempdir_in(folder).map_err(|source| in_folder(folder, source))?;
                    Ok(locker::keep_beside(&loaded.bytes, kept.path(), job).map(drop)?)
                }),
            ),
            ("read a scan inside a design", Box::new(move |job| read_kept(&design_inside.scan, folder, job).map(drop))),
            ("check", Box::new(move |job| engine::check(file, job).map(drop))),
            (
                "make, with all files",
                Box::new(move |job| {
                    let out = folder.join("out");
                    let done = engine::make(design, folder, &out, &MakeSettings::default(), materials, job);
                    let left = std::fs::read_dir(&out).map_or(0, Iterator::count);
                    if done.is_err() && left > 0 {
                        return Err(in_folder(&out, std::io::Error::other(format!("{left} files were left"))));
                    }
                    let _ = std::fs::remove_dir_all(&out);
                    done.map(drop)
                }),
            ),
            ("compare", Box::new(move |job| engine::compare(design, folder, materials, job).map(drop))),
            (
                "strength, with ranges",
                Box::new(move |job| engine::strength(design, folder, &design.strength, true, materials, job).map(drop)),
            ),
        ]
    }
}

fn in_folder(folder: &std::path::Path, source: std::io::Error) -> EngineError {
    EngineError::File { path: folder.to_owned(), source }
}

/// A zone of strokes, an outline and a pen line with a relief and a place to keep clear, grown and smoothed.
fn all_sources(limb: &LimbOnAxes, design: &DesignFile) -> Result<ZoneSettings> {
    let on_skin = |p: [f64; 3]| {
        let p = limb.placement.limb_from_scan(&Point3::from(p)).cast();
        limb.skin.nearest(&p, None).map(|hit| hit.point).ok_or("no skin")
    };
    let ring = |count: u32| -> std::result::Result<Vec<Point3<f32>>, &str> {
        let turn = |i: u32| (std::f64::consts::TAU * f64::from(i) / f64::from(count)).sin_cos();
        let radius = f64::from(RING_MM);
        (0..count).map(turn).map(|(s, c)| on_skin([50.0, radius * c, 175.0 + radius * s])).collect()
    };
    let inside_mm = Some(on_skin([50.0, 0.0, 175.0])?);
    let pen = Source::Line { points_mm: ring(240)?, inside_mm };
    let outline = Source::Outline { corners_mm: ring(24)?, inside_mm };
    let at_mm: Point3<f32> = inside_mm.ok_or("nothing inside the pen line")?;
    let dab = |radius_mm| vec![Source::Strokes { dabs: vec![Dab { at_mm, radius_mm, remove: false }] }];
    let relief = RegionKind::Relief { depth_mm: 2.0, falloff_mm: 8.0 };
    let clear = RegionKind::KeepClear { margin_mm: 2.0 };
    Ok(ZoneSettings {
        sources: [vec![pen, outline], design.zone.sources.clone()].concat(),
        grow_mm: 3.0,
        smooth_mm: 4.0,
        tolerance_mm: 1.5,
        // On the outline, and out of it.
        pulls: vec![EdgePull { at_mm: on_skin([50.0, 0.0, 175.0 + f64::from(RING_MM)])?, by_mm: 8.0 }],
        regions: vec![ExtraRegion { kind: relief, sources: dab(12.0) }, ExtraRegion { kind: clear, sources: dab(5.0) }],
    })
}

fn look() -> Appearance {
    let art = Art::Pattern { kind: PatternKind::Waves, colour: [40, 60, 120] };
    let artwork = Artwork { art, laid: Laid::Round, front_deg: 0.0, width_mm: 20.0, shift_mm: [0.0; 2] };
    Appearance { artwork: Some(artwork), ..Appearance::default() }
}

fn quality(voxel_mm: f32) -> Quality {
    Quality { voxel_mm, ..Quality::default() }
}

fn clean(edge_mm: f32) -> CleanSettings {
    CleanSettings { unit: Some(Unit::Mm), longest_edge_mm: Some(edge_mm), ..CleanSettings::default() }
}

fn settings(keep: Keep, edge_mm: f32) -> StartSettings {
    StartSettings {
        site: BodySite::Shin,
        side: Side::Left,
        squad_number: Some(16),
        title: String::new(),
        clean: clean(edge_mm),
        marking: Marking::Given(MarkedRegion::Strokes(vec![([50.0, 0.0, 175.0], 2.0 * RING_MM, false)])),
        grow_mm: 0.0,
        keep,
        ..StartSettings::default()
    }
}
