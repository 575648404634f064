//! The deliveries of a job on disk: `out/delivery-0001` is a bag, `out/delivery-0001.json` what it was when it was made,
//! so that its names stay frozen when the bag has left.
//!
//! A bag gets its name in one step, and loses it in one step when it is undone. What a kill leaves between such steps
//! is put right by the next run.

use super::bagit::MANIFEST;
use super::files::{locked, sync};
use super::ledger::{FORMAT, Ledger};
use crate::value::{sha256_file, shown};
use serde::{Deserialize, Serialize};
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use thiserror::Error;

/// The ledger's name within its bag.
pub const LEDGER: &str = "delivery.json";

/// Largest ledger that is read, in bytes: one of 100,000 sheets has some 100 million.
const LARGEST: u64 = 1 << 30;

/// A delivery that was made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    pub ledger: Ledger,
    /// SHA-256 of its manifest, by which a bag is known again wherever it lies.
    pub manifest_sha256: String,
    /// When it was handed over (RFC 3339); from then on it cannot be undone.
    pub handed_over: Option<String>,
}

/// Why the deliveries cannot be worked on.
#[derive(Debug, Error)]
pub enum DeliveriesError {
    #[error(
        "{path}: cannot be read or written ({source}); see that the folder may be written to and has room, then run the command again"
    )]
    Disk { path: String, source: io::Error },
    #[error(
        "{path}: expected what a delivery was when it was made, found {found}; put back a copy of the file, or use the newer headword that wrote it"
    )]
    Ledger { path: String, found: String },
    #[error(
        "{path}: expected a delivery of this job, found a folder without {LEDGER}; move it away and run the command again"
    )]
    Foreign { path: String },
    #[error("there is no delivery yet; headword deliver makes one")]
    None,
    #[error(
        "delivery {number} was handed over at {at} and cannot be undone; headword deliver --amend ships a correction"
    )]
    HandedOver { number: u32, at: String },
    #[error(
        "{path}: expected the bag of delivery {number}, found none; it may have left the house, so that it cannot be undone"
    )]
    Left { path: String, number: u32 },
}

/// A job's deliveries, kept from other processes while this lives.
#[derive(Debug)]
pub struct Deliveries {
    out: PathBuf,
    /// None where they are only looked at.
    _lock: Option<File>,
    /// In the order of their numbers.
    pub made: Vec<Kept>,
}

impl Deliveries {
    /// Opens them for work, and puts right what a killed run left.
    pub fn open(out: &Path) -> Result<Self, DeliveriesError> {
        fs::create_dir_all(out).map_err(|error| disk(out, error))?;
        let lock = locked(out).map_err(|error| disk(out, error))?;
        let mut deliveries = Self {
            out: out.to_owned(),
            _lock: Some(lock),
            made: Vec::new(),
        };
        for (number, kind) in deliveries.numbers()? {
            match kind {
                Kind::Undone => deliveries.clear(number)?,
                Kind::Bag if !deliveries.ledger_path(number).exists() => deliveries.keep(number)?,
                _ => {}
            }
        }
        deliveries.read()?;
        Ok(deliveries)
    }

    /// Looks at them and changes nothing.
    pub fn look(out: &Path) -> Result<Self, DeliveriesError> {
        let mut deliveries = Self {
            out: out.to_owned(),
            _lock: None,
            made: Vec::new(),
        };
        deliveries.read()?;
        Ok(deliveries)
    }

    pub fn ledgers(&self) -> Vec<Ledger> {
        self.made.iter().map(|kept| kept.ledger.clone()).collect()
    }

    /// The number of the next delivery.
    pub fn next(&self) -> u32 {
        self.made.last().map_or(1, |kept| kept.ledger.number + 1)
    }

    pub fn folder(&self, number: u32) -> PathBuf {
        self.out.join(format!("delivery-{number:04}"))
    }

    /// Where the next delivery is made.
    pub fn making(&self, number: u32) -> PathBuf {
        self.out.join(format!(".delivery-{number:04}.making"))
    }

    fn undone(&self, number: u32) -> PathBuf {
        self.out.join(format!(".delivery-{number:04}.undone"))
    }

    fn ledger_path(&self, number: u32) -> PathBuf {
        self.out.join(format!("delivery-{number:04}.json"))
    }

    /// Keeps what a bag was, which has just got its name.
    pub fn keep(&mut self, number: u32) -> Result<(), DeliveriesError> {
        let bag = self.folder(number);
        let path = bag.join(LEDGER);
        if !path.is_file() {
            return Err(DeliveriesError::Foreign { path: told(&bag) });
        }
        let ledger: Ledger = read_json(&path)?;
        check_format(&ledger, &path)?;
        let manifest = bag.join(MANIFEST);
        let kept = Kept {
            manifest_sha256: sha256_file(&manifest).map_err(|error| disk(&manifest, error))?,
            ledger,
            handed_over: None,
        };
        self.write(&kept)?;
        self.made.push(kept);
        Ok(())
    }

