//! The lines of the client's form: what they ask, their numbers, and how each stands.

use super::{BTreeMap, ClientAnswer, Comparer, HashMap, Numbered, Proof, ProofItem, SheetId};

/// What the line that is about all values of a sheet is called.
pub const WHOLE_SHEET: &str = "whole sheet";
/// What the line about the name of a sheet's file is called.
pub const FILE_NAME: &str = "file name";
/// What the line about a whole sheet asks.
const IS_ALL_RIGHT: &str = "Are all values of this sheet right?";

/// The columns of the form.
pub const ANSWERS_COLUMNS: [&str; 7] = [
    "number",
    "sheet",
    "field",
    "value",
    "question",
    "answer",
    "correct value",
];

/// What the client is asked of one sheet, as things are now.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SheetLines {
    pub sheet: SheetId,
    /// To be confirmed: (what it is, value).
    pub values: Vec<(String, String)>,
    /// To be answered: (what it is about, question).
    pub questions: Vec<(String, String)>,
}

/// How a line stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LineStanding {
    /// No page has had it in these words.
    NotAsked,
    Open,
    /// The client confirmed the value, or gave it.
    Right,
    /// The client said that it is wrong, and what is right where that was told.
    Wrong(String),
    Answered(String),
}

impl LineStanding {
    pub fn is_open(&self) -> bool {
        matches!(self, Self::NotAsked | Self::Open)
    }
}

/// The line about all values of a sheet, which have these numbers.
fn whole_sheet(sheet: &SheetId, covers: Vec<u32>) -> ProofItem {
    ProofItem {
        sheet: sheet.clone(),
        about: WHOLE_SHEET.to_owned(),
        value: String::new(),
        question: IS_ALL_RIGHT.to_owned(),
        covers,
    }
}

impl SheetLines {
    fn items(&self) -> impl Iterator<Item = ProofItem> + '_ {
        let item = |about: &str, value: &str, question: &str| ProofItem {
            sheet: self.sheet.clone(),
            about: about.to_owned(),
            value: value.to_owned(),
            question: question.to_owned(),
            covers: Vec::new(),
        };
        let values = self.values.iter();
        let values = values.map(move |(about, value)| item(about, value, ""));
        let questions = self.questions.iter();
        values.chain(questions.map(move |(about, question)| item(about, "", question)))
    }
}

impl Proof {
    /// The lines of a page about these sheets. What stood on an earlier page word for word keeps its number; the others
    /// get the numbers that follow.
    pub fn numbered(&self, sheets: &[SheetLines]) -> Vec<Numbered> {
        let mut known: HashMap<ProofItem, u32> = self.numbers();
        let mut last = self.asked.keys().next_back().copied().unwrap_or(0);
        let mut lines = Vec::new();
        let mut new = |item: ProofItem| {
            let number = *known.entry(item.clone()).or_insert_with(|| {
                last += 1;
                last
            });
            Numbered { number, item }
        };
        for sheet in sheets {
            let (values, questions): (Vec<_>, Vec<_>) =
                sheet.items().partition(|item| item.question.is_empty());
            let begins = lines.len();
            lines.extend(values.into_iter().map(&mut new));
            let covers: Vec<u32> = lines[begins..].iter().map(|line| line.number).collect();
            if covers.len() > 1 {
                lines.push(new(whole_sheet(&sheet.sheet, covers)));
            }
            lines.extend(questions.into_iter().map(&mut new));
        }
        lines
    }

    fn numbers(&self) -> HashMap<ProofItem, u32> {
        let asked = self.asked.iter();
        asked
            .map(|(number, item)| (item.clone(), *number))
            .collect()
    }

