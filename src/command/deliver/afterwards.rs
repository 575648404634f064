//! What is done with a delivery once it is made.

use crate::command::report::{counted, list_some};
use crate::command::{CommandError, Exit, Report, progress};
use crate::delivery::{Deliveries, verify};
use jiff::Timestamp;
use std::fmt::Write;
use std::path::Path;

/// Takes the last delivery back, or notes that it left.
pub fn taken_back_or_handed_over(out: &Path, undo: bool) -> Result<Report, CommandError> {
    let mut deliveries = Deliveries::open(out).map_err(CommandError::input)?;
    let (number, words) = match undo {
        true => (deliveries.undo(), "was taken back; the scans are untouched"),
        false => {
            let at = Timestamp::now().to_string();
            (
                deliveries.hand_over(&at),
                "and those before it are handed over, and can only be amended now",
            )
        }
    };
    let number = number.map_err(CommandError::input)?;
    let json = serde_json::json!({ "delivery": number, "undone": undo, "handed_over": !undo });
    Ok(Report::new(
        format!("delivery {number} {words}"),
        json,
        Exit::Done,
    ))
}

/// Reads a delivery again; the last one where no folder is named.
pub fn verified(out: &Path, folder: Option<&Path>) -> Result<Report, CommandError> {
    let deliveries = Deliveries::look(out).map_err(CommandError::input)?;
    let folder = match (folder, deliveries.made.last()) {
        (Some(folder), _) => folder.to_owned(),
        (None, Some(last)) => deliveries.folder(last.ledger.number),
        (None, None) => {
            return Err(CommandError::input(
                "there is no delivery yet; name the folder of one",
            ));
        }
    };
    let bar = progress::bar("verifying", 0);
    let found = verify(&folder, || bar.inc(1));
    bar.finish_and_clear();
    let known = deliveries.known(&folder).map(|kept| kept.ledger.number);
    let mut text = format!("{}\n", folder.display());
    for (what, paths) in [
        ("missing", &found.missing),
        ("changed", &found.changed),
        ("extra", &found.extra),
        ("at fault", &found.faults),
    ] {
        if !paths.is_empty() {
            let _ = writeln!(text, "{what}: {}", paths.len());
            list_some(&mut text, paths);
        }
    }
    let _ = match known {
        Some(number) => writeln!(
            text,
            "{} sound; as delivery {number} was made",
            counted(found.sound, "file")
        ),
        None => writeln!(
            text,
            "{} sound; its manifest is that of no delivery of this job",
            counted(found.sound, "file")
        ),
    };
    let exit = match found.is_sound() && known.is_some() {
        true => Exit::Done,
        false => Exit::Findings,
    };
    let json = serde_json::json!({ "folder": folder, "delivery": known, "found": found });
    Ok(Report::new(text, json, exit))
}
