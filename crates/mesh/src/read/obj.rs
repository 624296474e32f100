//! Wavefront OBJ: points with or without colours, faces of any number of corners in all their spellings.

use super::colour::Colours;
use super::echo::shown;
use super::error::ReadError;
use super::faces::{Counted, Faces, require_triangle};
use super::number::{Number, number_f32};
use super::obj_picture::{self, Surfaces};
use super::recognise::is_obj_word;
use super::scan_file::{Format, ScanFile};
use super::stl_ascii::{is_finite, not_a_number};
use crate::job::Every;
use crate::{Job, Mesh};
use nalgebra::Point3;
use std::borrow::Cow;
use std::collections::HashMap;

/// Lines between two looks at the job.
const LINES_A_LOOK: usize = 100_000;
/// Stands for a corner without picture coordinates.
const NO_UV: u32 = u32::MAX;

/// A face as it stands in the file.
struct FaceRow {
    /// Where its corners end; they begin where the face before ends.
    end: usize,
    line: u32,
    material: u32,
}

#[derive(Default)]
struct Contents {
    points: Vec<Point3<f32>>,
    colours: Colours,
    /// Points with a coordinate that is not finite, and their line.
    bad_points: Vec<(usize, usize)>,
    uv: Vec<[f32; 2]>,
    corners: Vec<u32>,
    corner_uv: Vec<u32>,
    faces: Vec<FaceRow>,
    material_files: Vec<String>,
    materials: Vec<String>,
    lines_and_points: usize,
    odd_numbers: Counted,
    unknown: Counted,
    bad_uv: Counted,
}

/// Reads an OBJ file; `companions` gives the bytes of a file beside it.
pub(super) fn read(
    bytes: &[u8],
    file: &str,
    companions: &dyn Fn(&str) -> Option<Vec<u8>>,
    job: &Job,
) -> Result<ScanFile, ReadError> {
    let contents = parse(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes), file, job)?;
    if contents.faces.is_empty() {
        let found =
            format!("{} point(s) and {} line or point row(s)", contents.points.len(), contents.lines_and_points);
        return Err(ReadError::NoTriangles { file: file.into(), found });
    }
    check_corners(&contents, file)?;
    job.step("cutting faces into triangles", 0.8)?;
    let mut warnings = Vec::new();
    let mut faces = Faces::default();
    let mut surfaces = Surfaces { materials: &contents.materials, uv: Vec::new(), material: Vec::new() };
    let with_picture = !contents.uv.is_empty() && !contents.material_files.is_empty();
    let mut start = 0;
    for face in &contents.faces {
        let corners = &contents.corners[start..face.end];
        faces.add(
            &contents.points,
            corners,
            || format!("line {}", face.line),
            |places| {
                if with_picture {
                    let uv = |i: usize| contents.uv.get(contents.corner_uv[start + i] as usize).copied();
                    surfaces.uv.push(places.map(|i| uv(i).unwrap_or([f32::NAN; 2])));
                    surfaces.material.push(face.material);
                }
            },
        );
        start = face.end;
    }
    faces.say(&mut warnings);
    contents
        .odd_numbers
        .say(|n| format!("{n} number(s) are followed by other characters, which were ignored"), &mut warnings);
    contents.bad_uv.say(|n| format!("{n} face corner(s) name picture coordinates that do not exist"), &mut warnings);
    contents.unknown.say(|n| format!("{n} line(s) are not OBJ and were ignored"), &mut warnings);
    if contents.lines_and_points > 0 {
        warnings.push(format!("{} row(s) of lines or points were left out", contents.lines_and_points));
    }
    let colours = contents.colours.finish(contents.points.len(), &mut warnings);
    let mesh = Mesh { points: contents.points, triangles: faces.triangles, colours };
    require_triangle(&mesh, file, || format!("{} point(s) and {} face(s)", mesh.points.len(), contents.faces.len()))?;
    job.step("opening the colour picture", 0.9)?;
    let texture = if with_picture {
        obj_picture::texture(
            &contents.material_files,
            surfaces,
            mesh.colours.is_some(),
            companions,
            &mut warnings,
            job,
        )?
    } else {
        None
    };
    Ok(ScanFile { mesh, format: Format::Obj, texture, warnings })
}

fn parse(bytes: &[u8], file: &str, job: &Job) -> Result<Contents, ReadError> {
    let mut contents = Contents::default();
    let mut material = u32::MAX;
    let mut materials: HashMap<String, u32> = HashMap::new();
    let old_mac = !bytes.contains(&b'\n');
    let mut lines = bytes.split(|b| *b == b'\n' || (old_mac && *b == b'\r')).enumerate();
    let mut read = 0_usize;
    let mut look_at = 0;
    let mut every = Every::new(job, LINES_A_LOOK as u32);
    while let Some((number, line)) = lines.next() {
        let line_number = number + 1;
        let mut line = Cow::Borrowed(line.trim_ascii_end());
        while line.last() == Some(&b'\\') {
            let text = line.to_mut();
            text.pop();
            let Some((_, more)) = lines.next() else { break };
            every.tick()?;
            text.push(b' ');
            text.extend(more.trim_ascii_end());
        }
        read += line.len();
        if number >= look_at {
            look_at = number + LINES_A_LOOK;
            job.step("reading points and faces", 0.8 * (read as f32 / bytes.len().max(1) as f32).min(1.0))?;
        }
        let mut words = line.split(u8::is_ascii_whitespace).filter(|w| !w.is_empty());
        match words.next() {
            None => {}
            Some(b"v") => point(&mut contents, words, line_number, file)?,
            Some(b"vt") => {
                let mut uv = [0.0; 2];
                for (value, word) in uv.iter_mut().zip(words) {
                    *value = match number_f32(word) {
                        Number::Whole(v) | Number::Front(v) => v,
                        Number::None => f32::NAN,
                    };
                }
                contents.uv.push(uv);
            }
            Some(b"f" | b"fo") => face(&mut contents, words, line_number, material, file)?,
            Some(b"l" | b"p") => contents.lines_and_points += 1,
            Some(b"usemtl") => {
                let name = rest_of_line(&line);
                material = match materials.get(&name) {
                    Some(known) => *known,
                    None => {
                        let new = contents.materials.len() as u32;
                        materials.insert(name.clone(), new);
                        contents.materials.push(name);
                        new
                    }
                };
            }
            Some(b"mtllib") => contents.material_files.push(rest_of_line(&line)),
            Some(word) if word.starts_with(b"#") || is_obj_word(word) => {}
            Some(_) => contents.unknown.add(|| format!("line {line_number}")),
        }
        let most = (u32::MAX / 4) as usize;
        if contents.points.len() > most || contents.corners.len() > 3 * most {
            return Err(ReadError::TooLarge { file: file.into(), found: format!("more than {most} points") });
        }
    }
    Ok(contents)
}

