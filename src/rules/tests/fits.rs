//! Which rule fits, and what it takes out.

use super::{book, explain, extract, personnel, reading, value};
use crate::reading::{Alternative, Reading};
use crate::rules::{Candidate, Extraction, RuleBook};

/// How sure the reader of these cases claims to be.
const CERTAINTY: f64 = 0.97;

/// Checks that the best extraction has these values: `field=value` separated by `|`.
fn check(book: &RuleBook, text: &str, expected: &str) {
    check_reading(book, &reading(text, CERTAINTY), expected);
}

fn check_reading(book: &RuleBook, reading: &Reading, expected: &str) {
    let text = reading.text();
    let extractions = extract(book, reading);
    let best = extractions.first();
    let best = best.unwrap_or_else(|| panic!("nothing fits {text:?}"));
    let found: Vec<String> = expected
        .split('|')
        .map(|pair| {
            let field = pair.split('=').next().unwrap();
            format!("{field}={}", value(best, field))
        })
        .collect();
    assert_eq!(found.join("|"), expected, "{text:?}\n{best:#?}");
    for extracted in &best.fields {
        let sum: f64 = extracted
            .candidates
            .iter()
            .map(|c| c.probability.get())
            .sum();
        assert!(sum <= 1.0 + 1e-9, "{} adds up to {sum}", extracted.field);
        let length = reading.lines[extracted.line].positions.len();
        assert!(extracted.positions.end <= length && extracted.positions.start < length);
    }
    let sum: f64 = extractions.iter().map(|e| e.probability.get()).sum();
    assert!(sum <= 1.0 + 1e-9);
}

#[test]
fn every_layout_gives_its_fields_clean_and_noisy() {
    let book = personnel();
    let all = "surname=DALTON|forenames=MARY ANN|number=204517-4|from=1931|to=1958|part=2|parts=3";
    for text in [
        "DALTON, MARY ANN   204517-4   1931-1958   2 OF 3",
        "DALTON, MARY ANN\n204517-4   1931-1958   2 OF 3",
        "204517-4  DALTON MARY ANN  1931 TO 1958  2/3",
        "BOARD NO. 204517-4    SHEET 2 OF 3\nMARY ANN DALTON    SERVED 1931 - 1958",
        // Letters for digits and digits for letters.
        "DALTON, MARY ANN  2O45I7-4  l93I-I9S8  2 0F 3",
        "204517-4  DALT0N MARY ANN  1931 T0 1958  2/3",
        // A lost comma, a lost blank, doubled blanks, blanks round the hyphen.
        "DALTON MARY ANN   204517-4   1931-1958   2 OF 3",
        "DALTON,MARY ANN 204517-4 1931-1958 2 OF 3",
        "DALTON, MARY ANN   204517-4   1931-1958   2 OF3",
        "DALTON,  MARY  ANN   204517-4   1931 - 1958   2  OF  3",
        "BOARD NO 204517-4 SHEET2 OF 3\nMARY ANN DALTON  SERVED 1931-1958",
        // A comma read as a period, a hyphen as a dash.
        "DALTON. MARY ANN   204517–4   1931—1958   2 OF 3",
        // Dirt at both ends and in the middle.
        "| DALTON, MARY ANN   204517-4   1931-1958   2 OF 3 ;",
        "_. DALTON, MARY ANN   204517-4 . 1931-1958   2 OF 3 |]",
        // Two lines read as one, one as two, a line of dirt before, between and behind.
        "DALTON, MARY ANN 204517-4 1931-1958 2 OF 3",
        "BOARD NO. 204517-4 SHEET 2 OF 3 MARY ANN DALTON SERVED 1931 - 1958",
        "204517-4  DALTON MARY ANN\n1931 TO 1958  2/3",
        "~ . -\nDALTON, MARY ANN\n204517-4   1931-1958   2 OF 3",
        "DALTON, MARY ANN\n. . ' _\n204517-4   1931-1958   2 OF 3",
        "DALTON, MARY ANN\n204517-4   1931-1958   2 OF 3\n-- '",
        // A digit that cannot be read: the check character settles it.
        "DALTON, MARY ANN   2045?7-4   1931-1958   2 OF 3",
    ] {
        check(&book, text, all);
    }
}

