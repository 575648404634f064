//! Faulty and hostile rule files.

use crate::rules::{FAULTS_SHOWN, RuleBook, Styles};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::time::{Duration, Instant};

const FIELD: &str = "[[field]]\nname = \"number\"\nkind = \"code\"\n";
const RULE: &str = "[[rule]]\nname = \"r\"\nline = \"{number}\"\n";

/// Checks that a file has exactly these faults: (line, column, a piece of the message).
fn check(text: &str, expected: &[(usize, usize, &str)]) {
    let faults = match RuleBook::parse("f.toml", text) {
        Ok(_) => panic!("no fault in\n{text}"),
        Err(faults) => faults.faults,
    };
    let places: Vec<_> = faults.iter().map(|f| (f.line, f.column)).collect();
    let wanted: Vec<_> = expected
        .iter()
        .map(|&(line, column, _)| (line, column))
        .collect();
    let shown: Vec<String> = faults.iter().map(ToString::to_string).collect();
    assert_eq!(places, wanted, "{}\nin\n{text}", shown.join("\n"));
    for (shown, (.., piece)) in shown.iter().zip(expected) {
        assert!(shown.contains(piece), "{piece:?} not in {shown:?}");
    }
}

#[test]
fn every_kind_of_fault_has_its_place() {
    let field = |lines: &str| format!("{FIELD}{lines}\n{RULE}");
    let rule = |line: &str| format!("{FIELD}[[rule]]\nname = \"r\"\n{line}\n");
    // Of the file.
    check("", &[(1, 1, "at least one [[rule]]")]);
    check(
        &format!("{FIELD}{RULE}[[rulle]]\nname = \"x\"\n"),
        &[(7, 3, "Write [[rule]]")],
    );
    check(
        &format!("{FIELD}{RULE}title = \"x\" y\n"),
        &[(7, 13, "TOML")],
    );
    check(
        &format!("[field]\nname = \"number\"\nkind = \"code\"\n{RULE}"),
        &[(1, 2, "double brackets"), (6, 10, "`number`")],
    );
    check(
        &format!("{RULE}colour = 3\n"),
        &[(3, 10, "number"), (4, 1, "one of the keys of a rule")],
    );
    // Of a field.
    check(&field("patern = 'x'"), &[(4, 1, "Write `pattern`")]);
    check(&field("pattern = 3"), &[(4, 11, "text in quotes")]);
    check(&field("pattern = 'AB(\\d'"), &[(4, 14, "regex")]);
    check(&field("pattern = '\\bx'"), &[(4, 12, "Leave them out")]);
    check(
        &field("pattern = '\\d*'"),
        &[(4, 12, "at least one character")],
    );
    check(
        &field("check = \"iso7064-mod-11\""),
        &[(4, 9, "iso7064-mod-11-2")],
    );
    check(&field("required = \"yes\""), &[(4, 12, "true or false")]);
    check(&field("max = 4"), &[(4, 1, "`number` or `year`")]);
    check(
        &format!("[[field]]\nname = \"number\"\nkind = \"numbr\"\n{RULE}"),
        &[(3, 8, "Write \"number\"")],
    );
    check(
        &format!("[[field]]\nname = \"number\"\n{RULE}"),
        &[(1, 1, "`kind`")],
    );
    check(
        &format!("[[field]]\nname = \"number\"\nkind = \"number\"\nmin = 9\nmax = 3\n{RULE}"),
        &[(5, 1, "min 9, max 3")],
    );
    check(
        &format!("[[field]]\nname = \"number\"\nkind = \"number\"\nmax = \"9\"\n{RULE}"),
        &[(4, 7, "whole number")],
    );
    check(
        &format!("[[field]]\nname = \"number\"\nkind = \"year\"\nmax = -1\n{RULE}"),
        &[(4, 7, "whole number")],
    );
    check(
        &format!("[[field]]\nname = \"number\"\nkind = \"choice\"\n{RULE}"),
        &[(1, 1, "`words`")],
    );
    check(
        &format!("[[field]]\nname = \"number\"\nkind = \"choice\"\nwords = [\"A\", 3]\n{RULE}"),
        &[(4, 15, "text in quotes")],
    );
    check(
        &format!(
            "[[field]]\nname = \"number\"\nkind = \"year\"\ncheck = \"iso7064-mod-11-2\"\n{RULE}"
        ),
        &[(4, 9, "only in a field of kind `code`")],
    );
    check(&format!("{FIELD}{FIELD}{RULE}"), &[(5, 8, "second time")]);
    check(
        &format!("[[field]]\nname = \"a b\"\nkind = \"code\"\n{FIELD}{RULE}"),
        &[(2, 8, "letters, digits")],
    );
    // Of a rule.
    check(&rule("line = \"{numbr}\""), &[(6, 10, "{number}")]);
    check(&rule("line = \"{zzz} {number}\""), &[(6, 10, "Declare it")]);
    check(
        &rule("line = \"NO {number\""),
        &[(6, 12, "Close the brace")],
    );
    check(&rule("line = \"{number}}\""), &[(6, 17, "`}}`")]);
    check(
        &rule("line = \"{number} [x\""),
        &[(6, 18, "Close the bracket")],
    );
    check(
        &rule("line = \"{number} {number}\""),
        &[(6, 19, "second time")],
    );
    check(&rule("line = \"WORDS\""), &[(6, 8, "at least one slot")]);
    check(&rule("line = \"[{number}]\""), &[(6, 9, "always there")]);
    check(&rule("line = \"\""), &[(6, 8, "empty text")]);
    check(&rule("lines = []"), &[(6, 9, "empty list")]);
    check(
        &rule("line = \"{number}\"\nlines = [\"{number}\"]"),
        &[(7, 1, "both")],
    );
    check(&rule(""), &[(4, 1, "`line`")]);
    check(
        &rule("line = \"{number}\"\nlin = 1"),
        &[(7, 1, "Write `line`")],
    );
    check(&format!("{FIELD}{RULE}{RULE}"), &[(8, 8, "second time")]);
    check(
        &format!("{FIELD}[[rule]]\nline = \"{{number}}\"\n"),
        &[(4, 1, "`name`")],
    );
    // Of a check.
    let sheet_check = |that: &str| format!("{FIELD}{RULE}[[check]]\nthat = \"{that}\"\n");
    check(&sheet_check("number"), &[(8, 9, "comparison")]);
    check(
        &sheet_check("number <= nomber"),
        &[(8, 19, "Write `number`")],
    );
    check(&sheet_check("1 <= 2"), &[(8, 9, "at least one field")]);
    check(&sheet_check("<= number"), &[(8, 9, "nothing")]);
}

