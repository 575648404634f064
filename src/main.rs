//! Arguments in, exit code out; everything else is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    headword::command::run(std::env::args_os())
}
