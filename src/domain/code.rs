//! Numbering schemes as data; decoding and composing of ids.
