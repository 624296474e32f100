//! What a blow does to the guard of a design, in each filament, and the lightest guard that holds.

mod lightest;
mod strap_ends;

pub use lightest::{Lightest, Targets, Trial, lightest};

use std::path::Path;

use locker::DesignFile;
use mechanics::answer::{Answer, AnswerError, Asked, Maps, Without};
use mechanics::mid_surface::{Fineness, MidSurface, MidSurfaceError};
use mechanics::surroundings::{Foam, SourcedBlow, SourcedTissue, blows, foams, tissues};
use mechanics::worn::StrapEnd;
use mechanics::{Material, Materials, Price};
use mesh::{Job, Surface};
use nalgebra::{Point3, Vector3};
use serde::Serialize;
use shell::Design;
use zone::Zone;

use self::strap_ends::strap_ends;
use crate::{EngineError, Warning, open, warnings};

/// What is asked; what is left out is taken as usual.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct StrengthSettings {
    /// A blow by its name among the ready-made ones.
    pub blow: Option<String>,
    /// A foam by its name.
    pub foam: Option<String>,
    /// How thick the liner is, mm; as thick as the gap where left out.
    pub liner_mm: Option<f64>,
    /// What is under the liner, by its place on the body.
    pub under: Option<String>,
    /// Where the guard is struck, in the design's axes, mm; in its middle where left out.
    pub at_mm: Option<Point3<f64>>,
    /// How it lies on the bed.
    pub lies: Lies,
    /// Whether to tell how far the data leave the answers open.
    pub ranges: bool,
}

/// How a guard lies on the printer's bed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Lies {
    /// Upright, as in its print files: layers lie across the limb.
    #[default]
    Upright,
    /// On its back or its edges: layers lie along the limb.
    Lying,
}

