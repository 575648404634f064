//! A sample of a lot, and what it says of the lot.

use super::twice::drawn;
use crate::figures::{
    AcceptableQuality, CountInterval, Inspection, InspectionLevel, Interval, SamplingError,
    SamplingPlan, Share, hypergeometric_at_most, lot_interval, quality_accepted_with,
};
use crate::job::QualitySettings;
use crate::value::SheetId;
use serde::Serialize;

/// Said beside every verdict.
pub const NO_PROMISE: &str = "The acceptable quality level describes many lots in the long run and promises nothing about this one; \
     the interval is about this lot.";

/// Confidence of the interval of a lot.
const CONFIDENCE: f64 = 0.95;

/// Probabilities of acceptance at which a plan's quality is told: what the bureau and what the client may rely on
/// (common practice, as in the tables of MIL-STD-105E).
const RELIED_ON: f64 = 0.95;
const LIMITING: f64 = 0.10;

/// Points of a curve.
const POINTS: u64 = 40;

/// A lot to be inspected: its sheets, its plan, and the sample that the seed draws.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lot {
    pub size: u64,
    pub level: InspectionLevel,
    pub quality: AcceptableQuality,
    pub inspection: Inspection,
    pub plan: SamplingPlan,
    pub seed: u64,
    /// The sheets to inspect, in the order of the lot.
    pub sample: Vec<SheetId>,
}

/// How a lot was ruled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ruling {
    /// Sheets of the sample are still to be inspected.
    Open,
    Accepted,
    Rejected,
}

/// A plan's operating characteristic for one lot.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Curve {
    /// Share of bad sheets in the lot, and the probability that the plan accepts it (hypergeometric).
    pub points: Vec<(f64, f64)>,
    /// A process this bad has 95 lots of 100 accepted (binomial).
    pub relied_on: f64,
    /// A process this bad has 10 lots of 100 accepted (binomial): the rejectable quality.
    pub limiting: f64,
}

/// What an inspection says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verdict {
    pub ruling: Ruling,
    /// Bad sheets among those inspected.
    pub found: Share,
    /// Bad sheets that the lot holds, with 95 % confidence; none before the whole sample is inspected.
    pub bad_in_lot: Option<CountInterval>,
    pub share_of_lot: Option<Interval>,
    pub curve: Curve,
}

impl Lot {
    /// A whole job as one lot, as its quality plan says.
    ///
    /// # Errors
    /// The job has no sheets.
    pub fn of_job(settings: &QualitySettings, sheets: &[SheetId]) -> Result<Self, SamplingError> {
        let QualitySettings {
            level,
            quality,
            inspection,
            sample_seed,
            ..
        } = *settings;
        Self::draw(sheets, level, quality, inspection, sample_seed)
    }

    /// Draws the sample: the sheets with the lowest numbers that SHA-256 gives them for this seed, so that anybody can
    /// draw it again.
    ///
    /// # Errors
    /// The lot is empty.
    pub fn draw(
        sheets: &[SheetId],
        level: InspectionLevel,
        quality: AcceptableQuality,
        inspection: Inspection,
        seed: u64,
    ) -> Result<Self, SamplingError> {
        let plan = SamplingPlan::of(sheets.len() as u64, level, quality, inspection)?;
        let mut numbered: Vec<(f64, usize)> = sheets
            .iter()
            .enumerate()
            .map(|(at, sheet)| (drawn("inspection", seed, sheet), at))
            .collect();
        numbered.sort_by(|one, other| one.0.total_cmp(&other.0).then(one.1.cmp(&other.1)));
        numbered.truncate(plan.sample_size as usize);
        numbered.sort_by_key(|(_, at)| *at);
        Ok(Self {
            size: sheets.len() as u64,
            level,
            quality,
            inspection,
            plan,
            seed,
            sample: numbered
                .into_iter()
                .map(|(_, at)| sheets[at].clone())
                .collect(),
        })
    }
}