#[test]
fn names_come_in_many_shapes() {
    let book = personnel();
    let comma = |surname: &str, forenames: &str| {
        let text = format!("{surname}, {forenames}   311046-5   1902-1949   1 OF 1");
        check(
            &book,
            &text,
            &format!("surname={surname}|forenames={forenames}"),
        );
    };
    comma("VAN DER BERG", "J. W.");
    comma("O'HARA", "SEÁN");
    comma("SMYTHE-JONES", "ANNE-MARIE");
    comma("ST. CLAIR", "ROSE");
    comma("DE LA CRUZ", "JOSE MARIA");
    comma("MÜLLER", "JÜRGEN");
    comma("WALKER JR", "SAMUEL");
    comma("McDONALD", "IAN");
    let order = |surname: &str, forenames: &str| {
        let text = format!("311046-5  {surname} {forenames}  1902 TO 1949  1/1");
        let expected = format!("surname={surname}|forenames={forenames}");
        check(&book, &text, &expected);
        let text = format!(
            "BOARD NO. 311046-5   SHEET 1 OF 1\n{forenames} {surname}   SERVED 1902 - 1949"
        );
        check(&book, &text, &expected);
    };
    order("VAN DER BERG", "PIET");
    order("DE LA CRUZ", "MARIA");
    order("MC CARTHY", "ELLEN");
    order("SMYTHE-JONES", "ANNE");
}

#[test]
fn an_ambiguous_split_keeps_its_alternatives() {
    let book = personnel();
    let reading = reading("311046-5  ROSE MARIE HALL  1902 TO 1949  1/1", CERTAINTY);
    let best = &extract(&book, &reading)[0];
    let surname = best.fields.iter().find(|f| f.field == "surname").unwrap();
    let values: Vec<&str> = surname
        .candidates
        .iter()
        .map(|c| c.value.as_str())
        .collect();
    assert_eq!(values[0], "ROSE");
    assert!(values.contains(&"ROSE MARIE"), "{values:?}");
}

#[test]
fn a_year_may_be_short_at_the_end_of_a_range_only() {
    let book = personnel();
    let end = "   204517-4   1931-58   2 OF 3";
    check(&book, &format!("DALTON, MARY{end}"), "from=1931|to=58");
    let reading = reading("DALTON, MARY   204517-4   31-58   2 OF 3", CERTAINTY);
    for extraction in extract(&book, &reading) {
        let from = extraction.fields.iter().find(|f| f.field == "from");
        let sure = from.is_some_and(|f| f.candidates[0].probability.get() > 0.5);
        assert!(!sure, "{extraction:#?}");
    }
}

#[test]
fn alternatives_are_chosen_by_the_check_character() {
    let book = personnel();
    let mut read = reading("DALTON, MARY ANN   204577-4   1931-1958   2 OF 3", 0.98);
    // The reader prefers the wrong digit.
    read.lines[0].positions[23].alternatives =
        vec![Alternative::new('7', 0.6), Alternative::new('1', 0.38)];
    check_reading(&book, &read, "number=204517-4");
    let best = &extract(&book, &read)[0];
    let number = best.fields.iter().find(|f| f.field == "number").unwrap();
    assert_eq!(number.raw, "204577-4");
    assert_eq!(number.candidates[0].check_holds, Some(true));
    assert!(number.candidates[0].probability.get() > 0.9);
    assert_eq!((number.line, number.positions.clone()), (0, 19..27));
}

