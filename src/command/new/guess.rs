//! Which roster column holds which field: a guess by header and content, with its reasons.

use super::looks::{Looks, looks, share};
use crate::command::job_file::ColumnLine;
use crate::roster::Table;
use crate::rules::{FieldKind, FieldSpec};
use std::collections::HashSet;

/// Names that columns of a kind usually have, in small letters without blanks and signs. Common practice, no source.
const USUAL_NAMES: [(FieldKind, &[&str]); 3] = [
    (
        FieldKind::Surname,
        &[
            "surname",
            "surnames",
            "lastname",
            "familyname",
            "family",
            "last",
            "nachname",
            "nom",
        ],
    ),
    (
        FieldKind::Forenames,
        &[
            "forenames",
            "forename",
            "firstname",
            "firstnames",
            "first",
            "givenname",
            "givennames",
            "given",
            "christiannames",
            "christianname",
            "vorname",
            "vornamen",
            "prenom",
            "prénom",
            "initials",
        ],
    ),
    (
        FieldKind::Code,
        &[
            "number",
            "no",
            "nr",
            "id",
            "code",
            "ref",
            "reference",
            "key",
            "staffno",
            "staffnumber",
            "boardno",
            "boardnumber",
            "serviceno",
            "servicenumber",
            "personnelno",
            "personnelnumber",
            "employeeno",
            "employeenumber",
            "employeeid",
            "payrollno",
            "accountno",
            "accountnumber",
            "recordno",
            "recordnumber",
        ],
    ),
];

/// Share of a column's cells that must fit a field where the header speaks for it. Both shares are choices, not
/// measurements: a client's list has odd cells, a wrong column has hardly any that fit.
const FITS_WITH_HEADER: f64 = 0.5;
/// The same where only the content speaks for it.
const FITS_ALONE: f64 = 0.9;
/// How much larger the share of cells of several words is in a column of forenames than in one of surnames.
const MORE_OFTEN_SEVERAL_WORDS: f64 = 0.1;

/// What is believed of a roster.
#[derive(Debug, Clone, PartialEq)]
pub struct Guess {
    /// Every field that a roster may hold, in the rules' order.
    pub columns: Vec<ColumnLine>,
    pub key: String,
    pub key_note: String,
}

/// Guesses at the columns of a table that has at least one.
pub fn guess(table: &Table, fields: &[FieldSpec]) -> Guess {
    let guesser = Guesser::new(table, fields);
    let columns: Vec<ColumnLine> = guesser.assign();
    let (key, key_note) = guesser.key(&columns);
    Guess {
        columns,
        key,
        key_note,
    }
}

/// How a column goes with a field.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Fit {
    header: Header,
    /// Share of the filled cells that look like the field; none where no cell is filled.
    share: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Header {
    Strange,
    /// A usual name of the field's kind.
    Usual,
    /// The field's own name.
    Same,
}

impl Fit {
    fn is_good(self) -> bool {
        self.header > Header::Strange && self.share.is_none_or(|share| share >= FITS_WITH_HEADER)
    }

    fn words(self, field: &FieldSpec) -> String {
        let header = match self.header {
            Header::Same => "the header is the field's name",
            Header::Usual => "the header is a usual name for it",
            Header::Strange => "the header does not say so",
        };
        match self.share {
            Some(share) => format!(
                "{header}; {} of its cells look like {}",
                percent(share),
                looks(field)
            ),
            None => format!("{header}; it has no cells to look at"),
        }
    }
}

struct Guesser<'a> {
    table: &'a Table,
    /// Those that a roster may hold: counts of sheets are not among them.
    fields: Vec<&'a FieldSpec>,
    /// By field, by column.
    fits: Vec<Vec<Fit>>,
}

impl<'a> Guesser<'a> {
    fn new(table: &'a Table, fields: &'a [FieldSpec]) -> Self {
        let fields: Vec<&FieldSpec> = fields
            .iter()
            .filter(|field| field.kind != FieldKind::Number)
            .collect();
        let fits = fields
            .iter()
            .map(|field| {
                let looks_right = Looks::like(field);
                let fit = |column: usize| Fit {
                    header: header(&table.columns()[column], field),
                    share: share(table, column, |cell| looks_right.is(cell)),
                };
                (0..table.columns().len()).map(fit).collect()
            })
            .collect();
        Self {
            table,
            fields,
            fits,
        }
    }

