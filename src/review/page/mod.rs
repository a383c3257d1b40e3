//! The review page: one local page that plays, filters and amends a record. [`Server`] serves it to
//! this machine alone.
//!
//! The page is plain HTML, style and script. Its data are two scripts of their own (`record.js`,
//! `wave.js`), so that the strictest content policy does.

mod data;
mod export;
mod range;
mod server;
#[cfg(test)]
mod tests;
mod wave;

pub use export::{ExportError, export as export_page};
pub use server::{Reviewer, ServeError, Server};

const INDEX: &str = include_str!("index.html");
const STYLE: &str = include_str!("page.css");
const SCRIPT: &str = include_str!("page.js");
const ICON: &str = include_str!("icon.svg");
