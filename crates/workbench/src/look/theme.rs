//! Type, spacing and colours for egui.

use std::sync::Arc;

use bevy_egui::egui::{
    self, Color32, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, Id, Stroke, TextStyle,
};

use super::colours::{CALM, Palette};

/// Where the palette in use is kept.
const PALETTE: &str = "palette in use";

/// The colours in use.
pub fn palette(ctx: &egui::Context) -> Palette {
    ctx.data(|data| data.get_temp(Id::new(PALETTE))).unwrap_or(CALM)
}

/// Sets the look of all that egui draws.
pub fn apply(ctx: &egui::Context, palette: &Palette) {
    ctx.set_fonts(fonts());
    ctx.data_mut(|data| data.insert_temp(Id::new(PALETTE), *palette));
    let mut style = egui::Style::default();
    let text = |size: f32| FontId::new(size, FontFamily::Proportional);
    let strong = |size: f32| FontId::new(size, FontFamily::Name("strong".into()));
    style.text_styles = [
        (TextStyle::Small, text(12.5)),
        (TextStyle::Body, text(15.0)),
        (TextStyle::Button, text(15.0)),
        (TextStyle::Heading, strong(21.0)),
        (TextStyle::Monospace, text(14.0)),
    ]
    .into();
    style.spacing.item_spacing = egui::vec2(10.0, 9.0);
    style.spacing.button_padding = egui::vec2(14.0, 7.0);
    style.spacing.interact_size = egui::vec2(44.0, 30.0);
    // As the graphics card blends colours, the fade at the ends of a scroll area becomes a grey band; the scroll bar
    // tells that there is more.
    style.spacing.scroll.fade.strength = 0.0;
    style.spacing.scroll.dormant_handle_opacity = 0.5;
    // A press that misses a slider must not select text.
    style.interaction.selectable_labels = false;
    style.spacing.slider_width = 190.0;
    style.visuals = visuals(palette);
    ctx.set_theme(egui::Theme::Light);
    ctx.set_style_of(egui::Theme::Light, style);
}

fn fonts() -> FontDefinitions {
    let mut fonts = FontDefinitions::empty();
    let files: [(&str, &'static [u8]); 2] = [
        ("regular", include_bytes!("../../../../assets/fonts/OpenSans-Regular.ttf")),
        ("bold", include_bytes!("../../../../assets/fonts/OpenSans-Bold.ttf")),
    ];
    for (name, bytes) in files {
        fonts.font_data.insert(name.to_owned(), Arc::new(FontData::from_static(bytes)));
    }
    for family in [FontFamily::Proportional, FontFamily::Monospace] {
        fonts.families.insert(family, vec!["regular".to_owned()]);
    }
    fonts.families.insert(FontFamily::Name("strong".into()), vec!["bold".to_owned()]);
    fonts
}

fn visuals(palette: &Palette) -> egui::Visuals {
    let mut visuals = egui::Visuals::light();
    let corner = CornerRadius::same(7);
    visuals.override_text_color = None;
    visuals.panel_fill = palette.paper;
    visuals.window_fill = palette.paper;
    visuals.window_stroke = Stroke::new(1.0, palette.line);
    visuals.extreme_bg_color = palette.raised;
    visuals.faint_bg_color = palette.raised;
    visuals.hyperlink_color = palette.accent;
    visuals.error_fg_color = palette.bad;
    visuals.warn_fg_color = palette.bad;
    visuals.selection.bg_fill = palette.accent;
    visuals.selection.stroke = Stroke::new(1.0, palette.on_accent);
    let widgets = &mut visuals.widgets;
    for (widget, fill, line) in [
        (&mut widgets.noninteractive, palette.paper, palette.line),
        (&mut widgets.inactive, palette.raised, palette.line),
        (&mut widgets.hovered, palette.raised, palette.accent),
        (&mut widgets.active, palette.accent, palette.accent),
        (&mut widgets.open, palette.raised, palette.accent),
    ] {
        widget.bg_fill = fill;
        widget.weak_bg_fill = fill;
        widget.bg_stroke = Stroke::new(1.0, line);
        widget.fg_stroke = Stroke::new(1.3, palette.ink);
        widget.corner_radius = corner;
        widget.expansion = 0.0;
    }
    widgets.active.fg_stroke.color = palette.on_accent;
    visuals.slider_trailing_fill = true;
    // A blinking cursor asks for frames for ever, and the window should rest while somebody thinks of a name.
    visuals.text_cursor.blink = false;
    visuals.window_shadow = egui::Shadow { offset: [0, 4], blur: 18, spread: 0, color: Color32::from_black_alpha(30) };
    visuals
}
