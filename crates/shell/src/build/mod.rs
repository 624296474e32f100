//! From zone and design to a proven solid.

mod ease;
mod fineness;
mod folds;
mod inlay;
mod one_piece;
mod prove;
mod unsound;

use mesh::solid::SolidReport;
use mesh::sound::SoundReport;
use mesh::{Cancelled, Job, Mesh, Place, SpatialHash, Surface};
use nalgebra::{Point3, Vector3};
use serde::{Deserialize, Serialize};
use zone::Zone;

pub use self::inlay::Inlay;

use self::fineness::{fine_at_marks, fine_enough};
use self::folds::{BeadSearch, genus};
use self::one_piece::one_piece;
use self::prove::{Measured, simplify_and_prove, snapped};
use crate::field::Finish;
use crate::profile::Wall;
use crate::surface::{Ball, Grid, TrackError, track};
use crate::{Design, Field, Layout, MarkKind, ShellError, arrange, width};

/// How finely a shell is made.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Quality {
    /// Distance between grid points, mm. 0.2 to 3; 0.5 for printing, 1.5 for a first look.
    pub voxel_mm: f32,
    /// How far simplification may move the surface, mm. 0 to 0.5; 0 keeps every triangle.
    pub tolerance_mm: f32,
}

impl Quality {
    /// For an answer while a slider moves: a coarse grid, and all its triangles, as simplifying would take longer than
    /// it saves. It is for the eye only, and nothing is proven of it beyond that it is closed and in one piece.
    pub const FIRST_LOOK: Self = Self { voxel_mm: 1.5, tolerance_mm: 0.0 };
}

impl Default for Quality {
    fn default() -> Self {
        Self { voxel_mm: 0.5, tolerance_mm: 0.02 }
    }
}

/// A finished shell.
#[derive(Debug, Clone, PartialEq)]
pub struct Shell {
    /// The solid, in limb axes.
    pub mesh: Mesh,
    /// Its lowest and highest coordinates, mm.
    pub bounds: Option<(Point3<f32>, Point3<f32>)>,
    /// What has its place on the skin.
    pub layout: Layout,
    /// The proof that the mesh is a printable solid; none for a first look, which is to be there at once.
    pub proof: Option<SolidReport>,
    /// The second body that fills the seats of inlays; none without them, and for a first look.
    pub inlay: Option<Inlay>,
    /// The proof that it is sound; none for a first look.
    pub sound: Option<SoundReport>,
    /// Grid points at which the distance to the skin was computed; those on the border of two blocks count twice.
    pub grid_samples: usize,
    /// What could not be made as asked, one sentence each.
    pub notices: Vec<String>,
}

impl Shell {
    /// Volume of the plastic, an inlay with it, mm³.
    #[must_use]
    pub fn volume_mm3(&self) -> f64 {
        self.mesh.volume_mm3() + self.inlay.as_ref().map_or(0.0, |inlay| inlay.mesh.volume_mm3())
    }
}

/// How often places at which the shell is not sound are evened out.
const ROUNDS_OF_EASING: usize = 4;
/// A shell that is not sound is tried once more on a grid finer by this.
const FINER: f32 = 0.7;
/// A lift of the rim to less than this share is told.
const TOLD_LIFT: f32 = 0.7;
/// A wall that is thicker by less is not told, mm.
const TOLD_THICKER_MM: f32 = 0.25;
/// Radius of what is filled in a fold, mm, and how far inside the zone it must lie.
const FILL_MM: f32 = 2.6;
const INSIDE_MM: f32 = 4.0;
/// Places that are to stay level are at least this far apart, mm.
const LEVEL_APART_MM: f32 = 10.0;
/// Seeds are taken where the skin is covered, and this far beyond the trim line, mm.
const BEYOND_TRIM_MM: f32 = 1.0;

/// Builds the shell of `design` on `zone` of `skin`, and proves it if it is for printing.
///
/// # Errors
/// [`ShellError::CannotBuild`] naming the setting and place, or that it was cancelled.
pub fn build(skin: &Surface, zone: &Zone, design: &Design, quality: &Quality, job: &Job) -> Result<Shell, ShellError> {
    job.step("laying out ribs, vents and fittings", 0.0)?;
    let narrow = width::check(skin, zone, design, job)?;
    let mut layout = arrange(skin, zone, design, &job.part(0.0, 0.15))?;
    layout.notices.splice(0..0, narrow);
    build_layout(skin, zone, design, layout, quality, &job.part(0.15, 1.0))
}