#[test]
fn a_check_that_does_not_hold_leaves_the_reading_and_says_so() {
    let book = personnel();
    let read = reading("DALTON, MARY ANN   204517-X   1931-1958   2 OF 3", 0.999);
    let best = &extract(&book, &read)[0];
    let number = best.fields.iter().find(|f| f.field == "number").unwrap();
    let own = number
        .candidates
        .iter()
        .find(|c| c.value == "204517-X")
        .unwrap();
    assert_eq!(own.check_holds, Some(false));
    assert!(number.candidates[0].probability.get() < 0.6, "{number:#?}");
}

#[test]
fn several_characters_at_one_position_and_one_over_several() {
    let book = personnel();
    let mut read = reading("BRO?N, IDA   204517-4   1931-1958   2 OF 3", 0.98);
    read.lines[0].positions[3].alternatives =
        vec![Alternative::new("W", 0.55), Alternative::new("VV", 0.44)];
    check_reading(&book, &read, "surname=BROWN");
    check(
        &book,
        "Farmer, Emma   204517-4   1931-1958   2 of 3",
        "surname=Farmer|forenames=Emma",
    );
    check(
        &book,
        "BROVVN, IDA   204517-4   1931-1958   2 OF 3",
        "forenames=IDA",
    );
    let extractions = extract(
        &book,
        &reading("BROVVN, IDA   204517-4   1931-1958   2 OF 3", 0.9),
    );
    let values = &extractions[0].fields[0].candidates;
    assert!(values.iter().any(|c| c.value == "BROWN"), "{values:?}");
}

#[test]
fn a_lost_character_spoils_its_field_only() {
    let book = personnel();
    let read = reading("DALTON, MARY ANN   20457-4   1931-1958   2 OF 3", 0.98);
    let best = &extract(&book, &read)[0];
    assert_eq!(value(best, "surname"), "DALTON");
    assert_eq!(value(best, "to"), "1958");
    let number = best.fields.iter().find(|f| f.field == "number").unwrap();
    // Whatever was lost, the true number is among the candidates, none of them sure.
    assert!(number.candidates[0].probability.get() < 0.5, "{number:#?}");
    let holding = |c: &&Candidate| c.check_holds == Some(true);
    assert!(
        number
            .candidates
            .iter()
            .filter(holding)
            .any(|c| c.value == "204517-4")
    );
    assert!(
        best.tolerated.iter().any(|t| t.contains("number")),
        "{:?}",
        best.tolerated
    );
}

#[test]
fn sheet_checks_weigh_the_values() {
    let book = personnel();
    let mut read = reading("DALTON, MARY   204517-4   1931-1958   8 OF 3", 0.98);
    let at = read.lines[0].positions.len() - 6;
    assert_eq!(read.lines[0].positions[at].best(), "8");
    read.lines[0].positions[at].alternatives =
        vec![Alternative::new('8', 0.6), Alternative::new('3', 0.35)];
    check_reading(&book, &read, "part=3|parts=3");
    // What is clearly typed stays, however odd.
    check(
        &book,
        "DALTON, MARY   204517-4   1931-1958   8 OF 3",
        "part=8|parts=3",
    );
}

#[test]
fn what_is_no_record_gives_nothing() {
    let book = personnel();
    for text in [
        "",
        "   ",
        ".",
        "| . _ ~ -- '",
        "HARBOUR BOARD",
        "PERSONNEL RECORDS 1931-1958",
        "TARGET 4 RESOLUTION CHART 24X",
        "DALTON, MARY ANN",
        "204517-4",
        "SEE ALSO 204517-4",
        "DALTON, MARY ANN SEE SMITH, MARY ANN",
        "START OF DRAWER 12\nDALE - DUNN",
        "THE QUICK BROWN FOX JUMPS OVER THE LAZY DOG 1 OF 3",
        "Il1|; .,~ -_ 00 OO QQ 8B8B 5S5S ]][[ {} rn m rn m",
        "DRAWING 4471-B   PUMP HOUSE, NORTH PIER   SCALE 1/50",
        "7 7 7 7 7 7 7 7 7 7 7 7 7 7 7 7 7 7 7 7 7 7 7 7 7 7",
        "INVOICE 1931-204517   TO THE BOARD   2 OF 3   14/10",
        "a\u{1b}[31mb\u{202e}c\u{0}d",
    ] {
        let extractions = extract(&book, &reading(text, CERTAINTY));
        assert!(extractions.is_empty(), "{text:?}: {extractions:#?}");
    }
    assert!(extract(&book, &Reading::default()).is_empty());
}

