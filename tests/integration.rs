//! One binary of integration tests: fewer links, faster runs.

mod collections;
mod delivering;
// Its twin `main.rs` runs it at length.
mod fuzz_rules;
mod hostile_rules;
mod key_journeys;
mod key_multiplexer;
mod key_trouble;
mod layering;
mod newer_roster;
mod output;
mod planning;
mod proof_journeys;
mod pseudo_terminal;
mod reference;
mod reporting;
mod rules_journeys;
mod schemas;
mod scripted;
mod setting_up;
mod settle_journeys;
// Journeys that read are left out without a reader, and what only they need with them.
#[cfg_attr(not(feature = "tesseract"), allow(dead_code))]
mod support;
mod trying_rules;

// These read pictures.
#[cfg(feature = "tesseract")]
mod bad_input;
#[cfg(feature = "tesseract")]
mod fuzz;
#[cfg(feature = "tesseract")]
mod killed;
#[cfg(feature = "tesseract")]
mod reading;
