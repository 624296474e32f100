//! Where on the body a limb is: the one table of names, and of usual sizes.

use serde::{Deserialize, Serialize};

use crate::size::{Measure, UsualRange};

/// Where on the body the limb was scanned. Given by the user, never recognised; it sets defaults and is checked against
/// the limb's size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum BodySite {
    /// Elbow crease to wrist.
    Forearm,
    /// Wrist, thumb and hand.
    Wrist,
    /// The bony point of the shoulder with upper arm and part of the chest.
    Shoulder,
    /// One side of the rib cage.
    Ribs,
    /// Thigh.
    Thigh,
    /// Below the knee to above the ankle.
    Shin,
    /// Foot and ankle.
    Ankle,
    /// Anything else.
    Other,
}

impl BodySite {
    /// All of them, in the order in which they are offered.
    pub const ALL: [Self; 8] =
        [Self::Forearm, Self::Wrist, Self::Shoulder, Self::Ribs, Self::Thigh, Self::Shin, Self::Ankle, Self::Other];

    /// Its name where it stands alone, such as on a button.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Self::Forearm => "Forearm",
            Self::Wrist => "Wrist and hand",
            Self::Shoulder => "Shoulder",
            Self::Ribs => "Ribs",
            Self::Thigh => "Thigh",
            Self::Shin => "Shin",
            Self::Ankle => "Ankle and foot",
            Self::Other => "Another place",
        }
    }

    /// Its name in a sentence, after "the left".
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Forearm => "forearm",
            Self::Wrist => "wrist and hand",
            Self::Shoulder => "shoulder",
            Self::Ribs => "rib side",
            Self::Thigh => "thigh",
            Self::Shin => "shin",
            Self::Ankle => "ankle and foot",
            Self::Other => "limb",
        }
    }

    /// Its name in design files, in names of files and on the command line; the same as serde writes.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Forearm => "forearm",
            Self::Wrist => "wrist",
            Self::Shoulder => "shoulder",
            Self::Ribs => "ribs",
            Self::Thigh => "thigh",
            Self::Shin => "shin",
            Self::Ankle => "ankle",
            Self::Other => "other",
        }
    }

    /// The telling measures for this site and their usual ranges, mm.
    ///
    /// Body sizes: 5th and 95th percentile of ANSUR II women (Gordon et al., *2012 Anthropometric Survey of U.S. Army
    /// Personnel*, NATICK/TR-15/007, 2014): flexed forearm 235 to 296 round, wrist 142 to 168, flexed biceps 259 to
    /// 360, calf 328 to 423, ankle 193 to 242, foot 226 to 268 long, hand breadth 72 to 85. Each end is moved by a
    /// third or more for men, the young, swellings, bent joints and for how much was scanned; that allowance, and all
    /// figures for shoulder, ribs and thigh, are rules of thumb from no table.
    pub(crate) fn usual_ranges(self) -> &'static [UsualRange] {
        const fn range(measure: Measure, low_mm: f64, high_mm: f64) -> UsualRange {
            UsualRange { measure, low_mm, high_mm }
        }
        match self {
            Self::Forearm => const { &[range(Measure::Across, 50.0, 160.0), range(Measure::Girth, 120.0, 380.0)] },
            Self::Wrist => const { &[range(Measure::Across, 50.0, 230.0), range(Measure::Girth, 90.0, 400.0)] },
            Self::Shoulder => const { &[range(Measure::Across, 150.0, 500.0), range(Measure::End, 300.0, 1700.0)] },
            Self::Ribs => const { &[range(Measure::Across, 140.0, 500.0), range(Measure::End, 400.0, 2500.0)] },
            Self::Thigh => const { &[range(Measure::Across, 110.0, 300.0), range(Measure::Girth, 330.0, 850.0)] },
            Self::Shin => const { &[range(Measure::Across, 80.0, 200.0), range(Measure::Girth, 240.0, 480.0)] },
            Self::Ankle => const { &[range(Measure::Across, 100.0, 350.0), range(Measure::End, 150.0, 450.0)] },
            Self::Other => &[],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_is_what_the_design_file_holds_and_all_are_listed_once() {
        for site in BodySite::ALL {
            assert_eq!(serde_json::to_value(site).unwrap(), site.key());
        }
        let mut keys = BodySite::ALL.map(BodySite::key).to_vec();
        keys.sort_unstable();
        keys.dedup();
        assert_eq!(keys.len(), 8);
        // A ninth site would not be refused here, so it has to be in the list above.
        assert!(serde_json::from_str::<BodySite>("\"elbow\"").is_err());
    }
}
