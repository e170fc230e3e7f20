//! Interrupting duty: the table against what is remembered of it, and the
//! question `last` put through the register.

use polecard::calendar::Moment;
use polecard::domain::finding::{Question, Verdict};
use polecard::domain::upkeep::duty::{STANDARD, standard, wear_of};
use polecard::exchange::{Source, import};
use polecard::store::Store;
use polecard::work::check::{CheckReport, Typed, check};
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    name: String,
    interrupter: String,
    rated_amps: f64,
    continuous_amps: Option<f64>,
    #[serde(default)]
    operations: Vec<[f64; 2]>,
    function: String,
    expect: f64,
    tolerance: f64,
    source: String,
    standing: String,
}

#[test]
fn the_standard_duty_and_its_budgets_are_those_remembered() {
    let rows: Vec<Row> = serde_yaml::from_str(include_str!("scenarios/duty.yaml")).unwrap();
    for r in &rows {
        assert!(!r.source.is_empty(), "{}", r.name);
        assert!(["from memory", "computed"].contains(&r.standing.as_str()));
        let row = standard(&r.interrupter, r.rated_amps, r.continuous_amps).unwrap();
        let used: f64 = r
            .operations
            .iter()
            .map(|[n, amps]| n * wear_of(*amps, r.rated_amps))
            .sum();
        let got = match r.function.as_str() {
            "budget" => row.budget(),
            "operations" => row.bands.iter().map(|b| b.operations).sum(),
            "duty_factor" => row.duty_factor(r.rated_amps),
            "percent" => used / row.budget() * 100.0,
            other => panic!("no function {other}"),
        };
        assert!(
            (got - r.expect).abs() <= r.tolerance,
            "{}: {got}, not {}",
            r.name,
            r.expect
        );
    }
    let named: std::collections::BTreeSet<&str> = rows
        .iter()
        .map(|r| {
            standard(&r.interrupter, r.rated_amps, r.continuous_amps)
                .unwrap()
                .name
        })
        .collect();
    assert_eq!(named.len(), STANDARD.len(), "every row is tested");
}

const PLATE: &str = "interrupter: oil, control: hydraulic, coil_amps: 100, interrupting_amps: 4000, test_x_over_r: 8, max_kv: 15.5";
const FAULT: &str =
    "available_fault: {amps: 2000, x_over_r: 5, kind: three-phase, date: 2025-03-02}\n";

fn checked(plate: &str, fault: &str, entries: &[&str]) -> CheckReport {
    let mut text = format!(
        "---\nutility: Weirside Rural\n---\nfeeder: HB2\nkv_ll: 12.47\n---\nposition: HB2-RC-14\nclass: recloser\nfeeder: HB2\nphases: ABC\n{fault}---\nunit: 7-20931\nclass: recloser\nnameplate: {{{plate}}}\ndeployments: [{{at: HB2-RC-14, slot: ABC, from: 2018-06-04}}]\n"
    );
    for entry in entries {
        text.push_str(&format!("---\n{entry}\n"));
    }
    asked_of(&text, "HB2-RC-14")
}

fn asked_of(text: &str, id: &str) -> CheckReport {
    let dir = tempfile::tempdir().unwrap();
    std::fs::create_dir(dir.path().join("in")).unwrap();
    std::fs::write(dir.path().join("in/all.yaml"), text).unwrap();
    let mut store = Store::create(&dir.path().join("r.polecard")).unwrap();
    let now: Moment = "2026-10-03T14:10:00-06:00".parse().unwrap();
    let source = Source::at(&dir.path().join("in")).unwrap();
    import(&mut store, &source, "hb", now, false).unwrap();
    check(&store, id, &Typed::default(), now.date()).unwrap()
}

fn operated(on: &str, readings: &str) -> String {
    format!("entry: operation\nof: 7-20931\n\"on\": {on}\nreadings: {{{readings}}}")
}

fn counter(on: &str, counter: u32) -> String {
    format!("entry: counter\nof: 7-20931\n\"on\": {on}\nreadings: {{counter: {counter}}}")
}

fn answer(r: &CheckReport, q: Question) -> Verdict {
    r.questions.get(q).unwrap()
}

/// 10 x 1,500 A and 4 x 3,000 A of a 4 kA oil recloser: 19.9 %, by hand.
#[test]
fn the_terms_are_printed_so_that_they_can_be_redone_by_hand() {
    let (a, b) = (
        operated("2024-05-30", "trips: 10, amps: 1500"),
        operated("2025-05-30", "trips: 4, amps: 3000"),
    );
    let r = checked(PLATE, FAULT, &[&a, &b, &counter("2025-06-01", 14)]);
    let last = r.governing(Question::Last).unwrap();
    assert_eq!(last.rule, "last-duty");
    assert_eq!(last.verdict, Verdict::Within, "{}", last.because);
    assert!((last.value.unwrap() - 19.9).abs() < 0.1);
    assert_eq!((last.limit, last.unit), (Some(100.0), "%"));
    for part in [
        "10 x (1,500 / 4,000)^1.5 = 2.296",
        "4 x (3,000 / 4,000)^1.5 = 2.598",
        "4.894 of 24.65",
        "32 at 20 %, 24 at 55 %, 12 at 100 %",
    ] {
        assert!(last.because.contains(part), "{part}: {}", last.because);
    }
    assert_eq!(last.standing.word(), "from memory, unconfirmed");
}

