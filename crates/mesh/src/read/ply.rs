//! PLY: text or binary, any number types, any order of properties and elements.

use super::colour::Colours;
use super::error::ReadError;
use super::faces::{Faces, require_triangle};
use super::picture;
use super::ply_header::{self, Element, Header};
use super::ply_rows::{Row, Rows};
use super::scan_file::{Format, ScanFile, Texture};
use super::stl_ascii::is_finite;
use crate::{Cancelled, Job, Mesh};
use nalgebra::Point3;

/// Faces as they stand in the file: all corners in a row, and where each face ends.
#[derive(Default)]
struct FaceRows {
    corners: Vec<u32>,
    ends: Vec<usize>,
    /// Line of each face, in a text file.
    lines: Vec<u32>,
    /// Picture coordinates, two for each corner, where all faces have them.
    uv: Vec<f32>,
}

/// Reads a PLY file.
pub(super) fn read(
    bytes: &[u8],
    file: &str,
    companions: &dyn Fn(&str) -> Option<Vec<u8>>,
    job: &Job,
) -> Result<ScanFile, ReadError> {
    let header = ply_header::read(bytes, file)?;
    refuse_without_faces(&header, file)?;
    let mut rows = Rows::new(bytes.get(header.body..).unwrap_or_default(), header.format, file, header.lines);
    let mut warnings = Vec::new();
    let mut points: Vec<Point3<f32>> = Vec::new();
    let mut vertex_places: Vec<(usize, String)> = Vec::new();
    let mut colours = Colours::default();
    let mut vertex_uv: Vec<[f32; 2]> = Vec::new();
    let mut faces = FaceRows::default();

    for element in &header.elements {
        rows.check_count(element)?;
        match element.name.as_str() {
            "vertex" => read_points(
                &mut rows,
                element,
                file,
                job,
                &mut points,
                &mut vertex_places,
                &mut colours,
                &mut vertex_uv,
            )?,
            "face" => read_faces(&mut rows, element, file, job, header.texture.is_some(), &mut faces)?,
            _ => skip(&mut rows, element, job)?,
        }
    }
    if rows.overlong > 0 {
        warnings.push(format!("{} row(s) go on after their last value; the rest was left out", rows.overlong));
    }
    if rows.odd > 0 {
        warnings.push(format!("{} number(s) are followed by other characters, which were ignored", rows.odd));
    }
    if rows.left() > 0 {
        warnings.push(format!("{} bytes after the last row were not read", rows.left()));
    }

    let place = |f: usize| {
        if header.format == Format::PlyAscii { format!("line {}", faces.lines[f]) } else { format!("face {}", f + 1) }
    };
    check_corners(&faces, &points, &vertex_places, file, &place)?;
    job.step("cutting faces into triangles", 0.9)?;
    let mut cut = Faces::default();
    let mut uv: Vec<[[f32; 2]; 3]> = Vec::new();
    let face_uv = faces.uv.len() == 2 * faces.corners.len();
    let mut start = 0;
    for (f, end) in faces.ends.iter().enumerate() {
        let corners = &faces.corners[start..*end];
        cut.add(
            &points,
            corners,
            || place(f),
            |places| {
                if header.texture.is_some() {
                    uv.push(places.map(|i| {
                        if face_uv {
                            let at = 2 * (start + i);
                            [faces.uv[at], faces.uv[at + 1]]
                        } else {
                            vertex_uv.get(corners[i] as usize).copied().unwrap_or([f32::NAN; 2])
                        }
                    }));
                }
            },
        );
        start = *end;
    }
    cut.say(&mut warnings);
    let colours = colours.finish(points.len(), &mut warnings);
    let mesh = Mesh { points, triangles: cut.triangles, colours };
    require_triangle(&mesh, file, || format!("{} point(s) and {} face(s)", mesh.points.len(), faces.ends.len()))?;
    let texture = match header.texture.as_deref() {
        Some(name) => texture(name, uv, companions, &mut warnings, job)?,
        None => None,
    };
    Ok(ScanFile { mesh, format: header.format, texture, warnings })
}

fn refuse_without_faces(header: &Header, file: &str) -> Result<(), ReadError> {
    let count = |name: &str| header.elements.iter().filter(|e| e.name == name).map(|e| e.count).sum::<u64>();
    if header.elements.iter().any(|e| e.name == "tristrips" && e.count > 0) && count("face") == 0 {
        let (format, advice) = ("a PLY of triangle strips", "export it with single faces");
        return Err(ReadError::OtherFormat { file: file.into(), format: format.into(), advice: advice.into() });
    }
    if count("face") == 0 || count("vertex") == 0 {
        let found = format!("{} point(s) and {} face(s)", count("vertex"), count("face"));
        return Err(ReadError::NoTriangles { file: file.into(), found });
    }
    Ok(())
}

