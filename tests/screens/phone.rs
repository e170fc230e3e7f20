//! A phone is enough: every screen is reached, used and left by letters,
//! digits, enter and backspace, with the capitals, quotes and dashes that a
//! phone puts in; what is pasted goes into the field or is one find.

use super::rig::{Rig, demo};

/// A way to a screen in such keys, a text that stands on it, and whether a
/// text is typed there.
const WAYS: &[(&str, &str, bool)] = &[
    ("<enter>", "commands for the find prompt", false),
    ("<enter><enter>", "unfinished forms", false),
    ("<enter>j<enter>", "due by", false),
    ("<enter>jj<enter>", "orders, open", false),
    ("<enter>jjj<enter>", "notices", false),
    ("<enter>jjjj<enter>", "reports to decide", false),
    ("<enter>jjjjj<enter>", "findings", false),
    ("<enter>jjjjjj<enter>", "history of the register", false),
    ("tannery<enter>", ">1 ", false),
    ("hb2rc14<enter>", "OIL RECLOSER", false),
    ("hb2rc14<enter>i", "inspect 7-20931", false),
    ("hb2rc14<enter>i1", "inspect 7-20931", false),
    ("hb2fc1<enter>l", "fuse replaced", false),
    ("hb2rc14<enter>k", "correct HB2-RC-14", false),
    ("hb2rc14<enter>w", "orders, open on HB2-RC-14", false),
    ("hb2rc14<enter>wn", "new order", true),
    ("hb2rc14<enter>b", "briefing 40-118", false),
    ("hb2rc14<enter>x", "swap a unit at HB2-RC-14", true),
    ("hb2rc14<enter>y", "history of HB2-RC-14", false),
    ("hb2rc14<enter>yt", "take back", true),
    ("hb2rc14<enter>z", "report about HB2-RC-14", true),
    ("hb2rc14<enter>v", "findings about HB2-RC-14", false),
    ("hb2rc14<enter>u", "HB2-RC-14", false),
    ("hb2rc14<enter>c", "check HB2-RC-14", false),
    ("hb2rc14<enter>cl", "check HB2-RC-14", true),
    ("hb2rc14<enter>c<enter>", "FAILS", false),
    ("hb2rc14<enter>s", "times at", false),
    ("hb2rc14<enter>t", "NOT A SWITCHING ORDER", false),
    ("hb2rc14<enter>r", "heard >", true),
    ("hb2rc14<enter>n", "one mistake away from HB2-RC-14", false),
    ("hb2rc14<enter>o", "on and at HB2-RC-14", false),
    ("hb2rc14<enter>d", "reading of HB2-RC-14", false),
    ("hb2rc14<enter>h", "keys in a card", false),
    ("hb2rc14<enter>m", "commands for a card", false),
];

/// Backspaces that lead from any of them to an empty prompt.
const BACKS: usize = 24;

fn shows(rig: &Rig, text: &str) -> bool {
    let squeezed = |t: &str| t.split_whitespace().collect::<Vec<_>>().join(" ");
    squeezed(&rig.text()).contains(&squeezed(text))
}

/// The same keys as a phone sends them at the start of what it takes for
/// sentences.
fn in_capitals(script: &str) -> String {
    let mut out = String::new();
    for (i, part) in script.split('<').enumerate() {
        let (key, typed) = match part.split_once('>') {
            Some((key, typed)) if i > 0 => (format!("<{key}>"), typed),
            _ => (String::new(), part),
        };
        out += &key;
        out += &typed.to_uppercase();
    }
    out
}

#[test]
fn every_screen_is_reached_and_left_with_capitals_too() {
    let register = demo();
    for (script, text, _) in WAYS {
        for script in [(*script).to_string(), in_capitals(script)] {
            for (width, height) in [(80, 24), (50, 20)] {
                let mut rig = Rig::new(register.clone(), width, height);
                rig.keys(&script);
                assert!(shows(&rig, text), "{script} at {width}:\n{}", rig.text());
                for _ in 0..BACKS {
                    rig.keys("<backspace>");
                    assert_eq!(rig.exit(), None, "{script}: backspace left the program");
                }
                assert!(
                    shows(&rig, "find >") && shows(&rig, "Type a pole number"),
                    "{script}: backspace does not lead back:\n{}",
                    rig.text()
                );
                rig.keys("<enter>");
                assert!(shows(&rig, "commands for the find prompt"), "{script}");
            }
        }
    }
}

#[test]
fn a_paste_goes_into_the_field_or_is_one_find_on_every_screen() {
    let register = demo();
    let pasted = "\u{201c}40\u{2013}118\u{201d}\n";
    for (script, text, types) in WAYS {
        let mut rig = Rig::new(register.clone(), 80, 24);
        rig.keys(script);
        assert!(shows(&rig, text), "{script}:\n{}", rig.text());
        rig.paste(pasted);
        if *types {
            assert!(shows(&rig, text), "{script} was left:\n{}", rig.text());
            assert!(shows(&rig, "40-118"), "{script}:\n{}", rig.text());
            continue;
        }
        assert!(shows(&rig, "find >"), "{script}:\n{}", rig.text());
        assert!(
            shows(&rig, "40-118 pole, Tannery Rd"),
            "{script}:\n{}",
            rig.text()
        );
        rig.keys("<enter>");
        assert!(shows(&rig, "40-118 POLE"), "{script}:\n{}", rig.text());
    }
}

/// Where text is typed a letter is text; enter and backspace still lead on and
/// back, and the commands count again.
#[test]
fn a_field_takes_letters_as_text_and_gives_the_commands_back() {
    let register = demo();
    for (script, text, _) in WAYS.iter().filter(|w| w.2) {
        let mut rig = Rig::new(register.clone(), 50, 20);
        rig.keys(script);
        rig.keys("hmq");
        assert_eq!(rig.exit(), None, "{script}: a letter of a text left");
        assert!(shows(&rig, text), "{script}:\n{}", rig.text());
        assert!(shows(&rig, "hmq"), "{script}:\n{}", rig.text());
        rig.keys("<backspace><backspace><backspace>");
        assert!(!shows(&rig, "hmq"), "{script}:\n{}", rig.text());
        // An empty field: one step back, where letters are commands.
        rig.keys("<backspace>m");
        assert!(
            shows(&rig, "commands for") || shows(&rig, "find >"),
            "{script}:\n{}",
            rig.text()
        );
    }
}
