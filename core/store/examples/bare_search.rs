//! The yardstick for a search: an index of three characters over the texts that are handed in, asked by one bare
//! statement. Lines on standard input: `[number, text]` for what is searched, `"words"` for a search; for each of those
//! `[rows, nanoseconds]` comes out. The one argument is the file it is made in.

use rusqlite::Connection;
use serde_json::Value;
use std::io::BufRead;
use std::time::Instant;

/// Rows of a page.
const PAGE: u32 = 30;

fn main() {
    let path = std::env::args().nth(1).expect("a file to make");
    let conn = Connection::open(path).expect("it can be made");
    conn.execute_batch("CREATE VIRTUAL TABLE t USING fts5(x, tokenize='trigram case_sensitive 1'); BEGIN")
        .expect("fts5");
    let mut open = true;
    for line in std::io::stdin().lock().lines() {
        match serde_json::from_str(&line.expect("text")).expect("JSON") {
            Value::Array(row) => {
                let mut insert = conn.prepare_cached("INSERT INTO t (rowid, x) VALUES (?1, ?2)").expect("a statement");
                insert.execute((row[0].as_i64(), row[1].as_str())).expect("a row");
            }
            Value::String(words) => {
                if std::mem::take(&mut open) {
                    conn.execute_batch("COMMIT").expect("written");
                }
                search(&conn, &words);
            }
            other => panic!("{other}"),
        }
    }
}

fn search(conn: &Connection, words: &str) {
    let quoted: Vec<String> = words.split_whitespace().map(|w| format!("\"{}\"", w.replace('"', "\"\""))).collect();
    let begun = Instant::now();
    let sql = "SELECT rowid, x FROM t WHERE t MATCH ?1 ORDER BY rowid DESC LIMIT ?2";
    let mut select = conn.prepare_cached(sql).expect("a statement");
    let rows = select.query_map((quoted.join(" "), PAGE), |row| row.get::<_, String>(1)).expect("a search");
    let found = rows.filter(Result::is_ok).count();
    println!("[{found},{}]", begun.elapsed().as_nanos());
}
