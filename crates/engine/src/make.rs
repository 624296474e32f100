//! From a design to everything that leaves the program.

use std::path::Path;
use std::sync::Arc;

use locker::{DesignFile, write_design};
use mechanics::mid_surface::Fineness;
use mechanics::{MaterialRow, MaterialTable, Materials};
use mesh::write::Stoppable;
use mesh::{Job, Mesh};
use print::picture::{RenderStyle, Sheet, contact_sheet, png};
use print::summary::Summary;
use print::threemf::{Metadata, SecondColour};
use scan::Placement;
use shell::{Quality, Shell};

use crate::artwork::shown;
use crate::edges::line_in_scan;
use crate::guard_files::GuardFolder;
use crate::report::{MakeReport, ShellReport, SolidFaults, Soundness, ZoneReport};
use crate::straps::in_short;
use crate::strength::blow_told;
use crate::{
    BedCheck, Chosen, EngineError, Fault, FileUse, GuardWall, OpenDesign, Strap, StrengthReport, Warning, bed_check,
    open, straps, strength_of, warnings, zone_colours,
};

/// Width and height of the picture on the summary page.
const PAGE_PICTURE: [u32; 2] = [1840, 820];
/// Size of its captions: 8 points where the picture is as wide as the page.
const PAGE_CAPTIONS: f32 = 1.7;

/// What the user may set for one run.
#[derive(Debug, Clone, Default)]
pub struct MakeSettings {
    /// Grid cell in place of the design's, mm.
    pub resolution_mm: Option<f32>,
    /// Name of the club, for the summary page.
    pub team: Option<String>,
    /// The day, for the summary page; without it the same design gives the same bytes on any day.
    pub made_on: Option<String>,
    /// Width, depth and height of the room in the printer, mm; without it the report says that it was not checked.
    pub bed_mm: Option<[f32; 3]>,
    /// Write into a folder that has the files of another guard.
    pub overwrite: bool,
    /// Leave out what a blow does to it, which takes some seconds.
    pub without_strength: bool,
}

/// A design that is being made.
struct Making<'a> {
    design: &'a DesignFile,
    folder: &'a Path,
    settings: &'a MakeSettings,
    opened: OpenDesign,
    warnings: Vec<Warning>,
}

/// The shell as it goes into the print files, and what follows from it.
struct Part {
    shell: Shell,
    /// The shell at the origin.
    mesh: Mesh,
    /// Its inlay, moved with it.
    inlay: Option<Mesh>,
    solid: SolidFaults,
    size_mm: [f64; 3],
    area_mm2: f64,
    table: MaterialTable,
    /// What a blow does to it, or why that cannot be told; nothing where it is not asked.
    strength: Option<Result<StrengthReport, String>>,
    straps: Vec<Strap>,
    bed: BedCheck,
}

impl Part {
    /// The filament that the design is to be printed in.
    fn filament(&self, design: &DesignFile) -> Option<&MaterialRow> {
        self.table.row(design.material, design.filament.as_deref())
    }
}

/// Makes the guard of a design that lies in `folder` and writes its files into `out`, which may hold an earlier copy of
/// the same guard. All files are complete under temporary names before the first is renamed, so only a failing disk can
/// leave some files new and others old, each of them whole.
///
/// # Errors
/// The folder holds another guard, the scan is missing or bad, the zone or shell cannot be made, or a file cannot be
/// written.
pub fn make(
    design: &DesignFile,
    folder: &Path,
    out: &Path,
    settings: &MakeSettings,
    materials: &Materials,
    job: &Job,
) -> Result<MakeReport, EngineError> {
    let mut files = GuardFolder::take(out, design, settings.overwrite)?;
    let opened = open(design, folder, &job.part(0.0, 0.35))?;
    let making = Making { design, folder, settings, opened, warnings: warnings(design, materials) };
    let part = making.build(materials, &job.part(0.35, 0.8))?;
    making.stage_all(&mut files, &part, &job.part(0.8, 1.0))?;
    let Making { opened, warnings, .. } = making;
    let zone = ZoneReport::new(&opened.zone, &opened.skin, &design.placement);
    let report = MakeReport {
        title: design.title.clone(),
        site: design.site,
        side: design.side,
        squad_number: design.squad_number,
        scan_sha256: design.scan.file.sha256.clone(),
        cleaning: opened.cleaning,
        placement: design.placement,
        zone,
        shell: shell_report(&part, &design.placement, settings.resolution_mm.unwrap_or(design.resolution_mm)),
        filament: part.filament(design).map(|row| row.name.clone()),
        cautions: print::cautions(part.filament(design)),
        materials: part.table,
        strength_refused: part.strength.as_ref().and_then(|told| told.as_ref().err().cloned()),
        strength: part.strength.and_then(Result::ok),
        straps: part.straps,
        bed: part.bed,
        warnings,
        files: files.all(),
    };
    files.finish(&report)?;
    Ok(report)
}