#[test]
fn the_most_specific_rule_wins() {
    let book = book(
        r#"
        [[field]]
        name = "title"
        kind = "text"
        [[field]]
        name = "sheet"
        kind = "code"
        pattern = '[A-Z]\d{3}'
        [[field]]
        name = "trade"
        kind = "choice"
        words = ["Pilot", "Lock keeper", "Clerk"]
        [[rule]]
        name = "anything, sheet"
        line = "{title} {sheet}"
        [[rule]]
        name = "trade, sheet"
        line = "{trade} {sheet}"
        [[rule]]
        name = "drawing"
        line = "DRAWING[ NO.] {sheet}[ - {title}]"
        "#,
    );
    let rule = |text: &str| {
        let found = extract(&book, &reading(text, CERTAINTY));
        found.first().map(|e| e.rule.clone()).unwrap_or_default()
    };
    assert_eq!(rule("DRAWING NO. B117"), "drawing");
    assert_eq!(rule("DRAWING B117 - PUMP HOUSE"), "drawing");
    assert_eq!(rule("LOCK KEEPER B117"), "trade, sheet");
    assert_eq!(rule("PUMP HOUSE B117"), "anything, sheet");
    check(&book, "LOCK KEEPFR 8117", "trade=Lock keeper|sheet=B117");
    check(
        &book,
        "DRAWING NO. B117 - PUMP HOUSE",
        "sheet=B117|title=PUMP HOUSE",
    );
}

#[test]
fn a_range_of_years_may_be_one_field() {
    let book = book(
        r#"
        [[field]]
        name = "years"
        kind = "date-range"
        [[field]]
        name = "place"
        kind = "text"
        [[rule]]
        name = "all"
        line = "LOGS {years}, {place}"
        "#,
    );
    check(
        &book,
        "LOGS 1931-58, NORTH PIER",
        "years=1931-58|place=NORTH PIER",
    );
    check(
        &book,
        "LOGS 1931 TO 1958, EAST",
        "years=1931 TO 1958|place=EAST",
    );
}

#[test]
fn an_explanation_says_what_was_taken_and_why_not() {
    let book = personnel();
    let read = reading("DALTON MARY ANN   2O4517-4   1931-1958   2 OF 3", CERTAINTY);
    let names: Vec<String> = book.rules().map(str::to_owned).collect();
    let chosen = explain(&book, &read, &names[0]).unwrap();
    assert!(chosen.chosen);
    let shown = chosen.to_string();
    for expected in [
        "`DALTON`",
        "`204517-4`",
        "check holds",
        "read as `2O4517-4`",
        "`,` is missing after surname",
        "`O` stands for `0` in number",
        "fits, with probability",
    ] {
        assert!(shown.contains(expected), "{expected} not in\n{shown}");
    }
    for other in &names[1..] {
        let explanation = explain(&book, &read, other).unwrap();
        assert!(
            !explanation.chosen && !explanation.verdict.is_empty(),
            "{explanation}"
        );
    }
    let junk = explain(&book, &reading("HARBOUR", CERTAINTY), &names[0]).unwrap();
    assert!(junk.verdict.starts_with("does not fit"), "{junk}");
    let other = reading("DALTON, MARY ANN   MERCHANT NAVY", CERTAINTY);
    let broken = explain(&book, &other, &names[0]).unwrap();
    let expected = "does not fit: behind a blank expected number (code), found `MERCHANT NAV`";
    assert!(broken.verdict.starts_with(expected), "{broken}");
    assert!(explain(&book, &read, "no such rule").is_none());
    let hostile = explain(&book, &reading("a\u{1b}[31m", CERTAINTY), &names[0]).unwrap();
    assert!(!hostile.to_string().contains('\u{1b}'));
}

