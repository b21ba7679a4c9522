//! How `mark` shows a song's phrases.

use serde_json::json;

use crate::error::{Error, Result};
use crate::plain::columns;
use crate::song::{Done, SongMap, SongView, TempoEvent, tempo_story};
use crate::units::{Count, clock, eights};

/// The phrases as a table, then the song in a line, then what deserves a word.
pub(in crate::cli) fn text(map: &SongMap) -> String {
    let view = match map.view() {
        Ok(view) => view,
        Err(error) => {
            let advice = error.advice().map(|advice| format!("; {advice}")).unwrap_or_default();
            return format!("no counts yet: {error}{advice}\n");
        }
    };
    let names = view.names();
    let width = names.iter().map(|name| columns(name)).max().unwrap_or(0).max(6);
    let places: Vec<String> =
        view.phrases.iter().map(|p| format!("{}-{}", p.start, p.end() + -1)).collect();
    let place_width = places.iter().map(String::len).max().unwrap_or(0).max(6);
    let letters = view.letters();
    let mut text = format!(
        "  {:<width$}  {:4}  {:<place_width$}  {:>6}  {:<20}  {:<17}\n",
        "phrase", "same", "counts", "length", "in eights", "time"
    );
    for (((phrase, name), letter), place) in
        view.phrases.iter().zip(&names).zip(&letters).zip(&places)
    {
        let odd = if phrase.counts % 8 == 0 { "" } else { " *" };
        let pad = " ".repeat(width.saturating_sub(columns(name)));
        let row = format!(
            "  {name}{pad}  {letter:4}  {place:<place_width$}  {:>6}  {:<20}  {:<17}  {}",
            phrase.counts,
            format!("{}{odd}", eights(phrase.counts)),
            format!("{}-{}", clock(phrase.start_s), clock(phrase.end_s)),
            origin(phrase.set, phrase.strength)
        );
        text.push_str(row.trim_end());
        text.push('\n');
    }
    if view.phrases.iter().any(|p| p.counts % 8 != 0) {
        text.push_str("  * not whole eights\n");
    }
    text.push_str(&song_line(&view));
    for warning in map.warnings() {
        text.push_str(&format!("note: {warning}\n"));
    }
    text
}

fn origin(set: bool, strength: f64) -> &'static str {
    match (set, strength > 0.0) {
        (true, _) => "set",
        (false, true) => "heard",
        (false, false) => "",
    }
}

fn song_line(view: &SongView) -> String {
    let total = view.counts.len() as u32;
    let wait = match view.wait() {
        0 => "no wait".to_string(),
        wait => format!("a wait of {wait} counts, until {}", clock(wait_over_s(view))),
    };
    format!(
        "  {total} counts ({}) at {:.0} a minute, {} to the bar, from {} to {}; {wait}\n",
        eights(total),
        view.counts_per_minute,
        view.counts_per_bar,
        clock(view.counts.time_or_beyond_s(Count::FIRST)),
        clock(view.counts.end_s),
    )
}

fn wait_over_s(view: &SongView) -> f64 {
    view.counts.time_or_beyond_s(Count::FIRST + view.wait() as i32)
}

/// The same for a machine. Seconds to four decimals.
pub(in crate::cli) fn json(map: &SongMap, done: Option<&Done>) -> Result<String> {
    let s = |seconds: f64| (seconds * 1e4).round() / 1e4;
    let view = map.view().ok();
    let names = view.as_ref().map(SongView::names).unwrap_or_default();
    let letters = view.as_ref().map(SongView::letters).unwrap_or_default();
    let phrases = view.iter().flat_map(|view| &view.phrases).zip(&names).zip(&letters);
    let phrases = phrases.map(|((p, name), letter)| {
        json!({
            "label": p.label, "name": name, "letter": letter, "start_count": p.start.0, "counts": p.counts,
            "eights": eights(p.counts), "start_s": s(p.start_s), "end_s": s(p.end_s),
            "set": p.set, "strength": s(p.strength),
        })
    });
    let song = view.as_ref().map(|view| {
        json!({
            "counts": view.counts.len(), "counts_per_minute": s(view.counts_per_minute),
            "counts_per_bar": view.counts_per_bar, "counts_per_beat": s(view.counts_per_beat),
            "first_count_s": s(view.counts.time_or_beyond_s(Count::FIRST)),
            "end_s": s(view.counts.end_s), "wait": view.wait(), "wait_end_s": s(wait_over_s(view)),
            "form": view.form_line(), "say": view.wait_line(),
            "tempo_story": tempo_story(&view.counts.times_s).iter().map(TempoEvent::words).collect::<Vec<_>>(),
            "other_waits": map.other_waits().iter().map(|&(counts, likelihood)| {
                json!({ "counts": counts, "likelihood": s(likelihood) })
            }).collect::<Vec<_>>(),
        })
    });
    let answer = json!({
        "changed": done.is_some_and(|done| done.changed),
        "message": done.map(|done| &done.message),
        "notes": done.map(|done| done.notes.clone()).unwrap_or_default(),
        "warnings": map.warnings().iter().map(ToString::to_string).collect::<Vec<_>>(),
        "song": song,
        "phrases": phrases.collect::<Vec<_>>(),
    });
    let mut text = serde_json::to_string_pretty(&answer)
        .map_err(|e| Error::Usage(format!("no JSON could be made: {e}")))?;
    text.push('\n');
    Ok(text)
}
