//! The `loadwalk` program.

fn main() {}
