//! The command line, which wires the rooms.

pub mod demo;
