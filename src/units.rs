//! Units that must not be mixed up, and every conversion between them.
//!
//! Seconds are plain `f64` in fields whose names end in `_s`. Everything that is an index has a type:
//! [`Beat`] (0-based place in a grid's beats), [`Count`] (1-based danced beat), [`Frame`] (0-based hop
//! of an analysis) and [`Foot`]s and [`Wall`]s for what a dancer does with them.

use std::fmt;
use std::ops::{Add, Sub};

use serde::{Deserialize, Serialize};

/// A beat of the song: a 0-based index into the grid's `beats_s`.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Beat(pub usize);

/// A danced count: 1 is the first counted beat. Zero and below lie before counting starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Count(pub i32);

impl Count {
    /// The first counted beat.
    pub const FIRST: Count = Count(1);

    /// 0-based index into a list whose first entry is count 1; `None` before counting starts.
    pub fn index(self) -> Option<usize> {
        usize::try_from(self.0.checked_sub(1)?).ok()
    }

    /// The count that stands at a 0-based index.
    pub fn from_index(index: usize) -> Count {
        Count(i32::try_from(index.saturating_add(1)).unwrap_or(i32::MAX))
    }
}

/// Moves a count later (or earlier) by a number of counts.
impl Add<i32> for Count {
    type Output = Count;
    fn add(self, counts: i32) -> Count {
        Count(self.0.saturating_add(counts))
    }
}

/// How many counts lie from one count to another.
impl Sub<Count> for Count {
    type Output = i32;
    fn sub(self, other: Count) -> i32 {
        self.0.saturating_sub(other.0)
    }
}

impl fmt::Display for Count {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// An analysis frame: a 0-based hop. What time it stands for depends on the hop of its curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Frame(pub usize);

/// A foot. The free foot is the one without weight; the lead foot is the one a step starts on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Foot {
    /// The left foot.
    Left,
    /// The right foot.
    Right,
}

impl Foot {
    /// The foot that is not this one.
    pub fn other(self) -> Foot {
        match self {
            Foot::Left => Foot::Right,
            Foot::Right => Foot::Left,
        }
    }

    /// `L` or `R`, as cue sheets write it.
    pub fn letter(self) -> char {
        match self {
            Foot::Left => 'L',
            Foot::Right => 'R',
        }
    }
}

impl fmt::Display for Foot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Foot::Left => "left",
            Foot::Right => "right",
        })
    }
}

/// Where the dancer faces. Turning right from the front wall one comes to the right wall; between two walls
/// lies a corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Wall {
    /// The wall faced at the start; 12:00 on the clock of line dances.
    Front,
    /// An eighth to the right of the front, 1:30.
    FrontRight,
    /// A quarter turn to the right of the front, 3:00.
    Right,
    /// The corner at 4:30.
    BackRight,
    /// Half a turn from the front, 6:00.
    Back,
    /// The corner at 7:30.
    BackLeft,
    /// A quarter turn to the left of the front, 9:00.
    Left,
    /// An eighth to the left of the front, 10:30.
    FrontLeft,
}

impl Wall {
    const ROUND: [Wall; 8] = [
        Wall::Front,
        Wall::FrontRight,
        Wall::Right,
        Wall::BackRight,
        Wall::Back,
        Wall::BackLeft,
        Wall::Left,
        Wall::FrontLeft,
    ];

    /// The wall faced after a turn of `quarters` quarter turns; to the right is positive.
    pub fn turned(self, quarters: i32) -> Wall {
        self.turned_eighths(quarters.wrapping_mul(2))
    }

    /// The wall or corner faced after a turn of so many eighths; to the right is positive.
    pub fn turned_eighths(self, eighths: i32) -> Wall {
        let here = self as i32;
        Wall::ROUND[(here + eighths.rem_euclid(8)).rem_euclid(8) as usize]
    }
}

impl fmt::Display for Wall {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Wall::Front => "front",
            Wall::FrontRight => "front right",
            Wall::Right => "right",
            Wall::BackRight => "back right",
            Wall::Back => "back",
            Wall::BackLeft => "back left",
            Wall::Left => "left",
            Wall::FrontLeft => "front left",
        })
    }
}

/// A length in counts as a teacher says it: "4 eights", "2 eights and 4", "6 counts".
pub fn eights(counts: u32) -> String {
    let (whole, rest) = (counts / 8, counts % 8);
    let eights = |n: u32| match n {
        1 => "1 eight".to_string(),
        n => format!("{n} eights"),
    };
    match (whole, rest) {
        (0, 1) => "1 count".to_string(),
        (0, rest) => format!("{rest} counts"),
        (whole, 0) => eights(whole),
        (whole, rest) => format!("{} and {rest}", eights(whole)),
    }
}

