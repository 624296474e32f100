//! Layout of the summary page. The picture takes the room that the words leave; where that is too little, the table and
//! the cautions go on a second page.

use super::Summary;
use super::page::{A4_MM, MM, Page, Style, Weight};
use super::table;
use crate::{Error, words};
use krilla::geom::Size;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::{Document, SerializeSettings};

pub(super) const INK: [u8; 3] = [44, 40, 36];
const SOFT: [u8; 3] = [110, 102, 94];
pub(super) const PAPER: [u8; 3] = [246, 242, 236];
pub(super) const ACCENT: [u8; 3] = [20, 104, 122];
const WARN: [u8; 3] = [252, 240, 226];
const WARN_EDGE: [u8; 3] = [150, 68, 10];

const TITLE: Style = Style { weight: Weight::Bold, size: 19.0, colour: INK };
const UNDER: Style = Style { weight: Weight::Regular, size: 10.0, colour: SOFT };
pub(super) const HEAD: Style = Style { weight: Weight::Bold, size: 10.5, colour: ACCENT };
pub(super) const BODY: Style = Style { weight: Weight::Regular, size: 8.4, colour: INK };
pub(super) const LABEL: Style = Style { weight: Weight::Bold, size: 8.4, colour: INK };
pub(super) const NOTE: Style = Style { weight: Weight::Regular, size: 7.2, colour: SOFT };

const MARGIN: f32 = 13.0 * MM;
const GAP: f32 = 4.0 * MM;
/// A lower picture would show too little.
const LEAST_PICTURE: f32 = 50.0 * MM;
const LABEL_WIDTH: f32 = 18.0 * MM;
/// Width of the column of facts as a share of both columns: most facts then take one line.
const FACTS_SHARE: f32 = 0.56;
const BULLET: f32 = 8.0;
/// Room for the ruler at the foot.
const RULER: f32 = 6.0 * MM;

/// Draws the page, or the two pages.
pub fn lay_out(summary: &Summary) -> Result<Vec<u8>, Error> {
    let (across, down) = summary.picture.dimensions();
    if across == 0 || down == 0 {
        return Err(Error::Empty);
    }
    let leaf = Leaf::new(summary);
    let below = [leaf.columns_height(), leaf.table_height(), leaf.cautions_height()];
    let room = |blocks: &[f32]| leaf.room() - blocks.iter().map(|height| height + GAP).sum::<f32>();
    let mut document = Document::new_with(SerializeSettings { xmp_metadata: false, ..SerializeSettings::default() });
    let about = Metadata::new().title(summary.title.clone()).language("en-GB".into());
    document.set_metadata(about.creator(concat!("Pauldron ", env!("CARGO_PKG_VERSION")).into()));
    let on_one = room(&below);
    if on_one >= LEAST_PICTURE {
        add_page(&mut document, |page| {
            let y = leaf.heading(page);
            let y = leaf.picture(page, y, on_one)?;
            let y = leaf.columns(page, y) + GAP;
            let y = leaf.table(page, y) + GAP;
            leaf.cautions(page, y);
            leaf.ruler(page);
            Ok(())
        })?;
    } else {
        let whole = leaf.inner * down as f32 / across as f32;
        let on_first = room(&below[..1]).min(whole);
        if on_first < LEAST_PICTURE || room(&below[1..]) < 0.0 {
            return Err(Error::Page(
                "the text does not fit on two pages; use fewer marks, fittings or filaments".into(),
            ));
        }
        add_page(&mut document, |page| {
            let y = leaf.heading(page);
            let y = leaf.picture(page, y, on_first)?;
            leaf.columns(page, y);
            leaf.ruler(page);
            Ok(())
        })?;
        add_page(&mut document, |page| {
            let y = leaf.heading(page);
            let y = leaf.table(page, y) + GAP;
            leaf.cautions(page, y);
            Ok(())
        })?;
    }
    document.finish().map_err(|e| Error::Page(format!("{e:?}")))
}

fn add_page(document: &mut Document, draw: impl FnOnce(&mut Page) -> Result<(), Error>) -> Result<(), Error> {
    let [width, height] = A4_MM.map(|l| l * MM);
    let size = Size::from_wh(width, height).ok_or_else(|| Error::Page("A4 is not a page size".into()))?;
    let mut leaf = document.start_page_with(PageSettings::new(size));
    let mut surface = leaf.surface();
    draw(&mut Page::new(&mut surface)?)?;
    surface.finish();
    leaf.finish();
    Ok(())
}

/// What stands on a page, block by block: each knows its height, and draws itself from its top to its foot.
struct Leaf<'a> {
    summary: &'a Summary,
    facts: Vec<(&'static str, String)>,
    cautions: Vec<String>,
    notes: Vec<String>,
    /// Width between the margins.
    inner: f32,
}

impl<'a> Leaf<'a> {
    fn new(summary: &'a Summary) -> Self {
        let cautions = summary.warnings.iter().cloned().chain(words::cautions(summary.chosen())).collect();
        let inner = A4_MM[0] * MM - 2.0 * MARGIN;
        Self { summary, facts: summary.facts(), cautions, notes: table::notes(summary), inner }
    }

    /// Widths of the columns of facts and of hints.
    fn columns_wide(&self) -> [f32; 2] {
        [FACTS_SHARE, 1.0 - FACTS_SHARE].map(|share| share * (self.inner - GAP))
    }

    fn under(&self) -> String {
        let lines: Vec<&str> =
            [&self.summary.team, &self.summary.made_on].into_iter().flatten().map(String::as_str).collect();
        lines.join(", ")
    }

