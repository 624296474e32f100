//! Ambient occlusion: shade where little light gets in, as under the rim, beside ribs and in vents.
//!
//! McGuire et al., "The Alchemy screen-space ambient obscurance algorithm", HPG 2011, on a fixed pattern of samples.

use super::raster::Framebuffer;
use mesh::{Cancelled, Job};
use nalgebra::Vector3;
use rayon::prelude::*;

/// Samples around a pixel.
const SAMPLES: usize = 20;
/// How far away something still casts shade.
const REACH_MM: f32 = 14.0;
/// How dark that shade is.
const STRENGTH: f32 = 2.4;

/// Darkens the buffer, drawn at `scale` pixels a millimetre.
///
/// # Errors
/// Only that the work was stopped.
pub fn darken(buffer: &mut Framebuffer, scale: f32, job: &Job) -> Result<(), Cancelled> {
    let raw = job.each(buffer.light.len(), |at| open(buffer, at, scale))?;
    let smooth = job.each(raw.len(), |at| blur(buffer, &raw, at))?;
    let Framebuffer { width, light, evenness, .. } = buffer;
    let rows = light.par_chunks_mut(*width).zip(smooth.par_chunks(*width)).zip(evenness.par_chunks(*width));
    rows.try_for_each(|((light, open), evenness)| {
        job.check()?;
        for ((light, open), evenness) in light.iter_mut().zip(open).zip(evenness) {
            for channel in &mut light[..3] {
                *channel *= open.powf(*evenness);
            }
        }
        Ok(())
    })
}

/// The share of the sky that a pixel sees, 1 in the open.
fn open(buffer: &Framebuffer, at: usize, scale: f32) -> f32 {
    let depth = buffer.depth[at];
    if depth == f32::NEG_INFINITY {
        return 1.0;
    }
    let (x, y) = ((at % buffer.width) as f32, (at / buffer.width) as f32);
    let normal = buffer.normal[at];
    // The pattern is turned differently at each pixel of a 4 by 4 block, and the blur evens that out.
    let turn = ((at % buffer.width % 4) * 4 + at / buffer.width % 4) as f32 * (std::f32::consts::TAU / 16.0);
    let mut taken = 0.0;
    for k in 0..SAMPLES {
        let share = (k as f32 + 0.5) / SAMPLES as f32;
        let (sin, cos) = (turn + k as f32 * 2.399_963).sin_cos(); // the golden angle spreads them evenly
        let reach = (REACH_MM * share).max(1.5 / scale) * scale;
        let (sx, sy) = ((x + cos * reach).round(), (y + sin * reach).round());
        if sx < 0.0 || sy < 0.0 || sx >= buffer.width as f32 || sy >= buffer.height as f32 {
            continue;
        }
        let other = buffer.depth[sy as usize * buffer.width + sx as usize];
        if other == f32::NEG_INFINITY {
            continue;
        }
        let to = Vector3::new((sx - x) / scale, (y - sy) / scale, other - depth);
        let distance = to.norm();
        let rise = (to.dot(&normal) - 0.15).max(0.0) / distance.max(0.3);
        taken += rise * (1.0 - distance / (2.0 * REACH_MM)).max(0.0);
    }
    (1.0 - STRENGTH * taken / SAMPLES as f32).clamp(0.25, 1.0)
}

/// Depths further apart than this belong to different surfaces.
const STEP_MM: f32 = 1.5;

/// Mean over the 4 by 4 block around a pixel, of the pixels at about its depth; of all where the pixel sees two
/// surfaces, since one of them may lie in shade.
fn blur(buffer: &Framebuffer, raw: &[f32], at: usize) -> f32 {
    let (x, y) = (at % buffer.width, at / buffer.width);
    let depth = buffer.depth[at];
    let mixed = depth - buffer.farthest[at] > STEP_MM;
    let (mut sum, mut count) = (0.0, 0.0);
    for sy in y.saturating_sub(2)..(y + 2).min(buffer.height) {
        for sx in x.saturating_sub(2)..(x + 2).min(buffer.width) {
            let other = sy * buffer.width + sx;
            if other == at || mixed || (buffer.depth[other] - depth).abs() < STEP_MM {
                sum += raw[other];
                count += 1.0;
            }
        }
    }
    sum / f32::max(count, 1.0)
}
