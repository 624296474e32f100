//! From a catalogue entry to the bytes of its files.

use std::fmt::Write as _;

use crate::catalogue::{DemoLimb, Format, Ink};
use crate::form::V;
use crate::isosurface::{Skin, skin_of};
use crate::model::Model;
use crate::paint::{Paint, grain};
use crate::pen_line::PenLine;
use crate::profile::Tube;
use crate::random::Random;
use crate::scanner::{Pose, loose_bits, shake, tear};
use crate::truth::{BonyTruth, Truth};

/// The files of one scan and its ground truth.
#[derive(Debug, Clone, PartialEq)]
pub struct DemoFiles {
    /// Names and bytes, the scan itself first.
    pub files: Vec<(String, Vec<u8>)>,
    /// The ground truth.
    pub truth: Truth,
}

/// Width and height of the texture picture.
const TEXTURE: [u32; 2] = [900, 760];

/// Makes the files of one limb.
#[must_use]
pub fn make(limb: &DemoLimb) -> DemoFiles {
    let sitter = limb.sitter();
    let model = &sitter.model;
    let mut random = Random::new(limb.seed);
    let mut skin = skin_of(&model.form, model.box_lo, model.box_hi, limb.step_mm);
    let line = PenLine::draw(&model.form, &model.line, limb.ink, &mut random);
    tear(&mut skin, model, limb, &mut random);
    let drawn = (limb.ink != Ink::None).then_some(&line);
    let paint = Paint::new(model, &skin.points, limb.tone, drawn, &mut random);
    let shaken = shake(&skin.points, model, limb, &mut random);
    let bits = loose_bits(&skin, limb.bits, &mut random);
    let pose = Pose {
        turn: random.turn(),
        shift: V::new(random.between(-150.0, 150.0), random.between(-150.0, 150.0), random.between(200.0, 500.0)),
        unit_mm: limb.unit_mm,
        mirror: sitter.side != limb.side,
    };

    let mut points: Vec<V> = shaken.iter().chain(&bits.points).map(|p| pose.file_from_limb(p)).collect();
    for p in &mut points {
        *p = p.map(|c| f64::from(c as f32));
    }
    let shift = skin.points.len() as u32;
    let flip = |t: &[u32; 3]| if pose.mirror { [t[0], t[2], t[1]] } else { *t };
    let triangles: Vec<[u32; 3]> =
        skin.triangles.iter().map(flip).chain(bits.triangles.iter().map(|t| t.map(|i| i + shift))).collect();

    let files = match limb.format {
        Format::Stl => vec![(limb.file.to_owned(), stl(&points, &triangles))],
        Format::PlyLittle | Format::PlyBig => {
            let colours: Vec<[u8; 3]> = skin
                .points
                .iter()
                .map(|p| grain(paint.colour(p), 2.2, &mut random))
                .chain(bits.points.iter().map(|_| [150, 150, 146]))
                .collect();
            vec![(limb.file.to_owned(), ply(&points, &triangles, &colours, limb.format == Format::PlyBig))]
        }
        Format::ObjTextured => {
            textured(limb, model, sitter.trunk.as_ref(), &skin, &paint, &points, &triangles, &mut random)
        }
    };
    let bony = model.bony_points().into_iter().map(|b| BonyTruth {
        name: b.name,
        at: pose.file_from_limb(&b.at).into(),
        radius_mm: b.radius,
        height_mm: b.height,
    });
    let truth = Truth {
        file: limb.file.to_owned(),
        site: limb.site.to_owned(),
        side: limb.side.to_owned(),
        unit_mm: limb.unit_mm,
        noise_mm: limb.noise_mm,
        line: if drawn.is_some() {
            line.points.iter().map(|p| pose.file_from_limb(p).into()).collect()
        } else {
            Vec::new()
        },
        loose_bits: limb.bits,
        bony_points: bony.collect(),
    };
    DemoFiles { files, truth }
}

