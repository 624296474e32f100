//! Picture files as shades to raise on a guard.

use std::path::Path;

use image::{DynamicImage, ImageReader, RgbaImage, imageops};
use locker::DesignFile;
use mesh::{Job, Surface};
use nalgebra::Point3;
use resvg::{tiny_skia, usvg};
use shell::{Design, Picture, Tones, limits};
use zone::Zone;

use crate::EngineError;

/// Largest picture file that is read, bytes.
const LARGEST_FILE: u64 = 32 << 20;
/// Most pixels of a picture across or down.
const LARGEST_SIDE: u32 = 12_000;
/// Shades fainter than this are paper, of 255.
const PAPER: u8 = 16;
/// A drawing in vectors is drawn so many pixels large before it is made smaller, which evens its edges.
const DRAWN: f32 = 1024.0;
/// How high a picture is raised at first, mm.
pub const USUAL_PICTURE_MM: f32 = 0.8;

/// Reads a PNG, JPEG or SVG file as a picture, not placed yet: dark parts of it stand out, white and clear ones do not.
/// What is drawn is cut out; its name is that of the file.
///
/// # Errors
/// The file cannot be read, is no such picture, or has nothing on it, or the work was stopped.
pub fn read_picture(path: &Path, job: &Job) -> Result<Picture, EngineError> {
    let refuse = |why: String| EngineError::Picture { path: path.into(), why };
    let bytes = std::fs::metadata(path).map_err(|source| EngineError::File { path: path.into(), source })?.len();
    if bytes > LARGEST_FILE {
        return Err(refuse(format!("it has {} MB, and at most {} are read", bytes >> 20, LARGEST_FILE >> 20)));
    }
    let content = std::fs::read(path).map_err(|source| EngineError::File { path: path.into(), source })?;
    // Decoding is one call that cannot be cancelled.
    let image = job.aside(move || decode(&content))?.map_err(refuse)?;
    let tones = tones(&image).ok_or_else(|| refuse("there is nothing on it darker than paper".to_owned()))?;
    let stem = path.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
    let name: String = stem.chars().filter(|c| !c.is_control()).take(limits::LONGEST_TEXT).collect();
    Ok(Picture {
        name: if name.is_empty() { "picture".to_owned() } else { name },
        width_mm: 30.0,
        relief_mm: USUAL_PICTURE_MM,
        at_mm: Point3::origin(),
        turn_deg: 0.0,
        tones,
    })
}

/// Adds a picture to a design where it has most room, on the guard's middle line if it can.
///
/// # Errors
/// There is no room for it, or the work was stopped.
pub fn add_picture(
    design: &mut Design,
    skin: &Surface,
    zone: &Zone,
    picture: &Picture,
    job: &Job,
) -> Result<(), EngineError> {
    let placed = shell::fitting::suggest_picture(skin, zone, design, picture, job)?;
    let placed = placed.ok_or_else(|| EngineError::NoRoomForPicture { name: picture.name.clone() })?;
    design.pictures.push(placed);
    Ok(())
}

/// [`add_picture`] for a design that lies in `folder`, `width_mm` wide where that is given.
///
/// # Errors
/// As [`add_picture`], or the design's scan or zone cannot be made.
pub fn add_picture_to(
    design: &mut DesignFile,
    folder: &Path,
    picture: &Picture,
    width_mm: Option<f32>,
    job: &Job,
) -> Result<(), EngineError> {
    let opened = crate::open(design, folder, &job.part(0.0, 0.8))?;
    add_picture(&mut design.shell, &opened.skin, &opened.zone, picture, &job.part(0.8, 1.0))?;
    if let (Some(width_mm), Some(last)) = (width_mm, design.shell.pictures.last_mut()) {
        last.width_mm = width_mm;
    }
    Ok(())
}

/// Adds a number or short word to a design that lies in `folder`, where it has most room.
///
/// # Errors
/// There is no room for it, it cannot be written, or the design's scan or zone cannot be made.
pub fn add_mark(design: &mut DesignFile, folder: &Path, text: &str, job: &Job) -> Result<(), EngineError> {
    let opened = crate::open(design, folder, &job.part(0.0, 0.8))?;
    let (skin, zone) = (&opened.skin, &opened.zone);
    let found = shell::fitting::suggest_mark(skin, zone, &design.shell, text, &job.part(0.8, 1.0))?;
    let mark = found.ok_or_else(|| EngineError::NoRoomForMark { text: text.to_owned() })?;
    design.shell.marks.push(mark);
    Ok(())
}

fn decode(content: &[u8]) -> Result<RgbaImage, String> {
    let start = String::from_utf8_lossy(&content[..content.len().min(1024)]).into_owned();
    if start.contains("<svg") {
        return drawn(content);
    }
    let reader = ImageReader::new(std::io::Cursor::new(content)).with_guessed_format().map_err(|e| e.to_string())?;
    if reader.format().is_none() {
        return Err("it is not a PNG, JPEG or SVG file".to_owned());
    }
    let mut reader = reader;
    let mut most = image::Limits::default();
    (most.max_image_width, most.max_image_height) = (Some(LARGEST_SIDE), Some(LARGEST_SIDE));
    reader.limits(most);
    let image: DynamicImage = reader.decode().map_err(|error| format!("it cannot be decoded ({error})"))?;
    Ok(image.into_rgba8())
}

