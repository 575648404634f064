//! Names of people as personnel strips give them.

mod brackets;
mod words;

use super::comparison_form;
use brackets::{Bracketed, take_brackets};
use serde::{Deserialize, Serialize};
use std::fmt::Write;
use words::{
    begins_surname, former_marker, is_particle, is_suffix, is_suffix_for_want_of_better, is_title,
};

/// A person's name in its parts, each as it was typed; empty where there is none.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct Person {
    /// `DR.`, `MR AND MRS`.
    pub title: String,
    /// Names and initials in their order, blanks between them.
    pub forenames: String,
    /// Without its quotes or brackets.
    pub nickname: String,
    /// With its particles: `DE LA CRUZ`; both where there are two: `GARCIA MARQUEZ`.
    pub surname: String,
    /// `JR`, `III`, `MD`.
    pub suffix: String,
    /// Maiden or other former name, without the word that announces it.
    pub former: String,
}

/// How names without a comma are typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NameOrder {
    /// `JOHN A SMITH`
    #[default]
    Direct,
    /// `SMITH JOHN A`
    SurnameFirst,
}

impl Person {
    /// Reads a name in inverted order (`DE LA CRUZ, MARIA J., JR`) where it has a comma, else in direct order
    /// (`MARIA J. DE LA CRUZ JR`). A comma that only sets off a suffix (`JOHN SMITH, JR`) does not invert.
    ///
    /// ```
    /// use headword::value::Person;
    /// let person = Person::read("DE LA CRUZ, MARIA J., JR.");
    /// assert_eq!(
    ///     (person.surname.as_str(), person.forenames.as_str(), person.suffix.as_str()),
    ///     ("DE LA CRUZ", "MARIA J.", "JR.")
    /// );
    /// assert_eq!(Person::read("MARIA J. DE LA CRUZ JR."), person);
    /// assert_eq!(person.inverted(), "DE LA CRUZ, MARIA J., JR.");
    /// assert_eq!(person.direct(), "MARIA J. DE LA CRUZ, JR.");
    /// ```
    pub fn read(typed: &str) -> Self {
        Self::readings(typed, NameOrder::Direct).swap_remove(0)
    }

    /// What a name may mean, the likeliest first, never none. There is a second one where two letters behind a surname
    /// may be a suffix, a title or initials (`SMITH, JR`), and where a name in brackets may be a nickname or a former name.
    pub fn readings(typed: &str, order: NameOrder) -> Vec<Self> {
        let (plain, bracketed) = take_brackets(typed);
        let mut person = Self::unbracketed(&plain, order);
        let mut either = None;
        for Bracketed {
            text,
            quoted,
            behind_surname,
        } in bracketed
        {
            let words: Vec<&str> = text.split_whitespace().collect();
            match former_marker(&words) {
                // SMITH, JOHN (MRS.)
                0 if !quoted && words.iter().all(|word| is_title(word)) => {
                    push(&mut person.title, &text);
                }
                0 if !quoted && words.iter().all(|word| is_suffix(word, false)) => {
                    push(&mut person.suffix, &text);
                }
                0 if quoted => push(&mut person.nickname, &text),
                0 if behind_surname => {
                    push(&mut person.former, &text);
                    either = Some(text);
                }
                0 => {
                    push(&mut person.nickname, &text);
                    either = Some(text);
                }
                marker => push(&mut person.former, &words[marker..].join(" ")),
            }
        }
        let other = person.otherwise(either);
        std::iter::once(person).chain(other).collect()
    }

    /// What the name may mean too. `either`: what stood in brackets without saying what it is.
    fn otherwise(&self, either: Option<String>) -> Option<Self> {
        let mut other = self.clone();
        match either {
            Some(text) if self.former == text && self.nickname.is_empty() => {
                std::mem::swap(&mut other.former, &mut other.nickname);
            }
            Some(text) if self.nickname == text && self.former.is_empty() => {
                std::mem::swap(&mut other.former, &mut other.nickname);
            }
            _ if !self.forenames.is_empty() => return None,
            _ if comparison_form(&self.suffix).len() == 2 => {
                std::mem::swap(&mut other.forenames, &mut other.suffix);
            }
            _ if comparison_form(&self.title).len() == 2 => {
                std::mem::swap(&mut other.forenames, &mut other.title);
            }
            _ => return None,
        }
        Some(other)
    }

