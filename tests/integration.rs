//! One binary of integration tests: fewer links, faster runs.

mod layering;
mod output;
mod setting_up;
mod support;

// These read pictures.
#[cfg(feature = "tesseract")]
mod bad_input;
#[cfg(feature = "tesseract")]
mod killed;
#[cfg(feature = "tesseract")]
mod reading;
