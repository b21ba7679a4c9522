//! A plan made into sound: pieces joined just before the beat, at equal loudness, so that no beat is lost or
//! comes twice.

use super::place::Place;
use super::plan::{Ending, Join, Plan};
use super::writing::{FADE_S, Gain, Writer};
use crate::error::Result;
use crate::song::SongView;
use crate::units::Count;

/// Sound of a recording at its own rate, at any place.
pub trait Frames {
    /// Frames a second.
    fn rate_hz(&self) -> f64;
    /// Channels.
    fn channels(&self) -> usize;
    /// Reads interleaved frames from `from` on; silence outside the recording.
    ///
    /// # Errors
    /// When the sound cannot be read.
    fn read(&mut self, from: i64, out: &mut [f32]) -> Result<()>;
}

/// What a cut became.
#[derive(Debug, Clone, PartialEq)]
pub struct Spliced {
    /// Times of the counts in the new cut, seconds, in the order they are played.
    pub played_s: Vec<f64>,
    /// The plan's joins at the times that they were written at.
    pub joins: Vec<Join>,
}

/// Counts over which a change of loudness goes back.
const GAIN_COUNTS: f64 = 8.0;
/// Counts over which a faded ending goes.
const ENDING_COUNTS: i32 = 8;

/// Writes a plan's sound to `sink`, interleaved, in blocks. `progress` is told the share done, 0 to 1.
///
/// The first count after a join comes when the count that is left out would have come, or halfway to when it would
/// have come at the tempo of the place that is entered; both as the beats around them and their attacks put them. The
/// crossfade lies before it, where both are quiet, and keeps power whether the sounds go together or not.
///
/// # Errors
/// Those of reading and of the sink.
pub fn splice(
    song: &SongView,
    plan: &Plan,
    source: &mut impl Frames,
    sink: &mut dyn FnMut(&[f32]) -> Result<()>,
    progress: &mut dyn FnMut(f64),
) -> Result<Spliced> {
    let time = |count: Count| song.counts.time_or_beyond_s(count);
    let rate = source.rate_hz();
    let mut out = Writer {
        rate,
        channels: source.channels(),
        at: 0,
        total_s: plan.duration_s,
        fade_in_s: 0.0,
        fade_out_s: None,
        sink,
        progress,
    };
    let mut played_s = Vec::with_capacity(plan.counts() as usize);
    let mut joins = plan.joins.clone();
    let (Some(first), Some(last)) = (plan.pieces.first(), plan.pieces.last()) else {
        return Ok(Spliced { played_s, joins });
    };
    // Time in the recording less time in the new cut, of the piece that is being written.
    let mut shift_s = time(first.from) - plan.lead_s;
    let mut gain = Gain::NONE;
    if shift_s.abs() > 1e-9 {
        out.fade_in_s = plan.lead_s;
    }
    let places = Place::of_joins(song, source, &joins)?;
    for (k, piece) in plan.pieces.iter().enumerate() {
        let start_s = time(piece.from) - shift_s;
        let own = (piece.from.0..piece.to.0).map(|c| time(Count(c)) - shift_s);
        played_s.extend(own);
        if k > 0 {
            // Laid over the count that was left out; see below.
            let first_here = played_s.len() - piece.counts() as usize;
            played_s[first_here] = joins[k - 1].at_s;
        }
        let (Some(join), Some(place)) = (joins.get_mut(k), places.get(k)) else { continue };
        let at_s = place.leave_s - shift_s;
        out.play(source, shift_s, gain, at_s - place.fade_before_s - FADE_S)?;
        let next_shift_s = place.enter_s - at_s;
        let next_gain = Gain { db: place.gain_db, from_s: at_s, over_s: gain_length_s(song) };
        out.crossfade(source, (shift_s, gain), (next_shift_s, next_gain))?;
        join.at_s = at_s;
        (shift_s, gain) = (next_shift_s, next_gain);
        debug_assert!(start_s <= at_s);
    }
    let end_s = time(last.to) - shift_s;
    match plan.ending {
        Ending::AsRecorded => out.play(source, shift_s, gain, song.duration_s - shift_s)?,
        Ending::Faded => {
            out.fade_out_s =
                Some((time(last.to + -ENDING_COUNTS.min(last.counts() as i32)) - shift_s, end_s));
            out.play(source, shift_s, gain, end_s + super::plan::RING_S)?;
        }
    }
    Ok(Spliced { played_s, joins })
}

/// How long a change of loudness takes to go back.
pub(super) fn gain_length_s(song: &SongView) -> f64 {
    GAIN_COUNTS * 60.0 / song.counts_per_minute.max(20.0)
}

