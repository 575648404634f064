//! Training of the net that tells amended places from ordinary ones.

use super::{Drawing, drawn_and_found, parallel};
use headword::command::demo::{Amendment, Collection, FontUse, Settings};
use headword::strip::amended::{APART, FORMS, LOOKS, Look, SEEN};
use headword::strip::convolution::{Form, Grid, Layer, Net, rectify};
use headword::strip::sight::{CHANNELS, ROWS, Sight, sights};
use headword::strip::{Strip, grey};
use headword::value::Quad;
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Lines of one step.
const BATCH: usize = 16;
/// Of the first epoch; it falls to nothing by the last.
const LEARNING_RATE: f32 = 2e-3;
/// Share of the training sheets that are ordinary.
const ORDINARY: usize = 3;
/// Loss of an amended place against that of an ordinary one: they are few.
const AMENDED_WEIGHT: f32 = 2.0;

/// A line and what is at each of its places, as an index into `LOOKS`; `None` where it is not clear.
struct Example {
    sight: Sight,
    places: Vec<Option<usize>>,
}

/// Draws, trains, and writes the weights.
pub fn train(sheets: usize, epochs: usize, to: &str) {
    let collections: Vec<Collection> = (0..sheets.div_ceil(1000))
        .map(|part| {
            Collection::new(Settings {
                seed: 500 + part as u64,
                sheets: 1000,
                fonts: FontUse::Tuning,
                heavy_share: 0.4,
                ..Settings::default()
            })
        })
        .collect();
    let mut examples: Vec<Example> =
        parallel(sheets, |at| examples(&collections[at / 1000], at % 1000))
            .into_iter()
            .flatten()
            .collect();
    println!("{} lines", examples.len());
    let random = &mut ChaCha8Rng::seed_from_u64(1);
    examples.shuffle(random);
    let tested = examples.split_off(examples.len() * 19 / 20);
    let mut net = Net {
        layers: FORMS.iter().map(|&form| start(form, random)).collect(),
    };
    let mut optimiser = Adam::default();
    let steps = examples.len().div_ceil(BATCH) * epochs;
    for epoch in 0..epochs {
        examples.shuffle(random);
        let mut loss = 0.0;
        for batch in examples.chunks(BATCH) {
            let share = 1.0 - optimiser.steps as f32 / steps as f32;
            loss += step(&mut net, batch, &mut optimiser, LEARNING_RATE * share);
        }
        let lines = examples.len() as f32;
        println!(
            "epoch {epoch}: loss {:.4}, {}",
            loss / lines,
            tried(&net, &tested)
        );
        std::fs::write(to, net.to_bytes()).expect("the weights can be written");
    }
}

/// Draws one sheet and looks at its lines.
fn examples(collection: &Collection, index: usize) -> Vec<Example> {
    let mut plan = collection.sheet(index);
    if plan.lines.is_empty() {
        return Vec::new();
    }
    let kinds = Amendment::ALL.len();
    let drawing = match index % (kinds + ORDINARY) {
        at if at < kinds => Drawing::Amended(Amendment::ALL[at]),
        at if at == kinds => Drawing::ShowsThrough,
        _ => Drawing::Ordinary,
    };
    drawing.apply(&mut plan);
    let (drawn, found) = drawn_and_found(&plan);
    let (Some(strip), Some(true_strip)) = (found.strip, drawn.truth.strip.0) else {
        return Vec::new();
    };
    if drawn.truth.amended == "marked" || strip.lay.corners.overlap(&true_strip) < 0.5 {
        return Vec::new();
    }
    let look = match drawing {
        Drawing::Amended(Amendment::StruckOut) => Look::StruckOut,
        Drawing::Amended(Amendment::PastedOver | Amendment::Whitened) => Look::Covered,
        Drawing::Amended(Amendment::WrittenOn | Amendment::Handwritten) => Look::Written,
        _ => Look::Ordinary,
    };
    let look = LOOKS
        .iter()
        .position(|&other| other == look)
        .expect("a look");
    let at = drawn.truth.amended_at.0.map(|quad| on_strip(&strip, &quad));
    sights(&grey::grey(&drawn.image), &strip)
        .into_iter()
        .map(|sight| {
            let places = (0..)
                .map(|place| place * APART + SEEN / 2)
                .take_while(|middle| middle + SEEN / 2 < sight.width)
                .map(|middle| label(&sight, middle, at, look))
                .collect();
            Example { sight, places }
        })
        .collect()
}

