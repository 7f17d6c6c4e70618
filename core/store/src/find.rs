//! Finding jobs by words: by an index where there is one, and always compared with the text itself.

use crate::error::{During, StoreError};
use crate::{Store, row};
use evenwire_core::job::{Line, MOST_BEGINNINGS, NEAR, Sought};
use rusqlite::{Params, Row};

/// A search that goes on.
struct Search {
    sought: Sought,
    limit: usize,
    /// Jobs that are still to be left out.
    skip: u32,
    page: Vec<Line>,
    /// There is one more than was asked for.
    more: bool,
    /// The last one looked at.
    last: i64,
    /// Those that are looked at are the newest.
    near: bool,
}

impl Store {
    /// The lines of the job list in which every word of `search` occurs, newest first: `limit` of them after
    /// leaving out `skip`, and whether there are more after these. Case makes no difference; an empty search finds
    /// every job; `%`, `_`, quotes and the like stand for themselves.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] when a line is not as it was written. Lines can be built anew.
    pub fn jobs(&self, search: &str, skip: u32, limit: u32) -> Result<(Vec<Line>, bool), StoreError> {
        let Some(sought) = Sought::of(search) else { return Ok((Vec::new(), false)) };
        let (limit, last) = (limit as usize, i64::MAX);
        let mut asked = Search { sought, limit, skip, page: Vec::new(), more: false, last, near: true };
        let seen = self.walk(&mut asked, "", NEAR)?;
        asked.near = false;
        if seen == NEAR
            && !asked.more
            && let Some(indexed) = asked.sought.quoted(|word| self.beginnings(word))?
        {
            self.walk(&mut asked, &indexed, u32::MAX)?;
        }
        Ok((asked.page, asked.more))
    }

    /// What stands in the index and begins with a word that is too short for it.
    fn beginnings(&self, word: &str) -> Result<Vec<String>, StoreError> {
        let during = || "looking up a short word";
        let sql = "SELECT term FROM found_term WHERE term >= ?1 AND term < ?2 LIMIT ?3";
        // No character comes after this one.
        let end = format!("{word}{}", char::MAX);
        self.all(sql, (word, end, MOST_BEGINNINGS + 1), |row| row.get::<_, String>(0).during(during))
    }

    /// Goes on through what the index says (empty: through all), at most `most` rows, until the page is full and it is
    /// known whether there are more; gives how many were looked at.
    fn walk(&self, asked: &mut Search, indexed: &str, most: u32) -> Result<u32, StoreError> {
        let columns = row::LINE.split(", ").map(|name| format!("line.{name}")).collect::<Vec<_>>().join(", ");
        if indexed.is_empty() {
            let sql = format!("SELECT {columns}, opened_by FROM line WHERE opened_by < ?1 ORDER BY opened_by DESC");
            return self.walk_rows(asked, (&sql, [asked.last]), most);
        }
        let sql = format!(
            "SELECT {columns}, line.opened_by FROM found CROSS JOIN line ON line.opened_by = found.rowid
             WHERE found MATCH ?1 AND found.rowid < ?2 ORDER BY found.rowid DESC"
        );
        self.walk_rows(asked, (&sql, (indexed, asked.last)), most)
    }

    fn walk_rows(&self, asked: &mut Search, (sql, params): (&str, impl Params), most: u32) -> Result<u32, StoreError> {
        let during = || "searching the job list";
        let mut select = self.conn.prepare_cached(sql).during(during)?;
        let number = select.column_count() - 1;
        let mut rows = select.query(params).during(during)?;
        let mut seen = 0;
        while !asked.more && seen < most {
            let Some(next) = rows.next().during(during)? else { break };
            seen += 1;
            asked.last = next.get(number).during(during)?;
            asked.look_at(next)?;
        }
        Ok(seen)
    }

    /// The index, made anew from the lines. Takes time in proportion to the jobs there are.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn index_anew(&self) -> Result<(), StoreError> {
        self.conn.execute_batch("INSERT INTO found (found) VALUES ('rebuild')").during(|| "indexing the job list anew")
    }
}

impl Search {
    fn look_at(&mut self, row: &Row<'_>) -> Result<(), StoreError> {
        let text = row.get_ref(2).during(|| "searching the job list")?.as_str();
        let text = text.map_err(|_| StoreError::damaged("a line of the job list is no text"))?;
        if self.near {
            self.sought.count(text);
        }
        if !self.sought.occurs_in(text) {
            return Ok(());
        }
        if self.skip > 0 {
            self.skip -= 1;
        } else if self.page.len() < self.limit {
            self.page.push(row::line(row)?);
        } else {
            self.more = true;
        }
        Ok(())
    }
}
