//! The Keystroke-Level Model (Card, Moran and Newell, CACM 23(7), 1980): how long a practised person takes over keys
//! and looks, without errors. Its own authors give a prediction error of 21 % for single tasks.

/// How fast somebody types; seconds a key by Card, Moran and Newell (1983).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum Skill {
    /// 135 words a minute
    Best,
    /// 90 words a minute
    Good,
    /// 55 words a minute
    #[default]
    Average,
    /// 40 words a minute, no typist by trade
    Occasional,
    /// Does not know the keyboard
    Beginner,
}

impl Skill {
    pub const ALL: [Self; 5] = [
        Self::Best,
        Self::Good,
        Self::Average,
        Self::Occasional,
        Self::Beginner,
    ];

    /// Seconds a key (operator K).
    pub fn seconds_a_key(self) -> f64 {
        match self {
            Self::Best => 0.08,
            Self::Good => 0.12,
            Self::Average => 0.2,
            Self::Occasional => 0.28,
            Self::Beginner => 1.2,
        }
    }
}

/// Seconds of a look with a decision (operator M).
pub const LOOK: f64 = 1.35;

/// Seconds that so many keys, Ctrl and Alt counted as keys, and looks take.
pub fn seconds(keys: usize, looks: usize, skill: Skill) -> f64 {
    keys as f64 * skill.seconds_a_key() + looks as f64 * LOOK
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The table of operators, see tests/data/published.
    const OPERATORS: &str = include_str!("../../tests/data/published/klm_operators.csv");

    #[test]
    fn operators_are_the_published_ones() {
        let mut rows = csv::Reader::from_reader(OPERATORS.as_bytes());
        let seconds_of = |operator: &str, begins: &str| -> f64 {
            let mut rows = csv::Reader::from_reader(OPERATORS.as_bytes());
            let row = rows
                .records()
                .map(Result::unwrap)
                .find(|row| &row[0] == operator && row[1].starts_with(begins));
            row.unwrap()[2].parse().unwrap()
        };
        assert!(rows.records().count() > 10);
        let published = [
            "best typist",
            "good typist",
            "average skilled",
            "average non-secretary",
            "worst typist",
        ];
        for (skill, begins) in Skill::ALL.into_iter().zip(published) {
            assert_eq!(skill.seconds_a_key(), seconds_of("K", begins));
        }
        assert_eq!(LOOK, seconds_of("M", "mentally prepare (CMN"));
        assert!((seconds(3, 1, Skill::Average) - 1.95).abs() < 1e-12);
    }
}
