use super::*;
use crate::journal::{AnswersRead, PageWritten, Publication};
use crate::roster::Table;

pub(super) fn sheets(count: usize) -> Vec<SheetId> {
    (0..count)
        .map(|n| SheetId::new(format!("{n}.png")))
        .collect()
}

#[test]
fn a_sample_follows_from_the_seed_and_the_sheets_and_has_every_sheet_alike() {
    let all = sheets(200);
    let sample = draw_proof(&all, 20, 7);
    assert_eq!(sample.sheets.len(), 20);
    assert_eq!(draw_proof(&all, 20, 7), sample);
    assert_ne!(draw_proof(&all, 20, 8).sheets, sample.sheets);
    // A larger one of the same seed holds the smaller.
    let larger = draw_proof(&all, 40, 7);
    assert!(
        sample
            .sheets
            .iter()
            .all(|sheet| larger.sheets.contains(sheet))
    );
    assert_eq!(draw_proof(&all, 900, 7).sheets, all);
    assert_eq!(
        (
            sample.of,
            sample.of_hash == draw_proof(&all[1..], 20, 7).of_hash
        ),
        (200, false)
    );
    // Each sheet is drawn in a tenth of the seeds: binomial, 100 expected of 1,000, standard deviation 9.5.
    let mut drawn = HashMap::new();
    for seed in 0..1_000 {
        for sheet in draw_proof(&all, 20, seed).sheets {
            *drawn.entry(sheet).or_insert(0_u32) += 1;
        }
    }
    assert!(
        drawn.len() == 200 && drawn.values().all(|n| n.abs_diff(100) < 45),
        "{drawn:?}"
    );
}

fn lines(sheet: &str, values: &[(&str, &str)], questions: &[(&str, &str)]) -> SheetLines {
    let owned = |pairs: &[(&str, &str)]| {
        let pairs = pairs.iter();
        pairs
            .map(|(one, other)| ((*one).to_owned(), (*other).to_owned()))
            .collect()
    };
    SheetLines {
        sheet: SheetId::new(sheet),
        values: owned(values),
        questions: owned(questions),
    }
}

/// Puts a page of these sheets to the client.
fn put(proof: &mut Vec<Decision>, sheets: &[SheetLines]) -> Vec<Numbered> {
    let items = Proof::of(proof).numbered(sheets);
    let page = PageWritten {
        is_proof: true,
        items: items.clone(),
        ..PageWritten::default()
    };
    proof.push(Decision::new("ann", 1, Choice::PageWritten(page)));
    items
}

/// Reads a form of these lines; what could not be taken, and what was noticed.
fn answer(proof: &mut Vec<Decision>, form: &str) -> (Vec<String>, Vec<String>) {
    let (table, _) = Table::from_reader(form.as_bytes()).unwrap();
    let read = read_answers(&table, &Proof::of(proof).asked).unwrap();
    let answers = AnswersRead {
        answers: read.answers,
        ..AnswersRead::default()
    };
    proof.push(Decision::new("ann", 2, Choice::AnswersRead(answers)));
    (read.refused, read.noticed)
}

/// One letter a line: `.` not asked, `o` open, `r` right, `w` wrong, `a` answered.
fn stand(proof: &[Decision], sheets: &[SheetLines]) -> String {
    let standing = Proof::of(proof).standing(sheets, &Comparer::default());
    let letter = |(_, standing): &(ProofItem, LineStanding)| match standing {
        LineStanding::NotAsked => '.',
        LineStanding::Open => 'o',
        LineStanding::Right => 'r',
        LineStanding::Wrong(_) => 'w',
        LineStanding::Answered(_) => 'a',
    };
    standing.iter().map(letter).collect()
}

const NAME: (&str, &str) = ("surname", "QUAYIE");
const NUMBER: (&str, &str) = ("number", "007");
const FILE: (&str, &str) = (FILE_NAME, "007_QUAYIE");