/// What follows the first word, as it stands: names may hold blanks.
fn rest_of_line(line: &[u8]) -> String {
    let line = line.trim_ascii();
    let word = line.iter().take_while(|b| !b.is_ascii_whitespace()).count();
    String::from_utf8_lossy(line[word..].trim_ascii()).into_owned()
}

fn point<'a>(
    contents: &mut Contents,
    words: impl Iterator<Item = &'a [u8]>,
    line: usize,
    file: &str,
) -> Result<(), ReadError> {
    let mut values = [0.0_f32; 7];
    let mut count = 0;
    for word in words {
        if count == values.len() || word.starts_with(b"#") {
            break;
        }
        values[count] = match number_f32(word) {
            Number::Whole(v) => v,
            Number::Front(v) => {
                contents.odd_numbers.add(|| format!("line {line}"));
                v
            }
            Number::None => return Err(not_a_number(file, line, word)),
        };
        count += 1;
    }
    if count < 3 {
        return Err(ReadError::Malformed {
            file: file.into(),
            place: format!("line {line}"),
            what: format!("a point needs three numbers, but there are {count}. Export the scan again"),
        });
    }
    let point = Point3::new(values[0], values[1], values[2]);
    if !is_finite(&point) {
        contents.bad_points.push((contents.points.len(), line));
    }
    // Six numbers are x y z r g b, seven x y z w r g b; a fourth alone is the weight of a rational point.
    if count >= 6 {
        let [r, g, b] = [values[count - 3], values[count - 2], values[count - 1]];
        contents.colours.push(contents.points.len(), [r, g, b]);
    }
    contents.points.push(point);
    Ok(())
}

fn face<'a>(
    contents: &mut Contents,
    words: impl Iterator<Item = &'a [u8]>,
    line: usize,
    material: u32,
    file: &str,
) -> Result<(), ReadError> {
    for word in words.take_while(|w| !w.starts_with(b"#")) {
        let mut parts = word.split(|b| *b == b'/');
        let whole = |part: &[u8]| std::str::from_utf8(part).ok().and_then(|t| t.parse::<i64>().ok());
        let Some(index) = parts.next().and_then(whole) else {
            let what = format!("“{}” is not a corner of a face. Export the scan again", shown(word));
            return Err(ReadError::Malformed { file: file.into(), place: format!("line {line}"), what });
        };
        let Some(corner) = from_index(index, contents.points.len()) else {
            return Err(no_such_point(file, line, index, contents.points.len()));
        };
        contents.corners.push(corner);
        let uv = match parts.next().filter(|p| !p.is_empty()) {
            None => NO_UV,
            Some(part) => whole(part).and_then(|i| from_index(i, contents.uv.len())).unwrap_or_else(|| {
                contents.bad_uv.add(|| format!("line {line}"));
                NO_UV
            }),
        };
        contents.corner_uv.push(uv);
    }
    contents.faces.push(FaceRow { end: contents.corners.len(), line: line as u32, material });
    Ok(())
}

/// From OBJ's counting (1 is the first, -1 the last so far) to ours; points to come may be named too.
fn from_index(index: i64, so_far: usize) -> Option<u32> {
    let place = if index < 0 { i64::try_from(so_far).ok()?.checked_add(index)? } else { index - 1 };
    u32::try_from(place).ok().filter(|p| *p < u32::MAX)
}

fn no_such_point(file: &str, line: usize, index: i64, points: usize) -> ReadError {
    let points = format!("{points} points, numbered from 1");
    ReadError::NoSuchPoint { file: file.into(), place: format!("line {line}"), index, points }
}

fn check_corners(contents: &Contents, file: &str) -> Result<(), ReadError> {
    let mut start = 0;
    for face in &contents.faces {
        for corner in &contents.corners[start..face.end] {
            let Some(point) = contents.points.get(*corner as usize) else {
                return Err(no_such_point(file, face.line as usize, i64::from(*corner) + 1, contents.points.len()));
            };
            if !is_finite(point) {
                let found = contents.bad_points.binary_search_by_key(&(*corner as usize), |b| b.0);
                let line = found.map_or(face.line as usize, |b| contents.bad_points[b].1);
                return Err(ReadError::NotFinite { file: file.into(), place: format!("line {line}") });
            }
        }
        start = face.end;
    }
    Ok(())
}
