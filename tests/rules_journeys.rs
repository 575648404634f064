//! A supervisor at the rules of a job: faults read and mended, a rule begun from an example, rules put to use.

use crate::pseudo_terminal::Terminal;
use crate::support::{drawn_job, headword};
use rusqlite::Connection;
use std::fs;
use std::path::Path;

const TAB: &str = "\t";
const ENTER: &str = "\r";
const UP: &str = "\x1b[A";
const DOWN: &str = "\x1b[B";

fn sit(job: &Path, person: &str) -> Terminal {
    let arguments = [
        "rules",
        job.to_str().unwrap(),
        "--as",
        person,
        "--picture",
        "sextants",
    ];
    Terminal::start(&arguments, (120, 40))
}

/// The decisions that the journal keeps, as JSON.
fn decisions(job: &Path) -> Vec<serde_json::Value> {
    let journal = Connection::open(job.join("headword.db")).unwrap();
    let mut ask = journal
        .prepare("SELECT payload FROM decisions ORDER BY number")
        .unwrap();
    let rows = ask.query_map([], |row| row.get::<_, String>(0)).unwrap();
    rows.map(|payload| serde_json::from_str(&payload.unwrap()).unwrap())
        .collect()
}

/// Sheets whose proposal names this rule.
fn proposed_by(job: &Path, rule: &str) -> i64 {
    let journal = Connection::open(job.join("headword.db")).unwrap();
    let count =
        "SELECT count(*) FROM proposals WHERE json_extract(payload, '$.proposal.rule') = ?1";
    journal.query_row(count, [rule], |row| row.get(0)).unwrap()
}

#[test]
fn a_faulty_rule_is_mended_and_put_to_use() {
    let (_folder, job) = drawn_job(12, "default");
    let live = job.join("rules/personnel.toml");
    let text = fs::read_to_string(&live).unwrap();
    // Take a layout out, as if nobody had written it yet.
    let name = text.find("name = \"number, name, years, sheet\"").unwrap();
    let start = text[..name].rfind("[[rule]]").unwrap();
    let end = name + text[name..].find("\n[[").unwrap() + 1;
    let template = text[start..end]
        .lines()
        .find(|line| line.starts_with("line"));
    let template = template.unwrap();
    fs::write(&live, format!("{}{}", &text[..start], &text[end..])).unwrap();
    assert_eq!(headword(["read", job.to_str().unwrap()]).code, Some(0));

    let mut desk = sit(&job, "sue");
    desk.shows(&["rules in use", "sheets fitted", "all sheets seen"]);
    let unfitted_before = desk.text().contains("1 no rule: 0");
    assert!(!unfitted_before, "{}", desk.text());
    // Write it again at the end, with a slip: the closing brace is missing.
    for _ in 0..20 {
        desk.send("\x1b[6~");
    }
    desk.send("\x1b[F");
    desk.send("\r[[rule]]\rname = \"mine\"\r");
    desk.send(&template.replacen('}', "", 1));
    desk.shows(&["draft with 1 fault", "expected"]);
    desk.send("\x1bp");
    desk.shows(&["stays a draft"]);
    // To the fault, and the line written again.
    desk.send("\x1bg\x1b[F\x15");
    desk.send(template);
    desk.shows(&["draft, not in use", "better", "changed"]);
    assert!(!fs::read_to_string(&live).unwrap().contains("mine"));
    desk.send("\x1b3");
    desk.shows(&["`mine` instead of"]);
    desk.send("\x1bp");
    desk.shows(&["Put this draft to use?", "Enter puts it to use"]);
    desk.send(ENTER);
    desk.shows(&["Version 1 of the rules is in use", "proposals made anew"]);
    desk.send("\x1bq");
    assert_eq!(desk.ends(), 0);
    desk.shows(&["version 1 put to use"]);

    assert!(
        fs::read_to_string(&live)
            .unwrap()
            .contains("name = \"mine\"")
    );
    assert!(!job.join("rules-draft.json").exists());
    let decisions = decisions(&job);
    assert_eq!(decisions.len(), 1);
    assert_eq!(decisions[0]["by"], "sue");
    let published = &decisions[0]["choice"]["rules-published"];
    assert_eq!(published["version"], 1);
    assert!(published["files"][0][1].as_str().unwrap().contains("mine"));
    assert!(proposed_by(&job, "mine") > 0);
    // Nothing is left to be proposed.
    let read = headword(["read", job.to_str().unwrap()]);
    assert!(read.out.contains("; 0 proposed"), "{read:#?}");
}

