//! The pictures that an athlete is shown, for other programs to open: `show LIMB SHELL FOLDER` writes turn.gif,
//! alone.gif, photo.png and the numbered frames of a turn.

use print::picture::{Paper, RenderStyle, Turntable, View, gif, picture_at_print_size, png_frames};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [limb, shell, folder] = words.as_slice() else { return Err("give LIMB SHELL FOLDER".into()) };
    let job = mesh::Job::silent();
    let open = |path: &str| mesh::read::read_file(path.as_ref(), &job).map(|scan| scan.mesh);
    let (limb, shell) = (open(limb)?, open(shell)?);
    let folder = std::path::Path::new(folder);
    let start = std::time::Instant::now();
    std::fs::write(folder.join("turn.gif"), gif(&limb, &shell, &Turntable::small(), &job)?)?;
    let took = start.elapsed();
    let look = RenderStyle { shell: [196, 62, 48], page: [255; 3], ..RenderStyle::default() };
    let alone = Turntable { on_limb: false, frames: 12, look, ..Turntable::small() };
    std::fs::write(folder.join("alone.gif"), gif(&limb, &shell, &alone, &job)?)?;
    png_frames(folder, &limb, &shell, &Turntable { frames: 12, ..Turntable::small() }, &job)?;
    let photo = picture_at_print_size(&limb, &shell, View::THREE_QUARTER, &look, &Paper::PHOTO, &job)?;
    std::fs::write(folder.join("photo.png"), photo)?;
    std::io::Write::write_all(&mut std::io::stdout(), format!("turn.gif in {took:.2?}\n").as_bytes())?;
    Ok(())
}
