//! `headword completions` and `headword manual`: made from the same definitions as the help.

use super::{CommandError, Exit, Report, definitions};
use crate::job::job_schema;
use crate::rules::rules_schema;

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

/// Print the manual page, for `man -l -`, the reference of the rule language, or a JSON Schema
#[derive(Debug, clap::Args)]
pub struct ManualArguments {
    #[arg(value_enum, default_value_t)]
    about: About,
}

/// What to print.
#[derive(Debug, Clone, Copy, Default, clap::ValueEnum)]
enum About {
    /// The commands, as a manual page
    #[default]
    Commands,
    /// The rule language, with an example of everything (Markdown)
    Rules,
    /// A JSON Schema of rule files, for editors
    RulesSchema,
    /// A JSON Schema of job files, for editors
    JobSchema,
}

const RULES: &str = include_str!("../../rules/README.md");

pub fn manual(arguments: &ManualArguments) -> Result<Report, CommandError> {
    let schema = |schema: serde_json::Value| {
        let text = serde_json::to_string_pretty(&schema).map_err(CommandError::ours)?;
        report((text + "\n").into_bytes())
    };
    match arguments.about {
        About::Commands => {}
        About::Rules => return report(RULES.into()),
        About::RulesSchema => return schema(rules_schema()),
        About::JobSchema => return schema(job_schema()),
    }
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
