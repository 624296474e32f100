// Light and shade on skin, as far apart on a dark tone as on a pale one: the rule and the numbers of
// print::picture::EvenLight.

#import bevy_pbr::{
    forward_io::{FragmentOutput, VertexOutput},
    pbr_fragment::pbr_input_from_standard_material,
    pbr_functions::{alpha_discard, apply_pbr_lighting, main_pass_post_lighting_processing},
}

// Luminance of a pale skin, greatest exponent, light that stays as it is.
@group(#{MATERIAL_BIND_GROUP}) @binding(100) var<uniform> rule: vec4<f32>;

// Relative luminance of linear light (IEC 61966-2-1).
fn luminance(light: vec3<f32>) -> f32 {
    return dot(light, vec3<f32>(0.2126, 0.7152, 0.0722));
}

@fragment
fn fragment(in: VertexOutput, @builtin(front_facing) is_front: bool) -> FragmentOutput {
    var skin = pbr_input_from_standard_material(in, is_front);
    skin.material.base_color = alpha_discard(skin.material, skin.material.base_color);
    let tone = max(luminance(skin.material.base_color.rgb), 1e-4);
    let lit = apply_pbr_lighting(skin);
    let level = max(luminance(lit.rgb) / tone, 1e-4);
    let exponent = clamp(pow(rule.x / tone, 1.0 / 3.0), 1.0, rule.y);
    let even = lit.rgb * pow(level / rule.z, exponent - 1.0);
    var out: FragmentOutput;
    out.color = main_pass_post_lighting_processing(skin, vec4<f32>(even, lit.a));
    return out;
}
