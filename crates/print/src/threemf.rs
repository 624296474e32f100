//! 3MF: the core package of the 3MF Core Specification 1.4, millimetres: one object, or two in two colours.
//!
//! A zip of three parts: the content types, the relation to the model, and the model. Coordinates are printed with the
//! fewest digits that read back to the same f32. The zip holds no time and no trace of the machine, so that the same
//! part gives the same bytes.

use crate::{Error, part};
use mesh::{Job, Mesh};
use std::fmt::Write as _;
use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, System, ZipWriter};

const CONTENT_TYPES: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>
"#;

const RELATIONS: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/3dmodel.model" Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>
"#;

/// What the file says about the part, in the names that the specification knows (table 3-1). No athlete's name.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Metadata {
    /// Such as "Guard for the left forearm, number 14".
    pub title: String,
    /// Thickness, gap and the like, in words.
    pub description: String,
    /// Such as `2025-11-25`; without it the same part gives the same bytes on any day.
    pub creation_date: Option<String>,
}

/// A second body in a second colour, such as a number that is let into the shell.
#[derive(Debug, Clone, Copy)]
pub struct SecondColour<'a> {
    /// The body, in the coordinates of the part.
    pub body: &'a Mesh,
    /// Colours of the part and of the body, sRGB.
    pub colours: [[u8; 3]; 2],
}

/// Writes the part, bit for bit as it is; see [`crate::at_origin`]. Looks at the job every few thousand lines.
///
/// # Errors
/// The part is empty or broken, the output cannot be written, or the work was stopped.
pub fn write(part: &Mesh, about: &Metadata, out: &mut (impl Write + ?Sized), job: &Job) -> Result<(), Error> {
    write_two(part, None, about, out, job)
}

/// Writes the part and, where there is one, a second body: two objects with a colour each (base materials of the core
/// specification), put together as components of a third, so that they are loaded and moved as one.
///
/// # Errors
/// As [`write`].
pub fn write_two(
    part: &Mesh,
    second: Option<SecondColour<'_>>,
    about: &Metadata,
    out: &mut (impl Write + ?Sized),
    job: &Job,
) -> Result<(), Error> {
    part::check(part)?;
    if let Some(second) = second {
        part::check(second.body)?;
    }
    // Level 4 packs a guard of 200 000 triangles in half the time of the default level, for a few percent more bytes.
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .compression_level(Some(4))
        .last_modified_time(DateTime::default())
        .system(System::Unix)
        .unix_permissions(0o644);
    let mut package = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in [("[Content_Types].xml", CONTENT_TYPES), ("_rels/.rels", RELATIONS)] {
        package.start_file(name, options)?;
        package.write_all(text.as_bytes())?;
    }
    package.start_file("3D/3dmodel.model", options)?;
    write_model(part, second, about, &mut package, job)?;
    out.write_all(package.finish()?.get_ref())?;
    Ok(())
}

/// Lines of the model between two looks at the job.
const LINES: usize = 4096;

fn write_model(
    part: &Mesh,
    second: Option<SecondColour<'_>>,
    about: &Metadata,
    out: &mut impl Write,
    job: &Job,
) -> Result<(), Error> {
    let mut xml = head(about);
    let Some(SecondColour { body, colours }) = second else {
        xml.push_str("<object id=\"1\" type=\"model\">\n");
        write_mesh(part, xml, out, job)?;
        return Ok(out.write_all(b"</object>\n</resources>\n<build>\n<item objectid=\"1\"/>\n</build>\n</model>\n")?);
    };
    xml.push_str("<basematerials id=\"4\">\n");
    for ([r, g, b], name) in colours.iter().zip(["shell", "inlay"]) {
        // Writing to a String cannot fail.
        let _ = writeln!(xml, "<base name=\"{name}\" displaycolor=\"#{r:02X}{g:02X}{b:02X}\"/>");
    }
    xml.push_str("</basematerials>\n");
    for (n, (mesh, name)) in [(part, "shell"), (body, "inlay")].into_iter().enumerate() {
        let id = n + 1;
        let _ = writeln!(xml, "<object id=\"{id}\" type=\"model\" name=\"{name}\" pid=\"4\" pindex=\"{n}\">");
        write_mesh(mesh, std::mem::take(&mut xml), out, &job.part(0.5 * n as f32, 0.5 * (n + 1) as f32))?;
        xml.push_str("</object>\n");
    }
    xml.push_str(concat!(
        "<object id=\"3\" type=\"model\" name=\"guard\">\n<components>\n<component objectid=\"1\"/>\n",
        "<component objectid=\"2\"/>\n</components>\n</object>\n</resources>\n<build>\n<item objectid=\"3\"/>\n",
        "</build>\n</model>\n",
    ));
    Ok(out.write_all(xml.as_bytes())?)
}

