//! A drawn image in its container: PNG, JPEG or TIFF, one to sixteen bits.

use super::Drawn;
use crate::command::demo::look::format::{Container, Depth, Packing};
use image::codecs::{jpeg::JpegEncoder, png::PngEncoder};
use image::error::{EncodingError, ImageFormatHint};
use image::{DynamicImage, ImageError, ImageFormat, ImageResult};
use std::io::Cursor;
use tiff::encoder::compression::DeflateLevel;
use tiff::encoder::{Compression, TiffEncoder, colortype};
use tiff::tags::{PhotometricInterpretation, Tag};

/// Entries of a palette.
pub const PALETTE: u8 = 32;

impl Drawn {
    /// The image file's bytes in the sheet's own container: PNG, JPEG or TIFF.
    pub fn encode(&self) -> ImageResult<Vec<u8>> {
        let mut bytes = Vec::new();
        match self.format.container {
            Container::Jpeg { quality } => self
                .image
                .write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, quality))?,
            Container::Png => match self.format.depth {
                Depth::Bilevel => self.png(&mut bytes, png::BitDepth::One, &packed_bits)?,
                Depth::Palette => self.png(&mut bytes, png::BitDepth::Eight, &palette_indices)?,
                _ => self
                    .deep()
                    .as_ref()
                    .unwrap_or(&self.image)
                    .write_with_encoder(PngEncoder::new_with_quality(
                        &mut bytes,
                        image::codecs::png::CompressionType::Default,
                        image::codecs::png::FilterType::Sub,
                    ))?,
            },
            Container::Tiff(packing) => self
                .tiff(&mut bytes, packing)
                .map_err(|fault| encoding(ImageFormat::Tiff, fault))?,
        }
        Ok(bytes)
    }

    /// The image at sixteen bits a sample; none where eight hold it.
    fn deep(&self) -> Option<DynamicImage> {
        let spread = |level: u16| match self.format.depth {
            Depth::Sixteen => Some(level * 257),
            Depth::Twelve => Some(level << 4 | level >> 4),
            _ => None,
        };
        spread(0)?;
        let mut deep = match &self.image {
            DynamicImage::ImageRgb8(_) => DynamicImage::ImageRgb16(self.image.to_rgb16()),
            _ => DynamicImage::ImageLuma16(self.image.to_luma16()),
        };
        let samples = match &mut deep {
            DynamicImage::ImageRgb16(image) => &mut **image,
            DynamicImage::ImageLuma16(image) => &mut **image,
            _ => unreachable!("made just now"),
        };
        for (sample, &level) in samples.iter_mut().zip(self.image.as_bytes()) {
            *sample = spread(u16::from(level)).unwrap_or_default();
        }
        Some(deep)
    }

    /// A grey PNG whose samples `image` cannot write.
    fn png(
        &self,
        bytes: &mut Vec<u8>,
        depth: png::BitDepth,
        samples: &dyn Fn(&[u8], usize) -> Vec<u8>,
    ) -> ImageResult<()> {
        let (width, height) = (self.image.width(), self.image.height());
        let mut encoder = png::Encoder::new(bytes, width, height);
        encoder.set_depth(depth);
        if depth == png::BitDepth::One {
            encoder.set_color(png::ColorType::Grayscale);
        } else {
            encoder.set_color(png::ColorType::Indexed);
            let greys = (0..PALETTE).map(palette_grey);
            encoder.set_palette(greys.flat_map(|grey| [grey; 3]).collect::<Vec<u8>>());
        }
        let samples = samples(self.image.as_bytes(), width as usize);
        encoder
            .write_header()
            .and_then(|mut writer| {
                writer.write_image_data(&samples)?;
                writer.finish()
            })
            .map_err(|fault| encoding(ImageFormat::Png, fault))
    }

    fn tiff(&self, bytes: &mut Vec<u8>, packing: Packing) -> tiff::TiffResult<()> {
        let (width, height) = (self.image.width(), self.image.height());
        let packing = match packing {
            Packing::None => Compression::Uncompressed,
            Packing::Lzw => Compression::Lzw,
            Packing::Deflate => Compression::Deflate(DeflateLevel::default()),
            Packing::PackBits => Compression::Packbits,
        };
        let mut encoder = TiffEncoder::new(Cursor::new(bytes))?.with_compression(packing);
        if self.format.depth == Depth::Bilevel {
            // One strip without compression: the encoder itself knows no samples smaller than a byte.
            let mut directory = encoder.image_directory()?;
            let samples = packed_bits(self.image.as_bytes(), width as usize);
            let at = directory.write_data(samples.as_slice())?;
            for (tag, value) in [
                (Tag::ImageWidth, width),
                (Tag::ImageLength, height),
                (Tag::RowsPerStrip, height),
                (Tag::StripOffsets, at as u32),
                (Tag::StripByteCounts, samples.len() as u32),
            ] {
                directory.write_tag(tag, value)?;
            }
            let photometric = PhotometricInterpretation::BlackIsZero.to_u16();
            for (tag, value) in [
                (Tag::BitsPerSample, 1),
                (Tag::SamplesPerPixel, 1),
                (Tag::Compression, 1),
                (Tag::PhotometricInterpretation, photometric),
            ] {
                directory.write_tag(tag, value)?;
            }
            return directory.finish();
        }
        match self.deep().as_ref().unwrap_or(&self.image) {
            DynamicImage::ImageLuma16(image) => {
                encoder.write_image::<colortype::Gray16>(width, height, image)
            }
            DynamicImage::ImageRgb16(image) => {
                encoder.write_image::<colortype::RGB16>(width, height, image)
            }
            DynamicImage::ImageRgb8(image) => {
                encoder.write_image::<colortype::RGB8>(width, height, image)
            }
            image => encoder.write_image::<colortype::Gray8>(width, height, image.as_bytes()),
        }
    }
}

fn encoding(
    format: ImageFormat,
    fault: impl Into<Box<dyn std::error::Error + Send + Sync>>,
) -> ImageError {
    ImageError::Encoding(EncodingError::new(ImageFormatHint::Exact(format), fault))
}

/// Rows of bits, the first pixel in the highest; 1 is white.
fn packed_bits(greys: &[u8], width: usize) -> Vec<u8> {
    let rows = greys.chunks_exact(width);
    rows.flat_map(|row| {
        row.chunks(8).map(|pixels| {
            let bits = pixels.iter().enumerate();
            bits.fold(0, |byte, (at, &grey)| byte | (grey >> 7) << (7 - at))
        })
    })
    .collect()
}

/// The place of each grey in the palette.
fn palette_indices(greys: &[u8], _width: usize) -> Vec<u8> {
    let mut indices = [0; 256];
    for index in 0..PALETTE {
        indices[usize::from(palette_grey(index))] = index;
    }
    greys
        .iter()
        .map(|&grey| indices[usize::from(grey)])
        .collect()
}

/// The grey of a place in the palette: every one of evenly spaced greys, in no order.
fn palette_grey(index: u8) -> u8 {
    // 11 and 32 have no common factor.
    let level = u16::from(index) * 11 % u16::from(PALETTE);
    (f32::from(level) * 255.0 / f32::from(PALETTE - 1)).round() as u8
}
