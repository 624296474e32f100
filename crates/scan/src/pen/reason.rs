//! Why there is no closed pen line, typed, so that each user interface can phrase it and add its own way out.

use std::fmt;

use serde::Serialize;

/// Why no pen line was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum NoLine {
    /// The scan has no colours at all.
    NoColours,
    /// The scan has no triangles.
    NoSurface,
    /// Nothing on the skin looks like ink.
    NoInk,
    /// There is ink, but no stroke long and plain enough.
    OnlyStrokes,
}

impl fmt::Display for NoLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NoColours => "The scan has no colours, so a pen line cannot be seen.",
            Self::NoSurface => "The scan has no surface.",
            Self::NoInk => "No line of one ink was found on the skin; a scan in even light may show it.",
            Self::OnlyStrokes => "Some strokes were found, but none long and plain enough to be a pen line.",
        })
    }
}

/// Why a ring of ink is no closed pen line.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum NotClosed {
    /// It crosses itself.
    CrossesItself,
    /// It is too small to be a region.
    TooSmall,
    /// It is too thin to be told from a crease.
    TooThin,
    /// A gap is longer than may be closed.
    WideGap {
        /// Its length, mm.
        length_mm: f32,
    },
    /// Gaps make up too much of it.
    TooMuchMissing,
    /// It is dashed, and its dashes can be joined in more than one way.
    ManyWays,
    /// It does not cut the skin in two.
    DoesNotPart,
    /// It encloses too little skin.
    TooLittleSkin,
}

impl fmt::Display for NotClosed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CrossesItself => f.write_str("The line crosses itself."),
            Self::TooSmall => f.write_str("The ring of ink is too small to be a region."),
            Self::TooThin => f.write_str("The line is too thin to be told from a crease."),
            Self::WideGap { length_mm } => write!(f, "There is a gap of {length_mm:.0} mm in the ink."),
            Self::TooMuchMissing => f.write_str("Too much of the line is missing."),
            Self::ManyWays => f.write_str("Its dashes can be joined in more than one way."),
            Self::DoesNotPart => f.write_str("The line does not cut the skin in two."),
            Self::TooLittleSkin => f.write_str("The line encloses too little skin."),
        }
    }
}

/// Why a line counts as open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct WhyOpen {
    /// How many of its ends run off the scan.
    pub ends_off_scan: usize,
    /// Why the best ring of ink was refused, where there was one.
    pub refused: Option<NotClosed>,
}

impl fmt::Display for WhyOpen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self.ends_off_scan {
            0 => "The pen line does not close.",
            1 => "The pen line runs off the scan at one end.",
            _ => "The pen line runs off the scan at both ends.",
        })?;
        self.refused.map_or(Ok(()), |refused| write!(f, " {refused}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_reason_speaks_of_one_surface_or_of_figures_behind_the_point() {
        let wide = NotClosed::WideGap { length_mm: 12.34567 };
        let open = WhyOpen { ends_off_scan: 1, refused: Some(wide) };
        assert_eq!(open.to_string(), "The pen line runs off the scan at one end. There is a gap of 12 mm in the ink.");
        for none in [NoLine::NoColours, NoLine::NoSurface, NoLine::NoInk, NoLine::OnlyStrokes] {
            let told = none.to_string();
            assert!(told.ends_with('.') && !told.contains("--") && !told.contains("click"), "{told}");
        }
    }
}
