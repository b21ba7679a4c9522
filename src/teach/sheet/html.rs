//! A [`Sheet`] as one HTML page: no other file, no script; large on a screen, small on paper.

use std::fmt::Write;

use super::{Flag, Look, Movements, Paper, PartSheet, Row, RowKind, Sheet, StepRow};

/// What all pages share. Text and lines are dark enough for WCAG 2.2, 1.4.3 and 1.4.11, at level AAA.
const STYLE: &str = "\
:root{color-scheme:light}
*{box-sizing:border-box}
body{margin:0 auto;padding:1rem 1.25rem 2rem;max-width:60rem;color:#1a1a1a;background:#fff;\
font:1.125rem/1.45 system-ui,-apple-system,\"Segoe UI\",\"Noto Sans\",\"DejaVu Sans\",sans-serif}
.big{font-size:1.75rem;max-width:80rem}
h1{font-size:1.9em;line-height:1.15;margin:.2em 0 .3em}
h2{font-size:1.3em;margin:1.3em 0 .3em;border-bottom:2px solid #1a1a1a}
h3{font-size:1.1em;margin:0}
dl{margin:.4em 0}
dl div{display:grid;grid-template-columns:6.5em 1fr;gap:.8em}
dt{font-weight:600}dd{margin:0}
p{margin:.3em 0}
.about,.small{color:#404040}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
caption{text-align:left;color:#404040;padding:.1em 0}
th{text-align:left;font-size:.85em;border-bottom:1px solid #595959;padding:.15em .6em .15em 0;vertical-align:bottom}
td{padding:.2em .6em .2em 0;border-bottom:1px solid #c8c8c8;vertical-align:top}
td.n,th.n{white-space:nowrap}
.part{margin:0 0 1.1em}
.step{font-weight:600}
.call{font-style:italic}
.moves{display:flex;flex-wrap:wrap;gap:.1em .7em}
.move{display:inline-block;text-align:left}
.move .feet{display:block;color:#404040}
.free td{color:#404040}
.fill td:first-child{border-left:.3em solid #595959;padding-left:.3em}
.flag{border-left:.3em solid #8a1c00;padding:.1em 0 .1em .6em;margin:.2em 0}
.flag strong{color:#8a1c00}
.cautions{margin-top:1.6em;border-top:1px solid #595959;padding-top:.4em;font-size:.9em;color:#404040}
ol.plan{padding-left:1.6em}
code{font-family:ui-monospace,\"DejaVu Sans Mono\",monospace;font-size:.9em;overflow-wrap:anywhere}
a{color:#003d8f}
.wide{overflow-x:auto}
@media print{
body{padding:0;max-width:none;font-size:9pt;line-height:1.22}
.big{font-size:15pt}
h1{font-size:17pt}h2{margin:.45em 0 .15em}
caption{font-size:.85em;padding:0}
header dl{display:flex;flex-wrap:wrap;gap:.1em 1.6em;margin:.2em 0}
dl div{display:flex;gap:.4em}
header dt::after{content:\":\"}
td{padding-top:.1em;padding-bottom:.1em}
.part p{margin:.1em 0}
.part thead{display:none}
.parts{columns:2;column-gap:6mm}
.big .parts{columns:1}
.part,tr,.flag,li{break-inside:avoid}
h2,h3{break-after:avoid}
.part{margin-bottom:.5em}
.wide{overflow:visible}
.cautions{font-size:7.5pt;margin-top:.8em}
a{color:inherit;text-decoration:none}
}
";

/// A whole page. `body` is HTML; the title is text.
pub(crate) fn page(title: &str, look: Look, body: &str) -> String {
    let size = match look.paper {
        Paper::A4 => "A4",
        Paper::Letter => "letter",
    };
    let class = if look.big { " class=\"big\"" } else { "" };
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{}</title>\n<style>\n@page{{size:{size};margin:12mm}}\n{STYLE}</style>\n</head>\n\
         <body{class}>\n{body}</body>\n</html>\n",
        escaped(title)
    )
}

/// Text as HTML says it, also within quotes.
pub(crate) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
        .replace('\'', "&#39;")
}

/// A list of facts; nothing for none.
pub(crate) fn facts<'a>(facts: impl IntoIterator<Item = &'a (String, String)>) -> String {
    let rows: String = facts
        .into_iter()
        .map(|(what, value)| {
            format!("<div><dt>{}</dt><dd>{}</dd></div>\n", escaped(what), escaped(value))
        })
        .collect();
    if rows.is_empty() { rows } else { format!("<dl>\n{rows}</dl>\n") }
}

pub(super) fn write(sheet: &Sheet, look: Look) -> String {
    // Writing to a string cannot fail.
    let mut out = format!("<header>\n<h1>{}</h1>\n", escaped(&sheet.title));
    out.push_str(&facts(sheet.facts.iter().chain(&sheet.song_facts)));
    for note in &sheet.notes {
        let _ = writeln!(out, "<p>{}</p>", escaped(note));
    }
    out.push_str("</header>\n<main>\n");
    order(&mut out, sheet);
    if look.short {
        names(&mut out, sheet);
    } else {
        parts(&mut out, sheet);
    }
    out.push_str("</main>\n");
    let _ = writeln!(
        out,
        "<footer class=\"cautions\">\n<p>{}</p>\n</footer>",
        escaped(&sheet.cautions)
    );
    page(&sheet.title, look, &out)
}

fn order(out: &mut String, sheet: &Sheet) {
    let caption = if sheet.with_song {
        "Counts are those of the song, from count 1"
    } else {
        "Counted from the first step"
    };
    let song = |words: &'static str| if sheet.with_song { words } else { "" };
    let _ = write!(
        out,
        "<section aria-labelledby=\"order\">\n<h2 id=\"order\">Order</h2>\n\
         <div class=\"wide\" role=\"group\" aria-label=\"Table of the order\" tabindex=\"0\">\n\
         <table>\n<caption>{caption}</caption>\n<thead>\n<tr>\
         <th scope=\"col\" class=\"n\">Counts</th>{}<th scope=\"col\">Part</th>{}\
         <th scope=\"col\">Length</th><th scope=\"col\">Foot</th><th scope=\"col\">Wall</th></tr>\n\
         </thead>\n<tbody>\n",
        song("<th scope=\"col\" class=\"n\">Time</th>"),
        song("<th scope=\"col\">Phrase</th>"),
    );
    for row in &sheet.order {
        order_row(out, row, sheet.with_song);
    }
    out.push_str("</tbody>\n</table>\n</div>\n");
    for flag in &sheet.elsewhere {
        out.push_str(&flagged(flag));
    }
    out.push_str("</section>\n");
}

fn order_row(out: &mut String, row: &Row, with_song: bool) {
    let class = match row.kind {
        RowKind::Part => "",
        RowKind::Fill => " class=\"fill\"",
        RowKind::Wait | RowKind::Free | RowKind::NoRoom => " class=\"free\"",
    };
    let name = match row.kind {
        RowKind::Part | RowKind::Fill => format!("<strong>{}</strong>", escaped(&row.name)),
        _ => escaped(&row.name),
    };
    let cell = |words: &str| format!("<td>{}</td>", escaped(words));
    let narrow = |words: &str| format!("<td class=\"n\">{}</td>", escaped(words));
    let (time, phrase) = if with_song {
        (narrow(&row.time), cell(&row.phrase))
    } else {
        (String::new(), String::new())
    };
    let _ = writeln!(
        out,
        "<tr{class}>{}{time}<td>{name}</td>{phrase}{}{}{}</tr>",
        narrow(&row.running),
        narrow(&row.length),
        cell(&row.foot),
        narrow(&row.wall),
    );
    if !row.flags.is_empty() {
        let flags: String = row.flags.iter().map(flagged).collect();
        let columns = if with_song { 7 } else { 5 };
        let _ = writeln!(out, "<tr><td colspan=\"{columns}\">{flags}</td></tr>");
    }
}

fn flagged(flag: &Flag) -> String {
    let mends: String =
        flag.mends.iter().map(|m| format!("<br>To mend it: {}", escaped(m))).collect();
    format!(
        "<p class=\"flag\"><strong>Does not meet ({}):</strong> {}{mends}</p>",
        flag.number,
        escaped(&flag.words)
    )
}

/// The parts by name and length alone.
fn names(out: &mut String, sheet: &Sheet) {
    out.push_str(
        "<section aria-labelledby=\"parts\">\n<h2 id=\"parts\">Parts</h2>\n<table>\n\
         <caption>Each part once</caption>\n<thead>\n<tr><th scope=\"col\">Part</th>\
         <th scope=\"col\">Length</th><th scope=\"col\">Starts on</th><th scope=\"col\">Faces</th></tr>\n\
         </thead>\n<tbody>\n",
    );
    for part in &sheet.parts {
        let _ = writeln!(
            out,
            "<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{}</td></tr>",
            escaped(&part.name),
            escaped(&part.length),
            escaped(&part.feet),
            escaped(&part.walls)
        );
    }
    out.push_str("</tbody>\n</table>\n</section>\n");
}

fn parts(out: &mut String, sheet: &Sheet) {
    out.push_str(
        "<section aria-labelledby=\"parts\">\n<h2 id=\"parts\">Parts</h2>\n<div class=\"parts\">\n",
    );
    for (index, part) in sheet.parts.iter().enumerate() {
        write_part(out, index, part);
    }
    out.push_str("</div>\n</section>\n");
    if !sheet.own_steps.is_empty() {
        out.push_str(
            "<section aria-labelledby=\"own\">\n<h2 id=\"own\">Steps of this routine</h2>\n",
        );
        out.push_str(&facts(&sheet.own_steps));
        out.push_str("</section>\n");
    }
}

fn write_part(out: &mut String, index: usize, part: &PartSheet) {
    let mut about = vec![part.length.as_str(), &part.feet, &part.walls];
    about.retain(|words| !words.is_empty());
    let _ = write!(
        out,
        "<section class=\"part\" aria-labelledby=\"part{index}\">\n<h3 id=\"part{index}\">{}</h3>\n\
         <p class=\"about\">{}</p>\n",
        escaped(&part.name),
        escaped(&about.join("; "))
    );
    if !part.lines.is_empty() {
        out.push_str(
            "<table>\n<thead>\n<tr><th scope=\"col\" class=\"n\">Counts</th>\
             <th scope=\"col\">Steps, movements, feet</th></tr>\n</thead>\n<tbody>\n",
        );
        for line in &part.lines {
            write_line(out, line);
        }
        out.push_str("</tbody>\n</table>\n");
    }
    out.push_str("</section>\n");
}

fn write_line(out: &mut String, row: &StepRow) {
    let _ = write!(
        out,
        "<tr><td class=\"n\">{}</td><td><span class=\"step\">{}</span>",
        escaped(&row.running),
        escaped(&row.steps)
    );
    if !row.movements.is_empty() {
        out.push_str("<div class=\"moves\">");
        row.movements.iter().for_each(|step| out.push_str(&moves(step)));
        out.push_str("</div>");
    }
    if !row.faces.is_empty() {
        let _ = write!(out, "<div>now facing {}</div>", escaped(&row.faces));
    }
    if !row.note.is_empty() {
        let _ = write!(out, "<div class=\"call\">{}</div>", escaped(&row.note));
    }
    out.push_str("</td></tr>\n");
}

/// Each movement over its feet; as a whole where it is not known whose feet are whose.
fn moves(step: &Movements) -> String {
    let pair = |movement: &str, feet: &str| {
        format!(
            "<span class=\"move\">{} <span class=\"feet\">{}</span></span>",
            escaped(movement),
            escaped(feet)
        )
    };
    let mut out: String = if step.words.len() == step.feet.len() {
        step.words.iter().zip(&step.feet).map(|(m, f)| pair(m, f)).collect()
    } else {
        pair(&step.words.join(" "), &step.feet.join(" "))
    };
    if step.times > 1 {
        let _ = write!(out, "<span class=\"move\">× {}</span>", step.times);
    }
    // Steps stand apart from one another.
    format!("<span class=\"moves\">{out}</span>")
}
