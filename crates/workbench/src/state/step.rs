//! The steps of the work, in order.

/// One step of the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Step {
    /// Open the scan, see what was found.
    #[default]
    Scan,
    /// Mark what is to be covered.
    Zone,
    /// Shape the shell.
    Shell,
    /// See how it sits.
    Fit,
    /// Choose what it is printed in.
    Material,
    /// Save what the printer needs.
    Print,
    /// Show it to the athlete.
    Show,
}

impl Step {
    /// All of them.
    pub const ALL: [Self; 7] =
        [Self::Scan, Self::Zone, Self::Shell, Self::Fit, Self::Material, Self::Print, Self::Show];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Scan => "Scan",
            Self::Zone => "Zone",
            Self::Shell => "Shell",
            Self::Fit => "Fit",
            Self::Material => "Material",
            Self::Print => "Print",
            Self::Show => "Show",
        }
    }

    /// The step after it.
    pub fn next(self) -> Option<Self> {
        Self::ALL.into_iter().skip_while(|step| *step != self).nth(1)
    }

    /// The step before it.
    pub fn previous(self) -> Option<Self> {
        Self::ALL.into_iter().take_while(|step| *step != self).last()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_follow_each_other_and_end() {
        let mut walked = vec![Step::Scan];
        while let Some(next) = walked[walked.len() - 1].next() {
            assert_eq!(next.previous(), walked.last().copied());
            walked.push(next);
        }
        assert_eq!(walked, Step::ALL);
        assert_eq!(Step::Scan.previous(), None);
    }
}
