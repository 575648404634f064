//! Sheet checks: what must hold between a sheet's fields (`part <= parts`, `to - from <= 60`), weighed as evidence,
//! never as a bar.

use super::candidates::Values;
use super::fault::did_you_mean;
use super::kind::FieldSpec;
use super::meaning::{Measure, Unit, measure};
use super::slot::Slot;

/// How much less probable values are that break a check: sheets that break one are perhaps one in fifty.
const BROKEN: f64 = 0.02;
/// Fields that one check may name: every combination of their values is weighed.
const MOST_FIELDS: usize = 3;
/// Longest check in bytes.
const MAX_LENGTH: usize = 300;

/// A comparison between two sums of fields and constants.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SheetCheck {
    /// As it is written.
    text: String,
    left: Vec<Term>,
    comparison: Comparison,
    right: Vec<Term>,
    /// The fields named, each once: indices into the book's fields.
    fields: Vec<usize>,
}

/// Something added to a side, or taken off it.
#[derive(Debug, Clone, PartialEq)]
struct Term {
    minus: bool,
    operand: Operand,
}

#[derive(Debug, Clone, PartialEq)]
enum Operand {
    Field(usize),
    Number(i64),
    Text(String),
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
    /// Reads `to - from <= 60`: fields, whole numbers and texts in single quotes, `+` and `-` with blanks round them, a
    /// sign of comparison.
    pub fn parse(text: &str, fields: &[FieldSpec]) -> Result<Self, SenseFault> {
        if text.len() > MAX_LENGTH {
            return Err((
                0,
                format!("a check of at most {MAX_LENGTH} bytes"),
                format!("{} bytes", text.len()),
                "Split it into several checks".to_owned(),
            ));
        }
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
        let behind = at + sign.len();
        let left = side(&text[..at], 0, fields)?;
        let right = side(&text[behind..], behind, fields)?;
        let mut named = Vec::new();
        for term in left.iter().chain(&right) {
            if let Operand::Field(field) = term.operand
                && !named.contains(&field)
            {
                named.push(field);
            }
        }
        if named.is_empty() || named.len() > MOST_FIELDS {
            return Err((
                0,
                format!("at least one field, and at most {MOST_FIELDS}"),
                format!("`{text}`"),
                "Compare a field with a field, a number or a text; split longer checks".to_owned(),
            ));
        }
        Ok(Self {
            text: text.trim().to_owned(),
            left,
            comparison,
            right,
            fields: named,
        })
    }

    pub fn text(&self) -> &str {
        &self.text
    }

    /// The fields that it names: indices into the book's fields.
    pub fn fields(&self) -> &[usize] {
        &self.fields
    }

    /// The field that `field` must not exceed by this check.
    pub fn limit_of(&self, field: usize) -> Option<usize> {
        let alone = |side: &[Term]| match side {
            [
                Term {
                    minus: false,
                    operand: Operand::Field(field),
                },
            ] => Some(*field),
            _ => None,
        };
        let (left, right) = (alone(&self.left)?, alone(&self.right)?);
        let (low, high) = match self.comparison {
            Comparison::Less | Comparison::LessOrEqual => (left, right),
            Comparison::Greater | Comparison::GreaterOrEqual => (right, left),
            Comparison::Equal | Comparison::Unequal => return None,
        };
        (low == field).then_some(high)
    }

    /// Reweighs the values of the slots that it concerns, record by record; returns the natural log of what it says for
    /// the rule. `values` has one entry a slot.
    pub fn weigh(&self, values: &mut [Values], slots: &[Slot]) -> f64 {
        let records = slots.iter().map(|slot| slot.place.record).max();
        let mut gain = 0.0;
        for record in 0..=records.unwrap_or(0) {
            if let Some(concerned) = self.slots_of(record, values, slots) {
                gain += self.weigh_one(values, slots, &concerned);
            }
        }
        gain
    }

