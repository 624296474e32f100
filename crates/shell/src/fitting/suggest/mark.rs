//! A suggested place and size for a number, word or picture.

use mesh::{Cancelled, Hit, Job, Surface, TriangleFeature};
use nalgebra::{Point2, Point3};
use zone::Zone;

use super::SPARE_MM;
use crate::board::Board;
use crate::design_check::check_fitting;
use crate::field::FAIR_REACH_MM;
use crate::fitting::glyphs;
use crate::fitting::outline::{CHART_MARGIN_MM, place_checked};
use crate::fitting::placement::Workpiece;
use crate::fitting::way_out::succeeded as fits;
use crate::fitting::{fittings_in_place, place_marks, place_pictures};
use crate::limits::{self, rim_wall_mm};
use crate::{Chart, Design, Layout, Mark, MarkKind, Picture, Shape, ShellError};

/// Letter heights that are tried, mm: one a keeper reads across the room, and smaller ones for small guards.
const HEIGHTS_MM: [f32; 9] = [26.0, 24.0, 22.0, 19.0, 16.0, 14.0, 12.0, 10.0, 8.0];
/// Widest text as a share of the guard's width: beside it the vents go on.
const MOST_WIDE: f32 = 0.42;
/// Most curvature inwards of the skin under a text, 1/mm: at the foot of a bone letters would lie in a fold.
const MOST_HOLLOW: f32 = 0.1;
/// The skin is looked at this far round a text too, mm.
const BESIDE_MM: f32 = 2.0;
/// Places on the middle line are tried in steps of this, mm.
const MIDDLE_STEP_MM: f64 = 3.0;

/// Suggests a place and size for `text` on the guard's middle line, as large as fits and near its middle, or, where that
/// has no room, at the roomiest spot that the fittings of `design` leave; `None` where not even 8 mm high letters fit. It
/// reads around the limb if it can, else along it.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn suggest_mark(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    text: &str,
    job: &Job,
) -> Result<Option<Mark>, Cancelled> {
    let Ok(workpiece) = Workpiece::new(skin, zone, design, job) else { return Ok(None) };
    let layout = with_fittings(&workpiece)?;
    let Some(lettering) = glyphs::set(text, 1.0).ok().filter(|l| !l.is_blank()) else { return Ok(None) };
    let size = [0, 1].map(|i| lettering.ink[1][i] - lettering.ink[0][i]);
    let mark = |(height_mm, at_mm, turn_deg)| Mark {
        text: text.to_owned(),
        height_mm,
        relief_mm: 0.8,
        at_mm,
        turn_deg,
        kind: MarkKind::Relief,
    };
    Ok(roomy_place(&workpiece, &layout, size)?.map(mark))
}

/// Suggests a place and width for a picture as [`suggest_mark`] does for a number, clear of the marks and pictures of
/// `design` too.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn suggest_picture(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    picture: &Picture,
    job: &Job,
) -> Result<Option<Picture>, Cancelled> {
    let Ok(workpiece) = Workpiece::new(skin, zone, design, job) else { return Ok(None) };
    let mut layout = with_fittings(&workpiece)?;
    fits(place_marks(skin, zone, design, &mut layout, job))?;
    fits(place_pictures(skin, zone, design, &mut layout, job))?;
    // Heights are tried, and the width follows.
    let wide = picture.tones.columns as f32 / picture.tones.rows().max(1) as f32;
    let placed = |(height, at_mm, turn_deg): (f32, Point3<f32>, f32)| Picture {
        width_mm: limits::PICTURE_WIDTH.clamp(height * wide),
        at_mm,
        turn_deg,
        ..picture.clone()
    };
    Ok(roomy_place(&workpiece, &layout, [wide, 1.0])?.map(placed))
}

