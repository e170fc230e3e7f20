//! Work orders: opened with the next number, moved only as their state allows,
//! listed by what presses most; and the sheets printed from them.

use std::path::Path;

use polecard::calendar::{Date, Moment};
use polecard::domain::asset::{Kind, OrderState, Priority, Record};
use polecard::exchange::{Source, import};
use polecard::store::{Access, Store};
use polecard::work::orders::{
    Done, Filter, NewOrder, OrderReport, assign, done, list, open_another, open_order, reopen,
    show, void,
};
use polecard::work::undo::undo;
use polecard::work::{Failure, FailureKind};

const SMALL: &str = r"---
feeder: HB2
head: 40-117
kv_ll: 12.47
---
feeder: HB1
head: 41-1
kv_ll: 12.47
---
structure: 40-117
kind: pole
feeder: HB2
place: {road: Tannery Rd, near: the weir gate}
---
structure: 40-118
kind: pole
feeder: HB2
names: [{text: T-5512, whose: telephone}, {text: 40-018, to: 2020-01-01}]
place: {road: Tannery Rd, near: the old kiln}
---
structure: 41-1
kind: pole
feeder: HB1
---
span: {from: 40-117, to: 40-118, phases: ABC, conductor: 1/0 ACSR, length_ft: 310}
feeder: HB2
---
position: HB2-RC-14
class: recloser
feeder: HB2
structure: 40-118
---
unit: 7-20931
class: recloser
deployments: [{at: HB2-RC-14, slot: ABC, from: 2018-06-04}]
---
entry: inspection
of: 7-20931
on: 2026-09-12
by: hb
finds: [oil below mark]
---
order: '2231'
of: 7-20931
state: open
priority: soon
need: oil below the mark, take out of service with control
opened: 2026-09-12
due: 2026-10-01
---
order: '2236'
of: 40-117
state: assigned
priority: planned
need: straighten the crossarm
opened: 2026-09-20
due: 2026-11-30
who: ls
---
order: '2240'
of: 41-1
state: done
priority: whenever
need: hang a new tag
opened: 2026-05-02
closed: 2026-06-01
who: jt
";

fn now() -> Moment {
    "2026-10-03T14:10:00-06:00".parse().unwrap()
}

fn today() -> Date {
    now().date()
}

fn register(dir: &Path) -> Store {
    let files = dir.join("files");
    std::fs::create_dir(&files).unwrap();
    std::fs::write(files.join("all.yaml"), SMALL).unwrap();
    let mut store = Store::create(&dir.join("r.polecard")).unwrap();
    import(&mut store, &Source::at(&files).unwrap(), "hb", now(), false).unwrap();
    store
}

fn new(of: &str, need: &str) -> NewOrder {
    NewOrder {
        of: of.to_string(),
        need: need.to_string(),
        priority: Priority::Planned,
        due: None,
        who: None,
        from_entry: None,
        note: None,
    }
}

fn open(store: &mut Store, of: &str, need: &str) -> Result<OrderReport, Failure> {
    open_order(store, &new(of, need), "hb", now())
}

fn operations(store: &Store) -> i64 {
    store.head().unwrap().seq
}

fn numbers(store: &Store, filter: &Filter) -> Vec<String> {
    list(store, filter, today())
        .unwrap()
        .orders
        .into_iter()
        .map(|o| o.order)
        .collect()
}

#[test]
fn an_order_opens_with_the_next_number_in_one_operation() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = operations(&store);
    let report = open(&mut store, "40-118", "restore the pole ground").unwrap();
    assert_eq!(operations(&store), before + 1);
    assert_eq!(report.did, "opened");
    assert_eq!(report.order.order, "2241");
    assert_eq!(report.order.state, "open");
    assert_eq!(report.order.opened, Some(today()));
    assert_eq!(report.order.feeder.as_deref(), Some("HB2"));
    assert_eq!(report.order.kind, Some(Kind::Structure));
    assert!(report.order.also.contains("the old kiln"), "{report:?}");
    // Its day follows from how pressing it is, and that is said.
    assert_eq!(report.order.due, Some(today().plus_days(180)));
    assert!(report.notes[0].contains("order_planned_days = 180"));
    assert_eq!(report.notes.len(), 1, "{:?}", report.notes);
    // Undone as any operation.
    let operation = report.operation.unwrap();
    undo(
        &mut store,
        Some(&operation),
        Some("opened twice"),
        "hb",
        now(),
    )
    .unwrap();
    assert_eq!(store.count(Kind::Order).unwrap(), 3);
}

