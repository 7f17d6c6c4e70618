//! Finding jobs by words, newest first: by an index where there is one, and always compared with the text itself.

use super::{LINES, LineRow, line, rows};
use crate::storage::cell::{Cell, Value};
use crate::storage::connection::{Connection, Row};
use crate::storage::error::During;
use crate::storage::row::{all, one};
use crate::storage::{Storage, StorageError};
use evenwire_core::job::{LookUp, MOST_BEGINNINGS, NEAR, Sought};
use evenwire_core::verdict::SetVerdict;

/// What is looked for in the list.
#[derive(Clone, Debug, Default)]
pub struct Search {
    /// Words that all have to occur; case makes no difference; empty: everything.
    pub words: String,
    /// The verdict of every version of the job; none: whichever it is.
    pub verdict: Option<SetVerdict>,
    /// Lines below this number only, where the page before ended; none: from the newest on.
    pub before: Option<i64>,
    /// At most so many jobs.
    pub most: u32,
}

/// A piece of the list.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Page {
    /// Jobs, newest first: each with the lines of all versions that count, newest first.
    pub jobs: Vec<Vec<LineRow>>,
    /// Where the next piece begins, if there is one: below this number.
    pub below: Option<i64>,
}

impl Storage {
    /// The jobs in which every word of the search occurs, in one of their versions.
    ///
    /// # Errors
    /// [`StorageError`].
    pub async fn find_jobs(&self, search: Search) -> Result<Page, StorageError> {
        self.read(move |conn| find(conn, &search)).await
    }
}

/// A search that goes on.
struct Asked<'a> {
    sought: Sought,
    search: &'a Search,
    jobs: Vec<Vec<LineRow>>,
    /// The last line that was looked at.
    last: i64,
    /// The line of the last job that was found.
    ended: i64,
    /// There is one more job than was asked for.
    more: bool,
    /// The lines that are looked at are the newest.
    near: bool,
}

/// Jobs among the newest lines from which on a page is filled sooner by going on through the lines than by gathering what
/// an index has of them.
const SEVERAL: usize = 3;
/// How many lines are gone through then.
const FURTHER: u32 = 10 * NEAR;

/// Which lines are gone through.
enum Way<'a> {
    /// Each.
    Every,
    /// Each above that number.
    Above(i64),
    /// Those an index says, by an expression in its own language.
    Indexed(&'a str),
}

fn find(conn: &Connection, search: &Search) -> Result<Page, StorageError> {
    let Some(sought) = Sought::of(&search.words) else { return Ok(Page::default()) };
    let last = search.before.unwrap_or(i64::MAX);
    let mut asked = Asked { sought, search, jobs: Vec::new(), last, ended: last, more: false, near: true };
    let seen = asked.walk(conn, &Way::Every, NEAR)?;
    asked.near = false;
    if seen == NEAR && !asked.more {
        match conn {
            Connection::Sqlite(_) => {
                if let Some(indexed) = asked.sought.quoted(|word| beginnings(conn, word))? {
                    let way = if indexed.is_empty() { Way::Every } else { Way::Indexed(&indexed) };
                    asked.walk(conn, &way, u32::MAX)?;
                }
            }
            Connection::Postgres(_) => {
                if asked.jobs.len() >= SEVERAL && asked.go_further(conn)? {
                    return Ok(asked.page());
                }
                let indexed = as_pieces(&asked.sought);
                let way = if indexed.is_empty() { Way::Every } else { Way::Indexed(&indexed) };
                let mut most = NEAR;
                // A server sends all that a statement finds: first some, then more and more.
                while !asked.more && asked.walk(conn, &way, most)? == most {
                    most = most.saturating_mul(4);
                }
            }
        }
    }
    Ok(asked.page())
}

