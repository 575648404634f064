//! Decoded rows of samples to a picture: any depth from 1 to 16 bits, any of the usual colour models, strips or tiles.

use super::page::{Page, photometric};
use crate::strip::open::plain::on_white;
use image::{DynamicImage, GrayImage, ImageBuffer, RgbImage};

/// What the decoded bytes of a page mean. It may differ from the page's own tags, since a decoder may have done part
/// of the work.
#[derive(Debug, Clone, Copy)]
pub(super) struct Meaning {
    pub bits: u32,
    /// Samples beside each other, and those of a pixel in all planes.
    pub together: u32,
    pub samples: u32,
    pub photometric: u32,
    pub predictor: u32,
    /// Kind of the first sample beyond the colours: 1 and 2 are transparency.
    pub extra: u32,
}

/// Puts the chunks' rows in their places and makes 8-bit grey or colour of them; 16-bit grey stays as it is.
///
/// `planes` holds the chunks of each plane, one below the other, as decoded.
pub(super) fn picture(page: &Page, meaning: Meaning, planes: &[Vec<u8>]) -> DynamicImage {
    let (width, height) = (page.width as usize, page.height as usize);
    let colour = Colour::of(page, meaning);
    let is_deep = meaning.bits == 16 && meaning.samples == 1;
    let channels = colour.channels();
    let mut flat = vec![
        0;
        if is_deep {
            0
        } else {
            width * height * channels
        }
    ];
    let mut deep = vec![0; if is_deep { width * height } else { 0 }];
    let chunk_width = page.chunk_width as usize;
    let row_samples = chunk_width * meaning.together as usize;
    let row_bytes = (row_samples * meaning.bits as usize).div_ceil(8);
    let mut unpacked = vec![0_u16; row_samples];
    // All samples of the chunk's row, pixel by pixel.
    let mut pixels = vec![
        0_u16;
        if planes.len() > 1 {
            chunk_width * planes.len()
        } else {
            0
        }
    ];
    let mut source_row = 0;
    for chunk in 0..page.chunks_across() * page.chunks_down() {
        let left = chunk % page.chunks_across() * chunk_width;
        let top = chunk / page.chunks_across() * page.chunk_height as usize;
        let across = chunk_width.min(width - left);
        for row in 0..page.chunk_rows(chunk) as usize {
            let y = top + row;
            let at = source_row * row_bytes;
            source_row += 1;
            if y >= height {
                continue;
            }
            for (plane, raw) in planes.iter().enumerate() {
                // A decoder that gave fewer rows than it was asked for leaves the rest as it is.
                let Some(bytes) = raw.get(at..at + row_bytes) else {
                    continue;
                };
                unpack(bytes, meaning.bits, page.big_endian, &mut unpacked);
                if meaning.predictor == 2 {
                    undo_differences(&mut unpacked, meaning.together as usize, meaning.bits);
                }
                if planes.len() > 1 {
                    let own = pixels.iter_mut().skip(plane).step_by(planes.len());
                    own.zip(&unpacked).for_each(|(to, from)| *to = *from);
                }
            }
            let pixels = if planes.len() > 1 { &pixels } else { &unpacked };
            let to = y * width + left;
            if is_deep {
                let is_white_0 = meaning.photometric == photometric::WHITE_IS_0;
                let invert = if is_white_0 { u16::MAX } else { 0 };
                let row = deep[to..to + across].iter_mut().zip(pixels);
                row.for_each(|(to, from)| *to = *from ^ invert);
            } else {
                let row = &mut flat[to * channels..(to + across) * channels];
                colour.convert(pixels, row);
            }
        }
    }
    let (w, h) = (page.width, page.height);
    let picture = if is_deep {
        ImageBuffer::from_raw(w, h, deep).map(DynamicImage::ImageLuma16)
    } else if channels == 1 {
        GrayImage::from_raw(w, h, flat).map(DynamicImage::ImageLuma8)
    } else {
        RgbImage::from_raw(w, h, flat).map(DynamicImage::ImageRgb8)
    };
    picture.expect("the samples fill the picture")
}

/// Samples of any depth out of a row of bytes, the first in the highest bits; 16 bits in the file's byte order.
fn unpack(bytes: &[u8], bits: u32, big_endian: bool, samples: &mut [u16]) {
    match bits {
        8 => samples
            .iter_mut()
            .zip(bytes)
            .for_each(|(sample, byte)| *sample = u16::from(*byte)),
        16 => samples
            .iter_mut()
            .zip(bytes.chunks_exact(2))
            .for_each(|(sample, pair)| {
                let pair = [pair[0], pair[1]];
                *sample = if big_endian {
                    u16::from_be_bytes(pair)
                } else {
                    u16::from_le_bytes(pair)
                };
            }),
        _ => {
            let (mut held, mut count) = (0_u32, 0);
            let mut bytes = bytes.iter();
            for sample in samples {
                while count < bits {
                    held = held << 8 | u32::from(bytes.next().copied().unwrap_or(0));
                    count += 8;
                }
                count -= bits;
                *sample = (held >> count & ((1 << bits) - 1)) as u16;
            }
        }
    }
}

