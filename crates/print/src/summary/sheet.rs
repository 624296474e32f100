//! Layout of the summary page. The picture takes the room that the words leave.

use super::Summary;
use super::page::{A4_MM, MM, Page, Style, Weight};
use crate::{Error, words};
use krilla::geom::Size;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::{Document, SerializeSettings};
use mechanics::MaterialRow;

const INK: [u8; 3] = [44, 40, 36];
const SOFT: [u8; 3] = [110, 102, 94];
const PAPER: [u8; 3] = [246, 242, 236];
const ACCENT: [u8; 3] = [20, 104, 122];
const WARN: [u8; 3] = [252, 240, 226];
const WARN_EDGE: [u8; 3] = [150, 68, 10];

const TITLE: Style = Style { weight: Weight::Bold, size: 19.0, colour: INK };
const UNDER: Style = Style { weight: Weight::Regular, size: 10.0, colour: SOFT };
const HEAD: Style = Style { weight: Weight::Bold, size: 10.5, colour: ACCENT };
const BODY: Style = Style { weight: Weight::Regular, size: 8.4, colour: INK };
const LABEL: Style = Style { weight: Weight::Bold, size: 8.4, colour: INK };
const NOTE: Style = Style { weight: Weight::Regular, size: 7.2, colour: SOFT };

const MARGIN: f32 = 13.0 * MM;
const GAP: f32 = 4.0 * MM;
/// A lower picture would show too little.
const LEAST_PICTURE: f32 = 45.0 * MM;
const LABEL_WIDTH: f32 = 18.0 * MM;
const BULLET: f32 = 8.0;

/// Draws the page.
pub fn lay_out(summary: &Summary) -> Result<Vec<u8>, Error> {
    let mut document = Document::new_with(SerializeSettings { xmp_metadata: false, ..SerializeSettings::default() });
    let about = Metadata::new().title(summary.title.clone()).language("en-GB".into());
    document.set_metadata(about.creator(concat!("Pauldron ", env!("CARGO_PKG_VERSION")).into()));
    let [width, height] = A4_MM.map(|l| l * MM);
    let size = Size::from_wh(width, height).ok_or_else(|| Error::Page("A4 is not a page size".into()))?;
    let mut leaf = document.start_page_with(PageSettings::new(size));
    let mut surface = leaf.surface();
    fill(&mut Page::new(&mut surface)?, summary, width, height)?;
    surface.finish();
    leaf.finish();
    document.finish().map_err(|e| Error::Page(format!("{e:?}")))
}

fn fill(page: &mut Page, summary: &Summary, width: f32, height: f32) -> Result<(), Error> {
    let inner = width - 2.0 * MARGIN;
    let column = (inner - GAP) / 2.0;
    let facts = summary.facts();
    let facts_height = HEAD.line()
        + facts.iter().map(|(_, t)| BODY.wrap(t, column - LABEL_WIDTH).len() as f32 * BODY.line()).sum::<f32>();
    let hints_height = HEAD.line() + bullets_height(words::print_hints(), column);
    let notes: Vec<String> = table_notes(summary);
    let notes_height: f32 = notes.iter().map(|n| NOTE.wrap(n, inner).len() as f32 * NOTE.line()).sum();
    let row = BODY.line() * 1.25;
    let table_height = HEAD.line() + row * (1 + summary.materials.rows.len()) as f32 + 3.0 + notes_height;
    let box_inner = inner - 2.0 * GAP;
    let cautions: Vec<&str> =
        summary.warnings.iter().map(String::as_str).chain(words::cautions().iter().copied()).collect();
    let cautions_height = HEAD.line() + bullets_height(&cautions, box_inner) + GAP;
    let foot = height - MARGIN;
    let cautions_top = foot - 6.0 * MM - cautions_height;
    let table_top = cautions_top - GAP - table_height;
    let columns_top = table_top - GAP - facts_height.max(hints_height);

    let mut y = page.paragraph(TITLE, MARGIN, MARGIN, inner, &summary.title);
    let under: Vec<&str> = [&summary.team, &summary.made_on].into_iter().flatten().map(String::as_str).collect();
    if !under.is_empty() {
        y = page.paragraph(UNDER, MARGIN, y, inner, &under.join(", "));
    }
    y += 0.4 * GAP;

    let room = columns_top - GAP - y;
    let (across, down) = summary.picture.dimensions();
    if across == 0 || down == 0 {
        return Err(Error::Empty);
    }
    if room < LEAST_PICTURE {
        return Err(Error::Page("the text does not fit on one page; use fewer or shorter marks and fittings".into()));
    }
    let scale = (inner / across as f32).min(room / down as f32);
    let (picture_width, picture_height) = (across as f32 * scale, down as f32 * scale);
    let picture_x = MARGIN + (inner - picture_width) / 2.0;
    page.picture(picture_x, y + (room - picture_height) / 2.0, picture_width, picture_height, &summary.picture)?;

    let mut y = page.paragraph(HEAD, MARGIN, columns_top, column, "What was made");
    for (label, text) in &facts {
        page.words(LABEL, MARGIN, y + LABEL.size * 1.05, label);
        y = page.paragraph(BODY, MARGIN + LABEL_WIDTH, y, column - LABEL_WIDTH, text);
    }
    let right = MARGIN + column + GAP;
    let y = page.paragraph(HEAD, right, columns_top, column, "Printing it (common practice)");
    bullets(page, right, y, column, words::print_hints());

    let mut y = table(page, summary, MARGIN, table_top, inner, row);
    for note in &notes {
        y = page.paragraph(NOTE, MARGIN, y, inner, note);
    }

    page.block(MARGIN, cautions_top, inner, cautions_height, WARN);
    page.block(MARGIN, cautions_top, 2.5, cautions_height, WARN_EDGE);
    let head = Style { colour: WARN_EDGE, ..HEAD };
    let y = page.paragraph(head, MARGIN + GAP, cautions_top + 0.45 * GAP, box_inner, "Before it is worn");
    bullets(page, MARGIN + GAP, y, box_inner, &cautions);

    // A known length, to check that the page was printed at full size.
    page.block(MARGIN, foot - 2.0, 100.0 * MM, 0.8, INK);
    for end in [0.0, 50.0, 100.0] {
        page.block(MARGIN + end * MM - 0.4, foot - 5.0, 0.8, 6.0, INK);
    }
    page.words(NOTE, MARGIN + 103.0 * MM, foot, "100 mm on paper when printed at full size");
    Ok(())
}

