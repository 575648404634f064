//! Amounts of money as ledgers and payrolls print them, exact to the last digit.

use regex::{Captures, Regex};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::sync::LazyLock;
use thiserror::Error;

/// Digits that a number of 64 bits surely holds.
const MOST_DIGITS: usize = 18;

/// The sign before the decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DecimalSign {
    Point,
    Comma,
}

/// An exact amount: `digits` divided by ten to the power of `decimals`.
///
/// ```
/// use headword::value::Amount;
/// let read = Amount::read("(1,234.50)", None)?;
/// assert_eq!(read.amount.to_string(), "-1234.50");
/// assert_eq!((read.amount.digits, read.amount.decimals), (-123_450, 2));
/// # Ok::<(), headword::value::AmountError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Amount {
    pub digits: i64,
    /// How many of the digits stand behind the decimal sign.
    pub decimals: u32,
    /// The currency's sign or code of three letters, as typed, in upper case.
    pub currency: Option<String>,
}

/// An amount as it was typed, with what else it may mean.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadAmount {
    pub amount: Amount,
    /// `1,234` is one thousand, or else one and a fraction, where nobody says which sign the client's decimals have.
    pub alternative: Option<Amount>,
}

/// Why a text is no amount.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum AmountError {
    #[error(
        "expected an amount as in 1,234.56, $12.50 or (12.50), found {found:?}: write digits, and the sign before the decimals"
    )]
    NotAnAmount { found: String },
    #[error(
        "expected thousands and decimals set off by different signs, three digits to a thousand, found {found:?}: look at the commas and points again"
    )]
    Grouping { found: String },
    #[error(
        "expected one minus sign, CR, DR or brackets, found {found:?}: look at both ends of the amount again"
    )]
    Signs { found: String },
    #[error("expected at most {MOST_DIGITS} digits, found {found}: look at the amount again")]
    TooLong { found: usize },
}

/// Currency signs on typewriters and line printers; others are given as codes (ISO 4217 has three letters).
const SIGNS: &str = "$£€¥";

static FORM: LazyLock<Regex> = LazyLock::new(|| {
    let currency = format!(r"[{SIGNS}]|[A-Z]{{3}}\b");
    let form = format!(
        r"(?i)^(?<open>\(\s*)?(?<minus>[-−])?\s*(?<before>{currency})?\s*(?<minus2>[-−])?\s*(?<digits>[0-9](?:[0-9.,' \u{{a0}}]*[0-9])?|[.,][0-9]{{1,2}})\s*(?<mark>-|−|CR|DR)?\s*(?<behind>{currency})?(?<close>\s*\))?\s*(?<mark2>CR|DR)?$"
    );
    Regex::new(&form).expect("the pattern is valid")
});

/// What a slot for an amount takes, in the `regex` crate's syntax.
pub fn amount_pattern() -> &'static str {
    concat!(
        r"(?i)(?:-?(?:[$£€]|[A-Z]{3} )?[0-9]{1,3}(?:[.,]?[0-9]{3}){0,3}(?:[.,][0-9]{2})?(?: ?CR|-)?",
        r"|\([0-9]{1,3}(?:[.,]?[0-9]{3}){0,2}(?:[.,][0-9]{2})?\))",
    )
}

