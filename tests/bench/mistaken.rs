//! Numbers with one random mistake in them, and where the intended record then
//! stands among the answers. The mistakes come from tables of their own, not
//! from those that the program ranks by.

use polecard::domain::code::{Scheme, fold};
use polecard::store::Store;
use polecard::work::find::{Match, find_with, neighbours_of};
use polecard::work::schemes::schemes;

use super::ground::Lot;

/// Kinds of mistake, in the order of the table.
pub const KINDS: [&str; 10] = [
    "dropped",
    "added",
    "changed",
    "doubled",
    "swapped",
    "confused (look alike)",
    "misheard (clear pair)",
    "misheard (whole group)",
    "misheard (five, nine)",
    "misheard (teen and ten)",
];

/// Kinds that must bring the intended record among the first three.
pub const SLIPS: std::ops::Range<usize> = 3..10;

/// Taken for each other by eye. Common practice, no source.
const BY_EYE: &[&str] = &["O0", "I1", "L1", "S5", "B8", "Z2", "G6"];
/// Names of letters that a listener in noise takes for each other: B, C, P, T, V
/// and F, M, N, S, X, R. Conrad, Acoustic confusions in immediate memory, British
/// Journal of Psychology 55 (1964), from memory; here the pairs that differ in
/// one feature only.
const CLEAR: &[&str] = &["BD", "BP", "BV", "DT", "PT", "DB", "MN", "FS"];
/// The whole groups, with the letters and the digit that rhyme (British and
/// American names of Z). Common practice, no source.
const GROUPS: &[&str] = &["BCDEGPTVZ3", "MN", "FSX", "AJK8H", "IY59", "QU2"];
/// Why radio procedure says niner (ITU Radio Regulations appendix 14, from
/// memory).
const FIVE_NINE: &[&str] = &["59"];
const TEENS: &[&str] = &["13", "14", "15", "16", "17", "18", "19"];
const ALL: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";

/// Every text that one mistake of a kind makes of a number.
pub fn slips(kind: usize, number: &str) -> Vec<String> {
    let chars: Vec<char> = number.chars().collect();
    let places: Vec<usize> = (0..chars.len())
        .filter(|i| chars[*i].is_ascii_alphanumeric())
        .collect();
    let mut out: Vec<Vec<char>> = Vec::new();
    for (n, &i) in places.iter().enumerate() {
        let next = places.get(n + 1).copied();
        match kind {
            0 => out.push([&chars[..i], &chars[i + 1..]].concat()),
            1 => out.extend(ALL.chars().map(|c| with(&chars, i, c))),
            2 => out.extend(ALL.chars().map(|c| instead(&chars, i, c))),
            3 => out.push(with(&chars, i, chars[i])),
            4 => out.extend(next.map(|j| {
                let mut swapped = chars.clone();
                swapped.swap(i, j);
                swapped
            })),
            9 => out.extend(next.and_then(|j| {
                let other = teen_or_ten(chars[i], chars[j])?;
                Some(instead(&instead(&chars, i, other.0), j, other.1))
            })),
            _ => {
                let groups = [BY_EYE, CLEAR, GROUPS, FIVE_NINE][kind - 5];
                let others = groups.iter().filter(|g| g.contains(chars[i]));
                out.extend(
                    others
                        .flat_map(|g| g.chars())
                        .map(|c| instead(&chars, i, c)),
                );
            }
        }
    }
    let mut out: Vec<String> = out.into_iter().map(|c| c.into_iter().collect()).collect();
    out.retain(|text| fold(text) != fold(number));
    out
}

fn with(chars: &[char], at: usize, c: char) -> Vec<char> {
    [&chars[..at], &[c], &chars[at..]].concat()
}

fn instead(chars: &[char], at: usize, c: char) -> Vec<char> {
    [&chars[..at], &[c], &chars[at + 1..]].concat()
}

fn teen_or_ten(a: char, b: char) -> Option<(char, char)> {
    let two: String = [a, b].iter().collect();
    if TEENS.contains(&two.as_str()) {
        return Some((b, '0'));
    }
    let teen = format!("1{a}");
    (b == '0' && TEENS.contains(&teen.as_str())).then_some(('1', a))
}

