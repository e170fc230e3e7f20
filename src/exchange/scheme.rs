//! Numbering schemes in YAML: one document a scheme, first key `scheme:`.

use std::path::Path;

use serde::Deserialize;
use thiserror::Error;

use super::document::{Doc, ExchangeError, did_you_mean, typed};
use crate::domain::asset::{Record, RecordId, SchemeDoc};
use crate::domain::code::Scheme;

/// The schemes that come with the program: file name and text.
const SHIPPED: [(&str, &str); 3] = [
    (
        "hollin.yaml",
        include_str!("../../data/schemes/hollin.yaml"),
    ),
    ("tarn.yaml", include_str!("../../data/schemes/tarn.yaml")),
    (
        "carrow.yaml",
        include_str!("../../data/schemes/carrow.yaml"),
    ),
];

/// Why a scheme file is refused.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{file}:{line}: {reason}{}", hint.as_ref().map(|h| format!(" ({h})")).unwrap_or_default())]
pub struct SchemeError {
    pub file: String,
    /// Counted from 1, in the file.
    pub line: usize,
    pub reason: String,
    /// What was probably meant, or what is allowed.
    pub hint: Option<String>,
}

/// A scheme from the text of a file.
///
/// # Errors
/// [`SchemeError`] with the line of the fault.
pub fn parse_scheme(file: &str, text: &str) -> Result<Scheme, SchemeError> {
    parse_scheme_at(file, 1, text)
}

/// A scheme from one document that begins on line `first_line` of a file.
///
/// # Errors
/// [`SchemeError`] with the line of the fault, counted in the file.
pub fn parse_scheme_at(file: &str, first_line: usize, text: &str) -> Result<Scheme, SchemeError> {
    let refuse = |line: usize, reason: String, hint: Option<String>| SchemeError {
        file: file.to_string(),
        line: first_line + line.max(1) - 1,
        reason,
        hint,
    };
    let mut documents = serde_yaml::Deserializer::from_str(text);
    let empty = text.lines().nth(first_content(text)).is_none_or(is_bare);
    let document = documents.next().filter(|_| !empty);
    let Some(document) = document else {
        let reason = "the file holds no scheme".to_string();
        return Err(refuse(1, reason, None));
    };
    check_first_key(text).map_err(|(line, reason, hint)| refuse(line, reason, hint))?;
    let scheme = Scheme::deserialize(document).map_err(|error| {
        let line = error.location().map_or(1, |l| l.line());
        let (reason, hint) = explain(&error.to_string());
        refuse(line, reason, hint)
    })?;
    if documents.next().is_some() {
        let marker = text.lines().enumerate().skip(1);
        let line = marker
            .filter(|(i, l)| l.starts_with("---") && *i > first_content(text))
            .map(|(i, _)| i + 1)
            .next()
            .unwrap_or(1);
        let reason = "a scheme is one document; here a second one begins".to_string();
        return Err(refuse(line, reason, None));
    }
    Ok(scheme)
}

/// Whether a line is blank, a comment, a directive or a document marker.
fn is_bare(line: &str) -> bool {
    let line = line.trim();
    let marks = ["#", "---", "%"];
    line.is_empty() || marks.iter().any(|mark| line.starts_with(mark))
}

/// Index of the first line that says something; 0 if none does.
fn first_content(text: &str) -> usize {
    text.lines().position(|line| !is_bare(line)).unwrap_or(0)
}

/// A document names its kind by its first key.
fn check_first_key(text: &str) -> Result<(), (usize, String, Option<String>)> {
    let at = first_content(text);
    let line = text.lines().nth(at).unwrap_or_default().trim();
    let first = line.trim_start_matches('{').split(':').next();
    let key = first.unwrap_or_default().trim().trim_matches(['"', '\'']);
    if key == "scheme" {
        return Ok(());
    }
    let reason = format!("the first key must be `scheme:`; here it is {key:?}");
    Err((at + 1, reason, meant(key, &["scheme"])))
}

