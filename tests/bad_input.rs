//! Files that are no sheets, sheets that are damaged, rosters and job files that are at fault.

use crate::fuzz::craft::{Tag, crc32, one_strip, tiff};
use crate::support::{TestJob, demo_sheets};
use std::fs;
use std::path::Path;

/// A PNG that says it is 100,000 x 100,000 pixels: signature, IHDR with a right CRC, no pixels to speak of.
fn huge_png() -> Vec<u8> {
    let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut header = b"IHDR".to_vec();
    header.extend(100_000_u32.to_be_bytes());
    header.extend(100_000_u32.to_be_bytes());
    header.extend([8, 0, 0, 0, 0]);
    bytes.extend(13_u32.to_be_bytes());
    bytes.extend(&header);
    bytes.extend(crc32(&header).to_be_bytes());
    // An empty zlib stream, so that the header is all that is wrong.
    let pixels = b"IDAT\x78\x9c\x03\0\0\0\0\x01";
    bytes.extend(8_u32.to_be_bytes());
    bytes.extend(pixels);
    bytes.extend(crc32(pixels).to_be_bytes());
    bytes.extend([0, 0, 0, 0]);
    bytes.extend(b"IEND");
    bytes.extend(crc32(b"IEND").to_be_bytes());
    bytes
}

/// The first sheet with this extension, in bytes.
fn sheet_as(extension: &str) -> Vec<u8> {
    let sheets = demo_sheets();
    let sheet = sheets
        .iter()
        .find(|path| path.extension().is_some_and(|e| e == extension));
    fs::read(sheet.expect("the demo has one")).unwrap()
}

fn as_tiff(bytes: &[u8]) -> Vec<u8> {
    let image = image::load_from_memory(bytes).unwrap();
    let mut tiff = std::io::Cursor::new(Vec::new());
    image.write_to(&mut tiff, image::ImageFormat::Tiff).unwrap();
    tiff.into_inner()
}

fn half(bytes: &[u8]) -> Vec<u8> {
    bytes[..bytes.len() / 2].to_vec()
}

fn with_noise(mut bytes: Vec<u8>) -> Vec<u8> {
    for at in (200..bytes.len()).step_by(97) {
        bytes[at] = bytes[at].wrapping_mul(31).wrapping_add(7);
    }
    bytes
}

#[test]
fn what_is_no_sheet_gets_its_reason_and_the_rest_goes_on() {
    let (png, jpg) = (sheet_as("png"), sheet_as("jpg"));
    let tif = as_tiff(&jpg);
    // File name, content, and what the exception says.
    let cases: [(&str, Vec<u8>, &str); 11] = [
        ("half.png", half(&png), "ends early"),
        ("half.jpg", half(&jpg), "ends early"),
        ("half.tif", half(&tif), "ends early"),
        ("noise.png", with_noise(png.clone()), "PNG image"),
        ("empty.png", Vec::new(), "found an empty file"),
        ("huge.png", huge_png(), "found 100000 x 100000"),
        ("text.tif", b"this is a letter\n".to_vec(), "found text"),
        (
            "pdf.png",
            b"%PDF-1.4\n1 0 obj\n".to_vec(),
            "found a PDF document",
        ),
        (
            "zip.jpg",
            b"PK\x03\x04\x14\0\0\0".to_vec(),
            "found a ZIP archive",
        ),
        ("magic.png", b"\x89PNG\r\n\x1a\n".to_vec(), "PNG image"),
        ("magic.jpg", b"\xff\xd8\xff\xe0".to_vec(), "JPEG image"),
    ];
    let job = TestJob::of_sheets(2);
    let sheets = job.file("sheets");
    for (name, bytes, _) in &cases {
        fs::write(sheets.join(name), bytes).unwrap();
    }
    fs::create_dir(sheets.join("folder.tif")).unwrap();
    std::os::unix::fs::symlink("/dev/zero", sheets.join("device.png")).unwrap();
    std::os::unix::fs::symlink("nowhere", sheets.join("dangling.png")).unwrap();
    // A TIFF under a PNG's name is read by its content.
    fs::write(sheets.join("other.png"), &tif).unwrap();
    let count = cases.len() + 6;
    job.run("read", ["--deadline", "20"])
        .exits(1)
        .says(&[&format!("{count} sheets: {count} read")]);
    let draft = job.is_accounted_for();
    let places = [
        ("folder.tif", "found a folder"),
        ("device.png", "found a device"),
        ("dangling.png", "cannot read the file"),
    ];
    for (name, says) in cases
        .iter()
        .map(|(name, _, says)| (*name, *says))
        .chain(places)
    {
        let found = draft.exceptions.iter().find(|(sheet, _)| sheet == name);
        let (_, reason) = found.unwrap_or_else(|| panic!("{name} is no exception: {draft:#?}"));
        assert!(
            reason.contains(says),
            "{name}: expected {says:?}, found {reason:?}"
        );
    }
    assert!(draft.index.contains(&"other.png".to_owned()), "{draft:#?}");
    // They do not get better by waiting, and are not read again.
    let again = job.run("read", ["--json"]).json();
    assert_eq!(again["unchanged"], count, "{again:#}");
}