/// Writes `xml` and after it the mesh of an object.
fn write_mesh(part: &Mesh, mut xml: String, out: &mut impl Write, job: &Job) -> Result<(), Error> {
    xml.push_str("<mesh>\n<vertices>\n");
    let total = (part.points.len() + part.triangles.len()).max(1) as f32;
    let mut done = 0;
    for points in part.points.chunks(LINES) {
        job.step("packing the 3MF file", done as f32 / total)?;
        for p in points {
            // Adding zero turns −0 into 0.
            let _ = writeln!(xml, "<vertex x=\"{}\" y=\"{}\" z=\"{}\"/>", p.x + 0.0, p.y + 0.0, p.z + 0.0);
        }
        out.write_all(xml.as_bytes())?;
        xml.clear();
        done += points.len();
    }
    xml.push_str("</vertices>\n<triangles>\n");
    for triangles in part.triangles.chunks(LINES) {
        job.step("packing the 3MF file", done as f32 / total)?;
        for [a, b, c] in triangles {
            let _ = writeln!(xml, "<triangle v1=\"{a}\" v2=\"{b}\" v3=\"{c}\"/>");
        }
        out.write_all(xml.as_bytes())?;
        xml.clear();
        done += triangles.len();
    }
    Ok(out.write_all(b"</triangles>\n</mesh>\n")?)
}