    /// The slots of the fields named, in one record; a record takes what it does not have itself from the first one.
    /// `None` where it has none of its own, or one is in neither.
    fn slots_of(&self, record: usize, values: &[Values], slots: &[Slot]) -> Option<Vec<usize>> {
        let of = |field: usize, record: usize| {
            let read = |&at: &usize| values[at].values.iter().map(|v| v.weight).sum::<f64>();
            (0..slots.len())
                .filter(|&at| slots[at].place.of() == (field, record))
                .max_by(|a, b| read(a).total_cmp(&read(b)))
        };
        let own = self.fields.iter().any(|&field| of(field, record).is_some());
        own.then(|| {
            let fields = self.fields.iter();
            fields
                .map(|&field| of(field, record).or_else(|| of(field, 0)))
                .collect()
        })?
    }

    /// Whether it holds for a record's values; `None` where one of them is missing or is not what can be compared.
    pub fn verdict<'v>(
        &self,
        fields: &[FieldSpec],
        value_of: impl Fn(&str) -> Option<&'v str>,
    ) -> Option<bool> {
        let known: Vec<Known> = self
            .fields
            .iter()
            .map(|&field| Some(Known::new(&fields[field], value_of(&fields[field].name)?)))
            .collect::<Option<_>>()?;
        self.holds(&known.iter().collect::<Vec<_>>())
    }

    fn weigh_one(&self, values: &mut [Values], slots: &[Slot], concerned: &[usize]) -> f64 {
        // What each value is, and its share; "something else" last, of which nothing is known.
        let shares: Vec<Vec<(Option<Known>, f64)>> = concerned
            .iter()
            .map(|&at| {
                let spec = &slots[at].spec;
                let known = values[at].values.iter();
                let mut shares: Vec<_> = known
                    .map(|v| (Some(Known::new(spec, &v.value)), v.weight))
                    .collect();
                let rest = 1.0 - shares.iter().map(|share| share.1).sum::<f64>();
                shares.push((None, rest.max(0.0)));
                shares
            })
            .collect();
        let mut kept: Vec<Vec<f64>> = shares.iter().map(|s| vec![0.0; s.len()]).collect();
        let mut gain = 0.0;
        let mut chosen = vec![0; concerned.len()];
        loop {
            let share: f64 = chosen.iter().zip(&shares).map(|(&at, s)| s[at].1).product();
            let known: Option<Vec<&Known>> = chosen
                .iter()
                .zip(&shares)
                .map(|(&at, s)| s[at].0.as_ref())
                .collect();
            let broken = known.is_some_and(|known| self.holds(&known) == Some(false));
            let share = if broken { share * BROKEN } else { share };
            gain += share;
            for (kept, &at) in kept.iter_mut().zip(&chosen) {
                kept[at] += share;
            }
            // The next combination, as an odometer counts.
            let Some(turns) = (0..chosen.len()).find(|&at| chosen[at] + 1 < shares[at].len())
            else {
                break;
            };
            chosen[turns] += 1;
            chosen[..turns].fill(0);
        }
        for (&at, kept) in concerned.iter().zip(&kept) {
            let values = &mut values[at].values;
            for (value, kept) in values.iter_mut().zip(kept) {
                value.weight = kept / gain;
            }
            values.sort_by(|a, b| b.weight.total_cmp(&a.weight));
        }
        gain.ln()
    }

    /// Whether it holds for these values of its fields; `None` where one of them is not what can be compared.
    fn holds(&self, values: &[&Known]) -> Option<bool> {
        let known = |field: usize| {
            let at = self.fields.iter().position(|&named| named == field);
            values[at.expect("a field of this check")]
        };
        let terms = || self.left.iter().chain(&self.right);
        let is_text = terms().any(|term| match &term.operand {
            Operand::Text(_) => true,
            Operand::Number(_) => false,
            Operand::Field(field) => known(*field).measure.is_none(),
        });
        if is_text {
            let text = |side: &[Term]| match side {
                [Term { operand, .. }] => Some(match operand {
                    Operand::Text(text) => text.clone(),
                    Operand::Number(number) => number.to_string(),
                    Operand::Field(field) => known(*field).text.clone(),
                }),
                _ => None,
            };
            let (left, right) = (text(&self.left)?, text(&self.right)?);
            return match self.comparison {
                Comparison::Equal => Some(left == right),
                Comparison::Unequal => Some(left != right),
                // Order among texts is a matter of filing rules.
                _ => None,
            };
        }
        // Two dates are compared to the day; with numbers or sums about, they count as years.
        let is_plain = self.left.len() == 1 && self.right.len() == 1;
        let days = is_plain
            && self.fields.len() == 2
            && self.fields.iter().all(|&field| known(field).is_date());
        let unit = if days { Unit::Day } else { Unit::Year };
        let sum = |side: &[Term]| {
            side.iter().try_fold((0.0, 0.0), |(low, high), term| {
                let (least, most) = match &term.operand {
                    Operand::Number(number) => (*number as f64, *number as f64),
                    Operand::Field(field) => known(*field).measure.as_ref()?.span(unit),
                    Operand::Text(_) => return None,
                };
                Some(match term.minus {
                    true => (low - most, high - least),
                    false => (low + least, high + most),
                })
            })
        };
        let (mut left, mut right) = (sum(&self.left)?, sum(&self.right)?);
        // A year shortened to two digits lies in the century of its partner.
        if is_plain && self.fields.iter().all(|&field| known(field).is_year) {
            lift(&mut left, right);
            lift(&mut right, left);
        }
        // Spans that overlap may hold either way.
        Some(match self.comparison {
            Comparison::Less => left.0 < right.1,
            Comparison::LessOrEqual => left.0 <= right.1,
            Comparison::Equal => left.0 <= right.1 && right.0 <= left.1,
            Comparison::Unequal => !(left.0 == left.1 && left == right),
            Comparison::GreaterOrEqual => left.1 >= right.0,
            Comparison::Greater => left.1 > right.0,
        })
    }
}

