//! The arguments of the command line.

use std::path::PathBuf;

use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use scan::{BodySite, Side, Unit};

/// Turns the 3D scan of an athlete's limb into a printed protective shell.
#[derive(Debug, Parser)]
#[command(
    version,
    after_help = "Examples:\n  pauldron demo\n  pauldron inspect demo-scans/shin-23.obj\n  \
                  pauldron start demo-scans/forearm-07.ply -o guard.json --site forearm --side left --number 7\n  \
                  pauldron make guard.json --out guard\n\n\
                  Exit codes: 0 done, 1 bad input, 2 wrong use, 3 cannot be built, 130 stopped.\n\
                  The figures compare designs with each other; they certify nothing. Medical staff and officials decide."
)]
pub struct Args {
    /// Print JSON instead of text.
    #[arg(long, global = true)]
    pub json: bool,
    /// Show no progress.
    #[arg(long, short, global = true)]
    pub quiet: bool,
    /// Folder for what is remembered from run to run; otherwise the system's own.
    #[arg(long, value_name = "FOLDER", global = true)]
    pub home: Option<PathBuf>,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Makes a guard from a demo scan, without any options.
    #[command(after_help = "Example:\n  pauldron demo --out out")]
    Demo {
        /// Folder for the files.
        #[arg(long, default_value = "out")]
        out: PathBuf,
        /// Grid cell, 0.2 to 3 mm.
        #[arg(long, value_name = "MM", value_parser = resolution)]
        resolution: Option<f32>,
        #[command(flatten)]
        output: Output,
    },
    /// Says what a scan file holds and what cleaning would do.
    #[command(after_help = "Examples:\n  pauldron inspect scan.ply\n  pauldron inspect scan.stl --unit inch --json")]
    Inspect {
        /// Scan file: STL, OBJ or PLY.
        scan: PathBuf,
        #[command(flatten)]
        cleaning: Cleaning,
    },
    /// Starts a design: cleans the scan, finds the zone, takes the defaults of the body site.
    #[command(
        after_help = "Examples:\n  pauldron start scan.ply -o guard.json --site shin --side right --number 23\n  \
                      pauldron start scan.stl -o guard.json --outline corners.json\n\n\
                      Strokes file: {\"strokes\": [{\"at\": [x, y, z], \"radius_mm\": 25}, …]}, \"remove\": true takes away.\n\
                      Outline file: {\"outline\": [[x, y, z], …], \"inside\": [x, y, z]}, \"inside\" may be left out.\n\
                      Crease file: {\"crease\": [[x, y, z], [x, y, z]], \"distance_mm\": 10}, \"distance_mm\" may be left out.\n\
                      Points are in the scan file's own coordinates."
    )]
    Start(StartArgs),
    /// Makes all files of a design: print files, picture, page, report.
    #[command(
        after_help = "Examples:\n  pauldron make guard.json --out guard\n  pauldron make guard.json --out guard --bed 220x220x250\n  \
                      pauldron make guard.json --out draft --resolution 1"
    )]
    Make {
        /// Design file.
        design: PathBuf,
        /// Folder for the files.
        #[arg(long, short)]
        out: PathBuf,
        /// Another grid cell than the design's, 0.2 to 3 mm.
        #[arg(long, value_name = "MM", value_parser = resolution)]
        resolution: Option<f32>,
        /// Materials file; otherwise the built-in one.
        #[arg(long, value_name = "FILE")]
        materials: Option<PathBuf>,
        /// Club or team, for the summary page.
        #[arg(long)]
        team: Option<String>,
        /// Day, for the summary page.
        #[arg(long)]
        date: Option<String>,
        #[command(flatten)]
        output: Output,
    },
    /// Changes how the numbers and words of a design are made, or adds one.
    #[command(
        after_help = "Examples:\n  pauldron mark guard.json --kind inlay\n  pauldron mark guard.json --text TH --kind cut-through"
    )]
    Mark {
        /// Design file to change.
        design: PathBuf,
        /// Adds this number or short word, where it has most room; without it all that are there are changed.
        #[arg(long, value_name = "TEXT")]
        text: Option<String>,
        /// How they are made.
        #[arg(long, value_enum)]
        kind: MarkWay,
        /// How high they are raised, or how deep they are sunk or let in, 0.2 to 3 mm; otherwise 0.8.
        #[arg(long, value_name = "MM")]
        depth: Option<f32>,
    },
    /// Raises a picture on the outer face of a design's guard, where it has most room.
    #[command(after_help = "Example:\n  pauldron picture guard.json crest.svg --width 40")]
    Picture {
        /// Design file to change.
        design: PathBuf,
        /// Picture: PNG, JPEG or SVG. Dark parts stand out.
        file: PathBuf,
        /// Width, 6 to 150 mm; otherwise what there is room for.
        #[arg(long, value_name = "MM")]
        width: Option<f32>,
        /// How high its darkest parts stand, 0.4 to 1.2 mm.
        #[arg(long, value_name = "MM", default_value_t = engine::USUAL_PICTURE_MM)]
        relief: f32,
    },
    /// Lists whole looks for the guard of a design, each with its weight, or takes one.
    #[command(after_help = "Examples:\n  pauldron looks guard.json\n  pauldron looks guard.json --take Reef")]
    Looks {
        /// Design file.
        design: PathBuf,
        /// Put the look with this name into the design file.
        #[arg(long, value_name = "NAME", ignore_case = true, value_parser = look_parser())]
        take: Option<&'static engine::WholeLook>,
        /// Materials file; otherwise the built-in one.
        #[arg(long, value_name = "FILE")]
        materials: Option<PathBuf>,
    },
    /// Compares the materials on the guard of a design.
    #[command(after_help = "Example:\n  pauldron compare guard.json --materials my-materials.json")]
    Compare {
        /// Design file.
        design: PathBuf,
        /// Materials file; otherwise the built-in one.
        #[arg(long, value_name = "FILE")]
        materials: Option<PathBuf>,
    },
    /// Strikes the guard of a design, computed on its own wall, in each filament.
    #[command(
        after_help = "Example:\n  pauldron strength guard.json --blow \"stud, 2 J\" --foam \"EVA, soft\" --liner 5"
    )]
    Strength(StrengthArgs),
    /// Seeks the lightest wall, ribs and vents with which the guard of a design holds.
    #[command(after_help = "Example:\n  pauldron lightest guard.json --spare 1 --peak 400 --take")]
    Lightest(LightestArgs),
    /// Says whether a mesh file is a printable solid.
    #[command(after_help = "Example:\n  pauldron check guard/07-forearm-left-shell.stl")]
    Check {
        /// Mesh file: STL, OBJ or PLY.
        file: PathBuf,
    },
}

