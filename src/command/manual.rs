//! `headword completions` and `headword manual`: made from the same definitions as the help.

use super::{CommandError, Exit, Report, definitions};

/// Print completions for a shell
#[derive(Debug, clap::Args)]
pub struct CompletionsArguments {
    shell: clap_complete::Shell,
}

pub fn completions(arguments: &CompletionsArguments) -> Result<Report, CommandError> {
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut definitions(), "headword", &mut script);
    report(script)
}

/// Print the manual page, for `man -l -`
#[derive(Debug, clap::Args)]
pub struct ManualArguments {}

pub fn manual(_: &ManualArguments) -> Result<Report, CommandError> {
    let mut page = Vec::new();
    clap_mangen::Man::new(definitions())
        .render(&mut page)
        .map_err(CommandError::ours)?;
    report(page)
}

fn report(text: Vec<u8>) -> Result<Report, CommandError> {
    let text = String::from_utf8(text).map_err(CommandError::ours)?;
    Ok(Report::new(text.as_str(), &text, Exit::Done))
}