#[test]
fn lines_keep_their_numbers_while_they_say_the_same() {
    let mut proof = Vec::new();
    let one = lines("1.png", &[NAME, NUMBER], &[("", "Who is this?")]);
    let two = lines("2.png", &[NAME], &[]);
    let first = put(&mut proof, &[one.clone(), two.clone()]);
    let told: Vec<(u32, &str, &[u32])> = first
        .iter()
        .map(|line| (line.number, line.item.about.as_str(), &line.item.covers[..]))
        .collect();
    assert_eq!(
        told,
        [
            (1, "surname", &[][..]),
            (2, "number", &[]),
            (3, WHOLE_SHEET, &[1, 2]),
            (4, "", &[]),
            (5, "surname", &[])
        ]
    );
    let changed = lines(
        "1.png",
        &[("surname", "QUAYLE"), NUMBER],
        &[("", "Who is this?")],
    );
    let again = put(&mut proof, &[two, changed]);
    let numbers: Vec<u32> = again.iter().map(|line| line.number).collect();
    assert_eq!(numbers, [5, 6, 2, 7, 4]);
    let rows = form_rows(&again, &BTreeMap::new());
    assert_eq!(rows[0], ANSWERS_COLUMNS);
    assert_eq!(rows[2], ["6", "1.png", "surname", "QUAYLE", "", "", ""]);
}

#[test]
fn values_stand_as_the_client_says_until_they_change() {
    let mut proof = Vec::new();
    let one = lines("1.png", &[NAME, NUMBER, FILE], &[("", "Who is this?")]);
    assert_eq!(stand(&proof, std::slice::from_ref(&one)), "....");
    put(&mut proof, std::slice::from_ref(&one));
    assert_eq!(stand(&proof, std::slice::from_ref(&one)), "oooo");
    let header = "number,answer,correct value\n";
    answer(
        &mut proof,
        &format!("{header}1,no,Quayle\n4,yes,\n5,A clerk,\n"),
    );
    // The yes is to the whole sheet, and stands for what has no answer of its own.
    assert_eq!(stand(&proof, std::slice::from_ref(&one)), "wrra");
    // Mended as the client wrote it, and the name of the file with it.
    let mended = lines(
        "1.png",
        &[("surname", "QUAYLE"), NUMBER, (FILE_NAME, "007_QUAYLE")],
        &[],
    );
    assert_eq!(stand(&proof, &[mended]), "rrr");
    // Otherwise than the client wrote it, or where another value changed too.
    let other = lines(
        "1.png",
        &[("surname", "QUALE"), NUMBER, (FILE_NAME, "007_QUALE")],
        &[],
    );
    assert_eq!(stand(&proof, &[other]), ".r.");
    let renumbered = lines(
        "1.png",
        &[("surname", "QUAYLE"), ("number", "008"), (FILE_NAME, "008")],
        &[],
    );
    assert_eq!(stand(&proof, &[renumbered]), "r..");
    // Another pattern of names changes no value: the client has to see the new name.
    let renamed = lines("1.png", &[NAME, NUMBER, (FILE_NAME, "QUAYIE")], &[]);
    assert_eq!(stand(&proof, &[renamed]), "wr.");
    // The last answer counts.
    answer(&mut proof, &format!("{header}1,yes,\n"));
    assert_eq!(stand(&proof, std::slice::from_ref(&one)), "rrra");
    let sheet = SheetId::new("1.png");
    let said = Proof::of(&proof).said_of(&sheet);
    assert_eq!(said, [("Who is this?".to_owned(), "A clerk".to_owned())]);
}

/// A form's rows below the header: how the lines stand then, and what the refusals and notices say.
fn check(rows: &str, stands: &str, says: &[&str]) {
    let mut proof = Vec::new();
    let one = lines("1.png", &[NAME, NUMBER], &[("", "Who is this?")]);
    let two = lines(
        "2.png",
        &[("surname", "=CMD"), ("from", "03/52"), ("place", "Łódź")],
        &[],
    );
    let sheets = [one, two];
    put(&mut proof, &sheets);
    let form = format!("{}\n{rows}", ANSWERS_COLUMNS.join(","));
    let (refused, noticed) = answer(&mut proof, &form);
    assert_eq!(
        stand(&proof, &sheets),
        stands,
        "{rows}\n{refused:#?}\n{noticed:#?}"
    );
    let told = [refused, noticed].concat();
    assert_eq!(told.len(), says.len(), "{rows}\n{told:#?}");
    for (told, says) in told.iter().zip(says) {
        assert!(told.contains(says), "{rows}\n{told}");
    }
}

