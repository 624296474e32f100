//! The steps from a scan file to a limb, in order, each with its line in the report.

use mesh::read::ScanFile;
use mesh::{Adjacency, Job, Mesh, repair};
use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, Vector3};
use rayon::prelude::*;

use crate::axes::{LongAxis, centred, stand};
use crate::ends::{OpenLoop, open_loops};
use crate::outliers::{Outliers, check_size, drop_outliers, longest_side, said_length};
use crate::report::{FilledHole, Step, count};
use crate::scanned::ScannedSurface;
use crate::{BodySite, CleanSettings, CleaningReport, Crop, Limb, Placement, ScanError, Side, UnitGuess};

/// A cleaned limb and what was done to get it.
#[derive(Debug, Clone, PartialEq)]
pub struct Cleaned {
    /// The limb.
    pub limb: Limb,
    /// What was done.
    pub report: CleaningReport,
}

/// Where the longest edge is the usual one, splitting adds about so many triangles at most, enough for 1.5 mm on 2250 cm² of
/// skin. A quarter of it for what is longer than any limb.
const MOST_SPLIT_TRIANGLES: f64 = 400_000.0;

/// Where splitting would make too many triangles, the longest edge grows by steps of this.
const COARSER: f32 = 1.1;

/// Longer than any leg.
const LONGEST_LIMB_MM: f32 = 1200.0;

/// More triangles than this are refused, as they would fill the memory.
const MOST_TRIANGLES: f64 = 20_000_000.0;

/// More than a scan of a whole hall; beyond it single precision does not hold a limb's points.
const LARGEST_SCAN_MM: f64 = 100_000.0;

/// What is left after cropping may not be larger: a room.
const LARGEST_KEPT_MM: f64 = 10_000.0;

/// Cleans a scan: unit, crop, weld, mend, table, pieces, holes, noise, edge length, picture, axes, mirror.
///
/// The placement of the limb is the unit and the rigid motion only; noise and holes move or add points besides.
///
/// # Errors
/// [`ScanError`] for a setting out of range, a scan without surface, a crop that leaves nothing, or on cancel.
pub fn clean(
    file: &ScanFile,
    site: BodySite,
    side: Side,
    settings: &CleanSettings,
    job: &Job,
) -> Result<Cleaned, ScanError> {
    settings.check()?;
    let mut work = Work::new(file, settings, job)?;
    work.crop(settings, job)?;
    work.scale_to_millimetres(settings)?;
    work.weld(settings, job)?;
    work.mend(settings, job)?;
    work.remove_table(settings, job)?;
    work.drop_pieces(settings, job)?;
    let measured = work.mesh.points.len();
    let (axis, ends) = work.fill_holes(settings, job)?;
    // After the holes, so that their rims have neighbours all round and the patches settle with them.
    work.smooth(settings, measured, job)?;
    work.refine(settings, job)?;
    work.lay_picture(file, job)?;
    work.stand(settings, &axis, &ends, site, side, job)
}

/// The unit of a mesh whose equal points are joined, by the size of its biggest curved piece.
pub(crate) fn guess_unit(mesh: &Mesh) -> UnitGuess {
    let pieces = repair::components(mesh, &Adjacency::new(mesh));
    let piece = pieces.iter().find(|p| !p.is_flat()).or(pieces.first());
    let points = piece.iter().flat_map(|p| &p.triangles).flat_map(|t| mesh.corners(*t as usize));
    UnitGuess::from_longest_side(longest_side(points))
}

/// The surface on its way through the steps.
struct Work {
    mesh: Mesh,
    report: CleaningReport,
    /// From the file's coordinates, scaled to millimetres, to those of `mesh`.
    shift: Vector3<f64>,
    degenerate: usize,
    duplicate: usize,
}

