//! How lengths, ranges and shares are written on the command line.

use crate::figures::{Estimate, Piece};

/// Centimetres in an inch, by definition since 1959.
const CENTIMETRES: f64 = 2.54;

/// Sheets an inch beyond which a count or a length is a slip of the pen: film of .1 mm (from memory), without anything
/// between the sheets, would give 254.
pub const MOST_AN_INCH: f64 = 300.0;

/// Inches of drawer beyond which a length is a slip of the pen: a mile and a half.
const LONGEST: f64 = 100_000.0;

/// Sheets that were counted in a measured length, as in `98/1in`; the length in inches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted(pub Piece);

/// A length in inches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Length(pub Estimate);

pub fn counted(text: &str) -> Result<Counted, String> {
    let Some((sheets, inches)) = text.split_once('/') else {
        return Err(
            "expected sheets and the length that holds them; write 98/1in or 205/5cm".to_owned(),
        );
    };
    let counted = sheets.trim().parse::<u32>().map_err(|_| {
        format!("expected a whole number of sheets, found `{sheets}`; write 98/1in")
    })?;
    let inches = length(inches)?.0;
    if !inches.is_exact() {
        return Err(
            "expected one length, found a range; measure where the counted sheets end".to_owned(),
        );
    }
    let (counted, measured) = (f64::from(counted), inches.value);
    if counted > MOST_AN_INCH * measured {
        return Err(format!(
            "expected at most {MOST_AN_INCH} sheets an inch, which is thinner than film is made, found {:.0}; check \
             the count and the unit",
            counted / measured
        ));
    }
    Ok(Counted(Piece { measured, counted }))
}

pub fn length(text: &str) -> Result<Length, String> {
    let text = text.trim();
    let digits = text.trim_end_matches(|c: char| c.is_alphabetic() || c == '"');
    let unit = &text[digits.len()..];
    let inches = match unit.to_lowercase().as_str() {
        "in" | "inch" | "inches" | "\"" => 1.0,
        "ft" | "feet" => 12.0,
        "mm" => 0.1 / CENTIMETRES,
        "cm" => 1.0 / CENTIMETRES,
        "m" => 100.0 / CENTIMETRES,
        "" => {
            return Err(format!(
                "expected a length with its unit, found `{text}`; write {text}in or {text}cm"
            ));
        }
        _ => {
            return Err(format!(
                "expected the unit in, ft, mm, cm or m, found `{unit}`; write 200in or 5m"
            ));
        }
    };
    let found = range(digits, LONGEST / inches)?;
    Ok(Length(Estimate::new(
        found.value * inches,
        found.low * inches,
        found.high * inches,
    )))
}

/// A number above zero, or two with `..` between them.
pub fn range(text: &str, most: f64) -> Result<Estimate, String> {
    let number = |text: &str| {
        let number: f64 = text.trim().parse().map_err(|_| match text {
            comma if comma.contains(',') => format!(
                "expected a number, found `{text}`; write a point for the decimals and nothing between thousands"
            ),
            dash if dash.trim_start_matches('-').contains('-') => format!(
                "expected a number or a range, found `{text}`; write two points between its ends, as in 8..14"
            ),
            _ => format!("expected a number or a range, found `{text}`; write 10 or 8..14"),
        })?;
        match number {
            number if number > 0.0 && number <= most => Ok(number),
            _ => Err(format!(
                "expected a number above 0, up to {most:.0}, found `{text}`"
            )),
        }
    };
    let Some((low, high)) = text.split_once("..") else {
        return number(text).map(Estimate::exact);
    };
    let (low, high) = (number(low)?, number(high)?);
    match low <= high {
        true => Ok(Estimate::between(low, high)),
        false => Err(format!(
            "expected the smaller number first, found `{text}`; write {high}..{low}"
        )),
    }
}

/// A share above 0, up to 1 or to 100 %, or a range of them.
pub fn share(text: &str) -> Result<Estimate, String> {
    let (digits, whole) = match text.trim_end().strip_suffix('%') {
        Some(digits) => (digits, 100.0),
        None => (text, 1.0),
    };
    let found = range(digits, whole).map_err(|fault| match whole {
        1.0 => format!("{fault}; write a share as .05 or as 5%"),
        _ => fault,
    })?;
    Ok(Estimate::new(
        found.value / whole,
        found.low / whole,
        found.high / whole,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_come_in_every_unit() {
        for (text, inches) in [
            ("200in", 200.0),
            ("200 inches", 200.0),
            ("1\"", 1.0),
            ("2.5ft", 30.0),
            ("2.54cm", 1.0),
            ("25.4mm", 1.0),
            ("5.08 m", 200.0),
        ] {
            let found = length(text).unwrap().0;
            assert!((found.value - inches).abs() < 1e-9, "{text}: {found:?}");
        }
        let found = length("190..210in").unwrap().0;
        assert_eq!((found.low, found.value, found.high), (190.0, 200.0, 210.0));
        let piece = counted("98 / 2.54cm").unwrap().0;
        assert!((piece.measured - 1.0).abs() < 1e-12 && piece.counted == 98.0);
        assert_eq!(share("5%"), share(".05"));
        assert_eq!(share("2..10%").unwrap().high, 0.1);
    }

    /// What is written, and something of what is said.
    #[test]
    fn what_cannot_be_meant_is_refused_with_advice() {
        type Parse<'a> = &'a dyn Fn(&str) -> Result<(), String>;
        let cases: [(Parse, &str, &str); 19] = [
            (&|t| counted(t).map(drop), "98", "write 98/1in"),
            (&|t| counted(t).map(drop), "98/1", "write 1in or 1cm"),
            (
                &|t| counted(t).map(drop),
                "a/1in",
                "whole number of sheets, found `a`",
            ),
            (&|t| counted(t).map(drop), "9.5/1in", "whole number"),
            (&|t| counted(t).map(drop), "-5/1in", "whole number"),
            (&|t| counted(t).map(drop), "98/0in", "above 0"),
            (&|t| counted(t).map(drop), "98/1..2in", "one length"),
            (&|t| counted(t).map(drop), "98/1mm", "found 2489; check"),
            (&|t| counted(t).map(drop), "98/1yd", "found `yd`"),
            (&|t| length(t).map(drop), "1e9in", "up to 100000"),
            (&|t| length(t).map(drop), "nan in", "above 0"),
            (&|t| length(t).map(drop), "2,5cm", "write a point"),
            (&|t| length(t).map(drop), "", "with its unit"),
            (&|t| range(t, 9.0).map(drop), "3..2", "write 2..3"),
            (&|t| range(t, 9.0).map(drop), "2-3", "as in 8..14"),
            (&|t| range(t, 9.0).map(drop), "10", "up to 9"),
            (&|t| range(t, 9.0).map(drop), "NaN", "above 0"),
            (&|t| share(t).map(drop), "5", "as .05 or as 5%"),
            (&|t| share(t).map(drop), "120%", "up to 100"),
        ];
        for (parse, text, says) in cases {
            let fault = parse(text).expect_err(text);
            assert!(fault.contains(says), "{text}: {fault}");
        }
    }
}
