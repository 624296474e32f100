//! Several views of one guard on one page.

use super::camera::{Camera, View};
use super::legible::ink_on;
use super::raster::{Framebuffer, Model, draw};
use super::{Guard, RenderStyle, linear, occlusion, srgb, text};
use crate::Error;
use image::{Rgb, RgbImage};
use mesh::{Cancelled, Job, Mesh};
use nalgebra::{Point3, Vector3};

/// The small views, in reading order.
const SMALL: [View; 4] = [View::FRONT, View::BACK, View::LEFT, View::RIGHT];
/// How much of the limb beyond the shell is shown: a share of the shell's size, and at least so many millimetres.
const AROUND: (f32, f32) = (0.35, 40.0);

/// Height of the strip of words under a view, in sizes of its words.
const STRIP: f32 = 1.75;

/// Settings of a page of views.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Heading, such as "Guard for the left forearm, number 14"; left out when empty. No athlete's name.
    pub title: String,
    /// Pixels across and down.
    pub size: [u32; 2],
    /// Size of the captions relative to the default; larger for a picture that is shown small.
    pub caption_scale: f32,
    /// Colours.
    pub look: RenderStyle,
}

impl Default for Sheet {
    fn default() -> Self {
        Self { title: String::new(), size: [1600, 1200], caption_scale: 1.0, look: RenderStyle::default() }
    }
}

/// A rectangle of pixels.
#[derive(Clone, Copy)]
pub(super) struct Viewport {
    pub(super) x: usize,
    pub(super) y: usize,
    pub(super) width: usize,
    pub(super) height: usize,
}

/// Limb and shell ready to be drawn.
pub(super) struct Scene<'a> {
    models: [Model<'a>; 2],
    look: RenderStyle,
    front: Vector3<f32>,
    centre: Point3<f32>,
    /// Corners of the box that must be seen.
    corners: [Point3<f32>; 8],
}

impl<'a> Scene<'a> {
    pub(super) fn new(limb: &'a Mesh, guard: Guard<'a>, look: &RenderStyle, job: &Job) -> Result<Self, Error> {
        let shell = guard.shell;
        for part in [limb, shell] {
            if !part.triangles.is_empty() {
                crate::part::check(part)?;
            }
        }
        let (low, high) = seen_box(limb, shell).ok_or(Error::Empty)?;
        let corners = std::array::from_fn(|k| {
            Point3::from(std::array::from_fn(|axis| if k >> axis & 1 == 0 { low[axis] } else { high[axis] }))
        });
        job.check()?;
        let models = [Model::limb(limb, look, job)?, Model::shell(guard, look, job)?];
        job.check()?;
        let turned = |deg: f32| Vector3::new(deg.to_radians().cos(), deg.to_radians().sin(), 0.0);
        let front = guard.front_deg.map_or_else(|| side_of(limb, shell), turned);
        Ok(Self { models, look: *look, front, centre: nalgebra::center(&low, &high), corners })
    }

    /// The largest scale at which the view fits the viewport.
    pub(super) fn scale(&self, view: View, viewport: Viewport) -> f32 {
        let camera = Camera::new(view, self.front, self.centre);
        let reach = self
            .corners
            .iter()
            .map(|p| camera.project(p))
            .fold([0.5_f32; 2], |r, p| [r[0].max(p[0].abs()), r[1].max(p[1].abs())]);
        (0.46 * viewport.width as f32 / reach[0]).min(0.46 * viewport.height as f32 / reach[1])
    }

    pub(super) fn paint(
        &self,
        picture: &mut RgbImage,
        view: View,
        viewport: Viewport,
        scale: f32,
        job: &Job,
    ) -> Result<(), Error> {
        let mut camera = Camera::new(view, self.front, self.centre);
        camera.scale = scale;
        camera.middle = [viewport.width as f32 / 2.0, viewport.height as f32 / 2.0];
        let opacity = self.look.limb_opacity.clamp(0.0, 1.0);
        let mut buffer = draw(&self.models, &camera, opacity, [viewport.width, viewport.height], job)?;
        occlusion::darken(&mut buffer, scale, job)?;
        lay(picture, &buffer, viewport, self.look.page, job)?;
        Ok(())
    }
}

/// The box of the shell and the limb around it; of either where the other is missing.
fn seen_box(limb: &Mesh, shell: &Mesh) -> Option<(Point3<f32>, Point3<f32>)> {
    let Some((low, high)) = shell.bounds() else { return limb.bounds() };
    let Some((limb_low, limb_high)) = limb.bounds() else { return Some((low, high)) };
    let around = ((high - low) * AROUND.0).map(|x| x.max(AROUND.1));
    Some((low.inf(&(low - around).sup(&limb_low)), high.sup(&(high + around).inf(&limb_high))))
}

