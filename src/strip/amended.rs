//! Signs that a heading was changed after it was typed, or was never typed.
//!
//! Every line is looked at with its surroundings as coarse cells ([`sights`]). A small convolutional net, trained on
//! drawn sheets by `tests/bench/amended.rs`, says for each place along the line what it looks like; places that go
//! together make a sign, and signs make findings. Type in another place than its neighbours, strokes across letters,
//! edges and tones of slips and the unevenness of handwriting all show within three letters' width, so the net needs
//! no rules for each.

use super::Strip;
use super::convolution::{Form, Grid, Net};
use super::sight::{BESIDE, CHANNELS, ROWS, Sight, sights};
use crate::value::{Finding, Severity, Station};
use image::GrayImage;

/// What a place on a line looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Look {
    Ordinary,
    StruckOut,
    /// Under a pasted slip or correction fluid.
    Covered,
    /// Written by hand.
    Written,
}

/// The looks in the order of the net's outputs.
pub const LOOKS: [Look; 4] = [
    Look::Ordinary,
    Look::StruckOut,
    Look::Covered,
    Look::Written,
];

/// The net's layers: strokes, their crossings, what three letters' width looks like, the looks.
pub const FORMS: [Form; 4] = [
    Form {
        kernel: (5, 5),
        stride: 2,
        channels: (CHANNELS, 8),
    },
    Form {
        kernel: (3, 3),
        stride: 2,
        channels: (8, 32),
    },
    Form {
        kernel: (4, 6),
        stride: 1,
        channels: (32, 32),
    },
    Form {
        kernel: (1, 1),
        stride: 1,
        channels: (32, LOOKS.len()),
    },
];

/// Cells that one place is seen by, and cells from one place to the next.
pub const SEEN: usize = 29;
pub const APART: usize = 4;

/// How much a stretch must stand out to be reported, in nats: on tuning seeds 950 to 956 some 15 in 1,000 ordinary
/// sheets of default noise, and 10 in 100 of heavy noise, have one that does.
const CLEAR: f32 = 2.8;
/// Share of places that look written by hand from which the whole heading is taken for handwriting.
const HANDWRITTEN: f64 = 0.5;

static WEIGHTS: &[u8] = include_bytes!("amended.weights");

/// The probability of each of [`LOOKS`] at each place along a line.
pub fn looks(net: &Net, sight: &Sight) -> Vec<[f32; LOOKS.len()]> {
    let out = net.apply(Grid {
        rows: ROWS,
        columns: sight.width,
        channels: CHANNELS,
        values: sight.cells.clone(),
    });
    let places = out.values.chunks_exact(LOOKS.len());
    places
        .map(|scores| {
            let most = scores.iter().copied().fold(f32::NEG_INFINITY, f32::max);
            let shares: [f32; LOOKS.len()] = std::array::from_fn(|i| (scores[i] - most).exp());
            let total: f32 = shares.iter().sum();
            shares.map(|share| share / total)
        })
        .collect()
}

/// The trained net.
pub fn net() -> Net {
    Net::from_bytes(&FORMS, WEIGHTS)
}

/// The looks of each line of a strip; `source` is the grey picture that the strip was found on.
pub fn looks_of(source: &GrayImage, strip: &Strip) -> Vec<Vec<[f32; LOOKS.len()]>> {
    let net = net();
    let sights = sights(source, strip);
    sights.iter().map(|sight| looks(&net, sight)).collect()
}

/// A stretch of a line that does not look ordinary.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sign {
    /// From 0, top to bottom.
    pub line: usize,
    /// Middle of the stretch as a share of the line's width; below 0 or above 1 beside the line.
    pub at: f64,
    pub look: Look,
    /// How much the stretch stands out from the strip's other places, in nats.
    pub clearness: f32,
}

/// The clearest stretch of each line, where it stands out at least so much.
///
/// A strip that is worn all along looks a little unlike type all along, so a stretch is measured against the strip's
/// median.
pub fn signs(looks: &[Vec<[f32; LOOKS.len()]>], least: f32) -> Vec<Sign> {
    /// Places of a stretch: two and a half letters' heights, the width of three letters.
    const STRETCH: usize = 5;
    /// Least probability taken for the median.
    const LEAST_USUAL: f32 = 0.02;
    /// Share of the median's log-odds that is taken off. On tuning seeds 950 to 956 it left at default noise as many
    /// amendments found as without, and a third of the false alarms at heavy noise.
    const USUAL_SHARE: f32 = 0.5;
    let odds = |probability: f32| {
        let probability = probability.clamp(1e-4, 1.0 - 1e-4);
        (probability / (1.0 - probability)).ln()
    };
    let changed = |stretch: &[[f32; LOOKS.len()]]| {
        1.0 - stretch.iter().map(|place| place[0]).sum::<f32>() / stretch.len() as f32
    };
    let stretches =
        |line: &[[f32; LOOKS.len()]]| -> Vec<f32> { line.windows(STRETCH).map(changed).collect() };
    let lines: Vec<Vec<f32>> = looks.iter().map(|line| stretches(line)).collect();
    let mut all = lines.concat();
    all.sort_by(f32::total_cmp);
    let Some(&usual) = all.get(all.len().saturating_sub(1) / 2) else {
        return Vec::new();
    };
    let usual = USUAL_SHARE * odds(usual.max(LEAST_USUAL));
    let clearest = |line: usize| {
        let (first, changed) = lines[line]
            .iter()
            .enumerate()
            .max_by(|(_, a), (_, b)| a.total_cmp(b))?;
        let stretch = &looks[line][first..first + STRETCH];
        let sum = |look: usize| stretch.iter().map(|place| place[look]).sum::<f32>();
        let look = (1..LOOKS.len()).max_by(|&a, &b| sum(a).total_cmp(&sum(b)))?;
        let cells = ((first + STRETCH / 2) * APART + SEEN / 2) as f64 - BESIDE as f64;
        let width = ((looks[line].len() - 1) * APART + SEEN - 2 * BESIDE) as f64;
        Some(Sign {
            line,
            at: cells / width,
            look: LOOKS[look],
            clearness: odds(*changed) - usual,
        })
    };
    (0..looks.len())
        .filter_map(clearest)
        .filter(|sign| sign.clearness >= least)
        .collect()
}