/// Arguments of `strength`.
#[derive(Debug, Clone, ClapArgs)]
pub struct StrengthArgs {
    /// Design file.
    pub design: PathBuf,
    /// Materials file; otherwise the built-in one.
    #[arg(long, value_name = "FILE")]
    pub materials: Option<PathBuf>,
    /// A ready-made blow by its name; a wrong one names them all. Where left out, this and what follows are as the design says.
    #[arg(long, value_name = "NAME")]
    pub blow: Option<String>,
    /// The foam of the liner by its name; a wrong one names them all.
    #[arg(long, value_name = "NAME")]
    pub foam: Option<String>,
    /// How thick the liner is; as thick as the gap where left out.
    #[arg(long, value_name = "MM")]
    pub liner: Option<f32>,
    /// What is under the liner: a place on this part of the body; a wrong one names them all.
    #[arg(long, value_name = "PLACE")]
    pub under: Option<String>,
    /// Where it is struck, in the design's axes; otherwise in its middle.
    #[arg(long, value_name = "X,Y,Z", value_parser = place, allow_hyphen_values = true)]
    pub at: Option<Place>,
    /// How the guard lies on the bed.
    #[arg(long, value_name = "HOW")]
    pub lies: Option<LiesArg>,
    /// Leave out how far the data leave the answers open, which takes two thirds of the time.
    #[arg(long)]
    pub quick: bool,
}

