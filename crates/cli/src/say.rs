//! Findings in plain words.

use std::fmt::Write as _;
use std::path::Path;

use engine::{
    CheckReport, Comparison, EngineError, FileUse, InspectReport, Lightest, LookInList, MakeReport, PenSeen, Soundness,
    Started, StrengthReport, StrengthRow, Trial, Warning,
};
use locker::Lies;
use mechanics::MaterialTable;
use mechanics::answer::{Ranged, Weak};
use mechanics::bare::Bare;
use print::words::tenths;
use shell::{Mark, MarkKind, Picture};

/// Why a command came to nothing, and which option helps.
pub fn refused(error: &EngineError) -> String {
    let hint = match error {
        EngineError::NoPenLine { .. } => " Mark the zone with --strokes or --outline instead.",
        EngineError::PenLineOpen { proposal, .. } if proposal.is_empty() => {
            " Draw the line again and rescan, or mark the zone with --strokes or --outline."
        }
        EngineError::PenLineOpen { .. } => {
            " Take that with --accept-proposal, or mark the zone with --strokes or --outline."
        }
        EngineError::FolderTaken { .. } => " Use --overwrite to write there anyway.",
        EngineError::FileThere { .. } => " Use --force to replace it.",
        _ => "",
    };
    format!("{error}{hint}")
}

/// What `inspect` found.
pub fn inspected(report: &InspectReport) -> String {
    let scan = &report.scan;
    let [x, y, z] = scan.size_mm;
    let mut out = String::new();
    let _ = writeln!(out, "Format      {}", report.format);
    let sure = if scan.unit.sure { "" } else { " (not sure: give --unit)" };
    let _ = writeln!(out, "Unit        {}{sure}: {}", scan.unit.unit.name(), scan.unit.why);
    let _ = writeln!(out, "Size        {x:.0} × {y:.0} × {z:.0} mm");
    let _ = writeln!(out, "Surface     {} triangles, {} points", scan.triangles, scan.points);
    let _ = writeln!(out, "Open edges  {}", scan.open_edges);
    let _ = writeln!(out, "Pieces      {}", scan.pieces);
    let _ = writeln!(out, "Colours     {}", colours(report.colours_from));
    match &report.pen {
        Some(PenSeen::Closed { sentence, area_cm2, .. }) => {
            let _ = writeln!(out, "Pen line    found, {area_cm2:.0} cm² inside: {sentence}");
        }
        Some(PenSeen::Open { why, .. }) => {
            let _ = writeln!(out, "Pen line    does not close: {why}");
        }
        Some(PenSeen::None { why }) => {
            let _ = writeln!(out, "Pen line    none: {why}");
        }
        None => {}
    }
    out.push_str("Cleaning would\n");
    match (&scan.cleaning, &scan.trouble) {
        (Some(cleaning), _) => {
            list(&mut out, cleaning.steps.iter().map(|step| step.sentence.as_str()));
            warn(&mut out, &cleaning.warnings);
        }
        (None, trouble) => list(&mut out, [trouble.as_deref().unwrap_or("fail")]),
    }
    warn(&mut out, &report.warnings);
    out
}

fn colours(from: &str) -> &str {
    match from {
        "picture" => "from a picture",
        "points" => "at the points",
        _ => "none",
    }
}

/// What `start` did.
pub fn started(started: &Started, design: &Path) -> String {
    let mut out = start_words(started);
    let _ = writeln!(out, "Design      {}", design.display());
    let _ = writeln!(out, "Next        pauldron make {} --out guard", design.display());
    out
}

/// What the demo started from.
pub fn started_from(started: &Started, scan: &Path) -> String {
    format!("Scan        {}\n{}", scan.display(), start_words(started))
}

