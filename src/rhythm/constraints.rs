//! What the user has said about the beat, for the solver to hold fast.

/// Corrections that hold while everything else is solved again. All are optional.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Constraints {
    /// Stretches whose beats are given: ascending times in seconds, at least two a stretch.
    pub taps: Vec<Vec<f64>>,
    /// The pulse wanted, beats a minute; the nearest pulse that the sound supports within a factor of
    /// 1.4 either way is found. Twice or half the tempo of a grid doubles or halves it.
    pub beats_per_minute: Option<f64>,
    /// Time of a beat that starts a bar, seconds.
    pub bar_line_s: Option<f64>,
    /// Beats to the bar, throughout.
    pub beats_per_bar: Option<u32>,
    /// Times at which tempo or bars change: there a change costs nothing.
    pub changes_s: Vec<f64>,
}
