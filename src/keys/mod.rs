//! Key chords, and the joining of escape sequences that a slow link split.
