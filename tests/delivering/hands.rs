//! A job keyed by hand: every sheet's entries as the tests want them, without a desk.

use crate::support::{Run, headword, repository};
use headword::journal::{
    Act, Desk, Entry, FormatVersion, KeyedField, KeyedRecord, KeyedSource, KeyedValue, Keying,
    SheetRecord, SqliteStore, Store,
};
use headword::value::{SheetId, SheetKind, sha256_hex};
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

pub const FIELDS: [&str; 7] = [
    "surname",
    "forenames",
    "number",
    "from",
    "to",
    "part",
    "parts",
];

const ROSTER: &str = "number,surname,forenames\r\n\
    204517-4,DALTON,MARY ANN\r\n\
    0311,QUAYLE,\"J. \"\"JACK\"\"\"\r\n\
    000794-0,O'BRIEN,PAT\r\n";

pub struct HandKeyed {
    folder: TempDir,
    pub store: SqliteStore,
    sheets: usize,
}

/// A record's values in the order of [`FIELDS`], and the roster row's key; `~` stands for a blank.
pub fn record(values: &str, roster: Option<&str>) -> KeyedRecord {
    let values = values.split(' ').chain(std::iter::repeat(""));
    let fields = FIELDS.iter().zip(values).map(|(field, value)| KeyedField {
        field: (*field).to_owned(),
        value: match value.replace('~', " ") {
            value if value.is_empty() => KeyedValue::NothingOnStrip,
            value if value == "?" => KeyedValue::CannotBeRead,
            value => KeyedValue::Text(value),
        },
        as_roster: None,
        source: KeyedSource::Typed,
        proposed: None,
        overruled: None,
    });
    KeyedRecord {
        fields: fields.collect(),
        roster_key: roster.map(str::to_owned),
    }
}

pub fn keyed(records: Vec<KeyedRecord>) -> Act {
    Act::Keyed(Keying {
        records,
        ..Keying::default()
    })
}

pub fn of_kind(kind: SheetKind) -> Act {
    Act::Keyed(Keying {
        kind,
        ..Keying::default()
    })
}

impl HandKeyed {
    /// A job of so many sheets, 0001.png and on, each of which is a file of its own; `more` goes to its job.toml.
    pub fn of_sheets(count: usize, more: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path();
        fs::create_dir(root.join("sheets")).unwrap();
        fs::create_dir(root.join("rules")).unwrap();
        let rules = fs::read(repository("rules/personnel.toml")).unwrap();
        fs::write(root.join("rules/personnel.toml"), rules).unwrap();
        fs::write(root.join("roster.csv"), ROSTER).unwrap();
        let job = format!(
            "title = \"Harbour board\"\n[sheets]\nfolder = \"sheets\"\n[rules]\nfiles = [\"rules/personnel.toml\"]\n\
             [roster]\nfile = \"roster.csv\"\nkey = \"number\"\n[roster.columns]\nnumber = \"number\"\n\
             surname = \"surname\"\nforenames = \"forenames\"\n[naming]\n\
             pattern = \"{{number}}_{{surname:upper}}[_{{part:0}}of{{parts:0}}]\"\n\
             [parts]\nof = [\"number\"]\npart = \"part\"\nparts = \"parts\"\n[index]\nboth = [\"surname\"]\n{more}"
        );
        fs::write(root.join("job.toml"), job).unwrap();
        let store = SqliteStore::open(&root.join("headword.db")).unwrap();
        let mut job = Self {
            folder,
            store,
            sheets: 0,
        };
        for _ in 0..count {
            job.add_sheet();
        }
        job
    }

    pub fn add_sheet(&mut self) -> SheetId {
        self.sheets += 1;
        let sheet = self.sheet(self.sheets);
        let content = format!("picture {sheet}");
        let path = self.file("sheets").join(sheet.as_str());
        fs::write(&path, &content).unwrap();
        self.put(&sheet);
        sheet
    }

    /// Tells the journal of a sheet's file as it is, as reading does.
    pub fn put(&mut self, sheet: &SheetId) {
        let path = self.file("sheets").join(sheet.as_str());
        let content = fs::read(&path).unwrap();
        let modified = fs::metadata(&path).unwrap().modified().unwrap();
        let modified = modified.duration_since(std::time::UNIX_EPOCH).unwrap();
        let record = SheetRecord::new(
            sheet.clone(),
            sha256_hex(&content),
            content.len() as u64,
            modified.as_nanos() as i64,
        );
        self.store.put_sheets(&[record]).unwrap();
    }

    pub fn sheet(&self, number: usize) -> SheetId {
        SheetId::new(format!("{number:04}.png"))
    }

    pub fn does(&mut self, number: usize, by: &str, pass: u8, act: Act) -> i64 {
        let sheet = self.sheet(number);
        let act = match act {
            Act::Keyed(mut keying) => {
                let record = self.store.sheet(&sheet).unwrap().unwrap();
                keying.seen.content_hash = record.content_hash;
                Act::Keyed(keying)
            }
            other => other,
        };
        let last = self.store.state(&sheet, pass).unwrap().last;
        let entry = Entry {
            format: FormatVersion::CURRENT,
            number: 0,
            sheet,
            by: by.to_owned(),
            at: 1_700_000_000_000,
            pass,
            desk: Desk::Clerk,
            act,
            extra: Default::default(),
        };
        self.store.append(&entry, last).unwrap()
    }

    /// Keys a sheet with one record; see [`record`].
    pub fn key(&mut self, number: usize, values: &str) -> i64 {
        self.does(number, "mia", 1, keyed(vec![record(values, None)]))
    }

    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    pub fn file(&self, name: &str) -> PathBuf {
        self.path().join(name)
    }

    pub fn run(&self, verb: &str, more: &[&str]) -> Run {
        let path = self.path().to_str().unwrap();
        headword([&[verb, path], more].concat())
    }

    pub fn text(&self, name: &str) -> String {
        fs::read_to_string(self.file(name)).unwrap_or_else(|fault| panic!("{name}: {fault}"))
    }
}