/// Builds the shell over a layout that was made before for the same zone and design.
///
/// # Errors
/// As [`build`].
pub fn build_layout(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: Layout,
    quality: &Quality,
    job: &Job,
) -> Result<Shell, ShellError> {
    let mut notices = layout.notices.clone();
    notices.extend(steep_bumps(zone));
    let for_print = *quality != Quality::FIRST_LOOK;
    let voxel_mm = fine_enough(design, &layout, quality.voxel_mm, for_print, &mut notices);
    let parts = Parts { skin, zone, design, layout: &layout, quality };
    let mut made = parts.make(voxel_mm, &[], &[], &job.part(0.0, if for_print { 0.6 } else { 1.0 }))?;
    if !made.faulty.is_empty() {
        // Finer, and level where it was torn.
        let level_at = apart(&made.faulty, LEVEL_APART_MM);
        made = parts.make(FINER * voxel_mm, &level_at, &[], &job.part(0.6, 0.9))?;
        let folds = parts.inside_zone(&made.faulty);
        if !folds.is_empty() {
            // In a fold of the skin, away from the edge, what is left of a gap between two sides is filled.
            made = parts.make(FINER * voxel_mm, &level_at, &folds, &job.part(0.9, 1.0))?;
        }
    }
    let Proven { mesh, proof, inlay, sound, grid_samples, notices: told, .. } = made;
    if let Some(report) = sound.as_ref().filter(|report| !report.is_sound()) {
        return Err(unsound::refusal(skin, zone, design, &layout, report));
    }
    notices.extend(told);
    Ok(Shell { bounds: mesh.bounds(), mesh, layout, proof, inlay, sound, grid_samples, notices })
}

/// A sentence for reliefs and reinforcements that fade out over a longer way than was set.
fn steep_bumps(zone: &Zone) -> Option<String> {
    let steep = zone.reliefs.iter().chain(&zone.reinforcements).filter(|bump| bump.fades_over_mm() > bump.falloff_mm);
    let (count, most) = steep.fold((0, 0.0_f32), |(n, most), bump| (n + 1, most.max(bump.fades_over_mm())));
    (count > 0).then(|| {
        let which = if count == 1 { "A region fades".to_owned() } else { format!("{count} regions fade") };
        format!("{which} out over at least its height, up to {most:.1} mm, as a steeper side would tear the wall.")
    })
}

/// Of these places some that are at least this far apart.
fn apart(places: &[Point3<f32>], apart_mm: f32) -> Vec<Point3<f32>> {
    let mut near = SpatialHash::new(apart_mm);
    let mut kept = Vec::new();
    for place in places {
        if near.within(place, apart_mm).is_empty() {
            near.add(*place);
            kept.push(*place);
        }
    }
    kept
}

/// What a shell is made of.
struct Parts<'a> {
    skin: &'a Surface,
    zone: &'a Zone,
    design: &'a Design,
    layout: &'a Layout,
    quality: &'a Quality,
}

/// A solid, and whether it is sound.
struct Proven {
    mesh: Mesh,
    /// None for a first look, like the proof that it is sound.
    proof: Option<SolidReport>,
    inlay: Option<Inlay>,
    sound: Option<SoundReport>,
    /// Where it is not sound.
    faulty: Vec<Point3<f32>>,
    grid_samples: usize,
    notices: Vec<String>,
}

