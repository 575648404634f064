use super::*;
use crate::delivery::{
    Exception, NamePattern, RecordValue, csvw_metadata, exceptions_csv, name_sheets,
};
use crate::value::{Finding, Probability, Severity, SheetId, SheetKind, SheetState, Station};
use std::path::Path;

fn record(sheet: &str, number: &str, surname: &str, roster: Option<&str>) -> Record {
    let value = |field: &str, typed: &str, roster: Option<&str>| RecordValue {
        field: field.to_owned(),
        as_typed: typed.to_owned(),
        as_roster: roster.map(str::to_owned),
        face: Some(Face::Look),
        probability: Some(Probability::new(0.5)),
        ..RecordValue::default()
    };
    Record {
        sheet: SheetId::new(sheet),
        kind: SheetKind::Record,
        state: SheetState::Waiting,
        values: vec![
            value("number", number, None),
            value("surname", surname, roster),
        ],
        ..Record::default()
    }
}

fn layout(columns: &[(&str, Deliver)], draft: bool) -> IndexLayout {
    let columns = columns.iter().map(|(field, deliver)| Column {
        field: (*field).to_owned(),
        deliver: *deliver,
    });
    IndexLayout {
        columns: columns.collect(),
        edtf: Vec::new(),
        draft,
    }
}

fn index(records: &[Record], layout: &IndexLayout) -> String {
    let pattern = NamePattern::parse("{number}.tif", &["number", "surname"]).unwrap();
    String::from_utf8(csv_of(&index_rows(
        records,
        &name_sheets(records, &pattern),
        layout,
    )))
    .unwrap()
}

#[test]
fn writes_the_fields_as_the_job_wants_them() {
    let mut records = [
        record("10.png", "2", "HALE, \"JO\"", Some("HALE")),
        record("9.png", "1", "=1+2", None),
        record("11.png", "3", "-1972\n@", Some("-1972\n@")),
        record("12.png", "4", "set aside", None),
    ];
    records[3].state = SheetState::SetAside;
    assert_eq!(
        index(&records, &layout(&[("surname", Deliver::Both)], false)),
        "file_name,surname_as_typed,surname_as_roster,surname_differs\r\n\
         1.tif,=1+2,,\r\n\
         2.tif,\"HALE, \"\"JO\"\"\",HALE,yes\r\n\
         3.tif,\"-1972\n@\",\"-1972\n@\",no\r\n"
    );
    assert_eq!(
        index(
            &records[..1],
            &layout(
                &[("number", Deliver::AsTyped), ("surname", Deliver::AsRoster)],
                true
            )
        ),
        "file_name,sheet,state,number,number_face,number_probability,surname,surname_face,surname_probability\r\n\
         2.tif,10.png,waiting,2,look,0.5000,HALE,look,0.5000\r\n"
    );
}

#[test]
fn titles_never_repeat_and_fields_keep_theirs() {
    let layout = layout(
        &[
            ("sheet", Deliver::AsTyped),
            ("file_name", Deliver::AsTyped),
            ("name", Deliver::Both),
            ("name_differs", Deliver::AsTyped),
            ("sheet", Deliver::AsTyped),
        ],
        true,
    );
    let titles: Vec<String> = layout
        .titled()
        .into_iter()
        .map(|column| column.title)
        .collect();
    assert_eq!(titles[..3], ["file_name_2", "sheet_2", "state"]);
    assert!(titles.contains(&"sheet".to_owned()) && titles.contains(&"name_differs_2".to_owned()));
    let distinct: HashSet<&String> = titles.iter().collect();
    assert_eq!(distinct.len(), titles.len(), "{titles:?}");

    let metadata: serde_json::Value =
        serde_json::from_slice(&csvw_metadata("index.csv", &layout)).unwrap();
    let described = metadata["tableSchema"]["columns"].as_array().unwrap();
    let described: Vec<&str> = described
        .iter()
        .map(|column| column["titles"].as_str().unwrap())
        .collect();
    assert_eq!(described, titles);
}

#[test]
fn exceptions_say_why() {
    let mut divider = record("2.png", "", "", None);
    divider.kind = SheetKind::Divider;
    let mut broken = record("1.png", "", "", None);
    broken.findings = vec![Finding::new(
        Severity::Fault,
        Station::Strip,
        "corrupt",
        "cut short, byte 17",
    )];
    assert_eq!(Exception::of(&record("3.png", "1", "A", None)), None);
    let exceptions: Vec<_> = [divider, broken].iter().filter_map(Exception::of).collect();
    assert_eq!(
        String::from_utf8(exceptions_csv(&exceptions)).unwrap(),
        "sheet,kind,state,reason\r\n\
         1.png,record,waiting,\"cut short, byte 17\"\r\n\
         2.png,divider,waiting,not a record: divider\r\n"
    );
}