#[test]
fn an_old_name_is_said_and_the_present_one_is_kept() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let report = open(&mut store, "40-018", "restore the pole ground").unwrap();
    assert_eq!(report.order.of, "40-118");
    assert!(report.notes[0].contains("no longer in use"), "{report:?}");
}

#[test]
fn a_number_that_another_record_bears_is_passed_over() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let extra = dir.path().join("extra");
    std::fs::create_dir(&extra).unwrap();
    std::fs::write(
        extra.join("all.yaml"),
        "---\nstructure: '2241'\nkind: pole\n",
    )
    .unwrap();
    import(&mut store, &Source::at(&extra).unwrap(), "hb", now(), true).unwrap();
    let report = open(&mut store, "40-118", "restore the pole ground").unwrap();
    assert_eq!(report.order.order, "2242");
}

#[test]
fn the_same_work_is_named_and_not_ordered_twice() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = operations(&store);
    // On the position, while the order stands on the unit that is there.
    let urgent = NewOrder {
        priority: Priority::Urgent,
        ..new("HB2-RC-14", "oil below mark")
    };
    let report = open_order(&mut store, &urgent, "hb", now()).unwrap();
    assert_eq!(report.operation, None);
    assert_eq!(report.did, "open already");
    assert_eq!(report.order.order, "2231");
    assert!(report.notes.iter().any(|n| n.contains("order 2231")));
    assert!(report.notes.iter().any(|n| n.contains("raise it")));
    assert_eq!(operations(&store), before, "nothing was written");
    let other = open(&mut store, "HB2-RC-14", "straighten the crossarm").unwrap();
    assert_eq!(other.did, "opened", "the other order is on another pole");
    let another = open_another(&mut store, &urgent, "hb", now()).unwrap();
    assert_eq!(another.did, "opened");
    assert!(another.notes[0].contains("order 2231"));
    // Closed work does not stand in the way.
    void(&mut store, "2231", "wrong unit", "hb", now()).unwrap();
    void(&mut store, &another.order.order, "twice", "hb", now()).unwrap();
    let again = open_order(&mut store, &urgent, "hb", now()).unwrap();
    assert_eq!(again.did, "opened");
}

#[test]
fn what_cannot_be_opened_is_refused_and_nothing_is_written() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = operations(&store);
    let past = NewOrder {
        due: Some("2026-10-02".parse().unwrap()),
        ..new("40-118", "restore the pole ground")
    };
    for (bad, kind) in [
        (new("40-118", "  "), FailureKind::Usage),
        (past, FailureKind::Usage),
        (new("2236", "do it"), FailureKind::Usage),
        (new("99-999", "do it"), FailureKind::NotFound),
    ] {
        assert_eq!(
            open_order(&mut store, &bad, "hb", now()).unwrap_err().kind,
            kind
        );
    }
    assert_eq!(operations(&store), before);
}

/// Two writers at once, each through a connection of its own, as two people
/// at two terminals.
#[test]
fn two_writers_never_take_one_number() {
    const EACH: usize = 12;
    let dir = tempfile::tempdir().unwrap();
    let path = register(dir.path()).path().to_path_buf();
    let workers: Vec<_> = ["hb", "mk", "ls"]
        .into_iter()
        .map(|who| {
            let path = path.clone();
            std::thread::spawn(move || {
                for i in 0..EACH {
                    let mut store = Store::open(&path, Access::Write).unwrap();
                    let need = format!("{who}{i} {who}x{i}");
                    open_order(&mut store, &new("40-118", &need), who, now()).unwrap();
                }
            })
        })
        .collect();
    for worker in workers {
        worker.join().unwrap();
    }
    let store = Store::open(&path, Access::Read).unwrap();
    let mut found = numbers(&store, &Filter::default());
    found.sort();
    let before = found.len();
    found.dedup();
    assert_eq!(found.len(), before, "a number was given twice");
    assert_eq!(before, 2 + 3 * EACH);
    // One after another without a gap.
    let last = 2240 + 3 * EACH;
    assert!(found.contains(&last.to_string()));
    assert_eq!(store.broken_link().unwrap(), None);
}

