//! A slow turn of the guard, as one animated file or as numbered pictures.

use super::camera::View;
use super::palette::{COLOURS, Palette};
use super::sheet::{Scene, Viewport, blank};
use super::{Guard, RenderStyle, png};
use crate::Error;
use image::RgbImage;
use mesh::{Job, Mesh};
use rayon::prelude::*;
use std::path::{Path, PathBuf};

/// The palette entry for a pixel that is as in the frame before.
const SAME: u8 = COLOURS as u8;

/// Settings of a turn.
#[derive(Debug, Clone, PartialEq)]
pub struct Turntable {
    /// Pictures in one whole turn, 2 to 720.
    pub frames: u16,
    /// Pixels across and down, 160 to 8192.
    pub size: [u32; 2],
    /// Elevation of the viewer, degrees.
    pub raise_deg: f32,
    /// Time of one turn, s.
    pub turn_s: f32,
    /// Show the limb; without it the guard turns alone.
    pub on_limb: bool,
    /// Colours of guard, limb and page.
    pub look: RenderStyle,
}

impl Default for Turntable {
    fn default() -> Self {
        Self { frames: 36, size: [480, 480], raise_deg: 14.0, turn_s: 6.0, on_limb: true, look: RenderStyle::default() }
    }
}

impl Turntable {
    /// For sending by phone: small and quickly made.
    #[must_use]
    pub fn small() -> Self {
        Self { size: [240, 240], ..Self::default() }
    }
}

/// The turn as an animated GIF that repeats for ever. All frames share one palette, so that what does not change does
/// not flicker and is not written again.
///
/// # Errors
/// Nothing to draw, a broken mesh, settings outside their range, or the work was stopped; cancel is looked at every few
/// rows of each frame.
pub fn gif<'a>(limb: &'a Mesh, guard: impl Into<Guard<'a>>, turn: &Turntable, job: &Job) -> Result<Vec<u8>, Error> {
    let pictures = draw(limb, guard.into(), turn, &job.part(0.0, 0.7))?;
    job.step("choosing colours", 0.7)?;
    let [width, height] = turn.size.map(|n| n as u16);
    let delay = (100.0 * turn.turn_s.clamp(0.1, 600.0) / f32::from(turn.frames)).round().max(2.0) as u16;
    let palette = Palette::of(&pictures, job)?;
    let indexed: Vec<Vec<u8>> = pictures
        .par_iter()
        .map(|picture| {
            job.check()?;
            Ok(palette.indices(picture))
        })
        .collect::<Result<_, Error>>()?;
    job.step("packing the turn", 0.85)?;
    let frames: Vec<gif::Frame> = (0..indexed.len())
        .into_par_iter()
        .map(|k| {
            job.check()?;
            let mut pixels = indexed[k].clone();
            if let Some(before) = k.checked_sub(1).map(|b| &indexed[b]) {
                let same = pixels.iter_mut().zip(before).filter(|(now, before)| *now == *before);
                same.for_each(|(now, _)| *now = SAME);
            }
            let mut frame = gif::Frame { width, height, delay, buffer: pixels.into(), ..gif::Frame::default() };
            frame.transparent = (k > 0).then_some(SAME);
            frame.make_lzw_pre_encoded();
            Ok(frame)
        })
        .collect::<Result<_, Error>>()?;
    let mut bytes = Vec::new();
    let mut encoder = gif::Encoder::new(&mut bytes, width, height, palette.bytes())?;
    encoder.set_repeat(gif::Repeat::Infinite)?;
    for frame in &frames {
        encoder.write_lzw_pre_encoded_frame(frame)?;
    }
    drop(encoder);
    job.step("turn drawn", 1.0)?;
    Ok(bytes)
}

