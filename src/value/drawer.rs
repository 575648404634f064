//! Drawer order: the order in which the sheets stood in the drawer, taken from their file names.

use std::cmp::Ordering;

/// Compares two file names the way a person counts: digits by their value, letters without regard to case, so that
/// `sheet-9` comes before `sheet-10`. Names that differ only in leading zeros or case keep a fixed order.
pub fn drawer_order(a: &str, b: &str) -> Ordering {
    let (mut left, mut right) = (a, b);
    loop {
        match (left.chars().next(), right.chars().next()) {
            (None, None) => return a.cmp(b),
            (None, Some(_)) => return Ordering::Less,
            (Some(_), None) => return Ordering::Greater,
            (Some(x), Some(y)) if x.is_ascii_digit() && y.is_ascii_digit() => {
                let (number_a, rest_a) = split_number(left);
                let (number_b, rest_b) = split_number(right);
                // Same length after the zeros: text order is number order, at any length.
                let order = number_a
                    .len()
                    .cmp(&number_b.len())
                    .then_with(|| number_a.cmp(number_b));
                if order != Ordering::Equal {
                    return order;
                }
                (left, right) = (rest_a, rest_b);
            }
            (Some(x), Some(y)) => {
                let order = x.to_lowercase().cmp(y.to_lowercase());
                if order != Ordering::Equal {
                    return order;
                }
                (left, right) = (&left[x.len_utf8()..], &right[y.len_utf8()..]);
            }
        }
    }
}

/// The leading digits without leading zeros, and the rest.
fn split_number(text: &str) -> (&str, &str) {
    let end = text
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(text.len());
    (text[..end].trim_start_matches('0'), &text[end..])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_as_people_do() {
        let mut names = [
            "b/s10.png",
            "b/s9.png",
            "b/S09a.png",
            "a/s100.png",
            "b/s9",
            "b/s010.png",
        ];
        names.sort_by(|a, b| drawer_order(a, b));
        assert_eq!(
            names,
            [
                "a/s100.png",
                "b/s9",
                "b/s9.png",
                "b/S09a.png",
                "b/s010.png",
                "b/s10.png"
            ]
        );
    }
}
