//! Ids as they are said over a radio: words to symbols and back.

use std::ops::Range;

use super::sounds::{
    DIGIT_WORDS, FILLER_WORDS, LETTER_WORDS, MARK_WORDS, REPEAT_WORDS, TEEN_WORDS, TENS_WORDS,
    look_up, word_for,
};
use super::symbols::{Symbol, Symbols, fold};

/// The most ways of taking one run of words that are looked at.
const MAX_WAYS: usize = 32;

/// One word or one stretch of marks.
#[derive(Debug, Clone)]
enum Token {
    Word { text: String, span: Range<usize> },
    Marks(String),
}

/// One step of a way: what the words say, and how many tokens they take.
#[derive(Debug, Clone)]
struct Step {
    said: Said,
    takes: usize,
    /// A spoken word was read (not just typed letters kept as they are).
    spoken: bool,
}

#[derive(Debug, Clone)]
enum Said {
    Symbols(String),
    Mark(char),
    Nothing,
}

/// Every way of taking the input as spoken words, the likeliest first; empty
/// when no word of the spoken forms occurs.
pub(super) fn ways(input: &str) -> Vec<Symbols> {
    let tokens = tokens(input);
    let mut ways: Vec<Vec<(usize, Step)>> = Vec::new();
    let mut path = Vec::new();
    walk(&tokens, 0, &mut path, &mut ways);
    ways.iter()
        .filter(|way| way.iter().any(|(_, step)| step.spoken))
        .enumerate()
        .map(|(rank, way)| gather(input, &tokens, way, rank))
        .collect()
}

fn tokens(input: &str) -> Vec<Token> {
    let mut out: Vec<Token> = Vec::new();
    for (at, c) in input.char_indices() {
        let end = at + c.len_utf8();
        match (c.is_alphanumeric(), out.last_mut()) {
            (true, Some(Token::Word { text, span })) => {
                text.push(c);
                span.end = end;
            }
            (true, _) => out.push(Token::Word {
                text: c.to_string(),
                span: at..end,
            }),
            (false, Some(Token::Marks(text))) => text.push(c),
            (false, _) => out.push(Token::Marks(c.to_string())),
        }
    }
    for token in &mut out {
        if let Token::Word { text, .. } = token {
            *text = fold(text);
        }
    }
    out
}

fn walk(
    tokens: &[Token],
    at: usize,
    path: &mut Vec<(usize, Step)>,
    ways: &mut Vec<Vec<(usize, Step)>>,
) {
    if ways.len() >= MAX_WAYS {
        return;
    }
    if at >= tokens.len() {
        ways.push(path.clone());
        return;
    }
    for step in steps(tokens, at) {
        let next = at + step.takes;
        path.push((at, step));
        walk(tokens, next, path, ways);
        path.pop();
    }
}

/// What may be read at a token, the likeliest first; never empty.
fn steps(tokens: &[Token], at: usize) -> Vec<Step> {
    let Some(Token::Word { text, .. }) = tokens.get(at) else {
        return vec![step(Said::Nothing, 1, false)];
    };
    let spoken = |said, takes| vec![step(said, takes, true)];
    if let Some(mark) = look_up(MARK_WORDS, text) {
        return spoken(Said::Mark(mark), 1);
    }
    if FILLER_WORDS.contains(&text.as_str()) {
        return spoken(Said::Nothing, 1);
    }
    if let Some(letter) = look_up(LETTER_WORDS, text) {
        return spoken(Said::Symbols(letter.to_string()), 1);
    }
    if text == "X"
        && let Some((next, "RAY")) = next_word(tokens, at)
    {
        return spoken(Said::Symbols("X".to_string()), next + 1 - at);
    }
    if let Some(times) = look_up(REPEAT_WORDS, text)
        && let Some((next, word)) = next_word(tokens, at)
        && let Some(c) = single(word)
    {
        let said = c.to_string().repeat(times);
        return spoken(Said::Symbols(said), next + 1 - at);
    }
    let numbers = numbers(tokens, at);
    if !numbers.is_empty() {
        return numbers
            .into_iter()
            .map(|(said, end)| step(Said::Symbols(said), end - at, true))
            .collect();
    }
    vec![step(Said::Symbols(text.clone()), 1, false)]
}

fn step(said: Said, takes: usize, spoken: bool) -> Step {
    Step {
        said,
        takes,
        spoken,
    }
}

/// The next word and its place, if only spaces or a hyphen lie between.
fn next_word(tokens: &[Token], at: usize) -> Option<(usize, &str)> {
    match (tokens.get(at + 1), tokens.get(at + 2)) {
        (Some(Token::Marks(marks)), Some(Token::Word { text, .. }))
            if marks.chars().all(|c| c.is_whitespace() || c == '-') =>
        {
            Some((at + 2, text))
        }
        _ => None,
    }
}

