//! The colour pictures that an OBJ's material file names, joined into one.

use super::echo::shown_name;
use super::number::{Number, number_f32};
use super::picture::{self, Picture};
use super::scan_file::Texture;
use crate::job::Every;
use crate::{Cancelled, Job};
use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, HashMap};

/// Triangles with their picture coordinates (NaN where a corner has none) and materials.
pub(super) struct Surfaces<'a> {
    /// Names of the materials, as used.
    pub materials: &'a [String],
    /// Picture coordinates of the corners of each triangle.
    pub uv: Vec<[[f32; 2]; 3]>,
    /// Material of each triangle, an index into `materials`; out of range for none.
    pub material: Vec<u32>,
}

#[derive(Debug, Clone, PartialEq)]
struct Material {
    colour: [u8; 3],
    picture: Option<String>,
}

/// Below this many triangles a missing material file is not reported: no scan is that coarse.
const FEWEST_OF_A_SCAN: usize = 1000;

/// The picture over all triangles; `None` where none is named or could be read.
pub(super) fn texture(
    files: &[String],
    surfaces: Surfaces<'_>,
    has_point_colours: bool,
    companions: &dyn Fn(&str) -> Option<Vec<u8>>,
    warnings: &mut Vec<String>,
    job: &Job,
) -> Result<Option<Texture>, Cancelled> {
    let mut materials = BTreeMap::new();
    let mut missing = None;
    for name in files {
        match picture::file_name(name).and_then(companions) {
            Some(bytes) => parse(&bytes, &mut materials),
            None => missing = missing.or(Some(name)),
        }
    }
    if let Some(name) = missing
        && !has_point_colours
        && surfaces.uv.len() >= FEWEST_OF_A_SCAN
    {
        let shown = shown_name(name);
        warnings.push(format!(
            "the material file “{shown}” is not beside the scan, so a colour picture cannot be found; keep them in one folder"
        ));
    }
    let used: Vec<Option<&Material>> = surfaces.materials.iter().map(|name| materials.get(name.as_str())).collect();
    let mut pictures: Vec<Option<Picture>> = Vec::new();
    let mut numbers: HashMap<&str, usize> = HashMap::new();
    // For each material its place in `pictures`, where it has a picture that could be read.
    let mut picture_of: Vec<Option<usize>> = Vec::new();
    for material in &used {
        let Some(name) = material.and_then(|m| m.picture.as_deref()) else {
            picture_of.push(None);
            continue;
        };
        let number = match numbers.entry(name) {
            Entry::Occupied(known) => *known.get(),
            Entry::Vacant(new) => {
                pictures.push(picture::load(name, companions, job)?.map_err(|why| warnings.push(why)).ok());
                *new.insert(pictures.len() - 1)
            }
        };
        picture_of.push(Some(number).filter(|n| pictures[*n].is_some()));
    }
    let place_of = |material: u32| picture_of.get(material as usize).copied().flatten();
    let finite = |uv: &[[f32; 2]; 3]| uv.iter().flatten().all(|v| v.is_finite());
    let places: Vec<Option<usize>> =
        surfaces.uv.iter().zip(&surfaces.material).map(|(uv, m)| place_of(*m).filter(|_| finite(uv))).collect();
    let colour_of = |material: u32| used.get(material as usize).copied().flatten().map_or([255; 3], |m| m.colour);

    job.check()?;
    let Some(first) = places.iter().flatten().min().copied() else { return Ok(None) };
    if places.iter().all(|p| *p == Some(first)) {
        let whole = |p: Picture| Texture { width: p.width, height: p.height, pixels: p.pixels, uv: surfaces.uv };
        return Ok(pictures.swap_remove(first).map(whole));
    }
    let readable: Vec<Option<&Picture>> = pictures.iter().map(Option::as_ref).collect();
    stack(&readable, &places, &surfaces, colour_of, job).map(Some)
}

