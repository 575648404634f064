//! The client's page: one file, nothing in it from elsewhere, no scripts; to be read on a screen, on paper, and aloud.

use super::pictures::Picture;
use super::strips::Strip;
use crate::command::page::escaped;
use crate::command::report::counted;
use crate::journal::{ClientAnswer, Numbered, ProofDrawn, ProofItem, Versions};
use crate::review::earlier_answer;
use std::collections::BTreeMap;
use std::fmt::Write;

/// What a page says beside its sheets.
pub struct Facts<'a> {
    pub title: &'a str,
    pub day: String,
    /// None on a page of questions alone.
    pub sample: Option<&'a ProofDrawn>,
    pub draws: usize,
    pub versions: &'a Versions,
    /// The names of the form's files: as CSV, and as a workbook.
    pub forms: &'a [String; 2],
    pub has_roster: bool,
    /// What was answered on an earlier page.
    pub answers: &'a BTreeMap<u32, ClientAnswer>,
}

/// One sheet of a page.
pub struct SheetView<'a> {
    pub strip: &'a Strip,
    pub lines: Vec<&'a Numbered>,
    pub picture: Option<&'a Picture>,
}

/// Greys alone, dark on white; what matters is said in words.
const STYLE: &str = "\
:root{color-scheme:light}*{box-sizing:border-box}\
body{font:1rem/1.5 system-ui,sans-serif;max-width:58rem;margin:0 auto;padding:2rem 1.25rem 4rem;color:#1c1c1c;background:#fff}\
h1{font-size:1.75rem;line-height:1.2;margin:0 0 .25rem}h2{font-size:1.2rem;margin:0 0 .75rem}\
h3{font-size:1rem;margin:1rem 0 .25rem}p{margin:.4rem 0}a{color:inherit}\
.under{color:#444;margin:0 0 1.5rem}\
.box{border:1px solid #777;border-radius:.4rem;padding:.8rem 1.1rem;margin:1rem 0}\
.box ol{margin:.3rem 0;padding-left:1.4rem}\
.caution{border-width:2px;border-color:#1c1c1c}\
article{border-top:2px solid #1c1c1c;margin-top:2.5rem;padding-top:1rem}\
article h2 small{font-weight:400;color:#444;font-size:.85rem;margin-left:.6rem}\
figure{margin:0 0 1rem;padding:.5rem;border:1px solid #777;border-radius:.3rem}\
figure img{display:block;max-width:100%;height:auto;margin:0 auto}\
figcaption{font-size:.85rem;color:#444;padding:.3rem .2rem 0}\
table{border-collapse:collapse;width:100%;table-layout:fixed}caption{text-align:left;font-size:.85rem;color:#444;padding-bottom:.3rem}\
th,td{text-align:left;vertical-align:top;padding:.3rem .75rem .3rem 0;border-bottom:1px solid #ccc}\
thead th{font-size:.85rem;border-bottom:1px solid #1c1c1c}tbody th{font-weight:400;color:#444}\
td.no,th.no{width:3.2rem;font-variant-numeric:tabular-nums;color:#444}\
td.value{font-weight:600;overflow-wrap:anywhere}td.name{font:600 .92rem ui-monospace,monospace;overflow-wrap:anywhere}\
td.roster{overflow-wrap:anywhere}td.tick{white-space:nowrap;font-weight:400}\
th.field{width:8.5rem}th.list{width:21%}th.tick{width:8.2rem}th.write{width:20%}\
tr.whole td,tr.whole th{border-top:1px solid #1c1c1c;color:#1c1c1c}tr.whole th{font-weight:600}\
.questions{list-style:none;margin:0;padding:0}\
.questions li{border-left:4px solid #1c1c1c;padding:.1rem 0 .1rem .8rem;margin:.7rem 0;break-inside:avoid}\
.questions .line{display:block;border-bottom:1px solid #777;height:1.7rem}\
footer{border-top:1px solid #777;margin-top:3rem;padding-top:.8rem;font-size:.85rem;color:#444}\
footer code{font:.8rem ui-monospace,monospace;overflow-wrap:anywhere}\
h3{break-after:avoid}figure.whole img{max-height:32rem;width:auto}\
@media print{:root{font-size:12px}body{max-width:none;padding:0}article{break-inside:avoid;margin-top:1.8rem}\
th,td{padding-top:.2rem;padding-bottom:.2rem}.questions .line{height:2.6rem}@page{margin:15mm}}";