impl Parts<'_> {
    /// Balls to fill at those of these places that lie well inside the zone.
    fn inside_zone(&self, places: &[Point3<f32>]) -> Vec<Ball> {
        let is_inside = |p: &Point3<f32>| {
            let hit = self.skin.nearest(p, None);
            hit.is_some_and(|hit| self.skin.interpolate(&self.zone.covered.distance_mm, &hit) > INSIDE_MM)
        };
        let kept = apart(places, FILL_MM).into_iter().filter(is_inside);
        kept.map(|centre| Ball { centre, radius_mm: FILL_MM }).collect()
    }

    /// The solid on a grid of this cell, with a rim that is level round these places, and with these balls filled.
    fn make(&self, voxel_mm: f32, level_at: &[Point3<f32>], fill: &[Ball], job: &Job) -> Result<Proven, ShellError> {
        let Self { skin, zone, design, layout, quality } = *self;
        job.step("making the surface", 0.0)?;
        // A first look is not mended: it is to be there at once.
        let for_print = *quality != Quality::FIRST_LOOK;
        let finish = Finish { least_round_mm: if for_print { voxel_mm } else { 0.0 }, level_at };
        let mut field = Field::new(skin, zone, design, layout, &finish, job)?;
        let lift = field.least_lift().filter(|(_, share)| *share < TOLD_LIFT);
        let (grid, seeds) = grid_and_seeds(&field, zone, layout, voxel_mm, for_print, job)?;
        let edges = for_print.then(|| layout.openings.len() + zone.covered.edges.len());
        let (mut made, mut thicker) =
            (surface(&field, &grid, &seeds, layout, edges, fill, job)?, thicker_mm(&field, zone));
        if made.tunnels > 0 {
            // In a narrow hollow the fair outer face may leave tunnels where that over the skin itself leaves fewer.
            let over_skin = field.clone().over_skin();
            let again = surface(&over_skin, &grid, &seeds, layout, edges, fill, job)?;
            let grid_samples = made.grid_samples + again.grid_samples;
            if again.tunnels < made.tunnels {
                (made, thicker, field) = (again, 0.0, over_skin);
            }
            made.grid_samples = grid_samples;
        }
        let mut notices = Vec::new();
        if let Some((at, share)) = lift {
            notices.push(format!(
                "The rim is lifted by {:.1} mm and not {} near {:#} mm, where the zone is narrow or the limb hollow.",
                share * design.rim.flare_mm,
                design.rim.flare_mm,
                Place::new(&at, 0)
            ));
        }
        if thicker >= TOLD_THICKER_MM {
            notices.push(format!(
                "The outer face is evened over the skin's bumps: the wall is {thicker:.1} mm thicker than set on average, \
                 and nowhere thinner."
            ));
        }
        let Made { mesh: whole, grid_samples, .. } = made;
        notices.extend(made.notices);
        let whole = snapped(whole);
        if !for_print {
            let (proof, sound, inlay, faulty) = (None, None, None, Vec::new());
            return Ok(Proven { mesh: whole, proof, inlay, sound, faulty, grid_samples, notices });
        }
        let Measured { mesh, proof, sound, faulty } = made_sound(&whole, quality, &job.part(0.5, 1.0))?;
        let first_inlay = design.marks.iter().position(|mark| mark.kind == MarkKind::Inlay);
        let inlay = match first_inlay.filter(|_| faulty.is_empty()) {
            Some(n) => inlay::inlay(&field, &mesh, &format!("shell.marks[{n}]"), job)?,
            None => None,
        };
        Ok(Proven { mesh, proof: Some(proof), inlay, sound: Some(sound), faulty, grid_samples, notices })
    }
}

/// The shell simplified and proven, with the places at which it is not sound evened out as far as that makes a solid with
/// fewer of them.
fn made_sound(whole: &Mesh, quality: &Quality, job: &Job) -> Result<Measured, ShellError> {
    let mut best = simplify_and_prove(whole, quality.tolerance_mm, &job.part(0.0, 0.8))?;
    let mut places = best.faulty.clone();
    let job = &job.part(0.8, 1.0);
    for tries in 1..=ROUNDS_OF_EASING {
        if best.sound.is_sound() {
            break;
        }
        // From the whole mesh each time, so that no place is moved twice.
        let even = snapped(ease::eased(whole, &places, tries, job)?);
        let eased = match simplify_and_prove(&even, quality.tolerance_mm, job) {
            Ok(eased) => eased,
            Err(stop @ ShellError::Cancelled(_)) => return Err(stop),
            Err(ShellError::CannotBuild { .. }) => break,
        };
        places.extend(&eased.faulty);
        if eased.sound.is_sound() || eased.faulty.len() < best.faulty.len() {
            best = eased;
        }
    }
    Ok(best)
}

/// By how much the fair outer face makes the wall thicker than set, on average over the covered vertices, mm.
fn thicker_mm(field: &Field<'_>, zone: &Zone) -> f32 {
    let covered = zone.covered.distance_mm.iter().zip(0_u32..).filter(|(depth, _)| **depth > 0.0);
    let (sum, count) = covered.fold((0.0, 0.0), |(sum, count), (_, v)| (sum + field.thicker_over(v), count + 1.0));
    if count > 0.0 { sum / count } else { 0.0 }
}

/// A surface in one piece.
struct Made {
    mesh: Mesh,
    /// At how many grid points the field was evaluated.
    grid_samples: usize,
    /// How many tunnels no edge accounts for.
    tunnels: usize,
    notices: Vec<String>,
}

