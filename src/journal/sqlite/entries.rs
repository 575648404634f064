//! What people did, and the claims of those at work.

use super::{Broken, SqliteStore, Stored, decode, encode};
use crate::journal::claim::choose;
use crate::journal::state::accept;
use crate::journal::{
    Claim, ClaimRequest, Entry, Holder, JournalError, PASSES, PassState, Result, SETTLEMENT_PASS,
    Standing, Tally, replay,
};
use crate::value::{SheetId, SheetState, drawer_order};
use rusqlite::{Connection, OptionalExtension, Row, params};
use std::collections::HashMap;

impl Stored for Entry {
    const WHAT: &'static str = "entry";
    const PUT: &'static str = "INSERT INTO entries (sheet, pass, payload) SELECT first_seen, ?2, ?3 FROM sheets WHERE sheet = ?1";
    const GET: &'static str =
        "SELECT e.number, e.payload FROM entries e JOIN sheets s ON e.sheet = s.first_seen
        WHERE s.sheet = ?1 ORDER BY e.number";

    fn sheet(&self) -> &SheetId {
        &self.sheet
    }

    fn key(&self) -> Option<&str> {
        None
    }
}

/// The drawer as it was last looked up, with what shows that it is still the same.
#[derive(Debug, Default)]
pub struct Drawer {
    /// Sheets present, in drawer order.
    sheets: Vec<SheetId>,
    /// Highest number and count of sheets present, and the sum of their numbers.
    mark: Option<(i64, i64, i64)>,
}

impl SqliteStore {
    pub(super) fn append_entry(&mut self, entry: &Entry, after: Option<i64>) -> Result<i64> {
        let payload = encode(entry)?;
        let mut number = 0;
        self.write(|transaction| {
            let sheet = entry.sheet.as_str();
            let earlier = history(transaction, &entry.sheet)?;
            accept(entry, &earlier, after).map_err(Broken::Journal)?;
            let rows = transaction
                .prepare_cached(Entry::PUT)?
                .execute(params![sheet, entry.pass, payload])?;
            if rows == 0 {
                return Err(Broken::Journal(JournalError::UnknownSheet {
                    sheet: entry.sheet.clone(),
                    what: Entry::WHAT,
                }));
            }
            number = transaction.last_insert_rowid();
            let new = Entry {
                number,
                ..entry.clone()
            };
            let pass = earlier.iter().filter(|e| e.pass == entry.pass);
            let state = replay(pass.chain([&new]));
            let text = serde_json::to_string(&state).expect("a state is plain data");
            transaction
                .prepare_cached(
                    "INSERT INTO states (sheet, pass, state, payload)
                     SELECT first_seen, ?2, ?3, ?4 FROM sheets WHERE sheet = ?1
                     ON CONFLICT (sheet, pass) DO UPDATE SET state = excluded.state, payload = excluded.payload",
                )?
                .execute(params![sheet, entry.pass, state.state.to_string(), text])?;
            Ok(())
        })?;
        Ok(number)
    }

    pub(super) fn history_of(&self, sheet: &SheetId) -> Result<Vec<Entry>> {
        history(&self.connection, sheet).map_err(|broken| self.broken(broken))
    }

    pub(super) fn entries_behind(&self, after: i64, most: usize) -> Result<Vec<Entry>> {
        let read = || -> Result<Vec<Entry>, Broken> {
            self.connection
                .prepare_cached(
                    "SELECT e.number, e.payload, s.sheet FROM entries e JOIN sheets s ON e.sheet = s.first_seen
                     WHERE e.number > ?1 ORDER BY e.number LIMIT ?2",
                )?
                .query_map(params![after, most as i64], |row| {
                    Ok((row.get(0)?, row.get::<_, String>(1)?, row.get::<_, String>(2)?))
                })?
                .map(|row| {
                    let (number, payload, sheet) = row?;
                    numbered(number, &payload, &SheetId::new(sheet))
                })
                .collect()
        };
        read().map_err(|broken| self.broken(broken))
    }

    pub(super) fn state_of(&self, sheet: &SheetId, pass: u8) -> Result<PassState> {
        let payload: Option<String> = self
            .connection
            .prepare_cached(
                "SELECT p.payload FROM states p JOIN sheets s ON p.sheet = s.first_seen WHERE s.sheet = ?1 AND p.pass = ?2",
            )
            .and_then(|mut ask| {
                ask.query_row(params![sheet.as_str(), pass], |row| row.get(0))
                    .optional()
            })
            .map_err(|e| self.fault(e))?;
        payload.map_or(Ok(PassState::default()), |payload| {
            state(&payload, sheet).map_err(|broken| self.broken(broken))
        })
    }

