//! What `make` reports: the content of the guard's report file.

use mechanics::MaterialTable;
use mesh::Surface;
use mesh::solid::SolidReport;
use mesh::sound::SoundReport;
use scan::{BodySite, CleaningReport, Placement, Side};
use serde::Serialize;
use shell::Fitting;
use zone::{Trim, Zone};

use crate::{BedCheck, FileMade, Strap, StrengthReport, Warning, edges_in_scan};

/// Everything that was made for one guard.
#[derive(Debug, Clone, Serialize)]
pub struct MakeReport {
    /// Title of the design.
    pub title: String,
    /// Body site.
    pub site: BodySite,
    /// Side of the body.
    pub side: Side,
    /// Squad number.
    pub squad_number: Option<u32>,
    /// SHA-256 of the scan file.
    pub scan_sha256: String,
    /// What cleaning did.
    pub cleaning: CleaningReport,
    /// How the limb lies in the scan file.
    pub placement: Placement,
    /// What is covered.
    pub zone: ZoneReport,
    /// The shell.
    pub shell: ShellReport,
    /// The materials on this shell.
    pub materials: MaterialTable,
    /// What a blow does to it in each of them; nothing where that cannot be told or is not asked.
    pub strength: Option<StrengthReport>,
    /// Why it cannot be told.
    pub strength_refused: Option<String>,
    /// Name of the filament that it is to be printed in, one of those in the table.
    pub filament: Option<String>,
    /// The straps round the limb.
    pub straps: Vec<Strap>,
    /// Whether it goes on the printer's bed.
    pub bed: BedCheck,
    /// What to look at before it is printed or worn.
    #[serde(serialize_with = "crate::warning::with_sentence::serialize")]
    pub warnings: Vec<Warning>,
    /// The cautions that go with every guard.
    pub cautions: Vec<String>,
    /// All files of the guard, this report among them, those for the printer first.
    pub files: Vec<FileMade>,
}

/// A zone in numbers and lines.
#[derive(Debug, Clone, Serialize)]
pub struct ZoneReport {
    /// Skin covered, cm².
    pub area_cm2: f64,
    /// Its edge as closed lines in the scan file's own coordinates and unit; the last point is joined to the first.
    pub edges_in_scan: Vec<Vec<[f64; 3]>>,
    /// How its fair edge lies to the drawn one; nothing where it is as drawn.
    pub trim: Option<Trim>,
    /// What was changed or assumed, a sentence each.
    pub notices: Vec<String>,
}

impl ZoneReport {
    pub(crate) fn new(zone: &Zone, skin: &Surface, placement: &Placement) -> Self {
        Self {
            area_cm2: zone.area_cm2(skin),
            edges_in_scan: edges_in_scan(&zone.covered, placement),
            trim: zone.trim,
            notices: zone.notices.clone(),
        }
    }
}

/// A shell in numbers.
#[derive(Debug, Clone, Serialize)]
pub struct ShellReport {
    /// Sides of its box in limb axes, mm.
    pub size_mm: [f64; 3],
    /// Where the origin of the print files lies in limb axes, mm: added to their points, it puts the shell on the limb
    /// of the zone file.
    pub origin_limb_mm: [f64; 3],
    /// Volume of plastic, an inlay with it, cm³.
    pub volume_cm3: f64,
    /// Volume of the inlay, cm³; absent without one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inlay_cm3: Option<f64>,
    /// Triangles.
    pub triangles: usize,
    /// Grid cell that was used, mm.
    pub resolution_mm: f32,
    /// The proof that it is a solid.
    pub solid: SolidFaults,
    /// The proof that it is sound: no thin walls, sharp edges, folds and spikes.
    pub sound: Option<Soundness>,
    /// Vents, slots and holes through the wall.
    pub openings: usize,
    /// The fittings where they were placed, in limb axes.
    pub fittings: Vec<Fitting>,
    /// Middle lines of the ribs on the skin, in the scan file's own coordinates and unit.
    pub ribs_in_scan: Vec<Vec<[f64; 3]>>,
    /// What was left out or changed to make the shell possible, a sentence each.
    pub notices: Vec<String>,
}

/// The proof of a solid, in numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SolidFaults {
    /// Closed, manifold, outward, without self-intersection.
    pub is_solid: bool,
    /// One sentence a fault.
    pub faults: Vec<String>,
    /// Edges with one triangle only.
    pub open_edges: usize,
    /// Edges with more than two triangles.
    pub non_manifold_edges: usize,
    /// Edges whose triangles face opposite ways.
    pub flipped_edges: usize,
    /// Points at which the surface touches itself.
    pub non_manifold_vertices: usize,
    /// Triangles without area.
    pub flat_triangles: usize,
    /// Pairs of triangles that cross or touch.
    pub crossing_pairs: usize,
    /// Points with hundreds of triangles folded round them, too many to compare.
    pub high_valence_points: usize,
    /// Pieces.
    pub pieces: usize,
    /// Enclosed volume in cubic units of the mesh.
    pub volume: f64,
    /// Surface in square units of the mesh.
    pub area: f64,
    /// Up to 20 places of faults.
    pub places: Vec<[f32; 3]>,
}

impl From<&SolidReport> for SolidFaults {
    fn from(report: &SolidReport) -> Self {
        Self {
            is_solid: report.is_solid(),
            faults: report.faults(),
            open_edges: report.open_edges,
            non_manifold_edges: report.non_manifold_edges,
            flipped_edges: report.flipped_edges,
            non_manifold_vertices: report.non_manifold_vertices,
            flat_triangles: report.flat_triangles,
            crossing_pairs: report.crossing_pairs,
            high_valence_points: report.high_valence_vertices,
            pieces: report.components,
            volume: report.volume_mm3,
            area: report.area_mm2,
            places: report.places.iter().map(|p| (*p).into()).collect(),
        }
    }
}

/// How sound a solid is, in words and numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Soundness {
    /// Nothing is beyond the limits.
    pub is_sound: bool,
    /// One sentence a kind of fault, each with its place.
    pub faults: Vec<String>,
    /// What was measured, and the limits.
    #[serde(flatten)]
    pub measured: SoundReport,
}

impl From<SoundReport> for Soundness {
    fn from(measured: SoundReport) -> Self {
        Self { is_sound: measured.is_sound(), faults: measured.faults(), measured }
    }
}
