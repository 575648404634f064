use super::*;

/// Sheets and scans as words; the pairs as "1 0 2", or something that each fault says.
fn check(
    sheets: &str,
    scans: &str,
    how: &Pairing,
    list: &[(&str, &str)],
    expected: Result<&str, &[&str]>,
) {
    let ids: Vec<SheetId> = sheets.split(' ').map(SheetId::new).collect();
    let names: Vec<String> = scans.split(' ').map(str::to_owned).collect();
    let list: Vec<ListedPair> = (2..)
        .zip(list)
        .map(|(line, (sheet, scan))| ListedPair {
            line,
            sheet: (*sheet).to_owned(),
            scan: (*scan).to_owned(),
        })
        .collect();
    match (pair(&ids, &names, how, &list, false), expected) {
        (Ok(paired), Ok(expected)) => {
            let paired: Vec<String> = paired.iter().map(usize::to_string).collect();
            assert_eq!(paired.join(" "), expected, "{sheets} / {scans}");
        }
        (Err(faults), Err(says)) => {
            let told: Vec<String> = faults.iter().map(ToString::to_string).collect();
            assert_eq!(told.len(), says.len(), "{told:#?}");
            for (told, says) in told.iter().zip(says) {
                assert!(told.contains(says), "{told}");
            }
        }
        (found, _) => panic!("{sheets} / {scans}: {found:?}"),
    }
}

#[test]
fn in_order_as_long_as_the_numbers_keep_their_distance() {
    let order = Pairing::Order;
    check(
        "1.png 2.png 4.png",
        "s11.pdf s12.pdf s14.pdf",
        &order,
        &[],
        Ok("0 1 2"),
    );
    check("a.png b.png", "x.pdf y.pdf", &order, &[], Ok("0 1"));
    check(
        "1.png 2.png 3.png",
        "2.pdf 3.pdf 4.pdf",
        &order,
        &[],
        Err(&[
            "all scans are 1 off those of their sheets, beginning with sheet 1.png and scan 2.pdf",
        ]),
    );
    check(
        "1.png 2.png",
        "1.pdf",
        &order,
        &[],
        Err(&["in step up to number 1"]),
    );
    check(
        "a.png b.png",
        "x.pdf",
        &order,
        &[],
        Err(&["no numbers that would tell"]),
    );
    // Sheet 3 was fed together with sheet 2; the last was scanned twice to make up for it.
    check(
        "1.png 2.png 3.png 4.png",
        "1.pdf 2.pdf 4.pdf 5.pdf",
        &order,
        &[],
        Err(&["drift apart at sheet 3.png and scan 4.pdf, number 3 of"]),
    );
    check(
        "1.png 2.png 3.png 4.png",
        "1.pdf 2.pdf 4.pdf",
        &order,
        &[],
        Err(&["found 3 scans; their numbers drift apart at sheet 3.png"]),
    );
}

#[test]
fn by_name_one_to_one_and_in_order() {
    let by = |pattern: &str| Pairing::Name(pattern.to_owned());
    check(
        "a1.png a2.png",
        "a1.pdf a2.pdf",
        &by("{sheet}.pdf"),
        &[],
        Ok("0 1"),
    );
    check("a1.png a2.png", "a1 a2.tif", &by("{sheet}"), &[], Ok("0 1"));
    check(
        "b/1.png c/1.png",
        "b/s1.tif c/s01.tif",
        &by("s{digits}.tif"),
        &[],
        Ok("0 1"),
    );
    check(
        "1.png 2.png 3.png",
        "1.pdf 2.pdf 2.tif 9.pdf",
        &by("{sheet}"),
        &[],
        Err(&[
            "sheet 2.png: expected one scan, found 2.pdf, 2.tif",
            "sheet 3.png",
            "scan 9.pdf",
        ]),
    );
    check(
        "1.png 01.png",
        "1.pdf x.pdf",
        &by("{digits}.pdf"),
        &[],
        Err(&[
            "scan 1.pdf: expected to be one sheet's, found that of 1.png, 01.png",
            "scan x.pdf",
        ]),
    );
    check(
        "x2-1.png x1-2.png",
        "1.pdf 2.pdf",
        &by("{digits}.pdf"),
        &[],
        Ok("0 1"),
    );
    let ids = [SheetId::new("a2"), SheetId::new("b1")];
    let scans = ["1.pdf".to_owned(), "2.pdf".to_owned()];
    let faults = pair(&ids, &scans, &by("{digits}.pdf"), &[], false).unwrap_err();
    assert!(
        faults[0].to_string().contains("found it before it"),
        "{faults:?}"
    );
    assert_eq!(
        pair(&ids, &scans, &by("{digits}.pdf"), &[], true),
        Ok(vec![1, 0])
    );
}

#[test]
fn by_a_list_that_names_all_of_them() {
    let list = Pairing::List("l.csv".into());
    let pairs = [("1.png", "a.pdf"), ("2.png", "b.pdf")];
    check("1.png 2.png", "a.pdf b.pdf", &list, &pairs, Ok("0 1"));
    check(
        "1.png 3.png",
        "a.pdf c.pdf",
        &list,
        &pairs,
        Err(&["line 3: expected a sheet of the job, found 2.png"]),
    );
    check(
        "1.png 2.png 3.png",
        "a.pdf b.pdf c.pdf",
        &list,
        &pairs,
        Err(&[
            "sheet 3.png: expected one scan, found none in the list",
            "scan c.pdf",
        ]),
    );
    let twice = [("1.png", "a.pdf"), ("2.png", "a.pdf")];
    check(
        "1.png 2.png",
        "a.pdf",
        &list,
        &twice,
        Err(&["found that of 1.png, 2.png"]),
    );
}

#[test]
fn times_have_to_run_in_the_same_order_and_tell_where_they_part() {
    let sheets: Vec<SheetId> = (1..=4).map(|n| SheetId::new(format!("{n}.png"))).collect();
    let scans = ["a.pdf", "b.pdf", "c.pdf", "d.pdf"];
    for (times, parts_at) in [
        ([(1, 11), (2, 12), (3, 13), (4, 14)], None),
        // A drawer filmed from behind is in step with scans made from behind.
        ([(4, 14), (3, 13), (2, 12), (1, 11)], None),
        // The third was scanned again later.
        ([(1, 11), (2, 12), (3, 15), (4, 14)], Some(4)),
        ([(1, 12), (2, 11), (3, 13), (4, 14)], Some(2)),
        // Equal and unknown times say nothing.
        ([(1, 11), (1, 10), (0, 99), (4, 14)], None),
        ([(1, 11), (0, 12), (3, 10), (4, 14)], Some(3)),
    ] {
        let found = in_step(&sheets, |at| scans[at], &times);
        let told = found.err().map(|fault| fault.to_string());
        assert_eq!(told.is_some(), parts_at.is_some(), "{times:?}: {told:?}");
        if let (Some(told), Some(place)) = (told, parts_at) {
            let says = format!(
                "sheet {} and scan {}, number {place}",
                sheets[place - 1],
                scans[place - 1]
            );
            assert!(told.contains(&says), "{told}");
        }
    }
}
