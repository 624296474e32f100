//! The commands of the show step: colour, finish, number, what is laid on, and what is saved of it.

pub mod picture;
pub mod rendering;

use locker::{Appearance, Art, Artwork, Finish, Laid, PatternKind};

use super::files::choose;
use super::next_of;
use crate::actions::Action;
use crate::state::files::{FileRequest, Rendering};
use crate::state::{Bench, View};

/// Colours to begin with.
pub const COLOURS: [[u8; 3]; 8] = [
    [240, 226, 196],
    [245, 244, 240],
    [46, 52, 64],
    [29, 107, 102],
    [31, 78, 140],
    [163, 45, 52],
    [224, 138, 30],
    [110, 150, 70],
];

/// Does what a key or button of this step asks for.
pub fn perform(action: Action, bench: &mut Bench, view: &mut View) {
    match action {
        Action::CleanStage => view.show.clean = !view.show.clean,
        Action::TurnSlowly => view.show.turning = !view.show.turning,
        Action::GuardAlone => view.show.alone = !view.show.alone,
        Action::SavePicture => choose(bench, FileRequest::Render(Rendering::Photo)),
        Action::SaveTurn => choose(bench, FileRequest::Render(Rendering::Turntable)),
        Action::NextLook => next_look(bench),
        Action::ChoosePicture => choose(bench, FileRequest::Picture),
        other => restyle(other, bench, view),
    }
}

/// Takes a whole look.
pub fn take_look(bench: &mut Bench, look: &engine::LookOnGuard) {
    bench.session.edit("whole look", |design| look.put_into(design));
    let notices = look.notices.join(" ");
    bench.say(format!("The guard has the look {}. {notices}", look.look.name).trim_end().to_owned(), false);
}

/// The look after the one that the guard has, in the order of the list.
fn next_look(bench: &mut Bench) {
    let Some(design) = bench.session.design() else { return };
    let Some(weighed) = bench.session.derived().looks_now(design).cloned() else {
        bench.say("The looks are still being weighed.", false);
        return;
    };
    let possible: Vec<_> = weighed.iter().filter(|look| look.volume_mm3.is_some()).collect();
    let now = possible.iter().position(|look| look.on_guard.shell == design.shell);
    let next = now.map_or(0, |n| n + 1);
    if let Some(look) = possible.get(next).or(possible.first()) {
        take_look(bench, &look.on_guard);
    }
}

/// Changes colour, finish or what is laid on.
fn restyle(action: Action, bench: &mut Bench, view: &mut View) {
    let Some(mut look) = bench.session.design().map(|design| design.look.clone().unwrap_or_default()) else { return };
    let front_deg = view.show.front_deg;
    match action {
        Action::NextColour => look.colour = next_of(&COLOURS, &look.colour).unwrap_or(look.colour),
        Action::NextFinish => {
            look.finish = next_of(&[Finish::Matt, Finish::Satin, Finish::Gloss], &look.finish).unwrap_or(look.finish);
        }
        Action::NextArtwork => {
            let kinds = [
                ArtworkChoice::Nothing,
                ArtworkChoice::Pattern(PatternKind::Stripes),
                ArtworkChoice::Pattern(PatternKind::Dots),
                ArtworkChoice::Pattern(PatternKind::Chevrons),
                ArtworkChoice::Pattern(PatternKind::Waves),
            ];
            let next = next_of(&kinds, &ArtworkChoice::of(look.artwork.as_ref())).unwrap_or(ArtworkChoice::Nothing);
            lay(&mut look, next, front_deg);
        }
        Action::ThisSide => {
            if let Some(artwork) = &mut look.artwork {
                artwork.front_deg = front_deg;
            }
        }
        _ => {}
    }
    bench.session.edit("look", |design| {
        if design.look.clone().unwrap_or_default() != look {
            design.look = Some(look);
        }
    });
}

/// Lays a pattern on, or takes off what lies there.
pub fn take_artwork(bench: &mut Bench, choice: ArtworkChoice, front_deg: f32) {
    bench.session.edit("look", |design| lay(design.look.get_or_insert_default(), choice, front_deg));
}

fn lay(look: &mut Appearance, kind: ArtworkChoice, front_deg: f32) {
    match kind {
        ArtworkChoice::Nothing => look.artwork = None,
        ArtworkChoice::Picture => {}
        ArtworkChoice::Pattern(kind) => {
            let colour = if look.colour == COLOURS[2] { COLOURS[1] } else { COLOURS[2] };
            let art = Art::Pattern { kind, colour };
            let fresh = Artwork { art: art.clone(), laid: Laid::Round, front_deg, width_mm: 26.0, shift_mm: [0.0; 2] };
            let kept = look.artwork.take().filter(|old| matches!(old.art, Art::Pattern { .. }));
            look.artwork = Some(kept.map_or(fresh, |old| Artwork { art, ..old }));
        }
    }
}

impl ArtworkChoice {
    /// What lies there now.
    pub fn of(artwork: Option<&Artwork>) -> Self {
        match artwork {
            None => Self::Nothing,
            Some(Artwork { art: Art::Pattern { kind, .. }, .. }) => Self::Pattern(*kind),
            Some(Artwork { art: Art::Picture(_), .. }) => Self::Picture,
        }
    }
}

/// What can be laid on, as buttons.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ArtworkChoice {
    /// Plain plastic.
    Nothing,
    /// One of the patterns.
    Pattern(PatternKind),
    /// A picture from a file.
    Picture,
}

/// The settings of a look, without the picture itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Style {
    /// Colour of the plastic.
    pub colour: [u8; 3],
    /// Its finish.
    pub finish: Finish,
    /// How something lies on it.
    pub artwork: Option<ArtworkStyle>,
}

/// How a picture or pattern lies on the guard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ArtworkStyle {
    /// Colour of a pattern; none of a picture.
    pub colour: Option<[u8; 3]>,
    /// Flat or round.
    pub laid: Laid,
    /// Its width, mm.
    pub width_mm: f32,
    /// To the right and up, mm.
    pub shift_mm: [f32; 2],
}

impl Style {
    /// The style of a look.
    pub fn of(look: &Appearance) -> Self {
        let artwork = look.artwork.as_ref().map(|artwork| ArtworkStyle {
            colour: if let Art::Pattern { colour, .. } = artwork.art { Some(colour) } else { None },
            laid: artwork.laid,
            width_mm: artwork.width_mm,
            shift_mm: artwork.shift_mm,
        });
        Self { colour: look.colour, finish: look.finish, artwork }
    }

    /// Puts it into a look.
    pub fn put(self, look: &mut Appearance) {
        (look.colour, look.finish) = (self.colour, self.finish);
        let Some((artwork, style)) = look.artwork.as_mut().zip(self.artwork) else { return };
        (artwork.laid, artwork.width_mm, artwork.shift_mm) = (style.laid, style.width_mm, style.shift_mm);
        if let (Art::Pattern { colour, .. }, Some(new)) = (&mut artwork.art, style.colour) {
            *colour = new;
        }
    }
}