fn bullets_height(items: &[&str], width: f32) -> f32 {
    items.iter().map(|t| BODY.wrap(t, width - BULLET).len() as f32 * BODY.line()).sum()
}

fn bullets(page: &mut Page, x: f32, top: f32, width: f32, items: &[&str]) {
    let mut y = top;
    for item in items {
        page.words(BODY, x, y + BODY.size * 1.05, "•");
        y = page.paragraph(BODY, x + BULLET, y, width - BULLET, item);
    }
}

/// Column headings, and where each column starts as a share of the width.
const COLUMNS: [(&str, f32); 7] = [
    ("Material", 0.01),
    ("Weight", 0.20),
    ("Filament", 0.28),
    ("Rigidity along, around", 0.44),
    ("Compared", 0.655),
    ("As stiff at", 0.77),
    ("Softens at", 0.885),
];

fn table(page: &mut Page, summary: &Summary, x: f32, top: f32, width: f32, row: f32) -> f32 {
    let mut y = page.paragraph(HEAD, x, top, width, "The same shell in each material") + 2.0;
    page.block(x, y, width, row, ACCENT);
    let white = Style { colour: [255; 3], ..LABEL };
    for (head, at) in COLUMNS {
        page.words(white, x + at * width, y + row * 0.68, head);
    }
    y += row;
    for (n, material) in summary.materials.rows.iter().enumerate() {
        if n % 2 == 1 {
            page.block(x, y, width, row, PAPER);
        }
        for ((_, at), (k, cell)) in COLUMNS.into_iter().zip(cells(material).iter().enumerate()) {
            page.words(if k == 0 { LABEL } else { BODY }, x + at * width, y + row * 0.68, cell);
        }
        y += row;
    }
    y + 1.0
}

fn cells(row: &MaterialRow) -> [String; 7] {
    // Newton metres, to keep the figures short.
    let stiff =
        |n_mm: f64| if n_mm < 9_950.0 { format!("{:.1}", n_mm / 1000.0) } else { format!("{:.0}", n_mm / 1000.0) };
    let unsure = if row.softening_unconfirmed { "?" } else { "" };
    [
        format!("{} ({})", row.name, row.family.word()),
        format!("{:.0} g", row.grams),
        format!("{:.2} to {:.2} {}", row.cost_low, row.cost_high, row.currency),
        format!("{}, {} N·m", stiff(row.rigidity_along_n_mm), stiff(row.rigidity_around_n_mm)),
        format!("{:.*}", if row.rigidity_to_first < 0.1 { 3 } else { 2 }, row.rigidity_to_first),
        format!("{:.1} mm", row.as_stiff_thickness_mm),
        format!("{:.0} °C{unsure}", row.softening_c),
    ]
}

fn table_notes(summary: &Summary) -> Vec<String> {
    let table = &summary.materials;
    let first = table.rows.first().map_or("the first material", |r| r.name.as_str());
    let mut notes = vec![
        format!(
            "Rigidity: {}; wall {} mm. Compared: rigidity over that of {first}. As stiff at: the wall that would match \
             {first}, ribs grown with it.",
            mechanics::WHAT_RIGIDITY_MEANS,
            words::tenths(table.built_thickness_mm)
        ),
        "Weight and filament cost: printed solid, without waste or supports; usual shop prices.".into(),
    ];
    if table.rows.iter().any(|r| r.softening_unconfirmed) {
        notes[1].push_str(" ? marks a figure that no source confirms.");
    }
    notes
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
            (NOTE.colour, white),
            (white, ACCENT),
            (WARN_EDGE, WARN),
            (BODY.colour, WARN),
        ] {
            assert!(contrast(ink, under) >= LEAST_CONTRAST, "{ink:?} on {under:?}: {}", contrast(ink, under));
        }
    }
}
