//! How well and how fast strips are found on drawn sheets:
//! `cargo bench --profile dev --no-default-features --bench strip -- --seed 7001 --sheets 1000 --fonts reporting`.
//!
//! Draws sheets of a seed (half of them heavy unless `--heavy SHARE` says otherwise, one in a hundred blank unless
//! `--blank SHARE` does; all with one kind of trouble and no other where `--trouble NAME` names it; personnel jackets
//! unless `--collection` says drawings or payroll), runs the strip station on each, and prints the share found, upright
//! and in the right polarity by noise and by kind of trouble, the intersection over union with the true strip, the line
//! counts, and milliseconds by step. `--failures DIR` writes the failed sheets there, with what was found beside them.
//! `--dpi N` looks at the sheets of that resolution only, and times each.

#[path = "arguments.rs"]
mod arguments;

use arguments::{number, value};
use clap::ValueEnum;
use headword::command::demo::draw::{Drawn, draw};
use headword::command::demo::look::Look;
use headword::command::demo::{Collection, CollectionKind, FontUse, Noise, Rates, Settings};
use headword::strip::candidate::cut_out;
use headword::strip::heading::{Activity, headings};
use headword::strip::working::Working;
use headword::strip::{Found, Strip, decode, find, grey, sheet, skew};
use headword::value::SheetKind;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Least intersection over union with the true strip that counts as found.
const LEAST_OVERLAP: f64 = 0.5;

fn main() {
    let settings = Settings {
        kind: value("--collection").map_or(CollectionKind::Personnel, |name| {
            CollectionKind::from_str(&name, false).expect("a kind of collection")
        }),
        seed: number("--seed", 100),
        sheets: number("--sheets", 100),
        heavy_share: number("--heavy", 0.5),
        fonts: match value("--fonts").as_deref() {
            Some("reporting") => FontUse::Reporting,
            _ => FontUse::Tuning,
        },
        rates: Rates {
            blank: number("--blank", Rates::default().blank),
            ..Rates::default()
        },
        trouble: value("--trouble").map(|name| name.parse().expect("a kind of trouble")),
        ..Settings::default()
    };
    let failures = value("--failures").map(PathBuf::from);
    let mut tally = Tally::default();
    let resolution = value("--dpi").map(|_| number("--dpi", 0.0f32));
    for plan in Collection::new(settings).sheets() {
        if resolution.is_some_and(|wanted| plan.look.resolution != wanted) {
            continue;
        }
        let drawn = draw(&plan);
        let found = find(&drawn.image);
        let failed = tally.count(&plan.look, &drawn, &found);
        if let (Some(folder), Some(why)) = (&failures, failed) {
            keep(folder, plan.index, &why, &drawn, &found);
        }
        if resolution.is_some() || plan.index.is_multiple_of(10) {
            tally.time(&drawn);
        }
    }
    tally.print();
}

/// Processor time of this program so far, which other programs on the machine do not lengthen: the first number of
/// Linux's `/proc/self/schedstat`, in nanoseconds.
fn processor_milliseconds() -> f64 {
    let text = std::fs::read_to_string("/proc/self/schedstat").expect("Linux keeps this file");
    let first = text
        .split(' ')
        .next()
        .and_then(|number| number.parse::<f64>().ok());
    first.expect("the file starts with a number") / 1e6
}

#[derive(Default)]
struct Tally {
    /// Right and all, by group.
    groups: BTreeMap<String, (usize, usize)>,
    overlaps: Vec<f64>,
    skews: Vec<f64>,
    milliseconds: BTreeMap<&'static str, Vec<f64>>,
}

impl Tally {
    /// Counts one sheet; says what went wrong, if anything did.
    fn count(&mut self, look: &Look, drawn: &Drawn, found: &Found) -> Option<String> {
        let truth = &drawn.truth;
        let noise = match truth.noise {
            Noise::Default => "default",
            Noise::Heavy => "heavy",
        };
        let mut add = |group: String, right: bool| {
            let (hits, all) = self.groups.entry(group).or_default();
            *hits += usize::from(right);
            *all += 1;
        };
        if truth.kind == SheetKind::Blank {
            let right = found
                .findings
                .iter()
                .any(|finding| finding.code == "blank-strip");
            add(format!("{noise}: blank strip known as blank"), right);
            return (!right).then(|| "blank".to_owned());
        }
        let said = |code: &str| found.findings.iter().any(|finding| finding.code == code);
        for (what, code, is_so) in [
            ("two sheets", "several-sheets", truth.sheets > 1),
            ("cut off", "strip-cut-off", truth.cut_off),
            ("too small", "too-small", truth.too_small),
        ] {
            let group = if is_so {
                "said of"
            } else {
                "not said of sheets without"
            };
            add(format!("{noise}: {group} {what}"), said(code) == is_so);
        }
        if truth.sheets > 1 {
            // The truth is about one of them; either may be found.
            return None;
        }
        let why = wrong(drawn, found.strip.as_ref(), &mut self.overlaps);
        let right = why.is_none();
        if truth.cut_off {
            add(format!("{noise}: cut off, what is left found"), right);
            return why;
        }
        if truth.amended == "handwritten" {
            add(format!("{noise}: handwritten heading found"), right);
            return why;
        }
        add(format!("{noise}: found, upright, polarity"), right);
        for trouble in look.troubles() {
            add(format!("{noise}:     {trouble}"), right);
        }
        if let Some(strip) = &found.strip {
            let typed = [truth.line1, truth.line2, truth.line3];
            let lines = typed.iter().filter(|line| line.0.is_some()).count();
            add(
                format!("{noise}: line count right"),
                strip.lines.len() == lines,
            );
            self.skews.push((strip.lay.skew - truth.skew).abs());
        }
        why
    }