/// Lays the pictures under each other, and below them a patch for each plain colour.
fn stack(
    pictures: &[Option<&Picture>],
    places: &[Option<usize>],
    surfaces: &Surfaces<'_>,
    colour_of: impl Fn(u32) -> [u8; 3],
    job: &Job,
) -> Result<Texture, Cancelled> {
    let width = pictures.iter().flatten().map(|p| p.width).max().unwrap_or(1);
    let mut pixels: Vec<[u8; 3]> = Vec::new();
    let mut tops = Vec::new();
    let mut every = Every::new(job, 256);
    for picture in pictures {
        tops.push(pixels.len() / width as usize);
        for row in picture.map(|p| p.pixels.chunks_exact(p.width as usize)).into_iter().flatten() {
            every.tick()?;
            pixels.extend(row);
            let last = row.last().copied().unwrap_or_default();
            pixels.extend(std::iter::repeat_n(last, width as usize - row.len()));
        }
    }
    let mut patches: BTreeMap<[u8; 3], usize> = BTreeMap::new();
    for (place, material) in places.iter().zip(&surfaces.material) {
        if place.is_none() {
            patches.entry(colour_of(*material)).or_insert(0);
        }
    }
    for (colour, row) in &mut patches {
        *row = pixels.len() / width as usize;
        // Two rows, so that smoothing between pixels stays inside the patch.
        pixels.extend(std::iter::repeat_n(*colour, 2 * width as usize));
    }
    let height = (pixels.len() / width as usize) as f32;
    let uv = (0..surfaces.uv.len())
        .map(|t| match places[t].and_then(|p| pictures[p].map(|picture| (tops[p], picture))) {
            Some((top, picture)) => {
                // Repeats of the picture are subtracted from all three corners alike, so that the triangle stays in one
                // piece.
                let least = |k: usize| surfaces.uv[t].iter().map(|c| c[k]).fold(f32::INFINITY, f32::min);
                let greatest = |k: usize| surfaces.uv[t].iter().map(|c| c[k]).fold(f32::NEG_INFINITY, f32::max);
                let off = [0, 1].map(|k| if least(k) < 0.0 || greatest(k) > 1.0 { least(k).floor() } else { 0.0 });
                surfaces.uv[t].map(|[u, v]| {
                    let (u, v) = ((u - off[0]).clamp(0.0, 1.0), (v - off[1]).clamp(0.0, 1.0));
                    let x = 0.5 + u * (picture.width - 1) as f32;
                    let y = top as f32 + 0.5 + (1.0 - v) * (picture.height - 1) as f32;
                    [x / width as f32, 1.0 - y / height]
                })
            }
            None => {
                let row = patches.get(&colour_of(surfaces.material[t])).copied().unwrap_or_default();
                [[0.5, 1.0 - (row as f32 + 1.0) / height]; 3]
            }
        })
        .collect();
    Ok(Texture { width, height: height as u32, pixels, uv })
}

fn parse(bytes: &[u8], materials: &mut BTreeMap<String, Material>) {
    let mut name: Option<String> = None;
    for line in bytes.split(|b| matches!(b, b'\n' | b'\r')).map(<[u8]>::trim_ascii) {
        let word = line.split(u8::is_ascii_whitespace).next().unwrap_or_default();
        let rest = line.get(word.len()..).unwrap_or_default().trim_ascii();
        if word.eq_ignore_ascii_case(b"newmtl") {
            let new = String::from_utf8_lossy(rest).into_owned();
            materials.insert(new.clone(), Material { colour: [255; 3], picture: None });
            name = Some(new);
        }
        let Some(material) = name.as_ref().and_then(|n| materials.get_mut(n)) else { continue };
        if word.eq_ignore_ascii_case(b"kd") {
            let mut values = rest.split(u8::is_ascii_whitespace).filter(|w| !w.is_empty());
            for channel in &mut material.colour {
                if let Some(Number::Whole(v) | Number::Front(v)) = values.next().map(number_f32) {
                    *channel = (v * 255.0).round().clamp(0.0, 255.0) as u8;
                }
            }
        } else if word.eq_ignore_ascii_case(b"map_kd") {
            material.picture = Some(without_options(&String::from_utf8_lossy(rest)));
        }
    }
}

/// Drops options such as `-s 1 1 1` or `-clamp on` in front of a picture's name, which may hold blanks.
fn without_options(text: &str) -> String {
    let mut rest = text.trim();
    while rest.starts_with('-') {
        let (option, after) = rest.split_once(char::is_whitespace).unwrap_or((rest, ""));
        let words = match option {
            "-s" | "-o" | "-t" => 3,
            "-mm" => 2,
            "-blendu" | "-blendv" | "-cc" | "-clamp" | "-texres" | "-bm" | "-boost" | "-imfchan" | "-type" => 1,
            // A name that begins with a dash.
            _ => break,
        };
        rest = after.trim_start();
        for taken in 0..words {
            let (word, after) = rest.split_once(char::is_whitespace).unwrap_or((rest, ""));
            // -s, -o and -t take one to three numbers.
            if taken > 0 && word.parse::<f32>().is_err() {
                break;
            }
            rest = after.trim_start();
        }
    }
    rest.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn options_before_the_picture_are_dropped() {
        assert_eq!(without_options("-s 1 1 1 -clamp on my skin.png"), "my skin.png");
        assert_eq!(without_options("-o 0.5 skin.png"), "skin.png");
        assert_eq!(without_options("-odd name.png"), "-odd name.png");
        assert_eq!(without_options("skin.png"), "skin.png");
    }
}