fn ply(points: &[V], triangles: &[[u32; 3]], colours: &[[u8; 3]], big: bool) -> Vec<u8> {
    let order = if big { "big" } else { "little" };
    let mut out = format!(
        "ply\nformat binary_{order}_endian 1.0\ncomment Tern Harbour demo scan\nelement vertex {}\n\
         property float x\nproperty float y\nproperty float z\n\
         property uchar red\nproperty uchar green\nproperty uchar blue\n\
         element face {}\nproperty list uchar int vertex_indices\nend_header\n",
        points.len(),
        triangles.len()
    )
    .into_bytes();
    for (p, colour) in points.iter().zip(colours) {
        for c in p.iter() {
            let c = *c as f32;
            out.extend(if big { c.to_be_bytes() } else { c.to_le_bytes() });
        }
        out.extend(colour);
    }
    for t in triangles {
        out.push(3);
        for i in t {
            out.extend(if big { i.to_be_bytes() } else { i.to_le_bytes() });
        }
    }
    out
}

fn stl(points: &[V], triangles: &[[u32; 3]]) -> Vec<u8> {
    let mut out = vec![b' '; 80];
    let title = b"Tern Harbour demo scan";
    out[..title.len()].copy_from_slice(title);
    out.extend((triangles.len() as u32).to_le_bytes());
    for t in triangles {
        let [a, b, c] = t.map(|i| points[i as usize]);
        let normal = (b - a).cross(&(c - a)).try_normalize(1e-12).unwrap_or_default();
        for corner in [normal, a, b, c] {
            for x in corner.iter() {
                out.extend((*x as f32).to_le_bytes());
            }
        }
        out.extend([0, 0]);
    }
    out
}

/// OBJ, its material and the texture: the skin unrolled from the trunk, u around and v along.
#[allow(clippy::too_many_arguments)]
fn textured(
    limb: &DemoLimb,
    model: &Model,
    trunk: Option<&Tube>,
    skin: &Skin,
    paint: &Paint<'_>,
    points: &[V],
    triangles: &[[u32; 3]],
    random: &mut Random,
) -> Vec<(String, Vec<u8>)> {
    let stem = limb.file.trim_end_matches(".obj");
    let (low, high) = (model.box_lo.z, model.box_hi.z);
    let unroll = |p: &V| {
        let from_middle = p - trunk.map_or_else(V::zeros, |t| t.middle(p.z));
        let turn = libm::atan2(from_middle.x, -from_middle.y) / std::f64::consts::TAU + 0.5;
        [0.02 + 0.96 * turn, (p.z - low) / (high - low)]
    };
    let mut coordinates: Vec<[f64; 2]> = skin.points.iter().map(unroll).collect();
    // Loose bits share one grey spot of the texture.
    coordinates.resize(points.len(), [0.005, 0.005]);
    // A triangle across the seam uses second copies of its corners at low u, one turn on.
    let mut seam: Vec<Option<u32>> = vec![None; points.len()];
    let mut textures: Vec<[u32; 3]> = Vec::with_capacity(triangles.len());
    for t in triangles {
        let u = t.map(|i| coordinates[i as usize][0]);
        let across = u.iter().fold(0.0, |m: f64, u| m.max(*u)) - u.iter().fold(1.0, |m: f64, u| m.min(*u)) > 0.5;
        let mut texture = *t;
        if across {
            for i in &mut texture {
                let [u, v] = coordinates[*i as usize];
                if u < 0.5 {
                    let next = coordinates.len() as u32;
                    let turned = *seam[*i as usize].get_or_insert(next);
                    if turned == next {
                        coordinates.push([u + 0.96, v]);
                    }
                    *i = turned;
                }
            }
        }
        textures.push(texture);
    }
    let picture = picture(skin, triangles, &textures, &coordinates, paint, random);

    let mut obj = format!("# Tern Harbour demo scan\nmtllib {stem}.mtl\n");
    for p in points {
        let _ = writeln!(obj, "v {:.2} {:.2} {:.2}", p.x, p.y, p.z);
    }
    for [u, v] in &coordinates {
        let _ = writeln!(obj, "vt {u:.4} {v:.4}");
    }
    obj.push_str("usemtl skin\n");
    for (t, uv) in triangles.iter().zip(&textures) {
        let [a, b, c]: [String; 3] = std::array::from_fn(|k| format!("{}/{}", t[k] + 1, uv[k] + 1));
        let _ = writeln!(obj, "f {a} {b} {c}");
    }
    let mtl = format!("newmtl skin\nKa 1 1 1\nKd 1 1 1\nillum 1\nmap_Kd {stem}.png\n");
    vec![
        (limb.file.to_owned(), obj.into_bytes()),
        (format!("{stem}.mtl"), mtl.into_bytes()),
        (format!("{stem}.png"), picture),
    ]
}

