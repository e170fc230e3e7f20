//! Numbering schemes: properties over every shipped scheme and pattern.

use std::sync::LazyLock;

use polecard::domain::code::{
    AssumptionKind, Element, MAX_READINGS, MistakeKind, Pattern, Reading, Scheme, compose,
    confusion_fold, decode, fits, fold, mistake_between, neighbours, say, sounds,
};
use polecard::exchange::scheme::shipped;
use proptest::prelude::*;
use proptest::sample::Index;

pub fn schemes() -> &'static [Scheme] {
    static SCHEMES: LazyLock<Vec<Scheme>> =
        LazyLock::new(|| shipped().expect("shipped schemes are sound"));
    &SCHEMES
}

/// Endless choices from what proptest drew, so that a failure shrinks.
struct Draw<'a> {
    from: &'a [Index],
    next: usize,
}

impl Draw<'_> {
    fn below(&mut self, size: usize) -> usize {
        let index = self.from[self.next % self.from.len()];
        // Later rounds over the same draws must not repeat the first one.
        let round = self.next / self.from.len();
        self.next += 1;
        (index.index(size) + round) % size
    }

    fn of<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.below(list.len())]
    }

    fn of_text(&mut self, text: &str) -> char {
        let chars: Vec<char> = text.chars().collect();
        self.of(&chars)
    }
}

fn fields_of<'p>(elements: &'p [Element], draw: &mut Draw, out: &mut Vec<(&'p str, String)>) {
    for element in elements {
        match element {
            Element::Digits { field, min, max } => {
                let width = min + draw.below(max - min + 1);
                let text = (0..width).map(|_| draw.of_text("0123456789")).collect();
                out.push((field, text));
            }
            Element::Letters {
                field,
                min,
                max,
                alphabet,
            } => {
                let width = min + draw.below(max - min + 1);
                out.push((field, (0..width).map(|_| draw.of_text(alphabet)).collect()));
            }
            Element::Codes { field, codes } => {
                let code = &codes[draw.below(codes.len())];
                out.push((field, code.code.clone()));
            }
            Element::Optional(inner) if draw.below(2) == 1 => fields_of(inner, draw, out),
            // Checks are computed.
            Element::Check { .. } | Element::Separator(_) | Element::Optional(_) => {}
        }
    }
}

/// A random id: its scheme, its pattern, its fields and itself.
struct Made<'s> {
    scheme: &'s Scheme,
    pattern: &'s Pattern,
    fields: Vec<(&'s str, String)>,
    id: String,
}

fn make<'s>(schemes: &'s [Scheme], draw: &mut Draw) -> Made<'s> {
    let all: Vec<(&Scheme, &Pattern)> = schemes
        .iter()
        .flat_map(|s| s.patterns.iter().map(move |p| (s, p)))
        .collect();
    let (scheme, pattern) = draw.of(&all);
    let mut fields = Vec::new();
    fields_of(&pattern.elements, draw, &mut fields);
    let given: Vec<(&str, &str)> = fields.iter().map(|(f, t)| (*f, t.as_str())).collect();
    let id = compose(scheme, &pattern.name, &given).expect("drawn fields fit");
    Made {
        scheme,
        pattern,
        fields,
        id,
    }
}

fn holds(readings: &[Reading], made: &Made) -> bool {
    readings.iter().any(|r| {
        r.name == made.id && r.pattern == made.pattern.name && r.scheme == made.scheme.scheme
    })
}

/// The spans joined are the input, and each lies where it says.
fn spans_join(readings: &[Reading], input: &str) {
    for reading in readings {
        let mut at = 0;
        for span in &reading.spans {
            assert_eq!(span.range.start, at, "{reading:?}");
            assert!(input.get(span.range.clone()).is_some_and(|s| !s.is_empty()));
            at = span.range.end;
        }
        assert_eq!(at, input.len(), "{reading:?}");
    }
}

fn ranked(readings: &[Reading]) {
    assert!(readings.len() <= MAX_READINGS);
    assert!(readings.windows(2).all(|w| w[0].cost() <= w[1].cost()));
}

/// What a rewriting may assume at most: the kind of slip it stands for.
fn found_with(made: &Made, schemes: &[Scheme], typed: &str, kinds: &[AssumptionKind]) {
    let readings = decode(schemes, typed);
    ranked(&readings);
    spans_join(&readings, typed);
    assert!(holds(&readings, made), "{} typed {typed:?}", made.id);
    let reading = readings
        .iter()
        .find(|r| r.name == made.id && r.pattern == made.pattern.name)
        .expect("just seen");
    for assumption in &reading.assumed {
        assert!(
            kinds.contains(&assumption.kind),
            "{} typed {typed:?}: {assumption:?}",
            made.id
        );
    }
}

