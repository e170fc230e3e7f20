//! CSV out: every record of a kind, one row each, by name.

use std::io::Write;

use super::flat::flat;
use super::neutral::neutral;
use super::refused::quoted;
use crate::domain::asset::Kind;
use crate::exchange::document::ExchangeError;
use crate::store::{Store, Stored};

/// Records read at a time.
const PAGE: usize = 1_000;
/// Columns that tie a row to its record and to the form it was written from.
pub(super) const ID: &str = "id";
pub(super) const OPERATION: &str = "register_operation";

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct CsvExported {
    pub kind: Kind,
    pub file: String,
    pub rows: usize,
    pub columns: usize,
}

/// Fields in the order in which records write them: a field seen for the
/// first time comes behind the one before it in its own record.
#[derive(Default)]
struct Columns(Vec<String>);

impl Columns {
    fn meet(&mut self, cells: &[(String, String)]) {
        let mut next = 0;
        for (path, _) in cells {
            match self.0.iter().position(|c| c == path) {
                Some(at) => next = at + 1,
                None => {
                    self.0.insert(next, path.clone());
                    next += 1;
                }
            }
        }
    }
}

/// Writes every record of a kind as CSV (RFC 4180, UTF-8, one line a record).
/// Cells that a spreadsheet would run are made harmless.
///
/// # Errors
/// Those of the register and of `out`.
pub fn export_csv(
    store: &Store,
    kind: Kind,
    file: &str,
    out: &mut dyn Write,
) -> Result<CsvExported, ExchangeError> {
    let io = |e: &std::io::Error| ExchangeError::io(std::path::Path::new(file), e);
    let mut columns = Columns::default();
    walk(store, kind, |s| {
        columns.meet(&flat(kind, &s.record.to_value()));
        Ok(())
    })?;
    let columns = columns.0;
    let tail = [ID, OPERATION].map(String::from);
    let heading: Vec<&str> = columns.iter().chain(&tail).map(String::as_str).collect();
    out.write_all(&line(heading.iter().copied()))
        .map_err(|e| io(&e))?;
    let mut operation = (0, String::new());
    let mut rows = 0;
    walk(store, kind, |s| {
        if operation.0 != s.op {
            let found = store.operation_numbered(s.op)?;
            operation = (
                s.op,
                found.map_or(String::new(), |w| w.operation.id.to_string()),
            );
        }
        let cells: std::collections::HashMap<String, String> =
            flat(kind, &s.record.to_value()).into_iter().collect();
        let id = s.record.id().to_string();
        let row = columns
            .iter()
            .map(|c| cells.get(c).map_or("", String::as_str))
            .chain([id.as_str(), operation.1.as_str()]);
        rows += 1;
        out.write_all(&line(row)).map_err(|e| io(&e))
    })?;
    out.flush().map_err(|e| io(&e))?;
    Ok(CsvExported {
        kind,
        file: file.to_string(),
        rows,
        columns: heading.len(),
    })
}

fn walk(
    store: &Store,
    kind: Kind,
    mut each: impl FnMut(&Stored) -> Result<(), ExchangeError>,
) -> Result<(), ExchangeError> {
    let mut after: Option<(String, i64)> = None;
    loop {
        let from = after.as_ref().map(|(n, r)| (n.as_str(), *r));
        let page = store.page(kind, from, PAGE)?;
        let Some(last) = page.last() else {
            return Ok(());
        };
        after = Some((last.record.name(), last.rec));
        for stored in &page {
            each(stored)?;
        }
    }
}

fn line<'c>(cells: impl Iterator<Item = &'c str>) -> Vec<u8> {
    let mut out = Vec::new();
    for (i, cell) in cells.enumerate() {
        if i > 0 {
            out.push(b',');
        }
        quoted(&mut out, neutral(cell).as_bytes(), b',');
    }
    out.extend_from_slice(b"\r\n");
    out
}
