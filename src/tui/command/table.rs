//! The table of commands: which key is what, where, and when it applies.

use super::{About, Applies, Command, Id, Place};
use crate::domain::asset::Kind;

const fn yes(_: &About) -> Applies {
    Applies::Yes
}

fn needs_record(about: &About) -> Applies {
    match about.kind {
        Some(_) => Applies::Yes,
        None => Applies::No("there is no record to do that with; find one first"),
    }
}

fn needs_rows(about: &About) -> Applies {
    if about.rows > 0 {
        Applies::Yes
    } else {
        Applies::No("there is no row to do that with")
    }
}

fn checkable(about: &About) -> Applies {
    match about.kind {
        Some(Kind::Position | Kind::Unit) => Applies::Yes,
        None => needs_record(about),
        Some(_) => Applies::No("only a position, or the unit at one, can be checked; o lists them"),
    }
}

fn timed(about: &About) -> Applies {
    match about.kind {
        Some(Kind::Position | Kind::Unit) => Applies::Yes,
        None => needs_record(about),
        Some(_) => Applies::No("only a position, or the unit at one, has times; o lists them"),
    }
}

fn traceable(about: &About) -> Applies {
    match about.kind {
        Some(Kind::Position | Kind::Unit | Kind::Structure) => Applies::Yes,
        None => needs_record(about),
        Some(_) => Applies::No("only a structure, a position or a unit at one can be traced"),
    }
}

fn inspectable(about: &About) -> Applies {
    match about.kind {
        Some(Kind::Position | Kind::Unit | Kind::Structure) => Applies::Yes,
        None => needs_record(about),
        Some(_) => Applies::No("only a structure, a position or a unit is inspected"),
    }
}

fn proposed(about: &About) -> Applies {
    if about.rows > 0 {
        Applies::Yes
    } else {
        Applies::No("no order is proposed, or all are made")
    }
}

fn briefed(about: &About) -> Applies {
    match about.kind {
        Some(Kind::Position | Kind::Unit | Kind::Structure) => Applies::Yes,
        None => needs_record(about),
        Some(_) => Applies::No("a briefing is of a structure, or of what hangs on one"),
    }
}

fn fused(about: &About) -> Applies {
    match about.kind {
        Some(Kind::Position | Kind::Unit) => Applies::Yes,
        None => needs_record(about),
        Some(_) => Applies::No("fuse links are recorded at positions; o lists those on it"),
    }
}

fn swappable(about: &About) -> Applies {
    match about.kind {
        Some(Kind::Position | Kind::Unit) => Applies::Yes,
        None => needs_record(about),
        Some(_) => Applies::No("a unit is swapped at a position; o lists those on it"),
    }
}

fn inspected(about: &About) -> Applies {
    match about.kind {
        Some(Kind::Structure | Kind::Position | Kind::Unit | Kind::Feeder) => Applies::Yes,
        None => needs_record(about),
        Some(_) => Applies::No("only a structure, a device, a unit or a feeder comes due"),
    }
}

use super::Place::{
    Answer, Card, Choice, Commands, Concluded, Conflict, Due, Edit, Field, Findings, Form, Heard,
    Help, History, Inspect, List, Notices, Orders, Query, Reports, Review, Rows, Text, Unfinished,
};