/// What is at a place, seen by the cells round its middle one.
fn label(sight: &Sight, middle: usize, at: Option<[f64; 4]>, look: usize) -> Option<usize> {
    /// Cells from the middle within which a change should be noticed, and within which it may.
    const NEAR: f64 = 3.0;
    const REACH: f64 = 12.0;
    let Some([left, top, right, bottom]) = at else {
        return Some(0);
    };
    let x = sight.corner.x + (middle as f64 + 0.5) * sight.cell;
    let (upper, lower) = (sight.corner.y, sight.corner.y + ROWS as f64 * sight.cell);
    // How much of the change's height is in sight, in cells.
    let in_sight = (bottom.min(lower) - top.max(upper)) / sight.cell;
    let off = (left - x).max(x - right) / sight.cell;
    if in_sight < 0.0 || off > REACH + 4.0 {
        Some(0)
    } else if in_sight >= 4.0 && off <= NEAR {
        Some(look)
    } else {
        None
    }
}

/// The upright box, in pixels of the strip, round corners on the source: left, top, right, bottom.
fn on_strip(strip: &Strip, quad: &Quad) -> [f64; 4] {
    let [a, b, _, d] = strip.lay.corners.0;
    let (right, down) = ((b.x - a.x, b.y - a.y), (d.x - a.x, d.y - a.y));
    let determinant = right.0 * down.1 - right.1 * down.0;
    let (width, height) = (
        f64::from(strip.image.width()),
        f64::from(strip.image.height()),
    );
    let places = quad.0.map(|at| {
        let (x, y) = (at.x - a.x, at.y - a.y);
        (
            (x * down.1 - y * down.0) / determinant * width,
            (y * right.0 - x * right.1) / determinant * height,
        )
    });
    let fold = |pick: fn(&(f64, f64)) -> f64, join: fn(f64, f64) -> f64| {
        places.iter().map(pick).reduce(join).expect("four corners")
    };
    [
        fold(|p| p.0, f64::min),
        fold(|p| p.1, f64::min),
        fold(|p| p.0, f64::max),
        fold(|p| p.1, f64::max),
    ]
}

/// He initialisation, uniform.
fn start(form: Form, random: &mut ChaCha8Rng) -> Layer {
    let inputs = form.weights() / form.channels.1;
    let most = (6.0 / inputs as f32).sqrt();
    Layer {
        form,
        weights: (0..form.weights())
            .map(|_| (random.random::<f32>() * 2.0 - 1.0) * most)
            .collect(),
        bias: vec![0.0; form.channels.1],
    }
}

/// Loss and its slopes by every weight, layer by layer: weights, then biases.
type Slopes = Vec<(Vec<f32>, Vec<f32>)>;

fn step(net: &mut Net, batch: &[Example], optimiser: &mut Adam, rate: f32) -> f32 {
    let (frozen, parts) = (&*net, parallel(batch.len(), |at| slopes(&*net, &batch[at])));
    let mut sum: Slopes = frozen
        .layers
        .iter()
        .map(|layer| (vec![0.0; layer.weights.len()], vec![0.0; layer.bias.len()]))
        .collect();
    let mut loss = 0.0;
    for (part, slopes) in parts {
        loss += part;
        for (sum, slope) in sum.iter_mut().zip(slopes) {
            add(&mut sum.0, &slope.0);
            add(&mut sum.1, &slope.1);
        }
    }
    optimiser.apply(net, &sum, batch.len() as f32, rate);
    loss
}

fn add(sum: &mut [f32], more: &[f32]) {
    sum.iter_mut()
        .zip(more)
        .for_each(|(sum, more)| *sum += more);
}

/// Mean cross-entropy over a line's places, and its slopes.
fn slopes(net: &Net, example: &Example) -> (f32, Slopes) {
    let mut grids = vec![Grid {
        rows: ROWS,
        columns: example.sight.width,
        channels: CHANNELS,
        values: example.sight.cells.clone(),
    }];
    for (at, layer) in net.layers.iter().enumerate() {
        let mut out = layer.apply(&grids[at]);
        if at + 1 < net.layers.len() {
            rectify(&mut out);
        }
        grids.push(out);
    }
    let out = grids.last().expect("layers");
    let mut slope = vec![0.0; out.values.len()];
    let mut loss = 0.0;
    let places = example.places.len() as f32;
    for ((scores, slope), place) in out
        .values
        .chunks_exact(LOOKS.len())
        .zip(slope.chunks_exact_mut(LOOKS.len()))
        .zip(&example.places)
    {
        let Some(right) = *place else { continue };
        let weight = if right == 0 { 1.0 } else { AMENDED_WEIGHT } / places;
        let most = scores.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        let total: f32 = scores.iter().map(|score| (score - most).exp()).sum();
        loss += weight * (total.ln() + most - scores[right]);
        for (look, (slope, score)) in slope.iter_mut().zip(scores).enumerate() {
            let share = (score - most).exp() / total;
            *slope = weight * (share - f32::from(u8::from(look == right)));
        }
    }
    let mut slopes = Slopes::new();
    for (at, layer) in net.layers.iter().enumerate().rev() {
        let (own, before) = back(layer, &grids[at], &slope, at > 0);
        slopes.push(own);
        slope = before;
    }
    slopes.reverse();
    (loss, slopes)
}

