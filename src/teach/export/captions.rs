//! Captions: WebVTT (W3C Recommendation), one cue an eight. The first line names the phrase and the
//! eight, the second counts it; each count has its own time, so that a player can show it as it sounds.

use std::fmt::Write;

use crate::error::Result;
use crate::song::SongMap;
use crate::units::Count;

use super::{Dance, Export};

/// The format.
pub(super) struct Captions;

const EIGHT: u32 = 8;

impl Export for Captions {
    fn bytes(&self, song: &SongMap, _: Dance<'_>) -> Result<Vec<u8>> {
        let view = song.view()?;
        let mut text = String::from("WEBVTT\n");
        for (phrase, name) in view.phrases.iter().zip(view.names()) {
            let eights = phrase.counts.div_ceil(EIGHT);
            for eight in 0..eights {
                let first = phrase.start + (eight * EIGHT) as i32;
                let counts = EIGHT.min(phrase.counts - eight * EIGHT);
                let time_ms =
                    |count: u32| milliseconds(view.counts.time_or_beyond_s(first + count as i32));
                let (start, end) = (time_ms(0), time_ms(counts));
                // Counts nearer than a millisecond leave no time to show anything.
                if end <= start {
                    continue;
                }
                let which =
                    if eights > 1 { format!(", {} of {eights}", eight + 1) } else { String::new() };
                // Writing to a string cannot fail.
                let _ = writeln!(
                    text,
                    "\n{} --> {}\n{}{which}",
                    stamp(start),
                    stamp(end),
                    escaped(&name)
                );
                let mut shown = start;
                for count in 0..counts {
                    let at = time_ms(count);
                    if at > shown && at < end {
                        let _ = write!(text, " <{}>", stamp(at));
                        shown = at;
                    } else if count > 0 {
                        text.push(' ');
                    }
                    let _ = write!(text, "{}", Count::FIRST + count as i32);
                }
                text.push('\n');
            }
        }
        Ok(text.into_bytes())
    }
}

/// Milliseconds, none before the start of the recording.
pub(super) fn milliseconds(seconds: f64) -> u64 {
    (seconds.max(0.0) * 1000.0).round() as u64
}

pub(super) fn stamp(ms: u64) -> String {
    let (hours, minutes) = (ms / 3_600_000, ms / 60_000 % 60);
    format!("{hours:02}:{minutes:02}:{:02}.{:03}", ms / 1000 % 60, ms % 1000)
}

pub(super) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_stamped_as_the_recommendation_says() {
        // WebVTT, "WebVTT timestamp": two or more digits of hours, two of minutes and seconds, three of
        // thousandths.
        assert_eq!(stamp(milliseconds(1.86)), "00:00:01.860");
        assert_eq!(stamp(milliseconds(3_725.000_4)), "01:02:05.000");
        assert_eq!(stamp(milliseconds(-1.0)), "00:00:00.000");
    }

    #[test]
    fn names_cannot_become_tags_or_arrows() {
        assert_eq!(escaped("<b>a --> b & c"), "&lt;b&gt;a --&gt; b &amp; c");
    }
}
