//! What was keyed, delivered: the index and its lists, the scans under their names, and corrections later.

mod hands;
mod index;
