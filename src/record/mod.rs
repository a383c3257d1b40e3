//! The record of a walk: append-only journal, clips, hash chain, verification.
