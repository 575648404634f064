use super::*;
use std::collections::BTreeMap;

fn parts(person: &Person) -> [&str; 6] {
    [
        &person.title,
        &person.forenames,
        &person.nickname,
        &person.surname,
        &person.suffix,
        &person.former,
    ]
}

#[test]
fn takes_names_apart() {
    for (typed, title, forenames, nickname, surname, suffix, former) in [
        ("SMITH, JOHN A", "", "JOHN A", "", "SMITH", "", ""),
        ("SMITH, JOHN A JR", "", "JOHN A", "", "SMITH", "JR", ""),
        ("SMITH, JOHN A, III", "", "JOHN A", "", "SMITH", "III", ""),
        ("SMITH, JR., JOHN A", "", "JOHN A", "", "SMITH", "JR.", ""),
        ("SMITH JR, JOHN A", "", "JOHN A", "", "SMITH", "JR", ""),
        (
            "SMITH, JOHN A, JR, MD",
            "",
            "JOHN A",
            "",
            "SMITH",
            "JR MD",
            "",
        ),
        ("SMITH, JOHN 2ND", "", "JOHN", "", "SMITH", "2ND", ""),
        ("SMITH, JOHN V", "", "JOHN V", "", "SMITH", "", ""),
        ("SMITH, JOHN, V", "", "JOHN", "", "SMITH", "V", ""),
        ("JOHN A SMITH", "", "JOHN A", "", "SMITH", "", ""),
        ("JOHN A SMITH, JR", "", "JOHN A", "", "SMITH", "JR", ""),
        ("JOHN A SMITH, ESQ.", "", "JOHN A", "", "SMITH", "ESQ.", ""),
        (
            "John Alexander Smith V",
            "",
            "John Alexander",
            "",
            "Smith",
            "V",
            "",
        ),
        ("John van der Berg", "", "John", "", "van der Berg", "", ""),
        ("VAN DER BERG, JOHN", "", "JOHN", "", "VAN DER BERG", "", ""),
        (
            "María de la Cruz Núñez",
            "",
            "María",
            "",
            "de la Cruz Núñez",
            "",
            "",
        ),
        (
            "GARCIA MARQUEZ, GABRIEL",
            "",
            "GABRIEL",
            "",
            "GARCIA MARQUEZ",
            "",
            "",
        ),
        (
            "JOSE ORTEGA Y GASSET",
            "",
            "JOSE",
            "",
            "ORTEGA Y GASSET",
            "",
            "",
        ),
        ("AMY Y SMITH", "", "AMY Y", "", "SMITH", "", ""),
        ("O'BRIEN-HALE,MARY", "", "MARY", "", "O'BRIEN-HALE", "", ""),
        ("JOHN MC DONALD", "", "JOHN", "", "MC DONALD", "", ""),
        ("JOHN ST. CLAIR", "", "JOHN", "", "ST. CLAIR", "", ""),
        (
            "AHMED BIN SAID AL-RASHID",
            "",
            "AHMED",
            "",
            "BIN SAID AL-RASHID",
            "",
            "",
        ),
        ("LE, VAN", "", "VAN", "", "LE", "", ""),
        ("VAN LE", "", "VAN", "", "LE", "", ""),
        ("DR. JOHN SMITH", "DR.", "JOHN", "", "SMITH", "", ""),
        ("SMITH, DR. JOHN", "DR.", "JOHN", "", "SMITH", "", ""),
        ("SMITH, MARY MRS", "MRS", "MARY", "", "SMITH", "", ""),
        ("SMITH, JOHN, CAPT.", "CAPT.", "JOHN", "", "SMITH", "", ""),
        (
            "LT. COL. JOHN SMITH",
            "LT. COL.",
            "JOHN",
            "",
            "SMITH",
            "",
            "",
        ),
        (
            "MR AND MRS JOHN SMITH",
            "MR AND MRS",
            "JOHN",
            "",
            "SMITH",
            "",
            "",
        ),
        ("MRS SMITH", "MRS", "", "", "SMITH", "", ""),
        ("DR", "", "", "", "DR", "", ""),
        (
            "SMITH, MARY NEE JONES",
            "",
            "MARY",
            "",
            "SMITH",
            "",
            "JONES",
        ),
        (
            "SMITH, MARY (NÉE JONES)",
            "",
            "MARY",
            "",
            "SMITH",
            "",
            "JONES",
        ),
        (
            "SMITH NEE JONES, MARY",
            "",
            "MARY",
            "",
            "SMITH",
            "",
            "JONES",
        ),
        ("SMITH (JONES), MARY", "", "MARY", "", "SMITH", "", "JONES"),
        (
            "SCHMIDT, ANNA, GEB. MEYER",
            "",
            "ANNA",
            "",
            "SCHMIDT",
            "",
            "MEYER",
        ),
        (
            "SMITH, JOHN A.K.A. JACK BLACK",
            "",
            "JOHN",
            "",
            "SMITH",
            "",
            "JACK BLACK",
        ),
        (
            "SMITH, MARY, FORMERLY DE LA CRUZ",
            "",
            "MARY",
            "",
            "SMITH",
            "",
            "DE LA CRUZ",
        ),
        (
            "SMITH, MARY BORN 1952",
            "",
            "MARY BORN 1952",
            "",
            "SMITH",
            "",
            "",
        ),
        ("SMITH, JOHN (MRS.)", "MRS.", "JOHN", "", "SMITH", "", ""),
        ("SMITH, JOHN (JR)", "", "JOHN", "", "SMITH", "JR", ""),
        ("BORN, MAX", "", "MAX", "", "BORN", "", ""),
        ("MAX BORN", "", "MAX", "", "BORN", "", ""),
        ("NEE, JOHN", "", "JOHN", "", "NEE", "", ""),
        (
            "SMITH, WILLIAM \"BILL\"",
            "",
            "WILLIAM",
            "BILL",
            "SMITH",
            "",
            "",
        ),
        (
            "SMITH, WILLIAM (BILL), JR",
            "",
            "WILLIAM",
            "BILL",
            "SMITH",
            "JR",
            "",
        ),
        (
            "WILLIAM 'BILL' O'NEIL",
            "",
            "WILLIAM",
            "BILL",
            "O'NEIL",
            "",
            "",
        ),
        ("J.R.SMITH", "", "J.R.", "", "SMITH", "", ""),
        ("Łódź-Müller, Ærø", "", "Ærø", "", "Łódź-Müller", "", ""),
        ("SMITH", "", "", "", "SMITH", "", ""),
        ("SMITH,", "", "", "", "SMITH", "", ""),
        ("SMITH, JR", "", "", "", "SMITH", "JR", ""),
        ("SMITH, J.R.", "", "J.R.", "", "SMITH", "", ""),
        ("JR", "", "", "", "JR", "", ""),
        ("", "", "", "", "", "", ""),
        (" , ,", "", "", "", "", "", ""),
        ("(", "", "", "", "", "", ""),
        ("\"\"()'", "", "", "", "", "", ""),
    ] {
        let person = Person::read(typed);
        let expected = [title, forenames, nickname, surname, suffix, former];
        assert_eq!(parts(&person), expected, "{typed:?}");
        let printed = person.inverted();
        assert_eq!(
            Person::read(&printed),
            person,
            "{typed:?} printed as {printed:?} and read again"
        );
    }
}

