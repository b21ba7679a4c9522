//! Where counting starts.
//!
//! Before the first full bar there may be a pickup, sticks, talk or hiss, and beats are found in those
//! too. Each beat left out, and the change at the edge itself, has its odds. After the last chord beats
//! may be found for as long as it rings; its cues are gathered for learning, but counting goes on to the
//! last beat: to lose a count that is danced is worse than to have a few too many.

use super::sound::BeatSounds;

/// What is known of a beat that is left out: one, level, share that sounds, strongest attack.
pub const N_LEFT_OUT: usize = 4;
/// What is known of a beat that counting starts on: downbeat, rise in level, one.
pub const N_FIRST: usize = 3;
/// What is known of the beat after the last count: downbeat, fall in level, cymbal, one; all 0 where
/// that is the end of the recording.
pub const N_END: usize = 4;

/// What speaks for the edges at each beat.
#[derive(Debug, Clone, Default)]
pub struct EdgeCues {
    /// Of a beat left out. Shape `[n_beats, N_LEFT_OUT]`.
    pub left_out: Vec<[f64; N_LEFT_OUT]>,
    /// Of the first count. Shape `[n_beats, N_FIRST]`.
    pub first: Vec<[f64; N_FIRST]>,
    /// Of the beat after the last. Shape `[n_beats + 1, N_END]`.
    pub end: Vec<[f64; N_END]>,
}

/// Weights learned by `training/form.py` on rendered songs.
const FIRST: [f64; N_FIRST] = [2.628, 0.702, 0.0];
const LEFT_OUT_BEFORE: [f64; N_LEFT_OUT] = [-1.909, -0.767, 2.973, -0.853];

/// Gathers what speaks for the edges. `bar_positions` is each beat's place in its bar, 1-based.
pub fn edge_cues(sounds: &BeatSounds, bar_positions: &[u32]) -> EdgeCues {
    let n = sounds.len();
    // Tens of decibels, 0 for the recording's loud frames.
    let level: Vec<f64> =
        sounds.level_db.iter().map(|&db| f64::from(db.clamp(-60.0, 0.0)) / 10.0).collect();
    let around = |from: usize, to: usize| {
        let window = level.get(from..to.min(n)).unwrap_or_default();
        window.iter().sum::<f64>() / window.len().max(1) as f64
    };
    let downbeat = |i: usize| f64::from(bar_positions.get(i) == Some(&1));
    let mut cues = EdgeCues::default();
    for i in 0..n {
        let before = if i == 0 { SILENCE } else { around(i.saturating_sub(4), i) };
        let rise = around(i, i + 4) - before;
        let attack = sounds.rhythm[i].iter().copied().fold(0.0, f32::max);
        cues.left_out.push([
            1.0,
            level[i] + 1.5,
            f64::from(sounds.sounding[i]),
            f64::from(attack.min(3.0)),
        ]);
        cues.first.push([downbeat(i), rise.clamp(-1.0, 4.0), 1.0]);
        let cymbal = f64::from(sounds.cymbal[i].clamp(0.0, 4.0));
        cues.end.push([downbeat(i), (-rise).clamp(-1.0, 4.0), cymbal, 1.0]);
    }
    cues.end.push([0.0; N_END]);
    cues
}

/// Level of silence, tens of decibels.
const SILENCE: f64 = -6.0;

/// Log odds that counting starts on each beat; negative infinity in the song's second half.
pub fn edge_odds(cues: &EdgeCues) -> Vec<f64> {
    /// Short recordings may start anywhere.
    const ANYWHERE: usize = 64;
    let n = cues.first.len();
    let mut firsts = vec![f64::NEG_INFINITY; n];
    let mut left_out = 0.0;
    let earliest = first_full_bar(cues);
    for i in earliest..n.min((n / 2).max(ANYWHERE)) {
        firsts[i] = dot(&cues.first[i], &FIRST) + left_out;
        left_out += dot(&cues.left_out[i], &LEFT_OUT_BEFORE);
    }
    firsts
}

/// The first downbeat whose bar sounds for most of its length; the first beat where none does.
fn first_full_bar(cues: &EdgeCues) -> usize {
    const SOUNDING: f64 = 0.75;
    let downbeats: Vec<usize> = (0..cues.first.len()).filter(|&i| cues.first[i][0] > 0.5).collect();
    let sounds = |bar: &&[usize]| {
        let beats = &cues.left_out[bar[0]..bar[1]];
        let sounding: f64 = beats.iter().map(|beat| beat[2]).sum();
        sounding >= SOUNDING * beats.len() as f64
    };
    downbeats.windows(2).find(sounds).map_or(0, |bar| bar[0])
}

fn dot<const D: usize>(cues: &[f64; D], weights: &[f64; D]) -> f64 {
    cues.iter().zip(weights).map(|(c, w)| c * w).sum()
}

#[cfg(test)]
mod tests {
    use super::super::testing::{bars_of_four, song};
    use super::*;

    #[test]
    fn silence_before_the_first_bar_is_left_out() {
        let (mut sounds, _) = song("i8 v32 C32 v32 C32");
        for beat in 0..8 {
            sounds.level_db[beat] = -60.0;
            sounds.sounding[beat] = 0.0;
            sounds.rhythm[beat] = [0.0; super::super::sound::RHYTHM];
        }
        let firsts = edge_odds(&edge_cues(&sounds, &bars_of_four(sounds.len())));
        let best = (0..firsts.len()).max_by(|&a, &b| firsts[a].total_cmp(&firsts[b]));
        assert_eq!(best, Some(8));
    }

    #[test]
    fn counting_does_not_start_late() {
        let (sounds, _) = song("i16 v32 C32 v32 C32");
        let n = sounds.len();
        let firsts = edge_odds(&edge_cues(&sounds, &bars_of_four(n)));
        assert_eq!(firsts[n / 2], f64::NEG_INFINITY);
    }
}