/// The model up to its first object.
fn head(about: &Metadata) -> String {
    let mut xml = String::from(concat!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<model unit=\"millimeter\" xml:lang=\"en-GB\" ",
        "xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\">\n",
    ));
    let application = concat!("Pauldron ", env!("CARGO_PKG_VERSION"));
    let known = [
        ("Title", Some(about.title.as_str())),
        ("Description", Some(about.description.as_str())),
        ("Application", Some(application)),
        ("CreationDate", about.creation_date.as_deref()),
    ];
    for (name, text) in known.into_iter().filter_map(|(name, text)| Some((name, text.filter(|t| !t.is_empty())?))) {
        // XML 1.0 cannot hold control characters, not even escaped.
        let clean: String = text.chars().filter(|c| !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}')).collect();
        let _ = writeln!(xml, "<metadata name=\"{name}\">{}</metadata>", quick_xml::escape::escape(&clean));
    }
    xml.push_str("<resources>\n");
    xml
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::{at_origin, samples::torus};
    use nalgebra::Point3;
    use quick_xml::events::{BytesStart, Event};
    use std::io::Read;

    fn about() -> Metadata {
        Metadata {
            title: "Guard for the left forearm, number 14".into(),
            description: "Wall 3 mm & gap < 4 mm, \"smooth\"\u{7} rim".into(),
            creation_date: None,
        }
    }

    fn attribute<T: std::str::FromStr>(tag: &BytesStart, name: &str) -> Option<T> {
        tag.try_get_attribute(name).unwrap()?.unescape_value().unwrap().parse().ok()
    }

    /// Reads the model back by zip and an XML reader, without the code of the writer.
    fn read_back(bytes: &[u8]) -> (Mesh, Vec<(String, String)>, String) {
        let mut package = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
        let names: Vec<_> = package.file_names().map(str::to_owned).collect();
        assert_eq!(names, ["[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"]);
        let mut xml = String::new();
        package.by_name("3D/3dmodel.model").unwrap().read_to_string(&mut xml).unwrap();
        let (mut part, mut metadata, mut unit) = (Mesh::default(), Vec::new(), String::new());
        let mut reader = quick_xml::Reader::from_str(&xml);
        loop {
            match reader.read_event().unwrap() {
                Event::Start(tag) if tag.name().as_ref() == b"model" => unit = attribute(&tag, "unit").unwrap(),
                Event::Start(tag) if tag.name().as_ref() == b"metadata" => {
                    let text = reader.read_text(tag.name()).unwrap();
                    let text = quick_xml::escape::unescape(&text).unwrap().into_owned();
                    metadata.push((attribute(&tag, "name").unwrap(), text));
                }
                Event::Empty(tag) if tag.name().as_ref() == b"vertex" => {
                    part.points.push(Point3::from(["x", "y", "z"].map(|k| attribute::<f32>(&tag, k).unwrap())));
                }
                Event::Empty(tag) if tag.name().as_ref() == b"triangle" => {
                    part.triangles.push(["v1", "v2", "v3"].map(|k| attribute(&tag, k).unwrap()));
                }
                Event::Eof => return (part, metadata, unit),
                _ => {}
            }
        }
    }

    #[test]
    fn another_reader_finds_the_same_part_to_the_last_bit() {
        let mut ring = at_origin(&torus(50, 20));
        // Numbers that are hard to print: tiny, huge, next to a power of two.
        ring.points[3] = Point3::new(1.0e-7, 16_777_216.0, f32::from_bits(1.0_f32.to_bits() - 1));
        let mut bytes = Vec::new();
        write(&ring, &about(), &mut bytes, &Job::silent()).unwrap();
        let (part, metadata, unit) = read_back(&bytes);
        assert_eq!(unit, "millimeter");
        assert_eq!(part, ring);
        let text = |name: &str| metadata.iter().find(|(n, _)| n == name).map(|(_, t)| t.as_str());
        assert_eq!(text("Title"), Some("Guard for the left forearm, number 14"));
        assert_eq!(text("Description"), Some("Wall 3 mm & gap < 4 mm, \"smooth\" rim"));
        assert_eq!(text("CreationDate"), None);
    }

    #[test]
    fn the_same_part_gives_the_same_bytes_and_no_clock_time() {
        let ring = torus(30, 12);
        let pack = |about: &Metadata| {
            let mut bytes = Vec::new();
            write(&ring, about, &mut bytes, &Job::silent()).unwrap();
            bytes
        };
        let bytes = pack(&about());
        assert_eq!(bytes, pack(&about()));
        let mut package = zip::ZipArchive::new(Cursor::new(&bytes)).unwrap();
        let stamp = package.by_index(0).unwrap().last_modified().unwrap();
        assert_eq!((stamp.year(), stamp.month(), stamp.day()), (1980, 1, 1));
        let dated = pack(&Metadata { creation_date: Some("2025-11-25".into()), ..about() });
        assert!(read_back(&dated).1.contains(&("CreationDate".into(), "2025-11-25".into())));
    }

    #[test]
    fn two_bodies_are_two_objects_with_a_colour_each_in_one_item() {
        let (ring, body) = (torus(20, 8), torus(12, 6));
        let second = SecondColour { body: &body, colours: [[240, 226, 196], [10, 0, 255]] };
        let mut bytes = Vec::new();
        write_two(&ring, Some(second), &about(), &mut bytes, &Job::silent()).unwrap();
        let (both, ..) = read_back(&bytes);
        assert_eq!(both.points.len(), ring.points.len() + body.points.len());
        assert_eq!(both.triangles, [ring.triangles, body.triangles].concat());
        let mut xml = String::new();
        let mut package = zip::ZipArchive::new(Cursor::new(&bytes)).unwrap();
        package.by_name("3D/3dmodel.model").unwrap().read_to_string(&mut xml).unwrap();
        for wanted in [
            "displaycolor=\"#F0E2C4\"",
            "displaycolor=\"#0A00FF\"",
            "<object id=\"2\" type=\"model\" name=\"inlay\" pid=\"4\" pindex=\"1\">",
            "<item objectid=\"3\"/>",
        ] {
            assert!(xml.contains(wanted), "{wanted}");
        }
    }

    #[test]
    fn a_stopped_job_ends_it() {
        let stopped = Job::silent();
        stopped.cancel();
        let mut bytes = Vec::new();
        assert!(matches!(write(&torus(50, 20), &about(), &mut bytes, &stopped), Err(Error::Cancelled(_))));
        assert!(bytes.is_empty());
    }
}
