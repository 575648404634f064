//! `[[rule]]`: a layout of the strip read and compiled, or faulted.

use super::around::{BAND_COLOURS, When};
use super::automaton::Automaton;
use super::fault::{FaultList, quoted};
use super::field;
use super::kind::FieldSpec;
use super::pattern;
use super::section::{Section, inside};
use super::slot::{Place, Region, Slot};
use super::template::{self, Piece};
use crate::value::SheetKind;
use std::ops::Range;
use std::sync::Arc;

/// A rule, compiled.
#[derive(Debug, Clone)]
pub(super) struct Rule {
    pub name: String,
    /// What a sheet is that it fits.
    pub sheet: SheetKind,
    pub when: When,
    /// The lines of its template as written, or its regular expression.
    pub template: Vec<String>,
    /// In the order of the template.
    pub slots: Vec<Slot>,
    pub lines: Vec<RuleLine>,
    /// Values that every sheet gets which it fits: index into the book's fields, value.
    pub constants: Vec<(usize, String)>,
    pub automaton: Automaton,
}

/// A line of a template.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RuleLine {
    /// Its slots.
    pub slots: Range<usize>,
    /// How many of them a strip can have at once.
    pub wanted: usize,
}

/// The keys of a rule.
pub(super) const KEYS: [&str; 9] = [
    "name", "line", "lines", "pattern", "sheet", "when", "on", "set", "field",
];
/// The keys of a rule's conditions.
pub(super) const WHEN_KEYS: [&str; 2] = ["collection", "band"];
/// The kinds of sheet that a rule may recognise, and their names in rule files.
pub(super) const SHEETS: [(&str, SheetKind); 5] = [
    ("record", SheetKind::Record),
    ("divider", SheetKind::Divider),
    ("target", SheetKind::Target),
    ("cross-reference", SheetKind::CrossReference),
    ("blank", SheetKind::Blank),
];

/// What a rule says, before its slots are known.
struct Layout {
    written: Vec<(String, Range<usize>)>,
    pieces: Vec<Piece>,
    places: Vec<Place>,
}

/// Reads one `[[rule]]`; `None` where it is at fault.
pub(super) fn read(
    section: &Section,
    faults: &mut FaultList,
    text: &str,
    fields: &[Arc<FieldSpec>],
) -> Option<Rule> {
    section.keys(faults, &KEYS);
    let name = section.name(faults, "name = \"name, number, years\"");
    let sheet = sheet(section, faults);
    let when = when(section, faults);
    let constants = constants(section, faults, fields);
    let additions = additions(section, faults, text, fields);
    let layout = layout(section, faults, text, fields);
    let (Some((name, _)), Some(layout)) = (name, layout) else {
        return None;
    };
    if layout.places.is_empty() && sheet == SheetKind::Record && constants.is_empty() {
        faults.add(
            layout.written[0].1.start,
            "at least one slot in a rule",
            "none",
            "Write a field's name in braces where its value stands, as {number}; a rule of words alone needs \
             sheet = \"divider\" or another kind of sheet",
        );
        return None;
    }
    let slots = slots(&layout, additions, faults, fields);
    let lines = lines(&layout.pieces, slots.len());
    match Automaton::new(&layout.pieces, &slots) {
        Ok(automaton) => Some(Rule {
            name,
            sheet,
            when,
            template: layout.written.into_iter().map(|(line, _)| line).collect(),
            slots,
            lines,
            constants,
            automaton,
        }),
        Err(_) => {
            faults.add(
                layout.written[0].1.start,
                "a rule that can be tried on every sheet in good time",
                "one whose patterns are too large together",
                "Lower the repetition counts or shorten the choices of its fields",
            );
            None
        }
    }
}

/// `sheet = "divider"`
fn sheet(section: &Section, faults: &mut FaultList) -> SheetKind {
    let Some((sheet, span)) = section.text(faults, "sheet") else {
        return SheetKind::Record;
    };
    match SHEETS.iter().find(|(name, _)| *name == sheet) {
        Some((_, kind)) => *kind,
        None => {
            let names = SHEETS.map(|(name, _)| name);
            faults.add_unknown(span.start, "a kind of sheet", &sheet, &names);
            SheetKind::Record
        }
    }
}

