//! Values, names and disks that mean harm.

use super::deliver::{SCANS, sums};
use super::hands::{HandKeyed, keyed, record};
use crate::support::command;
use headword::journal::KeyedValue;
use headword::value::SheetId;
use std::fs;
use std::os::unix::fs::symlink;

/// Values that would lead out of the bag, over another file, onto a device or over the longest name.
fn hostile() -> Vec<String> {
    let long = "X".repeat(10_000);
    let values = [
        "../../../etc/passwd",
        "/etc/passwd",
        "..\\..\\windows",
        "CON",
        "nul.txt",
        "-rf",
        ".hidden",
        "a\u{0}b",
        "\u{202e}gpj",
        "\u{1b}[31m",
        "\n\r\n",
        "%0A",
        "Ⅷ／..",
        long.as_str(),
    ];
    values.map(str::to_owned).to_vec()
}

#[test]
fn hostile_values_stay_in_the_bag_and_in_the_index() {
    let values = hostile();
    let mut job = HandKeyed::of_sheets(values.len(), SCANS);
    fs::create_dir(job.file("scans")).unwrap();
    for (number, value) in (1..).zip(&values) {
        fs::write(job.file("scans").join(format!("{number:04}.pdf")), value).unwrap();
        let mut one = record("x JO", None);
        one.fields[0].value = KeyedValue::Text(value.clone());
        // Told apart by the number, for several come to the same once they are portable.
        one.fields[2].value = KeyedValue::Text(format!("{value}{number}"));
        job.does(number, "mia", 1, keyed(vec![one]));
    }
    let before: Vec<String> = sums(job.path()).into_keys().collect();
    job.run("deliver", &[]).exits(0);
    job.run("deliver", &["--verify"]).exits(0);
    job.run("index", &[]).exits(0);
    let after = sums(job.path()).into_keys();
    let new: Vec<String> = after.filter(|name| !before.contains(name)).collect();
    assert!(new.iter().all(|name| name.starts_with("out/")), "{new:#?}");
    let index = job.file("out/delivery-0001/data/index.csv");
    let read: Vec<String> = crate::support::rows(&index)
        .into_iter()
        .map(|row| row["surname_as_typed"].clone())
        .collect();
    assert_eq!(read, values);
    assert_eq!(
        sums(&job.file("out/delivery-0001/data/sheets")).len(),
        values.len()
    );
}

#[test]
fn links_in_the_sheets_folder_are_not_followed_out_of_it() {
    let mut job = HandKeyed::of_sheets(1, SCANS);
    fs::create_dir(job.file("scans")).unwrap();
    fs::write(job.file("scans/0001.pdf"), "x").unwrap();
    symlink("/etc", job.file("sheets/box")).unwrap();
    symlink("/etc/passwd", job.file("scans/0002.pdf")).unwrap();
    job.key(1, "A B 000001");
    job.run("deliver", &[]).exits(2).says(&["a link"]);
    fs::remove_file(job.file("scans/0002.pdf")).unwrap();
    // A sheet whose id leads elsewhere is only a name.
    let sheet = SheetId::new("../../etc/passwd.png");
    let record = headword::journal::SheetRecord::new(sheet, "0".repeat(64), 1, 1);
    headword::journal::Store::put_sheets(&mut job.store, &[record]).unwrap();
    job.run("check", &[]).exits(1).says(&["image-gone"]);
    job.run("deliver", &["--incomplete"])
        .exits(2)
        .says(&["expected one scan"]);
}

#[test]
fn a_disk_that_is_full_leaves_everything_as_it_was() {
    let mut job = HandKeyed::of_sheets(2, SCANS);
    fs::create_dir(job.file("scans")).unwrap();
    for number in 1..=2 {
        let scan = job.file("scans").join(format!("{number:04}.pdf"));
        fs::write(scan, vec![0; 3_000_000]).unwrap();
        job.key(number, &format!("A B 00000{number}"));
    }
    job.run("index", &[]).exits(0);
    let before = sums(&job.file("out/index"));
    job.key(1, &format!("{} B 000001", "A".repeat(4_000_000)));
    // No file may grow beyond 2,000 KB.
    let limited = |verb: &str| {
        let script = format!("ulimit -f 2000; trap '' XFSZ; exec \"$0\" {verb} \"$1\"");
        let program = command([""; 0]).get_program().to_owned();
        let mut shell = std::process::Command::new("bash");
        let done = shell
            .arg("-c")
            .arg(script)
            .arg(program)
            .arg(job.path())
            .output()
            .unwrap();
        (done.status.code(), String::from_utf8(done.stderr).unwrap())
    };
    for verb in ["index", "deliver"] {
        let (code, told) = limited(verb);
        assert_eq!(code, Some(2), "{verb}: {told}");
        assert!(told.contains("cannot be written"), "{verb}: {told}");
    }
    assert_eq!(sums(&job.file("out/index")), before);
    assert!(!job.file("out/delivery-0001").exists());
    job.run("deliver", &[]).exits(0);
    job.run("deliver", &["--verify"]).exits(0);
}