/// A word for one letter or digit, or the character itself.
fn single(word: &str) -> Option<char> {
    let mut chars = word.chars();
    match (chars.next(), chars.next()) {
        (Some(c), None) => Some(c),
        _ => look_up(DIGIT_WORDS, word).or_else(|| look_up(LETTER_WORDS, word)),
    }
}

/// Digits said at `at` with the token after them: each way the number words
/// can be grouped, the longest first.
fn numbers(tokens: &[Token], at: usize) -> Vec<(String, usize)> {
    let mut out = Vec::new();
    for (value, text, last) in small_numbers(tokens, at) {
        if let Some((hundred, "HUNDRED")) = next_word(tokens, last)
            && value > 0
        {
            for (rest, end) in remainders(tokens, hundred, 99) {
                out.push((format!("{value}{rest:02}"), end));
            }
            continue;
        }
        if let Some((thousand, "THOUSAND")) = next_word(tokens, last)
            && value > 0
        {
            for (rest, end) in remainders(tokens, thousand, 999) {
                out.push((format!("{value}{rest:03}"), end));
            }
            continue;
        }
        out.push((text, last + 1));
    }
    out
}

/// Numbers 0 to 99 said at `at`: value, digits and the last token taken.
fn small_numbers(tokens: &[Token], at: usize) -> Vec<(u32, String, usize)> {
    let Some(Token::Word { text, .. }) = tokens.get(at) else {
        return Vec::new();
    };
    if let Some(digit) = look_up(DIGIT_WORDS, text) {
        let value = digit.to_digit(10).unwrap_or(0);
        return vec![(value, digit.to_string(), at)];
    }
    if let Some(teen) = look_up(TEEN_WORDS, text) {
        return vec![(teen, teen.to_string(), at)];
    }
    let Some(tens) = look_up(TENS_WORDS, text) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    if let Some((next, word)) = next_word(tokens, at)
        && let Some(unit) = look_up(DIGIT_WORDS, word).and_then(|c| c.to_digit(10))
        && unit > 0
    {
        out.push((tens + unit, (tens + unit).to_string(), next));
    }
    out.push((tens, tens.to_string(), at));
    out
}

/// What may follow "hundred" (to 99) or "thousand" (to 999): a number with or
/// without "and", or nothing.
fn remainders(tokens: &[Token], multiplier: usize, most: u32) -> Vec<(u32, usize)> {
    let mut from = next_word(tokens, multiplier);
    if let Some((and, "AND")) = from {
        from = next_word(tokens, and);
    }
    let mut out = Vec::new();
    if let Some((start, _)) = from {
        for (value, _, last) in small_numbers(tokens, start) {
            match next_word(tokens, last) {
                Some((hundred, "HUNDRED")) if most > 99 && (1..10).contains(&value) => {
                    let rest = remainders(tokens, hundred, 99);
                    out.extend(rest.into_iter().map(|(r, end)| (value * 100 + r, end)));
                }
                _ if value > 0 => out.push((value, last + 1)),
                _ => {}
            }
        }
    }
    out.push((0, multiplier + 1));
    out
}

fn gather(input: &str, tokens: &[Token], way: &[(usize, Step)], rank: usize) -> Symbols {
    let mut out = Symbols {
        spoken: true,
        rank,
        ..Symbols::default()
    };
    for (at, step) in way {
        match &step.said {
            Said::Symbols(text) if step.spoken => {
                let span = span_of(tokens, *at, step.takes);
                for c in text.chars() {
                    let ch = u8::try_from(c).unwrap_or(super::symbols::FOREIGN);
                    let span = span.clone();
                    out.symbols.push(Symbol { ch, span });
                }
            }
            Said::Symbols(_) => push_typed(&mut out, input, tokens.get(*at)),
            Said::Mark(mark) => out.push_gap(*mark),
            Said::Nothing => {
                if let Some(Token::Marks(marks)) = tokens.get(*at) {
                    // Spaces and commas only part words; other marks were meant.
                    let meant = marks.chars().filter(|c| !c.is_whitespace() && *c != ',');
                    meant.for_each(|c| out.push_gap(c));
                }
            }
        }
    }
    out
}

fn span_of(tokens: &[Token], at: usize, takes: usize) -> Range<usize> {
    let mut spans = tokens[at..at + takes].iter().filter_map(|t| match t {
        Token::Word { span, .. } => Some(span.clone()),
        Token::Marks(_) => None,
    });
    let first = spans.next().unwrap_or(0..0);
    let end = spans.next_back().map_or(first.end, |s| s.end);
    first.start..end
}

/// A word that says nothing in words stands for its own letters.
fn push_typed(out: &mut Symbols, input: &str, token: Option<&Token>) {
    let Some(Token::Word { span, .. }) = token else {
        return;
    };
    let typed = Symbols::literal(&input[span.clone()]);
    out.lower |= typed.lower;
    for symbol in typed.symbols {
        let place = span.start + symbol.span.start..span.start + symbol.span.end;
        out.symbols.push(Symbol {
            ch: symbol.ch,
            span: place,
        });
    }
}

