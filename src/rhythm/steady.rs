//! One pulse through a song that keeps its tempo.
//!
//! Loud off-beats mislead the ear for a part of a song, and it then takes every beat of that part half a
//! beat late; where nothing says where beats are, it drifts aside. Music hardly ever moves by half a
//! beat, so where two parts go at one tempo and their beats, counted on from one to the other, lie half a
//! beat apart, one of them is wrong: that for which less speaks. It is moved, and what lies between two
//! parts that agree is counted through evenly.

/// A part needs this many even beats.
const LEAST_BEATS: usize = 8;
/// Intervals of one part differ less than this from one to the next, as a ratio.
const EVEN: f64 = 1.12;
/// Tempos of two parts that keep one tempo differ less than this, as a ratio.
const ONE_TEMPO: f64 = 1.012;
/// How far from a whole or half beat a part may lie, counted on from the one before, in beats.
const OFF: f64 = 0.08;
/// Two parts that follow each other within so many beats need not keep one tempo, only go over from one to the other:
/// by what their last and first intervals are, which may differ so much.
const CLOSE: f64 = 4.0;
const GOES_OVER: f64 = 1.06;
/// Evidence a beat below which beats are no part but a guess, nats.
const LEAST_EVIDENCE: f32 = 2.0;
/// Intervals that tell the tempo at either end of a part.
const FEW: usize = 6;
/// Longest stretch without a part that is counted through, beats.
const FARTHEST: f64 = 80.0;

/// A part: beats that go evenly.
struct Part {
    /// Steps of its beats, not whole once moved.
    beats: Vec<f64>,
    interval: f64,
    /// Evidence at its beats, all together.
    evidence: f32,
    /// Half a beat beside the parts linked before it.
    beside: bool,
}

impl Part {
    /// Mean of its last few intervals, and of its first few.
    fn last_interval(&self) -> f64 {
        mean_interval(&self.beats[self.beats.len().saturating_sub(FEW + 1)..])
    }

    fn first_interval(&self) -> f64 {
        mean_interval(&self.beats[..self.beats.len().min(FEW + 1)])
    }
}

fn mean_interval(beats: &[f64]) -> f64 {
    match beats {
        [first, .., last] => (last - first) / (beats.len() - 1) as f64,
        _ => 0.0,
    }
}

/// The run with parts that lie half a beat beside the rest of it moved.
pub(crate) fn one_pulse(run: Vec<usize>, evidence: &[f32]) -> Vec<usize> {
    let mut groups: Vec<Vec<Part>> = Vec::new();
    for mut part in parts(&run, evidence) {
        let group = groups.last_mut();
        let linked = group.and_then(|group| {
            let before = group.last()?;
            part.beside = before.beside != link(before, &part)?;
            Some(group)
        });
        match linked {
            Some(group) => group.push(part),
            None => groups.push(vec![part]),
        }
    }
    groups.into_iter().fold(run, mended)
}

/// The even stretches of a run for which something speaks throughout.
fn parts(run: &[usize], evidence: &[f32]) -> Vec<Part> {
    const AROUND: usize = 3;
    let near = |&step: &usize| {
        let near = step.saturating_sub(1)..(step + 2).min(evidence.len());
        evidence[near].iter().fold(-3f32, |most, &e| most.max(e))
    };
    let own: Vec<f32> = run.iter().map(near).collect();
    let is_heard = |k: usize| {
        let around = &own[k.saturating_sub(AROUND)..(k + AROUND + 1).min(own.len())];
        around.iter().sum::<f32>() >= LEAST_EVIDENCE * around.len() as f32
    };
    let gap = |k: usize| (run[k + 1] - run[k]) as f64;
    let is_even = |k: usize| (1.0 / EVEN..EVEN).contains(&(gap(k) / gap(k - 1)));
    let mut parts = Vec::new();
    let mut from = 0;
    for k in 0..=run.len() {
        let goes_on = k < run.len() && is_heard(k) && (k < from + 2 || is_even(k - 1));
        if goes_on {
            continue;
        }
        if k >= from + LEAST_BEATS {
            let beats: Vec<f64> = run[from..k].iter().map(|&step| step as f64).collect();
            let interval = mean_interval(&beats);
            let evidence = own[from..k].iter().sum();
            parts.push(Part { beats, interval, evidence, beside: false });
        }
        from = if k < run.len() && !is_heard(k) { k + 1 } else { k };
    }
    parts
}

/// Whether `next` goes on at the tempo of `part`, and then whether half a beat beside it.
fn link(part: &Part, next: &Part) -> Option<bool> {
    let (from, to) = (*part.beats.last()?, *next.beats.first()?);
    let close = to - from <= CLOSE * part.interval;
    let (before, after, most) = match close {
        true => (part.last_interval(), next.first_interval(), GOES_OVER),
        false => (part.interval, next.interval, ONE_TEMPO),
    };
    if !(1.0 / most..most).contains(&(before / after)) {
        return None;
    }
    let halves = (to - from) / ((before + after) / 4.0);
    let near = halves.round();
    let fits = (halves - near).abs() / 2.0 <= OFF && near <= 2.0 * FARTHEST;
    fits.then_some(near as i64 % 2 != 0)
}