/// What is known once so many sheets of a lot's sample were inspected and found bad or good.
pub fn judge(plan: &SamplingPlan, lot: u64, found: Share) -> Verdict {
    let is_complete = found.of >= plan.sample_size;
    let ruling = match (plan.accepts(found.hits), is_complete) {
        (false, _) => Ruling::Rejected,
        (true, false) => Ruling::Open,
        (true, true) => Ruling::Accepted,
    };
    let bad_in_lot = is_complete.then(|| lot_interval(found.hits, found.of, lot, CONFIDENCE));
    let share = |count: u64| count as f64 / lot.max(1) as f64;
    Verdict {
        ruling,
        found,
        bad_in_lot,
        share_of_lot: bad_in_lot.map(|bad| Interval {
            low: share(bad.low),
            high: share(bad.high),
        }),
        curve: Curve::of(plan, lot),
    }
}

impl Curve {
    fn of(plan: &SamplingPlan, lot: u64) -> Self {
        let accepted = plan.acceptance_number;
        let quality = |probability| quality_accepted_with(probability, accepted, plan.sample_size);
        let limiting = quality(LIMITING);
        // Twice as far as the plan still accepts one lot in ten: what comes behind is next to nothing.
        let most = ((2.0 * limiting * lot as f64).ceil() as u64).clamp(1, lot.max(1));
        let mut counts: Vec<u64> = (0..=POINTS).map(|n| most * n / POINTS).collect();
        counts.dedup();
        let point = |bad: u64| {
            let accepted = hypergeometric_at_most(accepted, plan.sample_size, bad, lot);
            (bad as f64 / lot.max(1) as f64, accepted)
        };
        Self {
            points: counts.into_iter().map(point).collect(),
            relied_on: quality(RELIED_ON),
            limiting,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lot(size: usize, seed: u64) -> Lot {
        let sheets: Vec<SheetId> = (0..size)
            .map(|n| SheetId::new(format!("{n:05}.png")))
            .collect();
        let (level, quality) = (InspectionLevel::II, AcceptableQuality::default());
        Lot::draw(&sheets, level, quality, Inspection::Normal, seed).unwrap()
    }

    #[test]
    fn the_seed_decides_the_sample() {
        let one = lot(2_000, 1);
        assert_eq!((one.sample.len(), one.plan.acceptance_number), (125, 3));
        assert_eq!(one.sample, lot(2_000, 1).sample);
        assert_ne!(one.sample, lot(2_000, 2).sample);
        assert!(one.sample.is_sorted());
        let small = lot(7, 1);
        assert!(small.plan.is_whole_lot && small.sample.len() == 7);
        // Every sheet comes as often as any other: 400 samples of 125 from 2,000, 25 expected, deviation 4.8.
        let mut times = vec![0_u32; 2_000];
        for seed in 0..400 {
            for sheet in lot(2_000, seed).sample {
                times[sheet.as_str()[..5].parse::<usize>().unwrap()] += 1;
            }
        }
        let (least, most) = (times.iter().min().unwrap(), times.iter().max().unwrap());
        assert!(*least >= 6 && *most <= 50, "{least} {most}");
    }

    #[test]
    fn rules_by_the_acceptance_number_and_says_what_is_known_of_this_lot() {
        let plan = lot(2_000, 1).plan;
        for (hits, of, ruling) in [
            (0, 0, Ruling::Open),
            (3, 124, Ruling::Open),
            (4, 5, Ruling::Rejected),
            (3, 125, Ruling::Accepted),
            (4, 125, Ruling::Rejected),
        ] {
            assert_eq!(judge(&plan, 2_000, Share::new(hits, of)).ruling, ruling);
        }
        let verdict = judge(&plan, 2_000, Share::new(3, 125));
        let bad = verdict.bad_in_lot.unwrap();
        assert!(bad.low >= 3 && bad.low < 48 && bad.high > 48, "{bad:?}");
        assert!((verdict.curve.limiting - 0.05266).abs() < 1e-5);
        assert!((verdict.curve.relied_on - 0.0110).abs() < 1e-4);
        let points = &verdict.curve.points;
        assert_eq!(points[0], (0.0, 1.0));
        assert!(
            points
                .windows(2)
                .all(|pair| pair[0].1 >= pair[1].1 && pair[0].0 < pair[1].0)
        );
        assert!(points.last().unwrap().1 < 0.01);
        assert_eq!(judge(&plan, 2_000, Share::default()).bad_in_lot, None);
        let whole = judge(&lot(7, 1).plan, 7, Share::new(1, 7));
        assert_eq!(whole.bad_in_lot, Some(CountInterval { low: 1, high: 1 }));
    }
}