    pub(super) fn states_of(&self, pass: u8) -> Result<Vec<(SheetId, PassState)>> {
        let read = || -> Result<_, Broken> {
            let mut drawer = Drawer::default();
            drawer.look_up(&self.connection)?;
            let mut touched = states(&self.connection, pass)?;
            let sheets = drawer.sheets.into_iter();
            Ok(sheets
                .map(|sheet| {
                    let state = touched.remove(&sheet).unwrap_or_default();
                    (sheet, state)
                })
                .collect())
        };
        read().map_err(|broken| self.broken(broken))
    }

    pub(super) fn tally_of(&self, pass: u8) -> Result<Tally> {
        let count = || -> rusqlite::Result<Tally> {
            let ask = "SELECT count(*) FROM sheets WHERE NOT vanished";
            let mut ask = self.connection.prepare_cached(ask)?;
            let mut tally = Tally {
                sheets: ask.query_row([], |row| row.get::<_, i64>(0))? as usize,
                ..Tally::default()
            };
            let mut ask = self.connection.prepare_cached(
                "SELECT p.state, count(*) FROM states p JOIN sheets s ON p.sheet = s.first_seen
                 WHERE p.pass = ?1 AND NOT s.vanished GROUP BY p.state",
            )?;
            let mut rows = ask.query([pass])?;
            while let Some(row) = rows.next()? {
                let (state, count): (String, i64) = (row.get(0)?, row.get(1)?);
                for known in [SheetState::Keyed, SheetState::Held, SheetState::SetAside] {
                    if state == known.to_string() {
                        tally.add(known, count as usize);
                    }
                }
            }
            Ok(tally)
        };
        count().map_err(|e| self.fault(e))
    }

    pub(super) fn claim_sheets(&mut self, ask: &ClaimRequest) -> Result<Vec<SheetId>> {
        let mut drawer = std::mem::take(&mut self.drawer);
        let mut given = Vec::new();
        let done = self.write(|transaction| {
            drawer.look_up(transaction)?;
            let states = states(transaction, ask.pass)?;
            let others = (SETTLEMENT_PASS..=PASSES).filter(|pass| *pass != ask.pass);
            let others: Vec<(u8, HashMap<SheetId, PassState>)> = others
                .map(|pass| Ok((pass, self::states(transaction, pass)?)))
                .collect::<Result<_, Broken>>()?;
            let mut claims = claims(transaction, ask.pass)?;
            let mut standing: HashMap<&SheetId, Standing> = HashMap::new();
            for (sheet, state) in &states {
                standing.entry(sheet).or_default().state = state.state;
            }
            for (pass, states) in &others {
                for (sheet, state) in states {
                    let standing = standing.entry(sheet).or_default();
                    standing.is_keyed_before |= (1..ask.pass).contains(pass) && state.is_keyed();
                    standing.keyed_elsewhere_by.extend(state.keyers.iter().cloned());
                }
            }
            let claimed: Vec<SheetId> = claims.keys().cloned().collect();
            for sheet in &claimed {
                standing.entry(sheet).or_default().claim = claims.remove(sheet);
            }
            let chosen = choose(&drawer.sheets, &standing, ask, Holder::is_gone);
            let holder = serde_json::to_string(&ask.holder).expect("a holder is plain data");
            let mut put = transaction.prepare_cached(
                "INSERT INTO claims (sheet, pass, holder, until) SELECT first_seen, ?2, ?3, ?4 FROM sheets WHERE sheet = ?1
                 ON CONFLICT (sheet, pass) DO UPDATE SET holder = excluded.holder, until = excluded.until",
            )?;
            for at in chosen {
                let sheet = &drawer.sheets[at];
                put.execute(params![sheet.as_str(), ask.pass, holder, ask.now + ask.lease])?;
                given.push(sheet.clone());
            }
            Ok(())
        });
        self.drawer = drawer;
        done.map(|()| given)
    }

    pub(super) fn renew_claims(&mut self, holder: &Holder, until: i64) -> Result<()> {
        self.on_claims(
            "UPDATE claims SET until = ?2 WHERE holder = ?1",
            holder,
            Some(until),
        )
    }