    /// Takes the last delivery back, so that its number and names are free again. Gives its number.
    pub fn undo(&mut self) -> Result<u32, DeliveriesError> {
        let last = self.made.last().ok_or(DeliveriesError::None)?;
        let number = last.ledger.number;
        if let Some(at) = &last.handed_over {
            return Err(DeliveriesError::HandedOver {
                number,
                at: at.clone(),
            });
        }
        let bag = self.folder(number);
        if !bag.is_dir() {
            return Err(DeliveriesError::Left {
                path: told(&bag),
                number,
            });
        }
        let undone = self.undone(number);
        fs::rename(&bag, &undone).map_err(|error| disk(&bag, error))?;
        self.made.pop();
        self.clear(number)?;
        Ok(number)
    }

    /// Notes that all deliveries so far were handed over. Gives the last one's number.
    pub fn hand_over(&mut self, at: &str) -> Result<u32, DeliveriesError> {
        for place in 0..self.made.len() {
            if self.made[place].handed_over.is_none() {
                self.made[place].handed_over = Some(at.to_owned());
                self.write(&self.made[place])?;
            }
        }
        self.made
            .last()
            .map(|kept| kept.ledger.number)
            .ok_or(DeliveriesError::None)
    }

    /// The delivery that a bag is, by its manifest.
    pub fn known(&self, bag: &Path) -> Option<&Kept> {
        let sha256 = sha256_file(&bag.join(MANIFEST)).ok()?;
        self.made.iter().find(|kept| kept.manifest_sha256 == sha256)
    }

    /// Clears away a delivery that was undone.
    fn clear(&self, number: u32) -> Result<(), DeliveriesError> {
        let ledger = self.ledger_path(number);
        match fs::remove_file(&ledger) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(disk(&ledger, error)),
            _ => {
                let undone = self.undone(number);
                fs::remove_dir_all(&undone).map_err(|error| disk(&undone, error))
            }
        }
    }

    fn read(&mut self) -> Result<(), DeliveriesError> {
        self.made.clear();
        let numbers = self.numbers()?;
        for (number, _) in numbers.iter().filter(|(_, kind)| *kind == Kind::Ledger) {
            if numbers.contains(&(*number, Kind::Undone)) {
                continue;
            }
            let path = self.ledger_path(*number);
            let kept: Kept = read_json(&path)?;
            check_format(&kept.ledger, &path)?;
            self.made.push(kept);
        }
        Ok(())
    }

    /// What is there of deliveries, by number; undone ones first.
    fn numbers(&self) -> Result<Vec<(u32, Kind)>, DeliveriesError> {
        let listed = match fs::read_dir(&self.out) {
            Ok(listed) => listed,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(disk(&self.out, error)),
        };
        let mut numbers = Vec::new();
        for entry in listed {
            let entry = entry.map_err(|error| disk(&self.out, error))?;
            let name = entry.file_name();
            let name = name.to_string_lossy();
            let name = name.strip_prefix('.').unwrap_or(&name);
            let Some(rest) = name.strip_prefix("delivery-") else {
                continue;
            };
            let (number, ending) = rest.split_at(rest.find('.').unwrap_or(rest.len()));
            let kind = match ending {
                "" => Kind::Bag,
                ".json" => Kind::Ledger,
                ".undone" => Kind::Undone,
                _ => continue,
            };
            if let Ok(number) = number.parse() {
                numbers.push((number, kind));
            }
        }
        numbers.sort_by_key(|(number, kind)| (*kind != Kind::Undone, *number));
        Ok(numbers)
    }

    fn write(&self, kept: &Kept) -> Result<(), DeliveriesError> {
        let path = self.ledger_path(kept.ledger.number);
        let write = || -> io::Result<()> {
            let mut builder = tempfile::Builder::new();
            builder.prefix(".delivery-new-");
            builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
            let mut file = builder.tempfile_in(&self.out)?;
            file.write_all(&serde_json::to_vec(kept)?)?;
            file.as_file().sync_all()?;
            file.persist(&path)?;
            sync(&self.out)
        };
        write().map_err(|error| disk(&path, error))
    }
}

/// What a name below `out` stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Bag,
    Ledger,
    Undone,
}

fn read_json<T: serde::de::DeserializeOwned>(path: &Path) -> Result<T, DeliveriesError> {
    let found = |found: String| DeliveriesError::Ledger {
        path: told(path),
        found,
    };
    let length = fs::metadata(path).map_err(|error| disk(path, error))?.len();
    if length > LARGEST {
        return Err(found(format!("{length} bytes")));
    }
    let bytes = fs::read(path).map_err(|error| disk(path, error))?;
    serde_json::from_slice(&bytes).map_err(|error| found(error.to_string()))
}

fn check_format(ledger: &Ledger, path: &Path) -> Result<(), DeliveriesError> {
    match ledger.format {
        FORMAT => Ok(()),
        other => Err(DeliveriesError::Ledger {
            path: told(path),
            found: format!("format {other}"),
        }),
    }
}

fn disk(path: &Path, source: io::Error) -> DeliveriesError {
    DeliveriesError::Disk {
        path: told(path),
        source,
    }
}

fn told(path: &Path) -> String {
    shown(&path.display().to_string()).into_owned()
}