#[test]
fn a_surname_may_stand_alone() {
    for (typed, surname) in [
        ("DE LA CRUZ", "DE LA CRUZ"),
        ("DE LA CRUZ, JR", "DE LA CRUZ"),
        ("VAN DER BERG", "VAN DER BERG"),
        ("ST. CLAIR", "ST. CLAIR"),
        ("VAN BERG", "BERG"),
    ] {
        assert_eq!(Person::read(typed).surname, surname, "{typed:?}");
    }
    assert_eq!(Person::read("GARCIA MARQUEZ,").surname, "GARCIA MARQUEZ");
    assert_eq!(Person::read("GARCIA MARQUEZ").forenames, "GARCIA");
}

#[test]
fn says_what_else_a_name_may_mean() {
    for (typed, other) in [
        ("SMITH, JR", "SMITH, JR as forenames"),
        ("SMITH, MD", "SMITH, MD as forenames"),
        ("SMITH, MR", "SMITH, MR as forenames"),
        ("DR SMITH", "SMITH, DR as forenames"),
        ("MRS SMITH", ""),
        ("SMITH, J.R.", ""),
        ("SMITH, JOHN JR", ""),
        ("SMITH, WILLIAM (BILL)", "SMITH, WILLIAM (formerly BILL)"),
        ("SMITH (JONES), MARY", "SMITH, MARY \"JONES\""),
        ("SMITH, MARY (NEE JONES)", ""),
    ] {
        let readings = Person::readings(typed, NameOrder::Direct);
        let shown = readings.get(1).map_or(String::new(), |person| {
            let moved = if person.forenames == readings[0].suffix
                || person.forenames == readings[0].title
            {
                " as forenames"
            } else {
                ""
            };
            person.inverted() + moved
        });
        assert_eq!(shown, other, "{typed:?}");
    }
}

#[test]
fn reads_surnames_first_where_the_job_says_so() {
    for (typed, surname, forenames, suffix) in [
        ("SMITH JOHN A", "SMITH", "JOHN A", ""),
        ("SMITH JOHN A JR", "SMITH", "JOHN A", "JR"),
        ("DE LA CRUZ MARIA", "DE LA CRUZ", "MARIA", ""),
        ("VAN", "VAN", "", ""),
        ("SMITH, JOHN", "SMITH", "JOHN", ""),
    ] {
        let person = Person::readings(typed, NameOrder::SurnameFirst).swap_remove(0);
        let read = [&person.surname, &person.forenames, &person.suffix].map(String::as_str);
        assert_eq!(read, [surname, forenames, suffix], "{typed:?}");
    }
}