/// `when = { collection = "drawings", band = ["red", "orange"] }`
fn when(section: &Section, faults: &mut FaultList) -> When {
    let mut when = When::default();
    let Some(asked) = section.table(faults, "when", "condition") else {
        return when;
    };
    asked.keys(faults, &WHEN_KEYS);
    let names = |list: Vec<(String, Range<usize>)>| list.into_iter().map(|(name, _)| name);
    when.collections = names(asked.one_or_more(faults, "collection")).collect();
    for (band, span) in asked.one_or_more(faults, "band") {
        if BAND_COLOURS.contains(&band.as_str()) {
            when.bands.push(band);
        } else {
            faults.add_unknown(span.start, "the colour of a band", &band, &BAND_COLOURS);
        }
    }
    when
}

/// `set = { series = "HB" }`
fn constants(
    section: &Section,
    faults: &mut FaultList,
    fields: &[Arc<FieldSpec>],
) -> Vec<(usize, String)> {
    let Some(set) = section.table(faults, "set", "constant") else {
        return Vec::new();
    };
    let mut constants = Vec::new();
    for (name, span) in set.names() {
        let field = known_field(&name, span, faults, fields);
        if let (Some(field), Some((value, _))) = (field, set.text(faults, &name)) {
            constants.push((field, value));
        }
    }
    constants
}

fn known_field(
    name: &str,
    span: Range<usize>,
    faults: &mut FaultList,
    fields: &[Arc<FieldSpec>],
) -> Option<usize> {
    let found = fields.iter().position(|field| field.name == name);
    if found.is_none() {
        let names: Vec<&str> = fields.iter().map(|field| field.name.as_str()).collect();
        faults.add_unknown(span.start, "the name of a field", name, &names);
    }
    found
}

/// The template, or the user's own expression.
fn layout(
    section: &Section,
    faults: &mut FaultList,
    text: &str,
    fields: &[Arc<FieldSpec>],
) -> Option<Layout> {
    let names: Vec<&str> = fields.iter().map(|field| field.name.as_str()).collect();
    let Some((span, _)) = section.get("pattern") else {
        let written = section.lines(faults);
        return templates(written, &names, faults, text);
    };
    if section.get("line").or(section.get("lines")).is_some() {
        faults.add(
            span.start,
            "either `pattern` or a template in a rule",
            "both",
            "Keep `line`, unless only a regular expression can say it",
        );
        return None;
    }
    let (written, span) =
        section.required_text(faults, "pattern", "pattern = '(?<number>\\d+)'")?;
    let mut places: Vec<Place> = Vec::new();
    let mut unknown = Vec::new();
    let parsed = pattern::parse_with_groups(&written, &mut |group| {
        let Some(field) = names.iter().position(|&name| name == group) else {
            unknown.push(group.to_owned());
            return None;
        };
        places.push(Place {
            field,
            record: 0,
            between: None,
            may_be_missing: true,
        });
        Some(places.len() - 1)
    });
    let at = |offset| inside(text, &span, &written, offset);
    match parsed {
        Ok(_) if !unknown.is_empty() => {
            for name in unknown {
                let offset = at(written.find(&name).unwrap_or(0));
                faults.add_unknown(offset, "a group with the name of a field", &name, &names);
            }
            None
        }
        Ok(expr) => Some(Layout {
            pieces: vec![Piece::Pattern(expr)],
            places,
            written: vec![(written, span)],
        }),
        Err(fault) => {
            faults.add(at(fault.offset), fault.expected, fault.found, fault.advice);
            None
        }
    }
}

/// The lines of a template with breaks between them.
fn templates(
    written: Vec<(String, Range<usize>)>,
    names: &[&str],
    faults: &mut FaultList,
    text: &str,
) -> Option<Layout> {
    let mut places = Vec::new();
    let mut pieces = Vec::new();
    let mut whole = !written.is_empty();
    for (line, span) in &written {
        match template::parse(line, names, &mut places) {
            Ok(parsed) => {
                if !pieces.is_empty() {
                    pieces.push(Piece::Break);
                }
                pieces.extend(parsed);
            }
            Err(found) => {
                whole = false;
                for fault in found {
                    let at = inside(text, span, line, fault.offset);
                    faults.add(at, fault.expected, fault.found, fault.advice);
                }
            }
        }
    }
    whole.then_some(Layout {
        written,
        pieces,
        places,
    })
}