    fn heading_height(&self) -> f32 {
        let title = TITLE.wrap(&self.summary.title, self.inner).len() as f32 * TITLE.line();
        let under = self.under();
        let lines = if under.is_empty() { 0 } else { UNDER.wrap(&under, self.inner).len() };
        title + lines as f32 * UNDER.line() + 0.4 * GAP
    }

    fn heading(&self, page: &mut Page) -> f32 {
        let y = page.paragraph(TITLE, MARGIN, MARGIN, self.inner, &self.summary.title);
        let under = self.under();
        if !under.is_empty() {
            page.paragraph(UNDER, MARGIN, y, self.inner, &under);
        }
        MARGIN + self.heading_height()
    }

    /// Height between the heading and the ruler.
    fn room(&self) -> f32 {
        A4_MM[1] * MM - 2.0 * MARGIN - RULER - self.heading_height()
    }

    /// The picture in the middle of a room of this height.
    fn picture(&self, page: &mut Page, top: f32, room: f32) -> Result<f32, Error> {
        let picture = &self.summary.picture;
        let (across, down) = picture.dimensions();
        let scale = (self.inner / across as f32).min(room / down as f32);
        let (width, height) = (across as f32 * scale, down as f32 * scale);
        page.picture(MARGIN + (self.inner - width) / 2.0, top + (room - height) / 2.0, width, height, picture)?;
        Ok(top + room + GAP)
    }

    fn columns_height(&self) -> f32 {
        let [facts, hints] = self.columns_wide();
        let lines: usize = self.facts.iter().map(|(_, t)| BODY.wrap(t, facts - LABEL_WIDTH).len()).sum();
        HEAD.line() + (lines as f32 * BODY.line()).max(bullets_height(words::print_hints(), hints))
    }

    /// What was made on the left, how to print it on the right.
    fn columns(&self, page: &mut Page, top: f32) -> f32 {
        let [facts, hints] = self.columns_wide();
        let mut y = page.paragraph(HEAD, MARGIN, top, facts, "What was made");
        for (label, text) in &self.facts {
            page.words(LABEL, MARGIN, y + LABEL.size * 1.05, label);
            y = page.paragraph(BODY, MARGIN + LABEL_WIDTH, y, facts - LABEL_WIDTH, text);
        }
        let right = MARGIN + facts + GAP;
        let y = page.paragraph(HEAD, right, top, hints, "Printing it (common practice)");
        bullets(page, right, y, hints, words::print_hints());
        top + self.columns_height()
    }

    fn table_height(&self) -> f32 {
        let notes: usize = self.notes.iter().map(|n| NOTE.wrap(n, self.inner).len()).sum();
        table::height(self.summary) + notes as f32 * NOTE.line()
    }

    fn table(&self, page: &mut Page, top: f32) -> f32 {
        let mut y = table::draw(page, self.summary, [MARGIN, top], self.inner);
        for note in &self.notes {
            y = page.paragraph(NOTE, MARGIN, y, self.inner, note);
        }
        top + self.table_height()
    }

    fn cautions_height(&self) -> f32 {
        HEAD.line() + bullets_height(&self.cautions, self.inner - 2.0 * GAP) + GAP
    }

    fn cautions(&self, page: &mut Page, top: f32) {
        let (height, wide) = (self.cautions_height(), self.inner - 2.0 * GAP);
        page.block(MARGIN, top, self.inner, height, WARN);
        page.block(MARGIN, top, 2.5, height, WARN_EDGE);
        let head = Style { colour: WARN_EDGE, ..HEAD };
        let y = page.paragraph(head, MARGIN + GAP, top + 0.45 * GAP, wide, "Before it is worn");
        bullets(page, MARGIN + GAP, y, wide, &self.cautions);
    }

    /// A known length, to check that the page was printed at full size.
    fn ruler(&self, page: &mut Page) {
        let foot = A4_MM[1] * MM - MARGIN;
        page.block(MARGIN, foot - 2.0, 100.0 * MM, 0.8, INK);
        for end in [0.0, 50.0, 100.0] {
            page.block(MARGIN + end * MM - 0.4, foot - 5.0, 0.8, 6.0, INK);
        }
        page.words(NOTE, MARGIN + 103.0 * MM, foot, "100 mm on paper when printed at full size");
    }
}

fn bullets_height(items: &[impl AsRef<str>], width: f32) -> f32 {
    items.iter().map(|t| BODY.wrap(t.as_ref(), width - BULLET).len() as f32 * BODY.line()).sum()
}

fn bullets(page: &mut Page, x: f32, top: f32, width: f32, items: &[impl AsRef<str>]) {
    let mut y = top;
    for item in items {
        page.words(BODY, x, y + BODY.size * 1.05, "•");
        y = page.paragraph(BODY, x + BULLET, y, width - BULLET, item.as_ref());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::picture::legible::{LEAST_CONTRAST, contrast};

    #[test]
    fn every_word_on_the_page_can_be_read() {
        let white = [255; 3];
        for (ink, under) in [
            (TITLE.colour, white),
            (UNDER.colour, white),
            (HEAD.colour, white),
            (BODY.colour, white),
            (BODY.colour, PAPER),
            (BODY.colour, table::CHOSEN),
            (NOTE.colour, white),
            (white, ACCENT),
            (WARN_EDGE, WARN),
            (BODY.colour, WARN),
        ] {
            assert!(contrast(ink, under) >= LEAST_CONTRAST, "{ink:?} on {under:?}: {}", contrast(ink, under));
        }
    }
}
