//! What becomes of the values: typed, mended, suggested, repeated, contradicted.

use super::*;

#[test]
fn typing_is_checked_and_overruled_only_with_a_reason() {
    check(["=DALE", "?509", "=1"], "{End}8", "DALE= >5098! 1=", "");
    check(
        ["=DALE", "?509", "=1"],
        "{End}8\n",
        "DALE= >5098! 1=",
        "does not end in 9; mend it, or keep it with Alt+O",
    );
    check(
        ["=DALE", "?509", "=1"],
        "{End}8{Backspace}\n",
        "DALE= >509+ 1=",
        "",
    );
    check(
        ["=DALE", "?509", "=1"],
        "{End}8{Alt+O}{Esc}\n",
        "DALE= >5098! 1=",
        "does not end in 9",
    );
    let effects = check(
        ["=DALE", "?509", "=1"],
        "{End}8{Alt+O}as typed\n\n",
        "DALE= >5098+ 1=",
        "",
    );
    let field = &keyed(&effects).records[0].fields[1];
    assert_eq!(field.overruled.as_deref(), Some("as typed"));
    check(
        ["=DALE", "?509", "=1"],
        "{Alt+O}",
        "DALE= >509? 1=",
        "Nothing speaks against",
    );
    let mut strict = open(["=DALE", "?508", "=1"]);
    strict.plan.may_overrule = false;
    press(&mut strict, "{Alt+O}");
    assert!(strict.message().unwrap().contains("lets no value stand"));
    // One of the reasons offered.
    let effects = check(
        ["=DALE", "?509", "=1"],
        "{End}8{Alt+O}{Alt+1}\n",
        "DALE= >5098+ 1=",
        "",
    );
    let field = &keyed(&effects).records[0].fields[1];
    assert_eq!(field.overruled.as_deref(), Some("typed so"));
    // A character that cannot be read cannot be checked.
    let unreadable = format!("DALE= >50{UNREADABLE}+ 1=");
    check(["=DALE", "?50", "=1"], "{Alt+.}\n", &unreadable, "");
}

#[test]
fn a_proposal_gives_way_to_what_is_typed_and_can_be_mended() {
    let number = ["=DALE", "?509", "=1"];
    check(number, "519", "DALE= >519? 1=", "");
    check(number, "{Left}{Backspace}1", "DALE= >519? 1=", "");
    check(number, "{Home}5", "DALE= >5509? 1=", "");
    check(number, "519{Alt+U}", "DALE= >509? 1=", "");
    // What was typed is not written over, nor what is typed after a look at another field.
    check(number, "51\t{Up}9", "DALE= >519? 1=", "");
    // To the doubtful character.
    let mut doubtful = sheet(number);
    let places = &mut doubtful.proposal.as_mut().unwrap().places;
    places[1].characters[1].2 = 0.5;
    let mut desk = Clerk::new(plan(), doubtful, &Told);
    desk.drawn(0);
    press(&mut desk, "{Alt+G}{Delete}1");
    assert_eq!(shown(&desk), "DALE= >519? 1=");
    check(number, "{Alt+G}", "DALE= >509? 1=", "No character");
}

#[test]
fn values_that_contradict_each_other_are_told_at_the_later_field() {
    check(["=DALE", "=509", "=6"], "", "DALE= 509= >6!", "");
    check(
        ["=DALE", "=509", "=6"],
        "\n",
        "DALE= 509= >6!",
        "part: breaks the check part <= 5; mend it",
    );
    check(["=DALE", "=509", "=6"], "4", "DALE= 509= >4?", "");
    // Mending the other field takes it away too.
    check(
        ["=DALE", "=509", "=6"],
        "{Up}{Up}QUAY",
        ">QUAY? 509= 6=",
        "",
    );
    let effects = check(
        ["=DALE", "=509", "=6"],
        "{Alt+O}{Alt+1}\n",
        "DALE= 509= >6+",
        "",
    );
    let field = &keyed(&effects).records[0].fields[2];
    assert_eq!(field.overruled.as_deref(), Some("typed so"));
    // What nothing speaks against any more was not overruled.
    let effects = check(
        ["=DALE", "=509", "=6"],
        "{Alt+O}{Alt+1}{Up}{Up}QUAY\n\n",
        ">QUAY+ 509= 6+",
        "",
    );
    assert_eq!(keyed(&effects).records[0].fields[2].overruled, None);
}

