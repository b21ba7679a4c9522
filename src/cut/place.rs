//! How a join is made: which moment is laid over which, where the crossfade lies, how loudness is evened.

use super::even::EvenCounts;
use super::plan::Join;
use super::splice::{Frames, gain_length_s, read_s};
use super::tempo::OTHER_TEMPO;
use super::writing::FADE_S;
use crate::error::Result;
use crate::song::SongView;

/// A crossfade is over so long before the beat, seconds, so that the beat's attack is untouched.
const BEFORE_ATTACK_S: f64 = 0.004;
/// A crossfade lies in the quietest place of so long a stretch before the beat, seconds.
const SEARCHED_S: f64 = 0.050;
/// Most that loudness is changed at a join, decibels.
const MOST_GAIN_DB: f64 = 6.0;

/// How two places are laid over each other.
pub(super) struct Place {
    /// Time in the recording at which the place that is left would have gone on.
    pub leave_s: f64,
    /// Time in the recording that comes then.
    pub enter_s: f64,
    /// The crossfade is over so long before.
    pub fade_before_s: f64,
    pub gain_db: f64,
}

impl Place {
    /// How each join is made.
    ///
    /// # Errors
    /// When the sound cannot be read.
    pub fn of_joins(
        song: &SongView,
        source: &mut impl Frames,
        joins: &[Join],
    ) -> Result<Vec<Place>> {
        // Where nothing is joined no count has to be listened to.
        if joins.is_empty() {
            return Ok(Vec::new());
        }
        let even = EvenCounts::of(song, source)?;
        joins.iter().map(|join| Place::find(song, &even, source, join)).collect()
    }

    fn find(
        song: &SongView,
        even: &EvenCounts,
        source: &mut impl Frames,
        join: &Join,
    ) -> Result<Place> {
        let left_s = even.at_s(join.leave);
        let enter_s = even.at_s(join.enter);
        let slower_s = slower_by_s(even.step_s(join.leave), even.step_s(join.enter));
        let leave_s = left_s + slower_s;
        // The beat that would have followed is not begun, nor is the one that comes cut into.
        let clear_s = BEFORE_ATTACK_S + slower_s.max(0.0);
        let mut before = [0.0f64; 2];
        let mut after = [0.0f64; 2];
        let long_s = 4.0 * 60.0 / song.counts_per_minute.max(20.0);
        for (place, at_s) in [leave_s, enter_s].into_iter().enumerate() {
            before[place] = level_db(source, at_s - long_s, at_s)?;
            after[place] = level_db(source, at_s, at_s + long_s)?;
        }
        // Only a difference that both sides of the join have is one of loudness; one that a single side has
        // is one of music.
        let (gain_before, gain_after) = (before[0] - before[1], after[0] - after[1]);
        let gain_db = if gain_before * gain_after > 0.0 {
            gain_before.signum() * gain_before.abs().min(gain_after.abs()).min(MOST_GAIN_DB)
        } else {
            0.0
        };
        let gain_db = gain_db.min(headroom_db(source, enter_s, gain_length_s(song))?);
        let mut quietest = (f64::INFINITY, clear_s);
        let steps = ((SEARCHED_S - FADE_S - clear_s) / 0.002).max(0.0) as usize;
        for step in 0..=steps {
            let back_s = clear_s + 0.002 * step as f64;
            let over = |at_s: f64| (at_s - back_s - FADE_S, at_s - back_s);
            let (a, b) = (over(leave_s), over(enter_s));
            let power = level(source, a.0, a.1)? + level(source, b.0, b.1)?;
            // Nearer to the beat unless further away is clearly quieter.
            if power < 0.8 * quietest.0 {
                quietest = (power, back_s);
            }
        }
        Ok(Place { leave_s, enter_s, fade_before_s: quietest.1, gain_db })
    }
}

/// How much longer the interval across a join is than the one that leads up to the place left: halfway to that of the
/// place entered.
fn slower_by_s(left_s: f64, entered_s: f64) -> f64 {
    let longer_s = entered_s - left_s;
    if longer_s.abs() < OTHER_TEMPO * left_s { longer_s / 2.0 } else { 0.0 }
}

/// Mean power from one time to another.
fn level(source: &mut impl Frames, from_s: f64, to_s: f64) -> Result<f64> {
    let samples = read_s(source, from_s, to_s)?;
    let sum: f64 = samples.iter().map(|x| f64::from(x * x)).sum();
    Ok(sum / samples.len().max(1) as f64)
}

fn level_db(source: &mut impl Frames, from_s: f64, to_s: f64) -> Result<f64> {
    Ok(10.0 * level(source, from_s, to_s)?.max(1e-9).log10())
}

/// How much louder a stretch may be made before a sample reaches full scale, decibels.
fn headroom_db(source: &mut impl Frames, from_s: f64, long_s: f64) -> Result<f64> {
    let peak = read_s(source, from_s, from_s + long_s)?.iter().fold(0f32, |p, x| p.max(x.abs()));
    Ok((20.0 * f64::from(0.99 / peak.max(1e-4)).log10()).max(0.0))
}