#[allow(clippy::too_many_arguments)]
fn read_points(
    rows: &mut Rows<'_>,
    element: &Element,
    file: &str,
    job: &Job,
    points: &mut Vec<Point3<f32>>,
    bad: &mut Vec<(usize, String)>,
    colours: &mut Colours,
    uv: &mut Vec<[f32; 2]>,
) -> Result<(), ReadError> {
    let missing = |what: &str| ReadError::Malformed {
        file: file.into(),
        place: "header".into(),
        what: format!("the element “vertex” has no {what}. Export the scan again"),
    };
    let single = |names: &[&str]| element.find(names).filter(|p| element.properties[*p].length.is_none());
    let (Some(x), Some(y), Some(z)) = (single(&["x"]), single(&["y"]), single(&["z"])) else {
        return Err(missing("x, y and z"));
    };
    let red = single(&["red", "diffuse_red", "r"]);
    let green = single(&["green", "diffuse_green", "g"]);
    let blue = single(&["blue", "diffuse_blue", "b"]);
    let rgb = red.zip(green).zip(blue).map(|((r, g), b)| [r, g, b]);
    if let Some([r, ..]) = rgb {
        colours.stored_as(element.properties[r].value);
    }
    let st = single(&["s", "u", "texture_u", "texture_s"]).zip(single(&["t", "v", "texture_v", "texture_t"]));
    let mut row = Row::new();
    points.reserve(usize::try_from(element.count).unwrap_or(0));
    for i in 0..element.count {
        if i.is_multiple_of(65_536) {
            job.step("reading points", 0.5 * i as f32 / element.count as f32)?;
        }
        rows.read(element, i, |_| false, &mut row)?;
        let one = |p: usize| row.of(p).first().copied().unwrap_or(f64::NAN);
        let point = Point3::new(one(x) as f32, one(y) as f32, one(z) as f32);
        if !is_finite(&point) {
            bad.push((points.len(), rows.place(element, i)));
        }
        points.push(point);
        if let Some(rgb) = rgb {
            colours.push(points.len() - 1, rgb.map(|p| one(p) as f32));
        }
        if let Some((s, t)) = st {
            uv.push([one(s) as f32, one(t) as f32]);
        }
    }
    Ok(())
}

fn read_faces(
    rows: &mut Rows<'_>,
    element: &Element,
    file: &str,
    job: &Job,
    with_uv: bool,
    faces: &mut FaceRows,
) -> Result<(), ReadError> {
    let list = |names: &[&str]| element.find(names).filter(|p| element.properties[*p].length.is_some());
    let Some(indices) = list(&["vertex_indices", "vertex_index"]) else {
        return Err(ReadError::Malformed {
            file: file.into(),
            place: "header".into(),
            what: "the element “face” has no list “vertex_indices”. Export the scan again".into(),
        });
    };
    let texcoord = list(&["texcoord"]).filter(|_| with_uv);
    let mut row = Row::new();
    for i in 0..element.count {
        if i.is_multiple_of(65_536) {
            job.step("reading faces", 0.5 + 0.4 * i as f32 / element.count as f32)?;
        }
        rows.read(element, i, |p| p == indices || Some(p) == texcoord, &mut row)?;
        for value in row.of(indices) {
            // Anything that is no point number becomes one that no file can hold, and is refused with its place.
            let whole = value.fract() == 0.0 && (0.0..f64::from(u32::MAX)).contains(value);
            faces.corners.push(if whole { *value as u32 } else { u32::MAX });
        }
        if let Some(p) = texcoord
            && row.of(p).len() == 2 * row.of(indices).len()
        {
            faces.uv.extend(row.of(p).iter().map(|v| *v as f32));
        }
        faces.ends.push(faces.corners.len());
        faces.lines.push(rows.line_number() as u32);
    }
    Ok(())
}

fn skip(rows: &mut Rows<'_>, element: &Element, job: &Job) -> Result<(), ReadError> {
    if element.properties.is_empty() {
        return Ok(());
    }
    let mut row = Row::new();
    for i in 0..element.count {
        if i.is_multiple_of(65_536) {
            job.check()?;
        }
        rows.read(element, i, |_| false, &mut row)?;
    }
    Ok(())
}

fn check_corners(
    faces: &FaceRows,
    points: &[Point3<f32>],
    bad: &[(usize, String)],
    file: &str,
    place: &impl Fn(usize) -> String,
) -> Result<(), ReadError> {
    let mut start = 0;
    for (f, end) in faces.ends.iter().enumerate() {
        for corner in &faces.corners[start..*end] {
            let Some(point) = points.get(*corner as usize) else {
                let index = if *corner == u32::MAX { -1 } else { i64::from(*corner) };
                let points = format!("{} points, numbered from 0", points.len());
                return Err(ReadError::NoSuchPoint { file: file.into(), place: place(f), index, points });
            };
            if !is_finite(point) {
                let found = bad.binary_search_by_key(&(*corner as usize), |b| b.0);
                let place = found.map_or_else(|_| place(f), |b| bad[b].1.clone());
                return Err(ReadError::NotFinite { file: file.into(), place });
            }
        }
        start = *end;
    }
    Ok(())
}

fn texture(
    name: &str,
    uv: Vec<[[f32; 2]; 3]>,
    companions: &dyn Fn(&str) -> Option<Vec<u8>>,
    warnings: &mut Vec<String>,
    job: &Job,
) -> Result<Option<Texture>, Cancelled> {
    if !uv.iter().flatten().flatten().all(|v| v.is_finite()) {
        return Ok(None);
    }
    Ok(match picture::load(name, companions, job)? {
        Ok(picture) => Some(Texture { width: picture.width, height: picture.height, pixels: picture.pixels, uv }),
        Err(why) => {
            warnings.push(why);
            None
        }
    })
}
