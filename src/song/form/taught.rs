//! Corrections teach: what the user says of one phrase is tried on its twins.
//!
//! A start that was set or taken away holds. Elsewhere in the song, where the same music stands around a beat as around
//! that one, the odds of a start are raised or lowered by as much as it is the same.

use crate::units::Beat;

use super::label::likeness;
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
/// Likeness from which on music is held to be the same, and at which it surely is.
const ALIKE: f32 = 0.5;
const SAME: f32 = 0.9;
/// Beats before and after a start that are compared.
const BEFORE: usize = 8;
const AFTER: usize = 16;

impl Evidence {
    /// The form under what the user said. Starts nearer than `near` beats to another are one.
    pub(super) fn taught(&self, taught: &Taught, near: usize) -> Form {
        let mut odds = self.odds.clone();
        let n = odds.starts.len();
        let around = |beat: usize| beat.saturating_sub(near - 1)..(beat + near).min(n);
        for (beats, sign) in [(&taught.none, -1.0), (&taught.starts, 1.0)] {
            for beat in beats.iter().map(|beat| beat.0).filter(|&beat| beat < n) {
                for (twin, likeness) in self.twins(beat) {
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

    /// Beats whose surroundings are those of `beat`, with how much they are, 0 to 1.
    fn twins(&self, beat: usize) -> Vec<(usize, f64)> {
        let n = self.odds.starts.len();
        let before = beat.min(BEFORE);
        let after = AFTER.min(n - beat);
        let window = |at: usize| (at - before, at + after);
        let alike: Vec<f32> = (0..n)
            .map(|at| match at.abs_diff(beat) > AFTER && at >= before && at + after <= n {
                true => likeness(&self.heard, &self.inputs, window(beat), window(at)),
                false => 0.0,
            })
            .collect();
        let most_near = |at: usize| {
            let around = &alike[at.saturating_sub(BEFORE)..(at + BEFORE + 1).min(n)];
            around.iter().all(|&other| other <= alike[at])
        };
        (0..n)
            .filter(|&at| alike[at] > ALIKE && most_near(at))
            .map(|at| (at, f64::from((alike[at] - ALIKE) / (SAME - ALIKE)).min(1.0)))
            .collect()
    }
}