    /// Reads a name without brackets and quotes.
    fn unbracketed(plain: &str, order: NameOrder) -> Self {
        let mut person = Self::default();
        let mut parts: Vec<Vec<&str>> = Vec::new();
        for part in plain.split(',') {
            let mut words: Vec<&str> = part
                .split_whitespace()
                .filter(|word| word.contains(char::is_alphanumeric) || *word == "&")
                .collect();
            // BORN, MAX has a surname, and so has MAX BORN.
            let first = if parts.is_empty() { 1 } else { 0 };
            let former = (first..words.len()).find(|&at| {
                let rest = &words[at..];
                let name = &rest[former_marker(rest)..];
                name.len() < rest.len()
                    && name
                        .first()
                        .is_some_and(|w| w.starts_with(char::is_alphabetic))
            });
            if let Some(at) = former {
                let marker = former_marker(&words[at..]);
                push(&mut person.former, &words.split_off(at)[marker..].join(" "));
            }
            if !words.is_empty() {
                parts.push(words);
            }
        }
        if parts.is_empty() {
            return person;
        }
        let mut surname = parts.remove(0);
        let mut suffixes: Vec<&str> = Vec::new();
        // SURNAME, SUFFIX, FORENAMES and SURNAME, FORENAMES, SUFFIX, TITLE; titles of some words stay together.
        let mut titles: Vec<&str> = Vec::new();
        let mut is_behind_forenames = false;
        parts.retain(|part| {
            if part.iter().all(|word| is_suffix(word, is_behind_forenames)) {
                suffixes.extend(part);
                false
            } else if part.iter().all(|word| is_title(word)) {
                titles.extend(part);
                false
            } else {
                is_behind_forenames = true;
                true
            }
        });
        // DE LA CRUZ, has nothing behind its comma, and is a surname all the same.
        let is_direct = parts.is_empty() && !plain.trim_end().ends_with(',');
        let mut forenames: Vec<&str> = parts.concat();
        let mut before = take_titles(&mut surname);
        before.extend(take_titles(&mut forenames));
        before.extend(titles);
        let mut behind = take_suffixes(&mut surname);
        behind.extend(take_suffixes(&mut forenames));
        behind.extend(suffixes);
        // SURNAME, FORENAMES TITLE.
        if forenames.len() > 1
            && let Some(title) = forenames.pop_if(|word| is_title(word))
        {
            before.push(title);
        }
        if is_direct && surname.len() > 1 {
            match order {
                NameOrder::Direct => {
                    if surname.len() > 2
                        && let Some(suffix) =
                            surname.pop_if(|word| is_suffix_for_want_of_better(word))
                    {
                        behind.insert(0, suffix);
                    }
                    forenames = surname.drain(..start_of_surname(&surname)).collect();
                }
                NameOrder::SurnameFirst => {
                    let particles = surname.iter().take_while(|word| is_particle(word)).count();
                    forenames = surname.split_off((particles + 1).min(surname.len()));
                }
            }
        }
        person.title = before.join(" ");
        person.surname = surname.join(" ");
        person.forenames = forenames.join(" ");
        person.suffix = behind.join(" ");
        person
    }

    /// The particles at the surname's beginning, as typed: `DE LA` of `DE LA CRUZ`. Those that are written together
    /// with the name (`O'BRIEN`, `MCKAY`, `AL-SAID`) are not set apart.
    pub fn particle(&self) -> &str {
        let mut end = 0;
        for (at, _) in self.surname.match_indices(' ') {
            if !is_particle(self.surname[..at].rsplit(' ').next().unwrap_or_default()) {
                break;
            }
            end = at;
        }
        &self.surname[..end]
    }

    /// The first letters of the forenames, in upper case: `JR` for `J.R.`, `J R`, `John R` and `JR`. A word in capitals
    /// is taken for initials where the rest of the name is not in capitals, or where it has no vowel.
    pub fn initials(&self) -> String {
        let mut initials = String::new();
        let has_small = |text: &str| text.contains(char::is_lowercase);
        let is_mixed = has_small(&self.surname) || has_small(&self.forenames);
        let pieces = self
            .forenames
            .split(|c: char| c.is_whitespace() || c == '.')
            .map(|piece| piece.trim_matches('-'));
        for piece in pieces {
            let letters = piece.chars().filter(|c| c.is_alphabetic());
            let is_short = piece.split('-').all(|part| part.chars().count() < 2);
            let is_vowel = |c: char| "AEIOUY".contains(comparison_form(&c.to_string()).as_str());
            let are_initials = letters
                .clone()
                .all(|c| c.is_uppercase() && (is_mixed || !is_vowel(c)));
            if is_short || are_initials {
                initials.extend(letters.flat_map(char::to_uppercase));
            } else {
                initials.extend(letters.take(1).flat_map(char::to_uppercase));
            }
        }
        initials
    }

