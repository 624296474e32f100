//! How large a limb is, and whether the body site given for it can be right.

use std::fmt;

use mesh::{Cancelled, Job, Mesh};
use serde::Serialize;

use crate::BodySite;
use crate::axes::LongAxis;
use crate::ends::OpenLoop;

/// The size of a limb that stands on its axes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct LimbSize {
    /// Along the axis, mm.
    pub length_mm: f64,
    /// Across it where it is broadest, mm.
    pub across_mm: f64,
    /// Median girth of its sections, mm.
    pub girth_mm: f64,
    /// Girth of its widest open end, mm; 0 without any.
    pub end_mm: f64,
    /// Open ends.
    pub ends: usize,
}

/// Which figure of a [`LimbSize`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Measure {
    /// [`LimbSize::across_mm`].
    Across,
    /// [`LimbSize::girth_mm`].
    Girth,
    /// [`LimbSize::end_mm`].
    End,
}

/// The range in which a measure usually lies.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct UsualRange {
    /// What is measured.
    pub measure: Measure,
    /// Rarely less, mm.
    pub low_mm: f64,
    /// Rarely more, mm.
    pub high_mm: f64,
}

/// Why a body site is doubted: a measure of the limb outside what is usual there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SiteDoubt {
    /// The site that was given.
    pub site: BodySite,
    /// What the limb measures, mm.
    pub measured_mm: f64,
    /// What would be usual.
    pub usual: UsualRange,
}

impl LimbSize {
    pub(crate) fn of(upright: &Mesh, ends: &[OpenLoop], job: &Job) -> Result<Self, Cancelled> {
        let (low, high) = upright.bounds().unwrap_or_default();
        let sides = (high - low).cast::<f64>();
        Ok(Self {
            length_mm: sides.z,
            across_mm: sides.x.max(sides.y),
            girth_mm: LongAxis::along_z(upright, job)?.median_girth_mm(),
            end_mm: ends.iter().map(|end| end.girth_mm).fold(0.0, f64::max),
            ends: ends.len(),
        })
    }

    /// One of its figures, mm.
    #[must_use]
    pub fn get(&self, measure: Measure) -> f64 {
        match measure {
            Measure::Across => self.across_mm,
            Measure::Girth => self.girth_mm,
            Measure::End => self.end_mm,
        }
    }

    /// The first measure that speaks against `site`; none where all are usual there.
    ///
    /// A limb without an open end is not judged by [`Measure::End`].
    #[must_use]
    pub fn doubt(&self, site: BodySite) -> Option<SiteDoubt> {
        site.usual_ranges().iter().find_map(|usual| {
            let measured_mm = self.get(usual.measure);
            let told = usual.measure != Measure::End || self.ends > 0;
            (told && !(usual.low_mm..=usual.high_mm).contains(&measured_mm)).then_some(SiteDoubt {
                site,
                measured_mm,
                usual: *usual,
            })
        })
    }
}

impl fmt::Display for SiteDoubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = match self.usual.measure {
            Measure::Across => "across",
            Measure::Girth => "round its middle",
            Measure::End => "round its open end",
        };
        let (than, limit) = if self.measured_mm > self.usual.high_mm {
            ("more", self.usual.high_mm)
        } else {
            ("less", self.usual.low_mm)
        };
        let article = if self.site == BodySite::Ankle { "an" } else { "a" };
        write!(
            f,
            "This scan is {:.0} mm {what}; {article} {} is rarely {than} than {limit:.0} mm. Are the body site and the unit right?",
            self.measured_mm,
            self.site.name()
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_doubt_names_the_measure_and_the_limit_that_is_passed() {
        let size = LimbSize { length_mm: 346.0, across_mm: 244.4, girth_mm: 330.0, end_mm: 726.0, ends: 2 };
        assert_eq!(
            size.doubt(BodySite::Forearm).unwrap().to_string(),
            "This scan is 244 mm across; a forearm is rarely more than 160 mm. Are the body site and the unit right?"
        );
        assert_eq!(
            LimbSize { across_mm: 75.0, ..size }.doubt(BodySite::Ankle).unwrap().to_string(),
            "This scan is 75 mm across; an ankle and foot is rarely less than 100 mm. Are the body site and the unit right?"
        );
        assert_eq!(size.doubt(BodySite::Shoulder), None);
        assert_eq!(size.doubt(BodySite::Other), None);
        assert_eq!(LimbSize { end_mm: 0.0, ends: 0, ..size }.doubt(BodySite::Shoulder), None);
    }
}
