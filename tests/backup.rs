//! Backup, restore and their check; faults of the disk; many writers.

mod faults;
mod heads;

use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

use polecard::calendar::Moment;
use polecard::domain::who::Who;
use polecard::exchange::{Source, import};
use polecard::store::{Access, Reports, Store};
use polecard::work::backup::{CheckReport, RestoreAsk, RestoreReport, backup, check, restore};
use polecard::work::edit::{Asked, edit};
use polecard::work::reports;
use polecard::work::{Failure, demo};
use tempfile::TempDir;

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

/// A folder with a small register in it.
struct Desk {
    dir: TempDir,
}

impl Desk {
    fn new() -> Self {
        let desk = Desk {
            dir: tempfile::tempdir().unwrap(),
        };
        let mut store = Store::create(&desk.register()).unwrap();
        let mut text = String::new();
        for n in 100..160 {
            text.push_str(&format!(
                "---\nstructure: 40-{n}\nkind: pole\nfeeder: HB2\nplace: {{road: Tannery Rd, near: mile {n}}}\n"
            ));
        }
        text.push_str(
            "---\nposition: HB2-RC-14\nclass: recloser\nfeeder: HB2\nstructure: 40-118\n",
        );
        text.push_str("---\nunit: 7-20931\nclass: recloser\nnames: [{text: T-5}]\ndeployments: [{at: HB2-RC-14, from: 2018-06-04}]\n");
        let yaml = desk.path("all.yaml");
        std::fs::write(&yaml, text).unwrap();
        import(&mut store, &Source::at(&yaml).unwrap(), "hb", now(), true).unwrap();
        desk
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    fn register(&self) -> PathBuf {
        self.path("r.polecard")
    }

    fn backup(&self, name: &str) -> Result<CheckReport, Failure> {
        let store = Store::open(&self.register(), Access::Read).unwrap();
        backup(&store, &self.path(name), now()).map(|r| r.check)
    }

    fn note(&self, name: &str, note: &str) {
        edit_note(&self.register(), name, note).unwrap();
    }

    fn restore(&self, name: &str, to: &Path, lose_newer: bool) -> Result<RestoreReport, Failure> {
        restore(&RestoreAsk {
            backup: &self.path(name),
            to,
            lose_newer,
            now: now(),
        })
    }

    /// Names of the files beside the register that begin with a dot.
    fn left_over(&self) -> Vec<String> {
        let files = std::fs::read_dir(self.dir.path()).unwrap();
        files
            .map(|f| f.unwrap().file_name().to_string_lossy().into_owned())
            .filter(|n| n.starts_with('.'))
            .collect()
    }
}

fn edit_note(register: &Path, name: &str, note: &str) -> Result<(), Failure> {
    let mut store = Store::open(register, Access::Write)?;
    let asked = Asked {
        set: vec![format!("note={note}")],
        why: format!("wrote {note}"),
        ..Asked::default()
    };
    edit(&mut store, name, &asked, "hb", now()).map(|_| ())
}

fn note_of(register: &Path, name: &str) -> serde_json::Value {
    let store = Store::open(register, Access::Read).unwrap();
    let hit = store.named(name).unwrap().remove(0);
    store.by_row(hit.rec).unwrap().unwrap().record.to_value()["note"].clone()
}

fn mode(path: &Path) -> u32 {
    std::fs::metadata(path).unwrap().permissions().mode() & 0o777
}

fn tamper(path: &Path, sql: &str) {
    let conn = rusqlite::Connection::open(path).unwrap();
    conn.execute_batch("pragma foreign_keys = off").unwrap();
    conn.execute_batch(sql).unwrap();
}

#[test]
fn a_backup_is_one_sound_file_that_nothing_writes_into() {
    let desk = Desk::new();
    let store = Store::open(&desk.register(), Access::Read).unwrap();
    let head = store.head().unwrap();
    let taken = desk.backup("b.polecard").unwrap();
    assert!(taken.sound);
    assert_eq!(
        (taken.records, taken.operations, &taken.chain_head),
        (62, 1, &head.digest)
    );
    assert_eq!(taken.made, Some(now()));
    for tail in ["-wal", "-shm", "-journal"] {
        assert!(!desk.path(&format!("b.polecard{tail}")).exists());
    }
    assert_eq!(desk.left_over(), Vec::<String>::new());
    // It can be looked into, and is not written into.
    assert!(note_of(&desk.path("b.polecard"), "40-118").is_null());
    let said = edit_note(&desk.path("b.polecard"), "40-118", "x").unwrap_err();
    assert!(said.to_string().contains("is a backup"), "{said}");
    // A later backup of the same name takes its place.
    desk.note("40-118", "painted");
    let again = desk.backup("b.polecard").unwrap();
    assert_eq!(again.operations, 2);
    assert_eq!(note_of(&desk.path("b.polecard"), "40-118"), "painted");
}

#[test]
fn a_backup_goes_over_nothing_but_a_backup() {
    let desk = Desk::new();
    std::fs::write(desk.path("letter.txt"), "dear control centre").unwrap();
    std::fs::write(desk.path("empty"), "").unwrap();
    std::fs::create_dir(desk.path("folder")).unwrap();
    drop(Store::create(&desk.path("other.polecard")).unwrap());
    for (name, why) in [
        ("letter.txt", "not a backup"),
        ("empty", "not a backup"),
        ("folder", "is a folder"),
        ("r.polecard", "the register itself"),
        ("other.polecard", "a register, not a backup"),
        ("nowhere/b.polecard", "make the folder first"),
    ] {
        let said = desk.backup(name).unwrap_err().to_string();
        assert!(said.contains(why), "{name}: {said}");
    }
    assert_eq!(
        std::fs::read(desk.path("letter.txt")).unwrap(),
        b"dear control centre"
    );
    assert_eq!(desk.left_over(), Vec::<String>::new());
}

#[test]
fn a_restore_loses_nothing_unasked_and_keeps_what_was_there() {
    let desk = Desk::new();
    let register = desk.register();
    std::fs::set_permissions(&register, std::fs::Permissions::from_mode(0o640)).unwrap();
    desk.note("40-118", "before");
    desk.backup("b.polecard").unwrap();
    assert_eq!(mode(&desk.path("b.polecard")), 0o640);
    // A register that has gone on: refused, with what would be lost.
    desk.note("40-118", "after");
    desk.note("40-119", "after too");
    let said = desk.restore("b.polecard", &register, false).unwrap_err();
    let said = said.to_string();
    assert!(
        said.contains("older than the register: 2 operations would be lost"),
        "{said}"
    );
    assert!(said.contains("hb: wrote after too"), "{said}");
    assert_eq!(note_of(&register, "40-118"), "after");
    // Somebody has it open all the while.
    let watching = Store::open(&register, Access::Read).unwrap();
    let before = watching.data_version().unwrap();
    let report = desk.restore("b.polecard", &register, true).unwrap();
    assert_eq!(report.lost_in_all, 2);
    assert_eq!(report.lost[0].why, "wrote after too");
    assert_ne!(watching.data_version().unwrap(), before);
    assert_eq!(watching.head().unwrap().digest, report.chain_head);
    assert_eq!(note_of(&register, "40-118"), "before");
    assert!(note_of(&register, "40-119").is_null());
    assert_eq!(mode(&register), 0o640);
    assert!(check(&register, &[]).unwrap().sound);
    // What was there is itself a backup, and goes back without loss.
    let kept = report.kept_aside.unwrap();
    assert_eq!(mode(&kept), 0o640);
    let kept = kept.file_name().unwrap().to_str().unwrap();
    let back = desk.restore(kept, &register, false).unwrap();
    assert_eq!((back.lost_in_all, back.operations), (0, 4));
    assert_eq!(note_of(&register, "40-119"), "after too");
    desk.note("40-119", "and one can write again");
    assert_eq!(desk.left_over(), Vec::<String>::new());
}

#[test]
fn a_register_of_another_utility_or_a_parted_one_is_not_taken_for_older() {
    let desk = Desk::new();
    desk.note("40-118", "here");
    let other = Desk::new();
    other.backup("b.polecard").unwrap();
    let said = other
        .restore("b.polecard", &desk.register(), false)
        .unwrap_err();
    assert!(said.to_string().contains("shares no operation"), "{said}");
    // Two that went apart.
    desk.backup("b.polecard").unwrap();
    desk.restore("b.polecard", &desk.path("twin.polecard"), false)
        .unwrap();
    edit_note(&desk.path("twin.polecard"), "40-118", "in the twin").unwrap();
    desk.note("40-119", "here too");
    desk.backup("b.polecard").unwrap();
    let said = desk
        .restore("b.polecard", &desk.path("twin.polecard"), false)
        .unwrap_err();
    assert!(
        said.to_string()
            .contains("parts from the register after operation 2: 1 operation would"),
        "{said}"
    );
}

#[test]
fn a_restore_where_nothing_is_or_nothing_can_be_read() {
    let desk = Desk::new();
    desk.backup("b.polecard").unwrap();
    let new = desk.path("new.polecard");
    // Logs of a file that is gone would be read into the new one.
    std::fs::write(desk.path("new.polecard-wal"), "stale").unwrap();
    let report = desk.restore("b.polecard", &new, false).unwrap();
    assert!(report.kept_aside.is_some());
    assert!(check(&new, &[]).unwrap().sound);
    edit_note(&new, "40-118", "a register, not a backup").unwrap();
    // A register whose beginning is ruined.
    let mut bytes = std::fs::read(&new).unwrap();
    bytes[..100].fill(0x55);
    std::fs::write(&new, &bytes).unwrap();
    let said = desk
        .restore("b.polecard", &new, false)
        .unwrap_err()
        .to_string();
    assert!(said.contains("is not known"), "{said}");
    assert_eq!(std::fs::read(&new).unwrap(), bytes);
    let report = desk.restore("b.polecard", &new, true).unwrap();
    assert_eq!(std::fs::read(report.kept_aside.unwrap()).unwrap(), bytes);
    assert!(check(&new, &[]).unwrap().sound);
    // Into a backup: it stays as it is.
    desk.backup("c.polecard").unwrap();
    let said = desk
        .restore("b.polecard", &desk.path("c.polecard"), true)
        .unwrap_err();
    assert!(said.to_string().contains("is a backup"), "{said}");
}

#[test]
fn a_backup_that_was_changed_is_not_sound_and_not_restored() {
    let cases = [
        (
            "update change set new = '\"green\"' where field = 'note'",
            "chain",
        ),
        ("update operation set why = 'other' where seq = 1", "chain"),
        (
            "update record set body = replace(body, 'painted', 'green') where name = '40-118'",
            "record",
        ),
        ("delete from name where text = 'T-5'", "index"),
        ("delete from link", "index"),
        ("delete from spelled where rowid = 1", "index"),
        ("delete from described where rowid = 1", "index"),
        (
            "delete from operation where seq = 2; delete from change where op = 2",
            "head",
        ),
        (
            "update record set body = '{' where name = '40-119'",
            "index",
        ),
    ];
    for (sql, part) in cases {
        let desk = Desk::new();
        desk.note("40-118", "painted");
        desk.backup("b.polecard").unwrap();
        tamper(&desk.path("b.polecard"), sql);
        let found = check(&desk.path("b.polecard"), &[]).unwrap();
        let parts: Vec<&str> = found.faults.iter().map(|f| f.part).collect();
        assert!(
            !found.sound && parts.contains(&part),
            "{sql}: {:?}",
            found.faults
        );
        let said = desk.restore("b.polecard", &desk.path("new.polecard"), true);
        assert!(said.unwrap_err().to_string().contains("is not sound"));
        assert!(!desk.path("new.polecard").exists());
    }
    // A register in that state gives no backup, and the old one stays.
    let desk = Desk::new();
    desk.backup("b.polecard").unwrap();
    let old = std::fs::read(desk.path("b.polecard")).unwrap();
    tamper(&desk.register(), "update operation set why = 'other'");
    let said = desk.backup("b.polecard").unwrap_err().to_string();
    assert!(said.contains("no backup of it was put in place"), "{said}");
    assert_eq!(std::fs::read(desk.path("b.polecard")).unwrap(), old);
    // Bytes gone in the middle of a file.
    let half = old.len() / 2 / 4096 * 4096;
    let mut holed = old.clone();
    holed[half..half + 3 * 4096].fill(0);
    std::fs::write(desk.path("b.polecard"), &holed).unwrap();
    let found = check(&desk.path("b.polecard"), &[]);
    assert!(!found.is_ok_and(|r| r.sound));
    std::fs::write(desk.path("b.polecard"), &old[..half]).unwrap();
    let found = check(&desk.path("b.polecard"), &[]);
    assert!(!found.is_ok_and(|r| r.sound));
}

#[test]
fn the_demo_is_backed_up_and_restored_to_the_same_export() {
    let dir = tempfile::tempdir().unwrap();
    let register = dir.path().join("demo.polecard");
    demo::install(&register, polecard::calendar::Clock::Fixed(now())).unwrap();
    let store = Store::open(&register, Access::Read).unwrap();
    let file = dir.path().join("b.polecard");
    assert!(backup(&store, &file, now()).unwrap().check.sound);
    let again = dir.path().join("again.polecard");
    restore(&RestoreAsk {
        backup: &file,
        to: &again,
        lose_newer: false,
        now: now(),
    })
    .unwrap();
    let (a, b) = (dir.path().join("a"), dir.path().join("b"));
    polecard::exchange::export(&store, &a).unwrap();
    polecard::exchange::export(&Store::open(&again, Access::Read).unwrap(), &b).unwrap();
    assert_eq!(crate::support::tree(&a), crate::support::tree(&b));
}

fn filed(register: &Path) -> usize {
    let reports = Reports::open(register, Access::Read).unwrap();
    reports.map_or(0, |r| r.all().unwrap().len())
}

fn report_on(register: &Path, note: &str) -> Result<i64, Failure> {
    let store = Store::open(register, Access::Read).unwrap();
    let asked = reports::Asked {
        set: vec![format!("note={note}")],
        why: "seen at the pole".to_string(),
        read_by: None,
        from: None,
        on: None,
        unlisted: false,
    };
    let who = Who {
        account: "lw".to_string(),
        declared: None,
    };
    reports::file(&store, "40-118", &asked, &who, now()).map(|f| f.no)
}

/// The reports file is the register's other half: it goes along, is checked,
/// and comes back.
#[test]
fn the_reports_go_along_with_a_backup_and_come_back() {
    let desk = Desk::new();
    report_on(&desk.register(), "leans").unwrap();
    let taken = desk.backup("b.polecard").unwrap();
    assert!(taken.sound && taken.reports.is_some());
    report_on(&desk.register(), "leans more").unwrap();
    assert_eq!(
        (filed(&desk.register()), filed(&desk.path("b.polecard"))),
        (2, 1)
    );
    assert_eq!(desk.left_over(), Vec::<String>::new());
    // Beside a register that has its own they stay; beside none they come back.
    let r = desk.restore("b.polecard", &desk.register(), true).unwrap();
    assert!(
        r.notes.iter().any(|n| n.contains("only grow")),
        "{:?}",
        r.notes
    );
    assert_eq!(filed(&desk.register()), 2);
    let other = desk.path("other.polecard");
    let r = desk.restore("b.polecard", &other, false).unwrap();
    assert!(
        r.notes.iter().any(|n| n.contains("restored too")),
        "{:?}",
        r.notes
    );
    assert_eq!(filed(&other), 1);
    report_on(&other, "leans again").unwrap();
    assert_eq!(filed(&other), 2);
    // A backup without its reports, or with others, is not sound.
    let place = desk.path("b.polecard.reports");
    std::fs::write(&place, b"else").unwrap();
    let bad = check(&desk.path("b.polecard"), &[]).unwrap();
    assert!(!bad.sound);
    assert_eq!(bad.faults[0].part, "reports");
    std::fs::remove_file(&place).unwrap();
    assert!(!check(&desk.path("b.polecard"), &[]).unwrap().sound);
    assert!(
        desk.restore("b.polecard", &desk.path("third"), false)
            .is_err()
    );
}

#[test]
fn a_backup_takes_no_reports_and_lists_none() {
    let desk = Desk::new();
    report_on(&desk.register(), "leans").unwrap();
    desk.backup("b.polecard").unwrap();
    let backup = desk.path("b.polecard");
    let refused = report_on(&backup, "leans more").unwrap_err();
    assert!(refused.message.contains("is a backup"), "{refused}");
    let store = Store::open(&backup, Access::Write).unwrap();
    for refused in [
        reports::open(&store).map(|_| ()).unwrap_err(),
        reports::open_to_decide(&store).map(|_| ()).unwrap_err(),
    ] {
        assert!(refused.message.contains("is a backup"), "{refused}");
        assert!(refused.hints[0].contains("--register"), "{refused}");
    }
    assert!(check(&backup, &[]).unwrap().sound, "nothing was changed");
}