fn start_words(started: &Started) -> String {
    let design = &started.design;
    let mut out = String::new();
    let _ = writeln!(out, "Guard       {}", design.title);
    let unit = &started.cleaning.unit;
    let sure = if unit.sure { "" } else { " (not sure: give --unit)" };
    let _ = writeln!(out, "Unit        {}{sure}: {}", unit.unit.name(), unit.why);
    out.push_str("Cleaned\n");
    list(&mut out, started.cleaning.steps.iter().filter(|s| s.changed).map(|s| s.sentence.as_str()));
    if let Some(PenSeen::Closed { sentence, .. }) = &started.pen {
        let _ = writeln!(out, "Pen line    {sentence}");
    }
    let _ = writeln!(out, "Zone        {:.0} cm² of skin", started.zone.area_cm2);
    if let Some(trim) = &started.zone.trim {
        let _ = writeln!(
            out,
            "Trim line   made fair, {:.1} mm from the drawn line at most; its tightest turn has a radius of {:.0} mm",
            trim.farthest_mm, trim.tightest_mm
        );
    }
    offered(&mut out, started);
    let shell = &design.shell;
    let _ = writeln!(
        out,
        "Shell       {} mm wall, {} mm from the skin, {}, {}",
        tenths(shell.thickness_mm),
        tenths(shell.gap_mm),
        count(shell.fittings.len(), "fitting"),
        count(shell.marks.len(), "mark")
    );
    warn(&mut out, &started.notices);
    out
}

/// Bony points and rings that have no relief yet and how they get one, and how many reliefs there are.
fn offered(out: &mut String, started: &Started) {
    let bare = started.bony_points.iter().filter(|point| !point.relieved).count();
    for (left, what, option) in [(bare, "bony point", "--relieve-bony-points"), (started.rings_left, "ring", "--rings")]
    {
        if left > 0 {
            let _ = writeln!(out, "Found       {} in the zone: {option} lays a relief over each", count(left, what));
        }
    }
    let is_relief = |region: &&zone::ExtraRegion| matches!(region.kind, zone::RegionKind::Relief { .. });
    let reliefs = started.design.zone.regions.iter().filter(is_relief).count();
    if reliefs > 0 {
        let _ = writeln!(out, "Reliefs     {reliefs}");
    }
}

/// What `make` made, and where it lies.
pub fn made(report: &MakeReport, out_folder: &Path) -> String {
    let mut out = String::new();
    let [across, deep, along] = report.shell.size_mm;
    let _ = writeln!(out, "Made        {}", report.title);
    let _ = writeln!(out, "Size        {along:.0} mm along, {across:.0} × {deep:.0} mm across");
    let _ = writeln!(out, "Covers      {:.0} cm² of skin", report.zone.area_cm2);
    let _ = writeln!(
        out,
        "Solid       {:.1} cm³ of plastic in {}, {} triangles, {}; closed and without self-crossings",
        report.shell.volume_cm3,
        count(report.shell.solid.pieces, "piece"),
        report.shell.triangles,
        count(report.shell.openings, "opening")
    );
    if let Some(sound) = &report.shell.sound {
        let _ = writeln!(out, "Sound       {}", soundness(sound, "no, see below"));
    }
    if let Some(filament) = &report.filament {
        let _ = writeln!(out, "Filament    {filament}");
    }
    for strap in &report.straps {
        let _ = writeln!(out, "Strap       {strap}; {}", strap.holds());
    }
    let _ = writeln!(out, "Printer     {}{}", report.bed, ask_for_bed(report));
    beware(&mut out, &report.warnings);
    warn(&mut out, &report.shell.notices);
    warn(&mut out, &report.zone.notices);
    out.push('\n');
    out.push_str(&table(&report.materials));
    match (&report.strength, &report.strength_refused) {
        (Some(strength), _) => {
            let _ = writeln!(
                out,
                "\nIn a blow ({}), on {:.1} mm of {}:",
                strength.blow.name, strength.liner_mm, strength.foam.name
            );
            out.push_str(&short_strength_table(strength));
            let _ = writeln!(out, "These compare, they certify nothing; `pauldron strength` tells more.");
        }
        (None, Some(refused)) => {
            let _ = writeln!(out, "\n{refused}");
        }
        (None, None) => {}
    }
    out.push_str("\nCautions\n");
    list(&mut out, report.cautions.iter().map(String::as_str));
    let _ = writeln!(out, "\nFiles in {}", out_folder.display());
    let wide = report.files.iter().filter(|f| f.usage != FileUse::Scan).map(|f| f.name.len()).max().unwrap_or(0);
    for file in &report.files {
        let _ = writeln!(out, "  {:<wide$}  {}", shortened(&file.name, wide), file.what);
    }
    if report.files.iter().any(|file| file.usage == FileUse::SecondColour) {
        out.push_str(
            "Print the 3MF file, which holds the shell and the inlay in two colours, or both STL files together.\n",
        );
    } else if report.files.iter().filter(|file| file.usage == FileUse::Printer).count() > 1 {
        out.push_str("Print one of the printer files; they all hold the same shell.\n");
    }
    out
}