    fn assign(&self) -> Vec<ColumnLine> {
        let mut taken: Vec<Option<(usize, String)>> = vec![None; self.fields.len()];
        self.by_header(&mut taken);
        self.by_content(&mut taken);
        self.names_by_content(&mut taken);
        let free = |column: usize| !taken.iter().flatten().any(|(other, _)| *other == column);
        (self.fields.iter().zip(&taken).enumerate())
            .map(|(at, (field, taken))| ColumnLine {
                field: field.name.clone(),
                column: taken
                    .as_ref()
                    .map(|(column, _)| self.table.columns()[*column].clone()),
                note: Some(match taken {
                    Some((_, why)) => format!("guessed: {why}"),
                    None => format!("left open: {}", self.why_open(at, free)),
                }),
            })
            .collect()
    }

    /// The best pairs first; each column and field once.
    fn by_header(&self, taken: &mut [Option<(usize, String)>]) {
        let mut pairs: Vec<(usize, usize, Fit)> = Vec::new();
        for (field, fits) in self.fits.iter().enumerate() {
            let good = fits.iter().enumerate().filter(|(_, fit)| fit.is_good());
            pairs.extend(good.map(|(column, fit)| (field, column, *fit)));
        }
        pairs.sort_by(|(.., a), (.., b)| {
            let shares = b.share.unwrap_or(0.0).total_cmp(&a.share.unwrap_or(0.0));
            b.header.cmp(&a.header).then(shares)
        });
        for (field, column, fit) in pairs {
            if taken[field].is_none() && !is_taken(taken, column) {
                taken[field] = Some((column, fit.words(self.fields[field])));
            }
        }
    }

    /// Codes with a pattern or a check character give themselves away, if only one column looks like one.
    fn by_content(&self, taken: &mut [Option<(usize, String)>]) {
        for (at, field) in self.fields.iter().enumerate() {
            let tells =
                field.pattern.is_some() || field.check.is_some() || field.kind == FieldKind::Choice;
            if taken[at].is_some() || !tells {
                continue;
            }
            let fitting = self.fitting(at, taken);
            if let [only] = fitting[..] {
                taken[at] = Some((only, self.fits[at][only].words(field)));
            }
        }
    }

    /// Of two columns of names, the one with more cells of several words holds the forenames.
    fn names_by_content(&self, taken: &mut [Option<(usize, String)>]) {
        let find = |kind| self.fields.iter().position(|field| field.kind == kind);
        let (Some(surname), Some(forenames)) =
            (find(FieldKind::Surname), find(FieldKind::Forenames))
        else {
            return;
        };
        if taken[surname].is_some() || taken[forenames].is_some() {
            return;
        }
        let fitting = self.fitting(surname, taken);
        let [first, second] = fitting[..] else { return };
        let several = |column| {
            share(self.table, column, |cell| {
                cell.split_whitespace().count() > 1
            })
            .unwrap_or(0.0)
        };
        let (of_first, of_second) = (several(first), several(second));
        if (of_first - of_second).abs() < MORE_OFTEN_SEVERAL_WORDS {
            return;
        }
        let (family, given) = if of_first < of_second {
            (first, second)
        } else {
            (second, first)
        };
        let why = |column| {
            format!(
                "one of two columns of names; {} of its cells hold more than one word",
                percent(several(column))
            )
        };
        taken[surname] = Some((family, why(family)));
        taken[forenames] = Some((given, why(given)));
    }

    /// Free columns whose content alone would do.
    fn fitting(&self, field: usize, taken: &[Option<(usize, String)>]) -> Vec<usize> {
        (0..self.table.columns().len())
            .filter(|&column| !is_taken(taken, column))
            .filter(|&column| {
                self.fits[field][column]
                    .share
                    .is_some_and(|share| share >= FITS_ALONE)
            })
            .collect()
    }

    fn why_open(&self, at: usize, free: impl Fn(usize) -> bool) -> String {
        let field = self.fields[at];
        let name = |column: usize| self.table.columns()[column].clone();
        let fits = || {
            self.fits[at]
                .iter()
                .enumerate()
                .filter(|(column, _)| free(*column))
        };
        if let Some((
            column,
            Fit {
                share: Some(share), ..
            },
        )) = fits().find(|(_, fit)| fit.header > Header::Strange)
        {
            return format!(
                "the column {:?} is named like it, but only {} of its cells look like {}",
                name(column),
                percent(*share),
                looks(field)
            );
        }
        let could: Vec<String> = fits()
            .filter(|(_, fit)| fit.share.is_some_and(|share| share >= FITS_ALONE))
            .map(|(column, _)| format!("{:?}", name(column)))
            .collect();
        if field.kind == FieldKind::Text || could.is_empty() {
            "no column looks like it; write one here if the roster has it".into()
        } else {
            format!(
                "{} look like {}; write one here if it says the same as the strips",
                could.join(", "),
                looks(field)
            )
        }
    }

