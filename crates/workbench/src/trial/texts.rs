//! The texts that panels and windows draw, read from the layout.

use bevy::prelude::*;
use bevy_egui::egui::{self, Shape};
use bevy_egui::{EguiFullOutput, EguiPostUpdateSet};

/// A text as it lies in the window.
#[derive(Debug, Clone, PartialEq)]
pub struct TextInWindow {
    /// What it says.
    pub text: String,
    /// Where its letters lie: left, top, right, bottom.
    pub field: [f32; 4],
    /// Where it may be seen: left, top, right, bottom.
    pub clip: [f32; 4],
}

impl TextInWindow {
    /// Its middle.
    #[must_use]
    pub fn middle(&self) -> [f32; 2] {
        let [left, top, right, bottom] = self.field;
        [0.5 * (left + right), 0.5 * (top + bottom)]
    }

    /// Whether all of it may be seen.
    #[must_use]
    pub fn is_in_sight(&self) -> bool {
        let ([l, t, r, b], [left, top, right, bottom]) = (self.field, self.clip);
        l >= left && t >= top && r <= right && b <= bottom
    }
}

/// The texts of the frame drawn last.
#[derive(Resource, Default)]
pub(super) struct Texts(pub Vec<TextInWindow>);

/// Reads them in every frame.
pub(super) fn read_in_every_frame(app: &mut App) {
    app.init_resource::<Texts>()
        .add_systems(PostUpdate, read.after(EguiPostUpdateSet::EndPass).before(EguiPostUpdateSet::ProcessOutput));
}

fn read(outputs: Query<&EguiFullOutput>, mut texts: ResMut<Texts>) {
    texts.0.clear();
    for output in outputs.iter().filter_map(|output| output.0.as_ref()) {
        for shape in &output.shapes {
            collect(&shape.shape, shape.clip_rect, output.pixels_per_point, &mut texts.0);
        }
    }
}

fn collect(shape: &Shape, clip: egui::Rect, scale: f32, into: &mut Vec<TextInWindow>) {
    let in_window = |r: egui::Rect| [r.left(), r.top(), r.right(), r.bottom()].map(|side| side * scale);
    match shape {
        Shape::Vec(shapes) => shapes.iter().for_each(|shape| collect(shape, clip, scale, into)),
        Shape::Text(text) if !text.galley.text().trim().is_empty() => into.push(TextInWindow {
            text: text.galley.text().to_owned(),
            field: in_window(text.visual_bounding_rect()),
            clip: in_window(clip),
        }),
        _ => {}
    }
}
