//! Scans delivered under their names, verified, amended, taken back.

use super::hands::{HandKeyed, keyed, of_kind, record};
use crate::support::rows;
use headword::journal::Act;
use headword::value::{SheetKind, sha256_file};
use std::collections::BTreeMap;
use std::fs;
use std::os::unix::fs::{MetadataExt, symlink};
use std::path::Path;

pub const SCANS: &str = "[scans]\nfolder = \"scans\"\nname = \"{sheet}.pdf\"\n";

/// A job with a scan for every sheet: four records, a divider, one set aside.
fn job() -> HandKeyed {
    let mut job = HandKeyed::of_sheets(6, SCANS);
    fs::create_dir(job.file("scans")).unwrap();
    for number in 1..=6 {
        scan(&job, number);
    }
    job.key(1, "DALTON MARY~ANN 204517-4 1931 1958 1 2");
    job.key(2, "DALTON MARY~ANN 204517-4 1931 1958 2 2");
    job.does(3, "mia", 1, of_kind(SheetKind::Divider));
    job.key(4, "O'BRIEN PAT 000794-0");
    let reason = "no strip".to_owned();
    job.does(5, "mia", 1, Act::SetAside { reason });
    job.key(6, "=HALE JO 000001-2");
    job
}

fn scan(job: &HandKeyed, number: usize) {
    let path = job.file("scans").join(format!("{number:04}.pdf"));
    fs::write(path, format!("scan {number}")).unwrap();
}

/// Every file below a folder with its content's sum.
pub fn sums(folder: &Path) -> BTreeMap<String, String> {
    fn walk(root: &Path, folder: &Path, found: &mut BTreeMap<String, String>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(root, &path, found);
            } else {
                let name = path
                    .strip_prefix(root)
                    .unwrap()
                    .to_str()
                    .unwrap()
                    .to_owned();
                found.insert(name, sha256_file(&path).unwrap());
            }
        }
    }
    let mut found = BTreeMap::new();
    walk(folder, folder, &mut found);
    found
}

#[test]
fn a_batch_is_delivered_verified_amended_and_taken_back() {
    let mut job = job();
    let before = sums(&job.file("scans"));
    let dry = job.run("deliver", &["--dry-run"]).exits(0);
    let dry = dry.says(&[
        "4 sheets and 2 exceptions would be",
        "0001.pdf -> sheets/204517-4_DALTON_1of2.pdf",
    ]);
    assert!(dry.out.contains("is written"), "{}", dry.out);
    assert!(!job.file("out").exists());

    job.run("deliver", &[])
        .exits(0)
        .says(&["delivery 1: 4 sheets and 2 exceptions"]);
    let bag = job.file("out/delivery-0001");
    let payload: Vec<String> = sums(&bag.join("data")).into_keys().collect();
    assert_eq!(
        payload,
        [
            "exceptions.csv",
            "exceptions/0003.pdf",
            "exceptions/0005.pdf",
            "index-for-spreadsheets.csv",
            "index.csv",
            "index.csv-metadata.json",
            "index.xlsx",
            "provenance.csv",
            "rescans.csv",
            "sheets/000001-2_HALE.pdf",
            "sheets/000794-0_OBRIEN.pdf",
            "sheets/204517-4_DALTON_1of2.pdf",
            "sheets/204517-4_DALTON_2of2.pdf",
            "unused-roster.csv",
        ]
    );
    // Index and files match one to one.
    for row in rows(&bag.join("data/index.csv")) {
        assert!(
            bag.join("data/sheets").join(&row["file_name"]).is_file(),
            "{row:?}"
        );
    }
    assert_eq!(
        fs::read_to_string(bag.join("data/sheets/000794-0_OBRIEN.pdf")).unwrap(),
        "scan 4"
    );
    job.run("deliver", &["--verify"])
        .exits(0)
        .says(&["as delivery 1 was made"]);
    job.run("deliver", &[]).exits(0).says(&["nothing new"]);
    job.run("deliver", &["--amend", "x"])
        .exits(0)
        .says(&["nothing to amend"]);
    job.run("history", &["000794-0_OBRIEN.pdf"])
        .exits(0)
        .says(&["0004.png"]);
    // The index written later has the delivered names.
    job.run("index", &[]).exits(0);
    assert!(
        job.text("out/index/index.csv")
            .contains("000794-0_OBRIEN.pdf,")
    );

    // A correction, and a second batch meanwhile.
    job.does(
        4,
        "ada",
        1,
        keyed(vec![record("O'BRIAN PAT 000794-0", None)]),
    );
    job.key(1, "DALTON MARY~ANN 204517-4 1932 1958 1 2");
    job.add_sheet();
    scan(&job, 7);
    job.key(7, "QUAYLE JACK 000002-0");
    job.run("deliver", &[])
        .exits(1)
        .says(&["delivery 2: 1 sheet and", "2 sheets changed since"]);
    let run = job
        .run("deliver", &["--amend", "the client found a wrong name"])
        .exits(0);
    run.says(&["delivery 3: 2 sheets"]);
    let amended = job.file("out/delivery-0003/data");
    let payload = sums(&amended);
    let shipped: Vec<&String> = payload.keys().filter(|name| name.contains('/')).collect();
    assert_eq!(shipped, ["sheets/000794-0_OBRIAN.pdf"]);
    assert_eq!(
        fs::read_to_string(amended.join("amendments.csv")).unwrap(),
        "delivery,sheet,old_name,new_name,changed,reason\r\n\
         1,0001.png,sheets/204517-4_DALTON_1of2.pdf,sheets/204517-4_DALTON_1of2.pdf,from: 1931 -> 1932,the client found a wrong name\r\n\
         1,0004.png,sheets/000794-0_OBRIEN.pdf,sheets/000794-0_OBRIAN.pdf,surname: O'BRIEN -> O'BRIAN,the client found a wrong name\r\n"
    );
    assert_eq!(rows(&amended.join("index.csv")).len(), 2);
    job.run("deliver", &["--verify"])
        .exits(0)
        .says(&["as delivery 3 was made"]);

    // Taken back, made again, handed over.
    job.run("deliver", &["--undo"])
        .exits(0)
        .says(&["delivery 3 was taken back"]);
    assert!(!job.file("out/delivery-0003").exists());
    assert!(!job.file("out/delivery-0003.json").exists());
    job.run("deliver", &["--amend", "again"])
        .exits(0)
        .says(&["delivery 3: 2 sheets"]);
    job.run("deliver", &["--hand-over"]).exits(0);
    job.run("deliver", &["--undo"])
        .exits(2)
        .says(&["was handed over", "--amend"]);
    assert_eq!(
        sums(&job.file("scans")),
        before
            .into_iter()
            .chain([(
                "0007.pdf".to_owned(),
                sha256_file(&job.file("scans/0007.pdf")).unwrap()
            )])
            .collect()
    );
}

