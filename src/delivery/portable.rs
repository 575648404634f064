//! Text that may stand in a file name on every common system.

use crate::value::without_diacritics;

/// Bytes that a file name may have on common file systems (255 on POSIX systems, common practice).
pub const LONGEST_NAME: usize = 255;

/// Stands where a value leaves nothing that may stand in a name.
pub const NOTHING: &str = "unknown";

/// Names that Windows keeps for devices, with any extension and in any case (Microsoft, "Naming Files, Paths, and
/// Namespaces"). Those with a `$` or a superscript cannot arise from portable characters.
const DEVICES: [&str; 24] = [
    "CON", "PRN", "AUX", "NUL", "COM0", "COM1", "COM2", "COM3", "COM4", "COM5", "COM6", "COM7",
    "COM8", "COM9", "LPT0", "LPT1", "LPT2", "LPT3", "LPT4", "LPT5", "LPT6", "LPT7", "LPT8", "LPT9",
];

/// A value as it may stand in a file name: without diacritics and apostrophes, every other run of characters outside
/// `A-Z a-z 0-9 -` one `_`, none at the ends. A full stop counts among them, because it would begin an extension.
/// Empty where nothing is left. Doing it twice changes nothing more.
///
/// ```
/// assert_eq!(headword::delivery::portable_value("O'Brien, Zoë / J.P."), "OBrien_Zoe_J_P");
/// ```
pub fn portable_value(text: &str) -> String {
    let mut portable = String::with_capacity(text.len());
    for c in without_diacritics(text).chars() {
        if c.is_ascii_alphanumeric() || c == '-' {
            portable.push(c);
        } else if !matches!(c, '\'' | '’' | '‘' | '`') && !portable.ends_with('_') {
            portable.push('_');
        }
    }
    portable.trim_matches('_').to_owned()
}

/// Whether a character belongs to the POSIX portable filename character set (POSIX.1-2008, 3.282).
pub fn is_portable_character(c: char) -> bool {
    c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-')
}

/// Whether a name may be given to a file on every common system: portable characters, 1 to 255 of them, not beginning
/// with `-` or `.`, not ending with `.`, no Windows device.
pub fn is_portable(name: &str) -> bool {
    (1..=LONGEST_NAME).contains(&name.len())
        && name.chars().all(is_portable_character)
        && !name.starts_with(['-', '.'])
        && !name.ends_with('.')
        && !is_device(name)
}

/// Whether Windows would take the name for a device.
pub fn is_device(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or_default();
    DEVICES
        .iter()
        .any(|device| device.eq_ignore_ascii_case(stem))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_lose_what_a_name_cannot_hold() {
        for (value, portable) in [
            ("PIER MASTER", "PIER_MASTER"),
            ("Łukasz Ångström-Weiß", "Lukasz_Angstrom-Weiss"),
            ("../../etc/passwd", "etc_passwd"),
            ("C:\\NUL", "C_NUL"),
            ("a\u{0}b\u{1b}[31m\u{202e}", "a_b_31m"),
            ("-1972", "-1972"),
            ("／．．", ""),
            ("Мороз", ""),
            ("...", ""),
            ("ＡＢ１", "AB1"),
        ] {
            assert_eq!(portable_value(value), portable, "{value:?}");
        }
    }

    #[test]
    fn knows_names_that_some_system_refuses() {
        for name in ["a", "A-1_b.tif", "CONSUL", "x.CON", "a..b"] {
            assert!(is_portable(name), "{name:?}");
        }
        let long = "x".repeat(256);
        for name in [
            "",
            ".",
            "..",
            "-a",
            ".a",
            "a.",
            "a b",
            "a/b",
            "nul",
            "NUL.txt",
            "com1.tar.gz",
            "é",
            &long,
        ] {
            assert!(!is_portable(name), "{name:?}");
        }
    }

    /// What both of two programs change is not portable, and what is portable both leave as it is; what they allow
    /// beyond that (blanks, letters beyond ASCII) POSIX does not.
    #[test]
    fn refuses_what_other_programs_refuse() {
        let file = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/tests/data/published/file_names.csv"
        );
        let mut rows = csv::Reader::from_path(file).unwrap();
        let rows = rows.deserialize::<(String, String, String)>();
        let mut counts = [0; 3];
        for row in rows.map(Result::unwrap) {
            let name: String = serde_json::from_str(&row.0).unwrap();
            let allowed = [&row.1, &row.2]
                .iter()
                .filter(|said| **said == "yes")
                .count();
            counts[allowed] += 1;
            let is_portable = is_portable(&name);
            assert!(allowed == 2 || !is_portable, "{name:?}");
        }
        assert!(counts[0] > 100 && counts[2] > 50, "{counts:?}");
    }
}
