//! What the detectors are given beside the record that they look at.

use crate::calendar::Clock;
use crate::domain::asset::{Kind, Rel};
use crate::domain::verify::{Enlarged, Given};
use crate::exchange::Forms;
use crate::store::Store;
use crate::work::{Failure, schemes};

/// Gathers it once for a run.
pub(super) fn given(store: &Store, clock: Clock) -> Result<Given, Failure> {
    let conductors = store.all(Kind::Conductor)?;
    Ok(Given {
        today: clock.today(),
        schemes: schemes::schemes(store)?,
        conductors: conductors.iter().map(|s| s.record.name()).collect(),
        enlarged: enlarged(store)?,
        readings: Forms::of(store)?.readings().cloned().collect(),
    })
}

/// Sources whose short-circuit power an operation raised, with their feeders.
fn enlarged(store: &Store) -> Result<Vec<Enlarged>, Failure> {
    let mut out = Vec::new();
    for change in store.changed_numbers(Kind::Source, "fault_mva")? {
        let grew = matches!((change.old, change.new), (Some(old), Some(new)) if new > old);
        let Some(source) = store.by_row(change.rec)?.filter(|_| grew) else {
            continue;
        };
        let name = source.record.name();
        let fed = store.pointing(Rel::FedFrom, &name)?;
        out.push(Enlarged {
            feeders: fed.iter().map(|s| s.record.name()).collect(),
            source: name,
            since: change.from,
        });
    }
    Ok(out)
}