    /// How each value and question of these sheets stands, in their order.
    ///
    /// A value that changed since is no longer the one that was confirmed, unless it is now what the client wrote for
    /// it; then nothing is left to ask about it. The name of a file follows from values: where only these were mended, and
    /// all are right, it is right too. Where the client calls every value right and the sheet wrong, the line about the
    /// whole sheet follows, as wrong: nobody knows what is.
    pub fn standing(
        &self,
        sheets: &[SheetLines],
        comparer: &Comparer,
    ) -> Vec<(ProofItem, LineStanding)> {
        let known = self.numbers();
        let mut all = Vec::new();
        for sheet in sheets {
            let begins = all.len();
            let mut mended: Vec<String> = Vec::new();
            for item in sheet.items() {
                let number = known.get(&item).copied();
                let answer = number.and_then(|number| self.answers.get(&number));
                let standing = match answer {
                    Some(answer) if item.question.is_empty() => of_value(answer),
                    Some(answer) => LineStanding::Answered(answer.words.clone()),
                    None if self.was_given(&item, comparer) => {
                        mended.push(item.about.clone());
                        LineStanding::Right
                    }
                    // The client decided already what this is to be.
                    None if mended.contains(&item.about) => LineStanding::Right,
                    None if number.is_some() => LineStanding::Open,
                    None => LineStanding::NotAsked,
                };
                all.push((item, standing));
            }
            let own = &mut all[begins..];
            let is_name = |item: &ProofItem| item.about == FILE_NAME && item.question.is_empty();
            let others_are_right = own
                .iter()
                .filter(|(item, _)| item.question.is_empty() && !is_name(item))
                .all(|(_, standing)| *standing == LineStanding::Right);
            if !mended.is_empty() && others_are_right {
                for (item, standing) in own {
                    if is_name(item) && standing.is_open() {
                        *standing = LineStanding::Right;
                    }
                }
            }
            all.extend(self.unexplained(sheet, &known));
        }
        all
    }

    /// The line about a whole sheet, where the client said no to it and yes to each of its values.
    fn unexplained(
        &self,
        sheet: &SheetLines,
        known: &HashMap<ProofItem, u32>,
    ) -> Option<(ProofItem, LineStanding)> {
        let said = |number: &u32| self.answers.get(number).and_then(|answer| answer.is_right);
        let values = sheet.items().filter(ProofItem::is_value);
        let covers: Option<Vec<u32>> = values.map(|item| known.get(&item).copied()).collect();
        let covers = covers.filter(|covers| covers.iter().all(|number| said(number) == Some(true)));
        let whole = whole_sheet(&sheet.sheet, covers?);
        let is_wrong = known.get(&whole).and_then(said) == Some(false);
        is_wrong.then(|| (whole, LineStanding::Wrong(String::new())))
    }

    /// Whether the value is what the client last wrote for it.
    fn was_given(&self, item: &ProofItem, comparer: &Comparer) -> bool {
        let same_place = |other: &ProofItem| {
            (&other.sheet, &other.about) == (&item.sheet, &item.about)
                && item.question.is_empty()
                && other.question.is_empty()
        };
        let answers = self.answers.iter().rev();
        let mut said = answers.filter(|(number, _)| self.asked.get(number).is_some_and(same_place));
        said.next().is_some_and(|(_, answer)| {
            answer.is_right == Some(false)
                && !answer.correct.is_empty()
                && comparer.same_text(&item.about, &answer.correct, &item.value)
        })
    }
}

fn of_value(answer: &ClientAnswer) -> LineStanding {
    match answer.is_right {
        Some(false) => LineStanding::Wrong(answer.correct.clone()),
        _ => LineStanding::Right,
    }
}

/// What the client answered to a line before, for a page that is written again. A yes to a whole sheet is not given again
/// where it did not speak for all values: it would now.
pub fn earlier_answer<'a>(
    line: &Numbered,
    answers: &'a BTreeMap<u32, ClientAnswer>,
) -> Option<&'a ClientAnswer> {
    let is_answered = |number: &u32| answers.contains_key(number);
    answers
        .get(&line.number)
        .filter(|_| line.item.covers.iter().all(is_answered))
}

/// The form as rows, below a row of titles; the last two columns are for the client, with what he or she said before.
pub fn form_rows(lines: &[Numbered], answers: &BTreeMap<u32, ClientAnswer>) -> Vec<Vec<String>> {
    let titles = ANSWERS_COLUMNS.map(str::to_owned).to_vec();
    let rows = lines.iter().map(|line| {
        let Numbered { number, item } = line;
        let (answer, correct) = match earlier_answer(line, answers) {
            None => (String::new(), String::new()),
            Some(answer) => {
                let words = match answer.is_right {
                    Some(true) => "yes",
                    Some(false) => "no",
                    None => &answer.words,
                };
                (words.to_owned(), answer.correct.clone())
            }
        };
        vec![
            number.to_string(),
            item.sheet.as_str().to_owned(),
            item.about.clone(),
            item.value.clone(),
            item.question.clone(),
            answer,
            correct,
        ]
    });
    std::iter::once(titles).chain(rows).collect()
}
