//! Letters reduced to what two people would type alike.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// Latin letters that no Unicode normalisation form decomposes (UAX 15), with what is typed for them where they are
/// not on the keyboard. Own choice after common practice; ä becomes a, by decomposition, in every language.
const UNDECOMPOSED: [(char, &str); 26] = [
    ('ß', "ss"),
    ('ẞ', "SS"),
    ('æ', "ae"),
    ('Æ', "AE"),
    ('œ', "oe"),
    ('Œ', "OE"),
    ('ø', "o"),
    ('Ø', "O"),
    ('ł', "l"),
    ('Ł', "L"),
    ('đ', "d"),
    ('Đ', "D"),
    ('ð', "d"),
    ('Ð', "D"),
    ('þ', "th"),
    ('Þ', "TH"),
    ('ħ', "h"),
    ('Ħ', "H"),
    ('ŧ', "t"),
    ('Ŧ', "T"),
    ('ŋ', "ng"),
    ('Ŋ', "NG"),
    ('ı', "i"),
    ('ȷ', "j"),
    ('ƒ', "f"),
    ('ə', "e"),
];

/// The text without diacritics: compatibility decomposition (UAX 15, NFKD), combining marks dropped, letters that do
/// not decompose replaced. Letters of other scripts stay.
///
/// ```
/// assert_eq!(headword::value::without_diacritics("Łódź, Straße, Ærø"), "Lodz, Strasse, AEro");
/// ```
pub fn without_diacritics(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for c in text.nfkd().filter(|&c| !is_combining_mark(c)) {
        match UNDECOMPOSED.iter().find(|(letter, _)| *letter == c) {
            Some((_, typed)) => plain.push_str(typed),
            None => plain.push(c),
        }
    }
    plain
}

/// What is compared when two writings of a name may mean the same: upper case, no diacritics, no apostrophes or full
/// stops, every other run of signs and blanks one blank.
///
/// ```
/// assert_eq!(headword::value::comparison_form(" o'Brien-Müller,  J. "), "OBRIEN MULLER J");
/// ```
pub fn comparison_form(text: &str) -> String {
    let mut form = String::with_capacity(text.len());
    for c in without_diacritics(text).chars() {
        if c.is_alphanumeric() {
            form.extend(c.to_uppercase());
        } else if !matches!(c, '\'' | '’' | '‘' | '`' | '.') && !form.ends_with(' ') {
            form.push(' ');
        }
    }
    form.trim().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Unicode Standard Annex 15, "Unicode Normalization Forms": examples in figures 3 to 6, as code points.
    const UAX_15: &str =
        include_str!("../../tests/data/published/unicode_normalization_examples.csv");

    #[test]
    fn normalises_as_uax_15_says() {
        let mut rows = 0;
        for record in csv::Reader::from_reader(UAX_15.as_bytes()).records() {
            let record = record.unwrap();
            let text = |column: usize| -> String {
                record[column]
                    .split(' ')
                    .map(|code| char::from_u32(u32::from_str_radix(code, 16).unwrap()).unwrap())
                    .collect()
            };
            let source = text(0);
            let forms: [String; 4] = [
                source.nfc().collect(),
                source.nfd().collect(),
                source.nfkc().collect(),
                source.nfkd().collect(),
            ];
            assert_eq!(forms, [1, 2, 3, 4].map(text), "{record:?}");
            // However it was composed, the same is left of it.
            for form in &forms {
                assert_eq!(
                    without_diacritics(form),
                    without_diacritics(&source),
                    "{record:?}"
                );
            }
            let plain = without_diacritics(&text(0));
            assert!(plain.is_ascii(), "{record:?} became {plain:?}");
            rows += 1;
        }
        assert_eq!(rows, 9);
    }

    #[test]
    fn other_scripts_stay_and_nothing_grows_out_of_bounds() {
        assert_eq!(without_diacritics("Мороз"), "Мороз");
        assert_eq!(
            without_diacritics(&format!("e{}", "\u{301}".repeat(10_000))),
            "e"
        );
        assert_eq!(comparison_form("\u{0}\u{202e}--"), "");
    }
}