/// Takes the place out of a message (it is given apart) and, where the message
/// lists what is expected, turns the list into a hint.
fn explain(message: &str) -> (String, Option<String>) {
    let mut reason = message;
    if let Some(at) = reason.rfind(" at line ") {
        reason = &reason[..at];
    }
    // The path inside the document ("patterns[0].fields[2]: ") says less than the line.
    if let Some((path, rest)) = reason.split_once(": ")
        && path
            .bytes()
            .all(|b| b.is_ascii_alphanumeric() || b"_.[]".contains(&b))
    {
        reason = rest;
    }
    let Some((told, list)) = reason
        .split_once(", expected one of ")
        .or_else(|| reason.split_once("`, expected `"))
    else {
        return (reason.to_string(), None);
    };
    let allowed: Vec<&str> = list
        .split(", ")
        .map(|word| word.trim_matches(['`', ' ']))
        .collect();
    let wrong = told
        .rsplit('`')
        .find(|part| !part.is_empty())
        .unwrap_or_default();
    let told = if told.matches('`').count() % 2 == 1 {
        format!("{told}`")
    } else {
        told.to_string()
    };
    let told = told.replace("unknown field", "unknown key");
    let told = told.replace("unknown variant", "unknown value");
    let every = format!("allowed: {}", allowed.join(", "));
    let hint = match meant(wrong, &allowed) {
        Some(guess) => format!("{guess}; {every}"),
        None => every,
    };
    (told, Some(hint))
}

/// "did you mean", when something allowed is near enough.
fn meant(wrong: &str, allowed: &[&str]) -> Option<String> {
    let guess = did_you_mean(wrong, allowed.iter().copied());
    let bare = guess.trim_matches([' ', '(', ')']);
    (!bare.is_empty()).then(|| bare.to_string())
}

/// The record a scheme document makes: the scheme is checked, then kept in its
/// canonical form.
///
/// # Errors
/// With file and line, as [`parse_scheme`].
pub fn scheme_record(doc: &Doc, file: &Path) -> Result<Record, ExchangeError> {
    #[derive(Deserialize)]
    struct Kept {
        #[serde(default)]
        id: RecordId,
    }
    let name = file.display().to_string();
    let scheme = parse_scheme_at(&name, doc.line, &doc.text)?;
    let kept: Kept = typed(doc, file, Kept::deserialize)?;
    let body = scheme.body().map_err(|fault| ExchangeError::At {
        file: name,
        line: doc.line,
        why: fault.to_string(),
    })?;
    Ok(Record::Scheme(SchemeDoc {
        scheme: scheme.scheme,
        id: kept.id,
        body,
    }))
}

impl From<SchemeError> for ExchangeError {
    fn from(error: SchemeError) -> ExchangeError {
        let hint = error.hint.map(|h| format!(" ({h})")).unwrap_or_default();
        ExchangeError::At {
            file: error.file,
            line: error.line,
            why: format!("{}{hint}", error.reason),
        }
    }
}

/// The schemes that come with the program.
///
/// # Errors
/// [`SchemeError`], should a shipped file be broken; a test reads them all.
pub fn shipped() -> Result<Vec<Scheme>, SchemeError> {
    SHIPPED
        .iter()
        .map(|(file, text)| parse_scheme(file, text))
        .collect()
}

