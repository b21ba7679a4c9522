//! Bars: which beats start one, and how many beats each holds.
//!
//! A second Viterbi pass over beats alone, as in the bar-pointer model's outer wheel (Whiteley, Cemgil
//! & Godsill 2006; Krebs, Böck & Widmer 2015): states are (beats in this bar, place in it); the number
//! may change at a bar line, at a cost, so that a bar of 2 among bars of 4 is found when it is heard
//! clearly and only then.

/// Numbers of beats that a bar may have, with the log of how common they are in music that is danced.
const METERS: [(u32, f32); 4] = [(2, -1.2), (3, -1.0), (4, 0.0), (6, -3.0)];
/// Cost of a bar of another length than the one before, nats.
const CHANGE_COST: f32 = 10.0;
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
    // Flat list of states; a bar's first place is where it may follow another bar.
    let states: Vec<(usize, u32)> = meters
        .iter()
        .enumerate()
        .flat_map(|(m, &(beats, _))| (0..beats).map(move |place| (m, place)))
        .collect();
    let first_of: Vec<usize> =
        (0..meters.len()).map(|m| states.iter().position(|&s| s == (m, 0)).unwrap_or(0)).collect();
    let last_of: Vec<usize> =
        (0..meters.len()).map(|m| first_of[m] + meters[m].0 as usize - 1).collect();

    let mut score: Vec<f32> = states.iter().map(|&(m, _)| meters[m].1).collect();
    let mut from: Vec<Vec<u8>> = Vec::with_capacity(evidence.len());
    for (i, &e) in evidence.iter().enumerate() {
        let mut next = vec![f32::NEG_INFINITY; states.len()];
        let mut origins = vec![0u8; states.len()];
        for (s, &(m, place)) in states.iter().enumerate() {
            let (value, origin) = if i == 0 {
                (score[s], s)
            } else if place > 0 {
                (score[s - 1], s - 1)
            } else {
                let mut best = (score[last_of[m]], last_of[m]);
                for &last in &last_of {
                    let changed = score[last] - CHANGE_COST;
                    if changed > best.0 {
                        best = (changed, last);
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