/// The whole page.
pub fn page(facts: &Facts, sheets: &[SheetView]) -> String {
    let title = escaped(facts.title);
    let what = match facts.sample {
        Some(_) => "proof for your approval",
        None => "questions to you",
    };
    let mut page = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" \
         content=\"width=device-width\">\n<meta name=\"referrer\" content=\"no-referrer\">\n<title>{title}: {what}</title>\n\
         <style>{STYLE}</style>\n</head>\n<body>\n<header>\n<h1>{title}: {what}</h1>\n<p class=\"under\">{}</p>\n</header>\n\
         <main>\n",
        escaped(&under(facts, sheets.len()))
    );
    page += &how_to_answer(facts);
    page += &contents(sheets);
    for (n, sheet) in sheets.iter().enumerate() {
        page += &one_sheet(facts, sheet, n + 1, sheets.len());
    }
    let _ = write!(
        page,
        "</main>\n<footer>\n<p>Made on {} by these versions; your approval is of these:</p>\n<p>rules \
         <code>{}</code><br>your list <code>{}</code><br>file names <code>{}</code></p>\n</footer>\n</body>\n</html>\n",
        escaped(&facts.day),
        escaped(&facts.versions.rules),
        match facts.versions.roster.as_str() {
            "" => "none",
            hash => hash,
        },
        escaped(&facts.versions.naming)
    );
    page
}

/// What the page is of, in one line.
fn under(facts: &Facts, sheets: usize) -> String {
    match facts.sample {
        Some(drawn) => {
            let again = match facts.draws {
                0 | 1 => String::new(),
                draws => format!(" (draw number {draws})"),
            };
            format!(
                "{} drawn at random from {}, with the seed {}{again}. {}.",
                counted(sheets, "sheet"),
                drawn.of,
                drawn.seed,
                facts.day
            )
        }
        None => format!(
            "{} about which we need your word. {}.",
            counted(sheets, "sheet"),
            facts.day
        ),
    }
}

fn how_to_answer(facts: &Facts) -> String {
    let [form, workbook] = facts.forms.each_ref().map(|name| escaped(name));
    let values = match facts.sample {
        Some(_) => {
            "<li>Compare each picture with the values below it.</li>\n\
             <li>Write <b>yes</b> or <b>no</b> in the column <i>answer</i>, beside the same number. A yes to \
             <i>whole sheet</i> stands for all values of that sheet that have no answer of their own.</li>\n\
             <li>Where a value is wrong, write what is right in the column <i>correct value</i>. Values are meant as they \
             are typed on the strip, with its slips.</li>\n"
        }
        None => "",
    };
    format!(
        "<section class=\"box\" aria-labelledby=\"how\">\n<h2 id=\"how\">How to answer</h2>\n<ol>\n<li>Open \
         <b>{workbook}</b>, which came with this page, in a spreadsheet. Its numbers are the numbers here.</li>\n{values}<li>Answer questions in your own words, in the column <i>answer</i>.</li>\n\
         <li>Save it as CSV, as <b>{form}</b> is, and send that back. Or print this page and fill it in by hand.</li>\n</ol>\n</section>\n\
         <section class=\"box caution\" aria-label=\"Caution\">\n<p><b>Personal data.</b> This page and the form hold names, \
         numbers and dates from your records. Keep and send them only as your contract and the law allow, and delete them \
         when they are no longer needed.</p>\n</section>\n"
    )
}

/// The sheets with questions, so that nobody has to search for them.
fn contents(sheets: &[SheetView]) -> String {
    let mut listed = String::new();
    let mut questions = 0;
    for (n, sheet) in sheets.iter().enumerate() {
        let own: Vec<String> = sheet
            .lines
            .iter()
            .filter(|line| line.item.is_question())
            .map(|line| asked(&line.item))
            .collect();
        questions += own.len();
        if let Some(first) = own.first() {
            let more = match own.len() {
                1 => String::new(),
                count => format!(" (and {} more)", count - 1),
            };
            let _ = writeln!(
                listed,
                "<li><a href=\"#sheet-{}\">{}</a>: {}{more}</li>",
                n + 1,
                escaped(sheet.strip.lines.sheet.as_str()),
                escaped(first)
            );
        }
    }
    match questions {
        0 => String::new(),
        _ => format!(
            "<nav aria-labelledby=\"open\">\n<h2 id=\"open\">{}</h2>\n<ul>\n{listed}</ul>\n</nav>\n",
            counted(questions, "question")
        ),
    }
}

/// A question with the field that it is about.
fn asked(item: &ProofItem) -> String {
    match item.about.is_empty() {
        true => item.question.clone(),
        false => format!("{}: {}", item.about, item.question),
    }
}

