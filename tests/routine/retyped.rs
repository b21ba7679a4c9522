//! The sheets of `fixtures/tables` typed otherwise: other brackets, blanks, capitals, bullets, headings, notes. They mean what
//! they did, so no more is told of them.

use super::mistakes;
use super::tables::all_sheets;

/// How a sheet may be typed otherwise, by name.
type Habit = (&'static str, fn(&str) -> String);

const HABITS: [Habit; 24] = [
    ("counts behind a dash", |t| counts_at_the_end(t, " - ", "")),
    ("counts behind a sign", |t| counts_at_the_end(t, " = ", "")),
    ("counts with their unit", |t| counts_at_the_end(t, " ", " cts")),
    ("counts with another unit", |t| counts_at_the_end(t, " (", " beats)")),
    ("counts behind dots", |t| counts_at_the_end(t, " ...... ", "")),
    ("counts behind a tab", |t| counts_at_the_end(t, "\t", "")),
    ("counts in a column", |t| counts_at_the_end(t, "          ", "")),
    ("square brackets", |t| counts_at_the_end(t, " [", "]")),
    ("capitals", str::to_uppercase),
    ("blanks at the end", |t| each_line(t, |l| format!("{l}   "))),
    ("no indents", |t| each_line(t, |l| l.trim().to_string())),
    ("lines of steps set in", |t| each_step(t, |l| format!("    {l}"))),
    ("dashes in front", |t| each_step(t, |l| format!("- {l}"))),
    ("dots in front", |t| each_step(t, |l| format!("\u{2022} {l}"))),
    ("full stops", |t| each_step(t, |l| if l.ends_with(')') { format!("{l}.") } else { l.into() })),
    ("line ends of another system", |t| t.replace('\n', "\r\n")),
    ("long dashes", |t| t.replace(" - ", " \u{2013} ")),
    ("fractions", |t| t.replace("1/4", "\u{BC}").replace("1/2", "\u{BD}")),
    ("and as a sign", |t| t.replace(" and ", " & ")),
    ("stars above", |t| format!("*****************\n{t}")),
    ("a farewell", |t| format!("{}\n\nHave fun and keep smiling!\n", t.trim_end())),
    ("whom to ask", |t| format!("{}\n\nQuestions? Write to dot@example.org\n", t.trim_end())),
    ("where it was taught", |t| {
        format!("{}\n\nTaught at Spring Fling, April 2019\n", t.trim_end())
    }),
    ("a page's foot", |t| format!("{}\n\nPage 1 of 1\n", t.trim_end())),
];

fn each_line(text: &str, change: impl Fn(&str) -> String) -> String {
    text.lines().map(|line| change(line) + "\n").collect()
}

/// Lines that begin with a number and a name.
fn each_step(text: &str, change: impl Fn(&str) -> String) -> String {
    each_line(text, |line| {
        let mut words = line.split(' ').filter(|w| !w.is_empty());
        let counted = words.next().is_some_and(|w| w.bytes().all(|b| b.is_ascii_digit()));
        let named = words.next().is_some_and(|w| w.starts_with(|c: char| c.is_ascii_uppercase()));
        if counted && named && !line.starts_with(' ') { change(line) } else { line.to_string() }
    })
}

/// Counts in brackets at the end of a line between other signs.
fn counts_at_the_end(text: &str, open: &str, close: &str) -> String {
    each_line(text, |line| {
        let counted = || {
            let (before, counts) = line.trim_end().strip_suffix(')')?.rsplit_once('(')?;
            let number = !counts.is_empty() && counts.bytes().all(|b| b.is_ascii_digit());
            number.then(|| format!("{}{open}{counts}{close}", before.trim_end()))
        };
        counted().unwrap_or_else(|| line.to_string())
    })
}

#[test]
fn sheets_typed_otherwise_are_told_nothing_more() {
    // A sheet that gives two meanings to what it types may be misread when that is typed otherwise.
    const FEWEST_FOR_EACH_ALARM: usize = 400;
    let (mut number, mut alarms) = (0, Vec::new());
    for (name, text) in all_sheets() {
        let before = mistakes(&text).len();
        for (habit, retyped) in HABITS {
            let typed = retyped(&text);
            if typed == text {
                continue;
            }
            number += 1;
            let told = mistakes(&typed);
            if told.len() > before {
                alarms.push(format!("{name}, {habit}: {told:?}"));
            }
        }
    }
    println!("{} of {number} sheets typed otherwise are told something more", alarms.len());
    assert!(number > 8000, "{number}");
    assert!(
        alarms.len() * FEWEST_FOR_EACH_ALARM <= number,
        "{} of {number}: {alarms:#?}",
        alarms.len()
    );
}
