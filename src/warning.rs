//! What went through but deserves a word.

use std::fmt;

use serde::Serialize;

use crate::units::clock;

/// Something the user should know although the work was done.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Warning {
    /// Packets that could not be decoded; silence of the same length stands in their place.
    LostAudio {
        /// Packets lost.
        packets: u64,
        /// Seconds of silence put in.
        lost_s: f64,
        /// Where the first of it begins.
        first_at_s: f64,
    },
    /// Less sound than the encoder counted, and no trace of where it was cut out.
    MissingSomewhere {
        /// Seconds missing.
        missing_s: f64,
    },
    /// Samples of a floating-point file that were no numbers; silence stands in their place.
    BadSamples {
        /// Samples replaced.
        samples: u64,
        /// Where the first of them is.
        first_at_s: f64,
    },
    /// The file ends before its own header says it should.
    EndsEarly {
        /// Seconds decoded.
        decoded_s: f64,
        /// Seconds promised.
        promised_s: f64,
    },
    /// The file breaks off in the middle, and does not say how long it should be.
    CutOff {
        /// Seconds decoded.
        decoded_s: f64,
    },
    /// The format keeps no record of the encoder's delay, so all times may be late by a little.
    UnknownDelay {
        /// Name of the format.
        format: String,
        /// Usual size of the delay, seconds.
        usual_s: f64,
    },
    /// A mark lies outside the song's beats and is kept but not used.
    MarkOutside {
        /// The mark in words.
        mark: String,
        /// Where it lies.
        at_s: f64,
    },
    /// Two marks fall on the same count and only one can start a phrase there.
    MarksTogether {
        /// The mark that is used.
        used: String,
        /// The mark that is kept but not used.
        unused: String,
        /// Where the unused one lies.
        at_s: f64,
    },
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Warning::LostAudio { packets, lost_s, first_at_s } => write!(
                f,
                "{packets} damaged piece(s) of the file could not be decoded; {lost_s:.2} s of silence \
                 stand in their place, the first at {}",
                clock(*first_at_s)
            ),
            Warning::MissingSomewhere { missing_s } => write!(
                f,
                "the file holds {missing_s:.2} s less than its encoder counted, and does not show where \
                 it is missing: later times may be early by that much"
            ),
            Warning::BadSamples { samples, first_at_s } => write!(
                f,
                "{samples} sample(s) in the file are not numbers; silence stands in their place, the \
                 first at {}",
                clock(*first_at_s)
            ),
            Warning::EndsEarly { decoded_s, promised_s } => write!(
                f,
                "the file ends early: {} of {} could be decoded",
                clock(*decoded_s),
                clock(*promised_s)
            ),
            Warning::CutOff { decoded_s } => {
                write!(
                    f,
                    "the file breaks off at {}; what should follow is missing",
                    clock(*decoded_s)
                )
            }
            Warning::UnknownDelay { format, usual_s } => write!(
                f,
                "{format} do not record the encoder's delay: all times may be late by about {:.0} ms",
                usual_s * 1000.0
            ),
            Warning::MarkOutside { mark, at_s } => {
                write!(
                    f,
                    "{mark} at {} lies outside the song's beats and is not used",
                    clock(*at_s)
                )
            }
            Warning::MarksTogether { used, unused, at_s } => write!(
                f,
                "{unused} at {} falls on the same count as {used} and is not used",
                clock(*at_s)
            ),
        }
    }
}
