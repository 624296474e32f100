//! What is asked about the strength of a guard, looked up.

use locker::{DesignFile, LINER_MM, Lies, StrengthSettings};
use mechanics::ready::{Aimed, AnswerError, Setting};
use mechanics::striker::Line;
use mechanics::surroundings::{Foam, SourcedBlow, SourcedTissue, blows, foams, tissues};
use nalgebra::{Point3, Vector3};
use scan::BodySite;

use super::wall::{GuardWall, middle_of};
use crate::{EngineError, StrengthError};

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
}

/// What may be under a guard at a site of the body, the usual one first.
///
/// # Errors
/// None that a site of the program has.
pub fn tissues_at(site: BodySite) -> Result<Vec<SourcedTissue>, EngineError> {
    let site = serde_json::to_value(site)?;
    Ok(tissues().into_iter().filter(|tissue| Some(tissue.site.as_str()) == site.as_str()).collect())
}

impl Chosen {
    /// Looks up what the settings name, for a design.
    ///
    /// # Errors
    /// [`StrengthError::Unknown`], [`StrengthError::Liner`].
    pub fn new(design: &DesignFile, settings: &StrengthSettings) -> Result<Self, EngineError> {
        let blow = named("blow", blows(), settings.blow.as_deref(), |blow| &blow.name)?;
        let foam = named("foam", foams(), settings.foam.as_deref(), |foam| &foam.name)?;
        let here = tissues_at(design.site)?;
        let under = named("place on this part of the body", here, settings.under.as_deref(), |tissue| &tissue.place)?;
        let liner_mm = settings.liner_mm.unwrap_or_else(|| usual_liner_mm(&design.shell));
        if !(LINER_MM[0]..=LINER_MM[1]).contains(&liner_mm) {
            return Err(StrengthError::Liner(liner_mm).into());
        }
        let StrengthSettings { at_mm, lies, .. } = *settings;
        Ok(Self { blow, foam, liner_mm: f64::from(liner_mm), under, at_mm: at_mm.map(|at| at.cast()), lies })
    }

    pub(super) fn setting<'a>(&'a self, wall: &'a GuardWall) -> Setting<'a> {
        Setting {
            foam: &self.foam,
            foam_mm: self.liner_mm,
            tissue: Some(&self.under),
            straps: &wall.straps,
            strap_pull_n: wall.strap_pull_n,
            layers: match self.lies {
                Lies::Upright => Vector3::z(),
                Lies::Lying => wall.middle.mean_out(),
            },
        }
    }

    /// Where the guard is struck, mm.
    pub(super) fn place(&self, wall: &GuardWall) -> Point3<f64> {
        self.at_mm.unwrap_or_else(|| middle_of(&wall.middle))
    }

    pub(super) fn aimed(&self, wall: &GuardWall) -> Result<Aimed, StrengthError> {
        let line = Line::square_to(&wall.middle, &self.place(wall)).ok_or(AnswerError::Nowhere)?;
        Ok(Aimed { blow: self.blow.blow(), line })
    }
}

/// The liner where nothing is said, mm: as thick as the gap.
#[must_use]
pub fn usual_liner_mm(design: &shell::Design) -> f32 {
    design.gap_mm.clamp(LINER_MM[0], LINER_MM[1])
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
