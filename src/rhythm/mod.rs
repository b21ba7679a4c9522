//! Beats, bars and pulse: from samples to a [`Grid`].
//!
//! ```text
//! samples ──Ear──▶ Features ──network──▶ Activations ──solve──▶ Grid
//!                      └──▶ OnsetStrength ──handmade──┘
//! ```
//!
//! [`Ear`] takes samples as they are decoded. [`solve`] follows the activations over the whole song and
//! can be asked again, with the user's [`Constraints`], without listening again.

mod activations;
mod attack;
mod bars;
mod clarity;
mod confidence;
mod constraints;
pub(crate) mod convolve;
mod db;
mod ear;
pub mod features;
mod filterbank;
mod first_sound;
mod framer;
mod grid;
mod handmade;
mod harmony;
mod level;
pub mod measure;
mod network;
mod onset;
mod place;
mod pulse;
mod solve;
mod steady;
mod tempogram;
pub(crate) mod weights;

pub use activations::Activations;
pub use attack::{ATTACK_BANDS, ATTACK_HOP, AttackEnvelope};
pub use constraints::Constraints;
pub use ear::{Ear, Heard};
pub use features::{FeatureFront, FeatureParts, Features};
pub use grid::{Grid, OtherPulse};
pub(crate) use grid::{median, median_interval_s};
pub use handmade::activations as handmade_activations;
pub use network::activations as learned_activations;
pub use onset::OnsetStrength;
pub use solve::{NoPulse, solve};
pub use tempogram::Tempogram;
