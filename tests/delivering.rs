//! What was keyed, delivered: the index and its lists, the scans under their names, and corrections later.

mod check;
mod clock;
mod deliver;
mod demo;
mod hands;
mod hostile;
mod index;
mod mending;
mod world;
