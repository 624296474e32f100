//! A guard as the athlete sees it, for other programs to open: `artwork LIMB SHELL PICTURE FOLDER` writes matt.png and
//! gloss.png (no artwork), flat.png (the picture projected from the front), round.png (round the limb) and turn.gif.
//! The front is −y; the picture is 60 mm wide, 10 mm to the right and 5 mm up.

use std::path::Path;

use engine::artwork::{cover, render_style};
use locker::{Appearance, Art, Artwork, Finish, Laid};
use mesh::{Job, Mesh, Surface};
use print::picture::{Guard, Paper, Turntable, View, picture_at_print_size};

const FRONT_DEG: f32 = -90.0;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [limb, shell, picture, folder] = words.as_slice() else { return Err("give LIMB SHELL PICTURE FOLDER".into()) };
    let job = Job::silent();
    let open = |path: &str| mesh::read::read_file(path.as_ref(), &job).map(|scan| scan.mesh);
    let (skin, shell, folder) = (Surface::new(open(limb)?), open(shell)?, Path::new(folder));
    let art = Art::Picture(locker::keep_picture(&std::fs::read(picture)?));
    let laid = |laid| {
        let artwork = Artwork { art: art.clone(), laid, front_deg: FRONT_DEG, width_mm: 60.0, shift_mm: [10.0, 5.0] };
        Appearance { artwork: Some(artwork), ..Appearance::default() }
    };
    let none = Mesh::default();
    let flat = laid(Laid::Flat);
    let bare = |finish| Appearance { finish, ..Appearance::default() };
    let looks = [
        ("matt.png", bare(Finish::Matt)),
        ("gloss.png", bare(Finish::Gloss)),
        ("flat.png", flat.clone()),
        ("round.png", laid(Laid::Round)),
    ];
    for (name, look) in looks {
        let cover = cover(&shell, &skin, &look, &[], &job)?;
        let guard = Guard { shell: &shell, cover: cover.as_ref(), front_deg: Some(FRONT_DEG) };
        let photo = picture_at_print_size(&none, guard, View::FRONT, &render_style(&look), &Paper::PHOTO, &job)?;
        std::fs::write(folder.join(name), photo)?;
    }
    let cover = cover(&shell, &skin, &flat, &[], &job)?;
    let guard = Guard { shell: &shell, cover: cover.as_ref(), front_deg: Some(FRONT_DEG) };
    let turn = Turntable { on_limb: false, look: render_style(&flat), raise_deg: 0.0, ..Turntable::small() };
    std::fs::write(folder.join("turn.gif"), engine::turntable(&none, guard, &turn, &job)?)?;
    Ok(())
}
