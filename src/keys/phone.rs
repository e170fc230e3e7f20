//! What a phone's keyboard puts in place of the plain character that was meant.

/// The plain character for what a phone's keyboard substitutes: curly quotes, long dashes,
/// spaces that do not break, full-width forms. Every other character is returned as it is.
#[must_use]
pub const fn phone_plain(character: char) -> char {
    match character {
        '\u{2018}'..='\u{201B}' | '\u{2032}' | '\u{00B4}' | '\u{02BC}' => '\'',
        '\u{201C}'..='\u{201F}' | '\u{2033}' | '\u{00AB}' | '\u{00BB}' => '"',
        '\u{2010}'..='\u{2015}' | '\u{2212}' | '\u{FE58}' | '\u{FE63}' => '-',
        '\u{00A0}' | '\u{2000}'..='\u{200A}' | '\u{202F}' | '\u{205F}' | '\u{3000}' => ' ',
        // The full-width forms stand in the same order as ASCII, 0xFEE0 above it.
        '\u{FF01}'..='\u{FF5E}' => (character as u32 - 0xFEE0) as u8 as char,
        _ => character,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn substitutes_become_plain() {
        let typed = "\u{2018}a\u{2019} \u{201C}b\u{201D}\u{00A0}40\u{2013}118 40\u{2014}118 \u{FF14}\u{FF10}";
        let plain: String = typed.chars().map(phone_plain).collect();
        assert_eq!(plain, "'a' \"b\" 40-118 40-118 40");
    }

    #[test]
    fn the_rest_stays() {
        for character in "aZ09-'\"/ é中".chars() {
            assert_eq!(phone_plain(character), character);
        }
    }
}
