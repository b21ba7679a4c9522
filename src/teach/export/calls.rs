//! Calls: WebVTT (W3C Recommendation), one cue a line of steps, shown two counts before it is danced, as a
//! caller says it (common practice: one to two counts ahead), until the next is called.

use std::fmt::Write;

use crate::error::{Error, Result};
use crate::song::SongMap;
use crate::teach::sheet::Sheet;
use crate::units::Count;

use super::captions::{escaped, milliseconds, stamp};
use super::{Dance, Export};

/// The format.
pub(super) struct Calls;

/// Counts ahead of its step that a call comes.
const AHEAD: i32 = 2;

/// A call: the count on which its step is danced, and its words.
struct Call {
    step: Count,
    words: String,
}

impl Export for Calls {
    fn bytes(&self, song: &SongMap, dance: Dance<'_>) -> Result<Vec<u8>> {
        let Some((routine, fit)) = dance else {
            return Err(Error::Usage(
                "calls are those of a routine; name its sheet behind the song map".into(),
            ));
        };
        let view = song.view()?;
        let sheet = Sheet::of(routine, Some((&view, fit)));
        let mut calls: Vec<Call> = Vec::new();
        let mut over = view.counts.end();
        for placement in fit.placements.iter().filter(|p| p.danced > 0) {
            let item = routine.order.get(placement.order_index);
            let Some(part) = item.and_then(|o| routine.parts.get(o.part)) else { continue };
            let rows = sheet.parts.iter().find(|p| p.index == item.map(|o| o.part));
            let mut done = 0u32;
            let mut first = true;
            for row in rows.map(|p| p.lines.as_slice()).unwrap_or_default() {
                if row.counts == 0 || done >= placement.danced {
                    continue;
                }
                let steps = if row.note.is_empty() {
                    row.steps.clone()
                } else {
                    format!("{} ({})", row.steps, row.note)
                };
                let words = if first { format!("{}: {steps}", part.name) } else { steps };
                calls.push(Call { step: placement.start_count + done as i32, words });
                first = false;
                done = done.saturating_add(row.counts);
            }
            if first {
                // A part of counts alone is called by its name.
                calls.push(Call { step: placement.start_count, words: part.name.clone() });
            }
            over = placement.start_count + placement.danced as i32;
        }
        let mut text = String::from("WEBVTT\n");
        let at = |count: Count| milliseconds(view.counts.time_or_beyond_s(count));
        for (index, call) in calls.iter().enumerate() {
            let start = at(call.step + -AHEAD);
            let until = calls.get(index + 1).map_or(over, |next| next.step + -AHEAD);
            let end = at(until);
            // A call whose time is taken by the next, or that lies before the recording, is not shown.
            if end > start {
                // Writing to a string cannot fail.
                let _ = write!(
                    text,
                    "\n{} --> {}\n{}\n",
                    stamp(start),
                    stamp(end),
                    escaped(&crate::plain::clean(&call.words))
                );
            }
        }
        Ok(text.into_bytes())
    }
}