impl Amount {
    /// Reads an amount. `decimal_sign`: the sign before the client's decimals, if known. Brackets, a minus sign on
    /// either side and `CR` make it negative; `DR` does not.
    pub fn read(typed: &str, decimal_sign: Option<DecimalSign>) -> Result<ReadAmount, AmountError> {
        let typed = typed.trim();
        let not_an_amount = || AmountError::NotAnAmount {
            found: typed.to_owned(),
        };
        let found = FORM.captures(typed).ok_or_else(not_an_amount)?;
        let is_bracketed = found.name("open").is_some();
        let signs = signs(&found);
        let has_two_currencies = found.name("before").is_some() && found.name("behind").is_some();
        if is_bracketed != found.name("close").is_some() || has_two_currencies {
            return Err(not_an_amount());
        }
        if signs.len() + usize::from(is_bracketed) > 1 {
            return Err(AmountError::Signs {
                found: typed.to_owned(),
            });
        }
        let is_negative = is_bracketed || signs.first().is_some_and(|sign| *sign != "DR");
        let currency = found.name("before").or(found.name("behind"));
        let currency = currency.map(|currency| currency.as_str().to_uppercase());
        let mut ways =
            ways(&found["digits"], decimal_sign)
                .into_iter()
                .map(|(digits, decimals)| Self {
                    digits: if is_negative { -digits } else { digits },
                    decimals,
                    currency: currency.clone(),
                });
        let count = found["digits"].chars().filter(char::is_ascii_digit).count();
        if count > MOST_DIGITS {
            return Err(AmountError::TooLong { found: count });
        }
        let amount = ways.next().ok_or_else(|| AmountError::Grouping {
            found: typed.to_owned(),
        })?;
        Ok(ReadAmount {
            amount,
            alternative: ways.next(),
        })
    }

    /// The amount in units of ten to the power of minus `decimals`; none where that loses a digit.
    pub fn in_units(&self, decimals: u32) -> Option<i64> {
        match decimals.checked_sub(self.decimals) {
            Some(more) => self.digits.checked_mul(10_i64.checked_pow(more)?),
            None => {
                let divisor = 10_i64.checked_pow(self.decimals - decimals)?;
                (self.digits % divisor == 0).then(|| self.digits / divisor)
            }
        }
    }
}

/// The marks of a negative or positive amount, in upper case.
fn signs(found: &Captures) -> Vec<String> {
    ["minus", "minus2", "mark", "mark2"]
        .into_iter()
        .filter_map(|name| Some(found.name(name)?.as_str().to_uppercase()))
        .collect()
}

/// The digits without signs, and how many are decimals, in every way that the signs allow, the likeliest first.
fn ways(written: &str, decimal_sign: Option<DecimalSign>) -> Vec<(i64, u32)> {
    let digits: String = written.chars().filter(char::is_ascii_digit).collect();
    let Ok(value) = digits.parse::<i64>() else {
        return Vec::new();
    };
    let whole = is_grouped(written).then_some((value, 0));
    let fraction = [DecimalSign::Point, DecimalSign::Comma]
        .into_iter()
        .filter(|&sign| decimal_sign.is_none_or(|known| known == sign))
        .find_map(|sign| {
            let sign = match sign {
                DecimalSign::Point => '.',
                DecimalSign::Comma => ',',
            };
            let (before, behind) = written.rsplit_once(sign)?;
            let is_fraction = behind.bytes().all(|b| b.is_ascii_digit())
                && !before.contains(sign)
                && (before.is_empty() || is_grouped(before));
            is_fraction.then_some((value, behind.len() as u32))
        });
    // With the client's own sign there is no doubt; else three digits behind a lone sign are a thousand more often.
    match (whole, fraction, decimal_sign) {
        (Some(_), Some(fraction), Some(_)) => vec![fraction],
        (whole, fraction, _) => whole.into_iter().chain(fraction).collect(),
    }
}

/// Whether the digits are all together, or all in groups of three set off by one sign.
fn is_grouped(written: &str) -> bool {
    let Some(sign) = written.chars().find(|c| !c.is_ascii_digit()) else {
        return true;
    };
    let mut groups = written.split(sign);
    let first = groups.next().map_or(0, str::len);
    (1..=3).contains(&first)
        && groups.all(|group| group.len() == 3 && group.bytes().all(|b| b.is_ascii_digit()))
}

