//! The supervisor's desk as a table: keys, and what comes of them; and its screens.

use super::engine::Looked;
use super::marking::Marking;
use super::pane::{Inspected, OPENED};
use super::*;
use crate::desk::clerk::{Code, Key};
use crate::desk::picture::{Memo, Shape};
use crate::desk::view::{Picture, Theme};
use crate::job::{Draft, DraftFile};
use crate::reading::{Line, Reading};
use crate::rules::example::{Example, RuleFiles, candidates};
use crate::rules::{Around, Bench, BenchSheet, Explanation, RuleBook, Styles};
use crate::value::SheetId;
use image::{GrayImage, Luma};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use std::sync::Arc;
use std::time::Duration;

const RULES: &str = "\
# Jackets of the harbour board.
[[field]]
name = \"surname\"
kind = \"surname\"

[[field]]
name = \"number\"
kind = \"code\"
pattern = '\\d{4}'

[[rule]]
name = \"name and number\"
line = \"{surname}   NO. {number}\"
";

/// Strips, and the number that was keyed on them.
const STRIPS: [(&str, Option<&str>); 6] = [
    ("HARGREAVES   NO. 4418", Some("4418")),
    ("ORME   NO. 4419", Some("4491")),
    ("QUAYLE   NO. 4420", None),
    ("4421   BELLAMY", None),
    ("4422   CRABTREE", None),
    ("SEE ALSO DRAWER 9", None),
];

/// A desk with all that stands behind it, worked out at once.
struct Sitting {
    desk: Supervisor,
    bench: Bench,
    rules: Arc<RuleBook>,
}

fn reading(text: &str) -> Reading {
    Reading {
        lines: vec![Line::certain(text, 0.97)],
    }
}

impl Sitting {
    fn open(rules: &str) -> Self {
        let sheets = STRIPS.iter().enumerate().map(|(at, (text, keyed))| {
            let number = |number: &&str| vec![("number".to_owned(), (*number).to_owned())];
            BenchSheet {
                sheet: SheetId::new(format!("jacket-{}.png", at + 1)),
                reading: reading(text),
                band: None,
                width: None,
                keyed: keyed.as_ref().map(number),
            }
        });
        let mut bench = Bench::new("", sheets);
        let rules =
            RuleBook::parse("rules/jackets.toml", rules).unwrap_or_else(|_| RuleBook::none());
        let rules = Arc::new(rules);
        bench.put(rules.clone());
        bench.step(1, &|| true);
        bench.keep();
        let file = DraftFile {
            name: "rules/jackets.toml".to_owned(),
            base: RULES.to_owned(),
            text: RULES.to_owned(),
        };
        let desk = Supervisor::new(Draft {
            by: String::new(),
            files: vec![file],
        });
        let mut sitting = Self { desk, bench, rules };
        sitting.judge();
        sitting
    }

    /// What engine and driver do after an edit.
    fn judge(&mut self) {
        let draft = self.desk.draft();
        match RuleBook::parse(&draft.files[0].name, &draft.files[0].text) {
            Ok(rules) => {
                self.desk.faultless();
                self.rules = Arc::new(rules);
                self.bench.put(self.rules.clone());
                self.bench.step(1, &|| true);
                let took = Duration::from_millis(12);
                let edit = self.desk.edit();
                let figures = Figures::of(&self.bench, took, edit > OPENED);
                self.desk.judged(edit, Arc::new(figures));
            }
            Err(faults) => self.desk.faulty(faults.faults),
        }
        self.inspect();
    }

    fn inspect(&mut self) {
        let Some(at) = self.desk.in_hand() else {
            return;
        };
        let reading = reading(STRIPS[at].0);
        let rules = self.rules.rules();
        let explained = rules.filter_map(|r| self.rules.explain(&reading, &Around::default(), r));
        let mut explanations: Vec<Explanation> = explained.collect();
        explanations.sort_by_key(|explanation| !explanation.chosen);
        self.desk.inspect(Inspected {
            at,
            text: vec![STRIPS[at].0.to_owned()],
            explanations,
            looked: None,
        });
        self.desk.looked(Looked {
            at,
            difference: self.bench.difference(at),
            unlike_keyed: self.bench.unlike_keyed(at),
        });
    }

    /// Presses keys and does what comes of them; gives the last effect.
    fn press(&mut self, keys: &[Key]) -> Option<Effect> {
        let mut last = None;
        for key in keys {
            let effect = self.desk.press(*key);
            self.carry_out(effect.as_ref());
            last = effect;
        }
        self.inspect();
        last
    }

