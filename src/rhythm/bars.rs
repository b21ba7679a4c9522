//! Bars: which beats start one, and how many beats each holds.
//!
//! A second Viterbi pass over beats alone, as in the bar-pointer model's outer wheel (Whiteley, Cemgil
//! & Godsill 2006; Krebs, Böck & Widmer 2015): states are (beats in this bar, place in it). The number
//! may change at a bar line, and one bar of four may end early or late, each at a cost, so that a bar of
//! 2 or of 5 among bars of 4 is found when it is heard clearly and only then.

/// Numbers of beats that a bar may have, with the log of how common they are in music that is danced.
const METERS: [(u32, f32); 4] = [(2, -1.2), (3, -1.0), (4, 0.0), (6, -3.0)];
/// Cost of going on in bars of another length, nats.
const CHANGE_COST: f32 = 15.0;
/// The same where one length holds the other a whole number of times: then the music is the same, and only
/// the ear is in two minds.
const RELATED_COST: f32 = 40.0;
/// Cost of one bar that is longer or shorter than those around it, nats.
const ODD_COST: f32 = 9.0;
/// Beats to the bars that one odd bar may stand among: of two or three, odd bars are heard too easily.
const MAY_BE_ODD: u32 = 4;
/// Most beats that one bar may have too many.
const MOST_OVER: u32 = 2;
/// Cost of each bar line, nats: more bar lines must be heard, not merely allowed.
const LINE_COST: f32 = 0.3;

/// The bars of one run of beats.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Bars {
    /// Each beat's place in its bar, 0-based.
    pub places: Vec<u32>,
    /// Evidence gathered less costs paid, nats.
    pub score: f32,
}

/// Finds the bars of a run. `evidence[i]`: log-odds that beat `i` starts a bar. `only`: beats to the
/// bar where the user said so.
pub(crate) fn find_bars(evidence: &[f32], only: Option<u32>) -> Bars {
    let meters: Vec<(u32, f32)> = match only {
        Some(beats) => vec![(beats.clamp(1, 16), 0.0)],
        None => METERS.to_vec(),
    };
    // Flat list of states: a bar's places, then those of the beats that it has too many.
    let may_be_odd = |beats: u32| only.is_none() && beats == MAY_BE_ODD;
    let places = |beats: u32| beats + if may_be_odd(beats) { MOST_OVER } else { 0 };
    let states: Vec<(usize, u32)> = meters
        .iter()
        .enumerate()
        .flat_map(|(m, &(beats, _))| (0..places(beats)).map(move |place| (m, place)))
        .collect();

    let mut score: Vec<f32> = states.iter().map(|&(m, _)| meters[m].1).collect();
    let mut from: Vec<Vec<u8>> = Vec::with_capacity(evidence.len());
    for (i, &e) in evidence.iter().enumerate() {
        let mut next = vec![f32::NEG_INFINITY; states.len()];
        let mut origins = vec![0u8; states.len()];
        for (s, &(m, place)) in states.iter().enumerate() {
            let (value, origin) = if i == 0 {
                (score[s] - if place >= meters[m].0 { ODD_COST } else { 0.0 }, s)
            } else if place > 0 {
                let cost = if place == meters[m].0 { ODD_COST } else { 0.0 };
                (score[s - 1] - cost, s - 1)
            } else {
                let mut best = (f32::NEG_INFINITY, s);
                for (last, &(other, at)) in states.iter().enumerate() {
                    let short = at + 1 < meters[other].0;
                    let cost = match (other == m, short) {
                        (true, false) => 0.0,
                        (true, true) if may_be_odd(meters[m].0) => ODD_COST,
                        (false, false) if divides(meters[m].0, meters[other].0) => RELATED_COST,
                        (false, false) => CHANGE_COST,
                        _ => continue,
                    };
                    if score[last] - cost > best.0 {
                        best = (score[last] - cost, last);
                    }
                }
                best
            };
            next[s] = value + if place == 0 { e - LINE_COST } else { 0.0 };
            origins[s] = origin as u8;
        }
        score = next;
        from.push(origins);
    }
    let Some(end) = (0..states.len()).max_by(|&a, &b| score[a].total_cmp(&score[b])) else {
        return Bars::default();
    };
    let mut places = vec![0; evidence.len()];
    let mut state = end;
    for i in (0..evidence.len()).rev() {
        places[i] = states[state].1;
        state = usize::from(from[i][state]);
    }
    Bars { places, score: score[end] }
}

fn divides(a: u32, b: u32) -> bool {
    a.max(b).is_multiple_of(a.min(b).max(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn accents(bars: &[u32]) -> Vec<f32> {
        bars.iter()
            .flat_map(|&beats| (0..beats).map(|place| if place == 0 { 1.5 } else { -1.0 }))
            .collect()
    }

    fn lengths(bars: &Bars) -> Vec<usize> {
        let starts: Vec<usize> = (0..bars.places.len()).filter(|&i| bars.places[i] == 0).collect();
        starts.windows(2).map(|w| w[1] - w[0]).collect()
    }

    #[test]
    fn a_waltz_is_in_three_and_a_march_in_four() {
        assert_eq!(lengths(&find_bars(&accents(&[3; 20]), None)), [3; 19]);
        assert_eq!(lengths(&find_bars(&accents(&[4; 20]), None)), [4; 19]);
    }

    #[test]
    fn a_bar_of_two_among_fours_is_found() {
        let mut bars = vec![4; 8];
        bars.push(2);
        bars.extend([4; 9]);
        let found = find_bars(&accents(&bars), None);
        let wanted: Vec<usize> = bars.iter().map(|&b| b as usize).take(17).collect();
        assert_eq!(lengths(&found), wanted);
    }

    #[test]
    fn a_bar_of_five_among_fours_is_found() {
        let mut bars = vec![4; 8];
        bars.push(5);
        bars.extend([4; 9]);
        let found = find_bars(&accents(&bars), None);
        let wanted: Vec<usize> = bars.iter().map(|&b| b as usize).take(17).collect();
        assert_eq!(lengths(&found), wanted);
    }

    #[test]
    fn bars_of_four_whose_third_beats_grow_loud_stay_bars_of_four() {
        let mut evidence = accents(&[4; 10]);
        evidence.extend((0..40).map(|k| {
            if k % 4 == 0 {
                2.0
            } else if k % 4 == 2 {
                1.2
            } else {
                -2.0
            }
        }));
        assert_eq!(lengths(&find_bars(&evidence, None)), [4; 19]);
    }

    #[test]
    fn a_pickup_comes_before_the_first_bar_line() {
        let mut evidence = vec![-1.0, -1.0, -1.0];
        evidence.extend(accents(&[4; 10]));
        assert_eq!(find_bars(&evidence, None).places[..5], [1, 2, 3, 0, 1]);
    }

    #[test]
    fn what_the_user_says_of_the_bar_holds() {
        assert_eq!(lengths(&find_bars(&accents(&[4; 12]), Some(3)))[0], 3);
        assert!(find_bars(&[], None).places.is_empty());
    }
}
