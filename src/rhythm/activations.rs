//! What the front makes of the features: how likely each frame is a beat, and a downbeat.

/// For each frame, how likely a beat and a downbeat lie there. The seam between a front (hand-made or
/// learned) and the solver: whoever fills this in can be followed by [`super::solve`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Activations {
    /// Frames a second; frame `k` lies at `k / frames_per_second` seconds.
    pub frames_per_second: f64,
    /// Probability of a beat, 0 to 1. Shape `[n_frames]`.
    pub beat: Vec<f32>,
    /// Probability of a downbeat (a beat that starts a bar), 0 to 1. Shape `[n_frames]`.
    pub downbeat: Vec<f32>,
}

impl Activations {
    /// Length in seconds.
    pub fn duration_s(&self) -> f64 {
        if self.frames_per_second > 0.0 {
            self.beat.len() as f64 / self.frames_per_second
        } else {
            0.0
        }
    }
}
