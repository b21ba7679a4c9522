//! A [`Lesson`] as text and as an HTML page.

use std::fmt::Write;

use crate::plain::wrapped_columns;
use crate::teach::sheet::{Look, escaped, html_page};
use crate::units::clock;

use super::{Item, Lesson, NewStep, Span};

/// Columns on a line of text.
const WIDTH: usize = 80;

fn facts(lesson: &Lesson) -> String {
    let rungs: Vec<String> = lesson.ladder.iter().map(|r| format!("{r}%")).collect();
    format!(
        "{} minutes; {}, {:.0} counts a minute; tempo by {}",
        lesson.minutes,
        lesson.song,
        lesson.counts_per_minute,
        rungs.join(", ")
    )
}

fn span(span: &Span) -> String {
    format!("{}-{}", clock(span.start_s), clock(span.end_s))
}

fn in_song(item: &Item) -> Option<String> {
    let spans: Vec<String> = item.in_song.iter().map(span).collect();
    (!spans.is_empty()).then(|| format!("in the song at {}", spans.join(", ")))
}

/// `Rocking chair, 4 counts`, and what else there is to say of it.
fn about(step: &NewStep) -> String {
    let counts = if step.counts == 1 { "count" } else { "counts" };
    let level = step.level.as_ref().map_or(String::new(), |l| format!(", {l}"));
    format!("{}, {} {counts}{level}", step.name, step.counts)
}

fn after(step: &NewStep) -> &'static str {
    if step.movements.is_empty() {
        "its movements are not on the sheet; show them"
    } else if step.changes_foot {
        "the other foot is free after it"
    } else {
        "the same foot is free after it"
    }
}

/// As text 80 columns wide.
pub fn text(lesson: &Lesson) -> String {
    let mut text = String::new();
    let out = &mut text;
    put(out, 0, "", &format!("{}: a lesson plan", lesson.title));
    put(out, 0, "", &facts(lesson));
    for words in &lesson.settle_first {
        put(out, 2, "", "");
        put(out, 2, "", &format!("Settle before class: {words}"));
    }
    for item in &lesson.items {
        put(out, 0, "", "");
        let when = format!("{:>3}'", item.at_minute);
        put(out, 6, &when, &format!("{} ({} min)", item.title.to_uppercase(), item.minutes));
        put(out, 6, "", &item.why);
        for step in &item.new_steps {
            put(out, 8, "    new", &about(step));
            if !step.movements.is_empty() {
                put(out, 12, "", &format!("{}   feet {}", step.movements, step.feet));
                put(out, 12, "", &format!("sounds {}", step.timing));
                put(out, 12, "", &step.in_words.join(", "));
            }
            put(out, 12, "", after(step));
        }
        for words in &item.doing {
            put(out, 8, "      -", words);
        }
        if let Some(words) = in_song(item) {
            put(out, 8, "", &words);
        }
        if let Some(command) = &item.practice {
            // A command is not broken: it is there to be copied.
            let _ = writeln!(out, "        {command}");
        }
    }
    put(out, 0, "", "");
    if !lesson.next_class.is_empty() {
        let names = lesson.next_class.join(", ");
        put(out, 0, "", &format!("For the next class, in this order: {names}."));
        put(out, 0, "", "");
    }
    lesson.cautions.iter().for_each(|words| put(out, 0, "", words));
    text
}

/// Words in lines that begin at a column, with others before the first.
fn put(out: &mut String, from: usize, before: &str, words: &str) {
    for (number, line) in wrapped_columns(words, WIDTH - from).iter().enumerate() {
        let before = if number == 0 { before } else { "" };
        // Writing to a string cannot fail.
        let _ = writeln!(out, "{}", format!("{before:from$}{line}").trim_end());
    }
}

/// As an HTML page.
pub fn html(lesson: &Lesson, look: Look) -> String {
    let mut out = format!(
        "<header>\n<h1>{}: a lesson plan</h1>\n<p>{}</p>\n",
        escaped(&lesson.title),
        escaped(&facts(lesson))
    );
    for words in &lesson.settle_first {
        let _ = writeln!(
            out,
            "<p class=\"flag\"><strong>Settle before class:</strong> {}</p>",
            escaped(words)
        );
    }
    out.push_str("</header>\n<main>\n");
    for (index, item) in lesson.items.iter().enumerate() {
        html_item(&mut out, index, item);
    }
    if !lesson.next_class.is_empty() {
        let _ = writeln!(
            out,
            "<section aria-labelledby=\"next\">\n<h2 id=\"next\">For the next class</h2>\n<p>{}</p>\n</section>",
            escaped(&lesson.next_class.join(", "))
        );
    }
    out.push_str("</main>\n<footer class=\"cautions\">\n");
    for words in &lesson.cautions {
        let _ = writeln!(out, "<p>{}</p>", escaped(words));
    }
    out.push_str("</footer>\n");
    html_page(&format!("{}: a lesson plan", lesson.title), look, &out)
}

fn html_item(out: &mut String, index: usize, item: &Item) {
    let _ = write!(
        out,
        "<section class=\"part\" aria-labelledby=\"item{index}\">\n<h2 id=\"item{index}\">{} \
         <small>at {} min, for {} min</small></h2>\n<p class=\"about\">{}</p>\n",
        escaped(&item.title),
        item.at_minute,
        item.minutes,
        escaped(&item.why)
    );
    for step in &item.new_steps {
        let _ = writeln!(out, "<h3>New: {}</h3>", escaped(&about(step)));
        if !step.movements.is_empty() {
            let rows = [
                ("Movements", &step.movements),
                ("Feet", &step.feet),
                ("Sounds", &step.timing),
                ("In words", &step.in_words.join(", ")),
            ];
            out.push_str("<dl>\n");
            for (what, value) in rows {
                let _ = writeln!(out, "<div><dt>{what}</dt><dd>{}</dd></div>", escaped(value));
            }
            out.push_str("</dl>\n");
        }
        let _ = writeln!(out, "<p class=\"small\">{}</p>", after(step));
    }
    out.push_str("<ul>\n");
    for words in &item.doing {
        let _ = writeln!(out, "<li>{}</li>", escaped(words));
    }
    out.push_str("</ul>\n");
    if let Some(words) = in_song(item) {
        let _ = writeln!(out, "<p>{}</p>", escaped(&words));
    }
    if let Some(command) = &item.practice {
        let _ = writeln!(out, "<p>Practice track: <code>{}</code></p>", escaped(command));
    }
    out.push_str("</section>\n");
}