#[test]
fn verifying_tells_what_is_missing_changed_and_extra() {
    let job = job();
    job.run("deliver", &["--verify"])
        .exits(2)
        .says(&["no delivery yet"]);
    job.run("deliver", &[]).exits(0);
    let moved = job.file("elsewhere");
    fs::rename(job.file("out/delivery-0001"), &moved).unwrap();
    let path = moved.to_str().unwrap();
    job.run("deliver", &["--verify", path]).exits(0);
    job.run("deliver", &["--undo"])
        .exits(2)
        .says(&["may have left the house"]);
    // The names stay frozen though the bag has left.
    job.run("deliver", &[]).exits(0).says(&["nothing new"]);
    fs::remove_file(moved.join("data/sheets/000001-2_HALE.pdf")).unwrap();
    fs::write(moved.join("data/index.csv"), "").unwrap();
    fs::write(moved.join("data/notes.txt"), "").unwrap();
    let told = job
        .run("deliver", &["--verify", path, "--json"])
        .exits(1)
        .json();
    assert_eq!(told["found"]["missing"][0], "data/sheets/000001-2_HALE.pdf");
    assert_eq!(told["found"]["changed"][0], "data/index.csv");
    assert_eq!(told["found"]["extra"][0], "data/notes.txt");
    // A manifest that was made to fit is none of ours.
    fs::write(moved.join("manifest-sha256.txt"), "").unwrap();
    job.run("deliver", &["--verify", path])
        .exits(1)
        .says(&["no delivery of this job"]);
}

#[test]
fn nothing_is_delivered_where_something_is_unclear() {
    let mut job = job();
    let nothing = |job: &HandKeyed, code: i32, says: &[&str]| {
        job.run("deliver", &[]).exits(code).says(says);
        assert!(!job.file("out/delivery-0001").exists());
    };
    // A scan is missing; then one too many; then two for one sheet.
    fs::rename(job.file("scans/0002.pdf"), job.file("scans/0002b.pdf")).unwrap();
    nothing(
        &job,
        2,
        &["sheet 0002.png: expected one scan", "scan 0002b.pdf"],
    );
    fs::rename(job.file("scans/0002b.pdf"), job.file("scans/0002.pdf")).unwrap();
    symlink("/etc/passwd", job.file("scans/0007.pdf")).unwrap();
    nothing(&job, 2, &["scan 0007.pdf", "a link"]);
    fs::remove_file(job.file("scans/0007.pdf")).unwrap();
    // Two sheets that want one name; a sheet put off; an image that is another one now.
    job.key(2, "DALTON MARY~ANN 204517-4 1931 1958 1 2");
    nothing(
        &job,
        1,
        &[
            "204517-4_DALTON_1of2 is wanted more than once",
            "0001.png, 0002.png",
        ],
    );
    let reason = "ask".to_owned();
    job.does(2, "mia", 1, Act::Held { reason });
    nothing(
        &job,
        1,
        &["1 sheets are not finished; the first is 0002.png: ask"],
    );
    fs::write(job.file("sheets/0001.png"), "another").unwrap();
    nothing(&job, 1, &["the image is another one", "0001.png"]);
    fs::write(job.file("sheets/0001.png"), "picture 0001.png").unwrap();
    job.run("deliver", &["--incomplete"])
        .exits(1)
        .says(&["delivery 1: 3 sheets", "1 sheet left"]);
    job.key(2, "DALTON MARY~ANN 204517-4 1931 1958 2 2");
    job.run("deliver", &[])
        .exits(0)
        .says(&["delivery 2: 1 sheet and"]);
    // A folder of another's making is not taken for a delivery.
    fs::create_dir(job.file("out/delivery-0003")).unwrap();
    job.run("deliver", &[])
        .exits(2)
        .says(&["delivery-0003", "move it away"]);
}