/// A time as a clock shows it, minutes and seconds to a hundredth: `1:04.20`.
pub fn clock(seconds: f64) -> String {
    let sign = if seconds < 0.0 { "-" } else { "" };
    let hundredths = (seconds.abs() * 100.0).round();
    if !hundredths.is_finite() || hundredths > 1e14 {
        return "?:??".to_string();
    }
    let hundredths = hundredths as u64;
    let (minutes, rest) = (hundredths / 6000, hundredths % 6000);
    format!("{sign}{minutes}:{:02}.{:02}", rest / 100, rest % 100)
}

/// Reads a time as typed: `64.2`, `1:04.2` or `1:02:03`. `None` when it is none of these.
pub fn parse_clock(text: &str) -> Option<f64> {
    let text = text.trim().trim_end_matches('s').replace(',', ".");
    let mut total = 0.0;
    let fields: Vec<&str> = text.split(':').collect();
    if fields.len() > 3 {
        return None;
    }
    for (place, field) in fields.iter().enumerate() {
        let plain = field.chars().all(|c| c.is_ascii_digit() || c == '.');
        let value: f64 = field.parse().ok().filter(|_| plain)?;
        if place > 0 && value >= 60.0 {
            return None;
        }
        total = total * 60.0 + value;
    }
    Some(total)
}

/// `1st`, `2nd`, `3rd`, `4th`, …
pub fn ordinal(number: u32) -> String {
    let ending = match (number % 10, number % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
}

/// The pulse in words, from the counts to one beat as heard: `a count to each beat`.
pub fn pulse_words(counts_per_beat: f64) -> String {
    let close = |to: f64| (counts_per_beat - to).abs() < 0.01;
    if close(1.0) {
        "a count to each beat".into()
    } else if counts_per_beat > 1.0 {
        format!("{} counts to each beat", rounded(counts_per_beat))
    } else if counts_per_beat > 0.0 {
        format!("a count to every {} beats", rounded(1.0 / counts_per_beat))
    } else {
        "pulse unknown".into()
    }
}

fn rounded(number: f64) -> String {
    let text = format!("{number:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_read_in_eights() {
        // 32 counts = 8 bars of 4 (widely taught; facts of the trade), so 4 eights.
        assert_eq!(eights(32), "4 eights");
        assert_eq!(eights(20), "2 eights and 4");
        assert_eq!(eights(8), "1 eight");
        assert_eq!(eights(6), "6 counts");
        assert_eq!(eights(1), "1 count");
        assert_eq!(eights(0), "0 counts");
    }

    #[test]
    fn clock_and_back() {
        assert_eq!(clock(64.2), "1:04.20");
        assert_eq!(clock(1.857), "0:01.86");
        assert_eq!(clock(59.999), "1:00.00");
        assert_eq!(parse_clock("1:04.2"), Some(64.2));
        assert_eq!(parse_clock("64.2"), Some(64.2));
        assert_eq!(parse_clock("1:02:03"), Some(3723.0));
        for bad in ["", "1:75", "-3", "1e3", "inf", "1:2:3:4", "one"] {
            assert_eq!(parse_clock(bad), None, "{bad}");
        }
    }

    #[test]
    fn walls_go_round() {
        assert_eq!(Wall::Front.turned(1), Wall::Right);
        assert_eq!(Wall::Front.turned(-1), Wall::Left);
        assert_eq!(Wall::Left.turned(6), Wall::Right);
        assert_eq!(Wall::Front.turned_eighths(-1), Wall::FrontLeft);
        assert_eq!(Wall::FrontLeft.turned_eighths(-1), Wall::Left);
    }

    #[test]
    fn counts_start_at_one() {
        assert_eq!(Count::FIRST.index(), Some(0));
        assert_eq!(Count(0).index(), None);
        assert_eq!(Count::from_index(7), Count(8));
        assert_eq!(Count(33) - Count(1), 32);
    }

    #[test]
    fn ordinals_and_pulses_in_words() {
        let words: Vec<String> = [1, 2, 3, 4, 11, 12, 13, 21, 102, 111].map(ordinal).into();
        assert_eq!(words.join(" "), "1st 2nd 3rd 4th 11th 12th 13th 21st 102nd 111th");
        assert_eq!(pulse_words(1.0), "a count to each beat");
        assert_eq!(pulse_words(0.5), "a count to every 2 beats");
        assert_eq!(pulse_words(2.0), "2 counts to each beat");
        assert_eq!(pulse_words(f64::NAN), "pulse unknown");
    }
}