const ALL_PLACES: &[Place] = Place::ALL;
/// Lists and forms in which a row is marked.
const MARKED: &[Place] = &[
    Query, List, Rows, Commands, Form, Inspect, Edit, Orders, Due, Notices, Reports, History,
    Findings, Conflict, Unfinished, Choice,
];
const LISTS: &[Place] = &[
    List, Rows, Commands, Orders, Due, Notices, Reports, History, Findings, Unfinished,
];
const PAGED: &[Place] = &[
    Query, List, Rows, Commands, Inspect, Edit, Orders, Due, Notices, Reports, History, Findings,
    Unfinished, Choice,
];
const TOP: &[Place] = &[
    List,
    Rows,
    Card,
    Text,
    Help,
    Commands,
    Inspect,
    Edit,
    Orders,
    Due,
    Notices,
    Reports,
    History,
    Findings,
    Concluded,
    Unfinished,
    Place::Times,
];
const PICKED: &[Place] = &[
    List, Rows, Orders, Due, Notices, Reports, History, Findings, Unfinished, Choice,
];
const FINDING: &[Place] = &[
    List,
    Rows,
    Card,
    Text,
    Orders,
    Due,
    Notices,
    Reports,
    History,
    Findings,
    Concluded,
    Unfinished,
    Choice,
    Place::Times,
];
const TYPED: &[Place] = &[Query, Field, Heard, Answer];
const UNTYPED: &[Place] = &[
    List,
    Rows,
    Card,
    Text,
    Form,
    Help,
    Commands,
    Inspect,
    Edit,
    Orders,
    Due,
    Notices,
    Reports,
    History,
    Findings,
    Review,
    Concluded,
    Conflict,
    Unfinished,
    Choice,
    Place::Times,
];
const READING: &[Place] = &[Card, Text, Help, Concluded, Place::Times];
const LETTERS: &[Place] = &[
    List,
    Rows,
    Card,
    Text,
    Form,
    Inspect,
    Edit,
    Orders,
    Due,
    Notices,
    Reports,
    History,
    Findings,
    Review,
    Concluded,
    Conflict,
    Unfinished,
    Choice,
    Place::Times,
];
/// Names for many places at once, the widest first.
const GROUPS: &[(&str, &[Place])] = &[
    ("everywhere", ALL_PLACES),
    ("wherever nothing is being typed", UNTYPED),
    ("wherever something is typed", TYPED),
    ("every list", LISTS),
    ("every text", READING),
];

/// The places by name, whole groups by the name of the group.
pub(super) fn grouped(places: &[Place]) -> Vec<&'static str> {
    let mut rest: Vec<Place> = places.to_vec();
    let mut names = Vec::new();
    for (name, group) in GROUPS {
        if group.iter().all(|p| rest.contains(p)) {
            rest.retain(|p| !group.contains(p));
            names.push(*name);
        }
    }
    names.extend(rest.iter().map(|p| p.name()));
    names
}

/// Where the commands stand that are about the whole register.
const UTILITY: &[Place] = &[Query, List, Card];

macro_rules! table {
    ($($id:ident $name:literal, [$($key:literal),*], $places:expr, $hint:literal, $applies:expr, $sentence:literal;)*) => {
        /// The table. Its order is the order in help and in the README.
        pub static TABLE: &[Command] = &[$(Command {
            id: Id::$id,
            name: $name,
            sentence: $sentence,
            keys: &[$($key),*],
            places: $places,
            hint: $hint,
            applies: $applies,
        },)*];
    };
}

