//! The page: one file with its style and its plots in it, without scripts or anything from elsewhere.

use super::sections::{Plot, Section, Table};
use crate::command::page::escaped;
use crate::review::Rate;
use std::fmt::Write;

/// Plots' width and height, and the room for axes, in CSS pixels.
const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 260.0;
const MARGIN: f64 = 48.0;
/// Left, right, top and bottom of the area between the axes.
const AXES: [f64; 4] = [MARGIN, WIDTH - 20.0, 30.0, HEIGHT - MARGIN];
/// Height of a row of rates.
const ROW: f64 = 24.0;
/// Room for the names of rates, and the characters that fit in.
const NAMES: f64 = 250.0;
const NAME: usize = 36;

/// Colours that differ in lightness too, for print in grey.
const PARTS: [&str; 7] = [
    "#1b4965", "#3d7ea6", "#7fb2d1", "#bcd9e8", "#c98b2b", "#8f5a1a", "#a7a7a7",
];

const STYLE: &str = "body{font:15px/1.5 system-ui,sans-serif;max-width:52rem;margin:2rem auto;padding:0 1rem;color:#1a1a1a;\
    background:#fff}h1{font-size:1.6rem}h2{font-size:1.15rem;margin-top:2.2rem;border-bottom:1px solid #bbb}\
    table{border-collapse:collapse;margin:.8rem 0;break-inside:avoid}th,td{padding:.15rem .9rem .15rem 0;text-align:right;\
    font-variant-numeric:tabular-nums}th:first-child,td:first-child{text-align:left}th{border-bottom:1px solid #777;\
    font-weight:600}svg{max-width:100%;height:auto;margin:.6rem 0}text{font:12px system-ui,sans-serif;fill:#333;paint-order:stroke;\
    stroke:#fff;stroke-width:3px}";

pub fn page(title: &str, sections: &[Section]) -> String {
    let title = escaped(title);
    let mut page = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" \
         content=\"width=device-width\">\n<title>{title}: report</title>\n<style>{STYLE}</style>\n</head>\n<body>\n\
         <h1>{title}</h1>\n"
    );
    for section in sections {
        let _ = writeln!(page, "<section>\n<h2>{}</h2>", escaped(section.title));
        for line in &section.lines {
            let _ = writeln!(page, "<p>{}</p>", escaped(line));
        }
        page.extend(section.plot.iter().map(plot));
        page.extend(section.tables.iter().map(table));
        page.push_str("</section>\n");
    }
    page.push_str("</body>\n</html>\n");
    page
}

fn table(table: &Table) -> String {
    let row = |cells: &[String], tag: &str| {
        let cells = cells
            .iter()
            .map(|cell| format!("<{tag}>{}</{tag}>", escaped(cell)));
        format!("<tr>{}</tr>\n", cells.collect::<String>())
    };
    let rows: String = table.rows.iter().map(|cells| row(cells, "td")).collect();
    format!("<table>\n{}{rows}</table>\n", row(&table.head, "th"))
}

fn plot(plot: &Plot) -> String {
    match plot {
        Plot::Parts(parts) => stacked(parts),
        Plot::Rates(rates) => intervals(rates),
        Plot::Calibration(points) => calibration(points),
        Plot::Curve {
            points,
            marks,
            found,
        } => curve(points, marks, *found),
    }
}

fn svg(height: f64, label: &str, content: &str) -> String {
    format!(
        "<svg viewBox=\"0 0 {WIDTH} {height}\" width=\"{WIDTH}\" height=\"{height}\" role=\"img\" aria-label=\"{}\">\n\
         {content}</svg>\n",
        escaped(label)
    )
}

fn text(x: f64, y: f64, anchor: &str, words: &str) -> String {
    let words = escaped(words);
    format!("<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\">{words}</text>\n")
}

fn line([x1, y1]: [f64; 2], [x2, y2]: [f64; 2], style: &str) -> String {
    format!("<line x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\" {style}/>\n")
}

const AXIS: &str = "stroke=\"#777\"";
const GRID: &str = "stroke=\"#ddd\"";
const INK: &str = "stroke=\"#1b4965\" stroke-width=\"2\"";
const DASHED: &str = "stroke=\"#8f5a1a\" stroke-dasharray=\"4 3\"";

fn stacked(parts: &[(String, usize)]) -> String {
    let whole: usize = parts.iter().map(|(_, size)| size).sum();
    let (mut content, mut x) = (String::new(), 0.0);
    for (n, (name, size)) in parts.iter().enumerate() {
        let width = WIDTH * *size as f64 / whole.max(1) as f64;
        let (colour, below) = (PARTS[n % PARTS.len()], 50.0 + 18.0 * n as f64);
        let _ = write!(
            content,
            "<rect x=\"{x:.1}\" y=\"0\" width=\"{width:.1}\" height=\"28\" fill=\"{colour}\"/>\n\
             <rect x=\"0\" y=\"{:.1}\" width=\"12\" height=\"12\" fill=\"{colour}\"/>\n",
            below - 10.0
        );
        content += &text(18.0, below, "start", &format!("{name}: {size}"));
        x += width;
    }
    svg(
        40.0 + 18.0 * parts.len() as f64,
        "sheets by state",
        &content,
    )
}

/// The least round number (1, 2 or 5 times a power of ten) that is not below this.
fn round_up(value: f64) -> f64 {
    let power = 10_f64.powf(value.max(1e-9).log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0];
    let step = steps.into_iter().find(|step| step * power >= value);
    step.unwrap_or(10.0) * power
}

