//! The picture or pattern as an image for the graphics card.

use bevy::asset::RenderAssetUsages;
use bevy::image::{ImageAddressMode, ImageSampler, ImageSamplerDescriptor};
use bevy::prelude::*;
use bevy::render::render_resource::{Extent3d, TextureDimension, TextureFormat};
use engine::artwork::ArtworkImage;
use image::{DynamicImage, Rgb, RgbImage, imageops};

/// As an image for the graphics card; `ground` is the colour of the plastic.
pub fn texture(canvas: ArtworkImage, ground: [u8; 3]) -> Image {
    let mut pixels = canvas.pixels;
    let mut mode = ImageAddressMode::Repeat;
    if !canvas.repeats {
        // Its outermost pixels are plain plastic, which is carried on beyond the picture.
        let (width, height) = pixels.dimensions();
        let mut framed = RgbImage::from_pixel(width + 2, height + 2, Rgb(ground));
        imageops::replace(&mut framed, &pixels, 1, 1);
        (pixels, mode) = (framed, ImageAddressMode::ClampToEdge);
    }
    let size = Extent3d { width: pixels.width(), height: pixels.height(), depth_or_array_layers: 1 };
    let mut image = Image::new(
        size,
        TextureDimension::D2,
        DynamicImage::ImageRgb8(pixels).into_rgba8().into_raw(),
        TextureFormat::Rgba8UnormSrgb,
        RenderAssetUsages::RENDER_WORLD,
    );
    image.sampler = ImageSampler::Descriptor(ImageSamplerDescriptor {
        address_mode_u: mode,
        address_mode_v: mode,
        ..ImageSamplerDescriptor::linear()
    });
    image
}
