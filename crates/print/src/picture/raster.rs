//! Triangles to lit pixels: a depth buffer for the limb and one for the shell, four samples a pixel.

use super::camera::Camera;
use super::light::{EVEN_LIGHT, SKIN, Shine, plastic, shade};
use super::{Cover, Guard, RenderStyle, linear};
use crate::Error;
use mesh::{Cancelled, Job, Mesh};
use nalgebra::Vector3;
use rayon::prelude::*;

/// Samples a pixel each way.
const SAMPLES: usize = 2;
/// Rows of pixels that one task draws.
const BAND: usize = 48;
/// Triangles meeting at a corner flatter than this are shaded as one smooth surface.
const CREASE_COS: f32 = 0.766; // 40°

/// A mesh with what its shading needs, made once for all views.
pub struct Model<'a> {
    mesh: &'a Mesh,
    normals: Vec<Vector3<f32>>,
    faces: Vec<Vector3<f32>>,
    /// Linear colours of the points, or one for all.
    colours: Vec<[f32; 3]>,
    cover: Option<&'a Cover>,
    shine: Shine,
}

impl<'a> Model<'a> {
    /// The limb, in its scan's colours or one colour.
    pub fn limb(mesh: &'a Mesh, look: &RenderStyle, job: &Job) -> Result<Self, Cancelled> {
        let scan = mesh.colours.as_ref().filter(|c| look.scan_colours && c.len() == mesh.points.len());
        let colours = scan.map_or_else(|| vec![linear(look.limb)], |c| c.iter().map(|&c| linear(c)).collect());
        Self::new(mesh, colours, None, SKIN, job)
    }

    /// The shell, in its own colours if it has any.
    pub fn shell(guard: Guard<'a>, look: &RenderStyle, job: &Job) -> Result<Self, Cancelled> {
        let own = guard.shell.colours.as_ref().filter(|c| c.len() == guard.shell.points.len());
        let colours = own.map_or_else(|| vec![linear(look.shell)], |c| c.iter().map(|&c| linear(c)).collect());
        Self::new(guard.shell, colours, guard.cover, plastic(look.finish), job)
    }

    fn new(
        mesh: &'a Mesh,
        colours: Vec<[f32; 3]>,
        cover: Option<&'a Cover>,
        shine: Shine,
        job: &Job,
    ) -> Result<Self, Cancelled> {
        let faces = job.each(mesh.triangles.len(), |t| mesh.triangle_normal(t))?;
        Ok(Self { mesh, normals: mesh.build_shading_normals(job)?, faces, colours, cover, shine })
    }

    fn colour(&self, v: u32) -> [f32; 3] {
        self.colours.get(v as usize).copied().unwrap_or(self.colours[0])
    }

    /// Light from triangle `t` at the barycentric weights `w`.
    fn light(&self, t: usize, w: [f32; 3], camera: &Camera) -> Lit {
        let corners = self.mesh.triangles[t];
        let face = self.faces[t];
        let (mut normal, mut albedo) = (Vector3::zeros(), [0.0; 3]);
        for k in 0..3 {
            let own = self.normals[corners[k] as usize];
            normal += if own.dot(&face) > CREASE_COS { own } else { face } * w[k];
            let colour = self.colour(corners[k]);
            for c in 0..3 {
                albedo[c] += colour[c] * w[k];
            }
        }
        if let Some(laid) = self.cover.and_then(|cover| cover.at(t, w, camera.scale * SAMPLES as f32)) {
            albedo = laid;
        }
        let mut normal = camera.turn(&normal).try_normalize(1e-9).unwrap_or(Vector3::z());
        // The inside of an open limb is seen from behind: normal turned round, colour dimmed.
        if camera.turn(&face).z < 0.0 {
            normal = -normal;
            albedo = albedo.map(|a| 0.45 * a);
        }
        let evenness = if self.shine.even { EVEN_LIGHT.exponent(albedo) } else { 1.0 };
        Lit { light: shade(albedo, normal, self.shine), normal, evenness }
    }
}

/// A lit sample.
struct Lit {
    light: [f32; 3],
    normal: Vector3<f32>,
    evenness: f32,
}

/// One drawn view, row by row from the top.
#[derive(Default)]
pub struct Framebuffer {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Linear light and coverage, light multiplied by coverage.
    pub light: Vec<[f32; 4]>,
    /// Millimetres towards the viewer of the nearest sample; −∞ where there is nothing.
    pub depth: Vec<f32>,
    /// The same of the farthest sample that sees something.
    pub farthest: Vec<f32>,
    /// The nearest sample's normal as the viewer sees it.
    pub normal: Vec<Vector3<f32>>,
    /// Exponent of light and shade on the nearest sample; see [`super::EvenLight`].
    pub evenness: Vec<f32>,
}

/// Points in sample coordinates, and the first and last row of each triangle.
struct Projected {
    points: Vec<[f32; 3]>,
    rows: Vec<[f32; 2]>,
}

fn project(model: &Model, camera: &Camera) -> Projected {
    let ss = SAMPLES as f32;
    let points: Vec<[f32; 3]> = model
        .mesh
        .points
        .par_iter()
        .map(|p| {
            let [x, y, z] = camera.project(p);
            [x * ss, y * ss, z]
        })
        .collect();
    let rows = model
        .mesh
        .triangles
        .par_iter()
        .map(|t| {
            let y = t.map(|v| points[v as usize][1]);
            [y[0].min(y[1]).min(y[2]), y[0].max(y[1]).max(y[2])]
        })
        .collect();
    Projected { points, rows }
}