const TYPING: [AssumptionKind; 3] = [
    AssumptionKind::Case,
    AssumptionKind::Punctuation,
    AssumptionKind::Separator,
];

fn slips(kinds: &[MistakeKind]) -> Vec<AssumptionKind> {
    let slips = kinds.iter().map(|k| AssumptionKind::Mistake(*k));
    TYPING.into_iter().chain(slips).collect()
}

const ONE_CHARACTER: [MistakeKind; 4] = [
    MistakeKind::Wrong,
    MistakeKind::Confused,
    MistakeKind::Misheard,
    MistakeKind::Extra,
];

fn any_draws() -> impl Strategy<Value = Vec<Index>> {
    prop::collection::vec(any::<Index>(), 60)
}

fn config() -> ProptestConfig {
    ProptestConfig {
        cases: 192,
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn what_was_composed_decodes_to_its_fields(draws in any_draws()) {
        let schemes = schemes();
        let made = make(schemes, &mut Draw { from: &draws, next: 0 });
        let readings = decode(schemes, &made.id);
        spans_join(&readings, &made.id);
        ranked(&readings);
        let reading = readings
            .iter()
            .find(|r| r.name == made.id && r.pattern == made.pattern.name)
            .expect("the id is among its readings");
        prop_assert!(reading.assumed.is_empty());
        prop_assert!(readings[0].assumed.is_empty());
        let is_check = |name: &str| {
            made.pattern.fields().iter().any(|e| {
                matches!(e, Element::Check { field, .. } if field == name)
            })
        };
        let read: Vec<(&str, String)> = reading
            .fields
            .iter()
            .filter(|f| !is_check(&f.field))
            .map(|f| (f.field.as_str(), f.text.clone()))
            .collect();
        prop_assert_eq!(&read, &made.fields);
        let all: Vec<(&str, &str)> =
            reading.fields.iter().map(|f| (f.field.as_str(), f.text.as_str())).collect();
        let again = compose(made.scheme, &made.pattern.name, &all);
        prop_assert_eq!(again.as_ref(), Ok(&made.id));
        prop_assert!(fits(schemes, &made.id).is_some());
    }

    #[test]
    fn one_wrong_character(draws in any_draws()) {
        let schemes = schemes();
        let draw = &mut Draw { from: &draws, next: 0 };
        let made = make(schemes, draw);
        let mut typed: Vec<char> = made.id.chars().collect();
        let at = draw.below(typed.len());
        typed[at] = draw.of_text("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ");
        let typed: String = typed.iter().collect();
        let mut kinds = slips(&ONE_CHARACTER);
        kinds.push(AssumptionKind::Mistake(MistakeKind::Doubled)); // a separator overtyped
        found_with(&made, schemes, &typed, &kinds);
    }

    #[test]
    fn one_missing_character(draws in any_draws()) {
        let schemes = schemes();
        let draw = &mut Draw { from: &draws, next: 0 };
        let made = make(schemes, draw);
        let mut typed: Vec<char> = made.id.chars().collect();
        typed.remove(draw.below(typed.len()));
        let typed: String = typed.iter().collect();
        found_with(&made, schemes, &typed, &slips(&[MistakeKind::Missing]));
    }

    #[test]
    fn one_doubled_character(draws in any_draws()) {
        let schemes = schemes();
        let draw = &mut Draw { from: &draws, next: 0 };
        let made = make(schemes, draw);
        let mut typed: Vec<char> = made.id.chars().collect();
        let at = draw.below(typed.len());
        typed.insert(at, typed[at]);
        let typed: String = typed.iter().collect();
        found_with(&made, schemes, &typed, &slips(&[MistakeKind::Doubled]));
    }

    #[test]
    fn two_neighbours_swapped(draws in any_draws()) {
        let schemes = schemes();
        let draw = &mut Draw { from: &draws, next: 0 };
        let made = make(schemes, draw);
        let mut typed: Vec<char> = made.id.chars().collect();
        prop_assume!(typed.len() > 1);
        let at = draw.below(typed.len() - 1);
        typed.swap(at, at + 1);
        let typed: String = typed.iter().collect();
        // A swap is also two look-alikes when both characters look alike.
        let kinds = slips(&[MistakeKind::Swapped, MistakeKind::Confused, MistakeKind::Misheard]);
        found_with(&made, schemes, &typed, &kinds);
    }

    #[test]
    fn look_alikes_any_number_of_them(draws in any_draws()) {
        let schemes = schemes();
        let draw = &mut Draw { from: &draws, next: 0 };
        let made = make(schemes, draw);
        // At most three: each may be undone in several ways, and the ways are capped.
        let mut left = 3;
        let mut alike = |c: char, draw: &mut Draw| {
            let groups = &made.scheme.confusable;
            match groups.iter().find(|g| g.contains(c)) {
                Some(group) if left > 0 && draw.below(2) == 0 => {
                    left -= 1;
                    draw.of_text(group)
                }
                _ => c,
            }
        };
        let typed: String = made.id.chars().map(|c| alike(c, draw)).collect();
        // Two look-alikes side by side may come out as a swap.
        let kinds = slips(&[MistakeKind::Confused, MistakeKind::Swapped]);
        found_with(&made, schemes, &typed, &kinds);
        prop_assert_eq!(
            confusion_fold(made.scheme, &typed),
            confusion_fold(made.scheme, &made.id)
        );
    }

    #[test]
    fn one_misheard_character(draws in any_draws()) {
        let schemes = schemes();
        let draw = &mut Draw { from: &draws, next: 0 };
        // A few ids hold no character that sounds like another: draw again.
        let found = (0..50).find_map(|_| {
            let made = make(schemes, draw);
            let places: Vec<(usize, &str)> = made
                .id
                .char_indices()
                .flat_map(|(at, c)| {
                    let groups = sounds::SOUND_ALIKE.iter().filter(move |g| g.contains(c));
                    groups.map(move |group| (at, *group))
                })
                .collect();
            (!places.is_empty()).then_some((made, places))
        });
        prop_assume!(found.is_some());
        let (made, places) = found.expect("just seen");
        let mut typed: Vec<char> = made.id.chars().collect();
        let (at, group) = draw.of(&places);
        typed[at] = draw.of_text(group);
        let typed: String = typed.iter().collect();
        let kinds = slips(&[MistakeKind::Misheard, MistakeKind::Confused]);
        found_with(&made, schemes, &typed, &kinds);
    }

    #[test]
    fn a_teen_heard_as_its_ten(draws in any_draws(), pick in any::<Index>()) {
        let schemes = schemes();
        let draw = &mut Draw { from: &draws, next: 0 };
        // Many ids hold no teen and no ten: draw until one does.
        let found = (0..50).find_map(|_| {
            let made = make(schemes, draw);
            let places: Vec<(usize, &str)> = sounds::TEEN_AND_TEN
                .iter()
                .flat_map(|&(a, b)| [(a, b), (b, a)])
                .flat_map(|(a, b)| made.id.match_indices(a).map(move |(at, _)| (at, b)))
                .collect();
            (!places.is_empty()).then_some((made, places))
        });
        prop_assume!(found.is_some());
        let (made, places) = found.expect("just seen");
        let &(at, heard) = pick.get(&places);
        let mut typed = made.id.clone();
        typed.replace_range(at..at + 2, heard);
        found_with(&made, schemes, &typed, &slips(&[MistakeKind::Misheard]));
    }

    #[test]
    fn small_letters_and_odd_separators(draws in any_draws()) {
        let schemes = schemes();
        let draw = &mut Draw { from: &draws, next: 0 };
        let made = make(schemes, draw);
        let other = draw.of(&[" ", ".", "/", "_", "", " - ", ":"]);
        let lower = draw.below(2) == 0;
        let typed: String = made
            .id
            .chars()
            .map(|c| if c.is_ascii_alphanumeric() { c.to_string() } else { other.to_string() })
            .collect();
        let typed = if lower { typed.to_lowercase() } else { typed };
        found_with(&made, schemes, &typed, &TYPING);
    }

    #[test]
    fn what_a_phone_makes_of_it(draws in any_draws()) {
        let schemes = schemes();
        let draw = &mut Draw { from: &draws, next: 0 };
        let made = make(schemes, draw);
        let dash = draw.of(&['\u{2013}', '\u{2014}', '\u{2011}', '\u{a0}']);
        let (open, close) = draw.of(&[("", ""), ("\u{201c}", "\u{201d}"), ("\u{2018}", "\u{2019}")]);
        let stop = draw.of(&["", ".", ". ", "\u{2026}"]);
        let mut body = made.id.to_lowercase().replace('-', &dash.to_string());
        if let Some(first) = body.get(0..1) {
            let first = first.to_uppercase(); // sentences begin with a capital
            body.replace_range(0..1, &first);
        }
        let typed = format!("{open}{body}{stop}{close}");
        found_with(&made, schemes, &typed, &TYPING);
    }

    #[test]
    fn spoken_forms(draws in any_draws()) {
        let schemes = schemes();
        let draw = &mut Draw { from: &draws, next: 0 };
        let made = make(schemes, draw);
        let typed = speak(&made.id, draw);
        let mut kinds = TYPING.to_vec();
        kinds.push(AssumptionKind::Spoken);
        found_with(&made, schemes, &typed, &kinds);
        found_with(&made, schemes, &say(&made.id), &kinds);
    }

    #[test]
    fn neighbours_are_mutual_and_one_slip_away(draws in any_draws(), pick in any::<Index>()) {
        let schemes = schemes();
        let made = make(schemes, &mut Draw { from: &draws, next: 0 });
        let all: Vec<_> = neighbours(made.scheme, &made.id).collect();
        for near in &all {
            prop_assert!(near.name != made.id);
            prop_assert!(mistake_between(&near.name, &made.id).is_some()
                || fold(&near.name) == fold(&made.id), "{} {}", near.name, made.id);
        }
        if !all.is_empty() {
            let near = pick.get(&all);
            let back = neighbours(made.scheme, &near.name).any(|n| n.name == made.id);
            prop_assert!(back, "{} {}", made.id, near.name);
        }
    }

    #[test]
    fn any_text_is_read_without_harm(text in "\\PC{0,60}", bytes in prop::collection::vec(any::<char>(), 0..40)) {
        let schemes = schemes();
        let odd: String = bytes.into_iter().collect();
        for input in [text, odd] {
            let readings = decode(schemes, &input);
            spans_join(&readings, &input);
            ranked(&readings);
            for sentence in readings.iter().flat_map(|r| &r.assumed) {
                prop_assert!(sentence.text.bytes().all(|b| (b' '..=b'~').contains(&b)));
            }
            let _ = (say(&input), fold(&input));
        }
    }
}

/// The id in words: the spelling alphabet in any spelling, digits one by one or
/// grouped, separators said or not.
fn speak(id: &str, draw: &mut Draw) -> String {
    let chars: Vec<char> = id.chars().collect();
    let mut words: Vec<String> = Vec::new();
    let mut i = 0;
    let word_for = |c: char, draw: &mut Draw| {
        let tables = [
            sounds::LETTER_WORDS,
            sounds::DIGIT_WORDS,
            sounds::MARK_WORDS,
        ];
        let all = tables
            .iter()
            .flat_map(|t| t.iter())
            .filter(|(_, v)| *v == c);
        let all: Vec<&str> = all.map(|(w, _)| *w).collect();
        draw.of(&all).to_lowercase()
    };
    while i < chars.len() {
        let rest: String = chars[i..]
            .iter()
            .take_while(|c| c.is_ascii_digit())
            .collect();
        if !chars[i].is_ascii_alphanumeric() {
            if draw.below(2) == 0 {
                words.push(word_for(chars[i], draw));
            }
            i += 1;
        } else if rest.len() == 3 && !rest.starts_with('0') && draw.below(3) == 0 {
            let (hundreds, low) = rest.split_at(1);
            words.push(number_word(hundreds));
            words.push("hundred".to_string());
            if draw.below(2) == 0 && low != "00" {
                words.push("and".to_string());
            }
            if low != "00" {
                words.push(number_word(low.trim_start_matches('0')));
            }
            i += 3;
        } else if rest.len() >= 2 && !rest.starts_with('0') && draw.below(2) == 0 {
            words.push(number_word(&rest[..2]));
            i += 2;
        } else if chars.get(i + 1) == Some(&chars[i]) && draw.below(2) == 0 {
            words.push(format!("double {}", word_for(chars[i], draw)));
            i += 2;
        } else {
            words.push(word_for(chars[i], draw));
            i += 1;
        }
    }
    words.join(" ")
}

/// 1 to 99 in words.
fn number_word(digits: &str) -> String {
    let value: u32 = digits.parse().expect("digits");
    let of = |table: &[(&str, u32)], v: u32| {
        let found = table.iter().find(|(_, n)| *n == v);
        found.map(|(w, _)| w.to_lowercase())
    };
    let digit = |v: u32| {
        let c = char::from_digit(v, 10).expect("a digit");
        let found = sounds::DIGIT_WORDS.iter().find(|(_, d)| *d == c);
        found
            .map(|(w, _)| w.to_lowercase())
            .expect("every digit has a word")
    };
    if value < 10 {
        return digit(value);
    }
    of(sounds::TEEN_WORDS, value)
        .or_else(|| of(sounds::TENS_WORDS, value))
        .unwrap_or_else(|| {
            let ten = of(sounds::TENS_WORDS, value / 10 * 10).expect("every ten has a word");
            format!("{ten} {}", digit(value % 10))
        })
}