/// What a check has to know of a value.
struct Known {
    text: String,
    measure: Option<Measure>,
    is_year: bool,
}

impl Known {
    fn new(spec: &FieldSpec, value: &str) -> Self {
        Self {
            text: crate::value::comparison_form(value),
            measure: measure(spec, value),
            is_year: spec.kind == super::FieldKind::Year,
        }
    }

    fn is_date(&self) -> bool {
        matches!(self.measure, Some(Measure::Days { .. }))
    }
}

/// Puts a year of two digits into the century of another one.
fn lift(year: &mut (f64, f64), partner: (f64, f64)) {
    const CENTURY: f64 = 100.0;
    if year.0 < CENTURY && partner.0 >= CENTURY {
        let century = (partner.0 / CENTURY).floor() * CENTURY;
        *year = (year.0 + century, year.1 + century);
    }
}

/// Reads one side: terms with `+` and `-` between them.
fn side(text: &str, offset: usize, fields: &[FieldSpec]) -> Result<Vec<Term>, SenseFault> {
    let mut terms = Vec::new();
    let (mut start, mut minus) = (0, false);
    let signs = [" + ", " - "];
    loop {
        let rest = &text[start..];
        let next = signs
            .iter()
            .filter_map(|sign| Some((rest.find(sign)?, *sign)))
            .min();
        let end = next.map_or(text.len(), |(at, _)| start + at);
        let operand = operand(&text[start..end], offset + start, fields)?;
        terms.push(Term { minus, operand });
        let Some((_, sign)) = next else {
            return Ok(terms);
        };
        minus = sign == " - ";
        start = end + sign.len();
    }
}

fn operand(text: &str, offset: usize, fields: &[FieldSpec]) -> Result<Operand, SenseFault> {
    let offset = offset + (text.len() - text.trim_start().len());
    let word = text.trim();
    if let Ok(number) = word.parse() {
        return Ok(Operand::Number(number));
    }
    let quoted = word.strip_prefix('\'').and_then(|w| w.strip_suffix('\''));
    if let Some(text) = quoted {
        return Ok(Operand::Text(crate::value::comparison_form(text)));
    }
    if let Some(field) = fields.iter().position(|field| field.name == word) {
        return Ok(Operand::Field(field));
    }
    let names = fields.iter().map(|field| field.name.as_str());
    let advice = match did_you_mean(word, names) {
        Some(near) => format!("Write `{near}`"),
        None => {
            "Declare the field with [[field]], or write a whole number, or a text in single quotes"
                .to_owned()
        }
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