/// File name and text of every shipped scheme.
pub fn shipped_files() -> &'static [(&'static str, &'static str)] {
    &SHIPPED
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exchange::{Documents, document, record};

    const HEAD: &str = "scheme: demo\ntitle: A demonstration\npatterns:\n";

    fn refused(text: &str) -> SchemeError {
        parse_scheme("demo.yaml", text).unwrap_err()
    }

    /// Line, part of the reason and part of the hint ("" for none) of a refusal.
    fn check(text: &str, line: usize, reason: &str, hint: &str) {
        let error = refused(text);
        let said = error.to_string();
        assert_eq!(error.line, line, "{said}");
        assert!(error.reason.contains(reason), "{said}");
        let given = error.hint.clone().unwrap_or_default();
        assert!(
            given.contains(hint) && hint.is_empty() == given.is_empty(),
            "{said}"
        );
        assert!(said.starts_with(&format!("demo.yaml:{line}: ")), "{said}");
    }

    fn pattern(fields: &str) -> String {
        format!("{HEAD}- name: pole\n  names: structure\n  fields:\n{fields}")
    }

    #[test]
    fn an_unknown_key_is_named_with_what_was_meant() {
        let text = pattern("  - field: sheet\n    digts: 2\n");
        check(&text, 8, "unknown key `digts`", "did you mean \"digits\"?");
        check(
            &format!("colour: red\n{HEAD}"),
            1,
            "first key must be `scheme:`",
            "",
        );
        let text = "scheme: demo\ntitel: x\npatterns: []\n";
        check(text, 2, "unknown key `titel`", "did you mean \"title\"?");
    }

    #[test]
    fn an_unknown_kind_or_method_is_named_with_what_is_allowed() {
        let text = format!("{HEAD}- name: a\n  names: structur\n  fields: []\n");
        check(&text, 5, "`structur`", "did you mean \"structure\"?");
        let text =
            pattern("  - {field: a, digits: 3}\n  - field: c\n    check:\n      method: lhun\n");
        check(&text, 10, "`lhun`", "did you mean \"luhn\"?");
    }

    #[test]
    fn an_empty_list_of_codes_is_refused() {
        check(
            &pattern("  - field: class\n    codes: {}\n"),
            8,
            "list of codes is empty",
            "",
        );
        check(
            &pattern("  - field: class\n    codes: {RC: a, RC: b}\n"),
            8,
            "listed twice",
            "",
        );
        check(
            &pattern("  - field: class\n    codes: {rc: a}\n"),
            8,
            "capitals and digits",
            "",
        );
    }

    #[test]
    fn separators_that_meet_or_stand_at_an_end_are_refused() {
        let digits = "  - {field: a, digits: 2}\n";
        let dash = "  - separator: \"-\"\n";
        check(
            &pattern(&format!(
                "{digits}{dash}{dash}  - {{field: b, digits: 2}}\n"
            )),
            4,
            "overlap",
            "",
        );
        check(
            &pattern(&format!("{digits}{dash}")),
            4,
            "stands at an end",
            "",
        );
        check(
            &pattern(&format!("{digits}  - separator: X\n")),
            8,
            "separator \"X\"",
            "",
        );
    }

    #[test]
    fn a_width_that_runs_backwards_is_refused() {
        check(
            &pattern("  - field: a\n    digits: 3-1\n"),
            8,
            "runs from 3 down to 1",
            "",
        );
        check(
            &pattern("  - field: a\n    digits: 0\n"),
            8,
            "allows none",
            "",
        );
        check(
            &pattern("  - field: a\n    digits: few\n"),
            8,
            "neither a number",
            "",
        );
        check(&pattern("  - field: a\n    digits: 99\n"), 8, "over 40", "");
    }

    #[test]
    fn fields_nothing_tells_apart_are_refused() {
        let text = pattern("  - {field: a, digits: 1-3}\n  - {field: b, digits: 2}\n");
        check(&text, 4, "run together", "");
        let part = "  - optional:\n    - {field: b, digits: 1}\n";
        let other = part.replace("field: b", "field: c");
        let text = pattern(&format!("  - {{field: a, digits: 2}}\n{part}{other}"));
        check(&text, 4, "written alike", "");
    }

    #[test]
    fn repeated_names_are_refused_where_they_stand() {
        let one = "- name: pole\n  names: structure\n  fields:\n  - {field: a, digits: 2}\n";
        check(
            &format!("{HEAD}{one}{one}"),
            8,
            "two patterns are named \"pole\"",
            "",
        );
        let twice = "  - {field: a, digits: 2}\n  - {field: a, letters: 2}\n";
        check(&pattern(twice), 4, "two fields named \"a\"", "");
    }

    #[test]
    fn a_scheme_without_patterns_or_name_is_refused() {
        check(
            "scheme: demo\ntitle: x\npatterns: []\n",
            3,
            "no patterns",
            "",
        );
        check("scheme: demo\ntitle: x\n", 1, "no patterns", "");
        check("scheme: ''\ntitle: x\n", 1, "no name", "");
        check("scheme: demo\npatterns: []\n", 2, "no patterns", "");
    }

    #[test]
    fn an_element_is_one_thing() {
        check(
            &pattern("  - {field: a, digits: 2, letters: 2}\n"),
            7,
            "exactly one of",
            "",
        );
        check(&pattern("  - {digits: 2}\n"), 7, "has no name", "");
        check(
            &pattern("  - {field: a, digits: 2, alphabet: AB}\n"),
            7,
            "letters",
            "",
        );
        check(
            &format!("{HEAD}- name: a\n  names: unit\n  fields: []\n"),
            4,
            "has no fields",
            "",
        );
    }

    #[test]
    fn an_example_must_fit_and_a_check_must_be_computable() {
        let text = format!(
            "{HEAD}- name: u\n  names: unit\n  example: '79927398710'\n  fields:\n  - {{field: n, digits: 10}}\n  - {{field: c, check: {{method: luhn}}}}\n"
        );
        check(&text, 4, "\"c\" would be 3", "");
        let text = pattern(
            "  - {field: n, digits: 3}\n  - field: c\n    check: {method: luhn, over: [m]}\n",
        );
        check(&text, 4, "no field has that name", "");
        let text =
            pattern("  - {field: n, digits: 3}\n  - field: c\n    check: {method: weighted}\n");
        check(&text, 8, "needs `alphabet:` and `weights:`", "");
    }

    #[test]
    fn what_is_no_scheme_is_refused() {
        check("", 1, "holds no scheme", "");
        check(
            "shceme: demo\n",
            1,
            "first key must be `scheme:`",
            "did you mean \"scheme\"?",
        );
        check("---\nposition: HB2\n", 2, "first key must be `scheme:`", "");
        check("scheme: [a]\n", 1, "expected a string", "");
        check(
            "scheme: demo\ntitle: \"x\npatterns: 1\n",
            4,
            "quoted scalar",
            "",
        );
        let two = format!("{}---\nscheme: b\n", pattern("  - {field: a, digits: 2}\n"));
        check(&two, 8, "second one begins", "");
        check(
            "scheme: demo\ntitle: x\nconfusable: [O]\n",
            3,
            "group of confusable",
            "",
        );
        let error = parse_scheme_at("big.yaml", 100, "scheme: x\ntitel: y\n").unwrap_err();
        assert_eq!(error.line, 101);
    }

    #[test]
    fn a_scheme_passes_through_its_record_and_its_canonical_yaml_unchanged() {
        for (file, text) in SHIPPED {
            let scheme = parse_scheme(file, text).unwrap();
            let doc = |text: &str| {
                let documents = Documents::new(text.as_bytes(), Path::new(file));
                documents.map(Result::unwrap).next().unwrap()
            };
            let record = scheme_record(&doc(text), Path::new(file)).unwrap();
            let Record::Scheme(kept) = &record else {
                panic!("not a scheme: {record:?}");
            };
            assert_eq!(Scheme::from_body(&kept.scheme, &kept.body).unwrap(), scheme);
            let yaml = document(&serde_json::to_value(kept).unwrap());
            let again = scheme_record(&doc(&yaml), Path::new(file)).unwrap();
            assert_eq!(again, record, "{yaml}");
        }
    }

    #[test]
    fn a_bad_scheme_document_is_refused_like_any_record() {
        let text = "---\nunit: 7-1\n---\nscheme: x\ntitel: y\n";
        let mut documents = Documents::new(text.as_bytes(), Path::new("all.yaml"));
        let doc = documents.nth(1).unwrap().unwrap();
        let said = record(&doc, Path::new("all.yaml")).unwrap_err().to_string();
        assert!(
            said.starts_with("all.yaml:5: unknown key `titel`"),
            "{said}"
        );
    }
}
