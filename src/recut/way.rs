//! The likeliest way through a new cut: its counting, its key, and which old count each new one is.

use super::chance::{apart, density};
use super::counting::{Counting, countings};
use super::likeness::Likeness;
use super::lines::{shifted, straightened};
use super::old::Old;
use super::path::{Path, SLIP, Shape, likeliest};
use super::slips::mended;
use super::what::{MOST_DRIFT as COPYS_DRIFT, ONE_RECORDING, same_sound};
use crate::rhythm;
use crate::song::form::BeatSounds;
use crate::song::{Pulse, SongMap, UserSet};

/// Keys that are tried: where other music stands around a part of the song, the likeliest at first sight may be that of
/// the other music.
const KEYS: usize = 3;
/// Ways that are followed to the end.
const FOLLOWED: usize = 2;
/// Counts on the way from which the sound of both recordings can be judged where they meet.
const ENOUGH: usize = 32;
/// Where more than this share of both cuts is on the way, their sound as a whole is that where they meet.
const NEARLY_ALL: f64 = 0.8;
/// So many beats at a pulse that is not the song's are worth following the sound anew.
const A_STRETCH: usize = 16;
/// And where the counts on the way say this much each, nats.
const WORTH_IT: f32 = 0.3;
/// A way whose tempo is further from the usual ratio, in the median, is no copy's: players drift by more, beats that were
/// heard elsewhere by less.
const MOST_DRIFT: f64 = 0.006;

/// One way.
pub(super) struct Way {
    /// The new cut, as it is counted: heard again where it was heard at half or double.
    pub map: SongMap,
    pub counting: Counting,
    pub sounds: BeatSounds,
    pub likeness: Likeness,
    pub shape: Shape,
    pub path: Path,
}

impl Way {
    /// How likely, for a count.
    fn score(&self) -> f32 {
        self.path.score / self.counting.beats_s.len().max(1) as f32
    }

    fn follow(&mut self) {
        for _ in 0..2 {
            self.likeness.weigh(apart(&self.likeness, &self.path));
            self.path = likeliest(&self.likeness, &self.shape);
        }
    }

    /// The same, of a copy, with the old cut's counts along each piece of it, where what is heard does not speak against
    /// it: that a copy falls out of time is no likelier than a beat missed.
    fn straighten(self, old: &Old, sound: &rhythm::Heard) -> Way {
        if old.drift(&self) > MOST_DRIFT {
            return self;
        }
        let way = match straightened(old, &self.counting, &self.path) {
            Some(counting) => self.or_counted(old, sound, counting, SLIP),
            None => self,
        };
        way.or_half_a_count_off(old, sound)
    }

    /// Where the tempo is a copy's and the attacks are not, one of both may have been counted on the off-beats.
    fn or_half_a_count_off(self, old: &Old, sound: &rhythm::Heard) -> Way {
        let alike = same_sound(old, &self.sounds, &self.path);
        if alike >= ONE_RECORDING || old.drift(&self) > COPYS_DRIFT {
            return self;
        }
        [-0.5, 0.5].into_iter().fold(self, |way, later| {
            match shifted(old, &way.counting, &way.path, later) {
                Some(counting) => way.or_counted(old, sound, counting, 0.0),
                None => way,
            }
        })
    }

    /// The same with beats put right that the old cut shows to have been missed or heard twice, where that is no less
    /// likely.
    fn mend_slips(self, old: &Old, sound: &rhythm::Heard) -> Way {
        match mended(old, &self.counting, &self.path) {
            Some(counting) => self.or_counted(old, sound, counting, 0.0),
            None => self,
        }
    }

    /// The new cut counted otherwise, where that is less likely by no more than `less` nats.
    fn or_counted(self, old: &Old, sound: &rhythm::Heard, counting: Counting, less: f32) -> Way {
        let sounds = BeatSounds::new(&sound.features, &counting.beats_s);
        let shape = Shape { new_bar: counting.bar.clone(), ..self.shape.clone() };
        let likeness = Likeness::in_key(&old.sounds, &sounds, self.likeness.semitones);
        let path = likeliest(&likeness, &shape);
        let mut other = Way { map: self.map.clone(), counting, sounds, likeness, shape, path };
        other.follow();
        other.judge_where_they_meet(old);
        if other.path.score >= self.path.score - less { other } else { self }
    }

