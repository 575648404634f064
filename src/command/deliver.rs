//! `headword deliver`: the scans under their names and the index beside them, in a bag; corrections later.

mod afterwards;
mod shipping;

use super::batch::{Delivery, Scope};
use super::progress;
use super::report::{LISTED, counted, list_some};
use super::scans::{paired, rescanned, scans};
use super::{CommandError, Exit, Report, proof};
use crate::delivery::{
    Consigning, Consignment, Deliveries, FileNames, LEDGER, Made, Scan, consign, fill, frozen,
    put_in_place,
};
use crate::job::Job;
use crate::review::Gate;
use crate::value::{SheetId, shown};
use afterwards::{taken_back_or_handed_over, verified};
use jiff::Timestamp;
use serde::Serialize;
use shipping::Shipping;
use std::collections::HashMap;
use std::fmt::Write;
use std::path::PathBuf;

/// Deliver the scans under their names, with the index, as a BagIt bag
///
/// Ships every finished sheet that was not delivered before into out/delivery-0001, -0002 and on. [scans] in job.toml
/// says where the scans are and which is whose; they are copied or linked, and never changed. Nothing is overwritten; a
/// run that was stopped is gone on with by the next. What was delivered keeps its names; --amend ships what changed.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The job's folder
    job: PathBuf,
    /// Say what would be delivered, and write nothing
    #[arg(long, conflicts_with_all = ["undo", "hand_over", "verify"])]
    dry_run: bool,
    /// Link the scans instead of copying them, where the file system can
    #[arg(long)]
    link: bool,
    /// Leave sheets that are not finished for a later delivery
    #[arg(long)]
    incomplete: bool,
    /// Ship what changed since it was delivered, for this reason
    #[arg(long, value_name = "REASON")]
    amend: Option<String>,
    /// Take the last delivery back; not after it was handed over
    #[arg(long, conflicts_with_all = ["amend", "hand_over", "verify"])]
    undo: bool,
    /// Note that the deliveries so far were handed over
    #[arg(long, conflicts_with_all = ["amend", "verify"])]
    hand_over: bool,
    /// Say what is missing, changed or extra in a delivery; the last one, or the one in this folder
    #[arg(long, value_name = "DIR", num_args = 0..=1, conflicts_with = "amend")]
    verify: Option<Option<PathBuf>>,
}

#[derive(Debug, Default, Serialize)]
struct Told {
    /// None where nothing was delivered.
    delivery: Option<u32>,
    folder: Option<PathBuf>,
    sheets: usize,
    exceptions: usize,
    files: usize,
    bytes: u64,
    linked: usize,
    /// Sheets left for a later delivery, and why.
    open: Vec<(SheetId, String)>,
    /// Sheets that changed since they were delivered.
    changed: Vec<SheetId>,
    refusals: Vec<String>,
    /// What the client's approval lacks, where the job only warns of it.
    without_approval: Option<String>,
    names: Vec<Named>,
}

#[derive(Debug, Serialize)]
struct Named {
    sheet: SheetId,
    scan: String,
    old_name: Option<String>,
    name: String,
    changes: Vec<String>,
}

pub fn run(arguments: &Arguments) -> Result<Report, CommandError> {
    let job = Job::open(&arguments.job)?;
    let out = job.settings.out_folder();
    if let Some(folder) = &arguments.verify {
        return verified(&out, folder.as_deref());
    }
    if arguments.undo || arguments.hand_over {
        return taken_back_or_handed_over(&out, arguments.undo);
    }
    let deliveries = match arguments.dry_run {
        true => Deliveries::look(&out),
        false => Deliveries::open(&out),
    };
    let mut deliveries = deliveries.map_err(CommandError::input)?;
    let ledgers = deliveries.ledgers();
    let frozen = frozen(&ledgers);
    let delivery = Delivery::of(&job, Scope::Keyed)?;
    let scans = scans(&job.settings, &delivery.records)?;
    let paired = paired(&job.settings, &delivery.records, &scans)?;
    let rescanned = rescanned(&paired, &frozen)?;
    let mut consignment = consign(&Consigning {
        records: &delivery.records,
        pattern: &delivery.plan.naming,
        paired: &paired,
        frozen: &frozen,
        rescanned: &rescanned,
        amends: arguments.amend.is_some(),
        leaves_open: arguments.incomplete,
    });
    consignment
        .refusals
        .extend(images_changed(&delivery, &consignment));
    let folder = arguments.job.display().to_string();
    let gate = proof::gate(&job, &shown(&folder))?;
    if let Gate::Refused(why) = &gate {
        consignment.refusals.push(why.clone());
    }
    let mut told = told(&consignment, &paired, &delivery.names);
    told.without_approval = match gate {
        Gate::Warned(why) => Some(why),
        _ => None,
    };
    if arguments.dry_run || !told.refusals.is_empty() || consignment.sheets.is_empty() {
        return Ok(not_delivered(&told, arguments));
    }
    let number = deliveries.next();
    let shipping = Shipping {
        number,
        at: Timestamp::now(),
        amends: arguments.amend.clone(),
        title: &job.settings.title,
        consignment: &consignment,
        paired: &paired,
        before: &frozen,
    };
    let bag = shipping.bag(&delivery, job.proposer.roster(), arguments.link);
    let making = deliveries.making(number);
    let bar = progress::bar("delivering", bag.scans.len() as u64);
    let describe = |made: &Made| {
        let ledger = shipping.ledger(&delivery.records, made);
        let text = serde_json::to_vec(&ledger).expect("a ledger is plain data");
        vec![(LEDGER.to_owned(), text)]
    };
    let made = fill(&making, &bag, describe, || bar.inc(1)).map_err(CommandError::input)?;
    bar.finish_and_clear();
    let folder = deliveries.folder(number);
    put_in_place(&making, &folder).map_err(CommandError::input)?;
    deliveries.keep(number).map_err(CommandError::input)?;
    told.delivery = Some(number);
    (told.files, told.bytes, told.linked) = (made.files, made.bytes, made.linked);
    let text = format!(
        "delivery {number}: {} and {} in {} ({} files, {} bytes), read back and sound\n{}",
        counted(told.sheets, "sheet"),
        counted(told.exceptions, "exception"),
        folder.display(),
        made.files,
        made.bytes,
        rest(&told)
    );
    told.folder = Some(folder);
    let exit = match told.open.len() + told.changed.len() {
        0 if told.without_approval.is_none() => Exit::Done,
        _ => Exit::Findings,
    };
    Ok(Report::new(text, &told, exit))
}

