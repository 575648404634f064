//! Who works on which sheets: several clerks, each in a process of his or her own, never on the same sheet.
//!
//! A clerk claims a run of sheets that follow each other in the drawer, so that *ditto* and the eye find what they
//! expect. [`choose`] decides from what the journal holds; the stores only carry it out.

use crate::value::{SheetId, SheetState};
use serde::{Deserialize, Serialize};
use std::cell::RefCell;
use std::collections::hash_map::Entry;
use std::collections::{HashMap, HashSet};
use std::sync::Arc;

/// A process in which somebody keys.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Holder {
    pub by: String,
    /// The machine since it was last started (the kernel's boot id, or the host name where there is none), and the space in
    /// which its processes are numbered.
    pub machine: String,
    pub process: u32,
    /// When the process began, in the kernel's ticks since the machine's start: numbers of processes come again.
    pub started: u64,
}

impl Holder {
    /// This process.
    pub fn here(by: &str) -> Self {
        let process = std::process::id();
        Self {
            by: by.to_owned(),
            machine: machine(),
            process,
            started: started(process).unwrap_or_default(),
        }
    }

    /// Whether the process has certainly ended. Of other machines nothing is known: their claims lapse by time.
    pub fn is_gone(&self) -> bool {
        self.machine == machine()
            && started(std::process::id()).is_some()
            && started(self.process) != Some(self.started)
    }
}

fn machine() -> String {
    let read = |path| std::fs::read_to_string(path).map(|text| text.trim().to_owned());
    let boot = read("/proc/sys/kernel/random/boot_id").or_else(|_| read("/etc/hostname"));
    // Containers on one machine count their processes apart.
    let space = std::fs::read_link("/proc/self/ns/pid").unwrap_or_default();
    format!("{} {}", boot.unwrap_or_default(), space.display())
}

/// Field 22 of `/proc/PID/stat` (proc(5)); the program's name before it may hold blanks and brackets. None too for a
/// process that is dead and only waits for its parent to notice.
fn started(process: u32) -> Option<u64> {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).ok()?;
    let (_, behind_name) = stat.rsplit_once(')')?;
    let mut fields = behind_name.split_whitespace();
    let is_dead = matches!(fields.next()?, "Z" | "X");
    fields.nth(18)?.parse().ok().filter(|_| !is_dead)
}

/// A claim as the journal keeps it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Claim {
    pub holder: Holder,
    /// Milliseconds since 1970-01-01 UTC at which it lapses unless it is renewed.
    pub until: i64,
}

/// What a desk asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClaimRequest {
    pub holder: Holder,
    pub pass: u8,
    /// Sheets at most.
    pub count: usize,
    /// Milliseconds since 1970-01-01 UTC.
    pub now: i64,
    /// How long the claim holds without being renewed, in milliseconds.
    pub lease: i64,
    /// The sheet that was last worked on: the run goes on behind it.
    pub behind: Option<SheetId>,
    /// This sheet alone, whatever its state, if nobody else has it.
    pub wanted: Option<SheetId>,
    /// Held sheets instead of waiting ones.
    pub held: bool,
    /// Of these sheets alone; all where there is none.
    pub among: Option<Arc<HashSet<SheetId>>>,
}

/// What decides about one sheet, beside its place in the drawer.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Standing {
    pub state: SheetState,
    /// It is keyed in an earlier pass.
    pub is_keyed_before: bool,
    /// Who keyed it in another pass, whether that still counts or not.
    pub keyed_elsewhere_by: Vec<String>,
    pub claim: Option<Claim>,
}

