//! Export of one kind of record to a CSV file.

use std::io::{BufWriter, Write};
use std::path::Path;

use super::Failure;
use crate::domain::asset::Kind;
use crate::exchange::{CsvExported, export_csv};
use crate::store::{Store, with_tail};

/// Writes every record of a kind to a file that is not there yet, under
/// another name until it is whole.
///
/// # Errors
/// When the file is there, or the disk refuses.
pub fn export_csv_file(store: &Store, kind: Kind, file: &Path) -> Result<CsvExported, Failure> {
    let shown = file.display();
    if std::fs::symlink_metadata(file).is_ok() {
        return Err(
            Failure::unusable(format!("{shown} is there already; it was left as it is"))
                .hint("somebody may be editing it: name another file"),
        );
    }
    let part = with_tail(file, &format!(".part-{}", std::process::id()));
    let io = |e: &std::io::Error| {
        Failure::unusable(format!("{shown}: {e}")).hint("name another place, or free some space")
    };
    let written = (|| {
        let mut out =
            BufWriter::with_capacity(1 << 16, std::fs::File::create(&part).map_err(|e| io(&e))?);
        let done = export_csv(store, kind, &shown.to_string(), &mut out)?;
        out.flush().map_err(|e| io(&e))?;
        out.get_ref().sync_all().map_err(|e| io(&e))?;
        drop(out);
        // A link fails where somebody else was faster; not every disk has links.
        match std::fs::hard_link(&part, file) {
            Ok(()) => {}
            Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => return Err(io(&e)),
            Err(_) => std::fs::rename(&part, file).map_err(|e| io(&e))?,
        }
        Ok(done)
    })();
    let _ = std::fs::remove_file(&part);
    written
}