    fn time(&mut self, drawn: &Drawn) {
        let mut clock = processor_milliseconds();
        let mut note = |name| {
            let spent = processor_milliseconds() - clock;
            self.milliseconds.entry(name).or_default().push(spent);
            clock = processor_milliseconds();
        };
        let bytes = drawn.encode().expect("a drawn sheet can be encoded");
        note("(encode)");
        let opened = decode(&bytes).expect("an encoded sheet can be decoded");
        note("decode");
        let luma = grey::grey(&opened.image);
        note("grey");
        let working = Working::new(&luma);
        note("working picture, ink");
        let slope = skew::slopes(&working.image)[0];
        note("slopes");
        let view = working.view(slope);
        let Some(bounds) = sheet::sheet(&view) else {
            return;
        };
        note("level, sheet");
        let headings = headings(&view, &Activity::new(&view, bounds));
        note("headings");
        if let Some(likeliest) = headings.first() {
            let _ = cut_out(&luma, &view, bounds, likeliest);
        }
        note("cut out, clean, lines, letters");
        let _ = find(&opened.image);
        note("find, all steps");
    }

    fn print(&mut self) {
        for (group, (right, all)) in &self.groups {
            println!(
                "{group:45} {right:5} of {all:5}  {:6.2} %",
                100.0 * *right as f64 / *all as f64
            );
        }
        let at = |values: &mut Vec<f64>, share: f64| {
            values.sort_by(f64::total_cmp);
            let last = values.len().saturating_sub(1) as f64;
            values
                .get((last * share) as usize)
                .copied()
                .unwrap_or(f64::NAN)
        };
        println!(
            "intersection over union: median {:.3}, 1st percentile {:.3}",
            at(&mut self.overlaps, 0.5),
            at(&mut self.overlaps, 0.01)
        );
        println!(
            "skew error, degrees: median {:.3}, 99th percentile {:.3}",
            at(&mut self.skews, 0.5),
            at(&mut self.skews, 0.99)
        );
        // The kernel counts processor time in ticks of some milliseconds, so the median is rough.
        let mut milliseconds = std::mem::take(&mut self.milliseconds);
        for (step, values) in &mut milliseconds {
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            println!(
                "{step:32} {mean:6.1} ms of processor time, mean of {}; median {:.1}, 90th percentile {:.1}",
                values.len(),
                at(values, 0.5),
                at(values, 0.9)
            );
        }
    }
}

/// What is wrong with a strip, in a word; `None` for a right one.
fn wrong(drawn: &Drawn, strip: Option<&Strip>, overlaps: &mut Vec<f64>) -> Option<String> {
    let truth = &drawn.truth;
    let Some(strip) = strip else {
        overlaps.push(0.0);
        return Some("none".to_owned());
    };
    let true_corners = truth.strip.0.expect("a record sheet has a strip");
    let overlap = strip.lay.corners.overlap(&true_corners);
    overlaps.push(overlap);
    if overlap < LEAST_OVERLAP {
        return Some(format!("overlap-{overlap:.2}"));
    }
    if strip.lay.inverted != truth.inverted {
        return Some("polarity".to_owned());
    }
    let lay = &strip.lay;
    (lay.turned != truth.turned || lay.mirrored != truth.mirrored)
        .then(|| format!("facing-{:.1}", lay.facing_margin))
}

/// Writes a failed sheet and what was found on it.
fn keep(folder: &PathBuf, index: usize, why: &str, drawn: &Drawn, found: &Found) {
    std::fs::create_dir_all(folder).expect("the folder can be made");
    let name = |part: &str| folder.join(format!("{index:04}-{why}-{part}.png"));
    drawn
        .image
        .save(name("sheet"))
        .expect("the sheet can be written");
    if let Some(strip) = &found.strip {
        strip
            .image
            .save(name("strip"))
            .expect("the strip can be written");
    }
}
