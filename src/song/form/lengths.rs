//! How long phrases are in real songs.

/// Share of inner sections of each length in bars, in every second of the 456 songs of
/// `forms.jsonl` (the Harmonix Set, Nieto et al., ISMIR 2019; MIT licence) that are in 4/4, boundaries
/// taken at the nearest bar line: 1928 sections. Printed by `training/forms.py`.
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

/// Longest section looked for, in bars.
pub const LONGEST_BARS: usize = 48;

/// Log probability of a section of `counts` counts in a song of `per_bar` counts to the bar.
pub fn log_share(counts: usize, per_bar: usize) -> f64 {
    /// What a length gets that the songs do not show: they are few, and other songs are others.
    const UNSEEN: f64 = 0.0005;
    let (bars, over) = (counts / per_bar, counts % per_bar);
    let seen = |bars: usize| {
        SHARE_BY_BARS.iter().find(|(b, _)| *b == bars).map_or(UNSEEN, |(_, share)| share + UNSEEN)
    };
    if over == 0 {
        (WHOLE_BARS * seen(bars)).ln()
    } else {
        let near = (seen(bars) + seen(bars + 1)) / 2.0;
        ((1.0 - WHOLE_BARS) * near / (per_bar - 1).max(1) as f64).ln()
    }
}