/// Horizontal differencing (TIFF 6.0, section 14) undone: each sample is stored as what it differs from its left neighbour.
fn undo_differences(samples: &mut [u16], together: usize, bits: u32) {
    let mask = (1_u32 << bits) - 1;
    for at in together..samples.len() {
        let sum = u32::from(samples[at]) + u32::from(samples[at - together]);
        samples[at] = (sum & mask) as u16;
    }
}

/// How samples become grey or red, green, blue.
struct Colour<'a> {
    meaning: Meaning,
    palette: &'a [[u8; 3]],
    /// Samples that are colour; the next one may be transparency.
    colours: usize,
    /// What each sample becomes, where a pixel is one sample of at most 8 bits.
    table: Vec<[u8; 3]>,
}

impl<'a> Colour<'a> {
    fn of(page: &'a Page, meaning: Meaning) -> Self {
        let colours = match meaning.photometric {
            photometric::RGB | photometric::YCBCR => 3,
            photometric::CMYK => 4,
            _ => 1,
        };
        let mut colour = Self {
            meaning,
            palette: &page.colours,
            colours,
            table: Vec::new(),
        };
        if meaning.samples == 1 && meaning.bits <= 8 {
            let values = 0..1_u16 << meaning.bits;
            let table = values.map(|value| {
                let mut to = [0; 3];
                colour.pixel(&[value], &mut to[..colour.channels()]);
                to
            });
            colour.table = table.collect();
        }
        colour
    }

    fn channels(&self) -> usize {
        match self.meaning.photometric {
            photometric::WHITE_IS_0 | photometric::BLACK_IS_0 => 1,
            _ => 3,
        }
    }

    /// A sample as 8 bits.
    fn eight(&self, sample: u16) -> u8 {
        match self.meaning.bits {
            bits @ 0..8 => (u32::from(sample) * 255 / ((1 << bits) - 1)) as u8,
            bits => (sample >> (bits - 8)) as u8,
        }
    }

    /// One row of pixels.
    fn convert(&self, pixels: &[u16], row: &mut [u8]) {
        if self.table.is_empty() {
            let pixels = pixels.chunks_exact(self.meaning.samples as usize);
            let row = row.chunks_exact_mut(self.channels());
            row.zip(pixels).for_each(|(to, from)| self.pixel(from, to));
        } else if self.channels() == 1 {
            let row = row.iter_mut().zip(pixels);
            row.for_each(|(to, from)| *to = self.table[usize::from(*from)][0]);
        } else {
            let row = row.as_chunks_mut::<3>().0.iter_mut().zip(pixels);
            row.for_each(|(to, from)| *to = self.table[usize::from(*from)]);
        }
    }

    /// One pixel's samples to grey or red, green, blue.
    fn pixel(&self, from: &[u16], to: &mut [u8]) {
        match self.meaning.photometric {
            photometric::WHITE_IS_0 => to[0] = 255 - self.eight(from[0]),
            photometric::BLACK_IS_0 => to[0] = self.eight(from[0]),
            photometric::PALETTE => {
                let colour = self.palette.get(usize::from(from[0]));
                to.copy_from_slice(colour.unwrap_or(&[0; 3]));
            }
            photometric::CMYK => {
                // Each ink takes its share of the light that black leaves.
                let light = 255 - u32::from(self.eight(from[3]));
                for (to, ink) in to.iter_mut().zip(from) {
                    *to = share(255 - u32::from(self.eight(*ink)), light);
                }
            }
            photometric::YCBCR => {
                to.copy_from_slice(&from_ycbcr(
                    [0, 1, 2].map(|sample| self.eight(from[sample])),
                ));
            }
            _ => to
                .iter_mut()
                .zip(from)
                .for_each(|(to, sample)| *to = self.eight(*sample)),
        }
        if let (1 | 2, Some(alpha)) = (self.meaning.extra, from.get(self.colours)) {
            let alpha = self.eight(*alpha);
            to.iter_mut()
                .for_each(|value| *value = on_white(*value, alpha, self.meaning.extra == 1));
        }
    }
}

/// The product of two shares of 255, rounded.
fn share(one: u32, other: u32) -> u8 {
    ((one * other + 127) / 255) as u8
}

/// JPEG's colours to red, green, blue (ITU-T T.871, section 7).
fn from_ycbcr([y, cb, cr]: [u8; 3]) -> [u8; 3] {
    let (y, cb, cr) = (f32::from(y), f32::from(cb) - 128.0, f32::from(cr) - 128.0);
    // `as` keeps within 0 to 255.
    [
        (y + 1.402 * cr).round() as u8,
        (y - 0.344_136 * cb - 0.714_136 * cr).round() as u8,
        (y + 1.772 * cb).round() as u8,
    ]
}