#[test]
fn hostile_images_are_refused_or_opened_in_time() {
    let plain = |more: &[Tag], next| {
        tiff(
            &[200; 64 * 32],
            &one_strip((64, 32), 1, 64 * 32, more),
            next,
        )
    };
    // White, 108 million pixels: 30,000 x 3,600.
    const LARGE: (u32, u32) = (30_000, 3_600);
    let pixels = LARGE.0 * LARGE.1;
    // PackBits: -127 repeats the byte that follows 128 times.
    let packbits = [0x81, 0xff].repeat(pixels.div_ceil(128) as usize);
    let packbits = tiff(
        &packbits,
        &one_strip(LARGE, 32_773, packbits.len() as u32, &[]),
        0,
    );
    // Group 4: a row like the white one above it is a single bit of 1.
    let group_4 = vec![0xff; LARGE.1.div_ceil(8) as usize];
    let length = group_4.len() as u32;
    let bits = [(258, 3, 1, 1), (262, 3, 1, 0)];
    let group_4 = tiff(&group_4, &one_strip(LARGE, 4, length, &bits), 0);
    let mut jpeg = sheet_as("jpg");
    let frame = jpeg.windows(2).position(|pair| pair == [0xff, 0xc0]);
    jpeg[frame.expect("a frame header") + 5..][..4].fill(0xff);
    let stream = tiff(&jpeg, &one_strip((64, 32), 7, jpeg.len() as u32, &[]), 0);
    let mut big = b"II\x2b\0\x08\0\0\0\x10\0\0\0\0\0\0\0\x02\0\0\0\0\0\0\0".to_vec();
    for tag in [256_u16, 257] {
        big.extend(tag.to_le_bytes());
        big.extend([4, 0, 1, 0, 0, 0, 0, 0, 0, 0]);
        big.extend(100_000_u64.to_le_bytes());
    }
    big.extend([0; 8]);
    let directory = 8 + 64 * 32;
    // 30,000 strips of one row, all of them the same 20,000 bytes.
    let lists = [8_u32, 20_000].map(|value| value.to_le_bytes().repeat(30_000));
    let tags = [
        (258, 3, 1, 1),
        (273, 4, 30_000, 8),
        (278, 4, 1, 1),
        (279, 4, 30_000, 8 + 120_000),
    ];
    let shared = tiff(&lists.concat(), &one_strip((64, 30_000), 3, 0, &tags), 0);
    // Not refused: keyed, or an exception for the want of text.
    const OPENED: &str = "";
    // File name, content, and what the exception says.
    let cases: [(&str, Vec<u8>, &str); 20] = [
        (
            "bomb.tif",
            plain(&[(256, 4, 1, 100_000), (257, 4, 1, 100_000)], 0),
            "found 100000 x 100000",
        ),
        ("big-bomb.tif", big, "found 100000 x 100000"),
        ("bomb.jpg", jpeg, "found 65535 x 65535"),
        ("bomb-in.tif", stream, "another size than its strip or tile"),
        ("packbits-bomb.tif", packbits, OPENED),
        ("group-4-bomb.tif", group_4, OPENED),
        ("itself-next.tif", plain(&[], directory), OPENED),
        ("header-next.tif", plain(&[], 8), OPENED),
        (
            "no-entries.tif",
            tiff(&[], &[], 0),
            "a directory of 0 entries",
        ),
        (
            "no-directory.tif",
            b"II\x2a\0\xff\xff\xff\x7f".to_vec(),
            "ends early",
        ),
        (
            "own-header.tif",
            b"II\x2a\0\0\0\0\0".to_vec(),
            "a directory of 18761 entries",
        ),
        (
            "many-values.tif",
            plain(&[(273, 4, u32::MAX, 8)], 0),
            "a tag of 4294967295 values",
        ),
        (
            "far-values.tif",
            plain(&[(273, 4, 100, u32::MAX)], 0),
            "ends early",
        ),
        (
            "no-strips.tif",
            plain(&[(273, 4, 0, 8)], 0),
            "0 strips or tiles, 1 expected",
        ),
        (
            "long-strip.tif",
            tiff(&[0; 64], &one_strip((64, 32), 5, u32::MAX, &[]), 0),
            "ends early",
        ),
        (
            "wide-tile.tif",
            plain(&[(322, 4, 1, u32::MAX), (323, 4, 1, 16), (324, 4, 1, 8)], 0),
            "a tile larger than any picture",
        ),
        (
            "vast-tile.tif",
            plain(
                &[
                    (258, 3, 1, 1),
                    (259, 3, 1, 2),
                    (322, 4, 1, 65_536),
                    (323, 4, 1, 65_536),
                    (324, 4, 1, 8),
                ],
                0,
            ),
            "needs 4294967296",
        ),
        (
            "shared-strips.tif",
            shared,
            "strips or tiles of 600000000 bytes",
        ),
        (
            "no-tile.tif",
            plain(&[(322, 4, 1, 0), (323, 4, 1, 16), (324, 4, 1, 8)], 0),
            "no tile width",
        ),
        (
            "samples.tif",
            plain(&[(277, 3, 1, 65_535)], 0),
            "65535 samples a pixel",
        ),
    ];
    let job = TestJob::of_sheets(0);
    let sheets = job.file("sheets");
    for (name, bytes, _) in &cases {
        fs::write(sheets.join(name), bytes).unwrap();
    }
    let fifo = std::process::Command::new("mkfifo")
        .arg(sheets.join("fifo.png"))
        .status();
    assert!(fifo.expect("mkfifo runs").success());
    std::os::unix::net::UnixListener::bind(sheets.join("socket.png")).unwrap();
    std::os::unix::fs::symlink("there.png", sheets.join("here.png")).unwrap();
    std::os::unix::fs::symlink("here.png", sheets.join("there.png")).unwrap();
    let places = [
        ("fifo.png", "found a device or a pipe"),
        ("socket.png", "found a device or a pipe"),
        ("here.png", "cannot read the file"),
        ("there.png", "cannot read the file"),
    ];
    let count = cases.len() + places.len();
    job.run("read", ["--deadline", "20"])
        .exits(1)
        .says(&[&format!("{count} sheets: {count} read")]);
    let draft = job.is_accounted_for();
    let cases = cases.iter().map(|(name, _, says)| (*name, *says));
    for (name, says) in cases.chain(places) {
        let found = draft.exceptions.iter().find(|(sheet, _)| sheet == name);
        let reason = found.map_or("", |(_, reason)| reason);
        let is_right = match says {
            OPENED => !reason.contains("expected a"),
            says => reason.contains(says),
        };
        assert!(is_right, "{name}: expected {says:?}, found {reason:?}");
    }
}

