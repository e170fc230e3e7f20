//! What is due, by whom it is said and why, through the register.

use polecard::calendar::{Date, Moment};
use polecard::domain::upkeep::interval::What;
use polecard::exchange::{ExchangeError, Source, import};
use polecard::store::Store;
use polecard::work::due::{Asked, DueReport, Item, Stands, as_csv, due, due_of};
use tempfile::TempDir;

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

fn day(text: &str) -> Date {
    text.parse().unwrap()
}

fn taken(store: &mut Store, text: &str) -> Result<(), ExchangeError> {
    let files = tempfile::tempdir().unwrap();
    std::fs::write(files.path().join("all.yaml"), text).unwrap();
    let source = Source::at(files.path()).unwrap();
    import(store, &source, "hb", now(), false).map(|_| ())
}

fn register(text: &str) -> (TempDir, Store) {
    let dir = tempfile::tempdir().unwrap();
    let mut store = Store::create(&dir.path().join("r.polecard")).unwrap();
    taken(&mut store, text).unwrap();
    (dir, store)
}

fn asked(by: &str, what: Option<What>) -> Asked {
    Asked {
        by: day(by),
        what,
        ..Asked::today(now().date())
    }
}

fn of(text: &str, id: &str, by: &str, what: Option<What>) -> DueReport {
    let (_dir, store) = register(text);
    due_of(&store, id, &asked(by, what)).unwrap()
}

const INTRUSIVE: Option<What> = Some(What::Intrusive);

/// GO 165, table 1: over 15 years old and never inspected intrusively, within
/// 10 years; passed an intrusive inspection, 20 years.
#[test]
fn a_pole_of_16_years_never_bored_has_10_years_and_one_passed_18_years_ago_has_2() {
    let young =
        "---\nstructure: 40-1\nkind: pole\npole: {material: southern pine, set_year: 2010}\n";
    assert_eq!(of(young, "40-1", "2034-12-31", INTRUSIVE).total, 0);
    let come = of(young, "40-1", "2035-01-01", INTRUSIVE);
    assert_eq!(
        come.due[0].due,
        Some(day("2035-01-01")),
        "25 years from the year it was set"
    );
    assert_eq!(come.due[0].stands, Stands::Never);
    let passed = "---\nstructure: 40-1\nkind: pole\npole: {material: southern pine, set_year: 1985}\n---\nentry: inspection\nof: 40-1\n\"on\": 2008-10-03\ndepth: intrusive\nreadings: {result: passed}\n";
    assert_eq!(of(passed, "40-1", "2028-10-02", INTRUSIVE).total, 0);
    let come = of(passed, "40-1", "2028-10-03", INTRUSIVE);
    assert_eq!(come.due[0].due, Some(day("2028-10-03")));
    assert_eq!(
        come.due[0].why,
        "last intrusive inspection 3 Oct 2008, every 240 months"
    );
    let steel = "---\nstructure: 40-1\nkind: pole\npole: {material: steel, set_year: 1985}\n";
    assert_eq!(of(steel, "40-1", "2090-01-01", INTRUSIVE).total, 0);
}

/// RUS 1730B-121: decay zone 4, 12.5 % a year; of 12,000 poles 1,500.
#[test]
fn a_year_takes_its_even_share_of_12_000_poles_in_decay_zone_4() {
    let mut text = String::from(
        "---\nutility: Weirside Rural\n---\ninterval: pole ground line, decay zones 4 and 5\noff: false\ncycle_from: 2027\n---\ninterval: \"pole intrusive, never inspected\"\noff: true\n",
    );
    for n in 0..12_000 {
        text.push_str(&format!(
            "---\nstructure: 40-{n}\nkind: pole\nfeeder: HB2\n"
        ));
    }
    let (_dir, store) = register(&text);
    let all = due(&store, &asked("2034-12-31", INTRUSIVE)).unwrap();
    assert_eq!(all.total, 12_000);
    for year in 2027..2035 {
        let of_year = |i: &&Item| i.due.unwrap().year() == year;
        let share = all.due.iter().filter(of_year).count();
        assert!((1_485..=1_515).contains(&share), "{year}: {share}");
    }
    let first = due(&store, &asked("2027-12-31", INTRUSIVE)).unwrap();
    let of_2027: Vec<&Item> = all.due.iter().take(first.total).collect();
    assert_eq!(
        first.due.iter().collect::<Vec<_>>(),
        of_2027,
        "the same again"
    );
    assert!(
        first.due[0]
            .why
            .ends_with("its share of 1 in 8 a year falls in 2027")
    );
}

const SHOP: &str = r#"---
utility: Weirside Rural
---
structure: 40-118
kind: pole
feeder: HB2
place: {road: Tannery Rd, near: the weir gate}
pole: {material: western red cedar, set_year: 2015}
---
position: HB2-RC-14
class: recloser
feeder: HB2
structure: 40-118
phases: ABC
available_fault: {amps: 2000, kind: three-phase}
---
unit: 7-20931
class: recloser
nameplate: {interrupter: oil, control: hydraulic, interrupting_amps: 4000}
deployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]
---
entry: inspection
of: 7-20931
"on": 2019-10-03
depth: detailed
readings: {counter: 12}
"#;

