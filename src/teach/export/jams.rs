//! JAMS (Humphrey et al., 2014): beats with their place in the bar, phrases as segments, and the parts of
//! the dance as segments of their own.

use serde_json::{Value, json};

use crate::error::{Error, Result};
use crate::plain::clean;
use crate::song::SongMap;

use super::{Dance, Export, grid_with_beats};

/// The format.
pub(super) struct Jams;

/// The version of JAMS whose layout this is.
const VERSION: &str = "0.3.5";

impl Export for Jams {
    fn bytes(&self, song: &SongMap, dance: Dance<'_>) -> Result<Vec<u8>> {
        let grid = grid_with_beats(song)?;
        let view = song.view()?;
        let positions = grid.bar_positions();
        let beats = grid.beats_s.iter().zip(positions).map(|(time_s, position)| {
            let confidence = grid.grid_confidence;
            json!({ "time": ms(*time_s), "duration": 0.0, "value": position, "confidence": confidence })
        });
        let segments = view.phrases.iter().map(|phrase| {
            json!({
                "time": ms(phrase.start_s),
                "duration": ms(phrase.end_s - phrase.start_s),
                "value": phrase.label,
                "confidence": phrase.strength,
            })
        });
        let end_s = grid.beats_s.last().copied().unwrap_or(0.0).max(view.counts.end_s);
        let duration_s = song.recording.duration_s.max(end_s);
        let mut annotations = vec![
            annotation("beat", beats.collect(), duration_s),
            annotation("segment_open", segments.collect(), duration_s),
        ];
        if let Some((_, fit)) = dance {
            let parts = fit.placements.iter().filter(|p| p.danced > 0).map(|placement| {
                json!({
                    "time": ms(placement.start_s),
                    "duration": ms(placement.end_s - placement.start_s),
                    "value": clean(&placement.part),
                    "confidence": Value::Null,
                })
            });
            annotations.push(annotation("segment_open", parts.collect(), duration_s));
        }
        let whole = json!({
            "annotations": annotations,
            "file_metadata": {
                "title": view.title,
                "artist": view.artist.unwrap_or_default(),
                "release": "",
                "duration": ms(duration_s),
                "identifiers": {},
                "jams_version": VERSION,
            },
            "sandbox": {},
        });
        let mut bytes = serde_json::to_vec_pretty(&whole)
            .map_err(|e| Error::Usage(format!("no JAMS could be made: {e}")))?;
        bytes.push(b'\n');
        Ok(bytes)
    }
}

fn annotation(namespace: &str, data: Vec<Value>, duration_s: f64) -> Value {
    json!({
        "namespace": namespace,
        "data": data,
        "time": 0.0,
        "duration": ms(duration_s),
        "annotation_metadata": {
            "curator": { "name": "", "email": "" },
            "annotator": {},
            "version": "",
            "corpus": "",
            "annotation_tools": concat!("hoofbeat ", env!("CARGO_PKG_VERSION")),
            "annotation_rules": "",
            "validation": "",
            "data_source": "heard by program, corrected by hand",
        },
        "sandbox": {},
    })
}

/// Seconds to the millisecond.
fn ms(seconds: f64) -> f64 {
    (seconds * 1000.0).round() / 1000.0
}
