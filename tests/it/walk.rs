//! Whole walks against the state machine: dialogues, laws over random events, a late and lossy driver.

mod against;
mod calls;
mod dialogue;
mod holds;
mod laws;
mod ledger;
mod limits;
mod odds;
mod pad;
mod plans;
mod settled;
mod sites;
mod storm;
mod taken_back;
mod together;
mod ways_round;
mod yard;
