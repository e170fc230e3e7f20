//! Cutting a stream into rows and cells (RFC 4180, with any mix of line ends).
//!
//! Ours rather than a general reader's, for three reasons: a row is refused
//! with the physical line on which it begins; a quote that is never closed
//! costs one line, not the rest of the file; and no row, however long, is held
//! beyond a limit.

use std::io::{self, BufRead, Read};

use super::width::{Reasons, Width};

/// Longest row that is read, in bytes.
pub(super) const LONGEST_ROW: usize = 256 << 10;

/// One row.
#[derive(Debug, Default, Clone)]
pub(super) struct Row {
    /// Physical line on which it begins, from 1.
    pub line: usize,
    bytes: Vec<u8>,
    ends: Vec<usize>,
}

impl Row {
    pub(super) fn len(&self) -> usize {
        self.ends.len()
    }

    pub(super) fn cell(&self, i: usize) -> &[u8] {
        let start = if i == 0 { 0 } else { self.ends[i - 1] };
        &self.bytes[start..self.ends[i]]
    }

    pub(super) fn cells(&self) -> impl Iterator<Item = &[u8]> {
        (0..self.len()).map(|i| self.cell(i))
    }

    fn end_cell(&mut self) {
        self.ends.push(self.bytes.len());
    }

    fn clear(&mut self) {
        self.bytes.clear();
        self.ends.clear();
    }
}

/// What stands next in the stream.
#[derive(Debug)]
pub(super) enum Next<'r> {
    Row(&'r Row),
    Broken(Broken),
}

/// A line that is no row; reading goes on with the line behind it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Broken {
    pub line: usize,
    /// The line without its end; only its beginning when it is too long.
    pub raw: Vec<u8>,
    pub why: Flaw,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Flaw {
    OpenQuote,
    BehindQuote,
    TooLong,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    CellStart,
    Bare,
    Quoted,
    QuoteSeen,
}

/// Reads one row, going on where it ran out of bytes.
struct Scanner {
    state: State,
    /// Bytes of the row taken so far.
    taken: usize,
}

enum Scan {
    /// The row ends; so many bytes belong to it.
    Done(usize),
    /// The bytes end first.
    More,
    /// Text stands behind a closing quote.
    Bad,
}

impl Scanner {
    const fn new() -> Self {
        Scanner {
            state: State::CellStart,
            taken: 0,
        }
    }

    fn run(&mut self, bytes: &[u8], last: bool, delimiter: u8, row: &mut Row) -> Scan {
        while let Some(&b) = bytes.get(self.taken) {
            match self.state {
                State::Quoted => {
                    let run = until(&bytes[self.taken..], |c| c == b'"');
                    row.bytes
                        .extend_from_slice(&bytes[self.taken..self.taken + run]);
                    self.taken += run;
                    if self.taken < bytes.len() {
                        self.taken += 1;
                        self.state = State::QuoteSeen;
                    }
                    continue;
                }
                State::QuoteSeen if b == b'"' => {
                    row.bytes.push(b'"');
                    self.state = State::Quoted;
                }
                State::CellStart if b == b'"' => self.state = State::Quoted,
                _ if b == delimiter => {
                    row.end_cell();
                    self.state = State::CellStart;
                }
                _ if b == b'\n' => {
                    row.end_cell();
                    return Scan::Done(self.taken + 1);
                }
                _ if b == b'\r' => {
                    let after = bytes.get(self.taken + 1);
                    if after.is_none() && !last {
                        return Scan::More;
                    }
                    row.end_cell();
                    return Scan::Done(self.taken + 1 + usize::from(after == Some(&b'\n')));
                }
                State::QuoteSeen => return Scan::Bad,
                State::CellStart | State::Bare => {
                    let run = until(&bytes[self.taken..], |c| {
                        c == delimiter || c == b'\n' || c == b'\r'
                    });
                    row.bytes
                        .extend_from_slice(&bytes[self.taken..self.taken + run]);
                    self.taken += run;
                    self.state = State::Bare;
                    continue;
                }
            }
            self.taken += 1;
        }
        if last && self.state != State::Quoted {
            row.end_cell();
            return Scan::Done(bytes.len());
        }
        Scan::More
    }
}

