//! The system's leptonica library, for the TIFF compressions that nothing else here reads.
//!
//! Traps that shaped it: it reads tiles, depths and orientation tags only in part, so it gets plain restatements; it
//! keeps what it could decode of a damaged picture and says nothing, so the data are checked beforehand; it writes to
//! stderr unless told not to; it takes sizes on trust, so they are bounded before they reach it.

// The one file that calls a C library by itself.
#![allow(unsafe_code)]

use image::{DynamicImage, GrayImage, RgbImage};
use std::ffi::c_int;
use std::ptr::NonNull;

/// Leptonica's `Pix`, which only its own functions look into.
#[repr(C)]
struct RawPix {
    _opaque: [u8; 0],
}

/// `L_SEVERITY_NONE` of leptonica's environ.h: no messages.
const NO_MESSAGES: c_int = 6;

#[link(name = "leptonica")]
unsafe extern "C" {
    fn setMsgSeverity(severity: c_int) -> c_int;
    fn pixReadMemTiff(data: *const u8, size: usize, page: c_int) -> *mut RawPix;
    fn pixGetDimensions(
        pix: *const RawPix,
        width: *mut c_int,
        height: *mut c_int,
        depth: *mut c_int,
    ) -> c_int;
    fn pixGetWpl(pix: *const RawPix) -> c_int;
    fn pixGetData(pix: *mut RawPix) -> *mut u32;
    fn pixDestroy(pix: *mut *mut RawPix);
}

/// An owned `Pix`.
struct Pix(NonNull<RawPix>);

impl Drop for Pix {
    fn drop(&mut self) {
        let mut raw = self.0.as_ptr();
        // SAFETY: `raw` is a live Pix that only this owner holds; the library sets the pointer to null.
        unsafe { pixDestroy(&mut raw) };
    }
}

/// Decodes the first page of a TIFF without a palette: 8-bit grey (a single bit becomes 0 or 255) or RGB.
///
/// `None` where the library gives it up.
pub(super) fn decode(tiff: &[u8]) -> Option<DynamicImage> {
    // SAFETY: the call only sets a number inside the library.
    unsafe { setMsgSeverity(NO_MESSAGES) };
    // SAFETY: pointer and length are those of one slice, which the library reads during the call only.
    let pix = Pix(NonNull::new(unsafe {
        pixReadMemTiff(tiff.as_ptr(), tiff.len(), 0)
    })?);
    let (mut width, mut height, mut depth) = (0, 0, 0);
    // SAFETY: a live Pix, and places for three numbers.
    unsafe { pixGetDimensions(pix.0.as_ptr(), &mut width, &mut height, &mut depth) };
    // SAFETY: a live Pix.
    let (words, data) = unsafe { (pixGetWpl(pix.0.as_ptr()), pixGetData(pix.0.as_ptr())) };
    let (width, height) = (u32::try_from(width).ok()?, u32::try_from(height).ok()?);
    let (words, depth) = (usize::try_from(words).ok()?, usize::try_from(depth).ok()?);
    let across = width as usize;
    if data.is_null() || words == 0 || words < (across * depth).div_ceil(32) {
        return None;
    }
    // SAFETY: a Pix's data are `words` 32-bit words for each of its `height` rows, and `pix` outlives the slice.
    let data = unsafe { std::slice::from_raw_parts(data, words * height as usize) };
    let rows = data.chunks_exact(words);
    let pixels = across * height as usize;
    // The first pixel lies in the upper bits of a word.
    match depth {
        1 => {
            let mut raw = Vec::with_capacity(pixels);
            for row in rows {
                let is_black = |x: usize| row[x / 32] >> (31 - x % 32) & 1 == 1;
                raw.extend((0..across).map(|x| if is_black(x) { 0 } else { 255 }));
            }
            GrayImage::from_raw(width, height, raw).map(DynamicImage::ImageLuma8)
        }
        8 => {
            let mut raw = Vec::with_capacity(pixels);
            for row in rows {
                raw.extend((0..across).map(|x| (row[x / 4] >> (24 - x % 4 * 8)) as u8));
            }
            GrayImage::from_raw(width, height, raw).map(DynamicImage::ImageLuma8)
        }
        32 => {
            let mut raw = Vec::with_capacity(pixels * 3);
            for row in rows {
                for word in &row[..across] {
                    raw.extend_from_slice(&word.to_be_bytes()[..3]);
                }
            }
            RgbImage::from_raw(width, height, raw).map(DynamicImage::ImageRgb8)
        }
        _ => None,
    }
}
