//! A plan made into sound: pieces joined just before the beat, at equal loudness, so that no beat is lost or
//! comes twice.

use std::ops::RangeInclusive;

use super::plan::{Ending, Join, Plan};
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

/// Length of a crossfade, seconds.
const FADE_S: f64 = 0.020;
/// A crossfade is over so long before the beat, seconds, so that the beat's attack is untouched.
const BEFORE_ATTACK_S: f64 = 0.004;
/// A crossfade lies in the quietest place of so long a stretch before the beat, seconds.
const SEARCHED_S: f64 = 0.050;
/// Most that loudness is changed at a join, decibels, and over how many counts it goes back.
const MOST_GAIN_DB: f64 = 6.0;
const GAIN_COUNTS: f64 = 8.0;
/// Counts over which a faded ending goes.
const ENDING_COUNTS: i32 = 8;
/// Places less unlike than this have the same attacks.
const ALIKE: f64 = 0.4;
/// Frames written at a time.
const BLOCK: usize = 1 << 14;

/// Writes a plan's sound to `sink`, interleaved, in blocks. `progress` is told the share done, 0 to 1.
///
/// The first count after a join comes exactly when the count that is left out would have come: where both
/// places have the same attack, one is laid over the other to a quarter of a millisecond. The crossfade lies
/// before it, where both are quiet, and keeps power whether the sounds go together or not.
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
    for (k, piece) in plan.pieces.iter().enumerate() {
        let start_s = time(piece.from) - shift_s;
        let own = (piece.from.0..piece.to.0).map(|c| time(Count(c)) - shift_s);
        played_s.extend(own);
        if k > 0 {
            // Laid over the count that was left out; see below.
            let first_here = played_s.len() - piece.counts() as usize;
            played_s[first_here] = joins[k - 1].at_s;
        }
        let Some(join) = joins.get_mut(k) else { continue };
        let leave_s = even_time_s(song, join.leave, -NEIGHBOURS..=0) - shift_s;
        let place = Place::find(song, source, join, BEFORE_ATTACK_S)?;
        let fade_s = place.fade_before_s;
        out.play(source, shift_s, gain, leave_s - fade_s - FADE_S)?;
        let next_shift_s = even_time_s(song, join.enter, 0..=NEIGHBOURS) + place.late_s - leave_s;
        let next_gain = Gain { db: place.gain_db, from_s: leave_s, over_s: gain_length_s(song) };
        out.crossfade(source, (shift_s, gain), (next_shift_s, next_gain))?;
        join.at_s = leave_s;
        (shift_s, gain) = (next_shift_s, next_gain);
        debug_assert!(start_s <= leave_s);
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

/// Counts on the side that is heard by which a join is laid.
const NEIGHBOURS: i32 = 6;

/// Where a count falls by itself and the neighbours that are heard with it: the line through their times. A
/// single count's time strays by some milliseconds with who struck first; a join would keep that.
fn even_time_s(song: &SongView, count: Count, neighbours: RangeInclusive<i32>) -> f64 {
    let at_s = song.counts.time_or_beyond_s(count);
    let near: Vec<(f64, f64)> =
        neighbours.filter_map(|k| Some((f64::from(k), song.counts.time_s(count + k)?))).collect();
    let n = near.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| near.iter().map(of).sum::<f64>() / n;
    let (mean_k, mean_s) = (mean(|p| p.0), mean(|p| p.1));
    let spread: f64 = near.iter().map(|(k, _)| (k - mean_k).powi(2)).sum();
    let slope_s = near.iter().map(|(k, s)| (k - mean_k) * (s - mean_s)).sum::<f64>() / spread;
    let even_s = mean_s - slope_s * mean_k;
    // Where the tempo turns, the line is no guide.
    let strays = (even_s - at_s).abs() > 0.015 || !even_s.is_finite();
    if near.len() < 5 || strays { at_s } else { even_s }
}

fn gain_length_s(song: &SongView) -> f64 {
    GAIN_COUNTS * 60.0 / song.counts_per_minute.max(20.0)
}

/// A change of loudness that goes back to none.
#[derive(Debug, Clone, Copy)]
struct Gain {
    db: f64,
    /// From when, and over how long, in the new cut.
    from_s: f64,
    over_s: f64,
}

impl Gain {
    const NONE: Gain = Gain { db: 0.0, from_s: 0.0, over_s: 1.0 };

    fn at(&self, time_s: f64) -> f32 {
        let left = 1.0 - ((time_s - self.from_s) / self.over_s).clamp(0.0, 1.0);
        10f64.powf(self.db * left / 20.0) as f32
    }
}

/// How two places are laid over each other.
struct Place {
    /// How much later the attack is in the recording after its count's time than it is at the place left.
    late_s: f64,
    /// The crossfade is over so long before the beat.
    fade_before_s: f64,
    gain_db: f64,
}

impl Place {
    fn find(song: &SongView, source: &mut impl Frames, join: &Join, clear_s: f64) -> Result<Place> {
        let (leave_s, enter_s) = (
            even_time_s(song, join.leave, -NEIGHBOURS..=0),
            even_time_s(song, join.enter, 0..=NEIGHBOURS),
        );
        // Between strangers the attacks of different instruments would be laid over each other.
        let alike = join.unlike < ALIKE;
        let late_s = if alike { later_by(source, leave_s, enter_s)? } else { 0.0 };
        let mut before = [0.0f64; 2];
        let mut after = [0.0f64; 2];
        let long_s = 4.0 * 60.0 / song.counts_per_minute.max(20.0);
        for (place, at_s) in [leave_s, enter_s + late_s].into_iter().enumerate() {
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
            let (a, b) = (over(leave_s), over(enter_s + late_s));
            let power = level(source, a.0, a.1)? + level(source, b.0, b.1)?;
            // Nearer to the beat unless further away is clearly quieter.
            if power < 0.8 * quietest.0 {
                quietest = (power, back_s);
            }
        }
        Ok(Place { late_s, fade_before_s: quietest.1, gain_db })
    }
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

fn read_s(source: &mut impl Frames, from_s: f64, to_s: f64) -> Result<Vec<f32>> {
    let rate = source.rate_hz();
    let from = (from_s * rate).round() as i64;
    let frames = ((to_s - from_s) * rate).round().max(0.0) as usize;
    let mut samples = vec![0.0; frames * source.channels()];
    source.read(from, &mut samples)?;
    Ok(samples)
}

/// How much later the second place's attack comes after its time than the first's, seconds: the lag at which
/// what rises at both places agrees best. 0 where they do not agree.
fn later_by(source: &mut impl Frames, first_s: f64, second_s: f64) -> Result<f64> {
    const HALF_S: f64 = 0.05;
    const MOST_S: f64 = 0.015;
    const ENOUGH: f64 = 0.8;
    let hops_per_s = 4000.0;
    let first = rises(source, first_s - HALF_S, first_s + HALF_S, hops_per_s)?;
    let second = rises(source, second_s - HALF_S - MOST_S, second_s + HALF_S + MOST_S, hops_per_s)?;
    let most = (MOST_S * hops_per_s) as usize;
    let mut best = (ENOUGH, 0.0);
    for lag in 0..=2 * most {
        let there = &second[lag.min(second.len())..];
        let (mut dot, mut a, mut b) = (0.0, 1e-12, 1e-12);
        for (x, y) in first.iter().zip(there) {
            dot += x * y;
            a += x * x;
            b += y * y;
        }
        let likeness = dot / (a * b).sqrt();
        if likeness > best.0 {
            best = (likeness, (lag as f64 - most as f64) / hops_per_s);
        }
    }
    Ok(best.1)
}

/// How much power rises, hop by hop, over what is left of the three milliseconds before.
fn rises(source: &mut impl Frames, from_s: f64, to_s: f64, hops_per_s: f64) -> Result<Vec<f64>> {
    let memory_s = 0.003;
    let channels = source.channels().max(1);
    let samples = read_s(source, from_s - 4.0 * memory_s, to_s)?;
    let hop = source.rate_hz() / hops_per_s;
    let decay = (-1.0 / (memory_s * hops_per_s)).exp();
    let frames = samples.len() / channels;
    let hops = (frames as f64 / hop) as usize;
    let mut smooth = Vec::with_capacity(hops);
    let mut state = 0.0;
    for k in 0..hops {
        let range = (k as f64 * hop) as usize..((k + 1) as f64 * hop) as usize;
        let mut power = 0.0;
        for frame in range {
            power += samples[frame * channels..(frame + 1) * channels]
                .iter()
                .map(|x| f64::from(x * x))
                .sum::<f64>();
        }
        state = decay * state + (1.0 - decay) * power;
        smooth.push((state + 1e-7).ln());
    }
    let skipped = (4.0 * memory_s * hops_per_s) as usize;
    Ok(smooth.windows(2).map(|w| (w[1] - w[0]).max(0.0)).skip(skipped).collect())
}

struct Writer<'a> {
    rate: f64,
    channels: usize,
    /// Frames written.
    at: i64,
    total_s: f64,
    /// How long the very start fades in.
    fade_in_s: f64,
    /// From when to when the end fades out.
    fade_out_s: Option<(f64, f64)>,
    sink: &'a mut dyn FnMut(&[f32]) -> Result<()>,
    progress: &'a mut dyn FnMut(f64),
}

impl Writer<'_> {
    /// Plays the recording on until a time of the new cut.
    fn play(
        &mut self,
        source: &mut impl Frames,
        shift_s: f64,
        gain: Gain,
        until_s: f64,
    ) -> Result<()> {
        let until = (until_s * self.rate).round() as i64;
        let shift = (shift_s * self.rate).round() as i64;
        while self.at < until {
            let frames = ((until - self.at) as usize).min(BLOCK);
            let mut block = vec![0.0; frames * self.channels];
            source.read(self.at + shift, &mut block)?;
            self.put(block, |time_s| gain.at(time_s))?;
        }
        Ok(())
    }

    /// Goes over from one place of the recording to another.
    fn crossfade(
        &mut self,
        source: &mut impl Frames,
        from: (f64, Gain),
        to: (f64, Gain),
    ) -> Result<()> {
        let frames = (FADE_S * self.rate).round() as usize;
        let mut read = |(shift_s, gain): (f64, Gain)| {
            let mut block = vec![0.0; frames * self.channels];
            source.read(self.at + (shift_s * self.rate).round() as i64, &mut block)?;
            for (frame, samples) in block.chunks_exact_mut(self.channels).enumerate() {
                let gain = gain.at((self.at + frame as i64) as f64 / self.rate);
                samples.iter_mut().for_each(|x| *x *= gain);
            }
            Ok::<_, crate::error::Error>(block)
        };
        let (old, new) = (read(from)?, read(to)?);
        let alike = correlation(&old, &new).max(0.0);
        let mut block = Vec::with_capacity(old.len());
        let sides = old.chunks_exact(self.channels).zip(new.chunks_exact(self.channels));
        for (frame, (a, b)) in sides.enumerate() {
            let angle = (frame as f32 + 0.5) / frames as f32 * std::f32::consts::FRAC_PI_2;
            let (out, into) = (angle.cos(), angle.sin());
            // Power stays even whether the two sounds are one or strangers.
            let even = (1.0 + 2.0 * alike * out * into).sqrt();
            block.extend(a.iter().zip(b).map(|(a, b)| (a * out + b * into) / even));
        }
        self.put(block, |_| 1.0)
    }

    fn put(&mut self, mut block: Vec<f32>, gain: impl Fn(f64) -> f32) -> Result<()> {
        for (frame, samples) in block.chunks_exact_mut(self.channels).enumerate() {
            let time_s = (self.at + frame as i64) as f64 / self.rate;
            let mut gain = gain(time_s);
            if time_s < self.fade_in_s {
                gain *= (time_s / self.fade_in_s) as f32;
            }
            if let Some((from_s, to_s)) = self.fade_out_s {
                let over = ((time_s - from_s) / (to_s - from_s).max(1e-3)).clamp(0.0, 1.0);
                gain *= (std::f64::consts::FRAC_PI_2 * over).cos().powi(2) as f32;
            }
            if gain != 1.0 {
                samples.iter_mut().for_each(|x| *x *= gain);
            }
        }
        self.at += (block.len() / self.channels.max(1)) as i64;
        (self.sink)(&block)?;
        (self.progress)((self.at as f64 / self.rate / self.total_s.max(1e-3)).min(1.0));
        Ok(())
    }
}

/// How far two sounds are one: 1 the same, 0 strangers.
fn correlation(a: &[f32], b: &[f32]) -> f32 {
    let dot: f32 = a.iter().zip(b).map(|(x, y)| x * y).sum();
    let power = |v: &[f32]| v.iter().map(|x| x * x).sum::<f32>();
    dot / (power(a) * power(b)).sqrt().max(1e-9)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cut::{Joints, keep, testing};

    /// A click on each count and a tone below, 8000 frames a second, two channels; the clicks of the second
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
                for k in 0..80.min(frames - start) {
                    let x = 0.3 * (-(k as f32) / 20.0).exp() * if k % 2 == 0 { 1.0 } else { -1.0 };
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