/// How the numbers and words of a design are made now.
pub fn marked(marks: &[Mark], design: &Path) -> String {
    let mut out = String::new();
    for mark in marks {
        let depth = tenths(mark.relief_mm.abs());
        let how = match mark.kind {
            MarkKind::CutThrough => "cut through the wall".to_owned(),
            MarkKind::Inlay => format!("let in {depth} mm deep, for a second colour"),
            MarkKind::Relief if mark.relief_mm < 0.0 => format!("sunk by {depth} mm"),
            MarkKind::Relief => format!("raised by {depth} mm"),
        };
        let _ = writeln!(out, "“{}”  {how}", mark.text);
    }
    if marks.is_empty() {
        out.push_str("The design has no number or word.\n");
    }
    let _ = writeln!(out, "Design      {}", design.display());
    out
}

/// The pictures of a design.
pub fn pictured(pictures: &[Picture], design: &Path) -> String {
    let mut out = String::new();
    for picture in pictures {
        let [wide, high] = [picture.width_mm, picture.relief_mm].map(tenths);
        let _ = writeln!(out, "Picture     {}: {wide} mm wide, raised by {high} mm", picture.name);
    }
    let _ = writeln!(out, "Design      {}", design.display());
    out
}

/// Whole looks, and the one that was taken.
pub fn looks(list: &[LookInList], taken: Option<&str>, design: &Path) -> String {
    let mut out = String::new();
    for look in list {
        let grams = look.grams.map_or_else(|| "–".to_owned(), |g| format!("{g:.0} g"));
        let _ = writeln!(out, "{:<8}{grams:>7}  {}", look.name, look.about);
        for notice in &look.notices {
            let _ = writeln!(out, "{:<8}{:>7}  ({notice})", "", "");
        }
    }
    match taken {
        Some(name) => {
            let _ = writeln!(out, "\nTaken       {name}, into {}", design.display());
        }
        None => out.push_str("\nTake one with --take NAME.\n"),
    }
    out
}

/// The materials on a guard.
pub fn compared(report: &Comparison) -> String {
    let mut out = format!("{}\n\n{}", report.title, table(&report.table));
    beware(&mut out, &report.warnings);
    out
}

fn table(table: &MaterialTable) -> String {
    let mut out = format!("{:<12}{:<8}{:>9}{:>14}{:>12}\n", "Family", "Plastic", "Weight", "Cost", "Softens");
    for row in &table.rows {
        let guess = if row.softening_unconfirmed { "?" } else { "" };
        let _ = writeln!(
            out,
            "{:<12}{:<8}{:>7.0} g{:>14}{:>9.0} °C{guess}",
            row.family.word(),
            row.name,
            row.grams,
            format!("{:.2}-{:.2} {}", row.cost_low, row.cost_high, row.currency),
            row.softening_c,
        );
    }
    out
}