impl Work {
    fn new(file: &ScanFile, settings: &CleanSettings, job: &Job) -> Result<Self, ScanError> {
        job.step("looking at the scan", 0.0)?;
        let triangles = file.mesh.triangles.len();
        let mut mesh = file.mesh.clone();
        let bad = repair::drop_bad_faces(&mut mesh);
        let joined = if settings.weld_tolerance_mm.is_some() {
            repair::weld(&mut mesh, 0.0)
        } else {
            repair::drop_unused_points(&mut mesh);
            0
        };
        if mesh.area_mm2() <= 0.0 {
            return Err(ScanError::NoSurface { triangles });
        }
        let outliers = drop_outliers(&mut mesh, &settings.crop);
        job.check()?;
        let unit = settings.unit.map_or_else(|| guess_unit(&mesh), UnitGuess::given);
        check_size(&mesh, unit.unit, LARGEST_SCAN_MM)?;
        let warnings = if unit.sure { Vec::new() } else { vec![format!("Unit: {}.", unit.why)] };
        let report = CleaningReport { unit, steps: Vec::new(), holes: Vec::new(), noise_mm: 0.0, warnings };
        let mut work = Self {
            mesh,
            report,
            shift: Vector3::zeros(),
            degenerate: bad.degenerate + bad.flat,
            duplicate: bad.duplicate,
        };
        if joined > 0 {
            let text = format!("{} joined that lay in the same place.", count(joined, "point was", "points were"));
            work.say("join", true, &[("points", joined)], text);
        }
        work.say_outliers(&outliers);
        Ok(work)
    }

