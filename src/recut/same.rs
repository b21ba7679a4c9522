//! The whole way from two listened-to cuts to the new cut's map.

use super::chance::{density, fill_covered, forget_chance, of_one_song};
use super::likeness::Likeness;
use super::new_map::carried_over;
use super::old::Old;
use super::reading::{Reading, read};
use super::way::{Way, likeliest_way};
use super::what::{Beside, Found, What};
use crate::rhythm::{self, Features};
use crate::song::{SongMap, SongView};

/// What a new cut is of an old one.
#[derive(Debug, Clone)]
pub struct Recut {
    /// The new cut's map with the marks carried over.
    pub map: SongMap,
    /// The new cut as danced.
    pub song: SongView,
    /// Semitones by which the new cut is higher; lower is negative.
    pub semitones: i32,
    /// Tempo of the new cut over that of the old.
    pub tempo_ratio: f64,
    /// What each phrase of `song` is, in its order.
    pub phrases: Vec<Phrase>,
    /// Old phrases of which nothing is there, as indices.
    pub missing: Vec<usize>,
    /// Share of the new cut's counts that are in the old one, 0 to 1.
    pub share: f64,
    /// Share of the old cut's counts that are in the new one, 0 to 1.
    pub share_of_old: f64,
    /// How alike the instruments are where both cuts are in step, 0 to 1: near 1 for copies of one
    /// performance.
    pub same_sound: f64,
    /// What it is of the old cut.
    pub what: What,
    /// What stands around it.
    pub beside: Beside,
}

impl Recut {
    /// Whether it is the same song at all.
    pub fn same(&self) -> bool {
        self.what != What::Other
    }
}

/// A phrase of the new cut and what it is of the old one.
#[derive(Debug, Clone, PartialEq)]
pub struct Phrase {
    /// Index of the old phrase; `None` for what is new.
    pub of: Option<usize>,
    /// Counts of the old phrase that are left out before its first that is there.
    pub from: u32,
    /// Its length in counts.
    pub counts: u32,
    /// How sure, 0 to 1.
    pub sure: f64,
}

/// Matches a new cut, as listened to, to an old one.
pub fn recut(
    song: &SongView,
    old_sound: &Features,
    new: &SongMap,
    new_sound: &rhythm::Heard,
) -> Recut {
    let old = Old::new(song, old_sound);
    let Some(mut way) = likeliest_way(&old, new, new_sound) else {
        return nothing(new);
    };
    let found = Found {
        says: density(&way.path),
        one_song: of_one_song(&way.path, &way.shape, || {
            Likeness::of_harmony(&old.sounds, &way.sounds, way.likeness.semitones)
        }),
    };
    forget_chance(&mut way.path, &way.likeness, &way.shape, found.one_song);
    fill_covered(&mut way.path, &way.likeness, &way.shape);
    let reading = read(song, &old, &mut way, found);
    if reading.what == What::Other {
        return Recut {
            share: reading.met.share,
            share_of_old: reading.met.share_of_old,
            ..nothing(new)
        };
    }
    let map = carried_over(song, &way, &reading, new_sound);
    told(song, &old, &way, reading, map)
}

/// All of it together.
fn told(song: &SongView, old: &Old, way: &Way, reading: Reading, map: SongMap) -> Recut {
    let Reading { what, beside, met, carried, sure, .. } = reading;
    let phrases = carried.iter().zip(&sure).map(|(phrase, sure)| Phrase {
        of: phrase.of.map(|source| source.phrase),
        from: phrase.of.map_or(0, |source| source.from),
        counts: phrase.counts,
        sure: *sure,
    });
    let phrases: Vec<Phrase> = phrases.collect();
    let missing = (0..song.phrases.len()).filter(|p| !phrases.iter().any(|q| q.of == Some(*p)));
    Recut {
        semitones: way.likeness.semitones,
        tempo_ratio: old.tempo_ratio(way),
        missing: missing.collect(),
        share: met.share,
        share_of_old: met.share_of_old,
        same_sound: met.same_sound,
        what,
        beside,
        song: map.view().unwrap_or_else(|_| nothing(&way.map).song),
        map,
        phrases,
    }
}

/// A cut without beats has nothing of anything.
fn nothing(new: &SongMap) -> Recut {
    let song = SongView {
        entrance: None,
        title: new.recording.file.clone(),
        artist: None,
        duration_s: new.recording.duration_s,
        counts_per_minute: 0.0,
        counts_per_bar: 4,
        counts_per_beat: 1.0,
        counts: crate::song::CountLine {
            times_s: Vec::new(),
            bar_positions: Vec::new(),
            end_s: new.recording.duration_s,
        },
        phrases: Vec::new(),
    };
    Recut {
        map: new.clone(),
        song,
        semitones: 0,
        tempo_ratio: 1.0,
        phrases: Vec::new(),
        missing: Vec::new(),
        share: 0.0,
        share_of_old: 0.0,
        same_sound: 0.0,
        what: What::Other,
        beside: Beside::default(),
    }
}