#[test]
fn from_rules_at_fault_to_a_rule_made_from_an_example() {
    let (_folder, job) = drawn_job(6, "default");
    let live = job.join("rules/personnel.toml");
    let text = fs::read_to_string(&live).unwrap();
    let first = text.find("\n[[rule]]").unwrap() + 1;
    // Fields without any rule: nothing that `read` could use.
    let fields = text[..first].to_owned();
    fs::write(&live, &fields).unwrap();
    assert_eq!(headword(["read", job.to_str().unwrap()]).code, Some(2));

    let mut desk = sit(&job, "sue");
    desk.shows(&["the rules in use are at fault", "1 no rule: 6"]);
    desk.send("\x1be");
    desk.shows(&["What is where on this strip?", "Nothing is marked yet"]);
    // Every piece of the strip that is a number of six digits and a check character, wherever it stands.
    for _ in 0..12 {
        desk.press("");
        let row = desk.cursor_row();
        let column = desk.cursor_column();
        let here: String = row.chars().skip(column).take(7).collect();
        if here.len() == 7 && here[..6].bytes().all(|b| b.is_ascii_digit()) && here.ends_with('-') {
            break;
        }
        desk.send("\x1b[C");
    }
    desk.send(".number\r");
    desk.shows(&["number         `"]);
    desk.send(ENTER);
    desk.shows(&["Which rule?", "{number}", "fits"]);
    desk.send(DOWN);
    desk.send(UP);
    desk.send(ENTER);
    desk.shows(&["is in the draft", "draft, not in use"]);
    desk.send("\x1bp");
    desk.shows(&["Put this draft to use?"]);
    desk.send(ENTER);
    desk.shows(&["Version 1 of the rules is in use"]);
    desk.send("\x1bq");
    assert_eq!(desk.ends(), 0);
    assert_eq!(headword(["read", job.to_str().unwrap()]).code, Some(0));
}

#[test]
fn a_draft_outlives_the_desk_and_nobody_writes_over_anybody() {
    let (_folder, job) = drawn_job(3, "default");
    let live = job.join("rules/personnel.toml");
    let text = fs::read_to_string(&live).unwrap();
    let mut desk = sit(&job, "sue");
    desk.shows(&["all sheets seen"]);
    desk.send("# mine\r");
    desk.shows(&["draft, not in use"]);

    // Whoever comes second is told who sits there.
    let mut second = sit(&job, "kim");
    assert_eq!(second.ends(), 2);
    second.shows(&["sue sits at the rules"]);

    // Killed: the draft was kept while nobody typed.
    let draft = job.join("rules-draft.json");
    for _ in 0..200 {
        if draft.exists() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    desk.kill();
    assert_eq!(fs::read_to_string(&live).unwrap(), text);
    let mut desk = sit(&job, "sue");
    desk.shows(&["draft as you left it", "# mine"]);
    // Meanwhile somebody changes the file by hand.
    fs::write(&live, format!("{text}# theirs\n")).unwrap();
    desk.shows(&["all sheets seen"]);
    desk.send("\x1bp");
    desk.shows(&["Put this draft to use?"]);
    desk.send(ENTER);
    desk.shows(&["changed by somebody else"]);
    assert!(fs::read_to_string(&live).unwrap().ends_with("# theirs\n"));
    desk.send(TAB);
    desk.send("\x1bd");
    desk.shows(&["Give up what was written"]);
    desk.send(ENTER);
    desk.shows(&["Alt+U brings it back"]);
    desk.send("\x1bq");
    assert_eq!(desk.ends(), 0);
    desk.shows(&["nothing was put to use"]);
    assert!(!draft.exists());
    assert_eq!(decisions(&job), [] as [serde_json::Value; 0]);
}
