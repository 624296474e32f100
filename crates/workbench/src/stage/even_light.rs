//! The material of skin: light and shade show form as plainly on a dark tone as on a pale one, by the rule of
//! [`print::picture`].

use bevy::asset::embedded_asset;
use bevy::pbr::{ExtendedMaterial, MaterialExtension};
use bevy::prelude::*;
use bevy::render::render_resource::AsBindGroup;
use bevy::shader::ShaderRef;
use print::picture::EVEN_LIGHT;

/// The material of skin.
pub type SkinMaterial = ExtendedMaterial<StandardMaterial, EvenLight>;

/// Adjusts the contrast of light and shade to the tone that they fall on.
#[derive(Asset, AsBindGroup, TypePath, Debug, Clone)]
pub struct EvenLight {
    /// Luminance of a pale skin, greatest exponent, light that stays as it is; the fourth is not used.
    #[uniform(100)]
    rule: Vec4,
}

impl Default for EvenLight {
    fn default() -> Self {
        Self { rule: Vec4::new(EVEN_LIGHT.pale, EVEN_LIGHT.most, EVEN_LIGHT.pivot, 0.0) }
    }
}

impl MaterialExtension for EvenLight {
    fn fragment_shader() -> ShaderRef {
        "embedded://workbench/stage/even_light.wgsl".into()
    }

    fn enable_prepass() -> bool {
        false
    }

    fn enable_shadows() -> bool {
        false
    }
}

/// Registers shader and material.
pub fn add(app: &mut App) {
    embedded_asset!(app, "even_light.wgsl");
    app.add_plugins(MaterialPlugin::<SkinMaterial>::default());
}

/// Opaque, matt skin; its tone comes from the colours of its vertices.
pub fn skin() -> SkinMaterial {
    let base = StandardMaterial { base_color: Color::WHITE, perceptual_roughness: 0.75, reflectance: 0.3, ..default() };
    SkinMaterial { base, extension: EvenLight::default() }
}