/// Why strength cannot be told.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StrengthError {
    /// The guard cannot be computed on.
    #[error("The strength of this guard cannot be told: {0}.")]
    MidSurface(#[from] MidSurfaceError),
    /// The answer cannot be found.
    #[error("The strength of this guard cannot be told: {0}.")]
    Answer(#[from] AnswerError),
    /// A name that is not known.
    #[error("There is no {what} called “{name}”. There are: {known}.")]
    Unknown {
        /// What was asked for.
        what: &'static str,
        /// By which name.
        name: String,
        /// The names that there are.
        known: String,
    },
    /// The lightest guard is asked for, and nothing that it has to hold to.
    #[error("Say what the guard has to hold to: without a target the lightest one is the thinnest.")]
    NoTargets,
    /// A thickness that no liner has.
    #[error("A liner of {0} mm is not possible: it must be between 1 and 20 mm.")]
    Liner(f64),
}

impl StrengthError {
    /// Whether it is that it was stopped.
    #[must_use]
    pub fn is_stopped(&self) -> bool {
        use mechanics::blow::BlowError::Contact;
        use mechanics::contact::ContactError::Cancelled;
        matches!(
            self,
            Self::MidSurface(MidSurfaceError::Cancelled(_)) | Self::Answer(AnswerError::Blow(Contact(Cancelled(_))))
        )
    }
}

/// What a blow does to a guard.
#[derive(Debug, Clone, Serialize)]
pub struct StrengthReport {
    /// Title of the design.
    pub title: String,
    /// What the figures are.
    pub means: &'static str,
    /// The blow.
    pub blow: SourcedBlow,
    /// Its energy, J.
    pub energy_j: f64,
    /// Where it strikes, mm.
    pub at_mm: [f64; 3],
    /// The foam of the liner.
    pub foam: Foam,
    /// How thick it is, mm.
    pub liner_mm: f64,
    /// What is under it.
    pub under: SourcedTissue,
    /// How the guard lies on the bed.
    pub lies: Lies,
    /// The blow without a guard.
    pub without: Without,
    /// One row a filament, in the order of the materials.
    pub rows: Vec<StrengthRow>,
    /// What the computation leaves out.
    pub notices: Vec<String>,
    /// What to look at before it is printed or worn.
    #[serde(serialize_with = "crate::warning::with_sentence::serialize")]
    pub warnings: Vec<Warning>,
    /// The caution that belongs to each of these figures.
    pub caution: &'static str,
}

/// A guard in one filament.
#[derive(Debug, Clone, Serialize)]
pub struct StrengthRow {
    /// What it comes to.
    #[serde(flatten)]
    pub answer: Answer,
    /// Weight of the shell printed solid, g: of what is computed on, which is some per cent more than the print.
    pub grams: f64,
    /// What that much filament costs.
    pub price: Price,
    /// Temperature from which it loses its shape, °C.
    pub softening_c: f64,
}

/// What the figures are; shown wherever they are.
pub const WHAT_STRENGTH_MEANS: &str = "computed on the guard's own wall with its vents, ribs and slots, on a simple model of \
     foam and limb: it compares designs and filaments";
/// The caution beside them.
pub const STRENGTH_CAUTION: &str = "Not a certified protector: these are comparisons, no guarantee against injury and no test \
     after any standard. Prints differ; deep dents are told only roughly. Medical staff and officials decide.";

/// Strikes the guard of a design that lies in `folder`, in each material; gives the maps of each as well.
///
/// # Errors
/// As for making the guard, and [`StrengthError`].
pub fn strength(
    design: &DesignFile,
    folder: &Path,
    settings: &StrengthSettings,
    materials: &Materials,
    job: &Job,
) -> Result<(StrengthReport, Vec<Maps>), EngineError> {
    let chosen = Chosen::new(design, settings)?;
    let opened = open(design, folder, &job.part(0.0, 0.2))?;
    strength_on(&opened.skin, &opened.zone, design, &chosen, materials, &job.part(0.2, 1.0))
}

/// The same for a design whose limb and zone are there.
///
/// # Errors
/// As for [`strength`].
pub fn strength_on(
    skin: &Surface,
    zone: &Zone,
    design: &DesignFile,
    chosen: &Chosen,
    materials: &Materials,
    job: &Job,
) -> Result<(StrengthReport, Vec<Maps>), EngineError> {
    let wall = Wall::new(skin, zone, &design.shell, &Fineness::default(), &job.part(0.0, 0.25))?;
    let asked = chosen.asked(skin, &wall, &design.shell);
    let found = in_each(&asked, materials, chosen.ranges, &job.part(0.25, 1.0))?;
    let without = asked.without(job)?;
    let volume_mm3 = wall.middle.volume_mm3();
    let (rows, maps) =
        found.into_iter().map(|(answer, maps, material)| (row(answer, material, volume_mm3), maps)).unzip();
    let at = asked.at_mm;
    let report = StrengthReport {
        title: design.title.clone(),
        means: WHAT_STRENGTH_MEANS,
        energy_j: asked.blow.striker.energy_j(),
        blow: chosen.blow.clone(),
        at_mm: [at.x, at.y, at.z],
        foam: chosen.foam.clone(),
        liner_mm: chosen.liner_mm,
        under: chosen.under.clone(),
        lies: chosen.lies,
        without,
        rows,
        notices: wall.middle.notices.clone(),
        warnings: warnings(design, materials),
        caution: STRENGTH_CAUTION,
    };
    Ok((report, maps))
}

/// What is asked, looked up.
#[derive(Debug, Clone, PartialEq)]
pub struct Chosen {
    /// The blow.
    pub blow: SourcedBlow,
    /// The foam of the liner.
    pub foam: Foam,
    /// How thick it is, mm.
    pub liner_mm: f64,
    /// What is under it.
    pub under: SourcedTissue,
    /// Where the guard is struck, mm; in its middle where left out.
    pub at_mm: Option<Point3<f64>>,
    /// How it lies on the bed.
    pub lies: Lies,
    /// Whether to tell how far the data leave the answers open.
    pub ranges: bool,
}

impl Chosen {
    /// Looks up what the settings name, for a design.
    ///
    /// # Errors
    /// [`StrengthError::Unknown`], [`StrengthError::Liner`].
    pub fn new(design: &DesignFile, settings: &StrengthSettings) -> Result<Self, EngineError> {
        let blow = named("blow", blows(), settings.blow.as_deref(), |blow| &blow.name)?;
        let foam = named("foam", foams(), settings.foam.as_deref(), |foam| &foam.name)?;
        let site = serde_json::to_value(design.site)?;
        let here = tissues().into_iter().filter(|tissue| Some(tissue.site.as_str()) == site.as_str()).collect();
        let under = named("place on this part of the body", here, settings.under.as_deref(), |tissue| &tissue.place)?;
        let liner_mm = settings.liner_mm.unwrap_or(f64::from(design.shell.gap_mm).max(LINER_MM[0]));
        if !(LINER_MM[0]..=LINER_MM[1]).contains(&liner_mm) {
            return Err(StrengthError::Liner(liner_mm).into());
        }
        let StrengthSettings { at_mm, lies, ranges, .. } = *settings;
        Ok(Self { blow, foam, liner_mm, under, at_mm, lies, ranges })
    }

    fn asked<'a>(&'a self, skin: &'a Surface, wall: &'a Wall, design: &Design) -> Asked<'a> {
        Asked {
            middle: &wall.middle,
            skin,
            foam: &self.foam,
            foam_mm: self.liner_mm,
            tissue: Some(&self.under),
            straps: &wall.straps,
            strap_pull_n: f64::from(design.strap_pull_n),
            blow: self.blow.blow(),
            at_mm: self.at_mm.unwrap_or_else(|| middle_of(&wall.middle)),
            layers: match self.lies {
                Lies::Upright => Vector3::z(),
                Lies::Lying => wall.middle.mean_out(),
            },
        }
    }
}

