//! The binary: parses the arguments, calls the library, prints data and findings, and says by its exit code how it went.

mod cli;

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    let arguments = cli::Arguments::parse();
    let outcome = cli::guarded(|| cli::run(&arguments));
    outcome.exit_code()
}
