//! The `boxward` program: parses, calls, exits.

use std::process::ExitCode;

fn main() -> ExitCode {
    boxward::cli::run(std::env::args_os())
}