#[test]
fn an_order_is_given_done_and_reopened() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let given = assign(&mut store, "2231", "line crew 2", "hb", now()).unwrap();
    assert_eq!(
        (given.order.state.as_str(), given.order.who.as_deref()),
        ("assigned", Some("line crew 2"))
    );
    let again = assign(&mut store, "2231", "line crew 2", "hb", now()).unwrap_err();
    assert_eq!(again.kind, FailureKind::Usage);
    let asked = Done {
        what: "oil changed, tested 31 kV".to_string(),
        on: Some("2026-10-02".parse().unwrap()),
        by: None,
        entry: true,
    };
    let closed = done(&mut store, "2231", &asked, "mk", now()).unwrap();
    assert_eq!(closed.order.state, "done");
    assert_eq!(closed.order.closed, asked.on);
    assert_eq!(closed.order.who.as_deref(), Some("line crew 2"));
    assert_eq!(closed.order.overdue_days, None);
    // The word stands in the history of the unit, written by the same operation.
    let id = closed.entry.unwrap().parse().unwrap();
    let entry = store.by_id(id).unwrap().unwrap();
    match &entry.record {
        Record::Entry(e) => {
            assert_eq!(e.of, "7-20931");
            assert_eq!(e.on, asked.on);
            assert!(e.clears.is_empty(), "a word clears no defect");
            assert!(e.note.as_ref().unwrap().contains("order 2231"));
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(entry.op, operations(&store));
    let refused = assign(&mut store, "2231", "ls", "hb", now()).unwrap_err();
    assert!(refused.message.contains("is done since 2 Oct 2026"));
    assert!(refused.hints[0].contains("reopen"), "{refused:?}");
    let back = reopen(&mut store, "2231", "leaks again", "hb", now()).unwrap();
    assert_eq!(back.order.state, "open");
    assert_eq!((back.order.closed, back.order.who), (None, None));
    let note = back.order.note.unwrap();
    assert!(note.contains("tested 31 kV") && note.contains("leaks again"));
    let shown = show(&store, "2231", today()).unwrap();
    assert_eq!(shown.steps.len(), 4, "import, given, done, reopened");
    assert_eq!(shown.allowed, "assign, done or void");
}

#[test]
fn a_step_that_does_not_apply_or_says_nothing_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let before = operations(&store);
    let word = |what: &str| Done {
        what: what.to_string(),
        ..Done::default()
    };
    let on = |day: &str| Done {
        on: Some(day.parse().unwrap()),
        ..word("done")
    };
    let failures = [
        reopen(&mut store, "2231", "why not", "hb", now()),
        done(&mut store, "2231", &word(" "), "hb", now()),
        done(&mut store, "2231", &on("2026-10-04"), "hb", now()),
        done(&mut store, "2231", &on("2026-09-11"), "hb", now()),
        void(&mut store, "2231", "", "hb", now()),
        void(&mut store, "2240", "not needed", "hb", now()),
        assign(&mut store, "2231", " ", "hb", now()),
        assign(&mut store, "40-118", "ls", "hb", now()),
    ];
    for failure in failures {
        let failure = failure.unwrap_err();
        assert_ne!(failure.kind, FailureKind::Unusable, "{failure:?}");
    }
    assert_eq!(operations(&store), before);
}

#[test]
fn lists_put_overdue_first_and_meet_every_limit() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    let urgent = NewOrder {
        priority: Priority::Urgent,
        ..new("41-1", "replace the cutout door")
    };
    open_order(&mut store, &urgent, "hb", now()).unwrap();
    assert_eq!(
        numbers(&store, &Filter::default()),
        ["2231", "2241", "2236"]
    );
    let with = |change: &dyn Fn(&mut Filter)| {
        let mut filter = Filter::default();
        change(&mut filter);
        numbers(&store, &filter)
    };
    assert_eq!(with(&|f| f.feeder = Some("HB2".into())), ["2231", "2236"]);
    assert_eq!(with(&|f| f.feeder = Some("hb1".into())), ["2241"]);
    assert_eq!(with(&|f| f.who = Some("LS".into())), ["2236"]);
    assert_eq!(with(&|f| f.overdue = true), ["2231"]);
    assert_eq!(with(&|f| f.state = Some(OrderState::Done)), ["2240"]);
    assert_eq!(with(&|f| f.all = true).len(), 4);
    assert_eq!(with(&|f| f.priority = Some(Priority::Urgent)), ["2241"]);
    assert_eq!(
        with(&|f| f.due = Some("2026-11-30".parse().unwrap())),
        ["2231", "2241", "2236"]
    );
    // A pole has the orders of what hangs on it.
    assert_eq!(with(&|f| f.of = Some("40-118".into())), ["2231"]);
    assert_eq!(with(&|f| f.of = Some("HB2-RC-14".into())), ["2231"]);
    let nowhere = Filter {
        feeder: Some("ZZ9".into()),
        ..Filter::default()
    };
    let failure = list(&store, &nowhere, today()).unwrap_err();
    assert_eq!(failure.kind, FailureKind::NotFound);
}

