//! `polecard edit`

use super::Context;
use crate::calendar::Date;
use crate::domain::asset::ReadFrom;
use crate::present::written::edit_lines;
use crate::work::Failure;
use crate::work::edit::{Asked, Reading, edit};

/// Correct fields of a record, with a reason
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  polecard edit 40-118 place.near=\"the weir gate\" --why \"gate renamed\"\n  polecard edit unit 7-20931 nameplate.interrupting_amps=4000 --why \"plate read\" \\\n    --read-by hb --from plate --on 2026-10-03\n  polecard edit unit 7-20931 --confirm nameplate.coil_amps --read-by hb --from photo --why check\n  polecard edit HB2-RC-14 --erase peak_load --why \"study withdrawn\"\n\nA field below another is written with a dot; a list or map as [a, b] or {key: value}. A blank\nnever erases. Raising a rating, clearing a defect, lowering a PCB class and changing a name need\na second person; that person is recorded as declared."
)]
pub struct Args {
    /// A name or permanent id; quote it when a kind stands before it
    #[arg(value_name = "ID")]
    id: String,
    /// `field=value`; the word `unit` or another kind may stand before the ID
    #[arg(value_name = "FIELD=VALUE")]
    set: Vec<String>,
    /// Why it is changed
    #[arg(long, value_name = "TEXT")]
    why: String,
    /// From when it holds in the field, when that is not today
    #[arg(long, value_name = "DATE")]
    effective: Option<Date>,
    /// Who read the plate
    #[arg(long, value_name = "WHO", requires = "from")]
    read_by: Option<String>,
    /// From what it was read
    #[arg(long, value_name = "plate|photo|drawing", requires = "read_by", value_parser = read_from)]
    from: Option<ReadFrom>,
    /// When it was read; today if absent
    #[arg(long, value_name = "DATE", requires = "read_by")]
    on: Option<Date>,
    /// The plate values are assumed, by this rule
    #[arg(long, value_name = "RULE")]
    assumed: Option<String>,
    /// Take the value of a field off the record; may be repeated
    #[arg(long, value_name = "FIELD")]
    erase: Vec<String>,
    /// The field was read again and is as recorded; may be repeated
    #[arg(long, value_name = "FIELD")]
    confirm: Vec<String>,
    /// Edit only if this is still on record; may be repeated
    #[arg(long, value_name = "FIELD=OLD")]
    expect: Vec<String>,
    /// The second person who confirms it
    #[arg(long, value_name = "WHO")]
    second: Option<String>,
}

pub(super) fn read_from(word: &str) -> Result<ReadFrom, String> {
    let known = [ReadFrom::Plate, ReadFrom::Photo, ReadFrom::Drawing];
    known
        .into_iter()
        .find(|f| f.word() == word)
        .ok_or_else(|| "one of plate, photo, drawing".to_string())
}

/// The ID may be of several words (`unit 7-20931`); the fields come after it.
pub(super) fn parts(id: &str, set: &[String]) -> (String, Vec<String>) {
    let mut id = id.to_string();
    let words = set.iter().take_while(|w| !w.contains('=')).count();
    for word in &set[..words] {
        id.push(' ');
        id.push_str(word);
    }
    (id, set[words..].to_vec())
}

pub fn run(args: &Args, context: &Context) -> Result<i32, Failure> {
    let (id, set) = parts(&args.id, &args.set);
    let now = context.clock.now();
    let reading = match (&args.read_by, args.from) {
        (Some(by), Some(from)) => Some(Reading {
            by: by.clone(),
            from,
            on: args.on.unwrap_or_else(|| now.date()),
        }),
        _ => None,
    };
    let asked = Asked {
        set,
        erase: args.erase.clone(),
        confirm: args.confirm.clone(),
        expect: args.expect.clone(),
        why: args.why.clone(),
        effective: args.effective,
        reading,
        assumed: args.assumed.clone(),
        second: args.second.clone(),
    };
    let mut store = context.open_to_write()?;
    let report = edit(&mut store, &id, &asked, &context.who(), now)?;
    context.print(&report, |_| edit_lines(&report))?;
    Ok(0)
}