    fn key(&self, columns: &[ColumnLine]) -> (String, String) {
        let at = |name: &String| {
            self.table
                .columns()
                .iter()
                .position(|column| column == name)
        };
        let codes: Vec<usize> = (self.fields.iter().zip(columns))
            .filter(|(field, _)| field.kind == FieldKind::Code)
            .filter_map(|(_, line)| line.column.as_ref().and_then(at))
            .collect();
        let named = (0..self.table.columns().len())
            .filter(|&column| is_usual(&self.table.columns()[column], FieldKind::Code));
        let all = 0..self.table.columns().len();
        let preferred: Vec<usize> = codes.iter().copied().chain(named).chain(all).collect();
        let found = preferred
            .iter()
            .copied()
            .find(|&column| is_unique(self.table, column));
        let (column, note) = match found {
            _ if self.table.is_empty() => (
                preferred[0],
                "guessed by its header alone: the roster has no rows",
            ),
            Some(column) if codes.contains(&column) => (
                column,
                "guessed: it holds the strips' code, and every row has its own",
            ),
            Some(column) => (column, "guessed: every row has one of its own"),
            None => (
                preferred[0],
                "guessed, and look at it: no column has a different value in every row",
            ),
        };
        (self.table.columns()[column].clone(), note.to_owned())
    }
}

fn is_taken(taken: &[Option<(usize, String)>], column: usize) -> bool {
    taken.iter().flatten().any(|(other, _)| *other == column)
}

/// Small letters and digits only.
fn plain(name: &str) -> String {
    name.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

fn is_usual(column: &str, kind: FieldKind) -> bool {
    let column = plain(column);
    USUAL_NAMES
        .iter()
        .any(|(of, names)| *of == kind && names.contains(&column.as_str()))
}

fn header(column: &str, field: &FieldSpec) -> Header {
    if plain(column) == plain(&field.name) {
        Header::Same
    } else if is_usual(column, field.kind) {
        Header::Usual
    } else {
        Header::Strange
    }
}

/// Every row has a value, and no two the same.
fn is_unique(table: &Table, column: usize) -> bool {
    let mut seen = HashSet::with_capacity(table.len());
    (0..table.len())
        .map(|row| table.cell(row, column))
        .all(|cell| !cell.is_empty() && seen.insert(cell))
}

/// Rounded down, so that "100 %" means all.
fn percent(share: f64) -> String {
    format!("{:.0} %", (share * 100.0).floor())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::RuleBook;

    const RULES: &str = include_str!("../../../rules/personnel.toml");

    /// What is guessed of a roster: the columns of surname, forenames, number, from and to ("" for open), and the key.
    fn check(csv: &str, columns: [&str; 5], key: &str) {
        let book = RuleBook::parse("personnel.toml", RULES).unwrap();
        let (table, _) = Table::from_reader(csv.as_bytes()).unwrap();
        let guess = guess(&table, book.fields());
        let found: Vec<&str> = guess
            .columns
            .iter()
            .map(|line| line.column.as_deref().unwrap_or(""))
            .collect();
        assert_eq!(found, columns, "{csv}\n{:#?}", guess.columns);
        assert_eq!(guess.key, key, "{csv}");
    }

    #[test]
    fn headers_and_contents_say_which_column_is_which() {
        // The fields' own names; years left open although two columns hold some.
        check(
            "number,surname,forenames,born,entered\n466112-2,STILES,JESSIE,1909,1945\n494764-9,WERNER,T J,1901,1940\n",
            ["surname", "forenames", "number", "", ""],
            "number",
        );
        // Usual names, in another order.
        check(
            "Last Name;First Name(s);Board No.\nSTILES;JESSIE;466112-2\nWERNER;T J;494764-9\n",
            ["Last Name", "First Name(s)", "Board No.", "", ""],
            "Board No.",
        );
        // Content alone: the code by its check character, the names by how many words they have.
        check(
            "a,b,c\n1,JESSIE ANN,466112-2\n2,T J,494764-9\n",
            ["", "", "c", "", ""],
            "c",
        );
        check(
            "a,b,c\nSTILES,JESSIE ANN,466112-2\nWERNER,T J,494764-9\n",
            ["a", "b", "c", "", ""],
            "c",
        );
        // A header that promises what the cells do not keep: check characters that fail, digits for names.
        check(
            "number,surname\n466112-3,1909\n494764-8,1901\n",
            ["", "", "", "", ""],
            "number",
        );
        // A code that stands twice names no row; the column that does is the key.
        check(
            "id,number,surname\n1,466112-2,STILES\n2,466112-2,WERNER\n",
            ["surname", "", "number", "", ""],
            "id",
        );
        // No rows: headers alone.
        check("id,number\n", ["", "", "number", "", ""], "number");
        // Two columns of codes with the same content: nobody can say which.
        check(
            "x,y\n466112-2,466112-2\n494764-9,494764-9\n",
            ["", "", "", "", ""],
            "x",
        );
    }
}
