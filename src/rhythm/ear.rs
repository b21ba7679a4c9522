//! The ear: samples in, features and activations out.

use super::activations::Activations;
use super::features::{FeatureFront, Features};
use super::network;

/// Listens to mono samples at [`super::features::SAMPLE_RATE_HZ`], in blocks of any size.
///
/// ```
/// use hoofbeat::rhythm::{Constraints, Ear, solve};
///
/// let mut ear = Ear::new();
/// for second in 0..10 {
///     // A tick twice a second.
///     let mut samples = vec![0.0f32; 22_050];
///     for tick in [0, 11_025] {
///         for n in 0..300 {
///             samples[tick + n] = (1.0 - n as f32 / 300.0) * if n % 8 < 4 { 0.5 } else { -0.5 };
///         }
///     }
///     ear.hear(&samples);
/// }
/// let heard = ear.finish();
/// let grid = solve(&heard.activations, &heard.features, &Constraints::default()).unwrap();
/// assert!((grid.tempo_bpm - 120.0).abs() < 0.5);
/// ```
#[derive(Default)]
pub struct Ear {
    front: FeatureFront,
}

/// What was heard, before it is followed. Keep it to solve again under other constraints without
/// decoding.
#[derive(Debug, Clone)]
pub struct Heard {
    /// Spectrogram and attacks.
    pub features: Features,
    /// Where beats and downbeats are likely.
    pub activations: Activations,
}

impl Ear {
    /// An ear that has heard nothing yet.
    pub fn new() -> Ear {
        Ear::default()
    }

    /// Takes the next samples.
    pub fn hear(&mut self, samples: &[f32]) {
        self.front.push(samples);
    }

    /// Ends the recording.
    pub fn finish(self) -> Heard {
        let features = self.front.finish();
        let activations = network::activations(&features);
        Heard { features, activations }
    }
}
