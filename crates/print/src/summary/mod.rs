//! The page that goes with the guard: what was made, its picture, the materials, how to print it, the cautions.

mod page;
mod sheet;
mod table;

use crate::{Error, words};
use image::RgbImage;
use mechanics::{MaterialRow, MaterialTable};
use mesh::Job;
use shell::Design;

/// What the page says.
#[derive(Debug, Clone)]
pub struct Summary {
    /// The heading: the design's title.
    pub title: String,
    /// Club or team, if given.
    pub team: Option<String>,
    /// The day it was made, if given: without it the same design gives the same bytes.
    pub made_on: Option<String>,
    /// Size of the shell's box across, deep and along the limb, mm.
    pub size_mm: [f64; 3],
    /// Skin that the shell covers, mm².
    pub zone_area_mm2: f64,
    /// Whether it fits the printer, as a clause.
    pub bed: String,
    /// What to look at before it is printed or worn, a sentence each.
    pub warnings: Vec<String>,
    /// Its settings.
    pub design: Design,
    /// The materials on this shell.
    pub materials: MaterialTable,
    /// What a blow does to it.
    pub blow: BlowTold,
    /// Name of the filament that it is to be printed in, one of the table's.
    pub filament: Option<String>,
    /// The straps to cut for it, a clause each.
    pub straps: Vec<String>,
    /// The guard on the limb, such as a [`crate::picture::contact_sheet`] without a title.
    pub picture: RgbImage,
}

/// What a blow does to the guard, in words.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BlowTold {
    /// One row a material, in the order of the table; none where it cannot be told.
    pub rows: Vec<BlowRow>,
    /// What strikes it and what the figures are, or why there are none; a sentence each.
    pub notes: Vec<String>,
}

/// What a blow does to the guard in one material, in words.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BlowRow {
    /// The greatest pressure on the skin, kPa.
    pub pressure: String,
    /// How far it is pushed in, mm.
    pub dent: String,
    /// How many times as hard it could be stressed until it gives way.
    pub spare: String,
}

impl Summary {
    /// What was made, as pairs of label and text.
    #[must_use]
    pub fn facts(&self) -> Vec<(&'static str, String)> {
        let [across, deep, along] = self.size_mm;
        let mut facts = vec![
            ("Size", format!("{along:.0} mm along, {across:.0} × {deep:.0} mm across")),
            ("Covers", format!("{:.0} cm² of skin", self.zone_area_mm2 / 100.0)),
            ("Plastic", format!("{:.1} cm³", self.materials.volume_mm3 / 1000.0)),
            ("Printer", self.bed.clone()),
        ];
        if let Some(row) = self.chosen() {
            facts.insert(0, ("Filament", format!("{} ({}), {:.0} g", row.name, row.family.word(), row.grams)));
        }
        facts.extend(words::design(&self.design));
        if !self.straps.is_empty() {
            facts.push(("Straps", self.straps.join("; ")));
        }
        facts
    }

    /// The row of the filament that it is to be printed in.
    fn chosen(&self) -> Option<&MaterialRow> {
        self.materials.rows.iter().find(|row| Some(&row.name) == self.filament.as_ref())
    }

    /// The page as PDF: A4, to be printed at full size; two pages where one would leave too little of the picture.
    ///
    /// # Errors
    /// The picture is empty, the text is too long for two pages, or the work was stopped.
    pub fn pdf(self, job: &Job) -> Result<Vec<u8>, Error> {
        // Laying out and packing the page is one call that cannot be cancelled.
        job.aside(move || sheet::lay_out(&self))?
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use mechanics::{Materials, compare};

    fn summary(design: &Design, team: &str) -> Summary {
        Summary {
            title: "Guard for the left forearm, number 14".into(),
            team: Some(team.into()),
            made_on: None,
            size_mm: [67.0, 74.0, 174.0],
            zone_area_mm2: 19_000.0,
            bed: "not checked".into(),
            warnings: vec!["The squad number 1007 is unusual.".into()],
            design: design.clone(),
            materials: compare(44_400.0, 19_000.0, &Materials::built_in()),
            blow: BlowTold {
                rows: vec![
                    BlowRow {
                        pressure: "1400 (900 to 2300)".into(),
                        dent: "12 (8.1 to 15)".into(),
                        spare: "0.85 (0.61 to 1.2)".into()
                    };
                    3
                ],
                notes: vec!["In a blow: dome, 3 J.".into()],
            },
            filament: Some("PETG".into()),
            straps: vec!["25 mm wide: cut 330 mm".into()],
            picture: RgbImage::from_pixel(460, 250, image::Rgb([200, 180, 160])),
        }
    }

    fn page(design: &Design, team: &str) -> Result<Vec<u8>, Error> {
        summary(design, team).pdf(&Job::silent())
    }

    #[test]
    fn the_facts_name_the_filament_that_was_chosen_and_the_straps() {
        let facts = summary(&Design::default(), "").facts();
        for fact in [
            ("Covers", "190 cm² of skin"),
            ("Plastic", "44.4 cm³"),
            // 44.4 cm³ of 1.27 g/cm³.
            ("Filament", "PETG (semi-rigid), 56 g"),
            ("Straps", "25 mm wide: cut 330 mm"),
        ] {
            assert!(facts.contains(&(fact.0, fact.1.to_owned())), "{facts:?}");
        }
    }

    fn count(bytes: &[u8], what: &[u8]) -> usize {
        bytes.windows(what.len()).filter(|w| *w == what).count()
    }

    #[test]
    fn it_is_one_a4_page_and_the_same_each_time() {
        let bytes = page(&Design::default(), "Tern Harbour").unwrap();
        assert!(bytes.starts_with(b"%PDF-1."));
        // A4 is 210 by 297 mm: 595.276 by 841.890 points.
        assert_eq!(count(&bytes, b"/Type/Pages/Count 1/"), 1);
        assert_eq!(count(&bytes, b"/MediaBox[0 0 595.27"), 1);
        assert_eq!(count(&bytes, b"/CreationDate"), 0);
        assert_eq!(bytes, page(&Design::default(), "Tern Harbour").unwrap());
    }

    #[test]
    fn odd_words_do_no_harm_and_too_many_are_refused() {
        assert!(page(&Design::default(), "Tern\u{7} Harbour 雪 \u{1F3D2} ع").is_ok());
        let mark = |n| shell::Mark {
            text: format!("WORD{n}"),
            height_mm: 12.0,
            relief_mm: 0.6,
            at_mm: nalgebra::Point3::origin(),
            turn_deg: 0.0,
            kind: shell::MarkKind::Relief,
        };
        let marked = |n| Design { marks: (0..n).map(mark).collect(), ..Design::default() };
        assert_eq!(count(&page(&marked(40), "").unwrap(), b"/Type/Pages/Count 2/"), 1);
        let said = page(&marked(90), "").unwrap_err().to_string();
        assert!(said.contains("two pages"), "{said}");
    }
}
