//! Movements: how each is written, when it sounds, which foot makes it and where the weight goes.
//!
//! Facts come from published pages, named beside each entry: Kam Clogger, *Codes for Clogging Cue
//! Sheets*; Southern California Clogging Association (SCCA), *Reading and Writing Cue Sheets*; Raylin
//! Cloggers, *Descriptive Movements*. What the trade does without a page to cite is marked
//! [`Source::CommonPractice`].

use crate::units::Foot;

/// Quarters of a count. Count 1 of a step sounds at quarter 4, its `e` `&` `a` at 1, 2 and 3: an
/// upbeat belongs to the count that it leads into.
pub type Quarters = u32;

/// Quarters to a count.
pub const QUARTERS_PER_COUNT: Quarters = 4;

/// Where a fact is published.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Source {
    /// A page or sheet, by name.
    Published(&'static str),
    /// The trade does it so; no publication is claimed.
    CommonPractice,
    /// The sheet itself says so.
    Sheet,
}

/// Which foot moves, and what becomes of the weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Weight {
    /// The free foot takes the weight.
    Onto,
    /// The free foot sounds and stays free.
    Stays,
    /// The free foot takes the weight, then the other: two changes, so the same foot is free again.
    Rock,
    /// Both feet take weight; the foot that was free is taken to be free again.
    Both,
    /// The foot that holds the weight sounds and keeps it.
    Held,
    /// No foot: a clap, a hold.
    None,
}

/// When a movement sounds, in the count that it leads into.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Timing {
    /// On the count: `1`.
    OnBeat,
    /// On the upbeat, `&`; the count itself is left to what follows.
    Upbeat,
    /// On the count when it stands alone; on the upbeat, `&`, when a heel movement completes it.
    Either,
    /// `&1`.
    UpbeatAndBeat,
    /// `&a`.
    DoubleToe,
    /// `&a1`.
    DoubleStep,
    /// Nothing sounds; a whole count goes by.
    SilentCount,
    /// Nothing sounds; the upbeat goes by.
    SilentUpbeat,
}

impl Timing {
    /// Quarters at which it sounds, in a count that ends at quarter 4.
    pub fn sounds(self) -> &'static [Quarters] {
        match self {
            Timing::OnBeat | Timing::Either => &[4],
            Timing::Upbeat => &[2],
            Timing::UpbeatAndBeat => &[2, 4],
            Timing::DoubleToe => &[2, 3],
            Timing::DoubleStep => &[2, 3, 4],
            Timing::SilentCount | Timing::SilentUpbeat => &[],
        }
    }
}

/// A basic movement.
#[derive(Debug, PartialEq, Eq, Hash)]
pub struct Movement {
    /// As written by most: `DS`.
    pub code: &'static str,
    /// Other abbreviations, upper case.
    pub also: &'static [&'static str],
    /// In words.
    pub name: &'static str,
    /// When it sounds.
    pub timing: Timing,
    /// Which foot, and the weight.
    pub weight: Weight,
    /// Whether it completes an upbeat movement before it (`BR SL`, `T H`).
    pub completes: bool,
    /// Where its meaning is published.
    pub source: Source,
}

const KAM: Source = Source::Published("Kam Clogger, Codes for Clogging Cue Sheets");
const SCCA: Source =
    Source::Published("Southern California Clogging Association, Reading and Writing Cue Sheets");
const RAYLIN: Source = Source::Published("Raylin Cloggers, Descriptive Movements");

const fn movement(
    code: &'static str,
    also: &'static [&'static str],
    name: &'static str,
    timing: Timing,
    weight: Weight,
    source: Source,
) -> Movement {
    Movement { code, also, name, timing, weight, completes: false, source }
}

const fn completing(movement: Movement) -> Movement {
    Movement { completes: true, ..movement }
}

