//! What follows from the rules' fields alone: file names, parts, and what the index holds.

use crate::command::job_file::{JobFile, PartLines};
use crate::rules::{FieldKind, RuleBook};

/// A job file with what the rules' fields suggest; title, sheets, rules and roster are left empty.
pub fn plan(rules: &RuleBook) -> JobFile {
    let of_kind = |kind: FieldKind| -> Vec<&str> {
        rules
            .fields()
            .iter()
            .filter(|field| field.kind == kind)
            .map(|field| field.name.as_str())
            .collect()
    };
    let codes = of_kind(FieldKind::Code);
    let surnames = of_kind(FieldKind::Surname);
    let forenames = of_kind(FieldKind::Forenames);
    // "part <= parts" says which counts what; the first such pair of numbers it is.
    let counted = of_kind(FieldKind::Number).into_iter().find_map(|part| {
        let parts = rules.not_above(part)?;
        of_kind(FieldKind::Number)
            .contains(&parts)
            .then(|| (part.to_owned(), parts.to_owned()))
    });
    let common: Vec<String> = match codes.first() {
        Some(code) => vec![(*code).to_owned()],
        None => surnames
            .iter()
            .chain(&forenames)
            .map(|f| (*f).to_owned())
            .collect(),
    };
    let mut naming: Vec<String> = codes
        .iter()
        .take(1)
        .map(|code| format!("{{{code}}}"))
        .collect();
    naming.extend(
        surnames
            .iter()
            .take(1)
            .map(|name| format!("{{{name}:upper}}")),
    );
    if codes.is_empty() {
        naming.extend(
            forenames
                .iter()
                .take(1)
                .map(|name| format!("{{{name}:upper}}")),
        );
    }
    if naming.is_empty() {
        naming.extend(
            rules
                .fields()
                .iter()
                .take(1)
                .map(|field| format!("{{{}}}", field.name)),
        );
    }
    let mut naming = naming.join("_");
    if let Some((part, parts)) = &counted {
        naming += &format!("_{{{part}:0}}of{{{parts}:0}}");
    }
    let names = surnames.iter().chain(&forenames);
    JobFile {
        naming,
        parts: counted
            .filter(|_| !common.is_empty())
            .map(|(part, parts)| PartLines {
                of: common,
                part,
                parts,
            }),
        both: names.map(|name| (*name).to_owned()).collect(),
        ..JobFile::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(fields: &[(&str, &str)], checks: &str, naming: &str, of: &[&str]) {
        let mut text = String::new();
        for (name, kind) in fields {
            text += &format!("[[field]]\nname = \"{name}\"\nkind = \"{kind}\"\n");
        }
        let line: Vec<String> = fields
            .iter()
            .map(|(name, _)| format!("{{{name}}}"))
            .collect();
        text += &format!(
            "[[rule]]\nname = \"one\"\nline = \"{}\"\n{checks}",
            line.join(" - ")
        );
        let plan = plan(&RuleBook::parse("rules.toml", &text).unwrap());
        assert_eq!(plan.naming, naming, "{text}");
        assert_eq!(
            plan.parts.map_or(Vec::new(), |parts| parts.of),
            of,
            "{text}"
        );
    }

    #[test]
    fn file_names_and_parts_follow_from_the_fields() {
        let checks = "[[check]]\nthat = \"n <= m\"\n";
        check(
            &[
                ("s", "surname"),
                ("f", "forenames"),
                ("c", "code"),
                ("n", "number"),
                ("m", "number"),
            ],
            checks,
            "{c}_{s:upper}_{n:0}of{m:0}",
            &["c"],
        );
        check(
            &[
                ("s", "surname"),
                ("f", "forenames"),
                ("n", "number"),
                ("m", "number"),
            ],
            checks,
            "{s:upper}_{f:upper}_{n:0}of{m:0}",
            &["s", "f"],
        );
        check(&[("c", "code"), ("y", "year")], "", "{c}", &[]);
        check(&[("title", "text")], "", "{title}", &[]);
        check(
            &[("n", "number"), ("m", "number")],
            checks,
            "{n}_{n:0}of{m:0}",
            &[],
        );
    }
}
