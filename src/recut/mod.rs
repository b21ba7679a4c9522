//! Another cut of a song: what is there, what is gone, what is new, and the marks carried over.
//!
//! ```text
//! old map + its sound ─┐
//!                      ├─▶ Likeness (key found) ─▶ Path (count to count) ─▶ Recut: phrases carried ─▶ new map
//! new cut, listened to ┘
//! ```
//!
//! Each count of the new cut is either some count of the old one or new. The likeliest way through is found
//! by a hidden Markov model whose states are the old counts and one state for what is new: in step costs
//! nothing, jumps and new material cost, the less where phrases start. How likely two counts are the same
//! moment is told by how far their likeness stands out from that of other pairs of the same two recordings, as
//! in cover song identification by cross-similarity (Serrà, Gómez, Herrera & Serra 2008, *Chroma binary
//! similarity and local alignment applied to cover song identification*).

mod adapt;
mod carry;
mod chance;
mod counting;
mod evened;
mod likeness;
mod lines;
mod new_map;
mod old;
mod path;
mod reading;
mod same;
mod slips;
mod tell;
mod way;
mod what;

pub use adapt::{Adapted, adapt};
pub use carry::{Carried, Source};
pub use same::{Phrase, Recut, recut};
pub use tell::{headline, table, tell, tell_fit};
pub use what::What;