fn picture(
    skin: &Skin,
    triangles: &[[u32; 3]],
    textures: &[[u32; 3]],
    coordinates: &[[f64; 2]],
    paint: &Paint<'_>,
    random: &mut Random,
) -> Vec<u8> {
    let [width, height] = TEXTURE.map(f64::from);
    let mut pixels: Vec<Option<V>> = vec![None; (TEXTURE[0] * TEXTURE[1]) as usize];
    for (t, uv) in triangles.iter().zip(textures) {
        if t.iter().any(|&i| i as usize >= skin.points.len()) {
            continue;
        }
        let corner = t.map(|i| skin.points[i as usize]);
        let at = uv.map(|i| {
            let [u, v] = coordinates[i as usize];
            [u * width - 0.5, (1.0 - v) * height - 0.5]
        });
        fill(&mut pixels, corner, at);
    }
    // The texture extends a little beyond the skin, so that sampling at an edge does not pick up the background.
    for _ in 0..3 {
        let before = pixels.clone();
        let w = TEXTURE[0] as usize;
        for k in 0..pixels.len() {
            if before[k].is_none() {
                let beside = [k.wrapping_sub(1), k + 1, k.wrapping_sub(w), k + w];
                pixels[k] = beside.iter().filter_map(|&n| before.get(n).copied().flatten()).next();
            }
        }
    }
    let mut picture = image::RgbImage::from_pixel(TEXTURE[0], TEXTURE[1], image::Rgb([150, 150, 146]));
    for (pixel, place) in picture.pixels_mut().zip(&pixels) {
        if let Some(p) = place {
            pixel.0 = grain(paint.colour(p), 1.2, random);
        }
    }
    let mut png = std::io::Cursor::new(Vec::new());
    // Writing to memory does not fail; an empty picture would be caught by the test of the committed bytes.
    let _ = picture.write_to(&mut png, image::ImageFormat::Png);
    png.into_inner()
}

/// Gives every pixel whose centre lies in the triangle its skin point.
fn fill(pixels: &mut [Option<V>], corner: [V; 3], at: [[f64; 2]; 3]) {
    let area = (at[1][0] - at[0][0]) * (at[2][1] - at[0][1]) - (at[2][0] - at[0][0]) * (at[1][1] - at[0][1]);
    if area.abs() < 1e-12 {
        return;
    }
    let span = |k: usize, limit: u32| {
        let lo = at.iter().map(|p| p[k]).fold(f64::INFINITY, f64::min).floor().max(0.0) as u32;
        let hi = at.iter().map(|p| p[k]).fold(0.0, f64::max).ceil() as u32;
        lo..=hi.min(limit - 1)
    };
    for y in span(1, TEXTURE[1]) {
        for x in span(0, TEXTURE[0]) {
            let (px, py) = (f64::from(x), f64::from(y));
            let weight =
                |i: usize, j: usize| ((at[i][0] - px) * (at[j][1] - py) - (at[j][0] - px) * (at[i][1] - py)) / area;
            let w = [weight(1, 2), weight(2, 0), weight(0, 1)];
            if w.iter().all(|w| *w >= -0.02) {
                pixels[(y * TEXTURE[0] + x) as usize] = Some(corner[0] * w[0] + corner[1] * w[1] + corner[2] * w[2]);
            }
        }
    }
}
