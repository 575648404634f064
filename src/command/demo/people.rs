//! The harbour board's people: a roster of invented persons, drawn from a seed.

use super::{Stream, random, weighted};
use crate::value::CheckScheme;
use rand::{RngExt, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};
use std::collections::HashSet;
use std::sync::LazyLock;

/// One row of the roster.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Person {
    /// Board number: six digits, a hyphen, a check character after ISO 7064 MOD 11-2.
    pub number: String,
    pub surname: String,
    /// One to three forenames or initials, and JR, with blanks between them.
    pub forenames: String,
    /// Year.
    pub born: u16,
    /// First year of service.
    pub entered: u16,
    /// Last year of service.
    pub left: u16,
}

/// First and last possible year of service.
const SERVICE: (u16, u16) = (1900, 1985);
/// Share of people who are a near-namesake of somebody before them: one letter or one forename differs.
const NEAR_NAMESAKES: f64 = 0.03;
/// Share of people who bear the very name of somebody before them, beside those whom chance gives the same name.
const NAMESAKES: f64 = 0.01;
/// Share of women on the harbour board.
const WOMEN: f64 = 0.15;

/// Names with their relative frequencies, `NAME 1.006` a line.
struct Names {
    names: Vec<(&'static str, f32)>,
    total: f32,
}

impl Names {
    fn parse(text: &'static str) -> Self {
        let mut total = 0.0;
        let names = text
            .lines()
            .filter_map(|line| line.split_once(' '))
            .map(|(name, share)| {
                total += share.parse::<f32>().expect("a share after each name");
                (name, total)
            })
            .collect();
        Self { names, total }
    }

    /// A name, by its frequency.
    fn pick(&self, random: &mut ChaCha8Rng) -> &'static str {
        let at = random.random::<f32>() * self.total;
        let index = self.names.partition_point(|(_, until)| *until <= at);
        self.names[index.min(self.names.len() - 1)].0
    }

    /// A name, the rare ones as often as the frequent ones.
    fn pick_any(&self, random: &mut ChaCha8Rng) -> &'static str {
        self.names[random.random_range(0..self.names.len())].0
    }
}

static SURNAMES: LazyLock<Names> =
    LazyLock::new(|| Names::parse(include_str!("../../../demo-data/names/surnames.txt")));
static MALE: LazyLock<Names> =
    LazyLock::new(|| Names::parse(include_str!("../../../demo-data/names/male-forenames.txt")));
static FEMALE: LazyLock<Names> = LazyLock::new(|| {
    Names::parse(include_str!(
        "../../../demo-data/names/female-forenames.txt"
    ))
});

/// Stems that take O' before them; the census list writes them in one word.
const O_STEMS: [&str; 12] = [
    "BRIEN", "CONNOR", "NEAL", "NEILL", "DONNELL", "CONNELL", "HARA", "LEARY", "ROURKE", "KEEFE",
    "MALLEY", "DWYER",
];
/// Stems that take a particle before them.
const PARTICLE_STEMS: [&str; 10] = [
    "BERG", "MEER", "WAL", "LINDEN", "VEEN", "HEIDE", "BOSCH", "HORST", "ZEE", "POL",
];
const PARTICLES: [&str; 6] = ["VAN DER", "VAN DEN", "VAN", "DE", "VON", "DE LA"];

/// Every plain surname of the list, in alphabetical order.
pub fn surnames() -> Vec<&'static str> {
    let mut names: Vec<_> = SURNAMES.names.iter().map(|(name, _)| *name).collect();
    names.sort_unstable();
    names
}

/// `count` people from a seed, in the order in which they joined the roster.
pub fn roster(seed: u64, count: usize) -> Vec<Person> {
    let mut random = random(seed, Stream::Roster, 0);
    let mut numbers = HashSet::new();
    let mut people: Vec<Person> = Vec::with_capacity(count);
    for _ in 0..count {
        let person = match people.choose(&mut random).cloned() {
            Some(model) if random.random_bool(NEAR_NAMESAKES) => near_namesake(&mut random, &model),
            Some(model) if random.random_bool(NAMESAKES) => Person {
                surname: model.surname,
                forenames: model.forenames,
                ..stranger(&mut random)
            },
            _ => stranger(&mut random),
        };
        let number = free_number(&mut random, person.entered, &mut numbers);
        people.push(Person { number, ..person });
    }
    people
}

/// Somebody who is not in `roster`, though a third of them bear the name of somebody who is. `taken` holds all numbers
/// given so far and takes the new one.
pub fn outsider(random: &mut ChaCha8Rng, roster: &[Person], taken: &mut HashSet<String>) -> Person {
    let person = match roster.choose(random).cloned() {
        Some(model) if random.random_bool(1.0 / 3.0) => Person {
            surname: model.surname,
            forenames: model.forenames,
            ..stranger(random)
        },
        _ => stranger(random),
    };
    let number = free_number(random, person.entered, taken);
    Person { number, ..person }
}

/// Somebody new, still without a number.
fn stranger(random: &mut ChaCha8Rng) -> Person {
    let entered = random.random_range(SERVICE.0..=SERVICE.1 - 3);
    let years = *[1, 2, 4, 8, 15, 24, 35, 46].choose(random).expect("years");
    let left = (entered + random.random_range(years / 2..=years) + 1).min(SERVICE.1);
    Person {
        number: String::new(),
        surname: surname(random),
        forenames: forenames(random),
        born: entered - random.random_range(14..=45),
        entered,
        left,
    }
}