fn until(bytes: &[u8], stop: impl Fn(u8) -> bool) -> usize {
    bytes.iter().position(|b| stop(*b)).unwrap_or(bytes.len())
}

/// Length of the first physical line with its end, and without it.
fn first_line(bytes: &[u8]) -> (usize, usize) {
    let text = until(bytes, |c| c == b'\n' || c == b'\r');
    let end = match (bytes.get(text), bytes.get(text + 1)) {
        (Some(b'\r'), Some(b'\n')) => 2,
        (None, _) => 0,
        _ => 1,
    };
    (text + end, text)
}

fn count_lines(bytes: &[u8]) -> usize {
    let mut rest = bytes;
    let mut n = 0;
    while !rest.is_empty() {
        let (all, text) = first_line(rest);
        n += usize::from(all > text);
        rest = &rest[all..];
    }
    n
}

/// The rows of a stream.
pub(super) struct Rows<R> {
    input: R,
    delimiter: u8,
    held: Vec<u8>,
    /// Where in `held` the next row begins.
    at: usize,
    ended: bool,
    line: usize,
    row: Row,
    /// Bytes given out so far.
    pub(super) taken: u64,
    /// What a row must look like, once the heading is known.
    pub(super) width: Option<Width>,
}

impl<R: BufRead> Rows<R> {
    pub(super) fn new(input: R, delimiter: u8) -> Self {
        Rows {
            input,
            delimiter,
            held: Vec::new(),
            at: 0,
            ended: false,
            line: 1,
            row: Row::default(),
            taken: 0,
            width: None,
        }
    }

    /// Takes away the mark that some programs put before UTF-8 text.
    ///
    /// # Errors
    /// `InvalidData` for text in two-byte units.
    pub(super) fn skip_mark(&mut self) -> io::Result<()> {
        self.more()?;
        match self.held.as_slice() {
            [0xef, 0xbb, 0xbf, ..] => self.at = 3,
            [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => {
                return Err(io::Error::new(
                    io::ErrorKind::InvalidData,
                    "is UTF-16 text; save it as CSV in UTF-8 and try again",
                ));
            }
            _ => {}
        }
        Ok(())
    }

    /// Reads on to the end of a line, or a piece of a long one.
    fn more(&mut self) -> io::Result<()> {
        if self.at > 0 && (self.at == self.held.len() || self.at > (64 << 10)) {
            self.held.drain(..self.at);
            self.at = 0;
        }
        let n = (&mut self.input)
            .take(64 << 10)
            .read_until(b'\n', &mut self.held)?;
        self.ended |= n == 0;
        Ok(())
    }

    fn give_up(&mut self, bytes: usize, lines: usize) {
        self.at += bytes;
        self.taken += bytes as u64;
        self.line += lines;
    }

    /// The next row, or line that is none; `None` at the end. Empty lines are
    /// passed over.
    pub(super) fn next(&mut self) -> io::Result<Option<Next<'_>>> {
        loop {
            if self.at == self.held.len() {
                self.more()?;
                if self.at == self.held.len() {
                    return Ok(None);
                }
            }
            match self.held.get(self.at) {
                Some(b'\n') => self.give_up(1, 1),
                Some(b'\r') => {
                    if self.at + 1 == self.held.len() {
                        self.more()?;
                    }
                    let two = self.held.get(self.at + 1) == Some(&b'\n');
                    self.give_up(1 + usize::from(two), 1);
                }
                _ => break,
            }
        }
        if let Some(broken) = self.scan()? {
            return Ok(Some(Next::Broken(broken)));
        }
        Ok(Some(Next::Row(&self.row)))
    }

