//! What a reader might make of a planned sheet, without a picture.
