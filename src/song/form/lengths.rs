//! How long phrases are in real songs.

/// Share of inner sections of each length in bars, in every second of the 456 songs of
/// `forms.jsonl` (the Harmonix Set, Nieto et al., ISMIR 2019; MIT licence) that are in 4/4, boundaries
/// taken at the nearest bar line: 1928 sections. Printed by `training/form_lengths.py`.
const SHARE_BY_BARS: [(usize, f64); 26] = [
    (2, 0.0067),
    (3, 0.0057),
    (4, 0.1141),
    (5, 0.0099),
    (6, 0.0239),
    (7, 0.0296),
    (8, 0.4341),
    (9, 0.0379),
    (10, 0.0228),
    (11, 0.0109),
    (12, 0.0482),
    (13, 0.0067),
    (14, 0.0124),
    (15, 0.0150),
    (16, 0.1276),
    (17, 0.0161),
    (18, 0.0124),
    (19, 0.0010),
    (20, 0.0078),
    (21, 0.0026),
    (22, 0.0016),
    (23, 0.0010),
    (24, 0.0109),
    (28, 0.0010),
    (32, 0.0021),
    (40, 0.0016),
];

/// Share of sections that are whole bars of 4; the others hold a bar of another length.
const WHOLE_BARS: f64 = 0.967;
/// Share of those others that are two beats over.
const TWO_OVER: f64 = 0.61;

/// Longest section looked for, in bars.
pub const LONGEST_BARS: usize = 48;

/// How long the bars may be that a song's phrases are counted in. Bars of two or three beats are
/// short, and often two of them are what one bar of four is elsewhere: a dance tune in two has 16 beats to
/// a part, but two may also be half of a heard four; a waltz has 8 bars to a part, or 16.
pub fn counted_in(per_bar: usize) -> Vec<usize> {
    match per_bar {
        2 | 3 => vec![per_bar, 2 * per_bar],
        _ => vec![per_bar.max(1)],
    }
}

/// Log probability of a section of `beats` beats in a song of bars of `bar` beats.
pub fn log_share(beats: usize, bar: usize) -> f64 {
    /// What a length gets that the songs do not show: they are few, and other songs are others.
    const UNSEEN: f64 = 0.0005;
    let (bars, over) = (beats / bar, beats % bar);
    let seen = |bars: usize| {
        SHARE_BY_BARS.iter().find(|(b, _)| *b == bars).map_or(UNSEEN, |(_, share)| share + UNSEEN)
    };
    if over == 0 {
        (WHOLE_BARS * seen(bars)).ln()
    } else {
        let near = (seen(bars) + seen(bars + 1)) / 2.0;
        let so_many = match (bar, over) {
            (4, 2) => TWO_OVER,
            (4, _) => (1.0 - TWO_OVER) / 2.0,
            _ => 1.0 / (bar - 1) as f64,
        };
        ((1.0 - WHOLE_BARS) * near * so_many).ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eights_come_before_odd_lengths_and_none_is_ruled_out() {
        assert!(log_share(32, 4) > log_share(36, 4));
        assert!(log_share(36, 4) > log_share(34, 4));
        assert!(log_share(30, 4) > log_share(31, 4));
        assert!((1..200).all(|beats| log_share(beats, 4).is_finite()));
    }

    #[test]
    fn shares_are_of_one_whole() {
        for bar in [2, 3, 4, 6] {
            let lengths = 1..=LONGEST_BARS * bar;
            let total: f64 = lengths.map(|beats| log_share(beats, bar).exp()).sum();
            assert!((0.9..1.1).contains(&total), "{bar}: {total}");
        }
    }
}