#[test]
fn rosters_with_faults_say_them() {
    const HEADER: &str = "number,surname,forenames\n";
    // What the roster holds, the exit code of `read`, and what is said.
    let cases: [(&str, Vec<u8>, i32, &[&str]); 9] = [
        (
            "sound",
            format!("{HEADER}466112-2,STILES,JESSIE\n").into(),
            0,
            &[],
        ),
        ("no bytes", Vec::new(), 2, &["roster", "the file is empty"]),
        (
            "header alone",
            HEADER.into(),
            1,
            &["expected one line a row"],
        ),
        (
            "missing column",
            b"number,surname\n466112-2,STILES\n".to_vec(),
            2,
            &["roster line 1", "forenames", "number, surname"],
        ),
        (
            "byte order mark and CRLF",
            "\u{feff}number,surname,forenames\r\n466112-2,STILES,JESSIE\r\n".into(),
            0,
            &[],
        ),
        (
            "keys twice",
            format!("{HEADER}466112-2,STILES,JESSIE\n466112-2,WERNER,T\n").into(),
            1,
            &["line 3", "466112-2"],
        ),
        (
            "ragged",
            format!("{HEADER}466112-2,STILES\n494764-9,WERNER,T,J\n").into(),
            1,
            &["line 2", "line 3"],
        ),
        (
            "Windows-1252",
            b"number,surname,forenames\n466112-2,M\xdcLLER,JESSIE\n".to_vec(),
            1,
            &["line 2", "UTF-8"],
        ),
        ("binary", b"number\0\0\x01".to_vec(), 2, &["zero byte"]),
    ];
    let job = TestJob::of_sheets(0);
    for (name, bytes, code, says) in cases {
        fs::write(job.file("roster.csv"), bytes).unwrap();
        eprintln!("{name}");
        job.run("read", ["--workers", "1"]).exits(code).says(says);
    }
    fs::remove_file(job.file("roster.csv")).unwrap();
    job.run("read", ["--workers", "1"])
        .exits(2)
        .says(&["roster.csv", "check the path"]);
}