impl Asked<'_> {
    fn page(self) -> Page {
        Page { below: self.more.then_some(self.ended), jobs: self.jobs }
    }

    /// Goes on through some more lines; whether nothing is left to be looked for.
    fn go_further(&mut self, conn: &Connection) -> Result<bool, StorageError> {
        let sql = "SELECT number FROM line WHERE number < ?1 AND counts = 1 ORDER BY number DESC LIMIT 1 OFFSET ?2";
        let end = one(conn, (sql, (self.last, FURTHER)), |row| row.get::<i64>(0), "searching the list")?;
        let (way, most) = (Way::Above(end.unwrap_or(i64::MIN)), self.search.most.saturating_add(1).max(NEAR));
        while self.walk(conn, &way, most)? == most && !self.more {}
        if let Some(end) = end.filter(|_| !self.more) {
            // Whatever of them has the words was looked at.
            self.last = end + 1;
        }
        Ok(self.more || end.is_none())
    }

    /// Goes on through the lines, at most `most` of them, until it is known whether there are more jobs than were asked
    /// for; how many lines were looked at.
    fn walk(&mut self, conn: &Connection, way: &Way<'_>, most: u32) -> Result<u32, StorageError> {
        let mut values = vec![Cell::Int(self.last), Cell::Int(i64::from(most))];
        if let Way::Above(end) = way {
            values.push(Cell::Int(*end));
        }
        let (mut like, pieces) = (String::new(), self.like(conn));
        for (piece, number) in pieces.iter().zip(values.len() + 1..) {
            like.push_str(&format!(" AND search LIKE ?{number}"));
            values.push(piece.cell());
        }
        let sql = match (way, conn) {
            (Way::Every, _) => {
                format!("SELECT {LINES} FROM line WHERE number < ?1 AND counts = 1{like} ORDER BY number DESC LIMIT ?2")
            }
            (Way::Above(_), _) => format!(
                "SELECT {LINES} FROM line WHERE number < ?1 AND number > ?3 AND counts = 1{like}
                 ORDER BY number DESC LIMIT ?2"
            ),
            (Way::Indexed(_), Connection::Sqlite(_)) => format!(
                "SELECT {LINES} FROM found CROSS JOIN line ON line.number = found.rowid
                 WHERE found MATCH ?3 AND found.rowid < ?1 AND counts = 1 ORDER BY found.rowid DESC LIMIT ?2"
            ),
            // What the index says is gathered first: the order of the newest is the longer way to what is rare.
            (Way::Indexed(_), Connection::Postgres(_)) => format!(
                "WITH hit AS MATERIALIZED (SELECT number FROM line WHERE number < ?1 AND counts = 1{like}
                     AND array_to_tsvector(pieces(search)) @@ CAST(?{} AS tsquery))
                 SELECT {LINES} FROM line WHERE number IN (SELECT number FROM hit ORDER BY number DESC LIMIT ?2)
                 ORDER BY number DESC",
                values.len() + 1
            ),
        };
        if let Way::Indexed(indexed) = way {
            values.push(indexed.cell());
        }
        let mut seen = 0;
        let mut each = |row: &Row<'_>| {
            seen += 1;
            self.look_at(conn, row)?;
            Ok(!self.more)
        };
        conn.each((&sql, &values), "searching the list", &mut each)?;
        Ok(seen)
    }

    /// A server compares before it sends.
    fn like(&self, conn: &Connection) -> Vec<String> {
        match conn {
            Connection::Sqlite(_) => Vec::new(),
            // The newest are looked at whole, to tell what is rare.
            Connection::Postgres(_) if self.near => Vec::new(),
            Connection::Postgres(_) => self.sought.words().iter().map(|word| anywhere(word)).collect(),
        }
    }

    fn look_at(&mut self, conn: &Connection, row: &Row<'_>) -> Result<(), StorageError> {
        let during = "searching the list";
        self.last = row.get(0).during(during)?;
        let text = row.text(3).during(during)?;
        if self.near {
            self.sought.count(text);
        }
        if !self.sought.occurs_in(text) {
            return Ok(());
        }
        let found = line(row)?;
        let versions = if found.versions > 1 { self.versions(conn, &found)? } else { vec![found] };
        let wanted = |row: &LineRow| self.search.verdict.is_none_or(|wanted| row.line.verdict == Some(wanted));
        if versions.is_empty() || !versions.iter().all(wanted) {
            return Ok(());
        }
        if self.jobs.len() < self.search.most as usize {
            self.jobs.push(versions);
            self.ended = self.last;
        } else {
            self.more = true;
        }
        Ok(())
    }

    /// All versions of the job that count, unless a newer one was found already, here or on an earlier page.
    fn versions(&self, conn: &Connection, found: &LineRow) -> Result<Vec<LineRow>, StorageError> {
        let sql = format!("SELECT {LINES} FROM line WHERE job = ?1 AND counts = 1 ORDER BY number DESC");
        let versions = rows(conn, (&sql, (found.line.job.into_bytes(),)))?;
        let first = versions.iter().find(|version| self.sought.occurs_in(&version.line.search));
        Ok(if first.is_some_and(|first| first.number == found.number) { versions } else { Vec::new() })
    }
}

/// What stands in the index and begins with a word that is too short for it.
fn beginnings(conn: &Connection, word: &str) -> Result<Vec<String>, StorageError> {
    let sql = "SELECT term FROM found_term WHERE term >= ?1 AND term < ?2 LIMIT ?3";
    // No character comes after this one.
    let end = format!("{word}{}", char::MAX);
    all(conn, (sql, (word, end, MOST_BEGINNINGS + 1)), |row| row.get(0), "looking up a short word")
}

/// What is looked up, as PostgreSQL asks for three characters each, or for what begins with fewer.
fn as_pieces(sought: &Sought) -> String {
    let quoted = |piece: &str| format!("'{}'", piece.replace('\\', "\\\\").replace('\'', "''"));
    let mut terms = Vec::new();
    for piece in sought.look_up() {
        match piece {
            LookUp::Beginning(word) => terms.push(format!("{}:*", quoted(word))),
            LookUp::Run(run) => {
                let characters: Vec<char> = run.chars().collect();
                terms.extend(characters.windows(3).map(|piece| quoted(&piece.iter().collect::<String>())));
            }
        }
    }
    terms.join(" & ")
}

/// A word to be looked for anywhere, whatever stands in it.
fn anywhere(word: &str) -> String {
    let mut piece = "%".to_owned();
    for character in word.chars() {
        if matches!(character, '%' | '_' | '\\') {
            piece.push('\\');
        }
        piece.push(character);
    }
    piece + "%"
}