/// The run with those parts of a group moved that lie beside the rest, and what lies between two parts
/// counted through where it does not go from one to the other.
fn mended(run: Vec<usize>, mut group: Vec<Part>) -> Vec<usize> {
    let weight = |beside: bool| -> f32 {
        group.iter().filter(|part| part.beside == beside).map(|part| part.evidence).sum()
    };
    let wrong = weight(true) <= weight(false);
    for part in group.iter_mut().filter(|part| part.beside == wrong) {
        // Later by half a beat, but for the last, which would lie past the part.
        part.beats = part.beats.windows(2).map(|w| (w[0] + w[1]) / 2.0).collect();
    }
    let ends = |part: &Part| Some((*part.beats.first()?, *part.beats.last()?));
    let bounds = group.first().and_then(ends).zip(group.last().and_then(ends));
    let Some(((start, _), (_, end))) = bounds.filter(|_| group.len() > 1) else { return run };
    let within = |from: f64, to: f64| {
        run.iter().map(|&step| step as f64).filter(move |&step| from < step && step < to)
    };
    let clear = |interval: f64| 0.75 * interval;
    let mut beats: Vec<f64> = within(-1.0, start - clear(group[0].interval)).collect();
    let mut last: Option<f64> = None;
    for part in &group {
        if let (Some(last), Some(&first)) = (last, part.beats.first()) {
            beats.extend(between(last, first, part.first_interval(), within(last, first)));
        }
        beats.extend(&part.beats);
        last = part.beats.last().copied();
    }
    let interval = group.last().map_or(0.0, |part| part.interval);
    beats.extend(within(end + clear(interval), f64::INFINITY));
    beats.into_iter().map(|beat| beat.round() as usize).collect()
}

/// The beats between two parts that end and start with `last` and `first`: those of the run as far as they lie where
/// counting through puts them.
fn between(last: f64, first: f64, interval: f64, run: impl Iterator<Item = f64>) -> Vec<f64> {
    const NEAR: f64 = 0.25;
    let run: Vec<f64> = run.collect();
    let many = ((first - last) / interval).round().max(1.0);
    let step = (first - last) / many;
    let nearest = |at: f64| {
        let off = |beat: f64| (beat - at).abs();
        let beat = run.iter().copied().min_by(|a, b| off(*a).total_cmp(&off(*b)))?;
        (off(beat) < NEAR * step).then_some(beat)
    };
    (1..many as usize).map(|k| last + step * k as f64).map(|at| nearest(at).unwrap_or(at)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn every(interval: usize, from: usize, beats: usize) -> Vec<usize> {
        (0..beats).map(|k| from + interval * k).collect()
    }

    /// Evidence for each of the steps.
    fn heard(steps: &[(usize, f32)]) -> Vec<f32> {
        let mut evidence = vec![-3.0; 20_000];
        for &(step, e) in steps {
            evidence[step] = e;
        }
        evidence
    }

    #[test]
    fn a_part_half_a_beat_late_is_moved() {
        let mut run = every(50, 100, 60);
        let late = every(50, run[59] + 75, 20);
        let back = every(50, late[19] + 75, 40);
        run.extend(&late);
        run.extend(&back);
        let steps: Vec<(usize, f32)> = run.iter().map(|&s| (s, 4.0)).collect();
        let mended = one_pulse(run, &heard(&steps));
        assert!(mended.windows(2).all(|w| w[1] - w[0] == 50), "{mended:?}");
        assert_eq!((mended[0], mended[mended.len() - 1]), (100, back[39]));
    }

    #[test]
    fn a_guess_between_two_parts_is_counted_through() {
        let mut run = every(40, 0, 40);
        let guess = every(40, run[39] + 50, 18);
        let back = every(40, 40 * 60, 40);
        let mut steps: Vec<(usize, f32)> = run.iter().chain(&back).map(|&s| (s, 4.0)).collect();
        steps.extend(guess.iter().map(|&s| (s, -1.0)));
        run.extend(&guess);
        run.extend(&back);
        let mended = one_pulse(run, &heard(&steps));
        assert_eq!(mended, every(40, 0, 100));
    }

    #[test]
    fn the_start_half_a_beat_late_is_moved_though_the_tempo_drifts() {
        let mut run = every(51, 100, 12);
        let on_the_beat = run[11] + 75;
        run.extend(every(49, on_the_beat, 60));
        let steps: Vec<(usize, f32)> = run.iter().map(|&s| (s, 4.0)).collect();
        let mended = one_pulse(run, &heard(&steps));
        assert_eq!(mended[..11], every(51, 126, 11));
        assert_eq!(mended[12..], every(49, on_the_beat, 60));
        assert!((48..=52).contains(&(mended[11] - mended[10])), "{mended:?}");
    }

    #[test]
    fn what_is_consistent_stays_as_it_is() {
        let mut run = every(50, 100, 60);
        let other = every(61, run[59] + 61, 60);
        run.extend(&other);
        let steps: Vec<(usize, f32)> = run.iter().map(|&s| (s, 4.0)).collect();
        assert_eq!(one_pulse(run.clone(), &heard(&steps)), run);
        assert!(one_pulse(Vec::new(), &[]).is_empty());
    }
}