table! {
    Enter "go", ["enter"], &[Query], "go", yes,
        "Opens the match if it is the only one or bears the number typed, else goes into the list. With nothing typed: the commands. With nothing found: how the number can be read.";
    Open "open", ["enter"], LISTS, "open", needs_rows,
        "Opens the row that is marked.";
    Pick "open by digit", ["1", "2", "3", "4", "5", "6", "7", "8", "9"], PICKED, "", needs_rows,
        "Opens the row with that digit.";
    Next "next row", ["j", "down", "ctrl-n", "tab"], MARKED, "next", needs_rows,
        "Marks the next row.";
    Previous "previous row", ["p", "up", "ctrl-p", "shift-tab"], MARKED, "", needs_rows,
        "Marks the row before.";
    HalfDown "half a page down", ["j", "enter", "down", "pagedown", "space"], READING, "down", yes,
        "Moves half a page down.";
    HalfDown "half a page down", ["v", "pagedown", "ctrl-d"], PAGED, "", needs_rows,
        "Moves half a page down the list.";
    HalfUp "half a page up", ["p", "up", "pageup"], READING, "", yes,
        "Moves half a page up.";
    HalfUp "half a page up", ["u", "pageup", "ctrl-b"], PAGED, "", needs_rows,
        "Moves half a page up the list.";
    Top "to the top", ["g", "home"], TOP, "", yes,
        "Moves to the top.";
    End "to the end", ["e", "end"], TOP, "", yes,
        "Moves to the end.";
    Keep "keep the value", ["enter", "down", "tab"], &[Field, Answer], "keep", yes,
        "Keeps what was typed and marks the next line of the form.";
    Compare "compare", ["enter"], &[Heard], "compare", yes,
        "Holds what was heard against the record; with nothing typed goes one step back.";
    Check "check", ["c"], &[List, Rows, Card], "check", checkable,
        "Asks whether a load and a fault are within what every plate in the path carries, breaks and stands.";
    Inspect "inspect", ["i"], &[List, Card], "inspect", inspectable,
        "Records what was seen of it, with single keys: a patrol, a detailed or an intrusive inspection. At a position with one unit, of the unit.";
    Trace "trace", ["t"], &[List, Rows, Card], "trace", traceable,
        "Shows every recorded way it can be fed, and what it feeds. Not a switching order.";
    ReadBack "read back", ["r"], &[List, Rows, Card], "read back", needs_record,
        "Type what was read back over the radio: match or mismatch.";
    Neighbours "near neighbours", ["n"], &[List, Rows, Card], "near", needs_record,
        "Lists the records whose numbers are one mistake away.";
    Related "on and at", ["o"], &[List, Rows, Card], "on it", needs_record,
        "Lists what hangs on it, where it hangs, and the units at it.";
    Say "radio line", ["s"], &[List], "say", needs_record,
        "Shows in the preview how it is said over the radio, or its usual rows again.";
    Decode "read the number", ["d"], &[List, Rows, Card], "", needs_record,
        "Shows what each character of the number means, and what it would be under the other patterns.";
    Times "times", ["s"], &[Card, Text], "times", timed,
        "Shows how long each device on the way takes at a fault, the curves, and which clears first.";
    TimesFault "fault current", ["a"], &[Place::Times], "fault", yes,
        "Type the fault current at which times are worked out, in amperes; emptied, the recorded study counts.";
    TimesKind "kind of fault", ["k"], &[Place::Times], "kind", yes,
        "Steps through the kinds of fault: to ground, ground elements are timed too.";
    TimesMinimum "minimum fault", ["n"], &[Place::Times], "min. fault", yes,
        "Type the smallest fault at which pairs are judged too, in amperes.";
    SaveCurves "save the curves", ["s"], &[Place::Times], "save SVG", yes,
        "Writes the curves as SVG into a file that is not there yet.";
    FieldDigit "type a current", ["1", "2", "3", "4", "5", "6", "7", "8", "9"], &[Place::Times], "", yes,
        "Types the fault current at which times are worked out.";
    Unfinished "unfinished forms", [], UTILITY, "", yes,
        "Lists the forms that were begun and not written: after a lost link each answer that showed as saved is there.";
    AllDue "all due", [], &[Query, List, Card], "", yes,
        "Lists what is due in the whole register, never done first.";
    AllOrders "all orders", [], UTILITY, "", yes,
        "Lists the open work orders of the whole register, overdue first.";
    Notices "notices", [], UTILITY, "", yes,
        "Lists the hazard notices: what each hits, what it may hit, who has read it.";
    AllReports "reports", [], &[Query, List, Card], "", yes,
        "Lists the corrections proposed from the field, alike ones together.";
    Findings "all findings", [], &[Query, List, Card], "", yes,
        "Verifies the register: what is wrong with its records, why it matters and what to do.";
    WholeLog "whole log", [], &[Query, List, Card], "", yes,
        "Lists the newest operations of the whole register.";
    Swap "swap a unit", ["x"], &[List, Card], "", swappable,
        "Takes a unit out of a position and puts another in, as one operation that can be taken back.";
    History "history", ["y"], &[List, Card], "", needs_record,
        "Lists who changed what on it, when, from when and why; each operation can be taken back.";
    TakeBack "take back", ["t"], &[Place::History], "take back", needs_rows,
        "Takes the operation back by a new one, with a reason.";
    TakeBack "take back", ["t"], &[Choice], "", needs_rows,
        "Takes back what was written at this step.";
    AsThen "as of then", ["a"], &[Place::History], "as of then", needs_rows,
        "Shows the card of the record as it stood right after that operation.";
    OtherDay "other day", ["d"], &[Place::History], "other day", yes,
        "Asks for a day and shows the history of the record as the register told it then, or as it was that day by what is known now.";
    OtherDay "on another day", [], UTILITY, "", needs_record,
        "Asks for a day and shows the card as the register told it then, or as it was that day by what is known now.";
    FindingsOf "findings about it", ["v"], &[Card], "", needs_record,
        "Lists what verifying finds wrong with this record.";
    Fix "mend", ["x"], &[Place::Findings], "mend", needs_rows,
        "Shows what would mend it, where that is certain, and writes it down; else opens the record and says what to do.";
    Choose "choose", ["enter"], &[Choice], "choose", needs_rows,
        "Takes what is marked.";
    DueOf "due of it", ["u"], &[Card], "", inspected,
        "Lists what is due of it: inspections, tests, repairs, each with its reason.";
    DueOrder "order", ["o"], &[Due], "order", needs_rows,
        "Opens a work order for the item that is marked.";
    DueAhead "look ahead", ["d"], &[Due], "date", yes,
        "Moves the day on: by a month, three, six, a year, two, five, and back to today.";
    DueFeeder "feeder", ["l"], &[Due], "feeder", yes,
        "Steps through the feeders, and back to all of them.";
    DueKind "kind", ["k"], &[Due], "kind", yes,
        "Steps through the kinds of work, and back to all of them.";
    OrdersOf "orders on it", ["w"], &[List, Card], "", needs_record,
        "Lists the work orders on it and on what goes with it; opens a new one.";
    Briefing "briefing", ["b"], &[List, Card], "", briefed,
        "One page about the structure: STOPs, hazards of the place, circuits, every recorded source, unread plates, orders.";
    NewOrder "new order", ["n"], &[Orders], "new", yes,
        "Opens an order on the record of the list, or of the marked order: the need, how pressing, by when.";
    AssignOrder "give", ["a"], &[Orders], "give", needs_rows,
        "Gives the marked order to somebody.";
    DoneOrder "done", ["x"], &[Orders], "done", needs_rows,
        "Closes the marked order with a word of what was done.";
    Briefing "briefing", ["b"], &[Orders], "briefing", needs_rows,
        "One page about the structure of the marked order.";
    VoidOrder "void", ["o"], &[Orders], "", needs_rows,
        "Closes the marked order without its being done, with the reason.";
    ReopenOrder "reopen", ["r"], &[Orders], "", needs_rows,
        "Opens a closed order again, with the reason.";
    OrderDetails "details", ["d"], &[Orders], "details", needs_rows,
        "Shows the marked order whole, with the steps of its life.";
    MyOrders "mine", ["s"], &[Orders], "mine", yes,
        "Shows only the orders given to you; again shows all open ones.";
    OverdueOrders "overdue", ["l"], &[Orders], "overdue", yes,
        "Shows only the orders whose day has passed; again shows all open ones.";
    ClosedOrders "closed too", ["c"], &[Orders], "", yes,
        "Shows the closed orders too; again leaves them out.";
    ReadNotice "read by me", ["r"], &[Place::Notices], "read by me", needs_rows,
        "Records that you have read the marked notice.";
    Again "read again", ["a"], &[Card], "", yes,
        "Reads the card again from the register.";
    Report "report", ["z"], &[List, Rows, Card], "", needs_record,
        "Proposes a correction of it to the records clerk; also where the register may only be read.";
    ReportAccept "accept", ["a"], &[Reports], "accept", needs_rows,
        "Takes the marked report into the register as proposed; what was changed since is left to choose.";
    ReportAcceptAlike "accept alike", ["y"], &[Reports], "all alike", needs_rows,
        "Takes all alike reports into the register as one operation, which can be taken back as one.";
    ReportRefuse "refuse", ["r"], &[Reports], "refuse", needs_rows,
        "Refuses the marked report, or all of the marked group, with a reason.";
    ReportAmend "amend", ["k"], &[Reports], "amend", needs_rows,
        "Takes the marked report in with another value.";
    ReportTakeBack "take back", ["b"], &[Reports], "", yes,
        "Takes back the refusal of the marked report, or the operation by which it was taken in, else the last one made here; its reports wait again.";
    ReportRecord "its record", ["o"], &[Reports], "record", needs_rows,
        "Opens the card of the record that the marked report is about.";
    ReportsDecided "decided ones", ["s"], &[Reports], "decided", yes,
        "Shows the reports that were decided, or again those that wait.";
    Judge "judge", ["enter"], &[Form], "judge", yes,
        "Judges by the values of the form; where nothing is typed, by those on record.";
    FieldLoad "load", ["l"], &[Form], "load", yes,
        "Type the load to judge by, in amperes.";
    FieldFault "fault", ["f"], &[Form], "fault", yes,
        "Type the fault current to judge by, in amperes.";
    FieldKind "kind of fault", ["k"], &[Form], "kind", yes,
        "Steps through the kinds of fault.";
    FieldXr "X/R", ["x"], &[Form], "", yes,
        "Type the X/R of the system at the fault.";
    FieldMinimum "minimum fault", ["n"], &[Form], "", yes,
        "Type the smallest fault that has to be seen, in amperes.";
    FieldVoltage "voltage", ["v"], &[Form], "", yes,
        "Type the greatest operating voltage, line to line, in kilovolts.";
    FieldOutage "outage", ["o"], &[Form], "", yes,
        "Type how long the outage lasted, in minutes: inrush and cold load are judged too.";
    FieldFaultTime "fault-on time", ["t"], &[Form], "", yes,
        "Type for how long the fault stays on over the whole sequence, in seconds: heat is judged too.";
    FieldUnbalance "load unbalance", ["u"], &[Form], "", yes,
        "Type the load unbalance as a ground relay has it, in amperes; without one the whole load of a phase counts.";
    FieldBypass "bypass", ["b"], &[Form], "bypass", yes,
        "Judges as bypassed, or as normal again.";
    FieldDigit "type a number", ["1", "2", "3", "4", "5", "6", "7", "8", "9", "0"], &[Form], "", yes,
        "Types a number into the line that is marked.";
    LinkReplaced "fuse replaced", ["l"], &[List, Card], "", fused,
        "Records a fuse replaced: link found, link put in. Where the record says another link, proposes the correction.";
    Correct "correct", ["k"], &[List, Card], "", needs_record,
        "The fields of the record, each with its rule and last change: a new value, confirmed as it is, or erased; with a reason.";
    Correct "correct", ["k"], &[Concluded], "", yes,
        "Opens the form of the fields of what the entry is about, with the proposed correction if there is one.";
    ClearStop "clear the STOP", ["c"], &[Concluded], "", yes,
        "Clears a STOP that the entry left standing, with a second person, who is named.";
    MakeOrder "make the order", ["o"], &[Concluded], "order", proposed,
        "Opens the order that the entry calls for; where one alike is open, says which.";
    Finish "done", ["enter"], &[Inspect], "done", yes,
        "Looks over what was answered, to be written; in a short form writes it.";
    Finish "write", ["enter"], &[Review], "write", yes,
        "Writes what is shown into the register.";
    Reasons "done", ["w"], &[Edit], "done", yes,
        "Goes on to the reason, to who read it and from what; then it is written.";
    Letter "answer a line", ["a", "b", "c", "d", "f", "i", "k", "l", "n", "o", "r", "s", "t", "w", "x", "y", "z"], &[Inspect], "", yes,
        "Marks the line with that letter; a figure or text is typed, a choice is answered by its digit.";
    FieldDigit "answer by digit", ["1", "2", "3", "4", "5", "6", "7", "8", "9", "0"], &[Inspect, Edit], "", yes,
        "Answers the marked line by the digit of a choice, 0 for unknown, the same digit again to take it back; where a figure is asked, begins it.";
    FieldDigit "begin a figure", ["-"], &[Inspect, Edit], "", yes,
        "Begins a figure below zero where one is asked.";
    HalfDown "half a page down", ["j", "down", "pagedown", "space"], &[Review], "down", yes,
        "Moves half a page down.";
    HalfUp "half a page up", ["p", "up", "pageup"], &[Review], "", yes,
        "Moves half a page up.";
    TypeValue "type a value", ["enter"], &[Edit], "type", yes,
        "Types a new value for the marked field. A blank never erases: with nothing typed the field stays as it is on record.";
    Confirm "confirmed as is", ["c"], &[Edit], "as is", yes,
        "The field was read again and is as recorded: it gets the reader and the day. Again takes it back.";
    EraseValue "erase the value", ["x"], &[Edit], "", yes,
        "The value of the marked field leaves the record. Again takes it back.";
    Theirs "the record's", ["t"], &[Conflict], "theirs", yes,
        "The value on record stays; yours is dropped.";
    Mine "mine", ["w"], &[Conflict], "mine", yes,
        "Your value is written over the one on record.";
    Discard "discard", ["x"], &[Unfinished], "discard", needs_rows,
        "Throws the marked form away, after asking.";
    Erase "erase", ["backspace"], &[Query, Field, Answer], "", yes,
        "Erases the character before; in an empty field goes one step back.";
    Erase "erase", ["backspace"], &[Heard], "erase, back when empty", yes,
        "Erases the character before; in an empty field goes one step back.";
    ClearLine "clear", ["ctrl-u"], TYPED, "", yes,
        "Clears what was typed. Esc clears nothing; without Ctrl, f in the list starts an empty prompt.";
    ClearWord "clear a word", ["ctrl-w"], TYPED, "", yes,
        "Clears the last word typed.";
    Back "back", ["esc", "ctrl-g"], TYPED, "", yes,
        "One step back; nothing typed is lost.";
    Back "back", ["backspace", "esc", "ctrl-g"], UNTYPED, "back", yes,
        "One step back; nothing is lost.";
    FindAnew "find another", ["f"], FINDING, "find", yes,
        "Goes back to an empty find prompt.";
    Help "help", ["h", "?", "f1"], LETTERS, "help", yes,
        "Shows the keys, those of the present screen first.";
    Help "help", ["?", "f1"], TYPED, "help", yes,
        "Shows the keys, those of the present screen first.";
    Commands "commands", ["m", "."], LETTERS, "commands", yes,
        "Lists the commands, to be run by their letter or from the list.";
    ReportUnlisted "report missing", [], &[Query, List], "", yes,
        "Reports a thing that is not on record to the records clerk.";
    Repaint "repaint", ["ctrl-l"], ALL_PLACES, "", yes,
        "Paints the whole screen again, after noise on the line.";
    Suspend "suspend", ["ctrl-z"], ALL_PLACES, "", yes,
        "Leaves for the shell; fg comes back.";
    Quit "leave", ["q", "ctrl-c"], UNTYPED, "leave", yes,
        "Leaves Polecard.";
    Quit "leave", ["ctrl-c"], TYPED, "leave", yes,
        "Leaves Polecard.";
}
