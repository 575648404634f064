use super::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Examples after ISO 7064, ISO 6346 and Luhn from published programs and registries, each row with its source.
const EXAMPLES: &str = include_str!("../../../tests/data/published/check_digit_examples.csv");

/// What python-stdnum 2.2 answers for payloads drawn at random; see the generator beside it.
const STDNUM: &str = include_str!("../../../tests/data/published/stdnum_check_digits.csv");

/// What cdigit 5.0.1 answers in the systems that python-stdnum does not know; see the generator beside it.
const CDIGIT: &str = include_str!("../../../tests/data/published/cdigit_check_characters.csv");

fn named(name: &str) -> CheckScheme {
    CheckScheme::ALL
        .into_iter()
        .find(|scheme| scheme.name() == name)
        .unwrap_or_else(|| panic!("{name}"))
}

fn rows(table: &str) -> impl Iterator<Item = csv::StringRecord> {
    csv::Reader::from_reader(table.as_bytes())
        .into_records()
        .map(|record| record.unwrap())
        .collect::<Vec<_>>()
        .into_iter()
}

#[test]
fn agrees_with_every_published_example() {
    let (mut right, mut wrong) = (0, 0);
    for row in rows(EXAMPLES) {
        let name = row[0]
            .to_lowercase()
            .replace("iso 7064 mod ", "iso7064-mod-");
        let scheme = named(&name.replace(' ', ""));
        let (payload, check, valid) = (&row[1], &row[2], &row[5]);
        // A wrong example is written "CODE -> INVALID".
        let full = row[3].split(" -> ").next().unwrap();
        if valid == "yes" {
            assert_eq!(
                scheme.check_character(payload).as_deref(),
                Some(check),
                "{payload}"
            );
            assert!(scheme.holds(full), "{full}");
            assert!(scheme.holds(&full.to_lowercase()), "{full} in lower case");
            right += 1;
        } else {
            assert!(!scheme.holds(full), "{full}");
            wrong += 1;
        }
    }
    assert_eq!((right, wrong), (20, 3), "rows of the table");
}

/// Codes of ten digits, thirteen digits, a Danish and a United States register, whose schemes are weighted sums.
fn weighted(name: &str) -> CheckScheme {
    let scheme = |weights: &[u32], modulus, characters| {
        Weighted::new(weights.to_vec(), modulus, characters).unwrap()
    };
    CheckScheme::Weighted(match name {
        "isbn10" => scheme(&[2, 3, 4, 5, 6, 7, 8, 9, 10], 11, "0123456789X").complemented(),
        "issn" => {
            let remainder = scheme(&[8, 7, 6, 5, 4, 3, 2], 11, "0123456789x");
            remainder.from_left().complemented()
        }
        "ean" => scheme(&[3, 1], 10, DIGITS).complemented(),
        "us.rtn" => scheme(&[3, 7, 1], 10, DIGITS).from_left().complemented(),
        // Powers of ten modulo 23 from the right, the remainder written as a letter.
        "es.dni" => {
            let weights = [1, 10, 8, 11, 18, 19, 6, 14];
            scheme(&weights, 23, "TRWAGMYFPDXBNJZSQVHLCKE")
        }
        _ => panic!("{name}"),
    })
}

#[test]
fn agrees_with_other_programs() {
    let mut count = 0;
    for row in rows(STDNUM).chain(rows(CDIGIT)) {
        let scheme = CheckScheme::ALL
            .into_iter()
            .find(|scheme| scheme.name() == &row[0])
            .unwrap_or_else(|| weighted(&row[0]));
        let check = scheme.check_character(&row[1]);
        assert_eq!(check.as_deref(), Some(&row[2]), "{row:?}");
        assert!(scheme.holds(&format!("{}{}", &row[1], &row[2])), "{row:?}");
        count += 1;
    }
    assert_eq!(count, 560 + 120);
}

const DIGITS: &str = "0123456789";
const LETTERS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
const SAMPLES: usize = 300;

/// Payloads of every scheme, and the classes of characters that are exchanged for each other.
fn samples() -> Vec<(CheckScheme, Vec<String>, Vec<&'static str>)> {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let mut samples = Vec::new();
    for scheme in CheckScheme::ALL {
        let classes = match scheme {
            CheckScheme::Iso7064Mod661_26 | CheckScheme::Iso7064Mod27_26 => vec![LETTERS],
            CheckScheme::Iso7064Mod37_2
            | CheckScheme::Iso7064Mod37_36
            | CheckScheme::Iso7064Mod1271_36 => {
                vec!["0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"]
            }
            CheckScheme::Iso6346 => vec![LETTERS, DIGITS],
            _ => vec![DIGITS],
        };
        let alphabet: Vec<char> = classes[0].chars().collect();
        let payloads = (0..SAMPLES).map(|serial| {
            if scheme == CheckScheme::Iso6346 {
                return format!("CSQU{:06}", serial * 3_313);
            }
            (0..8)
                .map(|_| alphabet[random.random_range(0..alphabet.len())])
                .collect()
        });
        let payloads = payloads.collect();
        samples.push((scheme, payloads, classes));
    }
    for name in ["isbn10", "issn", "ean", "us.rtn", "es.dni"] {
        let payloads = (0..SAMPLES).map(|seed| format!("{:07}", seed * 33_113));
        samples.push((weighted(name), payloads.collect(), vec![DIGITS]));
    }
    samples
}