/// The direction across the limb from its middle to the shell's; −y where there is none.
fn side_of(limb: &Mesh, shell: &Mesh) -> Vector3<f32> {
    let middle = |part: &Mesh| {
        let (mut sum, mut area) = (Vector3::<f64>::zeros(), 0.0);
        for t in 0..part.triangles.len() {
            let weight = part.cross(t).norm();
            sum += weight * part.corners(t).iter().fold(Vector3::zeros(), |s, p| s + p.coords.cast::<f64>() / 3.0);
            area += weight;
        }
        sum / f64::max(area, 1e-12)
    };
    let off = middle(shell) - middle(limb);
    let across = Vector3::new(off.x, off.y, 0.0);
    let told = !shell.triangles.is_empty() && !limb.triangles.is_empty();
    across.try_normalize(1.0).filter(|_| told).map_or(-Vector3::y(), |v| v.cast())
}

/// The background at a place in a viewport: the page's colour, lighter in the middle.
fn wall(page: [f32; 3], viewport: Viewport, x: usize, y: usize) -> [f32; 3] {
    let u = (x as f32 + 0.5) / viewport.width as f32 - 0.5;
    let v = (y as f32 + 0.5) / viewport.height as f32 - 0.45;
    let glow = 1.10 - 0.34 * (u * u + v * v);
    page.map(|c| c * glow)
}

/// Puts a drawn view into its viewport, with round corners.
fn lay(
    picture: &mut RgbImage,
    buffer: &Framebuffer,
    viewport: Viewport,
    page: [u8; 3],
    job: &Job,
) -> Result<(), Cancelled> {
    let radius = (viewport.width.min(viewport.height) as f32 * 0.035).max(2.0);
    let outside = linear(page);
    for y in 0..viewport.height {
        job.check()?;
        for x in 0..viewport.width {
            let [r, g, b, cover] = buffer.light[y * buffer.width + x];
            let wall = wall(outside, viewport, x, y);
            let drawn: [f32; 3] = std::array::from_fn(|k| [r, g, b][k] + (1.0 - cover) * wall[k]);
            let edge =
                |p: usize, length: usize| (radius - (p as f32 + 0.5)).max(p as f32 + 0.5 - length as f32 + radius);
            let (dx, dy) = (edge(x, viewport.width).max(0.0), edge(y, viewport.height).max(0.0));
            let inside = (radius - dx.hypot(dy) + 0.5).clamp(0.0, 1.0);
            let mixed = std::array::from_fn(|k| drawn[k] * inside + outside[k] * (1.0 - inside));
            picture.put_pixel((viewport.x + x) as u32, (viewport.y + y) as u32, Rgb(srgb(mixed)));
        }
    }
    Ok(())
}

pub(super) fn blank(size: [u32; 2], page: [u8; 3]) -> Result<RgbImage, Error> {
    let [width, height] = size;
    if !(160..=8192).contains(&width) || !(160..=8192).contains(&height) {
        return Err(Error::PictureSize { width, height });
    }
    Ok(RgbImage::from_pixel(width, height, Rgb(page)))
}

/// One view that fills the picture, without words.
///
/// # Errors
/// Nothing to draw, a broken mesh, a size outside 160 to 8192, or the work was stopped.
pub fn single<'a>(
    limb: &'a Mesh,
    guard: impl Into<Guard<'a>>,
    view: View,
    look: &RenderStyle,
    size: [u32; 2],
    job: &Job,
) -> Result<RgbImage, Error> {
    let mut picture = blank(size, look.page)?;
    let scene = Scene::new(limb, guard.into(), look, job)?;
    let viewport = Viewport { x: 0, y: 0, width: size[0] as usize, height: size[1] as usize };
    scene.paint(&mut picture, view, viewport, scene.scale(view, viewport), job)?;
    Ok(picture)
}

/// The guard on the limb from half right, large, and from four sides at one scale with a scale bar. What each view
/// shows stands under it, on the page.
///
/// # Errors
/// Nothing to draw, a broken mesh, a size outside 160 to 8192, or the work was stopped.
pub fn contact_sheet(limb: &Mesh, shell: &Mesh, sheet: &Sheet, job: &Job) -> Result<RgbImage, Error> {
    let (mut picture, labels) = views(limb, shell, sheet, job)?;
    for label in &labels {
        label.write(&mut picture, sheet.look.page);
    }
    if !sheet.title.is_empty() {
        let unit = unit(sheet.size);
        let at = [(1.6 * unit).floor() + 0.3 * unit, 4.2 * unit];
        text::write(&mut picture, text::BOLD, 2.5 * unit, at, ink_on(sheet.look.page), &sheet.title);
    }
    job.step("views drawn", 1.0)?;
    Ok(picture)
}

