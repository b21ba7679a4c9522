//! Corrections teach: what the user says of one phrase is tried on its twins.
//!
//! A start that was set or taken away holds. Elsewhere in the song, where the same music stands around a beat as around
//! that one, the odds of a start are raised or lowered by as much as it is the same.

use crate::units::Beat;

use super::{Evidence, Form, likeliest};

/// What the user said of phrase starts.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Taught {
    /// Beats that a phrase starts on.
    pub starts: Vec<Beat>,
    /// Beats that none starts on.
    pub none: Vec<Beat>,
}

impl Taught {
    /// Whether nothing was said.
    pub fn is_empty(&self) -> bool {
        self.starts.is_empty() && self.none.is_empty()
    }
}

/// Odds of a start that is known to be one.
const KNOWN: f64 = 40.0;
/// By how much the odds of a full twin change.
const TAUGHT: f64 = 6.0;
impl Evidence {
    /// The form under what the user said. Starts nearer than `near` beats to another are one.
    pub(super) fn taught(&self, taught: &Taught, near: usize) -> Form {
        let mut odds = self.odds.clone();
        let n = odds.starts.len();
        let around = |beat: usize| beat.saturating_sub(near - 1)..(beat + near).min(n);
        for (beats, sign) in [(&taught.none, -1.0), (&taught.starts, 1.0)] {
            for beat in beats.iter().map(|beat| beat.0).filter(|&beat| beat < n) {
                for (twin, likeness) in self.twins.of_beat(beat) {
                    for other in around(twin).filter(|&other| other != twin) {
                        odds.starts[other] -= TAUGHT * likeness * f64::max(sign, 0.0);
                    }
                    odds.starts[twin] += sign * TAUGHT * likeness;
                }
            }
        }
        for beat in taught.none.iter().map(|beat| beat.0).filter(|&beat| beat < n) {
            odds.starts[around(beat)].fill(-KNOWN);
        }
        for beat in taught.starts.iter().map(|beat| beat.0).filter(|&beat| beat < n) {
            odds.starts[around(beat)].fill(-KNOWN);
            odds.starts[beat] = KNOWN;
        }
        likeliest(self, &odds)
    }
}