/// What a scheme claims to notice is tried on every place of many codes; what it does not claim does pass somewhere.
#[test]
fn notices_what_it_claims_and_no_more() {
    for (scheme, payloads, classes) in samples() {
        let (mut substituted, mut swapped) = (true, true);
        for payload in payloads {
            let Some(check) = scheme.check_character(&payload) else {
                continue;
            };
            let code: Vec<char> = format!("{payload}{check}").chars().collect();
            for at in 0..code.len() {
                let class = classes.iter().find(|class| class.contains(code[at]));
                for c in class
                    .into_iter()
                    .flat_map(|class| class.chars())
                    .filter(|&c| c != code[at])
                {
                    let mut changed = code.clone();
                    changed[at] = c;
                    substituted &= !scheme.holds(&changed.iter().collect::<String>());
                }
                if at > 0 && code[at] != code[at - 1] {
                    let mut changed = code.clone();
                    changed.swap(at, at - 1);
                    swapped &= !scheme.holds(&changed.iter().collect::<String>());
                }
            }
        }
        let detects = scheme.detects();
        assert_eq!(
            (detects.substitutions, detects.swaps),
            (substituted, swapped),
            "{scheme:?}"
        );
    }
}

/// The chance of a random code is measured over all check characters of many payloads.
#[test]
fn one_random_code_in_so_many_holds() {
    for (scheme, payloads, classes) in samples() {
        let mut written: Vec<String> = match scheme {
            CheckScheme::Iso7064Mod11_2 => (DIGITS.to_owned() + "X")
                .chars()
                .map(String::from)
                .collect(),
            CheckScheme::Iso7064Mod37_2 => (DIGITS.to_owned() + LETTERS + "*")
                .chars()
                .map(String::from)
                .collect(),
            CheckScheme::Weighted(_) => payloads
                .iter()
                .filter_map(|p| scheme.check_character(p))
                .collect(),
            _ => classes[classes.len() - 1]
                .chars()
                .map(String::from)
                .collect(),
        };
        written.sort();
        written.dedup();
        if scheme.check_length() == 2 {
            written = written
                .iter()
                .flat_map(|a| written.iter().map(move |b| format!("{a}{b}")))
                .collect();
        }
        let mut holding = 0;
        for payload in &payloads {
            holding += written
                .iter()
                .filter(|check| scheme.holds(&format!("{payload}{check}")))
                .count();
        }
        let measured = (payloads.len() * written.len()) as f64 / holding as f64;
        let error = (measured / scheme.forms() - 1.0).abs();
        assert!(error < 0.1, "{scheme:?}: {measured} for {}", scheme.forms());
    }
}

#[test]
fn separators_do_not_count_and_nonsense_never_holds() {
    assert!(CheckScheme::Iso7064Mod11_2.holds("0000-0003 1415-9269"));
    assert!(CheckScheme::Iso6346.holds("CSQU 305438-3"));
    let long = "9".repeat(100_000);
    for (scheme, _, _) in samples() {
        for code in [
            "",
            "-",
            "5",
            "A",
            "*",
            "X",
            "12a4é",
            "１２３４",
            "\u{0}",
            "٠٧٩X",
            "ß",
            "٣٣",
        ] {
            assert!(!scheme.holds(code), "{scheme:?}: {code:?}");
        }
        scheme.holds(&long);
        assert_eq!(scheme.check_character(" - "), None);
    }
}

#[test]
fn keeps_its_name_in_files() {
    for scheme in CheckScheme::ALL {
        let written = serde_json::to_string(&scheme).unwrap();
        assert_eq!(written, format!("\"{}\"", scheme.name()));
        assert_eq!(
            serde_json::from_str::<CheckScheme>(&written).unwrap(),
            scheme
        );
    }
    let isbn = weighted("isbn10");
    let written = serde_json::to_string(&isbn).unwrap();
    assert_eq!(serde_json::from_str::<CheckScheme>(&written).unwrap(), isbn);
}

#[test]
fn is_defined_in_a_file() {
    let read = |text| toml::from_str::<Weighted>(text);
    let isbn = read(
        "weights = [2, 3, 4, 5, 6, 7, 8, 9, 10]\nmodulus = 11\ncharacters = '0123456789X'\ncomplement = true",
    );
    assert_eq!(CheckScheme::Weighted(isbn.unwrap()), weighted("isbn10"));
    let issn = read(
        "weights = [8, 7, 6, 5, 4, 3, 2]\nfrom = 'left'\nmodulus = 11\ncharacters = '0123456789X'\ncomplement = true",
    );
    assert_eq!(CheckScheme::Weighted(issn.unwrap()), weighted("issn"));
    let fault = read("weights = [1]\nmodulus = 1\ncharacters = '0'")
        .unwrap_err()
        .to_string();
    assert!(fault.contains("modulus from 2 to 97, found 1"), "{fault}");
}

#[test]
fn faulty_definitions_say_what_to_write() {
    for (weights, modulus, characters, message) in [
        (vec![], 11, "0123456789X", "at least one weight"),
        (vec![11, 22], 11, "0123456789X", "at least one weight"),
        (vec![2], 0, "0", "modulus from 2 to 97, found 0"),
        (vec![2], u32::MAX, "0", "modulus from 2 to 97"),
        (vec![2], 10, "0123456789X", "from 0 to 9, found 11"),
        (vec![2], 10, "", "from 0 to 9, found 0"),
        (vec![2], 10, "01\u{1b}", "printed"),
    ] {
        let made = Weighted::new(weights, modulus, characters);
        let fault = made.unwrap_err().to_string();
        assert!(fault.contains(message), "{fault}");
    }
    // Remainders without a character belong to codes that are not given out.
    let scheme = Weighted::new(vec![1], 11, DIGITS).unwrap();
    assert_eq!(CheckScheme::Weighted(scheme).check_character("55"), None);
}