/// The turn as `turn-01.png`, `turn-02.png` and so on in `folder`, which must be there; returns the files in order.
///
/// # Errors
/// As [`gif`], or a file cannot be written; nothing is written before all pictures are drawn.
pub fn png_frames<'a>(
    folder: &Path,
    limb: &'a Mesh,
    guard: impl Into<Guard<'a>>,
    turn: &Turntable,
    job: &Job,
) -> Result<Vec<PathBuf>, Error> {
    let pictures = draw(limb, guard.into(), turn, &job.part(0.0, 0.8))?;
    let digits = turn.frames.to_string().len().max(2);
    let mut files = Vec::new();
    for (k, picture) in pictures.into_iter().enumerate() {
        job.step("writing the turn", 0.8 + 0.2 * k as f32 / f32::from(turn.frames))?;
        let path = folder.join(format!("turn-{:0digits$}.png", k + 1));
        let bytes = png(picture, job)?;
        mesh::write::save_atomic(&path, |out| out.write_all(&bytes))?;
        files.push(path);
    }
    job.step("turn written", 1.0)?;
    Ok(files)
}

/// The pictures of one turn, from the front round by the viewer's right, all at one scale.
fn draw(limb: &Mesh, guard: Guard<'_>, turn: &Turntable, job: &Job) -> Result<Vec<RgbImage>, Error> {
    if !(2..=720).contains(&turn.frames) {
        return Err(Error::TurnFrames { frames: turn.frames });
    }
    let page = blank(turn.size, turn.look.page)?;
    let none = Mesh::default();
    let scene = Scene::new(if turn.on_limb { limb } else { &none }, guard, &turn.look, job)?;
    let viewport = Viewport { x: 0, y: 0, width: turn.size[0] as usize, height: turn.size[1] as usize };
    let step = 360.0 / f32::from(turn.frames);
    let views: Vec<View> = (0..turn.frames)
        .map(|k| View { caption: "", turn_deg: step * f32::from(k), raise_deg: turn.raise_deg })
        .collect();
    let scale = views.iter().map(|v| scene.scale(*v, viewport)).fold(f32::INFINITY, f32::min);
    let mut pictures = Vec::new();
    for (k, view) in views.into_iter().enumerate() {
        job.step("drawing the turn", k as f32 / f32::from(turn.frames))?;
        let mut picture = page.clone();
        scene.paint(&mut picture, view, viewport, scale, job)?;
        pictures.push(picture);
    }
    Ok(pictures)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::samples::torus;

    fn turn() -> Turntable {
        Turntable { frames: 6, size: [160, 200], ..Turntable::default() }
    }

    #[test]
    fn a_turn_has_its_frames_size_and_pace_and_moves() {
        let mut ring = torus(40, 20);
        ring.points.iter_mut().for_each(|p| p.x *= 0.4);
        let bytes = gif(&Mesh::default(), &ring, &turn(), &Job::silent()).unwrap();
        let mut options = gif::DecodeOptions::new();
        options.set_color_output(gif::ColorOutput::RGBA);
        let mut decoder = options.read_info(&bytes[..]).unwrap();
        assert_eq!((decoder.width(), decoder.height(), decoder.repeat()), (160, 200, gif::Repeat::Infinite));
        let mut frames = Vec::new();
        while let Some(frame) = decoder.read_next_frame().unwrap() {
            assert_eq!(frame.delay, 100);
            frames.push(frame.buffer.to_vec());
        }
        assert_eq!(frames.len(), 6);
        assert!(frames.windows(2).all(|w| w[0] != w[1]));
        assert_eq!(bytes, gif(&Mesh::default(), &ring, &turn(), &Job::silent()).unwrap());
    }

    #[test]
    fn stopped_or_out_of_range_nothing_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let ring = torus(20, 10);
        let stopped = Job::silent();
        stopped.cancel();
        let none = Mesh::default();
        assert!(matches!(png_frames(folder.path(), &none, &ring, &turn(), &stopped), Err(Error::Cancelled(_))));
        let wrong = Turntable { frames: 1, ..turn() };
        let said = png_frames(folder.path(), &none, &ring, &wrong, &Job::silent()).unwrap_err().to_string();
        assert!(said.contains("1 pictures"), "{said}");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
        let files = png_frames(folder.path(), &none, &ring, &turn(), &Job::silent()).unwrap();
        assert_eq!(files.len(), 6);
        assert!(files[0].ends_with("turn-01.png") && files.iter().all(|f| f.exists()));
    }
}
