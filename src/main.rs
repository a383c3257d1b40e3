//! The `loadwalk` program.

use std::process::ExitCode;

fn main() -> ExitCode {
    loadwalk::cli::main()
}