/// What a blow does to a guard.
pub fn struck(report: &StrengthReport) -> String {
    let mut out = format!("{}\n\n", report.title);
    let after = report.blow.after.as_ref().map(|after| format!(", after {after} to compare, not to certify"));
    let _ = writeln!(out, "Blow        {} ({:.1} J{})", report.blow.name, report.energy_j, after.unwrap_or_default());
    let [x, y, z] = report.at_mm;
    let _ = writeln!(out, "Struck at   {x:.0}, {y:.0}, {z:.0} mm, square to the guard");
    let _ = writeln!(out, "Liner       {:.1} mm of {}", report.liner_mm, report.foam.name);
    let _ = writeln!(out, "Under it    {}, {:.0} mm to the bone", report.under.place, report.under.depth_mm);
    let lies = match report.lies {
        Lies::Upright => "upright: layers lie across the limb",
        Lies::Lying => "lying: layers lie along the limb",
    };
    let _ = writeln!(out, "Printed     {lies}\n");
    out.push_str(&strength_table(report));
    let without = |name: &str, bare: Option<&Bare>| {
        bare.map(|bare| {
            format!("{name} {:.0} N and {} on the skin", rounded(bare.force_n), pressure(1e3 * bare.peak_mpa))
        })
    };
    let both = [
        without("foam alone", report.without.foam_alone.as_ref()),
        without("bare skin", report.without.bare_skin.as_ref()),
    ];
    let both: Vec<String> = both.into_iter().flatten().collect();
    if !both.is_empty() {
        let _ = writeln!(out, "\nWithout it  {}", both.join(", "));
    }
    for row in &report.rows {
        let answer = &row.answer;
        let weak = match answer.weak {
            Weak::AlongLayers => "the plastic gives way",
            Weak::AcrossLayers => "layers part",
        };
        let [x, y, z] = answer.weakest_mm;
        let _ = writeln!(
            out,
            "{:<12}first {weak} at {x:.0}, {y:.0}, {z:.0} ({:.0} MPa)",
            row.answer.name, answer.stress_mpa
        );
    }
    let _ = writeln!(out, "\nFigures are {}. In brackets: how far the data leave them open.", report.means);
    for notice in &report.notices {
        let _ = writeln!(out, "{notice}");
    }
    let _ = writeln!(out, "{}", report.caution);
    beware(&mut out, &report.warnings);
    out
}

/// The lightest guard that holds; `taken` is the design that it was put into.
pub fn lightest(found: &Lightest, taken: Option<&Path>) -> String {
    let mut out = String::new();
    let line = |trial: &Trial| {
        let holds = if trial.worst <= 1.0 { "holds" } else { "misses" };
        format!(
            "{:>5.0} g  wall {:.1} mm  {holds:<6} {:.2} of {}: {}",
            trial.grams, trial.wall_mm, trial.worst, trial.tightest, trial.what
        )
    };
    for trial in &found.trace {
        let _ = writeln!(out, "{}", line(trial));
    }
    match &found.best {
        Some(best) => {
            let _ = writeln!(out, "\nLightest    {}", line(best).trim_start());
        }
        None => out.push_str("\nLightest    none\n"),
    }
    let cut = if found.is_cut_short { "; ended before it was through" } else { "" };
    let _ = writeln!(out, "Tried       {} guards in {:.0} s{cut}", found.trace.len(), found.seconds);
    list(&mut out, found.gave_up.iter().map(String::as_str));
    if let Some(design) = taken {
        let _ = writeln!(out, "Taken       into {}", design.display());
    }
    let _ = writeln!(out, "{}", engine::STRENGTH_CAUTION);
    out
}

/// The lines of [`strength_table`] that say most.
fn short_strength_table(report: &StrengthReport) -> String {
    let told = ["", "Pressure on the skin", "Dent", "Times to spare"];
    let is_told = |line: &&str| told.contains(&line.chars().take(WIDE).collect::<String>().trim());
    strength_table(report).lines().filter(is_told).map(|line| format!("{line}\n")).collect()
}

/// Letters of the first column of [`strength_table`].
const WIDE: usize = 26;

fn strength_table(report: &StrengthReport) -> String {
    let mut out = String::new();
    let mut line = |what: &str, cell: &dyn Fn(&StrengthRow) -> String| {
        let cells: String = report.rows.iter().map(|row| format!("{:>25}", cell(row))).collect();
        let _ = writeln!(out, "{what:<WIDE$}{cells}");
    };
    line("", &|row| row.answer.name.clone());
    line("Gives under 100 N", &|row| ranged(&row.answer.push_mm, 1, "mm"));
    line("Pressure on the skin", &|row| {
        let Ranged { value, low, high } = row.answer.peak_kpa;
        ranged(&Ranged { value: rounded(value), low: rounded(low), high: rounded(high) }, 0, "kPa")
    });
    line("Skin over half of that", &|row| format!("{:.0} mm²", rounded(row.answer.areas_mm2[2])));
    line("Force of the blow", &|row| {
        let Ranged { value, low, high } = row.answer.force_n;
        ranged(&Ranged { value: rounded(value), low: rounded(low), high: rounded(high) }, 0, "N")
    });
    line("Dent", &|row| ranged(&row.answer.dent_mm, 1, "mm"));
    line("Times to spare", &|row| {
        let gives_way = if row.answer.spare.value < 1.0 { "gives way: " } else { "" };
        format!("{gives_way}{}", ranged(&row.answer.spare, 1, ""))
    });
    line("Strap anchor, to spare", &|row| {
        row.answer.strap_spare.map_or_else(|| "–".to_owned(), |spare| format!("{spare:.1}"))
    });
    line("Bends a joint by 1° at", &|row| ranged(&row.answer.bending_n_m_per_deg, 2, "N·m"));
    line("Sprung on with", &|row| match &row.answer.springing {
        Some(on) if on.opening_mm > 0.0 => format!("{:.0} N, {:.1} % strain", on.force_n, on.strain_percent),
        _ => "nothing".to_owned(),
    });
    line("Weight", &|row| format!("{:.0} g", row.grams));
    line("Cost", &|row| format!("{:.2}-{:.2} {}", row.price.low, row.price.high, row.price.currency));
    line("Softens", &|row| format!("{:.0} °C", row.softening_c));
    out
}

