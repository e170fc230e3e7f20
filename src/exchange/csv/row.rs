//! Rows of an export read back, and plates judged before they are taken.

use super::merge::{Outcome, Stop};
use super::own::{OwnRow, resolve_own};
use super::run::Run;
use super::settle::Contradiction;
use super::shape::Cells;
use super::sink::Sink;
use super::split::Row;
use super::{Because, Refused};
use std::path::Path;

use crate::domain::asset::{Kind, Record};
use crate::domain::change::{Change, put_at};
use crate::domain::verify::odd;
use crate::exchange::alone::{added_alone, edited_alone};
use crate::exchange::document::ExchangeError;
use crate::exchange::imported::Difference;
use crate::exchange::map::{CsvMap, KindForm};
use crate::store::StoreError;

/// Changed fields that a report carries.
const EDITS: usize = 20;

impl<S: Sink> Run<'_, '_, S> {
    /// What a row of an export means.
    pub(super) fn own(
        &mut self,
        row: &Row,
        cells: &Cells<'_>,
        met: &mut Vec<Contradiction>,
    ) -> Result<Vec<(Kind, Outcome)>, Stop> {
        let KindForm::Always(kind) = self.bound.map.kind else {
            return Ok(Vec::new());
        };
        let headings = self.bound.heading.iter().map(String::as_str);
        let own = OwnRow {
            kind,
            cells: headings
                .enumerate()
                .map(|(i, h)| (h, cells.get(i)))
                .collect(),
        };
        if let Some((first, _)) = self.seen.note(kind, &own.key()?, row.line, 0) {
            return Err(Refused::new(
                Because::Duplicate,
                format!("the same record stands already on line {first}"),
            )
            .into());
        }
        let outcome = resolve_own(&own, &mut self.ids, self.take, &*self.sink, met)?;
        Ok(vec![(kind, outcome)])
    }

    /// Refuses a plate that cannot be; counts what is only odd. What was so
    /// before the row is not the row's fault.
    /// What one person alone does not change is refused with its row.
    pub(super) fn judge(&mut self, outcome: &Outcome) -> Result<(), Stop> {
        let (before, after) = match outcome {
            Outcome::Same => return Ok(()),
            Outcome::Add(record) => (None, record),
            Outcome::Edit(record, edits) => {
                let mut old = record.to_value();
                for edit in edits {
                    put_at(&mut old, &edit.field, edit.old.clone());
                }
                (Record::from_value(record.kind(), old).ok(), record)
            }
        };
        for found in odd::new_in(before.as_ref(), after) {
            if found.cannot_be {
                let said = found.sentence(&after.name());
                return Err(Refused::new(Because::Impossible, said).into());
            }
            *self.report.odd.entry(found.rule).or_default() += 1;
        }
        if self.alone
            && let Some(what) = self.needs_second(outcome, before.as_ref())?
        {
            return Err(Refused::new(
                Because::Alone,
                format!("needs a second person: --second NAME ({what})"),
            )
            .into());
        }
        Ok(())
    }

    fn needs_second(
        &self,
        outcome: &Outcome,
        before: Option<&Record>,
    ) -> Result<Option<String>, StoreError> {
        match (outcome, before) {
            (Outcome::Add(record), _) => Ok(added_alone(record)),
            (Outcome::Edit(_, edits), Some(before)) => {
                for edit in edits {
                    if let Some(what) = edited_alone(edit, before, &*self.sink)? {
                        return Ok(Some(what));
                    }
                }
                Ok(None)
            }
            _ => Ok(None),
        }
    }

    /// Says that there was nothing, and how many odd plates were taken.
    pub(super) fn say(&mut self) {
        if self.report.rows == 0 {
            self.report
                .notes
                .push("the file holds no rows below its heading".into());
        }
        let notes: Vec<String> = self
            .report
            .odd
            .iter()
            .map(|(rule, n)| format!("{n} taken although {rule} finds them odd; `polecard verify --rule {rule}` lists them"))
            .collect();
        self.report.notes.extend(notes);
    }

    /// The numbering scheme of the map enters when the register has none of
    /// that name; one that is there is changed by its keepers, not by a map.
    pub(super) fn scheme(&mut self, map: &CsvMap, path: &Path) -> Result<(), ExchangeError> {
        let Some(body) = &map.scheme else {
            return Ok(());
        };
        let mut record = Record::from_value(Kind::Scheme, serde_json::Value::Object(body.clone()))
            .map_err(|e| super::run::at(path, 1, format!("the scheme of the map: {e}")))?;
        let name = record.name();
        let tally = self.report.records.entry(Kind::Scheme).or_default();
        if !self.sink.found_named(Kind::Scheme, &name)?.is_empty() {
            tally.unchanged += 1;
            return Ok(());
        }
        tally.added += 1;
        self.ids = self.ids.next();
        record.set_id(self.ids);
        self.sink.put(&Change::Add(record))?;
        Ok(())
    }

    pub(super) fn enter(&mut self, kind: Kind, outcome: Outcome) -> Result<(), StoreError> {
        let tally = self.report.records.entry(kind).or_default();
        match outcome {
            Outcome::Same => tally.unchanged += 1,
            Outcome::Add(record) => {
                tally.added += 1;
                self.sample(&record);
                self.sink.put(&Change::Add(record))?;
            }
            Outcome::Edit(record, edits) => {
                tally.edited += 1;
                self.report.fields_edited += edits.len();
                self.sample(&record);
                for edit in edits {
                    if self.report.edits.len() < EDITS {
                        self.report.edits.push(Difference {
                            record: record.name(),
                            kind,
                            field: Some(edit.field.clone()),
                            old: edit.old.clone(),
                            new: edit.new.clone(),
                        });
                    }
                    self.sink.put(&Change::Edit(edit))?;
                }
            }
        }
        Ok(())
    }
}