/// A hundredth of the sheet's width, pixels; less where the sheet is low.
fn unit([width, height]: [u32; 2]) -> f32 {
    width.min(height * 4 / 3) as f32 / 100.0
}

/// The views of a sheet, and the words that belong on them.
///
/// # Errors
/// As [`contact_sheet`].
pub(super) fn views(limb: &Mesh, shell: &Mesh, sheet: &Sheet, job: &Job) -> Result<(RgbImage, Vec<Label>), Error> {
    let mut picture = blank(sheet.size, sheet.look.page)?;
    let scene = Scene::new(limb, shell.into(), &sheet.look, job)?;
    let [width, height] = sheet.size.map(|n| n as usize);
    let unit = unit(sheet.size);
    let gap = (1.6 * unit) as usize;
    let head = if sheet.title.is_empty() { gap } else { (6.2 * unit) as usize };
    let line = (1.55 * unit * sheet.caption_scale).max(9.0).min(height as f32 / 14.0);
    // Words stand on the page under each view: over it they would be lost on some skin.
    let strip = (STRIP * line).ceil() as usize;
    let tall = height - head - strip;
    let large = Viewport { x: gap, y: head, width: (width - 3 * gap) * 42 / 100, height: tall };
    let left = large.x + large.width + gap;
    let cell = [(width - left - 2 * gap) / 2, (tall - strip) / 2];
    let viewports: [Viewport; 4] = std::array::from_fn(|k| Viewport {
        x: left + (k % 2) * (cell[0] + gap),
        y: head + (k / 2) * (cell[1] + strip),
        width: cell[0],
        height: cell[1],
    });

    job.step("drawing the large view", 0.0)?;
    scene.paint(
        &mut picture,
        View::THREE_QUARTER,
        large,
        scene.scale(View::THREE_QUARTER, large),
        &job.part(0.0, 0.4),
    )?;
    let scale =
        SMALL.iter().zip(viewports).map(|(&view, viewport)| scene.scale(view, viewport)).fold(f32::INFINITY, f32::min);
    for (k, (view, viewport)) in SMALL.into_iter().zip(viewports).enumerate() {
        job.step("drawing the views", 0.4 + 0.15 * k as f32)?;
        scene.paint(&mut picture, view, viewport, scale, job)?;
    }
    let views = SMALL.into_iter().zip(viewports).chain([(View::THREE_QUARTER, large)]);
    let mut labels: Vec<Label> = views.map(|(view, viewport)| Label::caption(view.caption, viewport, line)).collect();
    labels.extend(Label::scale_bar(viewports[3], scale, unit, line));
    Ok((picture, labels))
}

/// Words under a view.
pub(super) struct Label {
    words: String,
    /// Left end of the base line.
    at: [f32; 2],
    /// A bar: left, top, right, bottom.
    bar: Option<[f32; 4]>,
    /// Size of the words, pixels.
    line: f32,
}

impl Label {
    /// What a view shows, at its left, no wider than the view.
    fn caption(words: &str, viewport: Viewport, line: f32) -> Self {
        let wide = text::width(text::REGULAR, line, words);
        let line = line * (viewport.width as f32 / wide.max(1.0)).min(1.0);
        Self { words: words.to_owned(), at: [viewport.x as f32, base_line(viewport, line)], bar: None, line }
    }

    /// A bar of a round number of millimetres, at the right; none where the view is too small for it.
    fn scale_bar(viewport: Viewport, scale: f32, unit: f32, line: f32) -> Option<Self> {
        let room = 0.3 * viewport.width as f32;
        let length = [200_u8, 100, 50, 20, 10, 5].into_iter().find(|&l| f32::from(l) * scale <= room)?;
        let words = format!("{length} mm");
        let bar = (f32::from(length) * scale).round();
        let wide = text::width(text::REGULAR, line, &words);
        let (right, base) = ((viewport.x + viewport.width) as f32, base_line(viewport, line).round());
        let at = [right - wide, base];
        let thick = (0.22 * unit).max(2.0).round();
        let end = (at[0] - 0.4 * line).floor();
        let middle = (base - 0.36 * line).round();
        Some(Self { words, at, bar: Some([end - bar, middle - thick, end, middle]), line })
    }

