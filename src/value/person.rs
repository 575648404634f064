//! Names of people as personnel strips give them.

use super::comparison_form;

/// A person's name in its parts, each as it was typed.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct Person {
    /// With its particles: `DE LA CRUZ`.
    pub surname: String,
    /// In their order, blanks between them.
    pub forenames: String,
    /// `JR`, `III`; empty where there is none.
    pub suffix: String,
}

/// Suffixes in their comparison form. V and I alone are initials far more often than suffixes (common practice).
const SUFFIXES: [&str; 8] = ["JR", "SR", "II", "III", "IV", "2ND", "3RD", "ESQ"];

/// Particles that belong to the surname behind them when a name is given in direct order, in their comparison form.
const PARTICLES: [&str; 21] = [
    "DE", "DEL", "DELLA", "DI", "DA", "DO", "DOS", "DAS", "DU", "LA", "LE", "LOS", "LAS", "VAN",
    "VON", "DER", "DEN", "TER", "TEN", "ZU", "ST",
];

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
    /// ```
    pub fn read(typed: &str) -> Self {
        let mut parts: Vec<&str> = typed.split(',').map(str::trim).collect();
        parts.retain(|part| !part.is_empty());
        let mut suffix = "";
        // SURNAME, FORENAMES, SUFFIX and SURNAME, SUFFIX, FORENAMES and FORENAMES SURNAME, SUFFIX.
        if let Some(at) = parts.iter().skip(1).position(|part| is_suffix(part)) {
            suffix = parts.remove(at + 1);
        }
        let direct = parts.len() < 2;
        let mut surname: Vec<&str> = parts
            .first()
            .map_or("", |part| part)
            .split_whitespace()
            .collect();
        let mut forenames: Vec<&str> = parts
            .iter()
            .skip(1)
            .flat_map(|part| part.split_whitespace())
            .collect();
        // SURNAME, FORENAMES SUFFIX and SURNAME SUFFIX, FORENAMES.
        for words in [&mut forenames, &mut surname] {
            if suffix.is_empty()
                && words.len() > 1
                && words.last().is_some_and(|word| is_suffix(word))
            {
                suffix = words.pop().unwrap_or_default();
            }
        }
        if direct {
            let start = start_of_surname(&surname);
            forenames = surname.drain(..start).collect();
        }
        Self {
            surname: surname.join(" "),
            forenames: forenames.join(" "),
            suffix: suffix.to_owned(),
        }
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

fn is_suffix(word: &str) -> bool {
    SUFFIXES.contains(&comparison_form(word).as_str())
}

/// Where the surname begins in a name in direct order: at its last word and the particles before it. The first word
/// is a forename wherever there are two.
fn start_of_surname(words: &[&str]) -> usize {
    let mut start = words.len().saturating_sub(1);
    while start > 1 && PARTICLES.contains(&comparison_form(words[start - 1]).as_str()) {
        start -= 1;
    }
    start
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn takes_names_apart() {
        for (typed, surname, forenames, suffix) in [
            ("SMITH, JOHN A", "SMITH", "JOHN A", ""),
            ("SMITH, JOHN A JR", "SMITH", "JOHN A", "JR"),
            ("SMITH, JOHN A, III", "SMITH", "JOHN A", "III"),
            ("SMITH, JR., JOHN A", "SMITH", "JOHN A", "JR."),
            ("SMITH JR, JOHN A", "SMITH", "JOHN A", "JR"),
            ("JOHN A SMITH", "SMITH", "JOHN A", ""),
            ("JOHN A SMITH, JR", "SMITH", "JOHN A", "JR"),
            ("John van der Berg", "van der Berg", "John", ""),
            ("VAN DER BERG, JOHN", "VAN DER BERG", "JOHN", ""),
            ("O'BRIEN-HALE,MARY", "O'BRIEN-HALE", "MARY", ""),
            ("LE, VAN", "LE", "VAN", ""),
            ("VAN LE", "LE", "VAN", ""),
            ("SMITH", "SMITH", "", ""),
            ("SMITH,", "SMITH", "", ""),
            ("JR", "JR", "", ""),
            ("", "", "", ""),
            (" , ,", "", "", ""),
        ] {
            let person = Person::read(typed);
            let read = (
                person.surname.as_str(),
                person.forenames.as_str(),
                person.suffix.as_str(),
            );
            assert_eq!(read, (surname, forenames, suffix), "{typed:?}");
        }
    }

    #[test]
    fn compares_writings_alike() {
        for (one, other) in [
            ("de la Cruz, María", "DELACRUZ, MARIA"),
            ("O'Brien, J.", "OBRIEN, J"),
            ("SMITH JR, JOHN", "JOHN SMITH, Jr."),
        ] {
            assert_eq!(
                Person::read(one).comparison_forms(),
                Person::read(other).comparison_forms()
            );
        }
    }
}
