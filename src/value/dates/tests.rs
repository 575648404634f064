use super::*;

mod contract;
mod pattern;
mod world;

/// Each text in a style, with the EDTF value expected; a value with a doubt ends in the doubt's name.
fn check(style: &DateStyle, cases: &[(&str, &str)]) {
    let mut wrong = String::new();
    let (single, range) = (whole(style, Dates::Single), whole(style, Dates::Range));
    for (typed, expected) in cases {
        let single_blanks = typed.split_whitespace().collect::<Vec<&str>>().join(" ");
        let fits = range.is_match(&single_blanks);
        let one = expected.starts_with(|c: char| c.is_ascii_digit() || c == 'X')
            && !expected.contains('/');
        if one && !single.is_match(&single_blanks) {
            wrong += &format!("{typed:?} does not fit the pattern of one date\n");
        }
        let found = match typed_dates(typed, style) {
            Ok(TypedDates { edtf, doubt: None }) => edtf.to_string(),
            Ok(TypedDates {
                edtf,
                doubt: Some(doubt),
            }) => format!("{edtf} {doubt:?}"),
            Err(DatesError::NotUnderstood(_)) => "not understood".to_owned(),
            Err(DatesError::NoSuchDay(_)) => "no such day".to_owned(),
            Err(DatesError::OutOfOrder(_)) => "out of order".to_owned(),
        };
        if found != *expected {
            wrong += &format!("{typed:?}: expected {expected}, found {found}\n");
        }
        if expected.starts_with(|c: char| c.is_ascii_digit() || c == 'X') && !fits {
            wrong += &format!("{typed:?} does not fit the pattern\n");
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

fn style(order: DateOrder, languages: &[Language]) -> DateStyle {
    DateStyle {
        order,
        languages: languages.to_vec(),
        ..DateStyle::default()
    }
}

#[test]
fn reads_years_and_ranges_of_years() {
    check(
        &DateStyle::default(),
        &[
            ("1952", "1952"),
            ("1952-1961", "1952/1961"),
            ("1952-61", "1952/1961"),
            ("1952 - 61", "1952/1961"),
            ("1952–61", "1952/1961"),
            ("1952-52", "1952/1952"),
            ("1952 thru 1961", "1952/1961"),
            ("1952 TO 1961", "1952/1961"),
            ("FROM 1952 TO 61", "1952/1961"),
            ("BETWEEN 1952 AND 1961", "1952/1961"),
            ("1998-03", "1998/2003 SecondYearOrMonth"),
            ("1898-1903", "1898/1903"),
            ("1905-08", "1905/1908 SecondYearOrMonth"),
            ("1998-20", "1998/2020 NextCentury"),
            ("52-61", "1952/1961 TwoDigitYear"),
            ("'52-'61", "1952/1961 TwoDigitYear"),
            ("98-20", "1998/2020 NextCentury"),
            ("52-1961", "1952/1961 TwoDigitYear"),
            ("98-2003", "1998/2003 TwoDigitYear"),
            ("1952/53", "1952/1953 SchoolYear"),
            ("52/53", "1952/1953 SchoolYear"),
            ("1899/00", "1899/1900 SchoolYear"),
            ("1952/61", "1952/1961"),
            ("UP TO 1959", "../1959"),
            ("TO 1959", "../1959"),
            ("-1959", "../1959"),
            ("1980 -", "1980/.."),
            ("1980-", "1980/.."),
            ("1980 TO DATE", "1980/.."),
            ("FROM 1980 TO PRESENT", "1980/.."),
            ("1980 onwards", "1980/.."),
            ("SINCE 1980", "1980/.."),
            ("BEFORE 1959", "/1959"),
            ("AFTER C. 1980", "1980~/"),
            ("C. 1950", "1950~"),
            ("C1950", "1950~"),
            ("ca. 1950?", "1950%"),
            ("CIRCA 1950-55", "1950~/1955"),
            ("1950?", "1950?"),
            ("195?", "195X"),
            ("195X", "195X"),
            ("195-", "195X"),
            ("195-?", "195X?"),
            ("19--", "19XX"),
            ("19??", "19XX"),
            ("195?-1961", "195X/1961"),
            ("1950S", "195X"),
            ("1950's", "195X"),
            ("50s", "195X TwoDigitYear"),
            ("C. 1950S", "195X~"),
            ("1950S-60S", "195X/196X"),
            ("1900S", "19XX DecadeOrCentury"),
            ("52", "1952 TwoDigitYear"),
            ("'52", "1952 TwoDigitYear"),
            ("N.D.", "XXXX"),
            ("n. d.", "XXXX"),
            ("ND", "XXXX"),
            ("S.D.", "XXXX"),
            ("UNDATED", "XXXX"),
            ("  1952   TO\t1961 ", "1952/1961"),
        ],
    );
}

#[test]
fn reads_days_and_months() {
    check(
        &DateStyle::default(),
        &[
            ("12 MAR 1950", "1950-03-12"),
            ("12-MAR-50", "1950-03-12 TwoDigitYear"),
            ("12MAR1950", "1950-03-12"),
            ("12TH OF MARCH, 1950", "1950-03-12"),
            ("MAR. 12, 1950", "1950-03-12"),
            ("March 12th 1950", "1950-03-12"),
            ("SEPT. 1, '52", "1952-09-01 TwoDigitYear"),
            ("1950 MAR 12", "1950-03-12"),
            ("1952-03-04", "1952-03-04"),
            ("1952/03/04", "1952-03-04"),
            ("52-03-14", "1952-03-14 TwoDigitYear"),
            ("3/4/52", "1952-04-03 DayOrMonth"),
            ("3.4.1952", "1952-04-03 DayOrMonth"),
            ("3/3/1952", "1952-03-03"),
            ("13/4/1952", "1952-04-13"),
            ("4/13/1952", "1952-04-13"),
            ("4-13-52", "1952-04-13 TwoDigitYear"),
            ("MAR 1952", "1952-03"),
            ("MAR.1952", "1952-03"),
            ("MAR 52", "1952-03 TwoDigitYear"),
            ("MARCH, 1952", "1952-03"),
            ("MAR/52", "1952-03 TwoDigitYear"),
            ("MAR 195?", "195X-03"),
            ("1952 MAR", "1952-03"),
            ("03/52", "1952-03 TwoDigitYear"),
            ("3/1952", "1952-03"),
            ("03-1952", "1952-03 MonthOrYear"),
            ("08/09", "1909-08 MonthOrYear"),
            ("1952.03", "1952-03"),
            ("C. MAR 1952", "1952-03~"),
            ("31 FEB 1950", "no such day"),
            ("29 FEB 1952", "1952-02-29"),
            ("31/2/1950", "no such day"),
            ("32 MAR 1950", "not understood"),
            ("32/4/1950", "not understood"),
            ("02/30/1988", "no such day"),
            ("~ FEB 1912", "1912-02~"),
        ],
    );
    check(
        &style(DateOrder::MonthDay, &[Language::English]),
        &[
            ("3/4/52", "1952-03-04 DayOrMonth"),
            ("13/4/1952", "1952-04-13"),
            ("3/4 - 5/6/1952", "1952-03-04/1952-05-06 DayOrMonth"),
        ],
    );
}

#[test]
fn reads_ranges_of_days_and_months() {
    check(
        &DateStyle::default(),
        &[
            ("03/52 - 11/61", "1952-03/1961-11 TwoDigitYear"),
            ("03/52-11/61", "1952-03/1961-11 TwoDigitYear"),
            ("3/1952 - 11/1961", "1952-03/1961-11"),
            ("JAN 1952 TO DEC 1961", "1952-01/1961-12"),
            ("JAN-MAR 1952", "1952-01/1952-03"),
            ("JAN.-MAR. 1952", "1952-01/1952-03"),
            ("1952 JAN-MAR", "1952-01/1952-03"),
            ("12-15 MAR 1950", "1950-03-12/1950-03-15"),
            ("MAR 12-15, 1950", "1950-03-12/1950-03-15"),
            ("12 JAN - 15 MAR 1952", "1952-01-12/1952-03-15"),
            ("MAR 12 - APR 15, 1950", "1950-03-12/1950-04-15"),
            ("MAR 12 - APR 15", "1912-03/1915-04 TwoDigitYear"),
            ("12 MAR 1950 TO APR 1952", "1950-03-12/1952-04"),
            ("12 MAR 1950 - 1952", "1950-03-12/1952"),
            ("12 MAR 1950 - 52", "1950-03-12/1952"),
            ("1950 - MAR 1952", "1950/1952-03"),
            ("3/4/52-5/6/52", "1952-04-03/1952-06-05 DayOrMonth"),
            ("13/4/1952 - 25/6/1953", "1952-04-13/1953-06-25"),
            ("12.3.-15.4.1950", "1950-03-12/1950-04-15 DayOrMonth"),
            ("1952-03-04 TO 1953-02-01", "1952-03-04/1953-02-01"),
            ("1952-03-04/1953-02-01", "1952-03-04/1953-02-01"),
            ("1952-03/1953-02", "1952-03/1953-02"),
            ("TO MAR 1952", "../1952-03"),
            ("FROM 12 MAR 1950", "1950-03-12/.."),
            ("MAR 1950 -", "1950-03/.."),
            ("BEFORE 12 MAR 1950", "/1950-03-12"),
            ("11/98 - 03/02", "1998-11/2002-03 NextCentury"),
            ("DEC 30, 1952-JAN 2, 1953", "1952-12-30/1953-01-02"),
            ("JAN 52-DEC 53", "1952-01/1953-12 TwoDigitYear"),
            ("MAR/APR 1952", "1952-03/1952-04"),
            ("MAR 1-APR 15 1952", "1952-03-01/1952-04-15"),
            ("1ST-15TH MARCH 1950", "1950-03-01/1950-03-15"),
            ("30 DEC-2 JAN 1953", "out of order"),
            ("SUMMER-FALL 1952", "1952-22/1952-23"),
            ("1952- 1961", "1952/1961"),
            ("SPRING 1952 - FALL 1953", "1952-21/1953-23"),
            ("Q1-Q3 1952", "1952-33/1952-35"),
            ("NOV-FEB 1952", "out of order"),
            ("11/1952 - 03/1952", "out of order"),
            ("1961-1952", "out of order"),
            ("15-12 MAR 1950", "out of order"),
            ("DEC 1961 TO JAN 1952", "out of order"),
        ],
    );
}

#[test]
fn reads_parts_of_years() {
    check(
        &DateStyle::default(),
        &[
            ("1Q 1952", "1952-33"),
            ("Q1/52", "1952-33 TwoDigitYear"),
            ("Q4 1952", "1952-36"),
            ("3Q52", "1952-35 TwoDigitYear"),
            ("1952 Q2", "1952-34"),
            ("1952-Q2", "1952-34"),
            ("1952 2Q", "1952-34"),
            ("1952 2ND QUARTER", "1952-34"),
            ("1952 1Q - 1952 3Q", "1952-33/1952-35"),
            ("2ND QUARTER 1952", "1952-34"),
            ("H2 1952", "1952-41"),
            ("1ST HALF OF 1952", "1952-40"),
            ("SPRING 1952", "1952-21"),
            ("Autumn, 1952", "1952-23"),
            ("WINTER 1952", "1952-24 Winter"),
            ("WINTER 1952/53", "1952-24"),
            ("WINTER 52/53", "1952-24 TwoDigitYear"),
            ("FY 1953", "1952/1953 FiscalYear"),
            ("FY53", "1952/1953 FiscalYear"),
            ("FISCAL YEAR 1952-53", "1952/1953 FiscalYear"),
            ("FY 1952-61", "1952/1961 FiscalYear"),
            ("Q5 1952", "not understood"),
            ("5Q 1952", "not understood"),
            ("2ND QTR 1952", "1952-34"),
            ("2ND Q 1952", "1952-34"),
            ("3RD QUARTER 1952", "1952-35"),
            ("2ND HALF 1952", "1952-41"),
        ],
    );
    let july = DateStyle {
        fiscal_year_begins: Some(7),
        ..DateStyle::default()
    };
    check(
        &july,
        &[
            ("1952/53", "1952-07/1953-06 SchoolYear"),
            ("1952-53", "1952/1953"),
            ("FY 1953", "1952-07/1953-06 FiscalYear"),
            ("SCHOOL YEAR 1952/53", "1952-07/1953-06 SchoolYear"),
        ],
    );
    let january = DateStyle {
        fiscal_year_begins: Some(1),
        ..DateStyle::default()
    };
    check(&january, &[("FY 1953", "1953")]);
}

#[test]
fn reads_other_languages() {
    check(
        &style(DateOrder::DayMonth, &[Language::German]),
        &[
            ("12. MÄRZ 1950", "1950-03-12"),
            ("12. Maerz 1950", "1950-03-12"),
            ("1. OKT. 1952", "1952-10-01"),
            ("1.1.-31.12.1952", "1952-01-01/1952-12-31"),
            ("01.01.1952 BIS 31.12.1952", "1952-01-01/1952-12-31"),
            ("VON 1952 BIS 1961", "1952/1961"),
            ("JAN 1952 BIS DEZ 1961", "1952-01/1961-12"),
            ("BIS 1959", "../1959"),
            ("AB 1980", "1980/.."),
            ("VOR 1959", "/1959"),
            ("UM 1950", "1950~"),
            ("1950ER", "195X"),
            ("O.J.", "XXXX"),
            ("o. J.", "XXXX"),
            ("1. QUARTAL 1952", "1952-33"),
            ("FRÜHJAHR 1952", "1952-21"),
            ("12.-15. MÄRZ 1950", "1950-03-12/1950-03-15"),
            ("SCHULJAHR 1952/53", "1952/1953 SchoolYear"),
            ("12 MARCH 1950", "not understood"),
        ],
    );
    check(
        &style(DateOrder::DayMonth, &[Language::French]),
        &[
            ("1ER MARS 1950", "1950-03-01"),
            ("12 FÉVR. 1950", "1950-02-12"),
            ("12 fevrier 1950", "1950-02-12"),
            ("AOUT 1952", "1952-08"),
            ("DE 1952 À 1961", "1952/1961"),
            ("DU 12 AU 15 MARS 1950", "1950-03-12/1950-03-15"),
            ("JUSQU'EN 1959", "../1959"),
            ("AVANT 1959", "/1959"),
            ("VERS 1950", "1950~"),
            ("S.D.", "XXXX"),
            ("1ER TRIMESTRE 1952", "1952-33"),
            ("T1 1952", "1952-33"),
            ("ANNÉES 50", "195X TwoDigitYear"),
            ("VERS LES ANNEES 1950", "not understood"),
            ("VERS ANNEES 1950", "195X~"),
            ("ÉTÉ 1952", "1952-22"),
        ],
    );
    check(
        &style(DateOrder::DayMonth, &[Language::Spanish]),
        &[
            ("12 DE MARZO DE 1950", "1950-03-12"),
            ("ENE 1952 - DIC 1961", "1952-01/1961-12"),
            ("DE 1952 A 1961", "1952/1961"),
            ("DEL 12 AL 15 DE MARZO DE 1950", "1950-03-12/1950-03-15"),
            ("HASTA 1959", "../1959"),
            ("DESDE 1980", "1980/.."),
            ("ANTES DE 1959", "/1959"),
            ("OTOÑO 1952", "1952-23"),
            ("S.F.", "XXXX"),
        ],
    );
    check(
        &style(DateOrder::DayMonth, &[Language::Dutch]),
        &[
            ("12 MRT 1950", "1950-03-12"),
            ("12 maart 1950", "1950-03-12"),
            ("VAN 1952 TOT 1961", "1952/1961"),
            ("1952 T/M 1961", "1952/1961"),
            ("1952 TOT EN MET 1961", "1952/1961"),
            ("TOT 1959", "../1959"),
            ("OMSTREEKS 1950", "1950~"),
            ("Z.J.", "XXXX"),
            ("1E KWARTAAL 1952", "1952-33"),
            ("JAREN 50", "195X TwoDigitYear"),
        ],
    );
    check(
        &style(DateOrder::DayMonth, &Language::ALL),
        &[
            ("12 MAR 1950", "1950-03-12"),
            ("12 DÉC 1950", "1950-12-12"),
            ("DE 1952 A 1961", "1952/1961"),
            ("1ER MARS 1950", "1950-03-01"),
            ("1950S", "195X"),
            ("1950 BIS 1952", "1950/1952"),
        ],
    );
}

#[test]
fn refuses_what_is_no_date() {
    let style = DateStyle::default();
    for typed in [
        "",
        "-",
        "TO",
        "19520",
        "1952-6",
        "1952-611",
        "1???",
        "C.",
        "CAR 1950",
        "１９５２",
        "1952--61",
        "1952-\u{202e}61",
        "ſ1952",
        "é952",
        "1952 1953",
        "MAR",
        "12 MAR",
        "1952.",
        "1952,",
        ",1952",
        "MAR MAR 1952",
        "12 13 1952",
        "1950S MAR",
        "FY",
        "FY MAR 1952",
        "1952 N.D.",
        "TO TO 1952",
        "1 2 3 4",
        "Q",
        "?",
        "C. C. 1950",
        "1950??",
        "0.J.",
        "1955S",
    ] {
        let refused = typed_dates(typed, &style);
        assert!(
            matches!(refused, Err(DatesError::NotUnderstood(_))),
            "{typed:?}: {refused:?}"
        );
    }
    assert!(typed_dates(&"1952-".repeat(100_000), &style).is_err());
}

/// Takes a text that the pattern of the style takes whole.
fn whole(style: &DateStyle, what: Dates) -> regex::Regex {
    regex::Regex::new(&format!("^{}$", dates_pattern(style, what))).unwrap()
}

#[test]
fn without_languages_figures_alone_are_read() {
    check(
        &style(DateOrder::DayMonth, &[]),
        &[
            ("03/52 - 11/61", "1952-03/1961-11 TwoDigitYear"),
            ("1980-", "1980/.."),
            ("~1950?", "1950%"),
            ("12 MAR 1950", "not understood"),
        ],
    );
}