/// The sheets to give, as indices into `drawer`; `standing` holds those that are not simply waiting and free.
///
/// The longest run of free sheets behind `behind`, or else the one that begins farthest behind where others work, so
/// that two clerks seldom meet.
pub fn choose(
    drawer: &[SheetId],
    standing: &HashMap<&SheetId, Standing>,
    ask: &ClaimRequest,
    is_gone: impl Fn(&Holder) -> bool,
) -> Vec<usize> {
    let fresh = Standing::default();
    let of = |at: usize| standing.get(&drawer[at]).unwrap_or(&fresh);
    // Sheets in the same hands are many, and asking the system takes its time.
    let known = RefCell::new(HashMap::new());
    let is_gone = |holder: &Holder| match known.borrow_mut().entry(holder.clone()) {
        Entry::Occupied(known) => *known.get(),
        Entry::Vacant(new) => *new.insert(is_gone(holder)),
    };
    let is_taken = |at: usize| {
        let claim = of(at).claim.as_ref();
        claim.is_some_and(|claim| {
            claim.holder != ask.holder && claim.until > ask.now && !is_gone(&claim.holder)
        })
    };
    // Nobody keys a sheet in two passes, and a second pass has to have a first.
    let may = |at: usize| {
        let has_first = ask.pass <= 1 || of(at).is_keyed_before;
        has_first && !of(at).keyed_elsewhere_by.contains(&ask.holder.by)
    };
    let wanted_state = if ask.held {
        SheetState::Held
    } else {
        SheetState::Waiting
    };
    let is_among = |at: usize| {
        let among = ask.among.as_ref();
        among.is_none_or(|among| among.contains(&drawer[at]))
    };
    let is_free =
        |at: usize| of(at).state == wanted_state && is_among(at) && may(at) && !is_taken(at);
    let place = |sheet: &Option<SheetId>| {
        let sheet = sheet.as_ref()?;
        drawer.iter().position(|other| other == sheet)
    };
    if ask.wanted.is_some() {
        let found = place(&ask.wanted).filter(|&at| may(at) && !is_taken(at));
        return found.into_iter().collect();
    }
    if let Some(last) = place(&ask.behind) {
        // Up to where somebody else works; what was keyed meanwhile is passed over.
        let run: Vec<usize> = (last + 1..drawer.len())
            .take_while(|&at| !is_taken(at))
            .filter(|&at| is_free(at))
            .take(ask.count)
            .collect();
        if !run.is_empty() {
            return run;
        }
    }
    // Stretches between the sheets that others have; within the longest, its first sheet where nobody works before
    // it, its middle where somebody does and will come this way.
    let mut best: Vec<usize> = Vec::new();
    let mut stretch: Vec<usize> = Vec::new();
    let (mut behind_somebody, mut best_behind) = (false, false);
    for at in 0..=drawer.len() {
        if at < drawer.len() && !is_taken(at) {
            stretch.extend(is_free(at).then_some(at));
            continue;
        }
        if stretch.len() > best.len() {
            (best, best_behind) = (std::mem::take(&mut stretch), behind_somebody);
        }
        stretch.clear();
        behind_somebody = true;
    }
    let from = match best_behind {
        false => 0,
        true if best.len() <= 2 * ask.count => 0,
        true => best.len() / 2,
    };
    best[from..].iter().copied().take(ask.count).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn holder(by: &str) -> Holder {
        Holder {
            by: by.to_owned(),
            machine: "m".to_owned(),
            process: 1,
            started: 1,
        }
    }

    /// A drawer as a string, a sheet a letter: `.` waiting, `k` keyed by Kim, `h` held, `s` set aside, and claimed
    /// while waiting: `O` by Olga who works, `G` by somebody who is gone, `L` by Olga, lapsed; `M` by the asker.
    /// Asks for three; the answer has `x` where sheets are given.
    fn check(drawer: &str, ask: impl Fn(&mut ClaimRequest), given: &str) {
        let sheets: Vec<SheetId> = (0..drawer.len())
            .map(|n| SheetId::new(format!("{n}.png")))
            .collect();
        let claim = |by: &str, until| {
            Some(Claim {
                holder: holder(by),
                until,
            })
        };
        let kim = Some("kim".to_owned());
        let standing = drawer.chars().map(|c| match c {
            'k' => (SheetState::Keyed, None, None),
            'h' => (SheetState::Held, None, None),
            's' => (SheetState::SetAside, None, None),
            'O' => (SheetState::Waiting, None, claim("olga", 2_000)),
            'G' => (SheetState::Waiting, None, claim("gone", 2_000)),
            'L' => (SheetState::Waiting, None, claim("olga", 900)),
            'M' => (SheetState::Waiting, None, claim("mia", 2_000)),
            '1' => (SheetState::Waiting, kim.clone(), None),
            '2' => (SheetState::Waiting, Some("mia".to_owned()), None),
            _ => (SheetState::Waiting, None, None),
        });
        let standing: HashMap<&SheetId, Standing> = sheets
            .iter()
            .zip(standing)
            .map(|(sheet, (state, keyed_before_by, claim))| {
                let standing = Standing {
                    state,
                    is_keyed_before: keyed_before_by.is_some(),
                    keyed_elsewhere_by: keyed_before_by.into_iter().collect(),
                    claim,
                };
                (sheet, standing)
            })
            .collect();
        let mut request = ClaimRequest {
            holder: holder("mia"),
            pass: 1,
            count: 3,
            now: 1_000,
            lease: 500,
            behind: None,
            wanted: None,
            held: false,
            among: None,
        };
        ask(&mut request);
        let chosen = choose(&sheets, &standing, &request, |holder| holder.by == "gone");
        let shown: String = (0..drawer.len())
            .map(|at| if chosen.contains(&at) { 'x' } else { '-' })
            .collect();
        assert_eq!(shown, given, "{drawer}");
        assert!(chosen.is_sorted());
    }

    #[test]
    fn gives_runs_that_nobody_else_has() {
        let plain = |_: &mut ClaimRequest| ();
        let behind = |at: usize| {
            move |ask: &mut ClaimRequest| ask.behind = Some(SheetId::new(format!("{at}.png")))
        };
        check("......", plain, "xxx---");
        check("kk.k..s.", plain, "--x-xx--");
        check("OOO......", plain, "---xxx---");
        check("OOO..........", plain, "--------xxx--");
        check("GGG...", plain, "xxx---");
        check("LL....", plain, "xxx---");
        check("MM....", plain, "xxx---");
        check("OOOOO", plain, "-----");
        check("", plain, "");
        check("k.......", behind(0), "-xxx----");
        check("..k.k...", behind(2), "---x-xx-");
        check("k..OO......", behind(0), "-xx--------");
        check("....kOO..", behind(4), "xxx------");
        check("..hh..", |ask| ask.held = true, "--xx--");
        let among = |at: &[usize]| {
            let sheets = at.iter().map(|at| SheetId::new(format!("{at}.png")));
            Some(Arc::new(sheets.collect::<HashSet<_>>()))
        };
        check("k.....", |ask| ask.among = among(&[0, 2, 5]), "--x--x");
    }

    #[test]
    fn gives_a_wanted_sheet_and_none_to_its_own_first_keyer() {
        let want = |at: usize| {
            move |ask: &mut ClaimRequest| ask.wanted = Some(SheetId::new(format!("{at}.png")))
        };
        check("..k.", want(2), "--x-");
        check("..O.", want(2), "----");
        check("..G.", want(2), "--x-");
        check("....", want(9), "----");
        check(".1.2.1", |ask| ask.pass = 2, "-x---x");
    }

    #[test]
    fn this_process_lives_and_another_does_not() {
        let here = Holder::here("mia");
        assert!(!here.is_gone());
        let other = Holder {
            process: u32::MAX,
            ..here.clone()
        };
        assert!(other.is_gone());
        let before = Holder {
            started: here.started + 1,
            ..here.clone()
        };
        assert!(before.is_gone(), "the number of the process came again");
        let elsewhere = Holder {
            machine: "elsewhere".to_owned(),
            ..other
        };
        assert!(!elsewhere.is_gone());
    }
}