    fn typed(&mut self, text: &str) {
        for letter in text.chars() {
            let code = match letter {
                '\n' => Code::Enter,
                letter => Code::Char(letter),
            };
            let effect = self.desk.press(Key::plain(code));
            self.carry_out(effect.as_ref());
        }
    }

    fn carry_out(&mut self, effect: Option<&Effect>) {
        match effect {
            Some(Effect::Edited) => self.judge(),
            Some(Effect::BeginExample) => {
                let at = self.desk.in_hand().unwrap();
                let known = self.rules.fields().iter().map(|f| f.name.clone());
                let example = Example::new(&reading(STRIPS[at].0));
                let marking = Marking::new(at, example, known.collect(), Styles::default());
                self.desk.begin_example(marking);
            }
            Some(Effect::Try) => {
                let draft = self.desk.draft();
                let file = &draft.files[0];
                let files = RuleFiles {
                    files: &[(&file.name, &file.text)],
                    edited: 0,
                    styles: &Styles::default(),
                };
                let marking = self.desk.marking().unwrap();
                let made = candidates(&marking.example, &files, &self.bench).unwrap();
                let asked = (0, self.desk.edit());
                self.desk.offer(made, true, asked);
            }
            _ => {}
        }
    }

    fn line(&mut self, number: usize) {
        let keys = vec![Key::plain(Code::Up); 100];
        self.press(&keys);
        let keys = vec![Key::plain(Code::Down); number - 1];
        self.press(&keys);
        self.press(&[Key::plain(Code::End)]);
    }

    fn fitted(&self) -> (usize, usize) {
        let none = self.desk.figures().unwrap().effect.fitted_by_none;
        (STRIPS.len() - none.before, STRIPS.len() - none.now)
    }

    fn screen(&self, width: u16, height: u16) -> String {
        let mut screen = Terminal::new(TestBackend::new(width, height)).unwrap();
        let image = GrayImage::from_fn(1_200, 120, |x, y| {
            let is_ink = x % 60 < 20 && y % 60 > 20;
            Luma([if is_ink { 30 } else { 220 }])
        });
        let at = self.desk.in_hand();
        let names: Vec<String> = (1..=STRIPS.len())
            .map(|number| format!("jacket-{number}.png"))
            .collect();
        let reading = at.map(|at| reading(STRIPS[at].0));
        let sheet = at.map(|at| SheetId::new(names[at].as_str()));
        let scene = Scene {
            desk: &self.desk,
            title: "Harbour board",
            person: "sue",
            sheet: sheet.as_ref(),
            picture: at.map(|_| Picture::There(&image)),
            reading: reading.as_ref(),
            whole: false,
            text_of: &|at| (names[at].as_str(), STRIPS[at].0),
            shape: Some(Shape::Quadrant),
            memo: &Memo::default(),
            theme: Theme::Plain,
        };
        screen.draw(|frame| draw(frame, &scene)).unwrap();
        screen.backend().to_string()
    }
}

const TAB: Key = Key::plain(Code::Tab);
const DOWN: Key = Key::plain(Code::Down);
const ENTER: Key = Key::plain(Code::Enter);
const ESC: Key = Key::plain(Code::Esc);

fn alt(letter: char) -> Key {
    Key::alt(Code::Char(letter))
}

#[test]
fn a_fault_is_told_where_it_stands_and_the_figures_stay_those_of_the_last_text_without() {
    let mut sitting = Sitting::open(RULES);
    assert_eq!(sitting.fitted(), (3, 3));
    sitting.line(12);
    // The cursor stands behind the quotation mark.
    sitting.press(&[Key::plain(Code::Backspace)]);
    let fault = &sitting.desk.faults()[0];
    assert_eq!(fault.line, 12);
    assert_eq!(sitting.fitted(), (3, 3));
    assert!(!sitting.desk.is_judged());
    sitting.press(&[alt('p')]);
    assert!(sitting.desk.message().unwrap().contains("stays a draft"));
    sitting.line(1);
    sitting.press(&[alt('g')]);
    assert_eq!(sitting.desk.pad().cursor().0, 11);
    sitting.press(&[alt('u')]);
    assert!(!sitting.desk.is_faulty() && sitting.desk.is_judged());
    assert!(!sitting.desk.draft().is_changed());
}

