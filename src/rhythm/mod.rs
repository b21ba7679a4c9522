//! Beats, bars and pulse: from samples to a [`Grid`].

mod attack;
pub mod features;
mod filterbank;
mod framer;
mod grid;

pub use attack::{ATTACK_BANDS, ATTACK_HOP, AttackEnvelope};
pub use features::{FeatureFront, Features};
pub use grid::{Grid, OtherPulse};
