//! The file a scanner writes: its container and what it keeps of the greys.

use super::Noise;
use crate::command::demo::weighted;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// The container and how finely its greys are kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Format {
    pub container: Container,
    pub depth: Depth,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Container {
    Png,
    Jpeg { quality: u8 },
    Tiff(Packing),
}

/// How a TIFF's data is packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Packing {
    None,
    Lzw,
    Deflate,
    PackBits,
}

/// What a sample of the image holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// One bit: the scanner told ink from ground. Grey scans in PNG or TIFF only.
    Bilevel,
    /// Eight bits, of which only this many levels are used.
    Eight { levels: u16 },
    /// Eight bits that point into a table of 32 greys in no order. Grey scans in PNG only.
    Palette,
    /// Twelve bits in the low end of sixteen: white is 4095. Not in JPEG.
    Twelve,
    /// Sixteen bits. Not in JPEG.
    Sixteen,
}

impl Format {
    pub fn extension(self) -> &'static str {
        match self.container {
            Container::Png => "png",
            Container::Jpeg { .. } => "jpg",
            Container::Tiff(_) => "tif",
        }
    }

    /// Colour scans come as JPEG more often than grey ones.
    pub(super) fn choose(random: &mut ChaCha8Rng, noise: Noise, colour: bool) -> Self {
        let quality = match noise {
            Noise::Default => random.random_range(60..=88),
            Noise::Heavy => random.random_range(35..=75),
        };
        let levels = weighted(random, &[(16, 0.65), (32, 0.31), (256, 0.04)]);
        let jpegs = if colour { 0.8 } else { 0.4 };
        let (container, levels) = weighted(
            random,
            &[
                ((Container::Jpeg { quality }, 256), jpegs),
                ((Container::Png, levels), 0.98 - jpegs),
                ((Container::Tiff(Packing::Lzw), 256), 0.02),
            ],
        );
        Self {
            container,
            depth: Depth::Eight { levels },
        }
    }

    /// A container that loses nothing.
    pub(super) fn lossless(random: &mut ChaCha8Rng) -> Container {
        weighted(
            random,
            &[
                (Container::Png, 0.4),
                (Container::Tiff(Packing::None), 0.15),
                (Container::Tiff(Packing::Lzw), 0.15),
                (Container::Tiff(Packing::Deflate), 0.15),
                (Container::Tiff(Packing::PackBits), 0.15),
            ],
        )
    }
}