pub(super) fn read_s(source: &mut impl Frames, from_s: f64, to_s: f64) -> Result<Vec<f32>> {
    let rate = source.rate_hz();
    let from = (from_s * rate).round() as i64;
    let frames = ((to_s - from_s) * rate).round().max(0.0) as usize;
    let mut samples = vec![0.0; frames * source.channels()];
    source.read(from, &mut samples)?;
    Ok(samples)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cut::{Joints, keep, testing};

    /// A click on each count, 8000 frames a second, two channels; the clicks of the second
    /// half are some milliseconds off their counts' times.
    struct Clicks {
        samples: Vec<f32>,
    }

    const RATE: f64 = 8000.0;

    impl Clicks {
        fn new(song: &SongView, late_s: f64, gain_late: f32) -> Clicks {
            let frames = (song.duration_s * RATE) as usize;
            let mut samples = vec![0f32; 2 * frames];
            let half = song.counts.len() / 2;
            for (i, time_s) in song.counts.times_s.iter().enumerate() {
                let time_s = time_s + if i >= half { late_s } else { 0.0 };
                let start = (time_s * RATE).round() as usize;
                for k in 0..800.min(frames - start) {
                    let x = 0.3 * (-(k as f32) / 200.0).exp() * if k % 2 == 0 { 1.0 } else { -1.0 };
                    let gain = if i >= half { gain_late } else { 1.0 };
                    samples[2 * (start + k)] += gain * x;
                    samples[2 * (start + k) + 1] += gain * x;
                }
            }
            Clicks { samples }
        }
    }

    impl Frames for Clicks {
        fn rate_hz(&self) -> f64 {
            RATE
        }
        fn channels(&self) -> usize {
            2
        }
        fn read(&mut self, from: i64, out: &mut [f32]) -> Result<()> {
            for (k, x) in out.iter_mut().enumerate() {
                let at = 2 * from + k as i64;
                *x = usize::try_from(at)
                    .ok()
                    .and_then(|i| self.samples.get(i))
                    .copied()
                    .unwrap_or(0.0);
            }
            Ok(())
        }
    }

    fn cut(named: &str, late_s: f64, gain: f32) -> (Plan, Spliced, Vec<f32>) {
        let (song, sounds) = testing::song();
        let plan = keep(&song, &Joints::new(&song, &sounds), named).unwrap();
        let mut out = Vec::new();
        let mut sink = |block: &[f32]| {
            out.extend_from_slice(block);
            Ok(())
        };
        let mut source = Clicks::new(&song, late_s, gain);
        let spliced = splice(&song, &plan, &mut source, &mut sink, &mut |_| {}).unwrap();
        (plan, spliced, out)
    }

    /// Times at which clicks start: loud after five quiet milliseconds.
    fn clicks(samples: &[f32]) -> Vec<f64> {
        let left: Vec<f32> = samples.iter().step_by(2).map(|x| x.abs()).collect();
        let quiet = |i: usize| left[i.saturating_sub(40)..i].iter().all(|x| *x < 0.01);
        (0..left.len()).filter(|&i| left[i] > 0.05 && quiet(i)).map(|i| i as f64 / RATE).collect()
    }

    #[test]
    fn beats_are_even_across_joins_even_where_the_grid_is_off() {
        for late_s in [0.0, 0.004, -0.006] {
            let (plan, spliced, out) =
                cut("intro, verse 1, chorus 2, bridge, chorus 3, ending", late_s, 1.0);
            let heard = clicks(&out);
            assert_eq!(heard.len(), plan.counts() as usize, "no beat lost or doubled");
            assert_eq!(plan.joins.len(), 1);
            for pair in heard.windows(2) {
                // Floor of the house: 5 ms; what is found here is a sample or two.
                assert!((pair[1] - pair[0] - 0.5).abs() < 0.0006, "{late_s}: {pair:?}");
            }
            for (told, heard) in spliced.played_s.iter().zip(&heard) {
                assert!((told - heard).abs() < 0.0065, "{told} {heard}");
            }
            for join in &spliced.joins {
                let at = join.at_count.index().unwrap();
                assert!((heard[at] - join.at_s).abs() < 0.0006 + late_s.abs(), "{join:?}");
            }
        }
    }

    #[test]
    fn the_length_is_what_the_plan_says() {
        for named in ["intro, verse, ending", "verse 2, chorus", "chorus, chorus, chorus, intro"] {
            let (plan, _, out) = cut(named, 0.0, 1.0);
            let long_s = out.len() as f64 / 2.0 / RATE;
            assert!(
                (long_s - plan.duration_s).abs() < 0.01,
                "{named}: {long_s} {}",
                plan.duration_s
            );
        }
    }

    #[test]
    fn a_louder_place_is_joined_at_equal_loudness() {
        let (_, _, out) = cut("intro, verse 1, chorus 3", 0.0, 1.6);
        let peak = |at_s: f64| {
            let from = 2 * (at_s * RATE) as usize;
            out[from..from + 160].iter().fold(0f32, |p, x| p.max(x.abs()))
        };
        // Count 49 is the first after the join: 1.0 s before count 1, 48 counts of half a second.
        let (before, after, later) = (peak(24.0), peak(24.998), peak(24.998 + 6.0));
        assert!((after / before - 1.0).abs() < 0.1, "{before} {after}");
        assert!(later / before > 1.4, "and goes back: {before} {later}");
    }

    #[test]
    fn a_cut_inside_the_song_fades_out_and_leads_in() {
        let (plan, _, out) = cut("verse 2, chorus", 0.0, 1.0);
        assert_eq!(plan.ending, Ending::Faded);
        let tail = &out[out.len() - 2 * (RATE * 0.3) as usize..];
        assert!(tail.iter().all(|x| x.abs() < 1e-6));
        assert!(out[..8].iter().all(|x| x.abs() < 0.05));
    }
}
