//! The roster asked and answered: cases as data.
