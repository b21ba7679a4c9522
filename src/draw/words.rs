//! The timeline in words: its headings, its title, and the description a screen reader speaks.

use crate::fit::Fit;
use crate::routine::Routine;
use crate::song::SongView;
use crate::units::{Count, clock, eights, pulse_words};

use super::content::Content;
use crate::plain::clean;

type Laid<'a> = Option<(&'a Routine, &'a Fit)>;

fn named(text: &str, otherwise: &str) -> String {
    let text = clean(text);
    if text.is_empty() { otherwise.to_string() } else { text }
}

/// The largest words on the page: the routine's title, else the song's.
pub(crate) fn heading(song: &SongView, routine: Laid<'_>) -> String {
    match routine {
        Some((routine, _)) => named(&routine.title, "Routine"),
        None => named(&song.title, "Song"),
    }
}

/// The song and its length; where a routine has the heading, the song's title too.
pub(crate) fn music(song: &SongView, with_title: bool) -> String {
    let mut facts = Vec::new();
    let artist = song.artist.as_deref().map(clean).filter(|a| !a.is_empty());
    match (with_title, artist) {
        (true, Some(artist)) => {
            facts.push(format!("Music: {}, {artist}", named(&song.title, "Song")))
        }
        (true, None) => facts.push(format!("Music: {}", named(&song.title, "Song"))),
        (false, Some(artist)) => facts.push(artist),
        (false, None) => {}
    }
    facts.push(format!("{} long", whole_seconds(song.duration_s)));
    let counts = song.counts.len();
    facts.push(format!("{counts} counts ({})", eights(u32::try_from(counts).unwrap_or(u32::MAX))));
    facts.join(" · ")
}

/// Tempo, pulse, bar, first count and wait.
pub(crate) fn pulse_and_wait(song: &SongView, routine: Laid<'_>) -> String {
    let mut facts = vec![
        format!("{:.0} counts a minute", song.counts_per_minute),
        pulse_words(song.counts_per_beat),
        format!("{} counts to the bar", song.counts_per_bar),
    ];
    match song.counts.time_s(Count::FIRST).filter(|_| !song.counts.is_empty()) {
        Some(time) => facts.push(format!("count 1 at {}", clock(time))),
        None => facts.push("no counts yet".into()),
    }
    facts.push(wait(song, routine));
    facts.join(" · ")
}

fn wait(song: &SongView, routine: Laid<'_>) -> String {
    let (counts, end_s) = match routine {
        Some((_, fit)) => (fit.wait.counts, fit.wait.end_s),
        None => {
            let wait = song.wait();
            let end = Count::FIRST + i32::try_from(wait).unwrap_or(i32::MAX);
            (wait, song.counts.time_or_beyond_s(end))
        }
    };
    match counts {
        0 => "no wait".into(),
        n if n < 8 => format!("wait {}, to {}", eights(n), clock(end_s)),
        n => format!("wait {n} counts ({}), to {}", eights(n), clock(end_s)),
    }
}

/// `Fits`, or how many places do not.
pub(crate) fn verdict(fit: &Fit) -> String {
    match (fit.fits, fit.mismatches.len()) {
        (true, _) => "Fits".into(),
        (false, 1) => "1 place does not meet".into(),
        (false, n) => format!("{n} places do not meet"),
    }
}

fn whole_seconds(seconds: f64) -> String {
    let clock = clock(seconds.round());
    clock.trim_end_matches(".00").to_string()
}

/// The document's title.
pub(crate) fn title(song: &SongView, routine: Laid<'_>) -> String {
    let song_title = named(&song.title, "Song");
    match routine {
        Some((routine, _)) => {
            format!("{} on {song_title}: timeline", named(&routine.title, "Routine"))
        }
        None => format!("{song_title}: timeline"),
    }
}

/// Everything the picture shows, in reading order.
pub(crate) fn description(song: &SongView, routine: Laid<'_>, content: &Content) -> String {
    let mut lines = vec![
        format!("{}.", music(song, true)),
        format!("{}.", pulse_and_wait(song, routine)),
        "Phrases of the song:".to_string(),
    ];
    lines.extend(content.song.iter().map(|b| format!("- {}.", b.sentence)));
    if content.song.is_empty() {
        lines.push("- none marked.".into());
    }
    if let Some((_, fit)) = routine {
        lines.push("The routine on it:".into());
        lines.extend(content.routine.iter().map(|b| format!("- {}.", b.sentence)));
        lines.push(format!("{}.", verdict(fit)));
        for mark in &content.marks {
            lines.push(format!("{}. {}", mark.number, mark.sentence));
            lines.extend(mark.mends.iter().map(|m| format!("   To mend it: {m}")));
        }
    }
    lines.join("\n")
}
