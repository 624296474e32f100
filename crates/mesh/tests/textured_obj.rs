//! Colour pictures beside an OBJ: found, joined, laid on the right triangles, and never looked for elsewhere.

#![allow(clippy::unwrap_used)]

use image::{ImageFormat, Rgb, RgbImage};
use mesh::Job;
use mesh::read::{ScanFile, read_bytes, read_file};
use std::cell::RefCell;
use std::io::Cursor;

const RED: [u8; 3] = [200, 10, 10];
const BLUE: [u8; 3] = [10, 10, 200];
const GREEN: [u8; 3] = [10, 200, 10];

/// Left half of one colour, right half of another.
fn picture(left: [u8; 3], right: [u8; 3]) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    RgbImage::from_fn(32, 16, |x, _| Rgb(if x < 16 { left } else { right }))
        .write_to(&mut bytes, ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}

/// A triangle on the left half of the picture and one on the right half, with the given materials.
fn obj(left: &str, right: &str) -> String {
    format!(
        "mtllib skins/my limb.mtl\nv 0 0 0\nv 9 0 0\nv 0 9 0\nv 20 0 0\nv 29 0 0\nv 20 9 0\n\
         vt 0.1 0.1\nvt 0.3 0.1\nvt 0.1 0.9\nvt 0.7 0.1\nvt 0.9 0.1\nvt 0.7 0.9\n\
         usemtl {left}\nf 1/1 2/2 3/3\nusemtl {right}\nf 4/4 5/5 6/6\n"
    )
}

const MATERIALS: &str = "newmtl skin\nKd 1 1 1\nmap_Kd -clamp on C:\\scans\\first.png\n\
                         newmtl other skin\nmap_Kd ../second.png\nnewmtl plain\nKd 0.2 0.4 1.0\n";

fn read(obj: &str) -> ScanFile {
    read_bytes(
        obj.as_bytes(),
        "limb.obj",
        &|name| match name {
            "my limb.mtl" => Some(MATERIALS.into()),
            "first.png" => Some(picture(RED, BLUE)),
            "second.png" => Some(picture(BLUE, GREEN)),
            _ => None,
        },
        &Job::silent(),
    )
    .unwrap()
}

fn corner_colours(scan: &ScanFile) -> Vec<[u8; 3]> {
    let texture = scan.texture.as_ref().expect("a picture");
    let corner = |k: usize| [0, 1, 2].map(|i| f32::from(u8::from(i == k)));
    (0..scan.mesh.triangles.len()).flat_map(|t| [0, 1, 2].map(|k| texture.colour_at(t, corner(k)).unwrap())).collect()
}

#[test]
fn one_picture_colours_its_halves() {
    let scan = read(&obj("skin", "skin"));
    assert_eq!(scan.warnings, Vec::<String>::new());
    assert_eq!(corner_colours(&scan), [RED, RED, RED, BLUE, BLUE, BLUE]);
}

#[test]
fn two_pictures_and_a_plain_colour_are_joined() {
    assert_eq!(corner_colours(&read(&obj("skin", "other skin"))), [RED, RED, RED, GREEN, GREEN, GREEN]);
    let plain = [51, 102, 255];
    assert_eq!(corner_colours(&read(&obj("plain", "skin"))), [plain, plain, plain, BLUE, BLUE, BLUE]);
    // Coordinates that run through repeats of the picture: both triangles a whole picture further on.
    let shifted = obj("skin", "other skin").replace("vt 0.", "vt 3.");
    assert_eq!(corner_colours(&read(&shifted)), [RED, RED, RED, GREEN, GREEN, GREEN]);
}

#[test]
fn a_picture_that_is_named_but_missing_or_broken_is_said() {
    for (bytes, says) in [(None, "is not beside the scan"), (Some(b"no picture".to_vec()), "could not be read")] {
        let scan = read_bytes(
            obj("skin", "skin").as_bytes(),
            "limb.obj",
            &|name| if name.ends_with(".mtl") { Some(MATERIALS.into()) } else { bytes.clone() },
            &Job::silent(),
        )
        .unwrap();
        assert!(scan.texture.is_none());
        assert!(scan.warnings.len() == 1 && scan.warnings[0].contains(says), "{:?}", scan.warnings);
    }
}

#[test]
fn only_bare_names_are_ever_asked_for() {
    let asked = RefCell::new(Vec::new());
    let hostile = obj("skin", "skin").replace("skins/my limb.mtl", "../../../../etc/passwd");
    read_bytes(
        hostile.as_bytes(),
        "limb.obj",
        &|name| {
            asked.borrow_mut().push(name.to_owned());
            Some(b"newmtl skin\nmap_Kd /etc/shadow\n".to_vec())
        },
        &Job::silent(),
    )
    .unwrap();
    assert_eq!(*asked.borrow(), ["passwd", "shadow"]);
}

#[test]
fn files_beside_the_scan_are_found_whatever_the_case_of_their_names() {
    let folder = tempfile::tempdir().unwrap();
    let inner = folder.path().join("scan");
    std::fs::create_dir(&inner).unwrap();
    std::fs::write(inner.join("limb.obj"), obj("skin", "skin")).unwrap();
    std::fs::write(inner.join("My Limb.MTL"), MATERIALS).unwrap();
    std::fs::write(inner.join("FIRST.PNG"), picture(RED, BLUE)).unwrap();
    let scan = read_file(&inner.join("limb.obj"), &Job::silent()).unwrap();
    assert_eq!(corner_colours(&scan), [RED, RED, RED, BLUE, BLUE, BLUE]);
}

#[cfg(unix)]
#[test]
fn a_link_out_of_the_folder_is_not_followed() {
    let folder = tempfile::tempdir().unwrap();
    let inner = folder.path().join("scan");
    std::fs::create_dir(&inner).unwrap();
    std::fs::write(folder.path().join("secret.png"), picture(RED, BLUE)).unwrap();
    std::fs::write(inner.join("limb.obj"), obj("skin", "skin")).unwrap();
    std::fs::write(inner.join("my limb.mtl"), MATERIALS).unwrap();
    std::os::unix::fs::symlink(folder.path().join("secret.png"), inner.join("first.png")).unwrap();
    assert!(read_file(&inner.join("limb.obj"), &Job::silent()).unwrap().texture.is_none());
}
