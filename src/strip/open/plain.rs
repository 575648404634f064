//! Any decoded picture to the one kind that later stations take.

use image::{DynamicImage, GrayAlphaImage, GrayImage, ImageBuffer, RgbImage, RgbaImage};

/// 8 bits a sample; transparency laid on white; grey where there is no colour.
pub(super) fn plain(image: DynamicImage) -> DynamicImage {
    let image = shallow(image);
    if matches!(image, DynamicImage::ImageLuma8(_)) {
        return image;
    }
    let colour = if image.color().has_alpha() {
        let mut layered = image.into_rgba8();
        for pixel in layered.pixels_mut() {
            let [colour @ .., alpha] = &mut pixel.0;
            colour
                .iter_mut()
                .for_each(|value| *value = on_white(*value, *alpha, false));
        }
        DynamicImage::ImageRgba8(layered).into_rgb8()
    } else {
        image.into_rgb8()
    };
    if colour
        .as_raw()
        .chunks_exact(3)
        .all(|p| p[0] == p[1] && p[1] == p[2])
    {
        let raw = colour.as_raw().iter().step_by(3).copied().collect();
        let grey = GrayImage::from_raw(colour.width(), colour.height(), raw);
        return DynamicImage::ImageLuma8(grey.expect("one byte a pixel"));
    }
    DynamicImage::ImageRgb8(colour)
}

/// 16 bits to 8. Scanners store 12 bits in 16 without saying so: then no sample passes 4,095, and 4 bits are dropped.
fn shallow(image: DynamicImage) -> DynamicImage {
    fn upper<P: image::Pixel<Subpixel = u16>>(deep: &ImageBuffer<P, Vec<u16>>) -> Vec<u8> {
        let twelve = deep.as_raw().iter().all(|&value| value < 4096);
        let shift = if twelve { 4 } else { 8 };
        let upper = deep.as_raw().iter().map(|&value| (value >> shift) as u8);
        upper.collect()
    }
    let (width, height) = (image.width(), image.height());
    let shallow = match &image {
        DynamicImage::ImageLuma16(deep) => {
            GrayImage::from_raw(width, height, upper(deep)).map(DynamicImage::ImageLuma8)
        }
        DynamicImage::ImageLumaA16(deep) => {
            GrayAlphaImage::from_raw(width, height, upper(deep)).map(DynamicImage::ImageLumaA8)
        }
        DynamicImage::ImageRgb16(deep) => {
            RgbImage::from_raw(width, height, upper(deep)).map(DynamicImage::ImageRgb8)
        }
        DynamicImage::ImageRgba16(deep) => {
            RgbaImage::from_raw(width, height, upper(deep)).map(DynamicImage::ImageRgba8)
        }
        _ => return image,
    };
    shallow.expect("a byte for each sample")
}

/// A transparent value laid on white; `is_multiplied` where the file has it multiplied by its opacity already.
pub(super) fn on_white(value: u8, alpha: u8, is_multiplied: bool) -> u8 {
    let (value, alpha) = (u32::from(value), u32::from(alpha));
    let own = if is_multiplied {
        value * 255
    } else {
        value * alpha
    };
    ((own + 255 * (255 - alpha) + 127) / 255).min(255) as u8
}
