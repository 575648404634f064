//! A JPEG's segments, walked from marker to marker (ISO/IEC 10918-1, annex B), to learn its size and whether it is whole.
//!
//! The decoder fills a truncated picture up with grey and reports nothing, so that this has to be asked first.

/// What the markers tell about the first picture of a JPEG stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Outline {
    /// Width and height in pixels, from the first frame header.
    pub size: Option<(u32, u32)>,
    /// The picture's data end with its end-of-image marker.
    pub is_whole: bool,
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
                let segment = &rest[1..];
                let Some(length) = two_bytes(segment, 0).filter(|length| *length >= 2) else {
                    break;
                };
                // Frame headers are C0 to CF but for C4, C8 and CC: precision, height, width.
                let is_frame =
                    (0xc0..=0xcf).contains(&marker) && !matches!(marker, 0xc4 | 0xc8 | 0xcc);
                if is_frame && outline.size.is_none() {
                    outline.size = two_bytes(segment, 5).zip(two_bytes(segment, 3));
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
        let size = Some((5, 7));
        let more = [&whole[..], &[0xff, 0xd8, 0xff, 0xda, 0, 9]].concat();
        for (name, bytes, size, is_whole) in [
            ("whole", &whole[..], size, true),
            ("a second picture cut off", &more, size, true),
            ("no end", &whole[..whole.len() - 1], size, false),
            ("in the scan", &whole[..whole.len() - 7], size, false),
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
            assert_eq!(outline(bytes), Outline { size, is_whole }, "{name}");
        }
    }
}