    /// Scans one row into `self.row`.
    fn scan(&mut self) -> io::Result<Option<Broken>> {
        let mut scanner = Scanner::new();
        self.row.clear();
        self.row.line = self.line;
        loop {
            let bytes = &self.held[self.at..];
            match scanner.run(bytes, self.ended, self.delimiter, &mut self.row) {
                Scan::Done(n) => return Ok(self.finish(n)),
                Scan::Bad => return Ok(Some(self.drop_line(Flaw::BehindQuote))),
                Scan::More if bytes.len() > LONGEST_ROW && scanner.state != State::Quoted => {
                    return self.drop_long_line().map(Some);
                }
                Scan::More if self.ended || bytes.len() > LONGEST_ROW => {
                    let (all, text) = first_line(bytes);
                    if all == text && !self.ended {
                        return self.drop_long_line().map(Some);
                    }
                    return Ok(Some(self.drop_line(Flaw::OpenQuote)));
                }
                Scan::More => self.more()?,
            }
        }
    }

    /// A row over several lines whose columns do not come out, while its
    /// second line alone is a row: its quote was a slip.
    fn finish(&mut self, n: usize) -> Option<Broken> {
        let bytes = &self.held[self.at..self.at + n];
        let lines = count_lines(bytes);
        if lines > 1
            && let Some(width) = self.width
            && width.own(&self.row) != width.cells
        {
            let (all, _) = first_line(bytes);
            let mut second = Row::default();
            let scan = Scanner::new().run(&bytes[all..], true, self.delimiter, &mut second);
            // In a strange row the column of reasons is no help.
            let reasons = match width.reasons {
                Reasons::None => Reasons::None,
                _ => Reasons::Perhaps,
            };
            let alone = Width { reasons, ..width };
            if matches!(scan, Scan::Done(_)) && alone.own(&second) == width.cells {
                return Some(self.drop_line(Flaw::OpenQuote));
            }
        }
        self.give_up(n, lines);
        None
    }

    fn drop_line(&mut self, why: Flaw) -> Broken {
        let bytes = &self.held[self.at..];
        let (all, text) = first_line(bytes);
        let broken = Broken {
            line: self.line,
            raw: bytes[..text].to_vec(),
            why,
        };
        self.give_up(all, 1);
        broken
    }

