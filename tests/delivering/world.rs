//! What other programs make of a delivery. Where one of them is not there, the test says so and is left out.

use super::deliver::SCANS;
use super::hands::{HandKeyed, keyed, record};
use headword::journal::KeyedValue;
use std::fs;
use std::path::Path;
use std::process::Command;

/// Values that programs like to change: leading zeros, formulas, dates, long numbers, blanks, quotes, breaks, escapes.
const VALUES: [&str; 23] = [
    "007",
    "=1+2",
    "+44",
    "-1972",
    "@x",
    "1E5",
    "1/2",
    "3-4-1950",
    "12345678901234567890",
    "TRUE",
    "NULL",
    "N/A",
    " x ",
    "a,b",
    "say \"no\"",
    "two\nlines",
    "two\r\nlines",
    "O'BRIEN",
    "Łoś–Weiß",
    "\u{feff}mark",
    "_x0041_",
    "'quoted",
    "bell \u{7}, escape \u{1b}",
];

/// A delivered job with these values in its surnames.
fn delivered() -> HandKeyed {
    let mut job = HandKeyed::of_sheets(VALUES.len(), SCANS);
    fs::create_dir(job.file("scans")).unwrap();
    for (number, value) in (1..).zip(VALUES) {
        let scan = job.file("scans").join(format!("{number:04}.pdf"));
        fs::write(scan, value).unwrap();
        let mut keyed_record = record(&format!("x JO 000{number:03}"), None);
        keyed_record.fields[0].value = KeyedValue::Text(value.to_owned());
        job.does(number, "mia", 1, keyed(vec![keyed_record]));
    }
    job.run("deliver", &[]).exits(0);
    job
}

/// Runs a Python program on a file and gives what it prints; none where Python or a module of it is missing.
pub fn python(module: &str, program: &str, file: &Path) -> Option<String> {
    let has = Command::new("python3")
        .args(["-c", &format!("import {module}")])
        .output();
    if !has.is_ok_and(|has| has.status.success()) {
        eprintln!("left out: python3 with {module} is not there");
        return None;
    }
    let done = Command::new("python3")
        .args(["-c", program])
        .arg(file)
        .output()
        .unwrap();
    let out = String::from_utf8(done.stdout).unwrap();
    assert!(
        done.status.success(),
        "{out}{}",
        String::from_utf8_lossy(&done.stderr)
    );
    Some(out)
}

#[test]
fn the_bag_is_valid_to_another_program() {
    let job = delivered();
    let bag = job.file("out/delivery-0001");
    let program = "import bagit, sys\nbag = bagit.Bag(sys.argv[1])\nbag.validate()\n\
                   print(bag.info['Payload-Oxum'], len(list(bag.payload_files())))";
    if let Some(told) = python("bagit", program, &bag) {
        assert!(told.contains(&format!("{}", VALUES.len() + 8)), "{told}");
        fs::write(bag.join("data/index.csv"), "changed").unwrap();
        let invalid = "import bagit, sys\nprint(bagit.Bag(sys.argv[1]).is_valid())";
        assert_eq!(python("bagit", invalid, &bag).unwrap().trim(), "False");
    }
}

#[test]
fn the_index_is_read_unchanged_by_other_programs() {
    let job = delivered();
    let data = job.file("out/delivery-0001/data");
    let csv = data.join("index.csv");
    let program = "import csv, json, sys\nrows = list(csv.DictReader(open(sys.argv[1], newline='', encoding='utf-8')))\n\
                   print(json.dumps([row['surname_as_typed'] for row in rows]))";
    if let Some(told) = python("csv", program, &csv) {
        let read: Vec<String> = serde_json::from_str(&told).unwrap();
        assert_eq!(read, VALUES);
    }
    // openpyxl leaves it to its users to undo the workbook's escapes of control characters.
    let program = "import openpyxl, json, re, sys\n\
                   unescape = lambda value: re.sub('_x00([01][0-9A-F])_', lambda code: chr(int(code[1], 16)), value)\nsheet = openpyxl.load_workbook(sys.argv[1])['index']\n\
                   rows = list(sheet.iter_rows())\nassert all(cell.data_type in 'sn' for row in rows for cell in row)\n\
                   assert all(isinstance(cell.value, (str, type(None))) for row in rows for cell in row)\n\
                   assert all(cell.number_format == '@' for row in rows for cell in row)\n\
                   print(json.dumps([unescape(row[1].value) for row in rows[1:]]))";
    if let Some(told) = python("openpyxl", program, &data.join("index.xlsx")) {
        let read: Vec<String> = serde_json::from_str(&told).unwrap();
        assert_eq!(read, VALUES);
    }
    let has = Command::new("sqlite3").arg("--version").output();
    if !has.is_ok_and(|has| has.status.success()) {
        eprintln!("left out: sqlite3 is not there");
        return;
    }
    let import = format!(".import --csv {} t", csv.display());
    let ask = "SELECT json_group_array(surname_as_typed) FROM t";
    let done = Command::new("sqlite3")
        .args([":memory:", &import, ask])
        .output()
        .unwrap();
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    let read: Vec<String> = serde_json::from_slice(&done.stdout).unwrap();
    assert_eq!(read, VALUES);
}

#[test]
fn every_delivered_name_is_portable_to_another_program() {
    let job = delivered();
    let mut names: Vec<String> = Vec::new();
    for folder in ["sheets", "."] {
        let listed = fs::read_dir(job.file("out/delivery-0001/data").join(folder)).unwrap();
        names.extend(listed.map(|entry| entry.unwrap().file_name().into_string().unwrap()));
    }
    assert!(names.len() > VALUES.len());
    match Command::new("pathchk")
        .args(["-P", "--"])
        .args(&names)
        .output()
    {
        // `-p` also wants at most 14 characters, the least that POSIX promises; longer ones are common practice.
        Ok(done) => assert!(
            done.status.success(),
            "{}",
            String::from_utf8_lossy(&done.stderr)
        ),
        Err(_) => eprintln!("left out: pathchk is not there"),
    }
}