/// Sheets to be shipped whose images are other ones than when they were keyed.
fn images_changed(delivery: &Delivery, consignment: &Consignment) -> Option<String> {
    let check = delivery
        .checks
        .iter()
        .find(|check| check.code == "image-changed")?;
    let shipped = |sheet: &&SheetId| consignment.sheets.iter().any(|one| one.sheet == **sheet);
    let sheets: Vec<String> = check
        .sheets
        .iter()
        .filter(shipped)
        .map(ToString::to_string)
        .collect();
    (!sheets.is_empty()).then(|| format!("{} ({})", check.message, sheets.join(", ")))
}

fn told(consignment: &Consignment, paired: &[(SheetId, &Scan)], names: &FileNames) -> Told {
    let mut changes: HashMap<&SheetId, Vec<String>> = HashMap::new();
    for change in &names.changes {
        changes
            .entry(&change.sheet)
            .or_default()
            .push(change.words.clone());
    }
    let named = consignment.sheets.iter().map(|one| {
        let mut changes = changes.remove(&one.sheet).unwrap_or_default();
        changes.extend(one.change.iter().flat_map(|change| change.what.clone()));
        Named {
            sheet: one.sheet.clone(),
            scan: paired[one.pair].1.name.clone(),
            old_name: one.change.as_ref().map(|change| change.old_name.clone()),
            name: one.name.clone(),
            changes,
        }
    });
    let exceptions = consignment.sheets.iter().filter(|one| one.reason.is_some());
    let exceptions = exceptions.count();
    Told {
        sheets: consignment.sheets.len() - exceptions,
        exceptions,
        open: consignment.open.clone(),
        changed: consignment.changed.clone(),
        refusals: consignment.refusals.clone(),
        names: named.collect(),
        ..Told::default()
    }
}

fn not_delivered(told: &Told, arguments: &Arguments) -> Report {
    let mut text = String::new();
    if arguments.dry_run {
        let _ = writeln!(
            text,
            "{} and {} would be delivered",
            counted(told.sheets, "sheet"),
            counted(told.exceptions, "exception")
        );
        for named in told.names.iter().take(LISTED) {
            let _ = writeln!(text, "  {} -> {}", shown(&named.scan), named.name);
            for words in &named.changes {
                let _ = writeln!(text, "    {}", shown(words));
            }
        }
        if told.names.len() > LISTED {
            let _ = writeln!(
                text,
                "  and {} more; --json has them all",
                told.names.len() - LISTED
            );
        }
    } else if told.refusals.is_empty() {
        text.push_str(match arguments.amend {
            Some(_) => "nothing changed since it was delivered: there is nothing to amend\n",
            None => "every finished sheet was delivered before: there is nothing new\n",
        });
    }
    if !told.refusals.is_empty() {
        let _ = writeln!(
            text,
            "nothing {} delivered:",
            if arguments.dry_run { "can be" } else { "was" }
        );
        list_some(&mut text, &told.refusals);
    }
    text.push_str(&rest(told));
    let is_clean = told.refusals.is_empty()
        && told.open.is_empty()
        && told.changed.is_empty()
        && told.without_approval.is_none();
    Report::new(
        text,
        told,
        if is_clean { Exit::Done } else { Exit::Findings },
    )
}

/// What stays behind.
fn rest(told: &Told) -> String {
    let mut text = String::new();
    if let Some(why) = &told.without_approval {
        let _ = writeln!(text, "{why}");
    }
    if !told.open.is_empty() && told.refusals.is_empty() {
        let _ = writeln!(
            text,
            "{} left for a later delivery",
            counted(told.open.len(), "sheet")
        );
    }
    if !told.changed.is_empty() {
        let _ = writeln!(
            text,
            "{} changed since delivered; --amend REASON ships the corrections",
            counted(told.changed.len(), "sheet")
        );
    }
    text
}