    /// What the name is filed by, for `filing_key`: `SURNAME, FORENAMES, SUFFIX`, less what there is not.
    pub fn filed(&self) -> String {
        let parts = [&self.surname, &self.forenames, &self.suffix];
        let parts: Vec<&str> = parts
            .into_iter()
            .map(String::as_str)
            .filter(|part| !part.is_empty())
            .collect();
        parts.join(", ")
    }

    /// `SURNAME, TITLE FORENAMES "NICKNAME", SUFFIX (formerly FORMER)`, less what there is not.
    pub fn inverted(&self) -> String {
        let mut name = self.surname.clone();
        let mut separator = ", ";
        for part in [&self.title, &self.forenames] {
            if !part.is_empty() {
                name += separator;
                name += part;
                separator = " ";
            }
        }
        self.with_rest(name, true)
    }

    /// `TITLE FORENAMES "NICKNAME" SURNAME, SUFFIX (formerly FORMER)`, less what there is not.
    pub fn direct(&self) -> String {
        let mut name = String::new();
        push(&mut name, &self.title);
        push(&mut name, &self.forenames);
        if !self.nickname.is_empty() {
            push(&mut name, &format!("\"{}\"", self.nickname));
        }
        push(&mut name, &self.surname);
        self.with_rest(name, false)
    }

    fn with_rest(&self, mut name: String, with_nickname: bool) -> String {
        if with_nickname && !self.nickname.is_empty() {
            push(&mut name, &format!("\"{}\"", self.nickname));
        }
        // Writing to a string cannot fail.
        if !self.suffix.is_empty() {
            let _ = write!(name, ", {}", self.suffix);
        }
        if !self.former.is_empty() {
            let _ = write!(name, " (formerly {})", self.former);
        }
        name
    }

    /// What is compared between two writings of a name: surname without blanks, because particles are typed with and
    /// without them; forenames; suffix.
    pub fn comparison_forms(&self) -> [String; 3] {
        [
            comparison_form(&self.surname).replace(' ', ""),
            comparison_form(&self.forenames),
            comparison_form(&self.suffix),
        ]
    }
}

/// Appends words with a blank between.
fn push(text: &mut String, words: &str) {
    if !text.is_empty() && !words.is_empty() {
        text.push(' ');
    }
    text.push_str(words);
}

/// Takes the titles from a name's beginning, `&` and AND between them, but never its last word.
fn take_titles<'a>(words: &mut Vec<&'a str>) -> Vec<&'a str> {
    let mut count = 0;
    let last = words.len().saturating_sub(1);
    for (at, word) in words[..last].iter().enumerate() {
        let joins = at > 0 && (*word == "&" || word.eq_ignore_ascii_case("and"));
        if is_title(word) {
            count = at + 1;
        } else if !joins {
            break;
        }
    }
    words.drain(..count).collect()
}

/// Takes the suffixes from a name's end, but never its first word.
fn take_suffixes<'a>(words: &mut Vec<&'a str>) -> Vec<&'a str> {
    let mut start = words.len();
    while start > 1 && is_suffix(words[start - 1], false) {
        start -= 1;
    }
    words.split_off(start)
}

/// Where the surname begins in a name in direct order: at the first particle, or at the two names that a Spanish `y`
/// joins, else at the last word. The first word is a forename wherever there are two, but DE CRUZ and VAN DER BERG are
/// surnames, which VAN BERG and BIN LIN need not be.
fn start_of_surname(words: &[&str]) -> usize {
    let last = words.len() - 1;
    let particles = words[..last]
        .iter()
        .take_while(|word| is_particle(word))
        .count();
    if particles == last && begins_surname(words) {
        return 0;
    }
    let particle = (1..last).find(|&at| is_particle(words[at]));
    // A capital E or I is an initial; a name of two words only has Y for one.
    let joins = |word: &str| word.eq_ignore_ascii_case("y") || matches!(word, "e" | "i");
    let joined = (2..last).find(|&at| joins(words[at]) && words[at - 1].len() > 2);
    particle
        .unwrap_or(last)
        .min(joined.map_or(last, |at| at - 1))
}

#[cfg(test)]
mod tests;