#[test]
fn an_unrecorded_current_counts_at_the_available_fault_and_says_so() {
    let entries = [operated("2024-05-30", "trips: 4"), counter("2025-06-01", 4)];
    let entries: Vec<&str> = entries.iter().map(String::as_str).collect();
    let last = checked(PLATE, FAULT, &entries);
    let last = last.governing(Question::Last).unwrap();
    // 4 x (2,000 / 4,000)^1.5 = 1.414 of 24.65.
    assert!(
        (last.value.unwrap() - 5.737).abs() < 0.01,
        "{}",
        last.because
    );
    assert!(last.because.contains("counted at the available fault"));
    let none = checked(PLATE, "", &entries);
    assert_eq!(answer(&none, Question::Last), Verdict::Unknown);
    assert!(none.read_next.iter().any(|r| r.contains("available fault")));
}

#[test]
fn used_up_duty_fails_and_caps_what_it_breaks() {
    let spent = operated("2024-05-30", "trips: 25, amps: 4000");
    let r = checked(PLATE, FAULT, &[&spent, &counter("2025-06-01", 25)]);
    assert_eq!(answer(&r, Question::Last), Verdict::Fails);
    assert_eq!(answer(&r, Question::Break), Verdict::Unknown);
    let breaks = r.governing(Question::Break).unwrap();
    assert!(
        breaks.because.contains("duty is used up (101.4 %"),
        "{}",
        breaks.because
    );
    assert!(r.cautions.iter().any(|c| c.text.contains("fails last")));
    assert_eq!(r.exit_code(), 1);
    let renewed = "entry: maintenance\nof: 7-20931\n\"on\": 2025-01-10\nreadings: {interrupter: renewed, counter: 25}";
    let r = checked(PLATE, FAULT, &[&spent, renewed, &counter("2025-06-01", 25)]);
    assert_eq!(answer(&r, Question::Last), Verdict::Within);
    assert_eq!(answer(&r, Question::Break), Verdict::Within);
}

#[test]
fn what_is_unread_assumed_or_unlogged_never_passes() {
    let one = operated("2024-05-30", "trips: 1, amps: 1000");
    let read = counter("2025-06-01", 1);
    let with = |plate: &str| checked(plate, FAULT, &[&one, &read]);
    assert_eq!(answer(&with(PLATE), Question::Last), Verdict::Within);
    for (spoilt, read_next) in [
        (PLATE.replace("interrupter: oil, ", ""), "interrupter of"),
        (
            PLATE.replace("interrupter: oil", "interrupter: unknown"),
            "interrupter of",
        ),
        (
            PLATE.replace("interrupter: oil", "interrupter: gas"),
            "maker's duty",
        ),
        (
            PLATE.replace("interrupting_amps: 4000, ", ""),
            "interrupting rating of",
        ),
        (
            PLATE.replace(
                "interrupting_amps: 4000",
                "interrupting_amps: {value: 4000, standing: assumed, rule: by coil}",
            ),
            "interrupting",
        ),
        (
            PLATE.replace(
                "interrupter: oil",
                "interrupter: {value: oil, standing: assumed, rule: by year}",
            ),
            "interrupter of",
        ),
    ] {
        let r = with(&spoilt);
        assert_eq!(answer(&r, Question::Last), Verdict::Unknown, "{spoilt}");
        let next = r
            .governing(Question::Last)
            .unwrap()
            .read_next
            .clone()
            .unwrap();
        assert!(next.contains(read_next), "{next}");
    }
    let silent = checked(PLATE, FAULT, &[]);
    assert_eq!(answer(&silent, Question::Last), Verdict::Unknown);
    let more = checked(PLATE, FAULT, &[&one, &counter("2025-06-01", 40)]);
    let last = more.governing(Question::Last).unwrap();
    assert_eq!(last.verdict, Verdict::Unknown);
    assert!(
        last.because.contains("the 39 further operations"),
        "{}",
        last.because
    );
}

#[test]
fn a_register_says_of_other_devices_that_wear_is_not_judged() {
    let r = asked_of("---\nposition: HB2-BK-1\nclass: breaker\n", "HB2-BK-1");
    assert!(r.not_judged.iter().any(|n| n.question == Question::Last));
    assert_eq!(r.questions.get(Question::Last), None);
}