fn find(r: &DueReport, what: What) -> &Item {
    r.due
        .iter()
        .find(|i| i.what == what)
        .unwrap_or_else(|| panic!("no {what}: {:#?}", r.due))
}

#[test]
fn each_reason_is_stated_and_the_second_identifier_stands_beside() {
    let r = of(SHOP, "HB2-RC-14", "2026-10-03", None);
    let detailed = find(&r, What::Detailed);
    assert_eq!(detailed.stands, Stands::Overdue);
    assert_eq!(
        detailed.due,
        Some(day("2020-10-03")),
        "the stricter of 12 and 60 months"
    );
    assert_eq!(
        detailed.why,
        "last detailed inspection 3 Oct 2019, every 12 months"
    );
    assert_eq!(detailed.overdue_days, 2_191);
    assert_eq!(detailed.record, "HB2-RC-14");
    assert_eq!(detailed.unit.as_deref(), Some("7-20931"));
    assert_eq!(detailed.feeder.as_deref(), Some("HB2"));
    assert_eq!(detailed.also, "recloser, Tannery Rd, the weir gate, 40-118");
    let oil = find(&r, What::Maintenance);
    assert_eq!(oil.stands, Stands::Never);
    assert!(oil.unconfirmed(), "{}", oil.standing);
    assert!(
        oil.why
            .starts_with("no maintenance on record; in use since 4 Jun 2018")
    );
    assert!(r.due.iter().all(|i| i.what != What::Repair));
}

#[test]
fn a_counter_and_the_duty_make_it_due_too() {
    let own = "---\ninterval: recloser by counter\nclass: [recloser]\nwhat: maintenance\noperations: 500\n";
    let before =
        "---\nentry: maintenance\nof: 7-20931\n\"on\": 2021-03-01\nreadings: {counter: 312}\n";
    let read = |n: u32| {
        format!(
            "---\nentry: counter\nof: 7-20931\n\"on\": 2026-05-01\nreadings: {{counter: {n}}}\n"
        )
    };
    let due_at = |n: u32| {
        let text = format!("{SHOP}{own}{before}{}", read(n));
        let r = of(&text, "HB2-RC-14", "2026-10-03", Some(What::Maintenance));
        r.due.into_iter().map(|i| i.why).collect::<Vec<_>>()
    };
    let by_time = "last maintenance 1 Mar 2021, every 36 months";
    assert_eq!(due_at(811), [by_time]);
    let (_dir, store) = register(&format!(
        "{SHOP}{own}{before}{}---\ninterval: \"oil recloser, oil and contacts\"\noff: true\n",
        read(812)
    ));
    let r = due_of(
        &store,
        "7-20931",
        &asked("2026-10-03", Some(What::Maintenance)),
    )
    .unwrap();
    assert_eq!(
        r.due[0].why,
        "counter 812 on 1 May 2026, 312 at the maintenance of 1 Mar 2021: 500 operations, every 500 operations"
    );
    assert_eq!(r.due[0].standing, "the utility's own");
    let spent = "---\nentry: operation\nof: 7-20931\n\"on\": 2026-06-01\nreadings: {trips: 25, amps: 4000}\n---\nentry: maintenance\nof: 7-20931\n\"on\": 2026-05-01\n";
    let r = of(
        &format!("{SHOP}{spent}"),
        "HB2-RC-14",
        "2026-10-03",
        Some(What::Maintenance),
    );
    assert!(
        r.due[0]
            .why
            .starts_with("duty used 101 % of the standard duty (oil, frame of 280 A"),
        "{}",
        r.due[0].why
    );
}

#[test]
fn a_condition_is_named_by_word_and_number_and_a_defect_stands_until_cleared() {
    let poor = "---\nentry: inspection\nof: 40-118\n\"on\": 2026-02-01\nreadings: {condition: 4}\n";
    let text = format!("{SHOP}{poor}");
    assert_eq!(
        of(&text, "40-118", "2027-01-31", Some(What::Repair)).total,
        0
    );
    let r = of(&text, "40-118", "2027-02-01", Some(What::Repair));
    assert_eq!(
        r.due[0].why,
        "condition 4 (poor), seen 1 Feb 2026; within 12 months"
    );
    let better =
        "---\nentry: inspection\nof: 40-118\n\"on\": 2026-05-01\nreadings: {condition: 2}\n";
    assert_eq!(
        of(
            &format!("{text}{better}"),
            "40-118",
            "2030-01-01",
            Some(What::Repair)
        )
        .total,
        0
    );
    let low = "---\nentry: inspection\nof: 7-20931\n\"on\": 2026-09-12\nfinds: [oil below mark]\n";
    let r = of(
        &format!("{SHOP}{low}"),
        "40-118",
        "2026-10-03",
        Some(What::Repair),
    );
    assert_eq!(r.due[0].record, "HB2-RC-14");
    assert_eq!(
        r.due[0].why,
        "oil below mark seen 12 Sep 2026, not cleared; at once"
    );
    let done =
        "---\nentry: maintenance\nof: 7-20931\n\"on\": 2026-09-20\nclears: [oil below mark]\n";
    assert_eq!(
        of(
            &format!("{SHOP}{low}{done}"),
            "40-118",
            "2026-10-03",
            Some(What::Repair)
        )
        .total,
        0
    );
}