fn surname(random: &mut ChaCha8Rng) -> String {
    // Half by frequency, half evenly: a board draws on one town, where rare names gather.
    let plain = |random: &mut ChaCha8Rng| {
        if random.random_bool(0.5) {
            SURNAMES.pick(random)
        } else {
            SURNAMES.pick_any(random)
        }
    };
    match random.random_range(0..1000) {
        0..20 => format!("{}-{}", plain(random), SURNAMES.pick(random)),
        20..40 => format!("O'{}", O_STEMS.choose(random).expect("stems")),
        40..55 => format!(
            "{} {}",
            PARTICLES.choose(random).expect("particles"),
            PARTICLE_STEMS.choose(random).expect("stems")
        ),
        _ => {
            let name = plain(random);
            match name.strip_prefix("MC") {
                Some(stem) if random.random_bool(0.3) => format!("MC {stem}"),
                _ => name.to_owned(),
            }
        }
    }
}

fn forenames(random: &mut ChaCha8Rng) -> String {
    let names: &Names = if random.random_bool(WOMEN) {
        &FEMALE
    } else {
        &MALE
    };
    let count = weighted(random, &[(1, 0.35), (2, 0.5), (3, 0.15)]);
    let mut parts: Vec<String> = Vec::new();
    while parts.len() < count {
        let name = names.pick(random).to_owned();
        if !parts.contains(&name) {
            parts.push(name);
        }
    }
    // From which name on only the initial is kept: none, the second on, all.
    let initials_from = weighted(random, &[(count, 0.72), (1, 0.2), (0, 0.08)]);
    for part in parts.iter_mut().skip(initials_from) {
        part.truncate(1);
    }
    if random.random_bool(0.015) {
        parts.push("JR".to_owned());
    }
    parts.join(" ")
}

/// Somebody whose name differs from the model's in one surname letter or in one forename.
fn near_namesake(random: &mut ChaCha8Rng, model: &Person) -> Person {
    let mut person = Person {
        surname: model.surname.clone(),
        forenames: model.forenames.clone(),
        ..stranger(random)
    };
    let letters: Vec<usize> = (1..model.surname.len())
        .filter(|&at| model.surname.as_bytes()[at].is_ascii_alphabetic())
        .collect();
    match letters.choose(random) {
        Some(&at) if random.random_bool(0.5) => {
            let letter = char::from(random.random_range(b'A'..=b'Z'));
            person.surname.replace_range(at..=at, &letter.to_string());
        }
        _ => {
            let mut parts: Vec<&str> = model.forenames.split(' ').collect();
            let at = random.random_range(0..parts.len());
            parts[at] = MALE.pick(random);
            person.forenames = parts.join(" ");
        }
    }
    person
}

/// A number nobody has yet; those who entered later have higher ones, roughly.
fn free_number(random: &mut ChaCha8Rng, entered: u16, taken: &mut HashSet<String>) -> String {
    loop {
        let start = u32::from(entered - SERVICE.0) * 10_000;
        let payload = format!("{:06}", start + random.random_range(1_000..100_000));
        let check = CheckScheme::Iso7064Mod11_2
            .check_character(&payload)
            .expect("six digits have a check character");
        let number = format!("{payload}-{check}");
        if taken.insert(number.clone()) {
            return number;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_unique_and_carry_their_check_character() {
        let people = roster(3, 3_000);
        let numbers: HashSet<_> = people.iter().map(|person| &person.number).collect();
        assert_eq!(numbers.len(), people.len());
        for person in &people {
            assert_eq!(person.number.len(), 8, "{}", person.number);
            assert!(CheckScheme::Iso7064Mod11_2.holds(&person.number));
            assert!(person.born < person.entered && person.entered < person.left);
            assert!((SERVICE.0..=SERVICE.1).contains(&person.left));
            assert!(!person.surname.is_empty() && !person.forenames.is_empty());
        }
    }

    #[test]
    fn names_come_in_the_shapes_that_trip_indexes() {
        let people = roster(3, 3_000);
        type Shape = (&'static str, fn(&Person) -> bool);
        let shapes: [Shape; 6] = [
            ("hyphen", |p| p.surname.contains('-')),
            ("O'", |p| p.surname.starts_with("O'")),
            ("MC with a blank", |p| p.surname.starts_with("MC ")),
            ("particle", |p| p.surname.starts_with("VAN DER ")),
            ("JR", |p| p.forenames.ends_with(" JR")),
            ("initials only", |p| {
                p.forenames.split(' ').all(|part| part.len() == 1)
            }),
        ];
        for (shape, has) in shapes {
            assert!(people.iter().any(has), "nobody with {shape}");
        }
        let names: HashSet<_> = people.iter().map(|p| (&p.surname, &p.forenames)).collect();
        assert!(names.len() < people.len(), "no namesakes");
    }

    #[test]
    fn an_outsider_has_a_number_of_nobody_in_the_roster() {
        let people = roster(3, 500);
        let mut random = random(3, Stream::Person, 0);
        let mut taken = people.iter().map(|person| person.number.clone()).collect();
        for _ in 0..20 {
            let outsider = outsider(&mut random, &people, &mut taken);
            assert!(people.iter().all(|person| person.number != outsider.number));
        }
    }
}
