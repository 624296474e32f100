//! From a design to everything that leaves the program.

use std::path::Path;

use locker::{DesignFile, write_design};
use mechanics::Materials;
use mesh::{Job, Mesh};
use print::picture::{Sheet, contact_sheet, png};
use print::summary::Summary;
use print::threemf::Metadata;
use scan::Placement;
use sha2::{Digest, Sha256};
use shell::{Quality, Shell};

use crate::edges::line_in_scan;
use crate::report::{FileMade, MakeReport, ShellReport, SolidFaults, ZoneReport};
use crate::{EngineError, OpenDesign, open, zone_colours};

/// Width and height of the picture on the summary page.
const PAGE_PICTURE: [u32; 2] = [1840, 1000];

/// What the user may say about one making.
#[derive(Debug, Clone, Default)]
pub struct MakeSettings {
    /// Another grid cell than the design's, mm.
    pub resolution_mm: Option<f32>,
    /// Name of the club, for the summary page.
    pub team: Option<String>,
    /// The day, for the summary page; without it the same design gives the same bytes.
    pub made_on: Option<String>,
}

/// Makes the guard of a design that lies in `folder`, and writes all its files into `out`.
///
/// # Errors
/// The scan is missing or bad, the zone or shell cannot be made, or a file cannot be written.
pub fn make(
    design: &DesignFile,
    folder: &Path,
    out: &Path,
    settings: &MakeSettings,
    materials: &Materials,
    job: &Job,
) -> Result<MakeReport, EngineError> {
    std::fs::create_dir_all(out).map_err(|source| EngineError::File { path: out.into(), source })?;
    let opened = open(design, folder, &job.part(0.0, 0.35))?;
    let voxel_mm = settings.resolution_mm.unwrap_or(design.resolution_mm);
    let quality = Quality { voxel_mm, tolerance_mm: design.tolerance_mm };
    let shell = shell::build(&opened.skin, &opened.zone, &design.shell, &quality, &job.part(0.35, 0.75))?;
    // Print files take the part at the origin; rounding moves points, so what is written is proven again.
    let part = print::at_origin(&shell.mesh);
    let proof = mesh::solid::check(&part, &job.part(0.75, 0.8))?;
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
    let table = mechanics::compare(shell.mesh.volume_mm3(), area_mm2, &design.shell, materials);
    let size_mm = part.bounds().map_or([0.0; 3], |(low, high)| (high - low).cast::<f64>().into());

    let mut files = Folder { out, made: Vec::new() };
    job.step("drawing the guard", 0.8)?;
    let limb = opened.skin.mesh();
    let picture = |size, title: String, job: &Job| {
        contact_sheet(limb, &shell.mesh, &Sheet { title, size, ..Sheet::default() }, job)
    };
    let sheet = picture(Sheet::default().size, design.title.clone(), &job.part(0.8, 0.86))?;
    let page_picture = picture(PAGE_PICTURE, String::new(), &job.part(0.86, 0.92))?;
    let summary = Summary {
        title: &design.title,
        team: settings.team.clone(),
        made_on: settings.made_on.clone(),
        size_mm,
        zone_area_mm2: area_mm2,
        design: &design.shell,
        materials: &table,
        picture: &page_picture,
    };
    job.step("writing the files", 0.93)?;
    write_all(&mut files, design, folder, &opened, &part, &png(&sheet)?, &summary.pdf()?)?;
    let report = MakeReport {
        title: design.title.clone(),
        site: design.site,
        side: design.side,
        squad_number: design.squad_number,
        scan_sha256: design.scan.file.sha256.clone(),
        cleaning: opened.cleaning.clone(),
        placement: design.placement,
        zone: ZoneReport::new(&opened.zone, &opened.skin, &design.placement),
        shell: shell_report(&shell, &design.placement, size_mm, voxel_mm, SolidFaults::from(&proof)),
        materials: table.clone(),
        cautions: print::words::cautions().iter().map(|c| (*c).to_owned()).collect(),
        files: files.made.clone(),
    };
    let json = serde_json::to_vec_pretty(&report)?;
    mesh::write::save_atomic(&out.join("report.json"), |file| file.write_all(&json))?;
    job.step("done", 1.0)?;
    Ok(report)
}

fn write_all(
    files: &mut Folder<'_>,
    design: &DesignFile,
    folder: &Path,
    opened: &OpenDesign,
    part: &Mesh,
    picture: &[u8],
    page: &[u8],
) -> Result<(), EngineError> {
    // The copy of the design must find its scan when the folder goes elsewhere.
    let mut copy = design.clone();
    if design.scan.file.inside.is_none() {
        copy.scan = locker::keep_beside(&locker::load_scan(&design.scan, folder)?, files.out)?;
    }
    files.write("design.json", "the design, to make or change it again", write_design(&copy)?.as_bytes())?;
    let mut bytes = Vec::new();
    print::stl::write(part, &mut bytes)?;
    files.write(print::STL_FILE, "the shell for the printer, in millimetres", &bytes)?;
    bytes.clear();
    let about = Metadata { title: design.title.clone(), ..Metadata::default() };
    print::threemf::write(part, &about, &mut bytes)?;
    files.write(print::THREEMF_FILE, "the shell for the printer, with its unit", &bytes)?;
    files.write(print::PICTURE_FILE, "the guard on the limb from five sides", picture)?;
    files.write(print::SUMMARY_FILE, "one page for the job folder", page)?;
    bytes.clear();
    let painted = zone_colours::paint(opened.skin.mesh(), &opened.zone);
    let comments = ["limb axes, mm", "205 200 192 bare, 26 132 152 covered, 232 163 61 relief, 108 74 158 reinforced"];
    mesh::write::ply(&painted, &comments, &mut bytes)
        .map_err(|source| EngineError::File { path: files.out.join("zone.ply"), source })?;
    files.write("zone.ply", "the cleaned limb with the zone in colours", &bytes)
}

fn shell_report(
    shell: &Shell,
    placement: &Placement,
    size_mm: [f64; 3],
    resolution_mm: f32,
    solid: SolidFaults,
) -> ShellReport {
    ShellReport {
        size_mm,
        origin_limb_mm: shell.mesh.bounds().map_or([0.0; 3], |(low, _)| low.coords.cast::<f64>().into()),
        volume_cm3: shell.mesh.volume_mm3() / 1000.0,
        triangles: shell.mesh.triangles.len(),
        resolution_mm,
        solid,
        openings: shell.layout.cuts.len(),
        ribs_in_scan: shell.layout.rib_lines.iter().map(|line| line_in_scan(line, placement)).collect(),
        notices: shell.notices.clone(),
    }
}

/// An output folder that remembers what was written into it.
struct Folder<'a> {
    out: &'a Path,
    made: Vec<FileMade>,
}

impl Folder<'_> {
    fn write(&mut self, name: &str, what: &'static str, bytes: &[u8]) -> Result<(), EngineError> {
        mesh::write::save_atomic(&self.out.join(name), |file| file.write_all(bytes))?;
        let sha256 = Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        self.made.push(FileMade { name: name.into(), what, bytes: bytes.len() as u64, sha256 });
        Ok(())
    }
}