/// Share of all places that look written by hand.
fn written_share(looks: &[Vec<[f32; LOOKS.len()]>]) -> f64 {
    let written = LOOKS.iter().position(|&look| look == Look::Written);
    let places = looks.iter().flatten();
    let (mut of_hand, mut all) = (0usize, 0usize);
    for place in places {
        let best = (0..LOOKS.len()).max_by(|&a, &b| place[a].total_cmp(&place[b]));
        of_hand += usize::from(best == written);
        all += 1;
    }
    of_hand as f64 / all.max(1) as f64
}

/// Says where a strip looks amended, or that it is handwritten.
///
/// `source` is the grey picture that the strip was found on.
pub fn findings(source: &GrayImage, strip: &Strip) -> Vec<Finding> {
    let looks = looks_of(source, strip);
    let warn = |code: &str, message: String| {
        vec![Finding::new(
            Severity::Warning,
            Station::Strip,
            code,
            message,
        )]
    };
    if written_share(&looks) >= HANDWRITTEN {
        let message = "expected typed text, found what looks written by hand; read it from the picture and key it";
        return warn("handwritten", message.to_owned());
    }
    let signs: Vec<String> = signs(&looks, CLEAR).iter().map(Sign::words).collect();
    if signs.is_empty() {
        return Vec::new();
    }
    let message = format!(
        "expected text as it was typed, found signs of a change: {}; look at the strip and key what holds now",
        signs.join("; ")
    );
    warn("amended", message)
}

impl Sign {
    fn words(&self) -> String {
        let looks = match self.look {
            Look::Ordinary => "unlike its line",
            Look::StruckOut => "struck out",
            Look::Covered => "pasted or painted over",
            Look::Written => "written on by hand",
        };
        let place = match self.at {
            at if at < 0.0 => "before its start",
            at if at < 0.2 => "near its start",
            at if at < 0.4 => "left of its middle",
            at if at < 0.6 => "near its middle",
            at if at < 0.8 => "right of its middle",
            at if at < 1.0 => "near its end",
            _ => "after its end",
        };
        format!("line {} looks {looks} {place}", self.line + 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command::demo::{Amendment, Collection, Settings, draw};
    use crate::strip::find;

    /// The codes on a drawn sheet that say that its text cannot be relied on; a strip of handwriting may not be found.
    fn codes(index: usize, amendment: Option<Amendment>) -> Vec<String> {
        let settings = Settings {
            seed: 14,
            heavy_share: 0.0,
            ..Settings::default()
        };
        let mut plan = Collection::new(settings).sheet(index);
        plan.look.amendment = amendment;
        let found = find(&draw::draw(&plan).image);
        let codes = found.findings.into_iter().map(|finding| finding.code);
        codes
            .filter(|code| ["amended", "handwritten", "blank-strip"].contains(&code.as_str()))
            .collect()
    }

    #[test]
    fn the_net_is_as_large_as_its_layers_say() {
        let numbers: usize = FORMS
            .iter()
            .map(|form| form.weights() + form.channels.1)
            .sum();
        assert_eq!(WEIGHTS.len(), 4 * numbers);
        let (rows, columns) = FORMS.iter().fold((ROWS, SEEN), |(rows, columns), form| {
            form.size(rows, columns)
        });
        assert_eq!((rows, columns), (1, 1));
    }

    #[test]
    fn most_amended_headings_are_told_from_ordinary_ones() {
        for (amendment, least, most) in [
            (None, 0, 2),
            (Some(Amendment::StruckOut), 4, 8),
            (Some(Amendment::Handwritten), 7, 8),
        ] {
            let noticed = (0..8).filter(|&index| !codes(index, amendment).is_empty());
            let noticed = noticed.count();
            assert!(
                (least..=most).contains(&noticed),
                "{amendment:?}: {noticed} of 8"
            );
        }
    }

    #[test]
    fn a_sign_says_where_it_is() {
        const ORDINARY: [f32; 4] = [0.97, 0.01, 0.01, 0.01];
        const STRUCK: [f32; 4] = [0.02, 0.95, 0.02, 0.01];
        let mut looks = vec![vec![ORDINARY; 40], vec![ORDINARY; 40]];
        assert_eq!(signs(&looks, CLEAR), []);
        looks[1][19] = STRUCK;
        assert_eq!(signs(&looks, CLEAR), [], "one place alone may be a speck");
        looks[1][18..23].fill(STRUCK);
        let words: Vec<String> = signs(&looks, CLEAR).iter().map(Sign::words).collect();
        assert_eq!(words, ["line 2 looks struck out near its middle"]);
    }
}
