//! Where everything lies. On a small screen the side that is worked on gets most of the room; on a large one both sides
//! stand beside each other, above the sheet in hand.

use super::super::pane::Focus;
use ratatui::layout::{Constraint, Layout, Rect};

/// From this size on, rules and sheets stand beside each other.
const WIDE: (u16, u16) = (110, 30);
/// Part of a wide screen that the rules get, in percent.
const RULES_SHARE: u16 = 55;
/// Rows of all figures one below the other.
const FIGURES: u16 = 12;
/// Rows of the message at least and at most.
const MESSAGE: (u16, u16) = (2, 4);
/// Rows of the trays' names, over the whole screen and beside the rules.
const TRAYS: (u16, u16) = (2, 3);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Places {
    pub status: Rect,
    pub rules: Rect,
    pub figures: Rect,
    pub trays: Rect,
    pub list: Rect,
    pub picture: Rect,
    /// How the rules take the sheet apart.
    pub sheet: Rect,
    pub message: Rect,
    pub keys: Rect,
}

/// The places, with so many rows for the message where there is room.
pub fn places(area: Rect, focus: Focus, message: u16) -> Places {
    let most = if area.height < 20 {
        MESSAGE.0
    } else {
        MESSAGE.1
    };
    let is_wide = area.width >= WIDE.0 && area.height >= WIDE.1;
    let [status, middle, message, keys] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Min(0),
        Constraint::Length(message.clamp(MESSAGE.0, most)),
        Constraint::Length(1),
    ])
    .areas(area);
    if is_wide {
        let sheet = (area.height / 5).clamp(7, 11);
        let picture = (area.height / 5).clamp(7, 12);
        let [upper, picture, sheet] = Layout::vertical([
            Constraint::Min(0),
            Constraint::Length(picture),
            Constraint::Length(sheet),
        ])
        .areas(middle);
        let [rules, _, right] = Layout::horizontal([
            Constraint::Percentage(RULES_SHARE),
            Constraint::Length(1),
            Constraint::Min(0),
        ])
        .areas(upper);
        let figures = FIGURES.min(upper.height.saturating_sub(5));
        let [figures, trays, list] = Layout::vertical([
            Constraint::Length(figures),
            Constraint::Length(TRAYS.1),
            Constraint::Min(0),
        ])
        .areas(right);
        return Places {
            status,
            rules,
            figures,
            trays,
            list,
            picture,
            sheet,
            message,
            keys,
        };
    }
    // Shares of the rows: rules, list, picture, sheet; the figures and the trays have a row or two of their own.
    let [rules, list, picture, sheet] = match focus {
        Focus::Rules => [6, 2, 0, 3],
        Focus::Sheets => [2, 3, 4, 4],
    };
    let rows = |share: u16| Constraint::Fill(share);
    let picture = match middle.height {
        0..14 => Constraint::Length(0),
        _ => rows(picture),
    };
    let figures = if middle.height >= 10 { 2 } else { 0 };
    let [rules, figures, trays, list, picture, sheet] = Layout::vertical([
        rows(rules),
        Constraint::Length(figures),
        Constraint::Length(if middle.height >= 12 { TRAYS.0 } else { 1 }),
        rows(list),
        picture,
        rows(sheet),
    ])
    .areas(middle);
    Places {
        status,
        rules,
        figures,
        trays,
        list,
        picture,
        sheet,
        message,
        keys,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_size_has_room_for_what_is_worked_on_and_nothing_overlaps() {
        for width in [40, 80, 109, 110, 120, 200] {
            for height in 10..=60 {
                for focus in [Focus::Rules, Focus::Sheets] {
                    let places = places(Rect::new(0, 0, width, height), focus, height % 6);
                    let size = format!("{width}x{height} {focus:?}: {places:?}");
                    let worked_on = match focus {
                        Focus::Rules => places.rules,
                        Focus::Sheets => places.list,
                    };
                    assert!(worked_on.height >= 1, "{size}");
                    assert_eq!(places.keys.bottom(), height, "{size}");
                    let all = [
                        places.status,
                        places.rules,
                        places.figures,
                        places.trays,
                        places.list,
                        places.picture,
                        places.sheet,
                        places.message,
                        places.keys,
                    ];
                    for (at, one) in all.iter().enumerate() {
                        assert!(
                            all.iter().skip(at + 1).all(|other| !one.intersects(*other)),
                            "{size}"
                        );
                    }
                }
            }
        }
    }
}