#[test]
fn never_and_unknown_dates_come_first_then_the_longest_overdue() {
    let more = "---\nstructure: 40-1\nkind: pole\nfeeder: HB2\n---\nstructure: 40-2\nkind: pole\nfeeder: HB2\n---\nentry: inspection\nof: 40-2\ndepth: patrol\n---\nstructure: 40-3\nkind: pole\nfeeder: HB1\n---\nentry: inspection\nof: 40-3\n\"on\": 2020-01-01\ndepth: patrol\n---\nentry: inspection\nof: 40-118\n\"on\": 2024-01-01\ndepth: patrol\n---\nstructure: 40-4\nkind: pole\nfeeder: HB1\n---\nentry: inspection\nof: 40-4\n\"on\": 2062-01-01\ndepth: patrol\n";
    let (_dir, store) = register(&format!("{SHOP}{more}"));
    let r = due(&store, &asked("2026-10-03", Some(What::Patrol))).unwrap();
    let order: Vec<(&str, Stands)> = r
        .due
        .iter()
        .map(|i| (i.record.as_str(), i.stands))
        .collect();
    assert_eq!(
        order,
        [
            ("40-4", Stands::Never),
            ("40-1", Stands::Never),
            ("40-2", Stands::DateUnknown),
            ("HB2-RC-14", Stands::Overdue),
            ("40-3", Stands::Overdue),
            ("40-118", Stands::Overdue),
        ],
        "a day to come is no day on which it was done"
    );
    let count = |f: &str| {
        let c = r
            .feeders
            .iter()
            .find(|c| c.feeder.as_deref() == Some(f))
            .unwrap();
        (c.due, c.never, c.overdue)
    };
    assert_eq!(count("HB1"), (2, 1, 1));
    assert_eq!(count("HB2"), (4, 2, 2));
    let one = Asked {
        feeder: Some("hb1".into()),
        ..asked("2026-10-03", Some(What::Patrol))
    };
    assert_eq!(due(&store, &one).unwrap().total, 2);
    let none = Asked {
        feeder: Some("HB9".into()),
        ..one
    };
    assert_eq!(due(&store, &none).unwrap_err().kind.exit_code(), 3);
    let past = asked("2026-10-02", None);
    assert_eq!(due(&store, &past).unwrap_err().kind.exit_code(), 2);
}

/// The walk through a feeder and the look at one record ask the register in
/// different ways and must say the same.
#[test]
fn one_record_and_the_whole_register_say_the_same() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("demo.polecard");
    polecard::work::demo::install(&path, polecard::calendar::Clock::Fixed(now())).unwrap();
    let store = Store::open(&path, polecard::store::Access::Read).unwrap();
    let ask = asked("2027-06-30", None);
    let all = due(&store, &ask).unwrap();
    assert!(all.total > 100);
    for id in ["HB2-RC-14", "HB1-RC-6", "40-118", "HB1-RG-3", "HB2-CP-8"] {
        let of_record = due_of(&store, id, &ask).unwrap();
        assert!(!of_record.due.is_empty(), "{id}");
        for item in of_record.due.iter().filter(|i| i.record == id) {
            assert!(all.due.contains(item), "{id}: {item:#?}");
        }
        let counted = |r: &DueReport| r.due.iter().filter(|i| i.record == id).count();
        assert_eq!(counted(&of_record), counted(&all), "{id}");
    }
}

#[test]
fn cells_that_a_spreadsheet_would_run_are_text() {
    let text = "---\nstructure: \"=1+1\"\nkind: pole\nfeeder: HB2\nplace: {road: \"@here\"}\n";
    let (_dir, store) = register(text);
    let r = due(&store, &asked("2026-10-03", Some(What::Patrol))).unwrap();
    let csv = as_csv(&r);
    let row = csv.lines().nth(1).unwrap();
    assert!(row.starts_with("'=1+1,"), "{row}");
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let cells = reader.records().next().unwrap().unwrap();
    assert_eq!(cells.len(), 12);
    assert_eq!(&cells[4], "patrol");
}

#[test]
fn a_bad_interval_is_refused_at_import_with_its_line() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = Store::create(&dir.path().join("r.polecard")).unwrap();
    let text = "---\nutility: Weirside Rural\n---\ninterval: ours\nclass: [pole]\nwhat: patrol\nmonths: -3\n";
    let said = taken(&mut store, text).unwrap_err().to_string();
    assert!(said.contains("all.yaml:7: "), "{said}");
}