/// A guard's wall as it is computed on, and the straps that hold it.
struct Wall {
    middle: MidSurface,
    straps: Vec<StrapEnd>,
}

impl Wall {
    fn new(skin: &Surface, zone: &Zone, design: &Design, fineness: &Fineness, job: &Job) -> Result<Self, EngineError> {
        let layout = shell::arrange(skin, zone, design, &job.part(0.0, 0.4))?;
        job.step("cutting the wall into triangles", 0.4)?;
        let middle = MidSurface::new(skin, zone, design, &layout, fineness, &job.part(0.4, 1.0));
        let middle = middle.map_err(StrengthError::from)?;
        let straps = strap_ends(skin, &middle, &layout.fittings);
        Ok(Self { middle, straps })
    }
}

/// The least and the greatest thickness of a liner, mm.
const LINER_MM: [f64; 2] = [1.0, 20.0];

/// All materials at once.
fn in_each<'m>(
    asked: &Asked<'_>,
    materials: &'m Materials,
    ranges: bool,
    job: &Job,
) -> Result<Vec<(Answer, Maps, &'m Material)>, EngineError> {
    let found = std::thread::scope(|scope| {
        // They go on side by side, so that each one's share of its work is about that of all.
        let started: Vec<_> =
            materials.materials.iter().map(|material| scope.spawn(move || asked.of(material, ranges, job))).collect();
        started.into_iter().map(|thread| thread.join().unwrap_or(Err(AnswerError::Nowhere))).collect::<Vec<_>>()
    });
    let all = found.into_iter().zip(&materials.materials);
    all.map(|(found, material)| {
        let (answer, maps) = found.map_err(StrengthError::from)?;
        Ok((answer, maps, material))
    })
    .collect()
}

fn row(answer: Answer, material: &Material, volume_mm3: f64) -> StrengthRow {
    let grams = volume_mm3 / 1000.0 * material.density_g_per_cm3.value;
    let price = &material.price_per_kg;
    StrengthRow {
        answer,
        grams,
        price: Price { low: price.low * grams / 1000.0, high: price.high * grams / 1000.0, ..price.clone() },
        softening_c: material.softening_c.value,
    }
}

/// One of a list by its name, or the first.
fn named<T>(
    what: &'static str,
    mut all: Vec<T>,
    name: Option<&str>,
    of: fn(&T) -> &String,
) -> Result<T, StrengthError> {
    let found = name.map_or((!all.is_empty()).then_some(0), |name| all.iter().position(|one| of(one) == name));
    let known = || all.iter().map(|one| of(one).as_str()).collect::<Vec<_>>().join("; ");
    match found {
        Some(n) => Ok(all.swap_remove(n)),
        None => Err(StrengthError::Unknown { what, name: name.unwrap_or("").to_owned(), known: known() }),
    }
}

/// The node nearest to the mean of all.
fn middle_of(middle: &MidSurface) -> Point3<f64> {
    let mean: Vector3<f64> =
        middle.points.iter().map(|p| p.coords).sum::<Vector3<f64>>() / middle.points.len().max(1) as f64;
    let off = |p: &&Point3<f64>| (p.coords - mean).norm_squared();
    middle.points.iter().min_by(|a, b| off(a).total_cmp(&off(b))).copied().unwrap_or_else(Point3::origin)
}
