use super::*;
use crate::delivery::ScanFile;
use ::tiff::encoder::TiffEncoder;
use ::tiff::encoder::colortype::Gray8;
use flate2::Compression;
use flate2::write::ZlibEncoder;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::io::{Cursor, Write};

/// A PDF of objects by number, with a table of them, after junk.
fn with_table(objects: &[&str], trailer: &str) -> Vec<u8> {
    let mut file = b"%PDF-1.4\n".to_vec();
    let mut table = format!("xref\n0 {}\n0000000000 65535 f \n", objects.len() + 1);
    for (number, object) in (1..).zip(objects) {
        table += &format!("{:010} 00000 n \n", file.len());
        file.extend(format!("{number} 0 obj\n{object}\nendobj\n").bytes());
    }
    let at = file.len();
    file.extend(format!("{table}trailer\n<< {trailer} >>\nstartxref\n{at}\n%%EOF\n").bytes());
    file
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::default());
    encoder.write_all(bytes).unwrap();
    encoder.finish().unwrap()
}

/// A PDF whose objects are packed into a stream, with a packed cross-reference of rows that PNG's Up filter made.
fn with_streams(pages: u64) -> Vec<u8> {
    let catalog = "<< /Type /Catalog /Pages 2 0 R >>";
    let tree = format!("<< /Type /Pages /Kids [] /Count {pages} >>");
    let numbers = format!("1 0 2 {} ", catalog.len() + 1);
    let objects = packed(format!("{numbers}{catalog} {tree}").as_bytes());
    let mut file = b"junk before it\n%PDF-1.5\n".to_vec();
    let begins = 15;
    let stream = |file: &mut Vec<u8>, head: String, bytes: &[u8]| {
        let at = file.len() - begins;
        file.extend(format!("{head} /Length {} >>\nstream\r\n", bytes.len()).bytes());
        file.extend(bytes);
        file.extend(b"\nendstream\nendobj\n");
        at
    };
    let first = numbers.len();
    let head = format!("3 0 obj << /Type /ObjStm /N 2 /First {first} /Filter [/FlateDecode]");
    let at = stream(&mut file, head, &objects);
    let row = |kind: u8, second: usize, third: u8| [kind, (second >> 8) as u8, second as u8, third];
    let rows = [row(0, 0, 0), row(2, 3, 0), row(2, 3, 1), row(1, at, 0)];
    let mut before = [0; 4];
    let mut filtered = Vec::new();
    for row in rows {
        filtered.push(2);
        filtered.extend(row.iter().zip(before).map(|(now, up)| now.wrapping_sub(up)));
        before = row;
    }
    let head = "4 0 obj << /Type /XRef /Size 4 /W [1 2 1] /Root 1 0 R /Filter /FlateDecode /DecodeParms << /Predictor \
                12 /Columns 4 >>";
    let at = stream(&mut file, head.to_owned(), &packed(&filtered));
    file.extend(format!("startxref\n{at}\n%%EOF").bytes());
    file
}

fn multi_page_tiff(pages: usize) -> Vec<u8> {
    let mut file = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut file).unwrap();
    for _ in 0..pages {
        encoder.write_image::<Gray8>(2, 2, &[0; 4]).unwrap();
    }
    file.into_inner()
}

const CATALOG: &str = "<< /Type /Catalog /Pages 2 0 R >>";

fn count(bytes: &[u8]) -> Option<u64> {
    pages_of(Cursor::new(bytes))
}

