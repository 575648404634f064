//! The room as a whole: readings through rule files.

use super::RuleBook;
use crate::reading::{Line, Reading};

fn personnel() -> RuleBook {
    RuleBook::parse("personnel.toml", include_str!("../../rules/personnel.toml"))
        .unwrap_or_else(|faults| panic!("{faults}"))
}

fn reading(text: &str) -> Reading {
    Reading {
        lines: text.lines().map(|line| Line::certain(line, 0.96)).collect(),
    }
}

#[test]
#[ignore]
fn show() {
    let book = personnel();
    for text in [
        "DALTON, MARY ANN   204517-4   1931-1958   2 OF 3",
        "DALTON, MARY ANN\n204517-4   1931-1958   2 OF 3",
        "204517-4  DALTON MARY ANN  1931 TO 1958  2/3",
        "BOARD NO. 204517-4    SHEET 2 OF 3\nMARY ANN DALTON    SERVED 1931 - 1958",
        "DALTON MARY ANN 2O4S17-4 I931-1958 2 0F 3",
        "204517-4  VAN DER BERG J. W.  1931 TO 58  2/3",
        "HARBOUR BOARD ANNUAL REPORT 1931",
    ] {
        let reading = reading(text);
        println!("=== {text}");
        for e in book.extract(&reading) {
            println!(
                "{} {:.1} {} {:?}",
                e.rule, e.score, e.probability, e.tolerated
            );
            for f in &e.fields {
                println!(
                    "   {} {:?} {:?} raw {:?}",
                    f.field,
                    f.positions,
                    f.candidates
                        .iter()
                        .take(4)
                        .map(|c| format!("{} {} {:?}", c.value, c.probability, c.check_holds))
                        .collect::<Vec<_>>(),
                    f.raw
                );
            }
        }
        for rule in book.rules().take(2) {
            println!("{}", book.explain(&reading, rule).unwrap());
        }
    }
    let r = reading("DALTON, MARY ANN   204517-4   1931-1958   2 OF 3         ");
    let start = std::time::Instant::now();
    for _ in 0..100 {
        book.extract(&r);
    }
    println!("{:?} for four rules", start.elapsed() / 100);
    let mesh = super::mesh::Mesh::new(&r).unwrap();
    let start = std::time::Instant::now();
    for _ in 0..100 {
        super::mesh::Mesh::new(&r);
    }
    println!("{:?} mesh", start.elapsed() / 100);
    for rule in &book.rules {
        let start = std::time::Instant::now();
        for _ in 0..100 {
            super::align::forward(&mesh, &rule.automaton);
        }
        println!(
            "{:?} forward {} nodes {}",
            start.elapsed() / 100,
            rule.automaton.nodes.len(),
            rule.name
        );
    }
}
