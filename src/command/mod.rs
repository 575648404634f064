//! The command line: one file a command, each wiring the rooms and returning a [`Report`].

pub mod demo;

mod batch;
mod check;
mod deliver;
mod demonstrate;
mod find;
mod history;
mod index;
mod job_file;
mod key;
mod manual;
mod new;
mod page;
mod plan;
mod progress;
mod proof;
mod read;
mod rehearse;
mod report;
mod report_job;
mod roster;
mod rules;
mod scans;
mod score;
mod settle;
mod worker;

pub use report::{CommandError, Exit, Report};

use clap::{Parser, Subcommand};
use std::ffi::OsString;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;

/// Header strips of microfiche to a validated index and one file name a sheet.
///
/// A job is a folder: job.toml, rules, a roster, the sheets' images, and what headword makes of them (headword.db and
/// out/). Nothing outside it is written, and the images are never changed. `headword demo DIR` makes one to look at.
///
/// Exit codes: 0 done, 1 done with findings, 2 the input or the arguments are at fault, 3 a fault of headword's own.
#[derive(Debug, Parser)]
#[command(name = "headword", version, max_term_width = 100)]
struct Cli {
    #[command(subcommand)]
    command: Verb,
    /// Print the result as JSON
    #[arg(long, global = true)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum Verb {
    Demo(demonstrate::Arguments),
    New(new::Arguments),
    Read(read::Arguments),
    Key(key::Arguments),
    Rehearse(rehearse::Arguments),
    Settle(settle::Arguments),
    Rules(rules::Arguments),
    Proof(proof::Arguments),
    Check(check::Arguments),
    Index(index::Arguments),
    Deliver(deliver::Arguments),
    Find(find::Arguments),
    History(history::Arguments),
    Report(report_job::Arguments),
    Plan(Box<plan::Arguments>),
    Roster(roster::Arguments),
    Completions(manual::CompletionsArguments),
    Manual(manual::ManualArguments),
    #[command(hide = true)]
    Worker(worker::Arguments),
    #[command(hide = true)]
    SheetPicture(worker::PictureArguments),
}

/// Runs one command line and says how it ended. A panic is a fault of ours: exit 3.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    let exit =
        catch_unwind(AssertUnwindSafe(|| run_arguments(&arguments))).unwrap_or(Exit::OurFault);
    ExitCode::from(exit as u8)
}

fn run_arguments(arguments: &[OsString]) -> Exit {
    let cli = match Cli::try_parse_from(arguments) {
        Ok(cli) => cli,
        Err(fault) => {
            // Help and version come this way too, and are no fault.
            if fault.use_stderr() {
                return report::print_usage_fault(&fault.to_string());
            }
            let _ = fault.print();
            return Exit::Done;
        }
    };
    let outcome = match cli.command {
        Verb::Demo(arguments) => demonstrate::run(&arguments),
        Verb::New(arguments) => new::run(&arguments),
        Verb::Read(arguments) => read::run(&arguments),
        Verb::Key(arguments) => key::run(&arguments),
        Verb::Rehearse(arguments) => rehearse::run(&arguments),
        Verb::Settle(arguments) => settle::run(&arguments),
        Verb::Rules(arguments) => rules::run(&arguments),
        Verb::Proof(arguments) => proof::run(&arguments),
        Verb::Check(arguments) => check::run(&arguments),
        Verb::Index(arguments) => index::run(&arguments),
        Verb::Deliver(arguments) => deliver::run(&arguments),
        Verb::Find(arguments) => find::run(&arguments),
        Verb::History(arguments) => history::run(&arguments),
        Verb::Report(arguments) => report_job::run(&arguments),
        Verb::Plan(arguments) => plan::run(&arguments),
        Verb::Roster(arguments) => roster::run(&arguments),
        Verb::Completions(arguments) => manual::completions(&arguments),
        Verb::Manual(arguments) => manual::manual(&arguments),
        Verb::Worker(arguments) => return worker::run(&arguments),
        Verb::SheetPicture(arguments) => return worker::run_picture(&arguments),
    };
    match outcome {
        Ok(report) => report.print(cli.json),
        Err(fault) => fault.print(cli.json),
    }
}

/// The definitions behind help, completions and the manual page.
fn definitions() -> clap::Command {
    <Cli as clap::CommandFactory>::command()
}