#[test]
fn a_round_sheet_has_every_stop_and_no_formula() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = register(dir.path());
    open(&mut store, "40-118", "=2+5 is no need").unwrap();
    let near = polecard::work::edit::Asked {
        set: vec!["place.near==cmd".to_string()],
        why: "a landmark that looks like a formula".to_string(),
        ..polecard::work::edit::Asked::default()
    };
    polecard::work::edit::edit(&mut store, "40-118", &near, "hb", now()).unwrap();
    let clock = polecard::calendar::Clock::Fixed(now());
    let sheet = polecard::work::round::round(&store, "HB2", clock).unwrap();
    let stops: Vec<&str> = sheet.stops.iter().map(|s| s.structure.as_str()).collect();
    assert_eq!(stops, ["40-117", "40-118"]);
    let orders: Vec<&str> = sheet.stops[1]
        .orders
        .iter()
        .map(|o| o.order.as_str())
        .collect();
    assert_eq!(
        orders,
        ["2231", "2241"],
        "the unit's order is its pole's too"
    );
    let text = polecard::present::orders::round_csv(&sheet);
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    assert_eq!(rows.records().map(Result::unwrap).count(), 2);
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    for cell in rows.records().flat_map(|r| {
        let row = r.unwrap();
        row.iter().map(ToString::to_string).collect::<Vec<_>>()
    }) {
        assert!(!cell.starts_with(['=', '+', '-', '@']), "{cell}");
    }
    assert!(text.contains("2241") && text.contains("'=cmd"), "{text}");
}

#[test]
fn a_briefing_begins_with_stops_and_ends_with_the_safety_sentence() {
    let dir = tempfile::tempdir().unwrap();
    let store = register(dir.path());
    let clock = polecard::calendar::Clock::Fixed(now());
    let report = polecard::work::briefing::briefing(&store, "7-20931", clock).unwrap();
    assert_eq!(report.structure, "40-118");
    assert_eq!(report.asked_by.as_deref(), Some("7-20931"));
    let style = polecard::present::Style {
        width: 80,
        ascii: false,
    };
    let lines = polecard::present::briefing::pages(&report, style);
    assert!(lines.len() <= polecard::present::briefing::PAGE);
    assert!(lines.iter().all(|l| l.width() <= 80));
    assert!(
        lines[1]
            .plain()
            .starts_with(" STOP  HB2-RC-14: oil below mark")
    );
    let text: Vec<String> = lines.iter().map(polecard::present::Line::plain).collect();
    let text = text.join(" ");
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("order 2231 on 7-20931"));
    assert!(text.contains("not known, treat as live"), "{text}");
    assert!(text.ends_with(polecard::domain::finding::SAFETY), "{text}");
}

proptest::proptest! {
    /// Every structure once; along a line without branches each stop is next
    /// to the one before, whichever way its spans are recorded.
    #[test]
    fn walking_order_visits_each_structure_once(
        parents in proptest::collection::vec((proptest::prelude::any::<u16>(), proptest::prelude::any::<bool>()), 0..40)
    ) {
        use polecard::domain::asset::Span;
        let mut edges = Vec::new();
        let spans: Vec<Span> = parents.iter().enumerate().map(|(i, (p, turned))| {
            let (a, b) = (usize::from(*p) % (i + 1), i + 1);
            edges.push((a, b));
            let (from, to) = if *turned { (b, a) } else { (a, b) };
            serde_json::from_value(serde_json::json!({"span": {"from": format!("S{from:02}"), "to": format!("S{to:02}")}})).unwrap()
        }).collect();
        let names: Vec<String> = (0..=parents.len()).map(|i| format!("S{i:02}")).collect();
        let refs: Vec<&Span> = spans.iter().collect();
        let stops = polecard::domain::network::walking_order(Some("S00"), &names, &refs);
        let mut seen: Vec<String> = stops.iter().map(|s| s.structure.clone()).collect();
        proptest::prop_assert_eq!(&seen[0], "S00");
        for (i, stop) in stops.iter().enumerate().skip(1) {
            let here: usize = stops[i - 1].structure[1..].parse().unwrap();
            let on = edges.iter().filter(|(a, _)| *a == here).count();
            if on == 1 {
                proptest::prop_assert_eq!(stop.from.as_ref(), Some(&stops[i - 1].structure));
            }
        }
        seen.sort();
        proptest::prop_assert_eq!(seen, names);
    }
}
