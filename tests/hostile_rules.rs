//! Rule and job files that somebody made to hurt, or that are no such files at all.

use crate::fuzz_rules::drive::{MOST_SECONDS, processor_seconds, readings};
use crate::support::TestJob;
use headword::job::JobSettings;
use headword::rules::{Around, RuleBook, Styles};
use std::fs;
use std::path::Path;

const FIELD: &str = "[[field]]\nname = \"a\"\nkind = \"code\"\n";
const RULE: &str = "[[rule]]\nname = \"r\"\nline = \"{a}\"\n";

/// A field of this pattern and a rule that takes it.
fn pattern(pattern: &str) -> String {
    format!("{FIELD}pattern = '{pattern}'\n{RULE}")
}

#[test]
fn hostile_files_are_faulted_in_good_time() {
    let many = |what: &str, count: usize, with: &dyn Fn(usize) -> String| -> String {
        let sections: Vec<String> = (0..count)
            .map(|n| format!("[[{what}]]\n{}", with(n)))
            .collect();
        format!("{FIELD}pattern = 'A'\n{RULE}{}", sections.concat())
    };
    let rows: Vec<String> = (0..100_000).map(|n| format!("k{n} = \"v\"")).collect();
    let long = "x".repeat(500_000);
    // What it is, the file, and what the faults say.
    let cases: Vec<(&str, String, &[&str])> = vec![
        (
            "10 MB",
            "# comment\n".repeat(1_000_000),
            &["at most 1048576 bytes", "10000000 bytes"],
        ),
        (
            "10,000 rules",
            many("rule", 10_000, &|n| {
                format!("name = \"{n}\"\nline = \"{{a}}\"\n")
            }),
            &["at most 500 rules"],
        ),
        (
            "10,000 faulty rules",
            many("rule", 10_000, &|n| {
                format!("name = \"{n}\"\nline = \"{{b}}\"\n")
            }),
            &["`b`", "more faults"],
        ),
        (
            "10,000 fields",
            many("field", 10_000, &|n| {
                format!("name = \"f{n}\"\nkind = \"text\"\n")
            }),
            &["at most 100 fields"],
        ),
        (
            "10,000 checks",
            many("check", 10_000, &|_| "that = \"a != 'B'\"\n".to_owned()),
            &["at most 100 checks"],
        ),
        (
            "10,000 tables",
            many("table", 10_000, &|n| {
                format!("name = \"t{n}\"\nrows = {{ a = \"b\" }}\n")
            }),
            &["at most 50 tables"],
        ),
        (
            "nested repetition",
            pattern("((a{30}){30}){30}"),
            &["rules.toml:4:", "at most 1500 characters"],
        ),
        (
            "deep groups",
            pattern(&format!("{}a{}", "(".repeat(1_000), ")".repeat(1_000))),
            &["rules.toml:4:", "syntax of the `regex` crate"],
        ),
        (
            "a huge alternation",
            pattern(&vec!["ab"; 100_000].join("|")),
            &["at most 4000 bytes"],
        ),
        (
            "a choice of 50,000 words",
            format!(
                "[[field]]\nname = \"a\"\nkind = \"choice\"\nwords = [{}]\n{RULE}",
                "\"AB\",".repeat(50_000)
            ),
            &["too large together"],
        ),
        ("a NUL", format!("{FIELD}\0\n{RULE}"), &["rules.toml:4:"]),
        ("only NULs", "\0".repeat(100_000), &["rules.toml:1:"]),
        (
            "a circle",
            format!(
                "[[table]]\nname = \"t\"\nrows = {{ x = \"y\" }}\n{FIELD}look_up = \"t\"\nby = \"b\"\n[[field]]\nname = \"b\"\nkind = \"code\"\nlook_up = \"t\"\nby = \"a\"\n{RULE}"
            ),
            &["rules.toml:8:", "rules.toml:13:", "in a circle"],
        ),
        (
            "looked up by itself",
            format!(
                "[[table]]\nname = \"t\"\nrows = {{ x = \"y\" }}\n{FIELD}look_up = \"t\"\nby = \"a\"\n{RULE}"
            ),
            &["in a circle"],
        ),
        (
            "tables in tables",
            format!(
                "{FIELD}{RULE}[[table]]\nname = \"t\"\nrows = {{ a = {{ b = {{ c = \"d\" }} }} }}\n"
            ),
            &["text in quotes", "table"],
        ),
        (
            "100,000 rows",
            format!(
                "{FIELD}{RULE}[[table]]\nname = \"t\"\nrows = {{ {} }}\n",
                rows[..40_000].join(", ")
            ),
            &["1 to 2000 rows"],
        ),
        (
            "100,000 keys on a line",
            format!(
                "{FIELD}{RULE}[[rule]]\nname = \"s\"\nline = \"{{a}}\"\nwhen = {{ {} }}\n",
                rows[..50_000].join(", ")
            ),
            &["collection, band", "more faults"],
        ),
        (
            "100,000 keys",
            format!("{}\n{FIELD}{RULE}", rows[..60_000].join("\n")),
            &["rules.toml:1:1", "more faults"],
        ),
        (
            "a long name",
            format!("[[field]]\nname = \"{long}\"\nkind = \"text\"\n{RULE}"),
            &["at most 100 bytes", "500000 bytes"],
        ),
        (
            "long names alike",
            format!(
                "[[field]]\nname = \"{long}\"\nkind = \"text\"\n{RULE}set = {{ {}y = \"1\" }}\n",
                "x".repeat(499_999)
            ),
            &["the name of a field"],
        ),
        (
            "a long key",
            format!("{FIELD}{long} = 1\n{RULE}"),
            &["one of the keys of a field"],
        ),
        (
            "a long line",
            format!("{FIELD}{RULE}[[rule]]\nname = \"s\"\nline = \"{long}\"\n"),
            &["at most 500 bytes"],
        ),
        (
            "a long check",
            format!(
                "{FIELD}{RULE}[[check]]\nthat = \"a{} = 1\"\n",
                " + a".repeat(200_000)
            ),
            &["at most 300 bytes"],
        ),
        (
            "deep brackets",
            format!(
                "{FIELD}{RULE}[[rule]]\nname = \"s\"\nline = \"{}{{a}}{}\"\n",
                "[ ".repeat(200),
                " ]".repeat(200)
            ),
            &["rules.toml:9:"],
        ),
        (
            "deep arrays",
            format!(
                "{FIELD}words = {}1{}\n{RULE}",
                "[".repeat(100_000),
                "]".repeat(100_000)
            ),
            &["rules.toml:4:"],
        ),
        (
            "deep tables",
            format!(
                "{FIELD}dates = {}1{}\n{RULE}",
                "{a=".repeat(100_000),
                "}".repeat(100_000)
            ),
            &["rules.toml:4:"],
        ),
        (
            "deep keys",
            format!("{FIELD}{}b = 1\n{RULE}", "a.".repeat(200_000)),
            &["rules.toml:1:1", "recursion limit"],
        ),
        (
            "deep headings",
            format!("[{}b]\n{FIELD}{RULE}", "a.".repeat(200_000)),
            &["rules.toml:1:"],
        ),
        (
            "broken lines",
            format!("{}{FIELD}{RULE}", "= = =\n".repeat(100_000)),
            &["rules.toml:1:", "more faults"],
        ),
        (
            "one broken line",
            format!("{}\n{FIELD}{RULE}", "= ".repeat(400_000)),
            &["rules.toml:1:"],
        ),
    ];
    for (what, text, says) in cases {
        let start = processor_seconds();
        let told = match RuleBook::parse_all(&[("rules.toml", &text)], &Styles::default()) {
            Ok(_) => panic!("{what} is understood"),
            Err(faults) => faults.to_string(),
        };
        let took = processor_seconds() - start;
        let shown: String = told.chars().take(2_000).collect();
        assert!(took < MOST_SECONDS, "{what}: {took:.1} s");
        assert!(
            told.len() < 200_000,
            "{what}: {} bytes of faults",
            told.len()
        );
        for words in says {
            assert!(
                told.contains(words),
                "{what}: expected {words:?} in {shown}"
            );
        }
    }
}

