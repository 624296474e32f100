//! The print step: how the part lies on the printer's bed.

use std::sync::Arc;

use print::bed::OnBed;
use shell::Shell;

/// How the part lies on the bed, and what that was found for.
#[derive(Debug, Clone, Default)]
pub struct PrintView {
    /// How it lies; none if not known.
    pub laid: Option<OnBed>,
    /// The shell and the sides of the bed that it was found for.
    pub of: Option<(Arc<Shell>, [f32; 3])>,
    /// The printer's build volume as it is being typed; none while it is not asked for.
    pub asked_bed: Option<AskedBed>,
}

/// The printer's build volume as it is being typed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct AskedBed {
    /// Width, depth and height, mm.
    pub typed: [String; 3],
    /// Why they will not do.
    pub refusal: Option<String>,
}

impl AskedBed {
    /// Begins with what is known.
    pub fn of(known: Option<[f32; 3]>) -> Self {
        let typed = known.map_or_else(Default::default, |sides| sides.map(print::words::tenths));
        Self { typed, refusal: None }
    }

    /// The three sides, mm.
    ///
    /// # Errors
    /// A sentence where one of them is no number or out of range.
    pub fn sides_mm(&self) -> Result<[f32; 3], String> {
        let mut sides = [0.0; 3];
        for ((side, text), name) in sides.iter_mut().zip(&self.typed).zip(["width", "depth", "height"]) {
            let number = text.trim().trim_end_matches("mm").trim().replace(',', ".").parse().ok();
            *side = number.filter(|mm| session::BED_MM.contains(mm)).ok_or_else(|| {
                let (least, most) = (session::BED_MM.start(), session::BED_MM.end());
                format!("The {name} must be a number from {least} to {most} mm.")
            })?;
        }
        Ok(sides)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bed_is_taken_as_people_write_it_and_refused_in_words() {
        let asked = |typed: [&str; 3]| AskedBed { typed: typed.map(str::to_owned), refusal: None }.sides_mm();
        assert_eq!(asked(["220", " 220 mm", "249,5"]), Ok([220.0, 220.0, 249.5]));
        assert!(asked(["", "220", "250"]).is_err_and(|why| why.contains("width")));
        assert!(asked(["220", "22", "250"]).is_err_and(|why| why.contains("depth")));
        assert!(asked(["220", "220", "high"]).is_err_and(|why| why.contains("height")));
        assert!(asked(["220", "220", "NaN"]).is_err());
        assert_eq!(AskedBed::of(Some([220.0, 210.5, 250.0])).sides_mm(), Ok([220.0, 210.5, 250.0]));
    }
}