#[test]
fn a_form_is_read_as_it_comes_back() {
    check("", "oooooo", &[]);
    check("1,1.png,surname,QUAYIE,,yes,\n", "rooooo", &[]);
    check("1,,,,,Y,\n", "rooooo", &[]);
    check("1,1.png,surname,QUAYIE,, Yes. ,\n", "rooooo", &[]);
    check("1,1.png,surname,QUAYIE,,N,QUAYLE\n", "wooooo", &[]);
    check("1,1.png,surname,QUAYIE,,,QUAYLE\n", "wooooo", &[]);
    check("1,1.png,surname,QUAYIE,,,QUAYIE\n", "rooooo", &[]);
    check("1,1.png,surname,QUAYIE,,no,\n", "wooooo", &[]);
    // In any order, with empty rows, twice the same.
    check(
        "4,1.png,,,Who is this?,A clerk,\n,,,,,,\n1,1.png,surname,QUAYIE,,yes,\n1,1.png,surname,QUAYIE,,yes,\n",
        "roaooo",
        &[],
    );
    check(
        "1,1.png,surname,QUAYIE,,yes,\n1,1.png,surname,QUAYIE,,no,\n",
        "oooooo",
        &["another than on line 2; neither"],
    );
    // What an apostrophe kept from being a formula.
    check("5,2.png,surname,'=CMD,,yes,\n", "oooroo", &[]);
    check("5,2.png,surname,=CMD,,no,'=CND\n", "ooowoo", &[]);
    // Whole sheets.
    check("3,1.png,whole sheet,,,yes,\n", "rroooo", &[]);
    check(
        "3,1.png,whole sheet,,,no,\n",
        "oooooo",
        &["ask which value"],
    );
    check(
        "1,,,,,yes,\n2,,,,,yes,\n3,1.png,whole sheet,,,no,\n",
        "rrowooo",
        &["ask which value"],
    );
    check(
        "3,1.png,whole sheet,,,no,\n2,1.png,number,007,,no,\n",
        "owoooo",
        &[],
    );
    check(
        "2,1.png,number,007,,no,008\n3,1.png,whole sheet,,,yes,\n",
        "rwoooo",
        &["expected no, for a value"],
    );
    check(
        "2,1.png,number,007,,maybe,\n3,1.png,whole sheet,,,yes,\n",
        "rooooo",
        &["line 2, column 6 (answer): expected yes or no, found maybe"],
    );
    // What spreadsheets and people do to the cells.
    check(
        "2,1.png,number,7,,yes,\n",
        "oroooo",
        &["dropped the zeros in front"],
    );
    check(
        "2,1.png,number,007,,no,8\n",
        "owoooo",
        &["line 2, column 7 (correct value): expected as many digits as in 007, found 8"],
    );
    check(
        "6,2.png,from,Mar-52,,yes,\n",
        "oooooo",
        &["expected 03/52, found Mar-52; the row is not taken"],
    );
    check(
        "6,2.png,from,Mar-52,,no,04/52\n",
        "oooowo",
        &["expected 03/52, found Mar-52; what stands in `correct value` is taken"],
    );
    check(
        "6,2.png,from,Mar-52,,,\n8,2.png,whole sheet,,,yes,\n",
        "oooror",
        &["found Mar-52"],
    );
    check(
        "1,1.png,surname,QUAYIE,,yes,QUAYLE\n",
        "oooooo",
        &["expected no where another value is right, found yes beside QUAYLE"],
    );
    check(
        "1,1.png,surname,QUAYIE,,no,QUAYIE\n",
        "oooooo",
        &["found the same"],
    );
    // Rows out of step, unknown, or added.
    check(
        "1,2.png,surname,QUAYIE,,yes,\n3,1.png,whole sheet,,,yes,\n",
        "oroooo",
        &["line 2, column 2 (sheet): expected 1.png beside the number 1, found 2.png"],
    );
    check(
        "99,1.png,surname,QUAYIE,,yes,\n",
        "oooooo",
        &["line 2, column 1 (number): expected a number of the form, found 99"],
    );
    check(
        ",,,,,please call,\n",
        "oooooo",
        &["found none; the row is not taken"],
    );
    check("1.5,1.png,surname,QUAYIE,,yes,\n", "oooooo", &["found 1.5"]);
    // An answer to a question in the wrong column.
    check("4,1.png,,,Who is this?,,A clerk\n", "ooaooo", &[]);
    // Letters that the client's encoding lacks.
    check(
        "7,2.png,place,?ód?,,yes,\n",
        "ooooor",
        &["wrote ? for letters"],
    );
    check(
        "7,2.png,place,?ó?k,,yes,\n",
        "oooooo",
        &["the row is not taken"],
    );
}