impl Making<'_> {
    fn build(&self, materials: &Materials, job: &Job) -> Result<Part, EngineError> {
        let Self { design, opened, settings, .. } = self;
        let voxel_mm = settings.resolution_mm.unwrap_or(design.resolution_mm);
        let quality = Quality { voxel_mm, tolerance_mm: design.tolerance_mm };
        let shell = shell::build(&opened.skin, &opened.zone, &design.shell, &quality, &job.part(0.0, 0.5))?;
        // Moving the part to the origin rounds its points, so what goes into the print files is checked again.
        let mesh = print::at_origin(&shell.mesh);
        let proof = mesh::solid::check(&mesh, &job.part(0.5, 0.55))?;
        if let Some(fault) = proof.faults().first() {
            return Err(shell::ShellError::CannotBuild {
                setting: "resolution_mm".into(),
                place: proof.places.first().copied().unwrap_or_default(),
                what: format!("moved to the print bed the shell has {fault}"),
                cure: "Choose a resolution a little smaller or larger.".into(),
            }
            .into());
        }
        let area_mm2 = opened.zone.covered.area_mm2(&opened.skin);
        let inlay = shell.inlay.as_ref().map(|inlay| print::beside_part(&inlay.mesh, &shell.mesh));
        let table = mechanics::compare(shell.volume_mm3(), area_mm2, materials);
        let size_mm = mesh.bounds().map_or([0.0; 3], |(low, high)| (high - low).cast::<f64>().into());
        let straps = straps(&opened.skin, &opened.zone, &design.shell, &shell.layout.fittings)?;
        let bed = bed_check(&mesh, settings.bed_mm);
        let told = (!settings.without_strength).then(|| self.strength(&shell, materials, &job.part(0.55, 1.0)));
        let strength = match told {
            Some(Err(error)) if error.fault() == Fault::Cancelled => return Err(error),
            told => told.map(|told| told.map_err(|error| error.to_string())),
        };
        let solid = SolidFaults::from(&proof);
        Ok(Part { shell, mesh, inlay, solid, size_mm, area_mm2, table, strength, straps, bed })
    }

    /// What the blow of the design does to it.
    fn strength(&self, shell: &Shell, materials: &Materials, job: &Job) -> Result<StrengthReport, EngineError> {
        let Self { design, opened, .. } = self;
        let chosen = Chosen::new(design, &design.strength)?;
        let (fineness, part) = (Fineness::default(), job.part(0.0, 0.2));
        let wall = GuardWall::new(&opened.skin, &opened.zone, &design.shell, &shell.layout, &fineness, &part)?;
        strength_of(&Arc::new(wall), &opened.skin, design, &chosen, true, materials, &job.part(0.2, 1.0))
    }

    /// The picture and the page as files.
    fn draw(&self, part: &Part, job: &Job) -> Result<[Vec<u8>; 2], EngineError> {
        let Self { design, opened, settings, warnings, .. } = self;
        let shown = shown(&part.shell, RenderStyle::default().shell, &design.look.clone().unwrap_or_default());
        let picture = |sheet: &Sheet, job: &Job| contact_sheet(opened.skin.mesh(), &shown, sheet, job);
        let sheet = Sheet { title: design.title.clone(), ..Sheet::default() };
        let sheet = png(picture(&sheet, &job.part(0.0, 0.4))?, job)?;
        let page = Sheet { size: PAGE_PICTURE, caption_scale: PAGE_CAPTIONS, ..Sheet::default() };
        let page_picture = picture(&page, &job.part(0.4, 0.8))?;
        job.step("laying out the page", 0.8)?;
        let summary = Summary {
            title: design.title.clone(),
            team: settings.team.clone(),
            made_on: settings.made_on.clone(),
            size_mm: part.size_mm,
            zone_area_mm2: part.area_mm2,
            bed: part.bed.to_string(),
            warnings: warnings.iter().map(ToString::to_string).collect(),
            design: design.shell.clone(),
            materials: part.table.clone(),
            blow: part.strength.as_ref().map(blow_told).unwrap_or_default(),
            filament: part.filament(design).map(|row| row.name.clone()),
            straps: in_short(&part.straps),
            picture: page_picture,
        };
        Ok([sheet, summary.pdf(job)?])
    }

    /// Makes all files and writes them under temporary names.
    fn stage_all(&self, files: &mut GuardFolder<'_>, part: &Part, job: &Job) -> Result<(), EngineError> {
        let Self { design, folder, opened, .. } = self;
        let [picture, page] = self.draw(part, &job.part(0.0, 0.5))?;
        job.step("packing the shell for the printer", 0.5)?;
        let mut stl = Vec::new();
        print::stl::write(&part.mesh, &mut stl, job)?;
        let mut threemf = Vec::new();
        let about = Metadata { title: design.title.clone(), ..Metadata::default() };
        let look = design.look.clone().unwrap_or_default();
        let colours = [look.colour, look.inlay_colour];
        let second = part.inlay.as_ref().map(|body| SecondColour { body, colours });
        print::threemf::write_two(&part.mesh, second, &about, &mut threemf, &job.part(0.5, 0.9))?;
        let mut inlay = Vec::new();
        if let Some(body) = &part.inlay {
            print::stl::write(body, &mut inlay, job)?;
        }
        let mut zone = Vec::new();
        let painted = zone_colours::paint(opened.skin.mesh(), &opened.zone);
        let comments = [
            "mm from the middle of the limb, z along it",
            "205 200 192 bare, 26 132 152 covered, 232 163 61 relief, 108 74 158 reinforced",
        ];
        mesh::write::ply(&painted, &comments, &mut Stoppable::new(&mut zone, job)).map_err(|source| {
            let failed = || EngineError::File { path: files.path().join("zone.ply"), source };
            job.check().map_or_else(EngineError::from, |()| failed())
        })?;
        job.step("writing the files", 0.9)?;
        // The copy of the design must find its scan when the folder is moved.
        let mut copy = (*design).clone();
        if design.scan.file.inside.is_none() {
            copy.scan = files.stage_scan(&locker::load_scan(&design.scan, folder, job)?, job)?;
        }
        files.stage(print::STL_FILE, FileUse::Printer, &stl, job)?;
        files.stage(print::THREEMF_FILE, FileUse::Printer, &threemf, job)?;
        files.stage_if(part.inlay.is_some(), print::INLAY_FILE, FileUse::SecondColour, &inlay, job)?;
        files.stage(print::PICTURE_FILE, FileUse::Picture, &picture, job)?;
        files.stage(print::SUMMARY_FILE, FileUse::Page, &page, job)?;
        files.stage("design.json", FileUse::Design, write_design(&copy)?.as_bytes(), job)?;
        files.list_scan(&copy.scan);
        files.stage("zone.ply", FileUse::Zone, &zone, job)
    }
}

fn shell_report(part: &Part, placement: &Placement, resolution_mm: f32) -> ShellReport {
    let shell = &part.shell;
    ShellReport {
        size_mm: part.size_mm,
        origin_limb_mm: shell.mesh.bounds().map_or([0.0; 3], |(low, _)| low.coords.cast::<f64>().into()),
        volume_cm3: shell.volume_mm3() / 1000.0,
        inlay_cm3: shell.inlay.as_ref().map(|inlay| inlay.mesh.volume_mm3() / 1000.0),
        triangles: shell.mesh.triangles.len(),
        resolution_mm,
        solid: part.solid.clone(),
        sound: shell.sound.clone().map(Soundness::from),
        openings: shell.layout.openings.len(),
        fittings: shell.layout.fittings.iter().map(|(_, fitting)| fitting.clone()).collect(),
        ribs_in_scan: shell.layout.rib_lines.iter().map(|line| line_in_scan(line, placement)).collect(),
        notices: shell.notices.clone(),
    }
}