#[test]
fn large_files_that_are_sound_are_applied_in_good_time() {
    let rows: Vec<String> = (0..2_000)
        .map(|n| format!("k{n} = \"{}\"", "v".repeat(100)))
        .collect();
    let table = format!(
        "[[table]]\nname = \"t\"\nrows = {{ {} }}\n",
        rows.join(", ")
    );
    let looked_up = "[[field]]\nname = \"b\"\nkind = \"text\"\nlook_up = \"t\"\nby = \"a\"\n";
    let alternatives = format!("<{}>", vec!["{b}"; 80].join("|"));
    let alike: Vec<String> = (0..100)
        .map(|n| format!("[[rule]]\nname = \"s{n}\"\nline = \"{{a}} {alternatives}\"\n"))
        .collect();
    let many: Vec<String> = (0..500)
        .map(|n| format!("[[rule]]\nname = \"s{n}\"\nline = \"{{a}} NO {n} [OF {n}]\"\n"))
        .collect();
    let checks = "[[check]]\nthat = \"a != 'B'\"\n".repeat(100);
    for (what, text) in [
        (
            "long tables in many rules",
            format!(
                "{table}{FIELD}pattern = '[A-Z]{{2}}'\n{looked_up}{}",
                alike.concat()
            ),
        ),
        (
            "500 rules",
            format!("{FIELD}pattern = '\\w{{2,20}}'\n{}{checks}", many.concat()),
        ),
    ] {
        let start = processor_seconds();
        let book = RuleBook::parse("rules.toml", &text);
        let parsed = processor_seconds() - start;
        assert!(parsed < MOST_SECONDS, "{what}: {parsed:.1} s to read");
        let Ok(book) = book else { continue };
        for reading in readings() {
            let start = processor_seconds();
            book.extract(&reading, &Around::default());
            let took = processor_seconds() - start;
            assert!(took < MOST_SECONDS, "{what}: {took:.1} s to apply");
        }
    }
}