    pub(super) fn write(&self, picture: &mut RgbImage, page: [u8; 3]) {
        let ink = ink_on(page);
        if let Some([left, top, right, bottom]) = self.bar {
            for y in top as u32..bottom as u32 {
                for x in left as u32..right as u32 {
                    picture.put_pixel(x, y, Rgb(ink));
                }
            }
        }
        text::write(picture, text::REGULAR, self.line, self.at, ink, &self.words);
    }
}

/// Where words of this size stand under a view.
fn base_line(viewport: Viewport, line: f32) -> f32 {
    (viewport.y + viewport.height) as f32 + 1.15 * line
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::samples::torus;

    /// A ball, or the part of one with `keep` of its `around` slices, counter-clockwise from +x.
    fn ball(radius: f32, around: u32, keep: u32) -> Mesh {
        let mut ball: Mesh = test_shapes::uv_sphere(radius.into(), around).build();
        let until = std::f32::consts::TAU * keep as f32 / around as f32 + 1e-3;
        let kept = |v: u32| {
            let p = ball.points[v as usize];
            p.y.atan2(p.x).rem_euclid(std::f32::consts::TAU) < until
        };
        let pole = |v: u32| v < 2;
        if keep < around {
            ball.triangles =
                ball.triangles.iter().copied().filter(|t| t.iter().all(|v| pole(*v) || kept(*v))).collect();
        }
        ball
    }

    fn job() -> Job {
        Job::silent()
    }

    /// The picture is 0.46 of its height from the middle to the edge of what it shows, so a ball covers π (0.46 h)².
    #[test]
    fn a_ball_covers_the_area_of_its_disc() {
        let look = RenderStyle { page: [255; 3], ..RenderStyle::default() };
        let picture = single(&Mesh::default(), &ball(30.0, 160, 160), View::FRONT, &look, [400, 400], &job()).unwrap();
        let covered = picture.pixels().filter(|p| p.0[0] < 200).count() as f32;
        let disc = std::f32::consts::PI * (0.46 * 400.0_f32).powi(2);
        assert!((covered / disc - 1.0).abs() < 0.01, "{covered} of {disc}");
    }

    #[test]
    fn the_front_shows_the_shell_and_the_back_the_limb() {
        let limb = ball(30.0, 96, 96);
        let shell = ball(34.0, 96, 48);
        let look = RenderStyle { shell: [0, 0, 255], limb: [255, 0, 0], ..RenderStyle::default() };
        let middle = |view, opacity| {
            let look = RenderStyle { limb_opacity: opacity, ..look };
            let picture = single(&limb, &shell, view, &look, [300, 300], &job()).unwrap();
            picture.get_pixel(150, 150).0.map(i32::from)
        };
        let (front, back, through) = (middle(View::FRONT, 1.0), middle(View::BACK, 1.0), middle(View::BACK, 0.4));
        assert!(front[2] > 2 * front[0], "{front:?}");
        assert!(back[0] > 2 * back[2], "{back:?}");
        assert!(through[2] > back[2] + 30, "{through:?} {back:?}");
    }

    #[test]
    fn the_same_guard_gives_the_same_picture_on_one_thread_and_on_four() {
        let (limb, shell) = (ball(30.0, 64, 64), ball(34.0, 64, 30));
        let sheet = Sheet { title: "Number 14".into(), size: [640, 480], ..Sheet::default() };
        let with = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            super::super::packed(&pool.install(|| contact_sheet(&limb, &shell, &sheet, &job())).unwrap()).unwrap()
        };
        assert_eq!(with(1), with(4));
    }

    #[test]
    fn what_cannot_be_drawn_is_refused() {
        let ring = torus(20, 10);
        let none = Mesh::default();
        let view = View::FRONT;
        let look = RenderStyle::default();
        assert!(matches!(single(&none, &none, view, &look, [300, 300], &job()), Err(Error::Empty)));
        let small = single(&none, &ring, view, &look, [300, 30], &job()).unwrap_err().to_string();
        assert!(small.contains("300 by 30"), "{small}");
        let mut broken = ring.clone();
        broken.points[4].x = f32::INFINITY;
        assert!(matches!(single(&ring, &broken, view, &look, [300, 300], &job()), Err(Error::NotFinite { point: 4 })));
        let stopped = job();
        stopped.cancel();
        assert!(matches!(single(&none, &ring, view, &look, [300, 300], &stopped), Err(Error::Cancelled(_))));
        // A degenerate triangle and an unused point are drawn over.
        let mut odd = ring;
        odd.triangles[3] = [1, 1, 2];
        odd.points.push(Point3::origin());
        assert!(single(&none, &odd, view, &look, [300, 300], &job()).is_ok());
    }
}
