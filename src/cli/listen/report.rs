//! What `listen` says it heard.

use std::path::Path;

use crate::cli::mark::listing;
use crate::song::{SongMap, tempo_story};
use crate::units::{Count, clock, eights};

/// The report of one recording: tempo, bars, where counting starts, the wait, the phrases, what else
/// it could be, and what to do next.
pub(in crate::cli) fn text(map: &SongMap, path: &Path, again: bool) -> String {
    let mut text = title(map);
    let grid = &map.heard.grid;
    if grid.beats_s.is_empty() {
        text.push_str("  no beats were heard; tap them with `hoofbeat mark`\n");
    } else if let Ok(view) = map.view() {
        let steady = if grid.steady { "steady" } else { "not steady: the beat drifts or changes" };
        text.push_str(&format!(
            "  tempo     {:.1} counts a minute, {steady} ({})\n",
            view.counts_per_minute,
            sure(grid.tempo_confidence)
        ));
        text.push_str(&format!(
            "  bars      {} counts to the bar; beats {}\n",
            view.counts_per_bar,
            sure(grid.grid_confidence)
        ));
        text.push_str(&format!("  pulse     {}\n", pulse_line(map, view.counts_per_minute)));
        for event in tempo_story(&view.counts.times_s) {
            text.push_str(&format!("  then      {}\n", event.words()));
        }
        if let Some(line) = unheard_line(&grid.beats_s, map.recording.duration_s) {
            text.push_str(&format!("  but       {line}\n"));
        }
        let first_s = view.counts.time_or_beyond_s(Count::FIRST);
        text.push_str(&format!("  counting  starts at {}\n", clock(first_s)));
        let wait = view.wait();
        if wait > 0 {
            let over_s = view.counts.time_or_beyond_s(Count::FIRST + wait as i32);
            let counts = if wait % 8 == 0 { format!(" ({})", eights(wait)) } else { String::new() };
            text.push_str(&format!(
                "  wait      {wait} counts{counts}: the first phrase starts at {}\n",
                clock(over_s)
            ));
        } else {
            text.push_str("  wait      none: the first phrase starts on count 1\n");
        }
        if let Some(say) = view.wait_line() {
            text.push_str(&format!("  say       \u{201c}{say}\u{201d}\n"));
        }
        for (counts, likelihood) in map.other_waits() {
            text.push_str(&format!(
                "  or else   a wait of {counts} counts ({:.0} % likely)\n",
                likelihood * 100.0
            ));
        }
        text.push_str(&format!("  form      {}\n", view.form_line()));
        for other in &grid.other_pulses {
            text.push_str(&format!(
                "  or else   {:.1} a minute, {} ({:.0} % likely): `hoofbeat mark {} {}`\n",
                other.tempo_bpm,
                as_fast(other.ratio),
                other.score * 100.0,
                path.display(),
                pulse_mark(other.ratio, other.tempo_bpm)
            ));
        }
        text.push('\n');
        text.push_str(&listing::text(map));
    }
    let saved = if again { "heard again; your marks are kept in" } else { "saved" };
    text.push_str(&format!("\n{saved} {}\n", path.display()));
    text
}

/// Why this pulse, and what a dancer may make of it.
fn pulse_line(map: &SongMap, counts_per_minute: f64) -> String {
    /// Walked practice and advanced classes lie well within (common practice).
    const USUAL: std::ops::RangeInclusive<f64> = 80.0..=170.0;
    let why = match (&map.set.pulse, map.heard.grid.other_pulses.first()) {
        (Some(_), _) => "as you set it".to_string(),
        (None, None) => "the only one that the beats bear out".to_string(),
        (None, Some(other)) => format!(
            "its beats stand out most; next comes one {}, {:.0} % likely",
            as_fast(other.ratio),
            other.score * 100.0
        ),
    };
    let (word, mark, other) = match counts_per_minute {
        slow if slow < *USUAL.start() => ("slow", "double", 2.0 * slow),
        fast if fast > *USUAL.end() => ("fast", "half", fast / 2.0),
        _ => return why,
    };
    format!("{why}; {word} to step to: `{mark}` would count {other:.0} a minute")
}

/// Where there is sound, or silence, without a steady beat: before the beats, between them, after them.
fn unheard_line(beats_s: &[f64], duration_s: f64) -> Option<String> {
    const LONG_S: f64 = 4.0;
    /// Music rings, and files end in silence.
    const LONG_AFTER_S: f64 = 8.0;
    let (first, last) = (*beats_s.first()?, *beats_s.last()?);
    let mut parts = Vec::new();
    if first > LONG_S {
        parts.push(format!("before {}", clock(first)));
    }
    let gaps = beats_s.windows(2).filter(|pair| pair[1] - pair[0] > LONG_S);
    parts.extend(gaps.map(|pair| format!("from {} to {}", clock(pair[0]), clock(pair[1]))));
    if duration_s - last > LONG_AFTER_S {
        parts.push(format!("after {}", clock(last)));
    }
    let listed = parts.join(", nor ");
    (!parts.is_empty()).then(|| format!("I don't hear a steady beat {listed}"))
}

fn title(map: &SongMap) -> String {
    let recording = &map.recording;
    let title = recording.title.as_ref().unwrap_or(&recording.file);
    let by = recording.artist.as_ref().map(|a| format!(", {a}")).unwrap_or_default();
    format!("{title}{by} ({})\n", clock(recording.duration_s))
}

/// A likelihood in words and figures.
fn sure(likelihood: f64) -> String {
    let words = match likelihood {
        l if l >= 0.9 => "sure",
        l if l >= 0.7 => "fairly sure",
        l if l >= 0.4 => "in doubt",
        _ => "a guess",
    };
    format!("{words}, {likelihood:.2}")
}

fn as_fast(ratio: f64) -> String {
    match ratio {
        r if (r - 0.5).abs() < 0.02 => "half as fast".into(),
        r if (r - 2.0).abs() < 0.05 => "twice as fast".into(),
        r if (r - 1.0 / 3.0).abs() < 0.02 => "a third as fast".into(),
        r if (r - 3.0).abs() < 0.1 => "three times as fast".into(),
        r if (r - 1.5).abs() < 0.04 => "three for two".into(),
        r if (r - 2.0 / 3.0).abs() < 0.03 => "two for three".into(),
        r => format!("{r:.2} times as fast"),
    }
}

fn pulse_mark(ratio: f64, tempo_bpm: f64) -> String {
    match ratio {
        r if (r - 0.5).abs() < 0.02 => "half".into(),
        r if (r - 2.0).abs() < 0.05 => "double".into(),
        _ => format!("pulse {tempo_bpm:.0}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_says_where_no_steady_beat_is_heard() {
        let beats: Vec<f64> = (0..40).map(|k| 42.0 + 0.5 * f64::from(k)).collect();
        let line = unheard_line(&beats, 63.0).unwrap();
        assert_eq!(line, format!("I don't hear a steady beat before {}", clock(42.0)));
        let mut broken = beats.clone();
        broken.extend((0..40).map(|k| 70.0 + 0.5 * f64::from(k)));
        let line = unheard_line(&broken, 120.0).unwrap();
        assert!(line.contains(&format!("nor from {} to {}", clock(61.5), clock(70.0))), "{line}");
        assert!(line.ends_with(&format!("nor after {}", clock(89.5))), "{line}");
        assert_eq!(unheard_line(&beats.iter().map(|b| b - 41.0).collect::<Vec<_>>(), 22.0), None);
        assert_eq!(unheard_line(&[], 10.0), None);
    }
}