fn one_sheet(facts: &Facts, sheet: &SheetView, n: usize, of: usize) -> String {
    let name = escaped(sheet.strip.lines.sheet.as_str());
    let mut article = format!(
        "<article id=\"sheet-{n}\" aria-labelledby=\"name-{n}\">\n<h2 id=\"name-{n}\">{name}<small>sheet {n} of \
         {of}</small></h2>\n"
    );
    article += &match sheet.picture {
        Some(picture) => {
            let (what, class, note) = match picture.is_whole {
                true => (
                    "All",
                    " class=\"whole\"",
                    "<figcaption>No strip was found; this is all of the sheet.</figcaption>\n",
                ),
                false => ("The header strip", "", ""),
            };
            format!(
                "<figure{class}>\n<img src=\"{}\" width=\"{}\" height=\"{}\" alt=\"{what} of the sheet {name}, as it was scanned; \
                 what we took from it is in the table below\">\n{note}</figure>\n",
                picture.uri, picture.width, picture.height
            )
        }
        None => "<p>The sheet could not be pictured.</p>\n".to_owned(),
    };
    let values: Vec<&Numbered> = sheet
        .lines
        .iter()
        .copied()
        .filter(|line| !line.item.is_question())
        .collect();
    if !values.is_empty() {
        article += &value_table(facts, sheet, &values);
    }
    if !sheet.strip.context.is_empty() {
        article += &context_table(sheet.strip);
    }
    let questions: Vec<&Numbered> = sheet
        .lines
        .iter()
        .copied()
        .filter(|line| line.item.is_question())
        .collect();
    if !questions.is_empty() {
        article += "<h3>Questions</h3>\n<ul class=\"questions\">\n";
        for line in questions {
            let answer = earlier_answer(line, facts.answers).map_or(String::new(), |answer| {
                format!("You said: {}", escaped(&answer.words))
            });
            let _ = writeln!(
                article,
                "<li><b>{}</b> {} <span class=\"line\">{answer}</span></li>",
                line.number,
                escaped(&asked(&line.item))
            );
        }
        article += "</ul>\n";
    }
    article + "</article>\n"
}

/// What is known of a sheet beside what is asked.
fn context_table(strip: &Strip) -> String {
    let rows = strip.context.iter().map(|(about, value)| {
        let says = match strip.roster.get(about) {
            None => String::new(),
            Some(says) => escaped(says),
        };
        format!(
            "<tr><th scope=\"row\">{}</th><td class=\"value\">{}</td><td class=\"roster\">{says}</td></tr>\n",
            escaped(about),
            escaped(value)
        )
    });
    format!(
        "<table>\n<caption>What we know so far</caption>\n<thead><tr><th scope=\"col\" class=\"field\">field</th><th \
         scope=\"col\">on the strip</th><th scope=\"col\">in your list</th></tr></thead>\n<tbody>\n{}</tbody>\n</table>\n",
        rows.collect::<String>()
    )
}

fn value_table(facts: &Facts, sheet: &SheetView, values: &[&Numbered]) -> String {
    let roster = facts.has_roster && !sheet.strip.roster.is_empty();
    let roster_head = if roster {
        "<th scope=\"col\" class=\"list\">in your list</th>"
    } else {
        ""
    };
    let mut table = format!(
        "<table>\n<caption>What we took from the strip</caption>\n<thead><tr><th scope=\"col\" class=\"no\">no.</th><th \
         scope=\"col\" class=\"field\">field</th><th scope=\"col\">on the strip</th>{roster_head}<th scope=\"col\" \
         class=\"tick\">right?</th><th scope=\"col\" class=\"write\">if not, what is?</th></tr></thead>\n<tbody>\n"
    );
    for line in values {
        let item = &line.item;
        let (tick, correct) = match earlier_answer(line, facts.answers) {
            Some(answer) => (
                match answer.is_right {
                    Some(false) => "you said: no",
                    _ => "you said: yes",
                },
                escaped(&answer.correct),
            ),
            None => ("&#9744; yes &nbsp; &#9744; no", String::new()),
        };
        if !item.covers.is_empty() {
            let across = if roster { 3 } else { 2 };
            let _ = writeln!(
                table,
                "<tr class=\"whole\"><td class=\"no\">{}</td><th scope=\"row\" colspan=\"{across}\">{}: {}</th><td \
                 class=\"tick\">{tick}</td><td class=\"write\">{correct}</td></tr>",
                line.number,
                escaped(&item.about),
                escaped(&item.question)
            );
            continue;
        }
        let class = match item.about == crate::review::FILE_NAME {
            true => "name",
            false => "value",
        };
        let value = match item.value.is_empty() {
            true => "<span>(nothing)</span>".to_owned(),
            false => escaped(&item.value),
        };
        let says = match (roster, sheet.strip.roster.get(&item.about)) {
            (false, _) => String::new(),
            (true, None) => "<td class=\"roster\"></td>".to_owned(),
            (true, Some(says)) if *says == item.value => {
                "<td class=\"roster\">the same</td>".to_owned()
            }
            (true, Some(says)) => format!("<td class=\"roster\">{}</td>", escaped(says)),
        };
        let _ = writeln!(
            table,
            "<tr><td class=\"no\">{}</td><th scope=\"row\">{}</th><td class=\"{class}\">{value}</td>{says}<td \
             class=\"tick\">{tick}</td><td class=\"write\">{correct}</td></tr>",
            line.number,
            escaped(&item.about)
        );
    }
    table + "</tbody>\n</table>\n"
}