/// Arguments of `lightest`.
#[derive(Debug, Clone, ClapArgs)]
pub struct LightestArgs {
    /// What strikes it, and what it lies on.
    #[command(flatten)]
    pub asked: StrengthArgs,
    /// The greatest pressure on the skin, at most.
    #[arg(long, value_name = "KPA", value_parser = positive)]
    pub peak: Option<f64>,
    /// The dent, at most.
    #[arg(long, value_name = "MM", value_parser = positive)]
    pub dent: Option<f64>,
    /// What it gives under a hand of 100 N, at most.
    #[arg(long, value_name = "MM", value_parser = positive)]
    pub push: Option<f64>,
    /// Times to spare until it breaks, at least.
    #[arg(long, value_name = "TIMES", value_parser = positive)]
    pub spare: Option<f64>,
    /// The moment that bends it by a degree, at least.
    #[arg(long, value_name = "NM", value_parser = positive)]
    pub bending: Option<f64>,
    /// How long it may be sought, in seconds.
    #[arg(long, value_name = "SECONDS", value_parser = positive)]
    pub within: Option<f64>,
    /// Put what was found into the design.
    #[arg(long)]
    pub take: bool,
}

fn positive(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if number > 0.0 && number.is_finite() => Ok(number),
        _ => Err("a number greater than 0 is needed".to_owned()),
    }
}

/// A place in the design's axes, mm.
#[derive(Debug, Clone, Copy)]
pub struct Place(pub [f32; 3]);

fn place(text: &str) -> Result<Place, String> {
    let numbers: Option<Vec<f32>> = text.split(',').map(|number| number.trim().parse().ok()).collect();
    match numbers.and_then(|numbers| <[f32; 3]>::try_from(numbers).ok()) {
        Some(place) if place.iter().all(|x| x.abs() <= 2000.0) => Ok(Place(place)),
        _ => Err("three numbers of millimetres are needed, such as 40,0,12".to_owned()),
    }
}

/// How a guard lies on the bed.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum LiesArg {
    /// As it stands in its print files: layers lie across the limb.
    Upright,
    /// On its back or its edges: layers lie along the limb.
    Lying,
}

/// Options on the printer and the folder of the files.
#[derive(Debug, Clone, ClapArgs)]
pub struct Output {
    /// Printer's build volume: width, depth and height in mm; remembered for the next time.
    #[arg(long, value_name = "WxDxH", value_parser = bed)]
    pub bed: Option<Bed>,
    /// Write into a folder that has the files of another guard.
    #[arg(long)]
    pub overwrite: bool,
    /// Leave out what a blow does to the guard, which takes some seconds.
    #[arg(long)]
    pub no_strength: bool,
}

/// Width, depth and height of a printer's build volume, mm.
#[derive(Debug, Clone, Copy)]
pub struct Bed(pub [f32; 3]);

fn bed(text: &str) -> Result<Bed, String> {
    let sides: Option<Vec<f32>> = text.split(['x', 'X', '×', '*']).map(|side| side.trim().parse().ok()).collect();
    match sides.and_then(|sides| <[f32; 3]>::try_from(sides).ok()) {
        Some(sides) if sides.iter().all(|side| session::BED_MM.contains(side)) => Ok(Bed(sides)),
        Some(_) => {
            Err(format!("each side must be between {:.0} and {:.0} mm", session::BED_MM.start(), session::BED_MM.end()))
        }
        None => Err("width, depth and height in mm are needed, such as 220x220x250".to_owned()),
    }
}

/// Options on cleaning.
#[derive(Debug, Clone, ClapArgs)]
pub struct Cleaning {
    /// Unit of the scan file; otherwise guessed from its size.
    #[arg(long)]
    pub unit: Option<UnitArg>,
    /// Swap left and right: the guard is for the other side than the one scanned.
    #[arg(long)]
    pub mirror: bool,
}