#[test]
fn prints_both_orders() {
    for (typed, inverted, direct) in [
        (
            "Dr. William (Bill) de la Cruz III, MD",
            "de la Cruz, Dr. William \"Bill\", III MD",
            "Dr. William \"Bill\" de la Cruz, III MD",
        ),
        (
            "SMITH, MARY NEE JONES",
            "SMITH, MARY (formerly JONES)",
            "MARY SMITH (formerly JONES)",
        ),
        ("SMITH", "SMITH", "SMITH"),
    ] {
        let person = Person::read(typed);
        assert_eq!(
            (person.inverted().as_str(), person.direct().as_str()),
            (inverted, direct)
        );
        assert_eq!(Person::read(direct), person);
    }
}

#[test]
fn is_filed_without_its_title() {
    for (typed, filed) in [
        (
            "Dr. William (Bill) de la Cruz III",
            "de la Cruz, William, III",
        ),
        ("SMITH, JR", "SMITH, JR"),
        ("SMITH, MARY NEE JONES", "SMITH, MARY"),
        ("", ""),
    ] {
        assert_eq!(Person::read(typed).filed(), filed);
    }
}

#[test]
fn sets_particles_and_initials_apart() {
    for (typed, particle, initials) in [
        ("DE LA CRUZ, MARIA J.", "DE LA", "MJ"),
        ("VAN DER BERG, J-P", "VAN DER", "JP"),
        ("O'BRIEN, J R", "", "JR"),
        ("SMITH, J.R.", "", "JR"),
        ("NG SMITH, Jean-Luc", "", "J"),
        ("DE, JRR", "", "JRR"),
        ("ST. CLAIR, ÉMILE", "ST.", "É"),
    ] {
        let person = Person::read(typed);
        assert_eq!(
            (person.particle(), person.initials().as_str()),
            (particle, initials),
            "{typed:?}"
        );
    }
}

#[test]
fn compares_writings_alike() {
    for (one, other) in [
        ("de la Cruz, María", "DELACRUZ, MARIA"),
        ("O'Brien, J.", "OBRIEN, J"),
        ("SMITH JR, JOHN", "JOHN SMITH, Jr."),
    ] {
        assert_eq!(
            Person::read(one).comparison_forms(),
            Person::read(other).comparison_forms()
        );
    }
}

/// Tests of the crate human_name 2.0.4: name, surname, given name, middle names, first initial, other initials, suffix.
const HUMAN_NAME: &str =
    include_str!("../../../tests/data/published/human_name/parseable-names.txt");

/// Names that nameparser 2.6.0 takes apart; see the generator beside the table.
const NAMEPARSER: &str = include_str!("../../../tests/data/published/nameparser_names.csv");

/// Where we take a name apart otherwise than a reference, and why.
const DISAGREEMENTS: &str = include_str!("../../../tests/data/published/person_disagreements.csv");

/// For one reference: the names and how we take them.
fn disagreements(reference: &str) -> BTreeMap<String, String> {
    let rows = csv::Reader::from_reader(DISAGREEMENTS.as_bytes()).into_records();
    rows.map(|row| row.unwrap())
        .filter(|row| &row[0] == reference)
        .map(|row| (row[1].to_owned(), row[3].to_owned()))
        .collect()
}

/// One when both agree and the name is not listed; none when it is listed just so.
fn agreement(
    listed: &BTreeMap<String, String>,
    name: &str,
    ours: &[String],
    theirs: &[String],
) -> usize {
    let expected = listed
        .get(name)
        .cloned()
        .unwrap_or_else(|| theirs.join("|"));
    assert_eq!(ours.join("|"), expected, "{name:?}, reference {theirs:?}");
    usize::from(!listed.contains_key(name))
}

#[test]
fn agrees_with_human_name_but_where_listed() {
    let listed = disagreements("human_name");
    let mut agreeing = 0;
    for line in HUMAN_NAME.lines().filter(|line| !line.starts_with('#')) {
        let fields: Vec<&str> = line.split('|').collect();
        let [typed, surname, _, _, initial, initials, suffix] = fields[..] else {
            continue;
        };
        let person = Person::read(typed);
        let generation = person
            .suffix
            .split(' ')
            .find(|word| words::is_generation(word));
        let ours = [
            comparison_form(&person.surname),
            comparison_form(&person.initials()),
            comparison_form(generation.unwrap_or_default()),
        ];
        let theirs = [surname, &format!("{initial}{initials}"), suffix].map(comparison_form);
        agreeing += agreement(&listed, typed, &ours, &theirs);
    }
    assert_eq!((agreeing, listed.len()), (324, 50));
}

#[test]
fn agrees_with_nameparser_but_where_listed() {
    let listed = disagreements("nameparser");
    let mut agreeing = 0;
    for row in csv::Reader::from_reader(NAMEPARSER.as_bytes()).records() {
        let row = row.unwrap();
        let person = Person::read(&row[0]);
        let ours = [
            &person.title,
            &person.forenames,
            &person.nickname,
            &person.surname,
            &person.suffix,
        ];
        let ours = ours.map(|part| comparison_form(part));
        let theirs = [1, 2, 3, 4, 5].map(|column| comparison_form(&row[column]));
        agreeing += agreement(&listed, &row[0], &ours, &theirs);
    }
    assert_eq!((agreeing, listed.len()), (284, 16));
}