fn intervals(rates: &[(String, Rate)]) -> String {
    let most = rates
        .iter()
        .map(|(_, rate)| 1_000.0 * rate.high)
        .fold(0.0, f64::max);
    let most = round_up(most);
    let right = WIDTH - 20.0;
    let at = |per_thousand: f64| NAMES + (right - NAMES) * per_thousand / most;
    let bottom = ROW * rates.len() as f64;
    let mut content = String::new();
    for step in 0..=4 {
        let value = most * f64::from(step) / 4.0;
        content += &line([at(value), 0.0], [at(value), bottom], GRID);
        content += &text(at(value), bottom + 16.0, "middle", &format!("{value}"));
    }
    content += &text(right, bottom + 34.0, "end", "in 1,000, with 95 % intervals");
    for (n, (name, rate)) in rates.iter().enumerate() {
        let y = ROW * (n as f64 + 0.5);
        let mut short: String = name.chars().take(NAME).collect();
        if short.len() < name.len() {
            short.push('…');
        }
        content += &text(NAMES - 10.0, y + 4.0, "end", &short);
        let (low, high) = (at(1_000.0 * rate.low), at(1_000.0 * rate.high));
        content += &line([low, y], [high, y], INK);
        if let Some(rate) = rate.per_thousand {
            let x = at(rate.min(most));
            let _ = writeln!(
                content,
                "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4\" fill=\"#1b4965\"/>"
            );
        }
    }
    svg(bottom + 40.0, "rates with their intervals", &content)
}

/// A frame of axes; `x` and `y` name their ends' values.
fn frame(x: [String; 2], y: [String; 2], names: [&str; 2]) -> String {
    let [left, right, top, bottom] = AXES;
    let mut content = line([left, bottom], [right, bottom], AXIS);
    content += &line([left, top], [left, bottom], AXIS);
    content += &text(left, bottom + 16.0, "middle", &x[0]);
    content += &text(right, bottom + 16.0, "end", &x[1]);
    content += &text(left - 6.0, bottom, "end", &y[0]);
    content += &text(left - 6.0, top + 8.0, "end", &y[1]);
    content += &text(
        f64::midpoint(left, right),
        bottom + 34.0,
        "middle",
        names[0],
    );
    content + &text(left + 6.0, top - 14.0, "start", names[1])
}

/// Where a point of a frame lies; both shares are from 0 to 1.
fn place(x: f64, y: f64) -> [f64; 2] {
    let [left, right, top, bottom] = AXES;
    [
        left + (right - left) * x.clamp(0.0, 1.0),
        bottom - (bottom - top) * y.clamp(0.0, 1.0),
    ]
}

fn calibration(points: &[(f64, Rate)]) -> String {
    // From the lowest value on, so that what lies near 1 can be told apart.
    let low = points
        .iter()
        .map(|(proposed, right)| proposed.min(right.low))
        .fold(1.0, f64::min);
    let low = (low * 10.0).floor() / 10.0;
    let scale = |value: f64| (value - low) / (1.0 - low).max(1e-9);
    let ends = || [format!("{:.0} %", 100.0 * low), "100 %".to_owned()];
    let mut content = frame(
        ends(),
        ends(),
        [
            "probability when proposed",
            "share that is right, with 95 % intervals",
        ],
    );
    content += &line(place(0.0, 0.0), place(1.0, 1.0), DASHED);
    for (proposed, right) in points {
        let x = scale(*proposed);
        content += &line(place(x, scale(right.low)), place(x, scale(right.high)), INK);
        let share = right.hits as f64 / right.of.max(1) as f64;
        let [x, y] = place(x, scale(share));
        let _ = writeln!(
            content,
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4\" fill=\"#1b4965\"/>"
        );
    }
    svg(HEIGHT, "calibration of the proposals", &content)
}

fn curve(points: &[(f64, f64)], marks: &[(f64, String)], found: Option<(f64, f64)>) -> String {
    let most = points.iter().map(|(bad, _)| *bad).fold(1e-9, f64::max);
    let x_ends = ["0".to_owned(), format!("{:.1} %", 100.0 * most)];
    let y_ends = ["0".to_owned(), "1".to_owned()];
    let mut content = frame(
        x_ends,
        y_ends,
        ["bad sheets in the lot", "probability that it is accepted"],
    );
    if let Some((low, high)) = found {
        let ([left, top], [right, bottom]) = (place(low / most, 1.0), place(high / most, 0.0));
        let (width, height) = (right - left, bottom - top);
        let _ = writeln!(
            content,
            "<rect x=\"{left:.1}\" y=\"{top:.1}\" width=\"{width:.1}\" height=\"{height:.1}\" fill=\"#bcd9e8\" \
             opacity=\"0.6\"/>"
        );
        content += &text(
            f64::midpoint(left, right),
            bottom - 6.0,
            "middle",
            "this lot, 95 %",
        );
    }
    for (n, (bad, words)) in marks.iter().filter(|(bad, _)| *bad <= most).enumerate() {
        let [x, top] = place(bad / most, 1.0);
        content += &line([x, top], place(bad / most, 0.0), DASHED);
        content += &text(x + 5.0, top + 14.0 + 16.0 * n as f64, "start", words);
    }
    let points = points.iter().map(|(bad, accepted)| {
        let [x, y] = place(bad / most, *accepted);
        format!("{x:.1},{y:.1}")
    });
    let points = points.collect::<Vec<_>>().join(" ");
    let _ = writeln!(
        content,
        "<polyline points=\"{points}\" fill=\"none\" {INK}/>"
    );
    svg(HEIGHT, "operating characteristic of the plan", &content)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_end_at_round_numbers() {
        for (value, rounded) in [
            (0.0, 1e-9),
            (3.2, 5.0),
            (51.0, 100.0),
            (0.11, 0.2),
            (10.0, 10.0),
        ] {
            assert!(
                (round_up(value) - rounded).abs() <= 1e-9 * rounded,
                "{value}"
            );
        }
    }
}