#[test]
fn suggestions_ditto_and_the_roster_fill_in() {
    check(["=DALE", "?5", "=1"], "{Alt+1}", "DALE= >5X9+ 1=", "");
    check(
        ["=DALE", "?5", "=1"],
        "{Alt+7}",
        "DALE= >5! 1=",
        "no suggestion 7",
    );
    check(
        ["=DALE", "?509", "=1"],
        "{Ctrl+D}",
        "DALE= >39+ 1=",
        "number as on 6.png",
    );
    check(
        ["=DALE", "=509", "?1"],
        "{Ctrl+D}",
        "DALE= 509= >1?",
        "6.png has no part",
    );
    // All that is still to be looked at; the sheet before has no part.
    check(
        ["?DALE", "?5", "?1"],
        "{Alt+D}",
        "QUAY+ 39+ >1?",
        "surname, number as on 6.png",
    );
    // In another record the one before it is meant.
    let mut desk = open(["=DALE", "=509", "=1"]);
    press(&mut desk, "{Alt+N}{Ctrl+D}");
    assert_eq!(shown(&desk), "DALE+ >_ _");
    assert!(desk.message().unwrap().contains("surname as on record 1"));
    // Empty fields take what the row says, others stay and differ.
    let mut desk = open(["", "?519", "=1"]);
    press(&mut desk, "DALT{Ctrl+F}\n");
    assert_eq!(
        shown(&desk),
        "DALT? >519? 1="
            .replace(">519?", "519?")
            .replace("DALT?", ">DALT?")
    );
    assert!(
        desk.message()
            .unwrap()
            .contains("the roster says: surname DALTON")
    );
    let mut desk = open(["", "?519", "=1"]);
    press(&mut desk, "DAL{Ctrl+F}{Alt+2}\n\n\n");
    assert_eq!(desk.row().unwrap().key, "519");
    assert!(desk.fields()[0].differs());
    // The proposal's own row is offered, with what it says otherwise.
    let mut linked = sheet(["?DALLE", "=509", "=1"]);
    let proposal = &mut linked.proposal.as_mut().unwrap().proposal;
    proposal.fields[0].as_roster = Some("DALE".to_owned());
    proposal.link = Some(Link {
        row: 0,
        key: "509".to_owned(),
        probability: Probability::new(0.9),
    });
    let mut desk = Clerk::new(plan(), linked, &Told);
    desk.drawn(0);
    let offered = desk.suggestions();
    assert!(
        offered.contains(&Suggestion::AsRoster("DALE".to_owned())),
        "{offered:?}"
    );
    let effects = press(&mut desk, "{Alt+2}\n");
    let record = &keyed(&effects).records[0];
    assert_eq!(record.roster_key.as_deref(), Some("509"));
    assert_eq!(record.fields[0].source, KeyedSource::Roster);
    // Another row that the values may mean is offered with its number.
    let mut desk = open(["?DALE", "?519", "=1"]);
    let offered = desk.suggestions();
    assert!(offered.is_empty() || !offered.iter().any(|s| matches!(s, Suggestion::Row(..))));
    desk.settle(&Told);
    let offered = desk.suggestions();
    let at = offered
        .iter()
        .position(|s| matches!(s, Suggestion::Row(row, _) if row.key == "519"));
    press(&mut desk, &format!("{{Alt+{}}}", at.unwrap() + 1));
    assert_eq!(desk.row().unwrap().key, "519");
    assert!(desk.message().unwrap().contains("Linked to 519"));
}

#[test]
fn a_value_that_does_not_stand_on_the_strip_is_told_apart() {
    let effects = check(["=DALE", "~509", "=1"], "\n\n", "DALE= >509+ 1=", "");
    let fields = &keyed(&effects).records[0].fields;
    let sources = [fields[0].source, fields[1].source];
    assert_eq!(sources, [KeyedSource::Proposal, KeyedSource::Carried]);
}
