//! A proof with the client: drawn, keyed blind, put on a page, answered in a spreadsheet, approved.

use crate::pseudo_terminal::Terminal;
use crate::support::{Run, drawn_job, headword, rows};
use std::collections::HashMap;
use std::fs;
use std::path::Path;

fn proof(job: &Path, more: &[&str]) -> Run {
    let mut arguments = vec!["proof", job.to_str().unwrap()];
    arguments.extend(more);
    headword(arguments)
}

fn desk(job: &Path, more: &[&str]) -> Terminal {
    let mut arguments = vec![
        "key",
        job.to_str().unwrap(),
        "--as",
        "mia",
        "--picture",
        "sextants",
    ];
    arguments.extend(more);
    Terminal::start(&arguments, (100, 30))
}

/// What the starter rules' fields say on each sheet.
fn truth(job: &Path) -> Vec<(String, Vec<String>)> {
    const FIELDS: [&str; 7] = [
        "surname",
        "forenames",
        "number",
        "from",
        "to",
        "part",
        "parts",
    ];
    let sheet = |row: HashMap<String, String>| {
        let values = FIELDS.map(|field| row[field].clone());
        (row["sheet"].clone(), values.to_vec())
    };
    rows(&job.join("truth.csv"))
        .into_iter()
        .map(sheet)
        .collect()
}

/// Keys a sheet that comes with nothing filled in.
fn key_blind(desk: &mut Terminal, values: &[String]) {
    for value in values {
        match value.as_str() {
            "" => desk.press("\x1b0"),
            value => {
                desk.press(value);
                desk.press("\r");
            }
        }
    }
    desk.press("\r");
}

