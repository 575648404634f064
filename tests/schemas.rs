//! Rule and job files against their JSON Schemas, as an editor would check them.

use crate::support::{headword, repository};
use serde_json::Value;

fn validator(about: &str) -> jsonschema::Validator {
    let printed = headword(["manual", about, "--json"]).exits(0).json();
    let schema: Value = serde_json::from_str(printed.as_str().expect("a schema as text")).unwrap();
    jsonschema::validator_for(&schema).expect("a sound schema")
}

fn value(text: &str) -> Value {
    serde_json::to_value(toml::from_str::<toml::Table>(text).unwrap()).unwrap()
}

#[test]
fn starter_files_and_every_example_fit_the_schema_of_rules_and_faulty_ones_do_not() {
    let rules = validator("rules-schema");
    let mut files = 0;
    let mut check = |text: &str| {
        let faults: Vec<String> = rules
            .iter_errors(&value(text))
            .map(|e| e.to_string())
            .collect();
        assert!(faults.is_empty(), "{faults:#?}\nin\n{text}");
        files += 1;
    };
    for name in ["personnel", "drawings", "payroll"] {
        let path = repository(&format!("rules/{name}.toml"));
        check(&std::fs::read_to_string(path).unwrap());
    }
    let page = std::fs::read_to_string(repository("rules/README.md")).unwrap();
    for block in page.split("```toml\n").skip(1) {
        check(block.split("```").next().unwrap());
    }
    assert!(files > 12, "{files}");
    for faulty in [
        "[[field]]\nname = \"a\"\nkind = \"cod\"\n",
        "[[field]]\nname = \"a\"\n",
        "[[field]]\nname = \"a\"\nkind = \"code\"\ncheck = \"luhm\"\n",
        "[[rule]]\nname = \"a\"\nlin = \"{a}\"\n",
        "[[rule]]\nname = \"a\"\nline = \"{a}\"\nwhen = { band = \"purple\" }\n",
        "[[rules]]\nname = \"a\"\n",
    ] {
        assert!(!rules.is_valid(&value(faulty)), "{faulty}");
    }
}

#[test]
fn a_demo_job_fits_the_schema_of_job_files() {
    let job = validator("job-schema");
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job");
    let at = path.to_str().unwrap();
    headword([
        "demo",
        at,
        "--headless",
        "--keep",
        "readings",
        "--sheets",
        "2",
    ])
    .exits(0);
    let text = std::fs::read_to_string(path.join("job.toml")).unwrap();
    let faults: Vec<String> = job
        .iter_errors(&value(&text))
        .map(|e| e.to_string())
        .collect();
    assert!(faults.is_empty(), "{faults:#?}");
    assert!(!job.is_valid(&value("title = 3\n")));
}