#[test]
fn all_faults_come_at_once_with_columns_in_characters() {
    let text = "[[field]]\nname = \"é\"\nkynd = \"code\" # é\nkind = 'cod'\n\
                [[rule]]\nname = \"r\"\nline = \"éé {é} {f}\"\nbroken = = 3\n[[check]]\nthat = 3\n";
    let faults = RuleBook::parse("f.toml", text).unwrap_err();
    let places: Vec<_> = faults.faults.iter().map(|f| (f.line, f.column)).collect();
    assert_eq!(
        places,
        [(3, 1), (4, 8), (7, 17), (8, 10), (10, 8)],
        "{faults}"
    );
}

#[test]
fn files_share_their_fields_and_name_their_faults() {
    let book = RuleBook::parse_all(
        &[("rules.toml", RULE), ("fields.toml", FIELD)],
        &Styles::default(),
    )
    .unwrap();
    assert_eq!(book.rules().collect::<Vec<_>>(), ["r"]);
    assert_eq!(book.fields()[0].name, "number");
    let faults = RuleBook::parse_all(
        &[("a.toml", FIELD), ("b.toml", "x = 1\n[[rule]]\n")],
        &Styles::default(),
    );
    let faults = faults.unwrap_err().faults;
    assert!(faults.iter().all(|f| f.file == "b.toml"));
    assert_eq!(faults.len(), 3, "{faults:?}");
}

#[test]
fn the_hash_follows_the_text() {
    let hash = |files: &[(&str, &str)]| {
        RuleBook::parse_all(files, &Styles::default())
            .unwrap()
            .hash()
            .to_owned()
    };
    let both = format!("{FIELD}{RULE}");
    assert_eq!(hash(&[("a", &both)]), hash(&[("b", &both)]));
    assert_ne!(hash(&[("a", &both)]), hash(&[("a", &format!("{both} "))]));
    assert_ne!(hash(&[("a", &both)]), hash(&[("a", FIELD), ("b", RULE)]));
}