/// Every movement known. Where a page gives the meaning but not the timing or the weight, the general
/// rule of the class handouts is followed: toe movements on the upbeat, heel movements on the count.
pub static MOVEMENTS: &[Movement] = &[
    movement("DS", &["DTS"], "double step", Timing::DoubleStep, Weight::Onto, KAM),
    movement("RS", &["R/S", "RKS"], "rock step", Timing::UpbeatAndBeat, Weight::Rock, KAM),
    movement("S", &["ST", "STEP", "STEPS"], "step", Timing::OnBeat, Weight::Onto, KAM),
    movement("DT", &["D"], "double toe", Timing::DoubleToe, Weight::Stays, KAM),
    movement("R", &["RK", "ROCK"], "rock", Timing::Upbeat, Weight::Onto, SCCA),
    movement("BR", &["BRUSH"], "brush", Timing::Either, Weight::Stays, KAM),
    movement("K", &["KK", "KICK"], "kick", Timing::Either, Weight::Stays, KAM),
    movement("TCH", &["TOUCH", "TTCH", "TT"], "touch", Timing::Either, Weight::Stays, KAM),
    movement("STO", &["STOMP", "STMP"], "stomp", Timing::OnBeat, Weight::Onto, KAM),
    movement("STA", &["STAMP"], "stamp", Timing::OnBeat, Weight::Stays, KAM),
    movement("BO", &["BOUNCE"], "bounce", Timing::OnBeat, Weight::Both, KAM),
    completing(movement("H", &["HL", "HEEL"], "heel", Timing::OnBeat, Weight::Held, KAM)),
    completing(movement("SL", &["SLIDE"], "slide", Timing::OnBeat, Weight::Held, KAM)),
    movement("DR", &["DRAG"], "drag", Timing::Upbeat, Weight::Held, KAM),
    movement("T", &["TOE"], "toe", Timing::Upbeat, Weight::Onto, RAYLIN),
    movement("BA", &["BALL", "B"], "ball", Timing::Upbeat, Weight::Onto, SCCA),
    movement("HB", &[], "heel-ball", Timing::UpbeatAndBeat, Weight::Onto, KAM),
    movement("TB", &[], "toe-ball", Timing::UpbeatAndBeat, Weight::Onto, KAM),
    movement("TH", &[], "toe-heel", Timing::UpbeatAndBeat, Weight::Onto, Source::CommonPractice),
    movement("LOOP", &["LP"], "loop", Timing::Upbeat, Weight::Stays, Source::CommonPractice),
    movement("HS", &["HLS"], "heel step", Timing::UpbeatAndBeat, Weight::Onto, SCCA),
    movement("SK", &["SKUFF", "SKF", "SCUFF"], "skuff", Timing::Either, Weight::Stays, KAM),
    movement("FLG", &["FL", "FLANGE"], "flange", Timing::Either, Weight::Stays, KAM),
    movement("SLR", &["SR", "SLUR"], "slur", Timing::Upbeat, Weight::Stays, SCCA),
    movement("BRK", &["BK"], "break", Timing::Either, Weight::Stays, RAYLIN),
    movement("DIG", &["DG"], "dig", Timing::Either, Weight::Stays, SCCA),
    movement("CLK", &["CK", "CLICK"], "click", Timing::Either, Weight::Stays, SCCA),
    completing(movement(
        "CH",
        &["CHUG"],
        "chug",
        Timing::OnBeat,
        Weight::Held,
        Source::CommonPractice,
    )),
    completing(movement("LFT", &["LF", "LIFT", "UP"], "lift", Timing::OnBeat, Weight::Held, SCCA)),
    movement("HOP", &["HP"], "hop", Timing::OnBeat, Weight::Held, SCCA),
    movement("PVT", &["PV", "PIVOT"], "pivot", Timing::OnBeat, Weight::Held, SCCA),
    movement("CLAP", &["CLP"], "clap", Timing::OnBeat, Weight::None, Source::CommonPractice),
    movement(
        "HITCH",
        &["HOOK", "FLICK", "SWEEP", "POINT"],
        "hitch",
        Timing::OnBeat,
        Weight::Stays,
        Source::CommonPractice,
    ),
    movement(
        "BUMP",
        &["SWIVEL"],
        "bump of the hips",
        Timing::OnBeat,
        Weight::None,
        Source::CommonPractice,
    ),
    movement("HOLD", &["PAUSE"], "hold", Timing::SilentCount, Weight::None, Source::CommonPractice),
    movement(
        "P",
        &[],
        "pause on the upbeat",
        Timing::SilentUpbeat,
        Weight::None,
        Source::CommonPractice,
    ),
];

/// Finds a movement by any of its abbreviations or its name; case does not matter.
pub fn find_movement(written: &str) -> Option<&'static Movement> {
    // Longest abbreviation first asked, so that nothing long is ever upper-cased.
    if written.len() > 24 {
        return None;
    }
    let upper = written.to_uppercase();
    MOVEMENTS.iter().find(|m| m.code == upper || m.also.contains(&upper.as_str()))
}

/// A movement as danced in a step.
#[derive(Debug, Clone, PartialEq)]
pub struct MovementUse {
    /// Which movement.
    pub movement: &'static Movement,
    /// Direction or note behind it, without its brackets: `xif`.
    pub tag: Option<String>,
    /// Sounds at the same time as the movement before it (`BR/SL`).
    pub joined: bool,
    /// When it sounds, quarters from the start of the step; ascending.
    pub sounds: Vec<Quarters>,
}

impl MovementUse {
    /// A movement that is not yet laid on the counts.
    pub fn new(movement: &'static Movement) -> MovementUse {
        MovementUse { movement, tag: None, joined: false, sounds: Vec::new() }
    }

    /// The same so many counts later.
    pub fn later_by(mut self, counts: u32) -> MovementUse {
        for sound in &mut self.sounds {
            *sound += counts * QUARTERS_PER_COUNT;
        }
        self
    }

    /// The feet that sound, in order, starting with `free` free.
    pub fn feet(&self, free: Foot) -> Vec<Foot> {
        match self.movement.weight {
            Weight::Onto | Weight::Stays => vec![free],
            Weight::Held => vec![free.other()],
            Weight::Rock => vec![free, free.other()],
            Weight::Both => vec![free, free.other()],
            Weight::None => Vec::new(),
        }
    }