#[test]
fn scans_pair_by_order_and_by_a_list_and_may_be_folders() {
    for (settings, list) in [
        ("[scans]\nfolder = \"scans\"\n", None),
        (
            "[scans]\nfolder = \"scans\"\nlist = \"pairs.csv\"\n",
            Some("scan,sheet\n0001.pdf,0001.png\n0002.pdf,0002.png\n0003,0003.png\n"),
        ),
    ] {
        let mut job = HandKeyed::of_sheets(3, settings);
        fs::create_dir_all(job.file("scans/0003/back")).unwrap();
        if let Some(list) = list {
            fs::write(job.file("pairs.csv"), list).unwrap();
        }
        for file in [
            "0001.pdf",
            "0002.pdf",
            "0003/1.tif",
            "0003/2.tif",
            "0003/back/1.tif",
        ] {
            fs::write(job.file("scans").join(file), file).unwrap();
        }
        for number in 1..=3 {
            job.key(number, &format!("A B 00000{number}"));
        }
        let told = job.run("deliver", &["--link", "--json"]).exits(0).json();
        assert_eq!(told["linked"], 5);
        let sheets = job.file("out/delivery-0001/data/sheets");
        let names: Vec<String> = sums(&sheets).into_keys().collect();
        assert_eq!(
            names,
            [
                "000001_A.pdf",
                "000002_A.pdf",
                "000003_A/1.tif",
                "000003_A/2.tif",
                "000003_A/back/1.tif"
            ]
        );
        let inode = |path: &Path| fs::metadata(path).unwrap().ino();
        assert_eq!(
            inode(&sheets.join("000001_A.pdf")),
            inode(&job.file("scans/0001.pdf"))
        );
        // The scan is made anew; only it is shipped again.
        fs::remove_file(job.file("scans/0002.pdf")).unwrap();
        fs::write(job.file("scans/0002.pdf"), "better").unwrap();
        job.run("deliver", &["--amend", "blurred"]).exits(0);
        let data = job.file("out/delivery-0002/data");
        assert_eq!(
            fs::read_to_string(data.join("sheets/000002_A.pdf")).unwrap(),
            "better"
        );
        assert!(
            fs::read_to_string(data.join("amendments.csv"))
                .unwrap()
                .contains(",another scan,blurred")
        );
        assert_eq!(sums(&data.join("sheets")).len(), 1);
    }
}

#[test]
fn a_job_without_scans_says_what_to_add() {
    let mut job = HandKeyed::of_sheets(1, "");
    job.key(1, "A B 000001");
    job.run("deliver", &[])
        .exits(2)
        .says(&["[scans]", "folder = \"scans\""]);
}

#[test]
fn scans_made_in_another_order_than_the_sheets_are_refused_where_the_job_asks() {
    let settings = "[scans]\nfolder = \"scans\"\nin_step_by_time = true\n";
    let mut job = HandKeyed::of_sheets(3, settings);
    fs::create_dir(job.file("scans")).unwrap();
    let written = |path: &Path, minute: u64| {
        let at = std::time::UNIX_EPOCH + std::time::Duration::from_secs(1_000_000 + 60 * minute);
        let file = fs::File::options().append(true).open(path).unwrap();
        file.set_modified(at).unwrap();
    };
    for (number, minute) in [(1, 1), (2, 9), (3, 3)] {
        scan(&job, number);
        written(&job.file(&format!("scans/{number:04}.pdf")), minute);
        written(&job.file(&format!("sheets/{number:04}.png")), number as u64);
        job.put(&job.sheet(number));
        job.key(number, &format!("A B 00000{number}"));
    }
    job.run("deliver", &[])
        .exits(2)
        .says(&["the times of sheets and scans part at sheet 0003.png and scan 0003.pdf"]);
    written(&job.file("scans/0002.pdf"), 2);
    job.run("deliver", &[]).exits(0);
}