#[test]
fn hostile_files_are_refused_in_good_time() {
    let start = Instant::now();
    let pattern = |pattern: &str| {
        let text = format!("{FIELD}pattern = '{pattern}'\n{RULE}");
        let faults = RuleBook::parse("f.toml", &text).unwrap_err();
        assert!(faults.faults.iter().all(|f| f.line == 4), "{faults}");
    };
    pattern("((((a{99}){99}){99}){99}){99}");
    pattern("(?:a{1000}){1000}");
    pattern("x{4000000000}");
    pattern(&"(".repeat(3_000));
    pattern(&"a?".repeat(60_000));
    pattern("(?-u:\\xFF)");
    pattern("\\w(?=x)");
    // Many edges: every branch may follow every branch.
    let branches: Vec<String> = (0..600)
        .map(|at| format!("[{}]x", (b'a' + (at % 26) as u8) as char))
        .collect();
    let wide = format!("(?:{}){{1,9}}", branches.join("|"));
    let text = format!("{FIELD}pattern = '{wide}'\n{RULE}");
    assert!(RuleBook::parse("f.toml", &text).is_err());
    // A list as long as a roster.
    let words: Vec<String> = (0..10_000).map(|at| format!("\"WORD{at}\"")).collect();
    let list = format!(
        "[[field]]\nname = \"number\"\nkind = \"choice\"\nwords = [{}]\n{RULE}",
        words.join(",")
    );
    assert!(
        RuleBook::parse("f.toml", &list)
            .unwrap_err()
            .to_string()
            .contains("too large")
    );
    // Ten thousand rules, ten thousand faults, deep nesting, binary rubbish.
    let many: String = (0..10_000)
        .map(|at| format!("[[rule]]\nname = \"r{at}\"\nline = \"{{number}} {at}\"\n"))
        .collect();
    let faults = RuleBook::parse("f.toml", &format!("{FIELD}{many}")).unwrap_err();
    assert!(faults.to_string().contains("at most 500 rules"), "{faults}");
    let faults = RuleBook::parse("f.toml", &"[[rule]]\n".repeat(10_000)).unwrap_err();
    assert_eq!(faults.faults.len(), FAULTS_SHOWN);
    assert!(faults.more > 0);
    assert!(RuleBook::parse("f.toml", &"[".repeat(100_000)).is_err());
    assert!(RuleBook::parse("f.toml", &format!("a = {}", "[".repeat(100_000))).is_err());
    assert!(RuleBook::parse("f.toml", &"= 1\n".repeat(20_000)).is_err());
    assert!(RuleBook::parse("f.toml", &"x".repeat(2_000_000)).is_err());
    let rubbish: String = (0..5_000u32)
        .filter_map(|c| char::from_u32(c * 7 % 0x2fff))
        .collect();
    assert!(RuleBook::parse("f.toml", &rubbish).is_err());
    let took = start.elapsed();
    assert!(took < Duration::from_secs(8), "{took:?}");
}

#[test]
fn damaged_files_give_faults_or_rules_but_never_a_crash() {
    let whole = include_str!("../../../rules/personnel.toml").as_bytes();
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let mut faulty = 0;
    for _ in 0..300 {
        let mut text = whole.to_vec();
        for _ in 0..rng.random_range(1..4) {
            let at = rng.random_range(0..text.len());
            match rng.random_range(0..3) {
                0 => text[at] = rng.random_range(b' '..=b'~'),
                1 => drop(text.remove(at)),
                _ => text.truncate(at.max(1)),
            }
        }
        let text = String::from_utf8_lossy(&text);
        if let Err(faults) = RuleBook::parse("f.toml", &text) {
            faulty += 1;
            let lines = text.lines().count() + 1;
            assert!(
                faults
                    .faults
                    .iter()
                    .all(|f| (1..=lines).contains(&f.line) && f.column > 0)
            );
        }
    }
    assert!(faulty > 20, "{faulty}");
}
