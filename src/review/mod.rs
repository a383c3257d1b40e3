//! Exports and the local review page.