/// Draws limb and shell into a buffer.
///
/// # Errors
/// The work was stopped.
pub fn draw(
    models: &[Model; 2],
    camera: &Camera,
    opacity: f32,
    size: [usize; 2],
    job: &Job,
) -> Result<Framebuffer, Error> {
    let [width, height] = size;
    let projected = [project(&models[0], camera), project(&models[1], camera)];
    let bands: Vec<Framebuffer> = (0..height.div_ceil(BAND))
        .into_par_iter()
        .map(|band| {
            job.check()?;
            let rows = band * BAND..((band + 1) * BAND).min(height);
            Ok(draw_band(models, &projected, camera, opacity, width, rows))
        })
        .collect::<Result<_, Error>>()?;
    let mut whole = Framebuffer { width, height, ..Framebuffer::default() };
    for band in bands {
        job.check()?;
        whole.light.extend(band.light);
        whole.depth.extend(band.depth);
        whole.farthest.extend(band.farthest);
        whole.normal.extend(band.normal);
        whole.evenness.extend(band.evenness);
    }
    Ok(whole)
}

/// What a sample sees of one mesh: how near, which triangle, and where in it.
#[derive(Clone, Copy)]
struct Seen {
    depth: f32,
    triangle: u32,
    weights: [f32; 2],
}

const NOTHING: Seen = Seen { depth: f32::NEG_INFINITY, triangle: u32::MAX, weights: [0.0; 2] };

fn nearest(model: &Model, projected: &Projected, columns: usize, rows: &std::ops::Range<usize>) -> Vec<Seen> {
    let mut seen = vec![NOTHING; columns * rows.len()];
    let (top, bottom) = (rows.start as f32, rows.end as f32);
    for (t, &[low, high]) in projected.rows.iter().enumerate() {
        if high < top || low > bottom {
            continue;
        }
        let [a, b, c] = model.mesh.triangles[t].map(|v| projected.points[v as usize]);
        let area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        if area.abs() < 1e-9 || !area.is_finite() {
            continue;
        }
        let lowest = |k: usize| a[k].min(b[k]).min(c[k]);
        let highest = |k: usize| a[k].max(b[k]).max(c[k]);
        // A sample sits in the middle of its cell; casts from below zero stop at zero.
        let first = [(lowest(0) - 0.5).ceil().max(0.0) as usize, (lowest(1) - 0.5).ceil().max(top) as usize];
        let end = [
            ((highest(0) + 0.5).ceil().max(0.0) as usize).min(columns),
            ((highest(1) + 0.5).ceil().max(0.0) as usize).min(rows.end),
        ];
        for y in first[1]..end[1] {
            let py = y as f32 + 0.5;
            for x in first[0]..end[0] {
                let px = x as f32 + 0.5;
                let wb = ((px - a[0]) * (c[1] - a[1]) - (py - a[1]) * (c[0] - a[0])) / area;
                let wc = ((b[0] - a[0]) * (py - a[1]) - (b[1] - a[1]) * (px - a[0])) / area;
                if wb < 0.0 || wc < 0.0 || wb + wc > 1.0 {
                    continue;
                }
                let depth = a[2] + wb * (b[2] - a[2]) + wc * (c[2] - a[2]);
                let slot = &mut seen[(y - rows.start) * columns + x];
                if depth > slot.depth {
                    *slot = Seen { depth, triangle: t as u32, weights: [wb, wc] };
                }
            }
        }
    }
    seen
}

fn draw_band(
    models: &[Model; 2],
    projected: &[Projected; 2],
    camera: &Camera,
    opacity: f32,
    width: usize,
    rows: std::ops::Range<usize>,
) -> Framebuffer {
    let columns = width * SAMPLES;
    let samples = rows.start * SAMPLES..rows.end * SAMPLES;
    let seen = [0, 1].map(|m| nearest(&models[m], &projected[m], columns, &samples));
    let light = |m: usize, s: &Seen| {
        let [b, c] = s.weights;
        models[m].light(s.triangle as usize, [1.0 - b - c, b, c], camera)
    };
    let count = width * rows.len();
    let mut buffer = Framebuffer {
        width,
        height: rows.len(),
        light: vec![[0.0; 4]; count],
        depth: vec![f32::NEG_INFINITY; count],
        farthest: vec![f32::INFINITY; count],
        normal: vec![Vector3::z(); count],
        evenness: vec![1.0; count],
    };
    for (at, (limb, shell)) in seen[0].iter().zip(&seen[1]).enumerate() {
        let hit = [limb.triangle != u32::MAX, shell.triangle != u32::MAX];
        if !hit[0] && !hit[1] {
            continue;
        }
        let pixel = at / columns / SAMPLES * width + at % columns / SAMPLES;
        let in_front = usize::from(hit[1] && shell.depth >= limb.depth);
        let front = if in_front == 1 { shell } else { limb };
        let Lit { light: mut colour, normal, evenness } = light(in_front, front);
        let mut cover = 1.0;
        if in_front == 0 && opacity < 1.0 {
            let behind = if hit[1] { light(1, shell).light } else { [0.0; 3] };
            colour = std::array::from_fn(|k| opacity * colour[k] + (1.0 - opacity) * behind[k]);
            cover = if hit[1] { 1.0 } else { opacity };
        }
        let share = 1.0 / (SAMPLES * SAMPLES) as f32;
        let slot = &mut buffer.light[pixel];
        for k in 0..3 {
            slot[k] += share * colour[k];
        }
        slot[3] += share * cover;
        buffer.farthest[pixel] = buffer.farthest[pixel].min(front.depth);
        if front.depth > buffer.depth[pixel] {
            buffer.depth[pixel] = front.depth;
            buffer.normal[pixel] = normal;
            buffer.evenness[pixel] = evenness;
        }
    }
    buffer
}