/// Where the intended records of one kind of mistake stood.
#[derive(Debug, Default, Clone)]
pub struct Standing {
    pub asked: usize,
    /// Among the neighbours at all.
    pub listed: usize,
    pub first_three: usize,
    pub first: usize,
    /// Of those with a house number on record: asked with it and the road, and
    /// first then.
    pub placed: usize,
    pub placed_first: usize,
    /// Sum over the cases of the records that this kind of mistake turns into
    /// the same text.
    pub equals: usize,
    /// Sum of 3 over that number, 1 at the most: who cannot tell them apart can
    /// have no more among the first three.
    pub ceiling: f64,
}

impl Standing {
    pub fn part(&self, of: usize) -> f64 {
        of as f64 / self.asked.max(1) as f64
    }

    pub fn placed_part(&self) -> f64 {
        self.placed_first as f64 / self.placed.max(1) as f64
    }

    pub fn highest(&self) -> f64 {
        self.ceiling / self.asked.max(1) as f64
    }

    fn count(&mut self, answers: &[Match], name: &str, kind: usize, typed: &str) {
        self.asked += 1;
        let at = answers.iter().position(|m| m.name == name);
        self.listed += usize::from(at.is_some());
        self.first_three += usize::from(at.is_some_and(|at| at < 3));
        self.first += usize::from(at == Some(0));
        let typed = fold(typed);
        let same = |m: &&Match| slips(kind, &m.name).iter().any(|s| fold(s) == typed);
        let equals = answers.iter().filter(same).count().max(1);
        self.equals += equals;
        self.ceiling += (3.0 / equals as f64).min(1.0);
    }
}

/// Makes `count` random mistakes of a kind in numbers drawn from `names`.
pub fn standing(store: &Store, names: &[String], kind: usize, count: usize) -> Standing {
    let schemes = schemes(store).expect("schemes");
    let mut lot = Lot::new(1_000 + kind as u64);
    let mut out = Standing::default();
    for _ in 0..count * 60 {
        if out.asked == count {
            break;
        }
        let name = lot.of(names);
        let made = slips(kind, name);
        if made.is_empty() {
            continue;
        }
        let typed = lot.of(&made);
        let answers = neighbours_of(store, typed).expect("an answer");
        out.count(&answers, name, kind, typed);
        if let Some(place) = house_and_road(store, &schemes, name) {
            out.placed += 1;
            let query = format!("{typed} {place}");
            let found = find_with(store, &schemes, &query, 10, &|| false).expect("an answer");
            out.placed_first += usize::from(found.matches.first().is_some_and(|m| m.name == *name));
        }
    }
    out
}

/// House number and road of a record, when it has both.
fn house_and_road(store: &Store, schemes: &[Scheme], name: &str) -> Option<String> {
    let found = find_with(store, schemes, name, 10, &|| false).expect("an answer");
    let own = found.matches.into_iter().find(|m| m.name == name)?;
    let road = own.also.road?;
    road.chars().any(|c| c.is_ascii_digit()).then_some(road)
}

/// The table, a row a kind.
pub fn table(of: &[Standing]) -> String {
    let mut out = format!(
        "{:25} {:>6} {:>7} {:>7} {:>7} {:>7} {:>8} {:>8}\n",
        "mistake", "asked", "listed", "first 3", "ceiling", "first", "of equal", "+ place"
    );
    for (kind, s) in KINDS.iter().zip(of) {
        let place = match s.placed {
            0 => "-".to_string(),
            _ => format!("{:.1} %", s.placed_part() * 100.0),
        };
        out += &format!(
            "{kind:25} {:>6} {:>5.1} % {:>5.1} % {:>5.1} % {:>5.1} % {:>8.2} {place:>8}\n",
            s.asked,
            s.part(s.listed) * 100.0,
            s.part(s.first_three) * 100.0,
            s.highest() * 100.0,
            s.part(s.first) * 100.0,
            s.part(s.equals),
        );
    }
    out
}
