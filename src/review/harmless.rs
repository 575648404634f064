//! Disputes over the same harmless difference, gathered so that they can be settled in one go.

use super::compare::{Compared, Comparison, Place};
use super::marks::marked;
use super::merge::{Decision, Take};
use super::same::Comparer;
use crate::job::Sameness;
use crate::journal::KeyedValue;
use crate::value::{SheetId, without_diacritics};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// In what alone two values differ that mean the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Harmless {
    Case,
    Blanks,
    Punctuation,
    Diacritics,
    DateForm,
    /// In several of them.
    Several,
}

/// A dispute in a group.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Member {
    pub sheet: SheetId,
    pub at: Place,
    pub first: String,
    pub second: String,
    /// Whether the first keying has the group's first form.
    pub in_order: bool,
}

/// Disputes of one field over the same difference.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct HarmlessGroup {
    pub field: String,
    pub sort: Harmless,
    /// The two forms, reduced to what they have in common over the group: the differing signs, or a date's digits as
    /// `0`.
    pub forms: [String; 2],
    pub members: Vec<Member>,
}

impl HarmlessGroup {
    /// What is decided of each member when one form, 0 or 1, is taken throughout.
    pub fn take(&self, form: usize) -> impl Iterator<Item = (&SheetId, Decision)> {
        self.members.iter().map(move |member| {
            let take = match member.in_order == (form == 0) {
                true => Take::First,
                false => Take::Second,
            };
            let at = member.at.clone();
            (&member.sheet, Decision { at, take })
        })
    }
}

/// Gathers the disputes that are harmless, the largest groups first; each member can still be looked at and left out.
pub fn harmless_groups<'a>(
    sheets: impl IntoIterator<Item = (&'a SheetId, &'a Comparison)>,
    comparer: &Comparer,
) -> Vec<HarmlessGroup> {
    let mut groups: BTreeMap<(String, Harmless, [String; 2]), Vec<Member>> = BTreeMap::new();
    for (sheet, comparison) in sheets {
        for compared in comparison.disputes() {
            let Some((field, first, second)) = texts(compared) else {
                continue;
            };
            let Some(sort) = sort(comparer, field, first, second) else {
                continue;
            };
            let mut forms = forms(sort, first, second);
            let in_order = forms[0] <= forms[1];
            if !in_order {
                forms.reverse();
            }
            let member = Member {
                sheet: sheet.clone(),
                at: compared.at.clone(),
                first: first.to_owned(),
                second: second.to_owned(),
                in_order,
            };
            groups
                .entry((field.to_owned(), sort, forms))
                .or_default()
                .push(member);
        }
    }
    let group = |((field, sort, forms), members)| HarmlessGroup {
        field,
        sort,
        forms,
        members,
    };
    let mut groups: Vec<HarmlessGroup> = groups.into_iter().map(group).collect();
    groups.sort_by_key(|group| std::cmp::Reverse(group.members.len()));
    groups
}

/// The field and both texts of a dispute over one.
fn texts(compared: &Compared) -> Option<(&str, &str, &str)> {
    match (&compared.at, &compared.first, &compared.second) {
        (Place::Field(_, field), Some(KeyedValue::Text(first)), Some(KeyedValue::Text(second))) => {
            Some((field, first, second))
        }
        _ => None,
    }
}

/// In what alone two texts differ; none where the difference may matter.
fn sort(comparer: &Comparer, field: &str, first: &str, second: &str) -> Option<Harmless> {
    let none = Sameness {
        case: false,
        blanks: false,
        punctuation: false,
        dates: false,
    };
    let alone = [
        (Harmless::Case, Sameness { case: true, ..none }),
        (
            Harmless::Blanks,
            Sameness {
                blanks: true,
                ..none
            },
        ),
        (
            Harmless::Punctuation,
            Sameness {
                punctuation: true,
                ..none
            },
        ),
        (
            Harmless::DateForm,
            Sameness {
                dates: true,
                ..none
            },
        ),
    ];
    for (sort, same) in alone {
        if comparer.with(same).same_text(field, first, second) {
            return Some(sort);
        }
    }
    let (plain_first, plain_second) = (without_diacritics(first), without_diacritics(second));
    if plain_first == plain_second {
        return Some(Harmless::Diacritics);
    }
    let lenient = comparer.lenient();
    lenient
        .same_text(field, &plain_first, &plain_second)
        .then_some(Harmless::Several)
}

/// What both texts look like as one of the many that differ so.
fn forms(sort: Harmless, first: &str, second: &str) -> [String; 2] {
    match sort {
        Harmless::Case => [first, second].map(capitals),
        Harmless::DateForm => [first, second].map(|text| {
            let digit = |c: char| if c.is_ascii_digit() { '0' } else { c };
            text.chars().map(digit).collect()
        }),
        _ => marked(first, second).map(|runs| {
            let differing = runs.into_iter().filter(|run| run.differs);
            differing
                .map(|run| run.text)
                .collect::<Vec<_>>()
                .join(" … ")
        }),
    }
}

/// Runs of capitals as `A`, of small letters as `a`, the rest as it is.
fn capitals(text: &str) -> String {
    let mut shape = String::new();
    for c in text.chars() {
        let c = match c {
            c if c.is_uppercase() => 'A',
            c if c.is_lowercase() => 'a',
            c => c,
        };
        if !(c.is_alphabetic() && shape.ends_with(c)) {
            shape.push(c);
        }
    }
    shape
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::QualitySettings;
    use crate::journal::Keying;
    use crate::review::testing::keying;

    /// A comparer to which every sign counts.
    fn strict() -> Comparer {
        let settings = QualitySettings {
            same: Sameness {
                case: false,
                blanks: false,
                punctuation: false,
                dates: false,
            },
            ..QualitySettings::default()
        };
        Comparer::new(&settings, &[])
    }

    #[test]
    fn the_same_harmless_difference_is_gathered() {
        let pairs: [(Keying, Keying); 6] = [
            (keying("ST. JOHN", "1"), keying("ST JOHN", "1")),
            (keying("ST JAMES", "1"), keying("ST. JAMES", "1")),
            (keying("ST. MARY", "1"), keying("ST MARY", "1")),
            (keying("Pier", "1"), keying("PIER", "1")),
            // Real differences, and signs beside digits, are nobody's bulk.
            (keying("PIER", "1.5"), keying("PEER", "15")),
            (keying("MÜLLER", "1"), keying("MULLER", "1")),
        ];
        let comparer = strict();
        let compared: Vec<(SheetId, Comparison)> = pairs
            .iter()
            .enumerate()
            .map(|(n, (first, second))| {
                let comparison = Comparison::of(first, second, &comparer);
                (SheetId::new(format!("{n}.png")), comparison)
            })
            .collect();
        let groups = harmless_groups(compared.iter().map(|(sheet, c)| (sheet, c)), &comparer);
        let told: Vec<(Harmless, usize, [&str; 2])> = groups
            .iter()
            .map(|group| {
                (
                    group.sort,
                    group.members.len(),
                    [&*group.forms[0], &*group.forms[1]],
                )
            })
            .collect();
        assert_eq!(
            told,
            [
                (Harmless::Punctuation, 3, ["", "."]),
                (Harmless::Case, 1, ["A", "Aa"]),
                (Harmless::Diacritics, 1, ["U", "Ü"]),
            ]
        );
        let taken: Vec<Take> = groups[0]
            .take(1)
            .map(|(_, decision)| decision.take)
            .collect();
        assert_eq!(taken, [Take::First, Take::Second, Take::First]);
    }
}