#[test]
fn an_earlier_yes_to_a_whole_sheet_does_not_speak_for_what_it_left_open() {
    let mut proof = Vec::new();
    let one = [lines("1.png", &[NAME, NUMBER], &[])];
    let items = put(&mut proof, &one);
    let form = format!("{}\n", ANSWERS_COLUMNS.join(","));
    // The first value came back changed, and the yes spoke for the second alone.
    answer(
        &mut proof,
        &format!("{form}1,1.png,surname,QUALE,,,\n3,,,,,yes,\n"),
    );
    assert_eq!(stand(&proof, &one), "or");
    let filled_in = |proof: &[Decision]| -> Vec<String> {
        let rows = form_rows(&items, &Proof::of(proof).answers);
        rows[1..].iter().map(|row| row[5].clone()).collect()
    };
    assert_eq!(filled_in(&proof), ["", "yes", ""]);
    answer(&mut proof, &format!("{form}1,,,,,no,QUAYLE\n"));
    assert_eq!(filled_in(&proof), ["no", "yes", "yes"]);
}

#[test]
fn a_form_without_its_columns_is_told_so() {
    let (table, _) = Table::from_reader(&b"no,reply\n1,yes\n"[..]).unwrap();
    let fault = read_answers(&table, &BTreeMap::new()).unwrap_err();
    assert!(fault.contains("found no, reply"), "{fault}");
    let (table, _) = Table::from_reader(&b"ANSWER,Number,note\nyes,1,x\n"[..]).unwrap();
    assert!(read_answers(&table, &BTreeMap::new()).is_ok());
}

#[test]
fn a_sample_is_one_of_all_sheets_until_rules_are_mended_on_it() {
    let drawn = Decision::new("ann", 1, Choice::ProofDrawn(ProofDrawn::default()));
    let published = Choice::RulesPublished(Publication::default());
    let published = Decision::new("ann", 1, published);
    let mended = |decisions: &[&Decision]| {
        let decisions: Vec<Decision> = decisions.iter().copied().cloned().collect();
        Proof::of(&decisions).is_mended
    };
    assert!(!mended(&[&published]));
    assert!(!mended(&[&published, &drawn]));
    assert!(mended(&[&drawn, &published]));
    assert!(!mended(&[&drawn, &published, &drawn]));
}

#[test]
fn the_client_has_seen_what_the_last_page_with_the_sample_was_of() {
    let written = |rules: &str, is_proof| {
        let versions = Versions {
            rules: rules.to_owned(),
            ..Versions::default()
        };
        let page = PageWritten {
            versions,
            is_proof,
            ..PageWritten::default()
        };
        Decision::new("ann", 1, Choice::PageWritten(page))
    };
    let shown = |decisions: &[Decision]| Proof::of(decisions).shown.map(|shown| shown.rules);
    assert_eq!(shown(&[]), None);
    assert_eq!(shown(&[written("1", false)]), None);
    let pages = [written("1", true), written("2", true), written("3", false)];
    assert_eq!(shown(&pages).as_deref(), Some("2"));
}

#[test]
fn the_bulk_waits_for_an_approval_of_what_is_used() {
    let versions = |rules: &str| Versions {
        rules: rules.to_owned(),
        roster: "r".to_owned(),
        naming: "n".to_owned(),
    };
    let approved = ProofApproved {
        client: "J. Doe".to_owned(),
        versions: versions("1"),
        ..ProofApproved::default()
    };
    let approved = [Decision::new("ann", 1, Choice::ProofApproved(approved))];
    for (decisions, bulk, rules, gate) in [
        (&[][..], Bulk::Free, "1", "open"),
        (
            &[],
            Bulk::Warned,
            "1",
            "warned: the client has not approved",
        ),
        (
            &[],
            Bulk::Refused,
            "1",
            "refused: the client has not approved",
        ),
        (&approved, Bulk::Refused, "1", "open"),
        (
            &approved,
            Bulk::Refused,
            "2",
            "refused: the client's approval, by J. Doe, was of other rules",
        ),
        (
            &approved,
            Bulk::Warned,
            "2",
            "warned: the client's approval",
        ),
        (&approved, Bulk::Free, "2", "open"),
    ] {
        let found = match Proof::of(decisions).gate(bulk, &versions(rules)) {
            Gate::Open => "open".to_owned(),
            Gate::Warned(why) => format!("warned: {why}"),
            Gate::Refused(why) => format!("refused: {why}"),
        };
        assert!(found.starts_with(gate), "{found}");
    }
    let other = Versions {
        rules: "2".to_owned(),
        naming: "m".to_owned(),
        ..versions("1")
    };
    assert_eq!(changed(&versions("1"), &other), "rules and naming");
    assert_eq!(changed(&other, &other), "nothing");
}