    /// What both recordings have in common throughout is judged where they meet: other music around that sounds
    /// otherwise.
    fn judge_where_they_meet(&mut self, old: &Old) {
        let there: Vec<bool> = self.path.old.iter().map(Option::is_some).collect();
        let mut of_old = vec![false; old.times_s.len()];
        self.path.old.iter().flatten().for_each(|&i| of_old[i] = true);
        let n = |met: &[bool]| met.iter().filter(|x| **x).count();
        let share = |met: &[bool]| n(met) as f64 / met.len().max(1) as f64;
        if n(&there) < ENOUGH || share(&there).min(share(&of_old)) > NEARLY_ALL {
            return;
        }
        let semitones = self.likeness.semitones;
        self.likeness =
            Likeness::where_they_meet((&old.sounds, &of_old), (&self.sounds, &there), semitones);
        self.likeness.weigh(apart(&self.likeness, &self.path));
        self.path = likeliest(&self.likeness, &self.shape);
        self.follow();
    }
}

/// The likeliest way of all countings and keys; `None` without beats.
pub(super) fn likeliest_way(old: &Old, new: &SongMap, sound: &rhythm::Heard) -> Option<Way> {
    let way = at_likeliest_pulse(old, new, sound)?;
    Some(way.straighten(old, sound).mend_slips(old, sound))
}

/// Where the likeliest counts at half or double what was heard, or a stretch was heard at another pulse, the sound is
/// followed anew at the pulse of the old cut, and the better of both is taken.
fn at_likeliest_pulse(old: &Old, new: &SongMap, sound: &rhythm::Heard) -> Option<Way> {
    let way = of_countings(old, new, sound, countings(old.counts_per_minute, new))?;
    let ratio = old.tempo_ratio(&way);
    let worth_it = || {
        density(&way.path) >= WORTH_IT
            && old.at_other_pulses(&way.counting.beats_s, ratio) >= A_STRETCH
    };
    if way.counting.ratio == 1.0 && !worth_it() {
        return Some(way);
    }
    let Some(again) = at_pulse(new, sound, old.counts_per_minute * ratio) else {
        return Some(way);
    };
    let as_counted = vec![Counting::as_danced(&again)];
    match of_countings(old, &again, sound, as_counted) {
        Some(other) if other.path.score >= way.path.score => Some(other),
        _ => Some(way),
    }
}

fn of_countings(
    old: &Old,
    new: &SongMap,
    sound: &rhythm::Heard,
    countings: Vec<Counting>,
) -> Option<Way> {
    let mut ways = Vec::new();
    for counting in countings {
        let sounds = BeatSounds::new(&sound.features, &counting.beats_s);
        let shape = Shape {
            starts: old.starts.clone(),
            old_bar: old.bar.clone(),
            new_bar: counting.bar.clone(),
        };
        for likeness in Likeness::in_likely_keys(&old.sounds, &sounds, KEYS) {
            let path = likeliest(&likeness, &shape);
            let (map, counting, sounds) = (new.clone(), counting.clone(), sounds.clone());
            ways.push(Way { map, counting, sounds, likeness, shape: shape.clone(), path });
        }
    }
    ways.sort_by(|a, b| b.score().total_cmp(&a.score()));
    ways.truncate(FOLLOWED);
    ways.iter_mut().for_each(Way::follow);
    let mut best = ways.into_iter().max_by(|a, b| a.score().total_cmp(&b.score()))?;
    best.judge_where_they_meet(old);
    Some(best)
}

/// The new cut with its sound followed anew at a pulse; `None` where nothing else comes of it.
fn at_pulse(new: &SongMap, sound: &rhythm::Heard, counts_per_minute: f64) -> Option<SongMap> {
    let pulse = Some(Pulse { counts_per_minute });
    let set = UserSet { pulse, ..UserSet::default() };
    SongMap { set, ..new.clone() }.with_beats_heard_again(sound)
}