#[test]
fn hostile_job_files_are_faulted_in_good_time() {
    let long = "x".repeat(500_000);
    for (what, text) in [
        ("10 MB", "# comment\n".repeat(1_000_000)),
        ("NULs", "\0".repeat(1_000)),
        ("deep arrays", format!("title = {}", "[".repeat(100_000))),
        ("deep keys", format!("{}b = 1", "a.".repeat(200_000))),
        ("a long title", format!("titel = \"{long}\"")),
        ("broken lines", "= = =\n".repeat(100_000)),
        (
            "many keys",
            (0..50_000).map(|n| format!("k{n} = 1\n")).collect(),
        ),
    ] {
        let start = processor_seconds();
        let faults = JobSettings::parse(Path::new("."), &text).expect_err(what);
        let took = processor_seconds() - start;
        assert!(took < MOST_SECONDS, "{what}: {took:.1} s");
        let told = faults.to_string();
        assert!(
            told.starts_with("job.toml:1:"),
            "{what}: {}",
            &told[..told.len().min(500)]
        );
        assert!(
            told.len() < 200_000,
            "{what}: {} bytes of faults",
            told.len()
        );
    }
}

#[test]
fn files_that_are_no_text_or_have_no_end_are_refused() {
    let job = TestJob::of_sheets(0);
    let rules = job.file("rules/personnel.toml");
    fs::write(&rules, b"[[rule]]\nname = \"\xff\xfe\"\n").unwrap();
    job.run("rules", ["--counts"])
        .exits(2)
        .says(&["personnel.toml", "UTF-8"]);
    fs::remove_file(&rules).unwrap();
    std::os::unix::fs::symlink("/dev/zero", &rules).unwrap();
    job.run("rules", ["--counts"])
        .exits(2)
        .says(&["personnel.toml", "the right file"]);
    fs::remove_file(job.file("job.toml")).unwrap();
    std::os::unix::fs::symlink("/dev/zero", job.file("job.toml")).unwrap();
    job.run("rules", ["--counts"])
        .exits(2)
        .says(&["job.toml", "the right file"]);
}