#[test]
fn pages_are_counted_by_what_a_file_holds() {
    let plain = with_table(&[CATALOG, "<</Count 61/Kids[3 0 R]>>"], "/Root 1 0 R");
    let indirect = [
        "<</Pages 2 0 R/Title (a \\) /Count 9)>>",
        "<</Count 3 0 R>>",
        "270",
    ];
    // Changed once: the older cross-reference still holds the catalogue, the newer one the tree.
    let mut changed = with_table(&[CATALOG, "<< /Count 1 >>"], "/Root 1 0 R");
    let before = changed
        .windows(4)
        .rposition(|four| four == b"xref")
        .unwrap()
        - 5;
    let before = changed[..before]
        .windows(4)
        .rposition(|four| four == b"xref")
        .unwrap();
    let tree = changed.len();
    changed.extend(b"2 0 obj << /Count 7 >> endobj\n");
    let table = changed.len();
    let section = format!(
        "xref\n2 1\n{tree:010} 00000 n \ntrailer << /Root 1 0 R /Prev {before} >>\nstartxref\n{table}\n"
    );
    changed.extend(section.bytes());
    let mut with_thumbnail = multi_page_tiff(2);
    // The first directory's type of picture becomes that of a reduced copy.
    let first = u32::from_le_bytes(with_thumbnail[4..8].try_into().unwrap()) as usize;
    with_thumbnail[first + 2..first + 4].copy_from_slice(&254_u16.to_le_bytes());
    with_thumbnail[first + 10] = 1;
    for (what, file, pages) in [
        ("a table", plain.clone(), Some(61)),
        (
            "a count of its own",
            with_table(&indirect, "/Root 1 0 R"),
            Some(270),
        ),
        ("a later change", changed, Some(7)),
        ("streams behind junk", with_streams(60), Some(60)),
        ("no root", with_table(&[CATALOG], "/Size 2"), None),
        ("cut off", plain[..plain.len() / 2].to_vec(), None),
        ("no tree", with_table(&[CATALOG], "/Root 1 0 R"), None),
        ("a TIFF of three", multi_page_tiff(3), Some(3)),
        ("a reduced copy", with_thumbnail, Some(1)),
        ("half a TIFF", multi_page_tiff(3)[..60].to_vec(), None),
        ("a JPEG", b"\xff\xd8\xff\xe0 and so on".to_vec(), Some(1)),
        ("a letter", b"Dear Sir".to_vec(), None),
        ("nothing", Vec::new(), None),
    ] {
        assert_eq!(count(&file), pages, "{what}");
    }
    // Directories that go round.
    let mut round = multi_page_tiff(2);
    let at = u32::from_le_bytes(round[4..8].try_into().unwrap()) as usize;
    let entries = u16::from_le_bytes(round[at..at + 2].try_into().unwrap()) as usize;
    let next = at + 2 + 12 * entries;
    round[next..next + 4].copy_from_slice(&(at as u32).to_le_bytes());
    assert_eq!(count(&round), None);
}

#[test]
fn damaged_files_are_counted_or_not_and_never_end_the_program() {
    let sound = [
        with_table(&[CATALOG, "<</Count 61/Kids[3 0 R]>>"], "/Root 1 0 R"),
        with_streams(60),
        multi_page_tiff(3),
    ];
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let mut counted = 0;
    for round in 0..6_000 {
        let mut file = sound[round % sound.len()].clone();
        for _ in 0..random.random_range(1..6) {
            let at = random.random_range(0..file.len());
            match random.random_range(0..3) {
                0 => file[at] = random.random(),
                1 => file.truncate(at.max(1)),
                _ => file.insert(at, b"<[(/90 R"[random.random_range(0..8)]),
            }
        }
        counted += usize::from(count(&file).is_some());
    }
    // Otherwise the damage would be too weak or too strong to tell anything.
    assert!((300..5_700).contains(&counted), "{counted}");
}

#[test]
fn scans_with_too_many_pages_none_or_unknown_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let scan = |name: &str, files: &[(&str, Vec<u8>)], is_folder| {
        let files = files.iter().map(|(within, bytes)| {
            let path = folder.path().join(format!("{name}{within}"));
            std::fs::write(&path, bytes).unwrap();
            ScanFile {
                path,
                within: (*within).to_owned(),
                bytes: 0,
                modified: 0,
            }
        });
        Scan {
            name: name.to_owned(),
            files: files.collect(),
            is_folder,
        }
    };
    let letter = b"list of pages".to_vec();
    let scans = [
        scan("1.tif", &[("", multi_page_tiff(4))], false),
        scan("2.pdf", &[("", with_streams(5))], false),
        scan(
            "3",
            &[
                ("1.tif", multi_page_tiff(4)),
                ("2.tif", multi_page_tiff(1)),
                ("x", letter.clone()),
            ],
            true,
        ),
        scan("4", &[("x", letter.clone())], true),
        scan("5.pdf", &[("", letter)], false),
    ];
    let counted: Vec<(SheetId, &Scan, Option<u64>)> = (1..)
        .zip(&scans)
        .map(|(number, scan)| {
            (
                SheetId::new(format!("{number}.png")),
                scan,
                count_pages(scan),
            )
        })
        .collect();
    let pages: Vec<Option<u64>> = counted.iter().map(|(_, _, pages)| *pages).collect();
    assert_eq!(pages, [Some(4), Some(5), Some(5), Some(0), None]);
    let checks = check_pages(&counted, 4);
    let told: Vec<(&str, &str)> = checks
        .iter()
        .map(|check| (check.sheets[0].as_str(), check.code))
        .collect();
    assert_eq!(
        told,
        [
            ("2.png", "page-count"),
            ("3.png", "page-count"),
            ("4.png", "page-count"),
            ("5.png", "pages-not-counted")
        ]
    );
    assert!(
        checks[0]
            .message
            .contains("2.pdf has 5 pages, and a sheet has 4 frames")
    );
}