/// The surface of the field with these balls filled. With the number of its edges given, tunnels that no edge accounts
/// for are filled.
fn surface(
    field: &Field<'_>,
    grid: &Grid,
    seeds: &[Point3<f32>],
    layout: &Layout,
    edges: Option<usize>,
    fill: &[Ball],
    job: &Job,
) -> Result<Made, ShellError> {
    let mut said = Vec::new();
    let mut tracked = track(grid, &|p: &Point3<f32>, seed| folds::value(field, fill, p, seed), seeds, job)?;
    let mut whole = one_piece(tracked.mesh(job)?, layout, &mut said, job)?;
    let mut grid_samples = tracked.grid_samples;
    // A plate with b edges is a solid of genus b − 1 (Euler and Poincaré).
    let wanted = edges.map_or(usize::MAX, |edges| edges.max(1) - 1);
    let found = genus(&whole).saturating_sub(wanted);
    let (mut left, mut kept) = (found, fill.to_vec());
    if found == 0 {
        return Ok(Made { mesh: whole, grid_samples, tunnels: 0, notices: said });
    }
    let mut search = BeadSearch::new(field, &whole, job)?;
    // More beads than tunnels would close openings as well.
    let mut most = left;
    for _ in 0..folds::MOST_TRIES {
        let batch = search.next(most, &kept, job)?;
        if batch.is_empty() {
            break;
        }
        let with: Vec<Ball> = kept.iter().chain(&batch).copied().collect();
        let value = |p: &Point3<f32>, seed| folds::value(field, &with, p, seed);
        let beaded = tracked.changed(&value, &batch, job)?;
        grid_samples += beaded.grid_samples;
        let mut said_of_it = Vec::new();
        let filled = one_piece(beaded.mesh(job)?, layout, &mut said_of_it, job)?;
        if (wanted..wanted + left).contains(&genus(&filled)) {
            left = genus(&filled) - wanted;
            most = left;
            (tracked, whole, said, kept) = (beaded, filled, said_of_it, with);
        } else if batch.len() > 1 {
            // They change nothing, or one closes an opening as well: fewer at a time, and others first.
            most = batch.len() / 2;
            search.put_back(batch);
        }
    }
    said.extend(folds::notice(found, left));
    Ok(Made { mesh: whole, grid_samples, tunnels: left, notices: said })
}

impl From<TrackError> for ShellError {
    fn from(error: TrackError) -> Self {
        match error {
            TrackError::Cancelled(c) => Self::Cancelled(c),
            TrackError::LeavesBox(place) => Self::CannotBuild {
                setting: "zone".into(),
                place,
                what: "the shell does not close there because the zone runs off the scanned skin".into(),
                cure: "Shrink the zone or keep it a few millimetres from the scan's border.".into(),
            },
        }
    }
}

/// A box that holds the shell, and points on both faces to start from.
fn grid_and_seeds(
    field: &Field<'_>,
    zone: &Zone,
    layout: &Layout,
    voxel_mm: f32,
    for_print: bool,
    job: &Job,
) -> Result<(Grid, Vec<Point3<f32>>), Cancelled> {
    job.check()?;
    let skin = field.skin();
    let (points, normals) = (&skin.mesh().points, skin.vertex_normals());
    let edges = zone.covered.distance_mm.iter().take(points.len()).zip(0_u32..);
    let covered: Vec<u32> = edges.filter(|(edge, _)| **edge >= -BEYOND_TRIM_MM).map(|(_, v)| v).collect();
    let walls: Vec<Option<Wall>> =
        job.each(covered.len(), |i| field.on_vertex(covered[i]).map(|hit| field.at(&hit)))?;
    let mut seeds = Vec::new();
    let mut highest_mm = vec![0.0; points.len()];
    let (mut lo, mut hi) = (Point3::from([f32::INFINITY; 3]), Point3::from([f32::NEG_INFINITY; 3]));
    for (v, wall) in covered.iter().zip(walls).filter_map(|(v, wall)| Some((*v as usize, wall?))) {
        let [inner, outer] = field.faces_over(v as u32, &wall);
        let highest = field.highest_over(v as u32, &wall);
        highest_mm[v] = highest;
        let reach = Vector3::repeat(highest + 2.0);
        lo = lo.inf(&(points[v] - reach));
        hi = hi.sup(&(points[v] + reach));
        if wall.edge_mm() > wall.round_mm {
            seeds.push(points[v] + normals[v] * inner);
            seeds.push(points[v] + normals[v] * outer);
        }
    }
    let margin = Vector3::repeat(2.0 * voxel_mm);
    if seeds.is_empty() {
        (lo, hi) = (Point3::origin(), Point3::origin());
    }
    let (fine, parts) = if for_print { fine_at_marks(skin, layout, &highest_mm, voxel_mm) } else { (Vec::new(), 1) };
    let grid = Grid::finer_in(lo - margin, hi + margin, voxel_mm, &fine, parts);
    Ok((if for_print { grid } else { grid.by_chords() }, seeds))
}