/// What a rule says of its slots beside the template.
struct Additions {
    /// Where values stand: index into the book's fields, where that is said, where on the strip.
    places: Vec<(usize, Range<usize>, Region)>,
    /// What holds otherwise for fields: index, where that is said, the whole declaration.
    overrides: Vec<(usize, Range<usize>, Arc<FieldSpec>)>,
}

/// `on = { part = "right" }` and `field = { number = { pattern = '...' } }`
fn additions(
    section: &Section,
    faults: &mut FaultList,
    text: &str,
    fields: &[Arc<FieldSpec>],
) -> Additions {
    let mut additions = Additions {
        places: Vec::new(),
        overrides: Vec::new(),
    };
    if let Some(on) = section.table(faults, "on", "place") {
        for (name, span) in on.names() {
            let field = known_field(&name, span.clone(), faults, fields);
            let Some((region, at)) = on.text(faults, &name) else {
                continue;
            };
            match (field, Region::parse(&region)) {
                (Some(field), Some(region)) => additions.places.push((field, span, region)),
                (_, None) => faults.add(
                    at.start,
                    "a part of the strip",
                    quoted(&region),
                    "Write \"left\", \"centre\", \"right\", \"line 2\", or both, as \"line 1 right\"",
                ),
                (None, _) => {}
            }
        }
    }
    if let Some(overrides) = section.table(faults, "field", "override") {
        for (name, span) in overrides.names() {
            let field = known_field(&name, span.clone(), faults, fields);
            let own = overrides.table(faults, &name, "field");
            if let (Some(field), Some(own)) = (field, own) {
                let spec = field::overridden(&own, faults, text, &fields[field]);
                additions.overrides.push((field, span, Arc::new(spec)));
            }
        }
    }
    additions
}

/// The slots of a template with what the rule says of them.
fn slots(
    layout: &Layout,
    additions: Additions,
    faults: &mut FaultList,
    fields: &[Arc<FieldSpec>],
) -> Vec<Slot> {
    let places = layout.places.iter();
    let mut slots: Vec<Slot> = places
        .map(|place| Slot {
            place: place.clone(),
            spec: fields[place.field].clone(),
            on: None,
        })
        .collect();
    let mut with = |field: usize, span: Range<usize>, change: &dyn Fn(&mut Slot)| {
        let mut taken = false;
        for slot in slots.iter_mut().filter(|slot| slot.place.field == field) {
            change(slot);
            taken = true;
        }
        if !taken {
            let name = &fields[field].name;
            faults.add(
                span.start,
                "a field that the rule takes",
                quoted(name),
                format!("Put {{{name}}} into the template, or leave this out"),
            );
        }
    };
    for (field, span, region) in additions.places {
        with(field, span, &|slot| slot.on = Some(region));
    }
    for (field, span, spec) in additions.overrides {
        with(field, span, &|slot| slot.spec = spec.clone());
    }
    slots
}

/// The slots of each line, and how many of them a strip can have at once.
fn lines(pieces: &[Piece], slots: usize) -> Vec<RuleLine> {
    if let [Piece::Pattern(_)] = pieces {
        return vec![RuleLine {
            slots: 0..slots,
            wanted: slots.min(1),
        }];
    }
    let mut start = 0;
    pieces
        .split(|piece| *piece == Piece::Break)
        .map(|line| {
            let (all, wanted) = count(line);
            let slots = start..start + all;
            start += all;
            RuleLine { slots, wanted }
        })
        .collect()
}

/// How many slots pieces have, and how many of them a strip can have at once.
fn count(pieces: &[Piece]) -> (usize, usize) {
    pieces.iter().fold((0, 0), |(all, wanted), piece| {
        let (more, wanted_more) = match piece {
            Piece::Slot(_) => (1, 1),
            Piece::Optional(pieces) => count(pieces),
            Piece::Choice(ways) => ways
                .iter()
                .map(|way| count(way))
                .fold((0, 0), |(all, most), (more, wanted)| {
                    (all + more, most.max(wanted))
                }),
            Piece::Literal(_) | Piece::Blank | Piece::Break | Piece::Pattern(_) => (0, 0),
        };
        (all + more, wanted + wanted_more)
    })
}