impl fmt::Display for Amount {
    /// A plain decimal number with a point, the currency before it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(currency) = &self.currency {
            let blank = if currency.len() == 3 && currency.is_ascii() {
                " "
            } else {
                ""
            };
            write!(f, "{currency}{blank}")?;
        }
        let sign = if self.digits < 0 { "-" } else { "" };
        let width = self.decimals as usize + 1;
        let digits = format!("{:0width$}", self.digits.unsigned_abs());
        let (whole, fraction) = digits.split_at(digits.len() - self.decimals as usize);
        let point = if fraction.is_empty() { "" } else { "." };
        write!(f, "{sign}{whole}{point}{fraction}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::value::generated;

    #[test]
    fn reads_and_prints() {
        use DecimalSign::{Comma, Point};
        for (typed, sign, printed, alternative) in [
            ("1,234.56", None, "1234.56", ""),
            ("1.234,56", None, "1234.56", ""),
            ("1 234,56", None, "1234.56", ""),
            ("1'234.56", None, "1234.56", ""),
            ("1,234,567", None, "1234567", ""),
            ("1,234", None, "1234", "1.234"),
            ("1.234", None, "1234", "1.234"),
            ("1.234", Some(Point), "1.234", ""),
            ("1.234", Some(Comma), "1234", ""),
            ("1,234", Some(Comma), "1.234", ""),
            ("1,234", Some(Point), "1234", ""),
            ("12,5", None, "12.5", ""),
            ("1234,56", None, "1234.56", ""),
            ("1,2345", None, "1.2345", ""),
            ("1234.567", None, "1234.567", ""),
            (".50", None, "0.50", ""),
            ("0.05", None, "0.05", ""),
            ("-0.05", None, "-0.05", ""),
            ("$12.50", None, "$12.50", ""),
            ("-$12.50", None, "$-12.50", ""),
            ("$-12.50", None, "$-12.50", ""),
            ("(12.50)", None, "-12.50", ""),
            ("( $ 12.50 )", None, "$-12.50", ""),
            ("12.50-", None, "-12.50", ""),
            ("12.50 CR", None, "-12.50", ""),
            ("12.50cr", None, "-12.50", ""),
            ("12.50 DR", None, "12.50", ""),
            ("eur 12,50", None, "EUR 12.50", ""),
            ("12,50 EUR", None, "EUR 12.50", ""),
            ("£3", None, "£3", ""),
            ("999999999999999999", None, "999999999999999999", ""),
        ] {
            let read =
                Amount::read(typed, sign).unwrap_or_else(|error| panic!("{typed:?}: {error}"));
            assert_eq!(read.amount.to_string(), printed, "{typed:?}");
            let other = read
                .alternative
                .map_or(String::new(), |amount| amount.to_string());
            assert_eq!(other, alternative, "{typed:?}");
            let again = Amount::read(printed, Some(Point)).unwrap().amount;
            assert_eq!(again, read.amount, "{printed:?} read again");
        }
    }

    #[test]
    fn refuses_what_is_no_amount() {
        for (typed, message) in [
            ("", "expected an amount"),
            ("$", "expected an amount"),
            ("TOTAL", "expected an amount"),
            ("12.50)", "expected an amount"),
            ("(12.50", "expected an amount"),
            ("-12.50-", "one minus sign"),
            ("(12.50) CR", "one minus sign"),
            ("$12 USD", "expected an amount"),
            ("1,23,4", "different signs"),
            ("1,234.567.89", "different signs"),
            ("1.234.56", "different signs"),
            ("1234,567,890", "different signs"),
            ("٣", "expected an amount"),
            ("9999999999999999999999", "at most 18 digits, found 22"),
        ] {
            let fault = Amount::read(typed, None).expect_err(typed).to_string();
            assert!(fault.contains(message), "{typed:?}: {fault}");
        }
    }

    #[test]
    fn converts_to_minor_units_without_loss() {
        let amount = Amount::read("12.5", None).unwrap().amount;
        assert_eq!(amount.in_units(2), Some(1_250));
        assert_eq!(amount.in_units(1), Some(125));
        assert_eq!(amount.in_units(0), None);
        assert_eq!(amount.in_units(40), None);
    }

    /// Whatever a slot takes is an amount, or one whose signs do not fit each other.
    #[test]
    fn reads_what_its_pattern_takes() {
        generated::check(amount_pattern(), 60, |text| {
            !matches!(
                Amount::read(text, None),
                Err(AmountError::NotAnAmount { .. })
            )
        });
    }
}