    fn say(&mut self, name: &'static str, changed: bool, counts: &[(&'static str, usize)], sentence: String) {
        self.report.steps.push(Step::new(name, changed, counts, sentence));
    }

    fn say_outliers(&mut self, found: &Outliers) {
        if found.triangles == 0 {
            return;
        }
        let text = format!(
            "{} out of all proportion to the limb, the farthest {} from its middle: dropped with {} on it.",
            count(found.points, "point lay", "points lay"),
            said_length(found.farthest * self.report.unit.unit.mm()),
            count(found.triangles, "triangle", "triangles"),
        );
        if found.apart * 20 > self.mesh.triangles.len() {
            self.report.warnings.push(
                "A large part far from the limb was dropped; if it is the part that you want, crop the scan to it."
                    .into(),
            );
        }
        self.say("outliers", true, &[("points", found.points), ("triangles", found.triangles)], text);
    }

    fn crop(&mut self, settings: &CleanSettings, job: &Job) -> Result<(), ScanError> {
        for (i, crop) in settings.crop.iter().enumerate() {
            job.step("cropping", 0.05)?;
            let before = self.mesh.area_mm2();
            let mut cut = |p: Vector3<f64>, keep: Vector3<f64>| {
                repair::clip_by_plane(&mut self.mesh, &Point3::from(p), &keep);
            };
            match crop {
                Crop::Plane { point, keep } => cut((*point).into(), (*keep).into()),
                Crop::Box { low, high } => {
                    for axis in 0..3 {
                        cut((*low).into(), Vector3::ith(axis, 1.0));
                        cut((*high).into(), Vector3::ith(axis, -1.0));
                    }
                }
            }
            if self.mesh.triangles.is_empty() {
                return Err(ScanError::NothingLeft { number: i + 1 });
            }
            let share = 100.0 * self.mesh.area_mm2() / before;
            let kind = if matches!(crop, Crop::Plane { .. }) { "plane" } else { "box" };
            let triangles = self.mesh.triangles.len();
            let text = format!("Cropping by a {kind} kept {share:.0} % of the surface.");
            self.say("crop", share < 100.0, &[("triangles_kept", triangles)], text);
        }
        Ok(())
    }

    fn scale_to_millimetres(&mut self, settings: &CleanSettings) -> Result<(), ScanError> {
        let unit = self.report.unit.unit;
        check_size(&self.mesh, unit, LARGEST_KEPT_MM)?;
        let (low, high) = self.mesh.bounds().ok_or(ScanError::NoSurface { triangles: 0 })?;
        let middle = nalgebra::center(&low.cast::<f64>(), &high.cast::<f64>()).coords * unit.mm();
        for p in &mut self.mesh.points {
            p.coords = (p.coords.cast::<f64>() * unit.mm() - middle).cast();
        }
        self.shift = -middle;
        if let Some(longest_mm) = settings.longest_edge_mm {
            let area = self.mesh.area_mm2();
            // Halving overshoots: triangles end between a half and all of the longest equilateral one.
            let triangles = area * 4.0 / f64::from(longest_mm * longest_mm) + self.mesh.triangles.len() as f64;
            if triangles > MOST_TRIANGLES {
                let triangles = triangles as u64;
                return Err(ScanError::TooFine { longest_mm, triangles, area_cm2: area / 100.0, unit: unit.name() });
            }
        }
        let text = format!("The file is in {}: {}.", unit.name(), self.report.unit.why);
        self.say("unit", unit.mm() != 1.0, &[], text);
        Ok(())
    }

    fn weld(&mut self, settings: &CleanSettings, job: &Job) -> Result<(), ScanError> {
        let Some(tolerance) = settings.weld_tolerance_mm else {
            self.say("weld", false, &[], "Points were not welded, as asked.".into());
            return Ok(());
        };
        job.step("welding", 0.1)?;
        let tolerance = tolerance.min(0.1 * repair::median_edge_mm(&self.mesh));
        let joined = if tolerance > 0.0 { repair::weld(&mut self.mesh, tolerance) } else { 0 };
        let text = format!("{} joined that lay within {tolerance:.3} mm.", count(joined, "point was", "points were"));
        self.say("weld", joined > 0, &[("points", joined)], text);
        Ok(())
    }

    fn mend(&mut self, settings: &CleanSettings, job: &Job) -> Result<(), ScanError> {
        if !settings.mend {
            self.say("mend", false, &[], "Faulty triangles were left as they are, as asked.".into());
            return Ok(());
        }
        job.step("mending", 0.15)?;
        let bad = repair::drop_bad_faces(&mut self.mesh);
        let (degenerate, duplicate) = (self.degenerate + bad.degenerate + bad.flat, self.duplicate + bad.duplicate);
        let text = format!(
            "{} without area and {} dropped.",
            count(degenerate, "triangle", "triangles"),
            count(duplicate, "double one was", "double ones were")
        );
        self.say(
            "bad-triangles",
            degenerate + duplicate + bad.turned > 0,
            &[("degenerate", degenerate), ("duplicate", duplicate), ("turned", bad.turned)],
            text,
        );
        job.check()?;

        let split = repair::make_manifold(&mut self.mesh);
        let edges = count(split.edges, "edge", "edges");
        let points = count(split.points, "point", "points");
        let text = match (split.edges, split.points) {
            (0, 0) => "No edge has more than two triangles, and the surface touches itself nowhere.".to_owned(),
            (_, 0) => format!("The surface was parted at {edges} of more than two triangles."),
            (0, _) => format!("The surface was parted at {points} where it only touches itself."),
            _ => format!(
                "The surface was parted at {edges} of more than two triangles and {points} where it only touches itself."
            ),
        };
        self.say(
            "part",
            split != repair::Split::default(),
            &[("edges", split.edges), ("points", split.points), ("triangles_dropped", split.dropped)],
            text,
        );
        job.check()?;

        let oriented = repair::orient(&mut self.mesh);
        let text =
            format!("{} turned so that all face outward.", count(oriented.turned, "triangle was", "triangles were"));
        self.say(
            "outward",
            oriented.turned + oriented.cut_edges > 0,
            &[("turned", oriented.turned), ("cut_edges", oriented.cut_edges), ("undecided_pieces", oriented.undecided)],
            text,
        );
        Ok(())
    }

    fn remove_table(&mut self, settings: &CleanSettings, job: &Job) -> Result<(), ScanError> {
        if !settings.remove_table_plane {
            self.say("table", false, &[], "No table was looked for, as asked.".into());
            return Ok(());
        }
        job.step("looking for a table", 0.25)?;
        let Some(plane) = repair::support_plane(&self.mesh) else {
            self.say("table", false, &[], "No table or floor was found.".into());
            return Ok(());
        };
        let keep: Vec<bool> = plane.triangles.iter().map(|on| !on).collect();
        let dropped = keep.iter().filter(|k| !**k).count();
        if dropped == keep.len() {
            return Ok(());
        }
        repair::keep_triangles(&mut self.mesh, &keep);
        if settings.mend {
            repair::make_manifold(&mut self.mesh);
        }
        let text = format!(
            "A table or floor of {:.0} cm² was found and taken away with all that lay within {:.1} mm of it ({dropped} triangles).",
            plane.area_mm2 / 100.0,
            plane.height_mm
        );
        self.say("table", true, &[("triangles", dropped)], text);
        Ok(())
    }

    fn drop_pieces(&mut self, settings: &CleanSettings, job: &Job) -> Result<(), ScanError> {
        if !settings.drop_small_pieces {
            self.say("pieces", false, &[], "All pieces were kept, as asked.".into());
            return Ok(());
        }
        job.step("dropping loose pieces", 0.3)?;
        let pieces = repair::components(&self.mesh, &Adjacency::new(&self.mesh));
        let limb = pieces.iter().position(|p| !p.is_flat()).unwrap_or(0);
        let Some(kept) = pieces.get(limb) else { return Err(ScanError::NoSurface { triangles: 0 }) };
        let (others, area) = (pieces.len() - 1, kept.area_mm2);
        let flat = pieces[..limb].len();
        let rival = pieces.iter().enumerate().find(|(i, p)| *i != limb && !p.is_flat() && p.area_mm2 > 0.25 * area);
        if let Some((_, rival)) = rival {
            let p = rival.middle.coords - self.shift;
            let p = p / self.report.unit.unit.mm();
            self.report.warnings.push(format!(
                "A second large piece of {:.0} cm² around ({:.3}, {:.3}, {:.3}) in the scan was dropped; if it belongs to the \
                 limb, scan again without the gap, or crop to the one you want.",
                rival.area_mm2 / 100.0, p.x, p.y, p.z
            ));
        }
        let triangles = self.mesh.triangles.len() - kept.triangles.len();
        if others > 0 {
            let mut keep = vec![false; self.mesh.triangles.len()];
            for t in &kept.triangles {
                keep[*t as usize] = true;
            }
            repair::keep_triangles(&mut self.mesh, &keep);
        }
        let mut text = format!(
            "{} dropped ({triangles} triangles); the biggest curved one, {:.0} cm², is the limb.",
            count(others, "loose piece was", "loose pieces were"),
            area / 100.0
        );
        if flat > 0 {
            text.push_str(&format!(" {} bigger but flat.", count(flat, "of them was", "of them were")));
        }
        self.say("pieces", others > 0, &[("pieces", others), ("triangles", triangles)], text);
        Ok(())
    }

    fn smooth(&mut self, settings: &CleanSettings, measured: usize, job: &Job) -> Result<(), ScanError> {
        job.step("taking off noise", 0.5)?;
        let done = repair::smooth(&mut self.mesh, settings.smooth, measured, job)?;
        self.report.noise_mm = done.noise_mm;
        let changed = done.farthest_mm > 0.0;
        let text = if changed {
            format!(
                "Scanner noise of {:.2} mm was found and taken off; points moved {:.2} mm on average, {:.2} mm at most.",
                done.noise_mm, done.moved_mm, done.farthest_mm
            )
        } else if settings.smooth == 0.0 {
            format!("Noise of {:.2} mm was left alone, as asked.", done.noise_mm)
        } else {
            format!("The surface is clean ({:.3} mm of noise) and was left alone.", done.noise_mm)
        };
        let moved = if changed { self.mesh.points.len() } else { 0 };
        self.say("noise", changed, &[("points_moved", moved)], text);
        Ok(())
    }

    fn fill_holes(&mut self, settings: &CleanSettings, job: &Job) -> Result<(LongAxis, Vec<OpenLoop>), ScanError> {
        job.step("filling holes", 0.4)?;
        let axis = LongAxis::of(&self.mesh);
        let adjacency = Adjacency::new(&self.mesh);
        let (ends, holes): (Vec<OpenLoop>, Vec<OpenLoop>) =
            open_loops(&self.mesh, &adjacency, &axis).into_iter().partition(|l| l.is_end);
        let (fill, wide): (Vec<OpenLoop>, Vec<OpenLoop>) =
            holes.into_iter().partition(|l| l.rim_mm <= settings.fill_holes_mm && settings.mend);
        let rings: Vec<Vec<u32>> = fill.into_iter().map(|l| l.ring).collect();
        let done = repair::fill_holes(&mut self.mesh, &adjacency, &rings, job)?;
        let back = |p: &Point3<f64>| -> [f64; 3] { ((p.coords - self.shift) / self.report.unit.unit.mm()).into() };
        let filled: Vec<FilledHole> =
            done.holes.iter().map(|(rim_mm, p)| FilledHole { rim_mm: *rim_mm, middle_scan: back(&p.cast()) }).collect();
        let mut text = format!(
            "{} filled; {} left open.",
            count(filled.len(), "hole was", "holes were"),
            count(ends.len(), "cut end of the limb was", "cut ends of the limb were")
        );
        let left = wide.len() + done.left;
        if left > 0 {
            text.push_str(&format!(" {} not filled.", count(left, "hole was", "holes were")));
        }
        if let Some(widest) = wide.iter().max_by(|a, b| a.rim_mm.total_cmp(&b.rim_mm))
            && settings.fill_holes_mm > 0.0
        {
            let [x, y, z] = back(&widest.middle);
            self.report.warnings.push(format!(
                "A hole of {:.0} mm round its rim at ({x:.3}, {y:.3}, {z:.3}) in the scan was left open, as filling stops at {:.0} mm.",
                widest.rim_mm, settings.fill_holes_mm
            ));
        }
        self.report.holes = filled;
        let filled = self.report.holes.len();
        self.say(
            "holes",
            filled > 0,
            &[("filled", filled), ("left", left), ("ends", ends.len()), ("triangles_added", done.triangles)],
            text,
        );
        Ok((axis, ends))
    }

    fn refine(&mut self, settings: &CleanSettings, job: &Job) -> Result<(), ScanError> {
        let Some(longest) = settings.longest_edge_mm else {
            self.say("refine", false, &[], "Long edges were left whole, as asked.".into());
            return Ok(());
        };
        job.step("splitting long edges", 0.8)?;
        // A box of a metre is no limb, but it must not fill the memory either.
        let longest_side = self.mesh.bounds().map_or(0.0, |(low, high)| (high - low).max());
        let most = if longest_side <= LONGEST_LIMB_MM { MOST_SPLIT_TRIANGLES } else { 0.25 * MOST_SPLIT_TRIANGLES };
        let most = most + self.mesh.triangles.len() as f64;
        let (asked, mut longest) = (longest, longest);
        if CleanSettings::default().longest_edge_mm == Some(asked) {
            longest = self.affordable_edge(asked, longest_side, most, job)?;
        } else {
            let triangles = repair::refined_count(&self.mesh, longest);
            if triangles > MOST_TRIANGLES {
                let (triangles, area_cm2) = (triangles as u64, self.mesh.area_mm2() / 100.0);
                let unit = self.report.unit.unit.name();
                return Err(ScanError::TooFine { longest_mm: longest, triangles, area_cm2, unit });
            }
        }
        let split = repair::refine(&mut self.mesh, longest, job)?;
        let triangles = self.mesh.triangles.len();
        let mut text =
            format!("{} split so that none is longer than {longest:.2} mm.", count(split, "edge was", "edges were"));
        if longest > asked {
            text += &format!(" For {asked} mm the surface is too large or its triangles too long and thin.");
        }
        self.say("refine", split > 0, &[("edges", split), ("triangles", triangles)], text);
        Ok(())
    }

    /// The shortest of the edge lengths asked, asked · 1.1, asked · 1.1², … with which splitting makes at most so many
    /// triangles; counted by the edges and not by the area, since long slivers have none and yet fall into a great many.
    fn affordable_edge(&self, asked: f32, longest_side: f32, most: f64, job: &Job) -> Result<f32, ScanError> {
        let lengths: Vec<f32> =
            std::iter::successors(Some(asked), |l| (*l < 2.0 * longest_side).then_some(l * COARSER)).collect();
        // The count falls as the length grows; the last length splits nothing.
        let (mut low, mut high) = (0, lengths.len() - 1);
        while low < high {
            job.check()?;
            let middle = low.midpoint(high);
            if repair::refined_count(&self.mesh, lengths[middle]) > most {
                low = middle + 1;
            } else {
                high = middle;
            }
        }
        Ok(lengths[low])
    }

    /// Gives each point the picture's colour at the nearest place of the file's surface.
    ///
    /// After edges were split, so that coarse triangles carry the picture's detail, and not before noise is measured: points
    /// put on flat triangles have none.
    fn lay_picture(&mut self, file: &ScanFile, job: &Job) -> Result<(), ScanError> {
        let Some(picture) = &file.texture else { return Ok(()) };
        job.step("laying the picture on the skin", 0.9)?;
        let placement = self.placement(Isometry3::identity(), false);
        let scanned = ScannedSurface::new(&file.mesh, &self.mesh, &placement);
        let colours: Vec<Option<[u8; 3]>> = self
            .mesh
            .points
            .par_iter()
            .map(|p| {
                let hit = scanned.nearest(&placement.scan_from_limb(&p.cast()).cast())?;
                picture.colour_at(hit.triangle as usize, hit.weights)
            })
            .collect();
        let bare = colours.iter().filter(|c| c.is_none()).count();
        let own = self.mesh.colours.take();
        let own = |v: usize| own.as_ref().and_then(|c| c.get(v)).copied().unwrap_or([255; 3]);
        self.mesh.colours = Some(colours.into_iter().enumerate().map(|(v, c)| c.unwrap_or_else(|| own(v))).collect());
        let mut text = "The colours of the picture were laid on the points.".to_owned();
        if bare > 0 {
            text.push_str(&format!(" {} where the picture does not reach.", count(bare, "point lies", "points lie")));
        }
        self.say("picture", true, &[("points_without", bare)], text);
        Ok(())
    }

    /// The way from the file's coordinates to the mesh as it is now, followed by `pose` and mirror.
    fn placement(&self, pose: Isometry3<f64>, mirrored: bool) -> Placement {
        let shift = Isometry3::from_parts(Translation3::from(self.shift), UnitQuaternion::identity());
        Placement { unit_mm: self.report.unit.unit.mm(), pose: pose * shift, mirrored }
    }

    fn stand(
        mut self,
        settings: &CleanSettings,
        axis: &LongAxis,
        ends: &[OpenLoop],
        site: BodySite,
        side: Side,
        job: &Job,
    ) -> Result<Cleaned, ScanError> {
        job.step("standing the limb up", 0.95)?;
        let pose = if settings.upright {
            let leg = ends
                .iter()
                .filter(|_| site == BodySite::Ankle && ends.len() == 1)
                .find_map(|e| LongAxis::of_leg(&self.mesh, e));
            let axis = leg.as_ref().unwrap_or(axis);
            let found = stand(&self.mesh, axis, ends);
            let text = format!("The limb's long axis is {}; {}.", axis.how, found.why_up);
            self.say("upright", true, &[], text);
            found.pose
        } else {
            self.say(
                "upright",
                false,
                &[],
                "The limb keeps the file's axes, as asked; it was moved to the origin.".into(),
            );
            centred(&self.mesh, UnitQuaternion::identity())
        };
        if settings.mirror {
            self.say("mirror", true, &[], "Left and right were swapped.".into());
        }
        let flip = if settings.mirror { -1.0 } else { 1.0 };
        for p in &mut self.mesh.points {
            let mut q = pose * p.cast::<f64>();
            q.x *= flip;
            *p = q.cast();
        }
        if settings.mirror {
            for t in &mut self.mesh.triangles {
                t.swap(1, 2);
            }
        }
        let placement = self.placement(pose, settings.mirror);
        let side = match (side, settings.mirror) {
            (Side::Left, true) => Side::Right,
            (Side::Right, true) => Side::Left,
            (side, _) => side,
        };
        job.step("cleaned", 1.0)?;
        Ok(Cleaned { limb: Limb { mesh: self.mesh, placement, site, side }, report: self.report })
    }
}
