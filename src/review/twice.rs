//! Which sheets are keyed a second time.

use crate::job::{QualitySettings, SecondKeying};
use crate::proposal::{Face, Proposal};
use crate::value::{SheetId, sha256_parts};
use serde::{Deserialize, Serialize};

/// Why a sheet is keyed a second time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Chosen {
    /// The job keys every sheet twice.
    All,
    /// It was drawn at random: what is found on these sheets holds for all.
    Drawn,
    /// A field of it is below *sure*, or nothing was proposed: what is found on these sheets holds for such sheets only.
    Doubtful,
}

/// Why a sheet is keyed a second time; none where it is not. `seed` is the job's own (see
/// [`crate::job::KeyingSettings`]).
pub fn second_keying(
    settings: &QualitySettings,
    seed: u64,
    sheet: &SheetId,
    proposal: Option<&Proposal>,
) -> Option<Chosen> {
    let is_doubtful = || {
        proposal.is_none_or(|proposal| {
            let more = proposal.more.iter().flat_map(|record| &record.fields);
            let mut fields = proposal.fields.iter().chain(more);
            fields.any(|field| field.face != Face::Sure)
        })
    };
    match settings.second {
        SecondKeying::All => Some(Chosen::All),
        _ if drawn("second keying", seed, sheet) < settings.second_share => Some(Chosen::Drawn),
        SecondKeying::Doubtful if is_doubtful() => Some(Chosen::Doubtful),
        _ => None,
    }
}

/// A number from 0 to below 1 that a sheet draws for a purpose, the same on every machine: the first 52 bits of SHA-256
/// over purpose, seed and sheet (see [`sha256_parts`]).
pub(super) fn drawn(purpose: &str, seed: u64, sheet: &SheetId) -> f64 {
    let hash = sha256_parts([purpose, &seed.to_string(), sheet.as_str()]);
    let bits = u64::from_str_radix(&hash[..13], 16).expect("hexadecimal digits");
    bits as f64 / (1_u64 << 52) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proposal::ProposedField;
    use crate::value::Probability;

    #[test]
    fn doubtful_and_drawn_sheets_are_keyed_twice() {
        let proposed = |face| Proposal {
            fields: vec![ProposedField {
                field: "surname".to_owned(),
                as_typed: "PIER".to_owned(),
                as_roster: None,
                probability: Probability::ONE,
                face,
                alternatives: vec![],
                reasons: vec![],
            }],
            ..Proposal::default()
        };
        let (sure, look) = (proposed(Face::Sure), proposed(Face::Look));
        let mut settings = QualitySettings {
            second_share: 0.1,
            ..QualitySettings::default()
        };
        let counts = |settings: &QualitySettings, proposal: Option<&Proposal>| {
            let mut counts = [0; 3];
            for n in 0..20_000 {
                let sheet = SheetId::new(format!("{n}.png"));
                match second_keying(settings, 1, &sheet, proposal) {
                    Some(Chosen::Drawn) => counts[0] += 1,
                    Some(_) => counts[1] += 1,
                    None => counts[2] += 1,
                }
            }
            counts
        };
        assert_eq!(counts(&settings, Some(&sure)), [0, 20_000, 0]);
        settings.second = SecondKeying::Doubtful;
        // 2,000 expected, standard deviation 42; four of them.
        for (proposal, others) in [(Some(&look), 1), (None, 1), (Some(&sure), 2)] {
            let found = counts(&settings, proposal);
            assert!(i32::abs(found[0] - 2_000) < 170, "{found:?}");
            assert_eq!(found[0] + found[others], 20_000);
        }
        settings.second = SecondKeying::Share;
        assert_eq!(counts(&settings, Some(&look))[1], 0);
        settings.second_share = 0.0;
        assert_eq!(counts(&settings, Some(&look))[2], 20_000);
    }
}