/// Arguments of `start`.
#[derive(Debug, Clone, ClapArgs)]
pub struct StartArgs {
    /// Scan file: STL, OBJ or PLY.
    pub scan: PathBuf,
    /// Design file to write.
    #[arg(long, short)]
    pub out: PathBuf,
    /// Write over a design that is there already.
    #[arg(long)]
    pub force: bool,
    /// Body site; sets the defaults.
    #[arg(long, default_value = "other", value_parser = site_parser())]
    pub site: BodySite,
    /// Side of the body that was scanned.
    #[arg(long, default_value = "unknown")]
    pub side: SideArg,
    /// Squad number of the athlete.
    #[arg(long, value_parser = clap::value_parser!(u32).range(0..=i64::from(locker::MOST_SQUAD_NUMBER)))]
    pub number: Option<u32>,
    /// Title of the design; no names.
    #[arg(long, default_value = "")]
    pub title: String,
    #[command(flatten)]
    pub cleaning: Cleaning,
    /// Zone from brush strokes in a file.
    #[arg(long, value_name = "FILE", conflicts_with = "outline")]
    pub strokes: Option<PathBuf>,
    /// Zone from an outline in a file.
    #[arg(long, value_name = "FILE")]
    pub outline: Option<PathBuf>,
    /// Crease of a joint from a file, from which the guard keeps away; may be given several times.
    #[arg(long, value_name = "FILE")]
    pub crease: Vec<PathBuf>,
    /// Lay a relief over each bony point that is found in the zone.
    #[arg(long)]
    pub relieve_bony_points: bool,
    /// Make reliefs of the rings drawn within the pen line.
    #[arg(long)]
    pub rings: bool,
    /// Close an open pen line as proposed.
    #[arg(long)]
    pub accept_proposal: bool,
    /// Move the zone's edge outward by this much, mm; inward when negative.
    #[arg(long, value_name = "MM", default_value_t = 0.0, allow_negative_numbers = true)]
    pub grow: f32,
    /// Keep the scan inside the design file instead of beside it.
    #[arg(long)]
    pub inside: bool,
}

fn resolution(text: &str) -> Result<f32, String> {
    let mm: f32 = text.parse().map_err(|_| "a number of millimetres is needed".to_owned())?;
    if (0.2..=3.0).contains(&mm) { Ok(mm) } else { Err("it must be between 0.2 and 3 mm".to_owned()) }
}

/// Units by name.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum UnitArg {
    /// Millimetres.
    Mm,
    /// Centimetres.
    Cm,
    /// Metres.
    M,
    /// Inches.
    Inch,
}

impl From<UnitArg> for Unit {
    fn from(unit: UnitArg) -> Self {
        match unit {
            UnitArg::Mm => Self::Mm,
            UnitArg::Cm => Self::Cm,
            UnitArg::M => Self::M,
            UnitArg::Inch => Self::Inch,
        }
    }
}

/// Body sites by the names that design files use.
fn site_parser() -> impl TypedValueParser<Value = BodySite> {
    PossibleValuesParser::new(BodySite::ALL.map(BodySite::key))
        .map(|key| BodySite::ALL.into_iter().find(|site| site.key() == key).unwrap_or(BodySite::Other))
}

/// How numbers and words are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum MarkWay {
    /// Raised above the outer face.
    Raised,
    /// Sunk into it.
    Sunk,
    /// Cut through the wall, as of a stencil.
    CutThrough,
    /// Let in flush, as a second body for a second colour.
    Inlay,
}

/// Looks by name.
fn look_parser() -> impl TypedValueParser<Value = &'static engine::WholeLook> {
    PossibleValuesParser::new(engine::WHOLE_LOOKS.map(|look| look.name))
        .map(|name| engine::WholeLook::named(&name).unwrap_or(&engine::WHOLE_LOOKS[0]))
}

/// Sides by name.
#[derive(Debug, Clone, Copy, ValueEnum)]
#[allow(missing_docs)]
pub enum SideArg {
    Left,
    Right,
    Unknown,
}

impl From<SideArg> for Side {
    fn from(side: SideArg) -> Self {
        match side {
            SideArg::Left => Self::Left,
            SideArg::Right => Self::Right,
            SideArg::Unknown => Self::Unknown,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bed_has_three_sides_and_nothing_else() {
        assert!(bed("220x220x250").is_ok_and(|bed| bed.0 == [220.0, 220.0, 250.0]));
        for wrong in ["220x220", "220x220x250xjunk", "220x220x250x", "220x220x250x250", "220xx250", "220x220x9"] {
            assert!(bed(wrong).is_err(), "{wrong}");
        }
    }
}