    /// Passes over a line that is too long without holding it.
    fn drop_long_line(&mut self) -> io::Result<Broken> {
        let raw = self.held[self.at..].iter().take(200).copied().collect();
        let line = self.line;
        loop {
            let (all, text) = first_line(&self.held[self.at..]);
            if all > text {
                self.give_up(all, 1);
                break;
            }
            self.give_up(all, 0);
            self.more()?;
            if self.ended && self.at == self.held.len() {
                break;
            }
        }
        Ok(Broken {
            line,
            raw,
            why: Flaw::TooLong,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    type Cells = Vec<Vec<u8>>;
    type Good = Vec<(usize, Cells)>;
    type Bad = Vec<(usize, Flaw)>;

    fn exactly(cells: usize) -> Width {
        Width {
            cells,
            reasons: Reasons::None,
        }
    }

    fn read(text: &[u8], width: Option<usize>) -> (Good, Bad) {
        let mut rows = Rows::new(io::BufReader::with_capacity(7, text), b',');
        rows.width = width.map(exactly);
        rows.skip_mark().unwrap();
        let (mut good, mut bad) = (Vec::new(), Vec::new());
        while let Some(next) = rows.next().unwrap() {
            match next {
                Next::Row(r) => good.push((r.line, r.cells().map(<[u8]>::to_vec).collect())),
                Next::Broken(b) => bad.push((b.line, b.why)),
            }
        }
        (good, bad)
    }

    #[test]
    fn every_line_end_quote_and_mark() {
        let text = b"\xef\xbb\xbfa,b\r\n\"x\"\"y\",\"1\n2\"\rlast,\r\n\r\nend";
        let (good, bad) = read(text, None);
        let cell = |t: &str| t.as_bytes().to_vec();
        assert_eq!(
            good,
            [
                (1, vec![cell("a"), cell("b")]),
                (2, vec![cell("x\"y"), cell("1\n2")]),
                (4, vec![cell("last"), cell("")]),
                (6, vec![cell("end")]),
            ]
        );
        assert!(bad.is_empty());
    }

    #[test]
    fn a_quote_that_is_never_closed_costs_one_line() {
        let text = b"a,b\n\"x,1\ny,2\nz,3\n";
        let (good, bad) = read(text, Some(2));
        assert_eq!(bad, [(2, Flaw::OpenQuote)]);
        assert_eq!(good.iter().map(|g| g.0).collect::<Vec<_>>(), [1, 3, 4]);
        let text = b"a,b\n\"x,1\ny,2\nz,\"3\"\nv,4\n";
        let (good, bad) = read(text, Some(2));
        assert_eq!(bad, [(2, Flaw::BehindQuote)]);
        assert_eq!(good.len(), 4);
        let text = b"a,b\n\"x,1\ny,2\nz,\"\nv,4\n";
        let (good, bad) = read(text, Some(2));
        assert_eq!(bad[0], (2, Flaw::OpenQuote));
        assert!(good.iter().any(|g| g.0 == 3));
        assert!(good.iter().any(|g| g.0 == 5));
    }

    #[test]
    fn a_line_too_long_is_passed_over_unheld() {
        let mut text = b"a,b\n".to_vec();
        text.extend(std::iter::repeat_n(b'x', 3 * LONGEST_ROW));
        text.extend(b"\nc,d\n\"");
        text.extend(std::iter::repeat_n(b'y', 2 * LONGEST_ROW));
        text.extend(b"\ne,f\n");
        let (good, bad) = read(&text, Some(2));
        assert_eq!(bad, [(2, Flaw::TooLong), (4, Flaw::TooLong)]);
        assert_eq!(good.iter().map(|g| g.0).collect::<Vec<_>>(), [1, 3, 5]);
    }

    proptest! {
        /// What a general CSV library writes is read back as it was, on the
        /// lines on which that library reads it.
        #[test]
        fn agrees_with_the_csv_library(
            table in prop::collection::vec(prop::collection::vec("[a,\"\\n\\r é]{0,5}", 2..4), 1..8)
        ) {
            let mut w = csv::WriterBuilder::new()
                .flexible(true)
                .quote_style(csv::QuoteStyle::NonNumeric)
                .from_writer(Vec::new());
            for row in &table {
                w.write_record(row).unwrap();
            }
            let bytes = w.into_inner().unwrap();
            let (good, bad) = read(&bytes, None);
            prop_assert!(bad.is_empty());
            let got: Vec<Vec<String>> = good
                .iter()
                .map(|(_, r)| r.iter().map(|c| String::from_utf8(c.clone()).unwrap()).collect())
                .collect();
            prop_assert_eq!(&got, &table);
        }

        /// Whatever the bytes, every line is a row, broken, or empty, and the
        /// end is reached.
        #[test]
        fn any_bytes_come_to_an_end(bytes in prop::collection::vec(prop_oneof![
            Just(b'"'), Just(b','), Just(b'\n'), Just(b'\r'), any::<u8>()
        ], 0..200)) {
            let mut rows = Rows::new(bytes.as_slice(), b',');
            rows.width = Some(exactly(2));
            let mut before = 0;
            let mut n = 0;
            while let Some(next) = rows.next().unwrap() {
                let line = match next { Next::Row(r) => r.line, Next::Broken(b) => b.line };
                prop_assert!(line > before);
                before = line;
                n += 1;
            }
            prop_assert!(n <= bytes.len());
            prop_assert_eq!(rows.taken, bytes.len() as u64);
        }
    }
}