/// The fittings of a design in their places.
fn with_fittings(workpiece: &Workpiece<'_>) -> Result<Layout, Cancelled> {
    let (design, mut layout) = (workpiece.design, Layout::default());
    let Workpiece { skin, zone, job, .. } = *workpiece;
    let placed = match fittings_in_place(skin, zone, design, &mut layout, job) {
        Ok(placed) => placed,
        Err(ShellError::Cancelled(stop)) => return Err(stop),
        Err(ShellError::CannotBuild { .. }) => Vec::new(),
    };
    for (number, fitting) in placed {
        // A fitting that has no room is for `arrange` to report; the others still count.
        if check_fitting(design, number, &fitting).is_ok() {
            fits(place_checked(workpiece, &mut layout, number, &fitting))?;
        }
    }
    Ok(layout)
}

/// Height, place and turn of what is as wide and high as `size` times its height: on the middle line as large as fits, or
/// at the roomiest spot.
fn roomy_place(
    workpiece: &Workpiece<'_>,
    layout: &Layout,
    size: [f32; 2],
) -> Result<Option<(f32, Point3<f32>, f32)>, Cancelled> {
    if let Some(found) = on_middle_line(workpiece, layout, size)? {
        return Ok(Some(found));
    }
    let mut best: Option<(f32, Point3<f32>, f32)> = None;
    for at in roomiest(workpiece, layout)? {
        let smallest = best.map_or(0.0, |(height, ..)| height);
        if let Some((height, turn)) = largest_at(workpiece, layout, &at, 0.0, size, [smallest, f32::INFINITY])? {
            best = Some((height, at.point, turn));
        }
    }
    Ok(best)
}

/// Height, place and turn on the middle line: the largest height, and of the places that have it the one nearest to the
/// middle of the guard.
fn on_middle_line(
    workpiece: &Workpiece<'_>,
    layout: &Layout,
    size: [f32; 2],
) -> Result<Option<(f32, Point3<f32>, f32)>, Cancelled> {
    let board = match Board::new(workpiece.skin, workpiece.zone, "shell.marks", workpiece.job) {
        Ok(board) => board,
        Err(ShellError::Cancelled(stop)) => return Err(stop),
        Err(ShellError::CannotBuild { .. }) => return Ok(None),
    };
    let (low, high) = board.bounds();
    let mut heights: Vec<f64> =
        (0..).map(|k| low.y + MIDDLE_STEP_MM * f64::from(k)).take_while(|y| *y < high.y).collect();
    heights.sort_by(|a, b| a.abs().total_cmp(&b.abs()));
    let mut best: Option<(f32, Point3<f32>, f32)> = None;
    let wide = MOST_WIDE * (high.x - low.x) as f32;
    for y in heights {
        let Some(site) = board.site(Point2::new(0.0, y)) else { continue };
        let smallest = best.map_or(0.0, |(height, ..)| height);
        let right_deg = site.axis[1].atan2(site.axis[0]).to_degrees();
        if let Some((height, turn)) = largest_at(workpiece, layout, &site.frame.hit, right_deg, size, [smallest, wide])?
        {
            best = Some((height, site.frame.point(), turn));
        }
    }
    Ok(best)
}