#[test]
fn an_edit_moves_the_figures_and_is_published_once_somebody_says_so() {
    let mut sitting = Sitting::open(RULES);
    sitting.press(&[alt('p')]);
    assert!(sitting.desk.message().unwrap().contains("in use already"));
    sitting.line(100);
    sitting.typed("\n[[rule]]\nname = \"number first\"\nline = \"{number}   {surname}\"\n");
    assert_eq!(sitting.fitted(), (3, 5));
    sitting.press(&[alt('3')]);
    assert_eq!(sitting.desk.sheets(), [3, 4]);
    assert_eq!(sitting.desk.in_hand(), Some(3));
    // While it asks, nothing but its answer is taken.
    assert_eq!(
        sitting.press(&[alt('p'), Key::plain(Code::Char('x'))]),
        None
    );
    assert_eq!(*sitting.desk.pane(), Pane::Publish);
    assert_eq!(sitting.press(&[ESC]), None);
    assert_eq!(sitting.press(&[alt('p'), ENTER]), Some(Effect::Publish));
    sitting.desk.published();
    assert!(!sitting.desk.draft().is_changed());
}

#[test]
fn the_sheet_in_hand_stays_in_hand_when_an_edit_takes_it_out_of_its_tray() {
    let mut sitting = Sitting::open(RULES);
    assert_eq!(sitting.desk.sheets(), [3, 4, 5]);
    sitting.press(&[TAB, DOWN]);
    assert_eq!(sitting.desk.in_hand(), Some(4));
    sitting.press(&[TAB]);
    sitting.line(100);
    sitting.typed("\n[[rule]]\nname = \"number first\"\nline = \"{number}   {surname}\"\n");
    assert_eq!(sitting.desk.sheets(), [5]);
    assert_eq!(
        (sitting.desk.in_hand(), sitting.desk.row()),
        (Some(4), None)
    );
    sitting.press(&[alt('n')]);
    assert_eq!(sitting.desk.in_hand(), Some(5));
    sitting.press(&[alt('n')]);
    assert!(sitting.desk.message().unwrap().contains("no further sheet"));
    sitting.press(&[alt('2')]);
    assert!(
        sitting
            .desk
            .message()
            .unwrap()
            .contains("no sheet under `several`")
    );
}

#[test]
fn what_was_keyed_otherwise_is_shown() {
    let mut sitting = Sitting::open(RULES);
    sitting.press(&[alt('6')]);
    assert_eq!(sitting.desk.sheets(), [1]);
    let looked = sitting.desk.inspected().unwrap().looked.as_ref().unwrap();
    let unlike = ("number".to_owned(), "4491".to_owned(), "4419".to_owned());
    assert_eq!(looked.unlike_keyed, [unlike]);
}

#[test]
fn a_rule_begins_from_an_example_and_is_one_step_to_undo() {
    let mut sitting = Sitting::open(RULES);
    sitting.press(&[alt('e')]);
    assert_eq!(*sitting.desk.pane(), Pane::Marking);
    sitting.press(&[ENTER]);
    assert!(
        sitting
            .desk
            .message()
            .unwrap()
            .contains("Nothing is marked")
    );
    sitting.typed("nu\nsu\n");
    // Left and come back: the marks are still there.
    sitting.press(&[ESC, alt('e'), ENTER]);
    let Pane::Offers(offers) = sitting.desk.pane() else {
        panic!("{:?}", sitting.desk.pane());
    };
    assert!(offers.candidates[0].fragment.contains("{number}"));
    assert_eq!(sitting.press(&[ENTER]), Some(Effect::Edited));
    assert_eq!(sitting.fitted(), (3, 5));
    sitting.press(&[alt('u')]);
    assert_eq!(sitting.desk.draft().files[0].text, RULES);
}

#[test]
fn a_draft_that_is_given_up_can_be_had_back() {
    let mut sitting = Sitting::open(RULES);
    sitting.line(1);
    sitting.typed("\n# mine");
    assert_eq!(sitting.press(&[alt('d')]), None);
    assert_eq!(sitting.press(&[ENTER]), Some(Effect::GiveUp));
    let mut in_use = sitting.desk.draft();
    in_use.files[0].text = RULES.to_owned();
    sitting.desk.given_up(in_use);
    assert!(!sitting.desk.draft().is_changed());
    sitting.press(&[alt('u')]);
    assert!(sitting.desk.draft().files[0].text.contains("# mine"));
}

