//! What was keyed, delivered: the index and its lists, the scans under their names, and corrections later.

mod check;
mod deliver;
mod hands;
mod hostile;
mod index;
mod mending;
mod world;
