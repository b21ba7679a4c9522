//! Cutting a recording to order: shorter for a time limit, or so that a routine fits it.
//!
//! ```text
//! SongView + sound of each count ──Joints──▶ places that can be joined ──search──▶ Plan ──splice──▶ new recording
//!                                                                                   └──carry──▶ its song map
//! ```
//!
//! A [`Plan`] says which counts of the recording are kept, in which order. [`shorten`] finds one for a
//! time limit, [`for_routine`] one that a routine fits, [`keep`] takes the phrases that a user names. A plan
//! is found as a cheapest path: playing on costs nothing, a join costs the more the less the two places
//! sound alike, and more where it breaks a phrase. `splice` makes it sound.

mod carry;
mod even;
mod joints;
mod keep;
mod place;
mod plan;
mod routine;
mod shorten;
mod splice;
mod tempo;
#[cfg(test)]
mod testing;
mod words;
mod writing;

pub use carry::carried;
pub use joints::Joints;
pub use keep::keep;
pub use plan::{Ending, Join, Piece, Plan};
pub use routine::for_routine;
pub use shorten::{Limit, shorten};
pub use splice::{Frames, Spliced, splice};
pub use words::report;