#[test]
fn what_was_given_up_comes_back_with_what_it_was_begun_from() {
    let mut sitting = Sitting::open(RULES);
    sitting.line(1);
    sitting.typed("\n# mine");
    sitting.press(&[alt('d'), ENTER]);
    // Somebody had changed the file meanwhile.
    let mut in_use = sitting.desk.draft();
    in_use.files[0].text = format!("{RULES}# theirs\n");
    sitting.desk.given_up(in_use);
    assert!(sitting.desk.draft().files[0].text.ends_with("# theirs\n"));
    sitting.press(&[alt('u')]);
    // Publishing this is refused: its base is not what is in use.
    assert_eq!(sitting.desk.draft().files[0].base, RULES);
    assert!(sitting.desk.draft().files[0].text.contains("# mine"));
}

#[test]
fn rules_that_come_late_take_no_key_that_was_meant_for_something_else() {
    let mut sitting = Sitting::open(RULES);
    sitting.press(&[alt('e')]);
    sitting.typed("nu\n");
    let marking = sitting.desk.marking().unwrap().clone();
    let files = RuleFiles {
        files: &[("rules/jackets.toml", RULES)],
        edited: 0,
        styles: &Styles::default(),
    };
    let made = candidates(&marking.example, &files, &sitting.bench).unwrap();
    let asked = (0, sitting.desk.edit());
    sitting.press(&[ESC]);
    sitting.desk.offer(made.clone(), true, asked);
    assert_eq!(*sitting.desk.pane(), Pane::None);
    sitting.typed("x");
    sitting.press(&[alt('e')]);
    sitting.desk.offer(made, true, asked);
    assert_eq!(*sitting.desk.pane(), Pane::Marking);
    assert!(sitting.desk.message().unwrap().contains("makes them anew"));
}

#[test]
fn figures_of_an_earlier_edit_come_too_late() {
    let mut sitting = Sitting::open(RULES);
    sitting.line(1);
    sitting.typed(" x");
    let late = Arc::new(Figures::default());
    sitting.desk.judged(OPENED, late);
    assert!(sitting.desk.is_judged());
}

#[test]
fn screens() {
    for (width, height) in [(80, 24), (120, 40), (200, 50)] {
        let mut sitting = Sitting::open(RULES);
        sitting.line(100);
        sitting.typed("\n[[rule]]\nname = \"number first\"\nline = \"{number}   {surname}\"\n");
        insta::assert_snapshot!(
            format!("rules-{width}x{height}"),
            sitting.screen(width, height)
        );
        sitting.press(&[TAB, alt('3')]);
        insta::assert_snapshot!(
            format!("sheets-{width}x{height}"),
            sitting.screen(width, height)
        );
        sitting.press(&[alt('p')]);
        insta::assert_snapshot!(
            format!("publish-{width}x{height}"),
            sitting.screen(width, height)
        );
    }
    let mut sitting = Sitting::open(RULES);
    sitting.line(12);
    sitting.press(&[Key::plain(Code::Backspace)]);
    insta::assert_snapshot!("fault", sitting.screen(80, 24));
    sitting.press(&[alt('u'), TAB, ENTER]);
    insta::assert_snapshot!("explained", sitting.screen(80, 24));
    sitting.press(&[ESC, alt('e')]);
    sitting.typed("nu\ns");
    insta::assert_snapshot!("marking", sitting.screen(80, 24));
    sitting.typed("u\n");
    sitting.press(&[ENTER]);
    insta::assert_snapshot!("offers", sitting.screen(80, 24));
    sitting.press(&[ESC, ESC, alt('h')]);
    insta::assert_snapshot!("help", sitting.screen(80, 24));
}

#[test]
fn no_size_and_no_text_breaks_the_screen() {
    let mut sitting = Sitting::open(RULES);
    sitting.line(1);
    let wide = format!("\n# \u{5b57}\u{e9}{}", "x".repeat(300));
    sitting.typed(&wide);
    for width in [1, 40, 79, 110, 300] {
        for height in [1, 10, 23, 30, 60] {
            for keys in [
                vec![],
                vec![TAB],
                vec![alt('e')],
                vec![ESC, alt('h')],
                vec![ESC, alt('c')],
            ] {
                sitting.press(&keys);
                sitting.screen(width, height);
                sitting.press(&[ESC]);
            }
        }
    }
}