/// The largest height above `smallest` in which letters no wider than `widest` fit at a skin point, and their turn; `size` is the width and
/// height of the text with capitals of 1 mm, and `right_deg` the turn of a text that reads across the guard.
fn largest_at(
    workpiece: &Workpiece<'_>,
    layout: &Layout,
    at: &Hit,
    right_deg: f32,
    size: [f32; 2],
    [smallest, widest]: [f32; 2],
) -> Result<Option<(f32, f32)>, Cancelled> {
    let rim_mm = rim_wall_mm(workpiece.design) + SPARE_MM;
    let room = room_at(workpiece, layout, at);
    let half = |height: f32| size.map(|s| 0.5 * s * height);
    let heights: Vec<f32> = HEIGHTS_MM
        .into_iter()
        .filter(|height| {
            *height > smallest && size[0] * height <= widest && half(*height)[0].min(half(*height)[1]) + rim_mm < room
        })
        .collect();
    let Some(largest) = heights.first().map(|h| half(*h)) else { return Ok(None) };
    let chart = workpiece.chart(at, right_deg, largest[0].hypot(largest[1]) * 1.1 + CHART_MARGIN_MM)?;
    let fair = workpiece.skin.fair(FAIR_REACH_MM, workpiece.job)?;
    let first_fit = |above: f32, direction: [f32; 2]| -> Result<Option<f32>, Cancelled> {
        for height in heights.iter().copied().filter(|h| *h > above) {
            let shape = Shape::RoundedBox { centre: [0.0; 2], direction, half: half(height), round: 0.0 };
            if workpiece.misfit(layout, &chart, &shape, rim_mm, 1.0)?.is_none()
                && hollow_under(&fair, &chart, &shape) < MOST_HOLLOW
            {
                return Ok(Some(height));
            }
        }
        Ok(None)
    };
    let around = first_fit(smallest, [1.0, 0.0])?;
    // Along the limb it is harder to read, so it has to be much larger.
    let along = first_fit(around.unwrap_or(smallest) * 1.3, [0.0, 1.0])?;
    Ok(along.map(|h| (h, right_deg + 90.0)).or(around.map(|h| (h, right_deg))))
}

/// The sharpest hollow of a skin under a shape and a little round it, as the curvature from vertex to vertex, 1/mm.
fn hollow_under(fair: &Surface, chart: &Chart, shape: &Shape) -> f32 {
    let (points, normals) = (&fair.mesh().points, fair.vertex_normals());
    let under = chart.vertices.iter().filter(|(_, uv)| shape.signed_distance(*uv) <= BESIDE_MM).map(|(v, _)| *v);
    let sides = under.flat_map(|v| {
        let triangles = fair.adjacency().triangles_around(v).iter();
        triangles.flat_map(|t| fair.mesh().triangles[*t as usize]).filter(move |w| *w != v).map(move |w| (v, w))
    });
    sides
        .map(|(v, w)| {
            let way = points[w as usize] - points[v as usize];
            -(normals[w as usize] - normals[v as usize]).dot(&way) / way.norm_squared().max(1e-6)
        })
        .fold(0.0, f32::max)
}

/// Skin points with the most room around them, at least 8 mm apart, roomiest first.
fn roomiest(workpiece: &Workpiece<'_>, layout: &Layout) -> Result<Vec<Hit>, Cancelled> {
    let mut spots: Vec<(f32, u32)> = Vec::new();
    for (i, t) in (0..workpiece.skin.mesh().triangles.len() as u32).step_by(7).enumerate() {
        if i % 1024 == 0 {
            workpiece.job.check()?;
        }
        let room = room_at(workpiece, layout, &middle_of(workpiece.skin, t));
        if room > 4.0 {
            spots.push((room, t));
        }
    }
    spots.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut found: Vec<Hit> = Vec::new();
    for (_, t) in spots {
        let hit = middle_of(workpiece.skin, t);
        if found.iter().all(|f| (f.point - hit.point).norm() > 8.0) {
            found.push(hit);
            if found.len() == 10 {
                break;
            }
        }
    }
    Ok(found)
}

fn room_at(workpiece: &Workpiece<'_>, layout: &Layout, hit: &Hit) -> f32 {
    let edge = workpiece.edge_mm(hit);
    if edge <= 0.0 {
        return edge;
    }
    // The straight distance is never longer than the geodesic one, so this errs on the safe side.
    let straight = layout.placed().map(|p| (p.chart.centre.point - hit.point).norm() - p.shape.reach());
    straight.fold(edge, f32::min)
}

fn middle_of(skin: &Surface, triangle: u32) -> Hit {
    let [a, b, c] = skin.mesh().corners(triangle as usize);
    Hit {
        triangle,
        point: Point3::from((a.coords + b.coords + c.coords) / 3.0),
        weights: [1.0 / 3.0; 3],
        distance2: 0.0,
        feature: TriangleFeature::Face,
    }
}