/// A spoken id in letters and digits, the marks that were said in place:
/// "four zero dash one one eight" gives `40-118`. `None` if no word of the
/// spoken forms occurs. Of several ways the likeliest is given.
pub fn spoken_to_text(text: &str) -> Option<String> {
    ways(text).first().map(with_marks)
}

/// Every way of taking a spoken id, the likeliest first: "forty one" is `41`
/// and `401`. Empty if no word of the spoken forms occurs.
pub fn spoken_ways(text: &str) -> Vec<String> {
    let mut out: Vec<String> = ways(text).iter().map(with_marks).collect();
    out.dedup();
    out
}

fn with_marks(way: &Symbols) -> String {
    let mut out = String::new();
    let mut gaps = way.gaps.iter().peekable();
    for (i, symbol) in way.symbols.iter().enumerate() {
        while let Some(gap) = gaps.next_if(|gap| gap.before <= i) {
            if gap.before > 0 {
                out.push_str(&gap.text);
            }
        }
        out.push(char::from(symbol.ch));
    }
    out
}

/// An id as it is said over the radio: letters in the spelling alphabet,
/// digits one by one ("niner" for nine, against five). A dash is said only
/// where letters meet letters or digits meet digits; other marks always.
/// Characters without a word are left out.
pub fn say(id: &str) -> String {
    let plain = id.to_uppercase();
    let chars: Vec<char> = plain.chars().collect();
    let mut words = Vec::new();
    for (i, &c) in chars.iter().enumerate() {
        let quiet = c == '-' && i > 0 && {
            let (left, right) = (chars[i - 1], chars.get(i + 1).copied().unwrap_or(' '));
            left.is_ascii_digit() != right.is_ascii_digit()
                && left.is_ascii_alphanumeric()
                && right.is_ascii_alphanumeric()
        };
        if !quiet {
            words.extend(word_for(c));
        }
    }
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(input: &str) -> Vec<String> {
        ways(input).iter().map(Symbols::text).collect()
    }

    #[test]
    fn the_spelling_alphabet_and_numbers_are_read() {
        let cases = [
            ("hotel bravo two romeo charlie fourteen", "HB2RC14"),
            ("Alfa, Juliet X-ray xray niner fife tree fower", "AJXX9534"),
            ("forty one eighteen", "4118"),
            ("forty-one oh seven", "4107"),
            ("double four triple zero", "44000"),
            ("four zero one hundred and eighteen", "40118"),
            ("twenty two hundred", "2200"),
            ("two thousand and fourteen", "2014"),
            ("two thousand one hundred fourteen", "2114"),
            ("hb2 rc fourteen", "HB2RC14"),
            ("hotel bravo to romeo charlie ate", "HB2RC8"),
        ];
        for (said, want) in cases {
            assert_eq!(
                texts(said).first().map(String::as_str),
                Some(want),
                "{said}"
            );
        }
    }

    #[test]
    fn both_groupings_of_a_ten_and_a_digit_are_kept() {
        let got = texts("forty one");
        assert_eq!(got, ["41", "401"]);
    }

    #[test]
    fn typed_text_is_not_taken_for_speech() {
        assert!(texts("HB2-RC-14").is_empty());
        assert_eq!(spoken_to_text("40-118"), None);
    }

    #[test]
    fn marks_that_are_said_stay() {
        assert_eq!(
            spoken_to_text("four zero dash one one eight").as_deref(),
            Some("40-118")
        );
    }

    #[test]
    fn the_radio_form_says_a_dash_where_it_parts_like_from_like() {
        assert_eq!(say("HB2-RC-14"), "hotel bravo two romeo charlie one four");
        assert_eq!(say("40-118"), "four zero dash one one eight");
        assert_eq!(
            say("TARN/51G-9"),
            "tango alpha romeo november slash five one golf niner"
        );
    }

    #[test]
    fn letters_of_other_scripts_among_words_keep_their_places() {
        // A full-width letter is one character of three bytes that folds to one.
        let input = "two \u{ff22}\u{e9}7";
        let way = &ways(input)[0];
        let cut = |i: usize| &input[way.symbols[i].span.clone()];
        assert_eq!(
            [cut(0), cut(1), cut(2), cut(3)],
            ["two", "\u{ff22}", "\u{e9}", "7"]
        );
    }

    #[test]
    fn spans_cover_whole_words() {
        let input = "bravo fourteen";
        let way = &ways(input)[0];
        assert_eq!(&input[way.symbols[1].span.clone()], "fourteen");
        assert_eq!(way.symbols[1].span, way.symbols[2].span);
    }
}