/// The best extraction and how probable its rule is.
fn best(book: &RuleBook, text: &str) -> Extraction {
    let extractions = extract(book, &reading(text, CERTAINTY));
    extractions
        .into_iter()
        .next()
        .unwrap_or_else(|| panic!("nothing fits {text:?}"))
}

#[test]
fn a_strip_that_ends_early_gives_what_it_has() {
    let book = personnel();
    for text in [
        "DALTON, MARY ANN   204517-4   1931-1958",
        "DALTON, MARY ANN\n204517-4   1931-1958",
        "204517-4  DALTON MARY ANN  1931 TO 1958",
    ] {
        check(
            &book,
            text,
            "surname=DALTON|forenames=MARY ANN|number=204517-4|from=1931|to=1958",
        );
        let best = best(&book, text);
        assert_eq!(best.fields.len(), 5, "{best:#?}");
        assert!(
            best.tolerated
                .contains(&"nothing was read of parts".to_owned())
        );
    }
    let text = "BOARD NO. 204517-4    SHEET 2 OF 3";
    check(&book, text, "number=204517-4|part=2|parts=3|surname=|from=");
    let text = "DALTON, MARY ANN   1931-1958   2 OF 3";
    check(&book, text, "surname=DALTON|number=|from=1931|parts=3");
}

#[test]
fn another_layout_is_not_taken_for_sure() {
    let book = personnel();
    for text in [
        "MARY ANN DALTON, 204517-4, 1931-1958, 2 OF 3",
        "DALTON, MARY ANN   204517-4   PENSIONER   2 OF 3",
        "NAME: DALTON, MARY ANN   NO: 204517-4   YEARS: 1931-1958   SHEET: 2 OF 3",
        "MARY ANN DALTON    SERVED 1931 - 1958",
        "204517-4 DALTON MARY ANN 1931-1958 2 OF 3",
        "2 OF 3 204517-4 DALTON, MARY ANN 1931-1958",
    ] {
        for extraction in extract(&book, &reading(text, CERTAINTY)) {
            assert!(
                extraction.probability.get() < 0.8,
                "{text:?}: {extraction:#?}"
            );
        }
    }
}

#[test]
fn hostile_readings_do_no_harm() {
    let book = personnel();
    let start = std::time::Instant::now();
    let odd = [
        "",
        "X",
        "12345678901234567890",
        "\u{0}",
        "\n",
        "é\u{301}",
        "\u{1f600}",
        " ",
    ];
    let position = |at: usize| {
        let mut position = reading("1", 0.5).lines[0].positions[0].clone();
        position.alternatives = (0..at % 5)
            .map(|n| Alternative::new(odd[(at + n) % odd.len()], [0.0, 1.0, f64::NAN, 0.3][n % 4]))
            .collect();
        position
    };
    let mut read = reading("DALTON, MARY\n\n204517-4", CERTAINTY);
    read.lines[0].positions.extend((0..400).map(position));
    read.lines[2].positions.extend((0..300).map(position));
    extract(&book, &read);
    for rule in book.rules() {
        assert!(!explain(&book, &read, rule).unwrap().to_string().is_empty());
    }
    let endless = reading(&"DALTON, MARY 204517-4 ".repeat(2_000), CERTAINTY);
    assert!(extract(&book, &endless).is_empty());
    let many_lines = reading(&"DALTON, MARY 204517-4\n".repeat(50), CERTAINTY);
    extract(&book, &many_lines);
    let took = start.elapsed();
    assert!(took < std::time::Duration::from_secs(4), "{took:?}");
}