/// A layer's slopes from those of what comes out of it, and those of what goes in where `deeper` is wanted.
fn back(
    layer: &Layer,
    input: &Grid,
    slope: &[f32],
    deeper: bool,
) -> ((Vec<f32>, Vec<f32>), Vec<f32>) {
    match layer.form.channels.1 {
        4 => back_from::<4>(layer, input, slope, deeper),
        8 => back_from::<8>(layer, input, slope, deeper),
        16 => back_from::<16>(layer, input, slope, deeper),
        32 => back_from::<32>(layer, input, slope, deeper),
        other => unreachable!("no layer has {other} channels"),
    }
}

fn back_from<const OUT: usize>(
    layer: &Layer,
    input: &Grid,
    slope: &[f32],
    deeper: bool,
) -> ((Vec<f32>, Vec<f32>), Vec<f32>) {
    let Form {
        kernel,
        stride,
        channels: (inputs, _),
    } = layer.form;
    let (_, columns) = layer.form.size(input.rows, input.columns);
    let mut weights = vec![[0.0; OUT]; layer.weights.len() / OUT];
    let (own, _) = layer.weights.as_chunks::<OUT>();
    let mut bias = vec![0.0; OUT];
    let mut before = vec![0.0; if deeper { input.values.len() } else { 0 }];
    let span = kernel.1 * inputs;
    for (at, slope) in slope.as_chunks::<OUT>().0.iter().enumerate() {
        if *slope == [0.0; OUT] {
            continue;
        }
        let (row, column) = (at / columns, at % columns);
        add(&mut bias, slope);
        for down in 0..kernel.0 {
            let from = ((row * stride + down) * input.columns + column * stride) * inputs;
            for across in 0..span {
                let seen = input.values[from + across];
                // A unit that gave nothing passes no slope on either.
                if seen == 0.0 {
                    continue;
                }
                let at = down * span + across;
                for channel in 0..OUT {
                    weights[at][channel] += seen * slope[channel];
                }
                if deeper {
                    let mut parts = [0.0; 4];
                    for channel in 0..OUT {
                        parts[channel % 4] += own[at][channel] * slope[channel];
                    }
                    before[from + across] += parts.iter().sum::<f32>();
                }
            }
        }
    }
    ((weights.into_flattened(), bias), before)
}

/// Adam (Kingma and Ba 2015), with its authors' constants.
#[derive(Default)]
struct Adam {
    steps: usize,
    first: Vec<f32>,
    second: Vec<f32>,
}

impl Adam {
    fn apply(&mut self, net: &mut Net, slopes: &Slopes, batch: f32, rate: f32) {
        const DECAY: (f32, f32) = (0.9, 0.999);
        const LEAST: f32 = 1e-8;
        /// Share of every weight given up a step, over the rate: keeps weights small.
        const SHRINK: f32 = 1e-3;
        self.steps += 1;
        let count: usize = slopes.iter().map(|(w, b)| w.len() + b.len()).sum();
        self.first.resize(count, 0.0);
        self.second.resize(count, 0.0);
        let steps = self.steps as i32;
        let (one, two) = (1.0 - DECAY.0.powi(steps), 1.0 - DECAY.1.powi(steps));
        let weights = net
            .layers
            .iter_mut()
            .flat_map(|layer| layer.weights.iter_mut().chain(&mut layer.bias));
        let slopes = slopes.iter().flat_map(|(w, b)| w.iter().chain(b));
        for (((weight, slope), first), second) in weights
            .zip(slopes)
            .zip(&mut self.first)
            .zip(&mut self.second)
        {
            let slope = slope / batch;
            *first = DECAY.0 * *first + (1.0 - DECAY.0) * slope;
            *second = DECAY.1 * *second + (1.0 - DECAY.1) * slope * slope;
            let by = (*first / one) / ((*second / two).sqrt() + LEAST);
            *weight -= rate * (by + SHRINK * *weight);
        }
    }
}

/// Loss on lines that were not trained on, and the share of places of each look that got it.
fn tried(net: &Net, examples: &[Example]) -> String {
    let mut loss = 0.0;
    let mut right = [(0usize, 0usize); LOOKS.len()];
    for example in examples {
        loss += slopes(net, example).0;
        let looks = headword::strip::amended::looks(net, &example.sight);
        for (looks, place) in looks.iter().zip(&example.places) {
            let Some(place) = *place else { continue };
            let best = (0..LOOKS.len()).max_by(|&a, &b| looks[a].total_cmp(&looks[b]));
            right[place].0 += usize::from(best == Some(place));
            right[place].1 += 1;
        }
    }
    let shares = right.map(|(hits, all)| format!("{:.3}", hits as f64 / all.max(1) as f64));
    format!(
        "tested {:.4}, right {}",
        loss / examples.len() as f32,
        shares.join(" ")
    )
}