/// Reads RFC 4180 to the letter, so that our own writer is not judged by the library it uses: CRLF after each record,
/// quotation marks only round whole fields, all records of equal length.
fn read_strictly(text: &str) -> Vec<Vec<String>> {
    let (mut rows, mut row, mut rest) = (Vec::new(), Vec::new(), text);
    while !rest.is_empty() {
        let field = if let Some(mut quoted) = rest.strip_prefix('"') {
            let mut field = String::new();
            loop {
                let (before, after) = quoted.split_once('"').expect("a closing quotation mark");
                field.push_str(before);
                match after.strip_prefix('"') {
                    Some(after) => {
                        field.push('"');
                        quoted = after;
                    }
                    None => {
                        rest = after;
                        break field;
                    }
                }
            }
        } else {
            let end = rest
                .find([',', '\r', '\n', '"'])
                .expect("a CRLF at the end");
            let (field, after) = rest.split_at(end);
            rest = after;
            field.to_owned()
        };
        row.push(field);
        rest = if let Some(after) = rest.strip_prefix(',') {
            after
        } else {
            rows.push(std::mem::take(&mut row));
            rest.strip_prefix("\r\n")
                .unwrap_or_else(|| panic!("expected a comma or CRLF: {rest:?}"))
        };
    }
    assert!(rows.iter().all(|row| row.len() == rows[0].len()));
    rows
}

/// The pairs of csv-spectrum 2.0.0 (see the README beside them): what the CSV library of the crate reads is what the
/// JSON says, and what we write of it is RFC 4180 and reads back the same.
#[test]
fn agrees_with_csv_spectrum() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/published/csv-spectrum");
    let mut pairs = 0;
    for entry in std::fs::read_dir(folder.join("csvs")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        let rows: Vec<Vec<String>> = csv::ReaderBuilder::new()
            .has_headers(false)
            .from_path(&path)
            .unwrap()
            .records()
            .map(|row| row.unwrap().iter().map(str::to_owned).collect())
            .collect();
        let json = std::fs::read_to_string(folder.join(format!("json/{name}.json"))).unwrap();
        let mut json: serde_json::Value = serde_json::from_str(&json).unwrap();
        if name == "location_coordinates" {
            // The pair that contradicts itself: the JSON's number stands nowhere in the CSV, whose word we take, and
            // the JSON is a lone object.
            assert_eq!(json["Contact Phone Number"], "1234567890");
            json["Contact Phone Number"] = "2095257564".into();
            json = vec![json].into();
        }
        let objects: Vec<serde_json::Value> = rows[1..]
            .iter()
            .map(|row| {
                let pairs = rows[0]
                    .iter()
                    .cloned()
                    .zip(row.iter().cloned().map(Into::into));
                serde_json::Value::Object(pairs.collect())
            })
            .collect();
        assert_eq!(serde_json::Value::from(objects), json, "{name}");

        let written = String::from_utf8(csv_of(&rows)).unwrap();
        assert_eq!(read_strictly(&written), rows, "{name}");
        pairs += 1;
    }
    assert_eq!(pairs, 12);
}

#[test]
fn hostile_values_come_back_as_they_were() {
    let values = [
        "=cmd|' /C calc'!A0",
        "+1",
        "-1972",
        "@",
        "\t",
        "\r",
        "\u{0}",
        "\u{feff}x",
        "\"",
        ",\"\r\n\"",
        " x ",
        "",
    ];
    for value in values {
        let text = index(
            &[record("1.png", "1", value, None)],
            &layout(&[("surname", Deliver::AsTyped)], false),
        );
        assert!(!text.starts_with('\u{feff}'));
        assert_eq!(read_strictly(&text)[1], ["1.tif", value], "{text:?}");
    }
    let empty = csv_of(&[vec![String::new()]]);
    assert_eq!(empty, b"\"\"\r\n", "one empty field is not a blank line");
}

#[test]
fn dates_get_a_column_in_edtf_on_request() {
    let records: Vec<Record> = ["1952-61", "C. 1950", "3/4/52", "N.D.", "MARCH HARE", ""]
        .into_iter()
        .zip(1..)
        .map(|(typed, sheet)| record(&format!("{sheet}.png"), typed, "HALE", None))
        .collect();
    let layout = IndexLayout {
        edtf: vec![("number".to_owned(), DateStyle::default())],
        ..layout(
            &[("number", Deliver::AsTyped), ("surname", Deliver::AsTyped)],
            false,
        )
    };
    let rows = index_rows(&records, &FileNames::default(), &layout);
    assert_eq!(rows[0], ["file_name", "number", "number_edtf", "surname"]);
    let edtf: Vec<&str> = rows[1..].iter().map(|row| row[2].as_str()).collect();
    assert_eq!(edtf, ["1952/1961", "1950~", "1952-04-03", "XXXX", "", ""]);
    let metadata = String::from_utf8(csvw_metadata("index.csv", &layout)).unwrap();
    assert!(metadata.contains("\"number_edtf\""), "{metadata}");
}
