//! Sheet checks: what must hold between a sheet's fields (`part <= parts`), weighed as evidence, never as a bar.

use super::candidates::Values;
use super::fault::did_you_mean;
use super::kind::{FieldKind, FieldSpec};

/// How much less probable values are that break a check: sheets that break one are perhaps one in fifty.
const BROKEN: f64 = 0.02;

/// A comparison between two fields, or a field and a number.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SheetCheck {
    left: Operand,
    comparison: Comparison,
    right: Operand,
}

/// A value as a number, where it is one, and its share.
type Share = (Option<i64>, f64);

#[derive(Debug, Clone, Copy, PartialEq)]
enum Operand {
    Field(usize),
    Number(i64),
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Comparison {
    Less,
    LessOrEqual,
    Equal,
    Unequal,
    GreaterOrEqual,
    Greater,
}

/// Longer signs first, so that `<=` is not taken for `<`.
const SIGNS: [(&str, Comparison); 6] = [
    ("<=", Comparison::LessOrEqual),
    (">=", Comparison::GreaterOrEqual),
    ("!=", Comparison::Unequal),
    ("<", Comparison::Less),
    (">", Comparison::Greater),
    ("=", Comparison::Equal),
];

/// A fault of a check: byte offset into it, expected, found, advice.
pub(super) type SenseFault = (usize, String, String, String);

impl SheetCheck {
    /// Reads `part <= parts`: a field or a whole number, a sign, a field or a whole number.
    pub fn parse(text: &str, fields: &[FieldSpec]) -> Result<Self, SenseFault> {
        let sign = SIGNS
            .iter()
            .filter_map(|&(sign, comparison)| Some((text.find(sign)?, sign, comparison)))
            .min_by_key(|&(at, sign, _)| (at, std::cmp::Reverse(sign.len())));
        let Some((at, sign, comparison)) = sign else {
            return Err((
                0,
                "two fields with a comparison between them".to_owned(),
                format!("`{text}`"),
                "Write it like `part <= parts`, with one of < <= = != >= >".to_owned(),
            ));
        };
        let (left, right) = (&text[..at], &text[at + sign.len()..]);
        let left_operand = operand(left, 0, fields)?;
        let right_operand = operand(right, at + sign.len(), fields)?;
        if let (Operand::Number(_), Operand::Number(_)) = (left_operand, right_operand) {
            return Err((
                0,
                "at least one field".to_owned(),
                format!("`{text}`"),
                "Compare a field with a field or a number".to_owned(),
            ));
        }
        Ok(Self {
            left: left_operand,
            comparison,
            right: right_operand,
        })
    }

    /// The field that `field` must not exceed by this check.
    pub fn limit_of(&self, field: usize) -> Option<usize> {
        match (self.left, self.comparison, self.right) {
            (
                Operand::Field(low),
                Comparison::Less | Comparison::LessOrEqual,
                Operand::Field(high),
            )
            | (
                Operand::Field(high),
                Comparison::Greater | Comparison::GreaterOrEqual,
                Operand::Field(low),
            ) if low == field => Some(high),
            _ => None,
        }
    }

    /// Reweighs the values of the fields it names; returns the natural log of what it says for the rule. `values` has
    /// one entry a field of the rule file.
    pub fn weigh(&self, values: &mut [Values], fields: &[FieldSpec]) -> f64 {
        let (left, right) = (
            self.shares(self.left, values),
            self.shares(self.right, values),
        );
        let factor = |l: Option<i64>, r: Option<i64>| match self.holds(l, r, fields) {
            Some(false) => BROKEN,
            _ => 1.0,
        };
        // What each value's partners leave of it; "something else" on the other side breaks nothing.
        let kept = |own: &[Share], partners: &[Share], turned: bool| -> Vec<f64> {
            let rest = 1.0 - partners.iter().map(|p| p.1).sum::<f64>();
            own.iter()
                .map(|&(value, _)| {
                    let with = |partner: Option<i64>| match turned {
                        false => factor(value, partner),
                        true => factor(partner, value),
                    };
                    rest + partners
                        .iter()
                        .map(|&(p, share)| share * with(p))
                        .sum::<f64>()
                })
                .collect()
        };
        let left_kept = kept(&left, &right, false);
        let right_kept = kept(&right, &left, true);
        let gain = total(&left, &left_kept);
        self.apply(self.left, values, &left_kept, gain);
        self.apply(self.right, values, &right_kept, total(&right, &right_kept));
        gain.ln()
    }

    fn shares(&self, operand: Operand, values: &[Values]) -> Vec<Share> {
        match operand {
            Operand::Number(number) => vec![(Some(number), 1.0)],
            Operand::Field(field) => values[field]
                .values
                .iter()
                .map(|v| (number(&v.value), v.weight))
                .collect(),
        }
    }

    fn apply(&self, operand: Operand, values: &mut [Values], kept: &[f64], total: f64) {
        if let Operand::Field(field) = operand {
            let values = &mut values[field].values;
            for (value, kept) in values.iter_mut().zip(kept) {
                value.weight *= kept / total;
            }
            values.sort_by(|a, b| b.weight.total_cmp(&a.weight));
        }
    }

    /// `None` where one side is no number.
    fn holds(&self, left: Option<i64>, right: Option<i64>, fields: &[FieldSpec]) -> Option<bool> {
        let (mut l, mut r) = (left?, right?);
        // A year shortened to two digits lies in the century of its partner.
        if is_year(self.left, fields) && is_year(self.right, fields) {
            if r < 100 && l >= 100 {
                r += l / 100 * 100;
            } else if l < 100 && r >= 100 {
                l += r / 100 * 100;
            }
        }
        Some(match self.comparison {
            Comparison::Less => l < r,
            Comparison::LessOrEqual => l <= r,
            Comparison::Equal => l == r,
            Comparison::Unequal => l != r,
            Comparison::GreaterOrEqual => l >= r,
            Comparison::Greater => l > r,
        })
    }
}

fn total(shares: &[Share], kept: &[f64]) -> f64 {
    let rest = 1.0 - shares.iter().map(|s| s.1).sum::<f64>();
    rest + shares.iter().zip(kept).map(|(s, k)| s.1 * k).sum::<f64>()
}

fn number(text: &str) -> Option<i64> {
    text.trim().parse().ok()
}

fn is_year(operand: Operand, fields: &[FieldSpec]) -> bool {
    matches!(operand, Operand::Field(field) if fields[field].kind == FieldKind::Year)
}

fn operand(text: &str, offset: usize, fields: &[FieldSpec]) -> Result<Operand, SenseFault> {
    let offset = offset + (text.len() - text.trim_start().len());
    let word = text.trim();
    if let Some(number) = number(word) {
        return Ok(Operand::Number(number));
    }
    if let Some(field) = fields.iter().position(|field| field.name == word) {
        return Ok(Operand::Field(field));
    }
    let names = fields.iter().map(|field| field.name.as_str());
    let advice = match did_you_mean(word, names) {
        Some(near) => format!("Write `{near}`"),
        None => "Declare the field with [[field]], or compare with a whole number".to_owned(),
    };
    let found = if word.is_empty() {
        "nothing".to_owned()
    } else {
        format!("`{word}`")
    };
    Err((
        offset,
        "the name of a field or a whole number".to_owned(),
        found,
        advice,
    ))
}
