//! Tables of spoken forms and of what is taken for what, by eye and by ear.
//!
//! Spelling alphabet: ICAO Annex 10 volume II and ITU Radio Regulations
//! appendix 14, from memory. Sound-alike groups: common practice, no source.

/// Words for letters; the first word of a letter is the one we say.
pub const LETTER_WORDS: &[(&str, char)] = &[
    ("ALPHA", 'A'),
    ("ALFA", 'A'),
    ("BRAVO", 'B'),
    ("CHARLIE", 'C'),
    ("CHARLEY", 'C'),
    ("DELTA", 'D'),
    ("ECHO", 'E'),
    ("FOXTROT", 'F'),
    ("FOX", 'F'),
    ("GOLF", 'G'),
    ("HOTEL", 'H'),
    ("INDIA", 'I'),
    ("JULIETT", 'J'),
    ("JULIET", 'J'),
    ("JULIETTE", 'J'),
    ("KILO", 'K'),
    ("LIMA", 'L'),
    ("MIKE", 'M'),
    ("NOVEMBER", 'N'),
    ("OSCAR", 'O'),
    ("PAPA", 'P'),
    ("QUEBEC", 'Q'),
    ("ROMEO", 'R'),
    ("SIERRA", 'S'),
    ("TANGO", 'T'),
    ("UNIFORM", 'U'),
    ("VICTOR", 'V'),
    ("WHISKEY", 'W'),
    ("WHISKY", 'W'),
    ("XRAY", 'X'),
    ("YANKEE", 'Y'),
    ("ZULU", 'Z'),
];

/// Words for single digits; the first word of a digit is the one we say. The
/// homophones are what a phone's dictation writes.
pub const DIGIT_WORDS: &[(&str, char)] = &[
    ("ZERO", '0'),
    ("OH", '0'),
    ("NOUGHT", '0'),
    ("NAUGHT", '0'),
    ("ONE", '1'),
    ("WUN", '1'),
    ("WON", '1'),
    ("TWO", '2'),
    ("TOO", '2'),
    ("TO", '2'),
    ("THREE", '3'),
    ("TREE", '3'),
    ("FOUR", '4'),
    ("FOWER", '4'),
    ("FOR", '4'),
    ("FIVE", '5'),
    ("FIFE", '5'),
    ("SIX", '6'),
    ("SEVEN", '7'),
    ("EIGHT", '8'),
    ("AIT", '8'),
    ("ATE", '8'),
    ("NINER", '9'),
    ("NINE", '9'),
];

/// Words for ten to nineteen.
pub const TEEN_WORDS: &[(&str, u32)] = &[
    ("TEN", 10),
    ("ELEVEN", 11),
    ("TWELVE", 12),
    ("THIRTEEN", 13),
    ("FOURTEEN", 14),
    ("FIFTEEN", 15),
    ("SIXTEEN", 16),
    ("SEVENTEEN", 17),
    ("EIGHTEEN", 18),
    ("NINETEEN", 19),
];

/// Words for the tens.
pub const TENS_WORDS: &[(&str, u32)] = &[
    ("TWENTY", 20),
    ("THIRTY", 30),
    ("FORTY", 40),
    ("FOURTY", 40),
    ("FIFTY", 50),
    ("SIXTY", 60),
    ("SEVENTY", 70),
    ("EIGHTY", 80),
    ("NINETY", 90),
];

/// Words for separators; the first word of a mark is the one we say.
pub const MARK_WORDS: &[(&str, char)] = &[
    ("DASH", '-'),
    ("HYPHEN", '-'),
    ("MINUS", '-'),
    ("SLASH", '/'),
    ("STROKE", '/'),
    ("POINT", '.'),
    ("DOT", '.'),
    ("DECIMAL", '.'),
    ("COLON", ':'),
    ("UNDERSCORE", '_'),
    ("SPACE", ' '),
    ("HASH", '#'),
];

/// Words that repeat what follows.
pub const REPEAT_WORDS: &[(&str, usize)] = &[("DOUBLE", 2), ("TRIPLE", 3), ("TREBLE", 3)];

/// Words said around an id that stand for nothing in it.
pub const FILLER_WORDS: &[&str] = &["FIGURES", "FIGURE", "LETTER", "LETTERS", "DIGIT", "DIGITS"];

/// Characters heard for each other. A pair counts if any group holds both.
pub const SOUND_ALIKE: &[&str] = &[
    "BCDEGPTVZ3", // rhyme on "ee"
    "MN",
    "FSX",
    "AJK8H", // share the "ay"
    "IY59",  // five, nine, "eye", "why"
    "QU2",   // share the "oo"
    "O0",
    "67", // six, seven begin alike
];

/// Pairs within those that are heard for each other often: the letters that a
/// listener in noise confuses most (the groups BCPTV and FMNSX of R. Conrad,
/// Acoustic confusions in immediate memory, 1964, from memory), and what radio
/// procedure has words of its own for (niner). Common practice otherwise.
pub const SOUND_MUCH_ALIKE: &[&str] = &["BDEPTV", "BCPTV", "FMNSX", "CZ", "JK", "59", "67"];

/// Characters heard for each other now and then. Common practice, no source.
pub const SOUND_A_LITTLE_ALIKE: &[&str] = &["19", "45", "23", "08", "GJ", "LMN", "AEI", "KQ"];

/// A teen and its ten are heard for each other: fifteen, fifty.
pub const TEEN_AND_TEN: &[(&str, &str)] = &[
    ("13", "30"),
    ("14", "40"),
    ("15", "50"),
    ("16", "60"),
    ("17", "70"),
    ("18", "80"),
    ("19", "90"),
];

/// Characters taken for each other by eye, where no scheme says otherwise.
pub const LOOK_ALIKE: &[&str] = &["O0", "I1L", "S5", "B8", "Z2", "G6", "QO"];

/// Whether two different characters sound alike.
pub fn sound_alike(a: char, b: char) -> bool {
    in_one_group(SOUND_ALIKE, a, b) || sound_much_alike(a, b)
}

/// Whether two different characters are often heard for each other.
pub fn sound_much_alike(a: char, b: char) -> bool {
    in_one_group(SOUND_MUCH_ALIKE, a, b)
}

/// Whether two different characters are heard for each other now and then.
pub fn sound_a_little_alike(a: char, b: char) -> bool {
    in_one_group(SOUND_A_LITTLE_ALIKE, a, b)
}

/// Whether two different characters look alike, whatever the scheme.
pub fn look_alike(a: char, b: char) -> bool {
    in_one_group(LOOK_ALIKE, a, b)
}

fn in_one_group(groups: &[&str], a: char, b: char) -> bool {
    a != b && groups.iter().any(|g| g.contains(a) && g.contains(b))
}

/// What two digits are heard as, if they are a teen or its ten.
pub fn heard_pair(two: &str) -> Option<&'static str> {
    TEEN_AND_TEN.iter().find_map(|&(teen, ten)| {
        if two == teen {
            Some(ten)
        } else {
            (two == ten).then_some(teen)
        }
    })
}

pub(super) fn look_up<T: Copy>(table: &[(&str, T)], word: &str) -> Option<T> {
    table.iter().find(|(w, _)| *w == word).map(|(_, v)| *v)
}

/// The word we say for a letter, digit or mark, in small letters.
pub fn word_for(c: char) -> Option<String> {
    if c == 'X' {
        return Some("x-ray".to_string());
    }
    [LETTER_WORDS, DIGIT_WORDS, MARK_WORDS]
        .iter()
        .flat_map(|table| table.iter())
        .find(|(_, v)| *v == c)
        .map(|(word, _)| word.to_lowercase())
}
