//! loadwalk reads the checks round a rigged load aloud, takes spoken answers by local speech
//! recognition against a small grammar, and keeps a record that cannot lose or silently change one.
//!
//! A *plan* (a load, its slings, the lift, the checks round it) becomes a *route*. A *walk* asks the
//! route, hears the answers and appends each to a *record*. *Figures* come from the same plan.
//!
//! | module | holds | may use |
//! | --- | --- | --- |
//! | `durable` | files that are on the disk whole or not at all | nothing |
//! | [`diagnostic`] | findings that point at a place in a file and end in what to do | nothing |
//! | `numerals` | English words of numbers | nothing |
//! | [`model`] | fetching and converting recogniser weights | durable |
//! | [`audio`] | files, devices, resampling | nothing |
//! | [`voice`] | words to sound | audio |
//! | [`plan`] | the plan file and its expansion to a route | diagnostic, numerals |
//! | [`figures`] | statics, capacity, air density on SI quantities | diagnostic, plan |
//! | [`grammar`] | spoken forms: ABNF files, finite-state graph, written forms, likeness | diagnostic, numerals |
//! | [`walk`] | the walk as a pure state machine: no clock, no I/O, no async | numerals, plan, grammar |
//! | [`ears`] | sound to answer: end-pointing, recogniser, decision, tryout | numerals, model, plan, grammar, walk |
//! | [`record`] | journal, clips, hash chain, seal, verification, what a record comes to | durable, plan, figures, grammar, walk |
//! | [`review`] | exports and the local page | durable, plan, figures, walk, record |
//! | [`fleet`] | many records: index, trends, exports | plan, walk, record |
//! | [`cli`] | one file a command | all |
//!
//! A module uses what its row names and nothing else of the crate, and only rows above its own: a test holds
//! the sources to it.
//!
//! Rules that hold everywhere: silence, noise, a low score, a lost device or a crash never becomes a
//! conforming answer; an answer is durable before the next prompt; nothing appended is rewritten.

pub mod audio;
pub mod cli;
pub mod diagnostic;
mod durable;
pub mod ears;
pub mod figures;
pub mod fleet;
pub mod grammar;
#[cfg(test)]
mod layers;
pub mod model;
mod numerals;
pub mod plan;
pub mod record;
pub mod review;
pub mod voice;
pub mod walk;