/// What a page may not have, and what each of its pictures has to.
fn is_self_contained(page: &Path) {
    let html = fs::read_to_string(page).unwrap();
    assert!(html.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"));
    for absent in [
        "<script",
        "http:",
        "https:",
        "<link",
        "<iframe",
        "javascript:",
        "url(",
    ] {
        assert!(!html.to_lowercase().contains(absent), "{absent}");
    }
    let pictures: Vec<&str> = html.split("<img ").skip(1).collect();
    assert!(!pictures.is_empty());
    for picture in pictures {
        let tag = picture.split('>').next().unwrap();
        assert!(
            tag.starts_with("src=\"data:image/png;base64,"),
            "{}",
            &tag[..40]
        );
        let alt = tag.split(" alt=\"").nth(1).unwrap_or_default();
        assert!(alt.split('"').next().unwrap().len() > 20, "{alt}");
    }
    for present in ["<h1>", "How to answer", "Personal data"] {
        assert!(html.contains(present), "{present}");
    }
}

/// The form as a client's spreadsheet saves it: semicolons, Windows' letters and line ends, a column more, turned round.
fn filled(form: &Path, answer: impl Fn(&HashMap<String, String>) -> [String; 2]) -> Vec<u8> {
    let text = fs::read_to_string(form).unwrap();
    fs::write(form, text.trim_start_matches('\u{feff}')).unwrap();
    let mut lines: Vec<String> = rows(form)
        .iter()
        .map(|row| {
            let [answer, correct] = answer(row);
            let cells =
                ["number", "sheet", "field", "value", "question"].map(|name| row[name].clone());
            let mut cells = cells.to_vec();
            cells.extend([answer, correct, "seen by me".to_owned()]);
            let quoted = cells
                .iter()
                .map(|cell| format!("\"{}\"", cell.replace('"', "\"\"")));
            quoted.collect::<Vec<_>>().join(";")
        })
        .collect();
    lines.reverse();
    lines.insert(
        0,
        "number;sheet;field;value;question;answer;correct value;notes".to_owned(),
    );
    let text = lines.join("\r\n") + "\r\n";
    // Every letter of these forms has the same number in Unicode.
    text.chars()
        .map(|c| u8::try_from(u32::from(c)).unwrap())
        .collect()
}

#[test]
fn the_bulk_waits_until_the_client_has_approved_a_sample_keyed_blind() {
    let (folder, job) = drawn_job(4, "default");
    let file = job.join("job.toml");
    let text = fs::read_to_string(&file).unwrap();
    let refused = format!("{text}\n[proof]\nbulk = \"refused\"\n[scans]\nfolder = \"sheets\"\n");
    fs::write(&file, refused).unwrap();
    let path = job.to_str().unwrap();
    let not_approved = "the client has not approved a proof";

    // Nothing goes before.
    let mut bulk = desk(&job, &[]);
    assert_eq!(bulk.ends(), 2);
    bulk.shows(&[not_approved]);
    headword(["deliver", path, "--dry-run"])
        .exits(1)
        .says(&[not_approved]);
    headword(["check", path])
        .exits(1)
        .says(&["client-approval", not_approved]);
    proof(&job, &[])
        .exits(0)
        .says(&["no sample is drawn", "--draw"]);
    let mut none = desk(&job, &["--proof"]);
    assert_eq!(none.ends(), 2);
    none.shows(&["drawn for the proof, found none"]);

    // Drawn, once.
    let drawn = proof(&job, &["--draw", "2", "--as", "ann", "--json"])
        .exits(0)
        .json();
    let sample: Vec<String> = serde_json::from_value(drawn["sheets"].clone()).unwrap();
    assert_eq!((sample.len(), drawn["of"].as_u64()), (2, Some(4)));
    proof(&job, &["--draw", "2", "--as", "ann"])
        .exits(0)
        .says(&["are the sample already"]);
    proof(&job, &["--draw", "3", "--as", "ann"])
        .exits(2)
        .says(&["proves nothing", "--despite"]);

    // Keyed blind: these sheets alone, with nothing filled in.
    let truth = truth(&job);
    let mut blind = desk(&job, &["--proof"]);
    for (done, sheet) in sample.iter().enumerate() {
        let place = truth.iter().position(|(name, _)| name == sheet).unwrap();
        let (_, values) = &truth[place];
        blind.shows(&[
            &format!("{} of 4", place + 1),
            &format!("{done} keyed"),
            "surname",
        ]);
        assert!(!blind.text().contains(&values[2]), "{}", blind.text());
        key_blind(&mut blind, values);
    }
    assert_eq!(blind.ends(), 0);
    blind.shows(&["of 2 sheets drawn 2 are keyed"]);
    let other = truth
        .iter()
        .find(|(name, _)| !sample.contains(name))
        .unwrap();
    let mut elsewhere = desk(&job, &["--proof", "--sheet", &other.0]);
    assert_eq!(elsewhere.ends(), 2);
    elsewhere.shows(&["one of the sheets drawn for the proof"]);
    let state = proof(&job, &["--json"]).json();
    assert_eq!(state["rehearsal"]["sheets"]["of"], 2);
    assert!(state["keystrokes_a_sheet"].as_f64().unwrap() >= 1.0);

    // The page, the form beside it, and a client who finds one value wrong.
    let page = folder.path().join("page.html");
    let form = folder.path().join("page.csv");
    proof(&job, &["--approve", "--by", "J. Doe", "--as", "ann"])
        .exits(2)
        .says(&["no page yet"]);
    proof(&job, &["--page", page.to_str().unwrap(), "--as", "ann"]).exits(0);
    is_self_contained(&page);
    let html = fs::read_to_string(&page).unwrap();
    for present in [
        "<caption>",
        "scope=\"col\"",
        "scope=\"row\"",
        "in your list",
    ] {
        assert!(html.contains(present), "{present}");
    }
    assert!(page.with_extension("xlsx").is_file());
    let wrong = &sample[0];
    let answers = filled(&form, |row| {
        let [answer, correct] = match (&row["sheet"] == wrong, row["field"].as_str()) {
            (true, "surname") if row["question"].is_empty() => ["No", "ÅBERG"],
            (_, "whole sheet") => ["YES", ""],
            (..) if !row["question"].is_empty() => ["As on the strip", ""],
            _ => ["", ""],
        };
        [answer.to_owned(), correct.to_owned()]
    });
    let back = folder.path().join("from client.csv");
    fs::write(&back, answers).unwrap();
    let read = proof(&job, &["--answers", back.to_str().unwrap(), "--as", "ann"]);
    read.exits(1).says(&["1 wrong", "right is ÅBERG"]);
    proof(&job, &["--approve", "--by", "J. Doe", "--as", "ann"])
        .exits(2)
        .says(&["was not recorded", "ÅBERG"]);
    headword(["history", path, wrong])
        .exits(0)
        .says(&["the client, asked \"surname: ", "ÅBERG"]);
    headword(["check", path])
        .exits(1)
        .says(&["client-says-wrong"]);

    // Put right as the client said, in the same way.
    let mut again = desk(&job, &["--proof", "--sheet", wrong]);
    again.shows(&["surname", "the client, asked"]);
    for _ in 0..10 {
        if again.cursor_row().contains("surname") {
            break;
        }
        again.press("\t");
    }
    again.press("\x15ÅBERG");
    again.press("\r");
    again.press("\x19");
    for _ in 0..4 {
        if again.text().contains("in this sitting") {
            break;
        }
        again.press("\r");
    }
    assert_eq!(again.ends(), 0);
    proof(&job, &[]).says(&["0 wrong and standing, ", "--approve --by NAME"]);
    // Rules that came after the page say the same of the sample, but nobody knows what of the others.
    let rules = job.join("rules/personnel.toml");
    let text = fs::read_to_string(&rules).unwrap();
    fs::write(&rules, format!("{text}\n# mended\n")).unwrap();
    proof(&job, &["--approve", "--by", "J. Doe", "--as", "ann"])
        .exits(2)
        .says(&["the page was of other rules than now; write a new page"]);
    proof(&job, &[]).says(&["next: ", "--page FILE.html`, for what changed since"]);
    fs::write(&rules, text).unwrap();
    proof(&job, &["--approve", "--by", "J. Doe", "--as", "ann"])
        .exits(0)
        .says(&["J. Doe approved"]);

    // The bulk goes on, until rules, roster or naming change.
    let mut bulk = desk(&job, &[]);
    bulk.shows(&["of 4", "2 keyed"]);
    bulk.press("\x1bq");
    assert_eq!(bulk.ends(), 0);
    let run = headword(["deliver", path, "--dry-run", "--incomplete"]);
    assert!(!run.out.contains("approved"), "{run:#?}");
    let naming = fs::read_to_string(&file)
        .unwrap()
        .replacen("pattern = \"", "pattern = \"x", 1);
    fs::write(&file, naming).unwrap();
    proof(&job, &[]).says(&["stale: naming changed since"]);
    let mut bulk = desk(&job, &[]);
    assert_eq!(bulk.ends(), 2);
    bulk.shows(&["was of other naming"]);
    // The names are other ones, and have to be seen again; or somebody says why not.
    let despite = [
        "--approve",
        "--by",
        "J. Doe",
        "--as",
        "ann",
        "--despite",
        "told by telephone",
    ];
    proof(&job, &despite[..5]).exits(2).says(&[
        "of other naming than now",
        "not asked yet",
        "file name",
    ]);
    proof(&job, &despite).exits(0).says(&[
        "J. Doe approved",
        "changed since the approval before: naming",
    ]);
    proof(&job, &[]).says(&["despite", "told by telephone"]);
}

#[test]
fn a_question_about_any_sheet_goes_the_same_way() {
    let (folder, job) = drawn_job(3, "default");
    let page = folder.path().join("questions.html");
    let form = folder.path().join("questions.csv");
    let to_page = [
        "--page",
        page.to_str().unwrap(),
        "--questions",
        "--as",
        "ann",
    ];
    proof(&job, &to_page)
        .exits(2)
        .says(&["found none", "--ask"]);
    proof(&job, &["--ask", "jacket-00002", "--as", "ann"])
        .exits(2)
        .says(&["a sheet, `=` and a question"]);
    proof(&job, &["--ask", "jacket-9=Who?", "--as", "ann"])
        .exits(2)
        .says(&["the nearest are"]);
    let asked = "jacket-00002=Is <b>this</b> \"ours\"?";
    proof(&job, &["--ask", asked, "--as", "ann"])
        .exits(0)
        .says(&["to be asked about jacket-00002"]);
    proof(&job, &to_page)
        .exits(0)
        .says(&["1 sheet, 0 values, 1 question"]);
    is_self_contained(&page);
    let html = fs::read_to_string(&page).unwrap();
    assert!(
        html.contains("Is &lt;b&gt;this&lt;/b&gt; &quot;ours&quot;?") && !html.contains("<b>this")
    );

    // Forms that nobody touched give way to new ones; others do not, whatever is in them, before they are read.
    proof(&job, &to_page).exits(0);
    let workbook = form.with_extension("xlsx");
    for (file, content) in [
        (&workbook, &b"PK\x03\x04 filled in"[..]),
        (&form, b"PK\x03\x04 saved under a wrong name"),
        (&form, b"No.;reply\r\n1;yes\r\n"),
        (&form, b"number,answer\r\n99,yes\r\n"),
        (&form, b"number,answer,notes\r\n1,,please call\r\n"),
    ] {
        let written = fs::read(file).unwrap();
        fs::write(file, content).unwrap();
        let name = file.file_name().unwrap().to_str().unwrap();
        proof(&job, &to_page)
            .exits(2)
            .says(&[name, "keep it elsewhere"]);
        assert_eq!(fs::read(file).unwrap(), content);
        fs::write(file, written).unwrap();
    }
    let answers = filled(&form, |_| ["=Yes, of 1952".to_owned(), String::new()]);
    fs::write(&form, &answers).unwrap();
    proof(&job, &to_page)
        .exits(2)
        .says(&["with answers perhaps; read it"]);
    let read = ["--answers", form.to_str().unwrap(), "--as", "ann"];
    proof(&job, &read)
        .exits(0)
        .says(&["1 answer taken: 0 right, 0 wrong, 1 to questions"]);
    proof(&job, &read).exits(0).says(&["was read before"]);
    proof(&job, &to_page).exits(2).says(&["found none"]);
    let path = job.to_str().unwrap();
    headword(["history", path, "jacket-00002"])
        .exits(0)
        .says(&["of 1952"]);
    // Whoever opens the sheet is told.
    let mut desk = desk(&job, &["--sheet", "jacket-00002"]);
    desk.shows(&["2 of 3", "the client, asked"]);
    desk.press("\x1bq");
    assert_eq!(desk.ends(), 0);
    // A file that was read in part gives way when the rest was taken too.
    let another = ["--ask", "jacket-00003=And this?", "--as", "ann"];
    proof(&job, &another).exits(0);
    let in_part = [&answers[..], b"99;;;;;yes;;\r\n"].concat();
    fs::write(&form, in_part).unwrap();
    proof(&job, &read)
        .exits(1)
        .says(&["1 answer taken", "not taken: 1"]);
    proof(&job, &to_page).exits(2).says(&["keep it elsewhere"]);
    fs::write(&form, answers).unwrap();
    proof(&job, &to_page).exits(0);
    fs::write(&form, b"PK\x03\x04").unwrap();
    proof(&job, &read).exits(2).says(&["save it as CSV"]);
    proof(&job, &["--answers", "nowhere.csv", "--as", "ann"])
        .exits(2)
        .says(&["check the path"]);
}