    pub(super) fn release_claims(&mut self, holder: &Holder) -> Result<()> {
        self.on_claims("DELETE FROM claims WHERE holder = ?1", holder, None)
    }

    fn on_claims(&mut self, sql: &str, holder: &Holder, until: Option<i64>) -> Result<()> {
        let holder = serde_json::to_string(holder).expect("a holder is plain data");
        self.write(|transaction| {
            let mut statement = transaction.prepare_cached(sql)?;
            match until {
                Some(until) => statement.execute(params![holder, until])?,
                None => statement.execute(params![holder])?,
            };
            Ok(())
        })
    }
}

impl Drawer {
    /// Looks the drawer up again if a sheet came or went.
    fn look_up(&mut self, connection: &Connection) -> Result<(), Broken> {
        let mark: (i64, i64, i64) = connection
            .prepare_cached(
                "SELECT coalesce(max(first_seen), 0), count(*), coalesce(sum(first_seen), 0) FROM sheets WHERE NOT vanished",
            )?
            .query_row([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
        if self.mark == Some(mark) {
            return Ok(());
        }
        self.sheets = connection
            .prepare_cached("SELECT sheet FROM sheets WHERE NOT vanished")?
            .query_map([], |row| row.get::<_, String>(0).map(SheetId::new))?
            .collect::<rusqlite::Result<_>>()?;
        self.sheets
            .sort_by(|a, b| drawer_order(a.as_str(), b.as_str()));
        self.mark = Some(mark);
        Ok(())
    }
}

fn history(connection: &Connection, sheet: &SheetId) -> Result<Vec<Entry>, Broken> {
    connection
        .prepare_cached(Entry::GET)?
        .query_map([sheet.as_str()], |row| {
            Ok((row.get(0)?, row.get::<_, String>(1)?))
        })?
        .map(|row| {
            let (number, payload) = row?;
            numbered(number, &payload, sheet)
        })
        .collect()
}

fn numbered(number: i64, payload: &str, sheet: &SheetId) -> Result<Entry, Broken> {
    let entry: Entry = decode(payload, sheet).map_err(Broken::Journal)?;
    Ok(Entry { number, ..entry })
}

/// The sheets of a pass that somebody touched.
fn states(connection: &Connection, pass: u8) -> Result<HashMap<SheetId, PassState>, Broken> {
    by_sheet(
        connection,
        "SELECT s.sheet, p.payload FROM states p JOIN sheets s ON p.sheet = s.first_seen WHERE p.pass = ?1",
        pass,
        |row| row.get::<_, String>(1),
        |sheet, payload| state(&payload, sheet),
    )
}

fn claims(connection: &Connection, pass: u8) -> Result<HashMap<SheetId, Claim>, Broken> {
    by_sheet(
        connection,
        "SELECT s.sheet, c.holder, c.until FROM claims c JOIN sheets s ON c.sheet = s.first_seen WHERE c.pass = ?1",
        pass,
        |row| Ok((row.get::<_, String>(1)?, row.get(2)?)),
        |sheet, (holder, until)| {
            let holder = serde_json::from_str(&holder)
                .map_err(|fault| unreadable(sheet, "claim", &fault))?;
            Ok(Claim { holder, until })
        },
    )
}

/// The rows of a pass by their sheet, which is in the first column.
fn by_sheet<R, T>(
    connection: &Connection,
    sql: &str,
    pass: u8,
    rest: impl Fn(&Row) -> rusqlite::Result<R>,
    value: impl Fn(&SheetId, R) -> Result<T, Broken>,
) -> Result<HashMap<SheetId, T>, Broken> {
    connection
        .prepare_cached(sql)?
        .query_map([pass], |row| Ok((row.get::<_, String>(0)?, rest(row)?)))?
        .map(|row| {
            let (sheet, rest) = row?;
            let sheet = SheetId::new(sheet);
            let value = value(&sheet, rest)?;
            Ok((sheet, value))
        })
        .collect()
}

fn state(payload: &str, sheet: &SheetId) -> Result<PassState, Broken> {
    serde_json::from_str(payload).map_err(|fault| unreadable(sheet, "state", &fault))
}

fn unreadable(sheet: &SheetId, what: &'static str, fault: &serde_json::Error) -> Broken {
    Broken::Journal(JournalError::NotReadable {
        sheet: sheet.clone(),
        what,
        detail: fault.to_string(),
    })
}
