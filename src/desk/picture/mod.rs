//! A strip's picture in the cells of a terminal.
