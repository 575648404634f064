//! A JPEG's segments, walked from marker to marker (ISO/IEC 10918-1, annex B), to learn its size and whether it is whole.
//!
//! The decoder fills a truncated picture up with grey and reports nothing, so that this has to be asked first.

/// Most scans of a picture: encoders make ten; with thousands of empty ones a small file keeps the decoder busy for hours.
const MOST_SCANS: u32 = 64;

/// What the markers tell about the first picture of a JPEG stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Outline {
    pub frame: Option<Frame>,
    /// Scans up to the end.
    pub scans: u32,
    /// The picture's data end with its end-of-image marker.
    pub is_whole: bool,
}

/// A frame header.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Frame {
    /// Pixels.
    pub width: u32,
    pub height: u32,
    /// Bits a sample.
    pub bits: u32,
    /// Samples a pixel.
    pub components: u32,
    /// The second byte of its marker: which coding.
    pub marker: u8,
}

impl Frame {
    fn refusal(&self) -> Option<String> {
        match (self.marker, self.bits, self.components) {
            (0xc0..=0xc2, 8, 1 | 3 | 4) => None,
            (0xc0..=0xc2, 8, components) => Some(format!("{components} samples a pixel")),
            (0xc0..=0xc2, bits, _) => Some(format!("{bits} bits a sample")),
            (0xc3 | 0xc7 | 0xcb | 0xcf, ..) => Some("lossless coding".into()),
            (0xc9.., ..) => Some("arithmetic coding".into()),
            _ => Some("hierarchical coding".into()),
        }
    }
}

impl Outline {
    /// Why the decoder cannot read it, or should not, if so.
    pub fn refusal(&self) -> Option<String> {
        if self.scans > MOST_SCANS {
            return Some(format!("{} scans of one picture", self.scans));
        }
        self.frame.and_then(|frame| frame.refusal())
    }

    /// Bytes that the decoder needs: the samples, and where they come in several scans, their coefficients too, two
    /// bytes each.
    pub fn decoded_bytes(&self) -> u64 {
        let Some(frame) = self.frame else { return 0 };
        let samples =
            u64::from(frame.width) * u64::from(frame.height) * u64::from(frame.components);
        if frame.marker == 0xc2 || self.scans > 1 {
            samples * 3
        } else {
            samples
        }
    }
}

/// Walks the segments of a JPEG stream. Bytes after the end of the first picture (padding, a second picture) and junk
/// between segments are common and passed over; a thumbnail lies inside a segment and is not seen.
pub(super) fn outline(bytes: &[u8]) -> Outline {
    let mut outline = Outline::default();
    let mut rest = bytes;
    while let Some(at) = rest.iter().position(|&byte| byte == 0xff) {
        rest = &rest[at + 1..];
        let Some(&marker) = rest.first() else { break };
        match marker {
            // Stuffed zero, restarts, start of image and fill bytes carry no length; entropy-coded data are full of the
            // first two.
            0x00 | 0x01 | 0xd0..=0xd8 => rest = &rest[1..],
            0xff => {}
            0xd9 => {
                outline.is_whole = true;
                break;
            }
            _ => {
                outline.scans += u32::from(marker == 0xda);
                let segment = &rest[1..];
                let Some(length) = two_bytes(segment, 0).filter(|length| *length >= 2) else {
                    break;
                };
                // Frame headers are C0 to CF but for C4, C8 and CC.
                let is_frame =
                    (0xc0..=0xcf).contains(&marker) && !matches!(marker, 0xc4 | 0xc8 | 0xcc);
                if is_frame && outline.frame.is_none() && segment.len() >= 8 {
                    outline.frame =
                        two_bytes(segment, 5)
                            .zip(two_bytes(segment, 3))
                            .map(|(width, height)| Frame {
                                width,
                                height,
                                bits: u32::from(segment[2]),
                                components: u32::from(segment[7]),
                                marker,
                            });
                }
                let Some(after) = segment.get(length as usize..) else {
                    break;
                };
                rest = after;
            }
        }
    }
    outline
}

fn two_bytes(bytes: &[u8], at: usize) -> Option<u32> {
    let pair = bytes.get(at..at + 2)?;
    Some(u32::from(u16::from_be_bytes([pair[0], pair[1]])))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_markers_tell_size_and_end() {
        // Start, a comment that holds an end marker, frame of 5 x 7, scan with stuffing and a restart, end.
        let whole = [
            &[0xff, 0xd8, 0xff, 0xfe, 0, 4, 0xff, 0xd9][..],
            &[0xff, 0xc0, 0, 11, 8, 0, 7, 0, 5, 1, 1, 0x11, 0],
            &[0xff, 0xda, 0, 8, 1, 1, 0, 0, 63, 0],
            &[1, 2, 0xff, 0, 3, 0xff, 0xd0, 4],
            &[0xff, 0xff, 0xd9],
        ]
        .concat();
        let frame = Some(Frame {
            width: 5,
            height: 7,
            bits: 8,
            components: 1,
            marker: 0xc0,
        });
        let more = [&whole[..], &[0xff, 0xd8, 0xff, 0xda, 0, 9]].concat();
        for (name, bytes, frame, is_whole) in [
            ("whole", &whole[..], frame, true),
            ("a second picture cut off", &more, frame, true),
            ("no end", &whole[..whole.len() - 1], frame, false),
            ("in the scan", &whole[..whole.len() - 7], frame, false),
            ("in the frame header", &whole[..14], None, false),
            ("in the comment", &whole[..6], None, false),
            ("nothing", &[], None, false),
            (
                "a segment of no length",
                &[0xff, 0xd8, 0xff, 0xe0, 0, 0, 0xff, 0xd9],
                None,
                false,
            ),
        ] {
            let found = outline(bytes);
            assert_eq!((found.frame, found.is_whole), (frame, is_whole), "{name}");
        }
    }
    #[test]
    fn what_the_decoder_cannot_or_should_not_read_is_refused() {
        let frame = |marker, bits, components| Frame {
            width: 5,
            height: 7,
            bits,
            components,
            marker,
        };
        for (frame, scans, says) in [
            (frame(0xc0, 8, 1), 1, None),
            (frame(0xc2, 8, 4), 10, None),
            (frame(0xc2, 8, 3), 5_000, Some("5000 scans of one picture")),
            (frame(0xc1, 12, 1), 1, Some("12 bits a sample")),
            (frame(0xc0, 8, 2), 1, Some("2 samples a pixel")),
            (frame(0xc3, 8, 1), 1, Some("lossless coding")),
            (frame(0xc9, 8, 1), 1, Some("arithmetic coding")),
            (frame(0xc5, 8, 1), 1, Some("hierarchical coding")),
        ] {
            let outline = Outline {
                frame: Some(frame),
                scans,
                is_whole: true,
            };
            assert_eq!(outline.refusal().as_deref(), says, "{frame:?}");
        }
    }
}
