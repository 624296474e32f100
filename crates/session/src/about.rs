//! What a guard is for: body site, side, number, and the title and defaults that follow from them.

use locker::DesignFile;
use scan::{BodySite, Side};

/// Sets the body site. A title made from the old site follows, and so does a shell that still has the old site's
/// defaults.
pub fn set_site(design: &mut DesignFile, site: BodySite) {
    let untouched = design.shell == engine::shell_for(design.site);
    retitle(design, |design| design.site = site);
    if untouched {
        design.shell = engine::shell_for(site);
    }
}

/// Sets the side of the body; a title made from the old side follows.
pub fn set_side(design: &mut DesignFile, side: Side) {
    retitle(design, |design| design.side = side);
}

/// Sets the athlete's squad number, clamped to [`locker::MOST_SQUAD_NUMBER`], or removes it. A title made from the old
/// number follows, and so do marks that show it.
pub fn set_number(design: &mut DesignFile, number: Option<u32>) {
    let number = number.map(|n| n.min(locker::MOST_SQUAD_NUMBER));
    let old = design.squad_number.map(|n| n.to_string());
    retitle(design, |design| design.squad_number = number);
    if let (Some(old), Some(new)) = (old, number) {
        let marks = design.shell.marks.iter_mut().filter(|mark| mark.text == old);
        marks.for_each(|mark| mark.text = new.to_string());
    }
}

fn retitle(design: &mut DesignFile, change: impl FnOnce(&mut DesignFile)) {
    let made = |d: &DesignFile| engine::title_for(d.site, d.side, d.squad_number);
    let follows = design.title.is_empty() || design.title == made(design);
    change(design);
    if follows {
        design.title = made(design);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Places, Session};

    #[test]
    fn title_and_defaults_follow_until_somebody_changes_them() {
        let folder = tempfile::tempdir().unwrap();
        let mut session = Session::begin(Places::inside(folder.path())).unwrap();
        let scan = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans/wrist-12.ply");
        session.open(&scan, BodySite::Other, Side::Unknown);
        while session.document().is_none() {
            session.poll();
            std::thread::yield_now();
        }
        session.edit("site", |d| set_site(d, BodySite::Shin));
        session.edit("side", |d| set_side(d, Side::Left));
        session.edit("number", |d| set_number(d, Some(7)));
        let mark = |text: &str| shell::Mark {
            text: text.into(),
            height_mm: 20.0,
            relief_mm: 0.6,
            at_mm: nalgebra::Point3::origin(),
            turn_deg: 0.0,
            kind: shell::MarkKind::Relief,
        };
        session.edit("marks", |d| d.shell.marks = vec![mark("7"), mark("GK")]);
        session.edit("number", |d| set_number(d, Some(12)));
        let design = session.design().unwrap();
        assert_eq!(design.shell.marks.iter().map(|mark| mark.text.as_str()).collect::<Vec<_>>(), ["12", "GK"]);
        session.edit("marks", |d| d.shell.marks.clear());
        let design = session.design().unwrap();
        assert!(design.title.contains("left") && design.title.contains("12"), "{}", design.title);
        assert_eq!(design.shell, engine::shell_for(BodySite::Shin));
        session.edit("wall", |d| d.shell.thickness_mm = 4.4);
        session.edit("title", |d| d.title = "Spare".into());
        session.edit("site", |d| set_site(d, BodySite::Wrist));
        let design = session.design().unwrap();
        assert_eq!((design.title.as_str(), design.shell.thickness_mm, design.site), ("Spare", 4.4, BodySite::Wrist));
        assert!(design.shell.ribs.is_some(), "the shin's ribs stay, as the shell was worked on");
    }
}