/// A figure and its range.
fn ranged(ranged: &Ranged, decimals: usize, unit: &str) -> String {
    let Ranged { value, low, high } = ranged;
    let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
    if low < high {
        format!("{value:.decimals$}{unit} ({low:.decimals$}-{high:.decimals$})")
    } else {
        format!("{value:.decimals$}{unit}")
    }
}

/// To two digits: no more is known.
fn rounded(value: f64) -> f64 {
    if value <= 0.0 {
        return 0.0;
    }
    let step = 10.0_f64.powf(value.log10().floor() - 1.0);
    (value / step).round() * step
}

fn pressure(kilopascal: f64) -> String {
    format!("{:.0} kPa", rounded(kilopascal))
}

/// What `check` found.
pub fn checked(report: &CheckReport) -> String {
    let mut out = String::new();
    let [x, y, z] = report.size;
    let verdict = if report.printable { "yes, a solid in one piece" } else { "no" };
    let _ = writeln!(out, "Printable   {verdict}");
    let _ = writeln!(out, "Size        {x:.2} × {y:.2} × {z:.2} in the file's own unit");
    let _ = writeln!(out, "Surface     {} triangles, {}", report.triangles, count(report.solid.pieces, "piece"));
    list(&mut out, report.solid.faults.iter().map(String::as_str));
    if let Some(sound) = &report.sound {
        let _ = writeln!(out, "Sound       {}", soundness(sound, "no, taken as millimetres"));
        list(&mut out, sound.faults.iter().map(String::as_str));
    }
    for [x, y, z] in report.solid.places.iter().take(5) {
        let _ = writeln!(out, "  at {x:.2}, {y:.2}, {z:.2}");
    }
    warn(&mut out, &report.warnings);
    out
}

/// Whether a solid is sound, in a few words.
fn soundness(sound: &Soundness, no: &str) -> String {
    if !sound.is_sound {
        return no.to_owned();
    }
    let least = sound.measured.walls.least.as_ref().map_or(0.0, |wall| wall.thickness_mm);
    format!("no wall under {:.2} mm, no fold, no spike, no torn edge", (100.0 * least).floor() / 100.0)
}

fn ask_for_bed(report: &MakeReport) -> &'static str {
    match report.bed {
        engine::BedCheck::NotChecked => "; give it once with --bed 220x220x250 (width, depth, height)",
        _ => "",
    }
}

/// A long name with its middle left out, for a list.
fn shortened(name: &str, wide: usize) -> String {
    let letters = name.chars().count();
    if letters <= wide || wide < 12 {
        return name.to_owned();
    }
    let (front, back) = (wide - 6, 5);
    name.chars().take(front).chain(['…']).chain(name.chars().skip(letters - back)).collect()
}

fn beware(out: &mut String, warnings: &[Warning]) {
    for warning in warnings {
        let _ = writeln!(out, "Warning     {warning}");
    }
}

fn count(n: usize, thing: &str) -> String {
    format!("{n} {thing}{}", if n == 1 { "" } else { "s" })
}

fn list<'a>(out: &mut String, lines: impl IntoIterator<Item = &'a str>) {
    for line in lines {
        let _ = writeln!(out, "  - {line}");
    }
}

fn warn(out: &mut String, lines: &[impl std::fmt::Display]) {
    for line in lines {
        let _ = writeln!(out, "Note        {line}");
    }
}