#[test]
fn folders_and_files_in_each_others_place_are_said() {
    let replace = |path: &Path, by_folder: bool| {
        let _ = fs::remove_file(path);
        let _ = fs::remove_dir_all(path);
        if by_folder {
            fs::create_dir_all(path).unwrap();
        } else {
            fs::write(path, "in the way").unwrap();
        }
    };
    // What is replaced in the job, whether by a folder (else by a file), the command, and what is said.
    let cases: [(&str, bool, &[&str], &[&str]); 6] = [
        ("job.toml", true, &["read"], &["job.toml", "expected"]),
        (
            "rules/personnel.toml",
            true,
            &["read"],
            &["personnel.toml", "rule file"],
        ),
        ("roster.csv", true, &["read"], &["roster.csv"]),
        ("headword.db", true, &["read"], &["headword.db"]),
        (
            "sheets",
            false,
            &["read"],
            &["sheets", "a folder of sheet images"],
        ),
        ("out", false, &["index", "--draft"], &["out"]),
    ];
    for (place, by_folder, arguments, says) in cases {
        let job = TestJob::of_sheets(0);
        replace(&job.file(place), by_folder);
        eprintln!("{place}");
        job.run(arguments[0], &arguments[1..]).exits(2).says(says);
    }
}

#[test]
fn a_job_that_may_not_be_written_is_said() {
    use std::os::unix::fs::PermissionsExt;
    let job = TestJob::of_sheets(1);
    let allow = |mode| fs::set_permissions(job.path(), fs::Permissions::from_mode(mode)).unwrap();
    allow(0o555);
    let is_obeyed = fs::write(job.file("try"), "").is_err();
    if is_obeyed {
        job.run("read", ["--workers", "1"])
            .exits(2)
            .says(&["headword.db"]);
    } else {
        eprintln!("not tried: this user may write everywhere");
    }
    allow(0o755);
}