    /// The foot that is free afterwards.
    pub fn free_after(&self, free: Foot) -> Foot {
        match self.movement.weight {
            Weight::Onto => free.other(),
            _ => free,
        }
    }

    /// As a cue sheet writes it: `S(xif)`.
    pub fn written(&self) -> String {
        match &self.tag {
            Some(tag) => format!("{}({tag})", self.movement.code),
            None => self.movement.code.to_string(),
        }
    }
}

/// Lays movements on the counts and returns how many counts they take. Each goes to the first count
/// where all its sounds come after what sounded before.
pub fn lay_out(moves: &mut [MovementUse]) -> u32 {
    let mut reached: Quarters = 0;
    for i in 0..moves.len() {
        let next_completes = moves.get(i + 1).is_some_and(|m| m.movement.completes && !m.joined);
        let timing = match moves[i].movement.timing {
            Timing::Either if next_completes => Timing::Upbeat,
            timing => timing,
        };
        if moves[i].joined {
            moves[i].sounds = i.checked_sub(1).map(|p| moves[p].sounds.clone()).unwrap_or_default();
            continue;
        }
        moves[i].sounds.clear();
        match timing {
            Timing::SilentCount => {
                reached = whole_counts(reached) * QUARTERS_PER_COUNT + QUARTERS_PER_COUNT
            }
            Timing::SilentUpbeat => reached = count_for(reached, 2) + 2,
            _ => {
                let pattern = timing.sounds();
                let first = pattern.first().copied().unwrap_or(QUARTERS_PER_COUNT);
                let start = count_for(reached, first);
                moves[i].sounds = pattern.iter().map(|q| start + q).collect();
                reached = moves[i].sounds.last().copied().unwrap_or(reached);
            }
        }
    }
    whole_counts(reached)
}

/// Where the first count starts in which a sound at quarter `first` comes after `reached`.
fn count_for(reached: Quarters, first: Quarters) -> Quarters {
    let start = reached / QUARTERS_PER_COUNT * QUARTERS_PER_COUNT;
    if start + first <= reached { start + QUARTERS_PER_COUNT } else { start }
}

/// Counts needed to hold so many quarters.
pub fn whole_counts(quarters: Quarters) -> u32 {
    quarters.div_ceil(QUARTERS_PER_COUNT)
}

/// How a cue sheet writes a place in the counts: quarter 4 is `1`, 2 is `&`.
pub fn timing_mark(quarter: Quarters) -> String {
    match quarter % QUARTERS_PER_COUNT {
        1 => "e".into(),
        2 => "&".into(),
        3 => "a".into(),
        // Cue sheets count to eight and start again.
        _ => ((quarter / QUARTERS_PER_COUNT + 7) % 8 + 1).to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sounds_alone(code: &str) -> String {
        let mut moves = [MovementUse::new(find_movement(code).unwrap())];
        lay_out(&mut moves);
        moves[0].sounds.iter().map(|q| timing_mark(*q)).collect()
    }

    #[test]
    fn movements_sound_and_take_weight_as_published() {
        // Kam Clogger, Codes for Clogging Cue Sheets.
        let table = [
            ("S", "1", Weight::Onto),
            ("DT", "&a", Weight::Stays),
            ("DS", "&a1", Weight::Onto),
            ("RS", "&1", Weight::Rock),
            ("STO", "1", Weight::Onto),
            ("STA", "1", Weight::Stays),
            ("Tch", "1", Weight::Stays),
            ("BR", "1", Weight::Stays),
            ("K", "1", Weight::Stays),
            ("BO", "1", Weight::Both),
        ];
        for (code, sounds, weight) in table {
            assert_eq!(sounds_alone(code), sounds, "{code}");
            assert_eq!(find_movement(code).unwrap().weight, weight, "{code}");
        }
    }

    #[test]
    fn a_movement_is_written_in_one_way_only() {
        let mut all: Vec<&str> =
            MOVEMENTS.iter().flat_map(|m| m.also.iter().copied().chain([m.code])).collect();
        all.sort_unstable();
        let number = all.len();
        all.dedup();
        assert_eq!(all.len(), number);
    }

    #[test]
    fn toe_on_the_upbeat_and_heel_on_the_beat() {
        // Basic Clogging Terminology (class handout); Skyline Cloggers' terminology page.
        let codes = ["T", "H", "BR", "SL", "R", "S"];
        let mut moves: Vec<_> =
            codes.iter().map(|c| MovementUse::new(find_movement(c).unwrap())).collect();
        assert_eq!(lay_out(&mut moves), 3);
        let marks: Vec<_> = moves.iter().flat_map(|m| &m.sounds).map(|q| timing_mark(*q)).collect();
        assert_eq!(marks, ["&", "1", "&", "2", "&", "3"]);
    }

    #[test]
    fn counting_starts_again_after_eight() {
        assert_eq!(timing_mark(32), "8");
        assert_eq!(timing_mark(36), "1");
    }
}