/// A drawing in vectors, as pixels on clear ground. Text in it is left out unless it was turned into outlines.
fn drawn(content: &[u8]) -> Result<RgbaImage, String> {
    let tree = usvg::Tree::from_data(content, &usvg::Options::default())
        .map_err(|error| format!("it is not a sound SVG file ({error})"))?;
    let size = tree.size();
    let scale = DRAWN / size.width().max(size.height());
    let side = |mm: f32| (mm * scale).round().max(1.0) as u32;
    let (width, height) = (side(size.width()), side(size.height()));
    let mut pixels = tiny_skia::Pixmap::new(width, height).ok_or_else(|| "it has no size".to_owned())?;
    resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut pixels.as_mut());
    let plain = pixels.pixels().iter().flat_map(|p| {
        let p = p.demultiply();
        [p.red(), p.green(), p.blue(), p.alpha()]
    });
    RgbaImage::from_raw(width, height, plain.collect()).ok_or_else(|| "it has no size".to_owned())
}

/// How dark the picture is on white paper, cut out where there is something and at most [`Tones::MOST`] either way.
fn tones(image: &RgbaImage) -> Option<Tones> {
    let dark = |p: &image::Rgba<u8>| {
        let [r, g, b, a] = p.0.map(f32::from);
        // Rec. 601 luma of what is seen on white.
        let ink = 255.0 - (0.299 * r + 0.587 * g + 0.114 * b);
        (ink * a / 255.0).round().clamp(0.0, 255.0) as u8
    };
    let grey =
        image::GrayImage::from_fn(image.width(), image.height(), |x, y| image::Luma([dark(image.get_pixel(x, y))]));
    let inked = grey.enumerate_pixels().filter(|(.., p)| p.0[0] > PAPER);
    let [low, high] = inked.fold([[u32::MAX; 2], [0; 2]], |[low, high], (x, y, _)| {
        [[low[0].min(x), low[1].min(y)], [high[0].max(x), high[1].max(y)]]
    });
    if low[0] > high[0] {
        return None;
    }
    let size = [0, 1].map(|k| high[k] - low[k] + 1);
    let cut = imageops::crop_imm(&grey, low[0], low[1], size[0], size[1]).to_image();
    let most = Tones::MOST as u32;
    let scale = (f64::from(most) / f64::from(size[0].max(size[1]))).min(1.0);
    let fit = size.map(|side| ((f64::from(side) * scale).round() as u32).clamp(2, most));
    let small = imageops::resize(&cut, fit[0], fit[1], imageops::FilterType::Triangle);
    let values: Vec<u8> = small.into_raw().into_iter().map(|v| if v > PAPER { v } else { 0 }).collect();
    values.iter().any(|v| *v > 0).then_some(Tones { columns: fit[0] as usize, values })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(name: &str, content: &[u8]) -> Result<Picture, EngineError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(name);
        std::fs::write(&path, content).unwrap();
        read_picture(&path, &Job::silent())
    }

    fn png(width: u32, height: u32, at: impl Fn(u32, u32) -> [u8; 4]) -> Vec<u8> {
        let image = RgbaImage::from_fn(width, height, |x, y| image::Rgba(at(x, y)));
        let mut bytes = std::io::Cursor::new(Vec::new());
        image.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
        bytes.into_inner()
    }

    #[test]
    fn what_is_dark_is_cut_out_and_stands_high() {
        // A black box of 40 × 20 in a white picture, half of it half clear.
        let alpha = |x: u32| if x < 50 { 255 } else { 128 };
        let inside = |x: u32, y: u32| (30..70).contains(&x) && (10..30).contains(&y);
        let picture =
            read("crest.png", &png(100, 50, |x, y| if inside(x, y) { [0, 0, 0, alpha(x)] } else { [255; 4] })).unwrap();
        assert_eq!((picture.name.as_str(), picture.tones.columns, picture.tones.rows()), ("crest", 40, 20));
        assert_eq!((picture.tones.values[0], picture.tones.values[39]), (255, 128));
    }

    /// The area of a disc against π r², of a drawing in vectors.
    #[test]
    fn a_disc_in_vectors_has_its_area() {
        let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 20 20"><circle cx="9" cy="9" r="5"/></svg>"#;
        let tones = read("disc.svg", svg.as_bytes()).unwrap().tones;
        assert_eq!((tones.columns, tones.rows()), (256, 256));
        let share = tones.values.iter().map(|v| f64::from(*v)).sum::<f64>() / (255.0 * 256.0 * 256.0);
        assert!((share / (std::f64::consts::PI / 4.0) - 1.0).abs() < 0.01, "{share}");
    }

    #[test]
    fn what_is_no_picture_is_refused_in_a_sentence() {
        let said = |name: &str, content: &[u8]| read(name, content).unwrap_err().to_string();
        assert!(said("a.png", b"solid of words").contains("not a PNG, JPEG or SVG file"));
        assert!(said("a.svg", b"<svg").contains("not a sound SVG file"));
        assert!(said("a.png", &png(8, 8, |_, _| [255; 4])).contains("nothing on it darker than paper"));
        let whole = png(8, 8, |_, _| [0, 0, 0, 255]);
        assert!(said("a.png", &whole[..whole.len() / 2]).contains("cannot be decoded"));
    }
}
