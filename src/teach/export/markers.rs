//! Markers: comma-separated values (RFC 4180) with a heading line. One row for count 1, each phrase, each part
//! danced and each thing that does not meet, in the order of their times.

use crate::error::Result;
use crate::plain::clean;
use crate::song::SongMap;
use crate::units::Count;

use super::{Dance, Export};

/// The format.
pub(super) struct Markers;

struct Marker {
    time_s: f64,
    count: Count,
    counts: i64,
    kind: &'static str,
    name: String,
}

impl Export for Markers {
    fn bytes(&self, song: &SongMap, dance: Dance<'_>) -> Result<Vec<u8>> {
        let view = song.view()?;
        let mut markers = Vec::new();
        let mut put = |time_s, count, counts, kind, name: &str| {
            markers.push(Marker { time_s, count, counts, kind, name: clean(name) });
        };
        let first_s = view.counts.time_or_beyond_s(Count::FIRST);
        put(first_s, Count::FIRST, 0, "count 1", "count 1");
        for (phrase, name) in view.phrases.iter().zip(view.names()) {
            put(phrase.start_s, phrase.start, i64::from(phrase.counts), "phrase", &name);
        }
        if let Some((_, fit)) = dance {
            for placement in fit.placements.iter().filter(|p| p.danced > 0) {
                let counts = i64::from(placement.danced);
                put(placement.start_s, placement.start_count, counts, "part", &placement.part);
            }
            for mismatch in &fit.mismatches {
                let counts = i64::from(mismatch.counts);
                put(mismatch.at_s, mismatch.at_count, counts, "does not meet", &mismatch.message);
            }
        }
        markers.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
        // RFC 4180: lines end in CR LF.
        let mut text = String::from("time_s,count,counts,kind,name\r\n");
        for m in markers {
            let name = quoted(&m.name);
            text.push_str(&format!(
                "{:.3},{},{},{},{name}\r\n",
                m.time_s, m.count, m.counts, m.kind
            ));
        }
        Ok(text.into_bytes())
    }
}

/// RFC 4180, 2.5 to 2.7: within quotes, and quotes doubled, where commas or quotes are in it.
fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\r', '\n']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_with_commas_and_quotes_are_quoted() {
        assert_eq!(quoted("verse 1"), "verse 1");
        assert_eq!(quoted("a \"big\", loud one"), "\"a \"\"big\"\", loud one\"");
    }
}
