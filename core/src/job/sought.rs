//! Looking for jobs by words, the same at the bench and at the office: which words are looked up in an index, and which
//! are only compared with the text itself, as all of them are in the end.
//!
//! The newest lines are looked at first, without the index: often they are all that is asked for, and they tell what is
//! rare. The index is one of every three characters that follow each other. Of the rarest words, what is rarest in them is
//! looked up: a piece costs as much as it occurs, and a few rare ones leave next to nothing to compare.

use std::collections::BTreeSet;
use std::ops::Range;

/// Newest lines that are looked at before anything is looked up.
pub const NEAR: u32 = 200;
/// A piece that occurs in more of them is compared only, where something rarer is looked up.
const FREQUENT: u32 = NEAR / 2;
/// Runs that are looked up; the rest is compared only.
const MOST: usize = 3;
/// Pieces of a run that are looked up.
const MOST_IN_RUN: usize = 4;
/// Pieces of which it is found out how rare they are; the others are compared only.
const MOST_COUNTED: usize = 64;
/// The same of one word, so that a long one leaves some to the others.
const MOST_OF_WORD: usize = 24;
/// Characters the index holds in one piece.
const PIECE: usize = 3;
/// Pieces that begin with a word shorter than one, at most; a word that begins more occurs nearly everywhere, and is
/// compared only.
pub const MOST_BEGINNINGS: u32 = 300;

/// Words that all have to occur in a line's search text.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sought {
    words: Vec<String>,
    /// The first pieces of each.
    pieces: Vec<Vec<Piece>>,
}

/// Three characters of a word that follow each other, or the whole of a shorter one.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Piece {
    /// Where in the word it stands.
    at: Range<usize>,
    /// How many of the newest lines have it.
    seen: u32,
}

/// What is looked up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LookUp<'a> {
    /// What stands in a line in one run: three characters at least.
    Run(&'a str),
    /// What a piece begins with: one or two characters.
    Beginning(&'a str),
}

impl Sought {
    /// The words of what was typed; case makes no difference, each counts once. `None`: no line has them, because one
    /// holds U+0000, where a text ends to some.
    ///
    /// ```
    /// use evenwire_core::job::Sought;
    /// let sought = Sought::of("Anna w-20").unwrap();
    /// assert!(sought.occurs_in("w-2041\nanna beispiel"));
    /// assert!(!sought.occurs_in("w-2041\nbernd beispiel"));
    /// assert!(Sought::of("").unwrap().occurs_in("whatever"));
    /// assert_eq!(Sought::of("w\0"), None);
    /// ```
    pub fn of(typed: &str) -> Option<Sought> {
        let typed = typed.to_lowercase();
        let words: BTreeSet<&str> = typed.split_whitespace().collect();
        if words.iter().any(|word| word.contains('\0')) {
            return None;
        }
        let words: Vec<String> = words.into_iter().map(str::to_owned).collect();
        let mut left = MOST_COUNTED;
        let mut counted = |word: &String| {
            let pieces: Vec<Piece> =
                pieces_of(word).take(left.min(MOST_OF_WORD)).map(|at| Piece { at, seen: 0 }).collect();
            left -= pieces.len();
            pieces
        };
        let pieces = words.iter().map(&mut counted).collect();
        Some(Sought { words, pieces })
    }

    /// Every line has them: there are none.
    pub fn is_empty(&self) -> bool {
        self.words.is_empty()
    }

    /// The words, each once, in lower case.
    pub fn words(&self) -> &[String] {
        &self.words
    }

    /// Whether every word occurs in the text of a line.
    pub fn occurs_in(&self, text: &str) -> bool {
        self.words.iter().all(|word| text.contains(word.as_str()))
    }

    /// Notes what occurs in the text of one of the newest lines.
    pub fn count(&mut self, text: &str) {
        for (word, pieces) in self.words.iter().zip(&mut self.pieces) {
            for piece in pieces {
                piece.seen += u32::from(text.contains(&word[piece.at.clone()]));
            }
        }
    }

    /// What could be looked up of each word, the rarest first, each with how many of the newest lines have its rarest
    /// piece: of every run of pieces that are rare enough what is rarest, or its rarest piece where none is.
    fn by_rarity(&self) -> Vec<(u32, LookUp<'_>)> {
        let mut found: Vec<(u32, LookUp<'_>)> = Vec::new();
        for (word, pieces) in self.words.iter().zip(&self.pieces) {
            let rare = pieces.split(|piece| piece.seen > FREQUENT).filter(|run| !run.is_empty());
            let before = found.len();
            found.extend(rare.filter_map(|run| looked_up(word, run)));
            if found.len() == before {
                let rarest = pieces.iter().min_by_key(|piece| piece.seen);
                found.extend(rarest.and_then(|rarest| looked_up(word, std::slice::from_ref(rarest))));
            }
        }
        found.sort_by_key(|(seen, piece)| (*seen, matches!(piece, LookUp::Beginning(_))));
        found
    }

    /// What is worth looking up after the newest [`NEAR`] lines were counted: the rarest among them, and others that
    /// are rare enough; the rarest first. Nothing where there are no words.
    pub fn look_up(&self) -> Vec<LookUp<'_>> {
        let worth = |(place, (seen, _)): &(usize, (u32, LookUp<'_>))| *place == 0 || *seen <= FREQUENT;
        self.by_rarity().into_iter().enumerate().take_while(worth).take(MOST).map(|(_, (_, piece))| piece).collect()
    }

    /// The same as an expression of a full-text index of three characters, each run quoted; empty: nothing is to be
    /// looked up, every line has to be looked at. `beginnings` says which pieces begin with one or two characters, one
    /// more than [`MOST_BEGINNINGS`] where there are more: then the next one is looked up instead. `None`: one of the
    /// words occurs nowhere.
    ///
    /// # Errors
    /// Those of `beginnings`.
    pub fn quoted<E>(&self, mut beginnings: impl FnMut(&str) -> Result<Vec<String>, E>) -> Result<Option<String>, E> {
        let mut terms: Vec<String> = Vec::new();
        for (seen, piece) in self.by_rarity() {
            if terms.len() == MOST || (seen > FREQUENT && !terms.is_empty()) {
                break;
            }
            match piece {
                LookUp::Run(run) => terms.push(quoted(run)),
                LookUp::Beginning(word) => {
                    let pieces = beginnings(word)?;
                    if pieces.is_empty() {
                        return Ok(None);
                    }
                    if pieces.len() <= MOST_BEGINNINGS as usize {
                        let pieces: Vec<String> = pieces.iter().map(|piece| quoted(piece)).collect();
                        terms.push(format!("({})", pieces.join(" OR ")));
                    }
                }
            }
        }
        Ok(Some(terms.join(" AND ")))
    }
}

/// Where the pieces of a word stand in it.
fn pieces_of(word: &str) -> impl Iterator<Item = Range<usize>> {
    let begin = word.char_indices().map(|(at, _)| at);
    // Where each piece ends, three characters after it begins; that of a shorter word with the word.
    let ends = word.char_indices().map(|(at, _)| at).skip(PIECE).chain([word.len()]);
    begin.zip(ends).map(|(begin, end)| begin..end)
}

/// What is rarest in a run of pieces of `word`, [`MOST_IN_RUN`] of them at most, and of several the last: the end of a
/// number is what sets it apart. `None` for no pieces.
fn looked_up<'a>(word: &'a str, run: &[Piece]) -> Option<(u32, LookUp<'a>)> {
    let rarity = |run: &&[Piece]| run.iter().map(|piece| piece.seen).sum::<u32>();
    let run = run.windows(MOST_IN_RUN.min(run.len()).max(1)).rev().min_by_key(rarity)?;
    let seen = run.iter().map(|piece| piece.seen).min()?;
    let text = &word[run.first()?.at.start..run.last()?.at.end];
    let is_short = text.chars().count() < PIECE;
    Some((seen, if is_short { LookUp::Beginning(text) } else { LookUp::Run(text) }))
}

/// A piece of text as the index takes it, whatever stands in it.
fn quoted(piece: &str) -> String {
    format!("\"{}\"", piece.replace('"', "\"\""))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(typed: &str, near: &[&str]) -> Sought {
        let mut sought = Sought::of(typed).unwrap();
        near.iter().for_each(|text| sought.count(text));
        sought
    }

    #[test]
    fn what_is_frequent_among_the_newest_is_looked_up_only_if_nothing_is_rarer() {
        let near: Vec<&str> = (0..110).map(|_| "orrin 5").collect();
        assert_eq!(after("orrin klemm", &near).look_up(), [LookUp::Run("klemm")]);
        assert_eq!(after("orrin", &near).look_up(), [LookUp::Run("orr")]);
        assert_eq!(after("orrin klemm", &near[..100]).look_up(), [LookUp::Run("klemm"), LookUp::Run("orrin")]);
        assert_eq!(after("", &near).look_up(), []);
    }

    #[test]
    fn the_end_of_what_is_rare_in_a_word_is_looked_up() {
        let near: Vec<&str> = (0..110).map(|_| "1re0 -0 w-0").collect();
        assert_eq!(after("1re01234", &near).look_up(), [LookUp::Run("e01234")]);
        assert_eq!(after("w-077717", &near).look_up(), [LookUp::Run("077717")]);
        let near: Vec<&str> = [near, (0..90).map(|_| "werkstatt").collect()].concat();
        assert_eq!(after("brandtwerkstatt", &near).look_up(), [LookUp::Run("andtwe")], "what is rarest, not the end");
        assert_eq!(after("ä1re0ß", &near).look_up(), [LookUp::Run("ä1r"), LookUp::Run("e0ß")], "on both sides");
    }

    #[test]
    fn only_some_pieces_of_a_long_word_and_of_many_are_looked_up() {
        let long: String = ('a'..='z').chain('α'..='ω').collect();
        assert_eq!(after(&long, &[]).look_up(), [LookUp::Run("uvwxyz")], "the last that were counted");
        let many = ["a", "b", "c", "d"].map(|letter| letter.repeat(80)).join(" ");
        let runs = [LookUp::Run("aaaaaa"), LookUp::Run("bbbbbb"), LookUp::Run("cccccc")];
        assert_eq!(after(&many, &[]).look_up(), runs);
        let many: String = (100..120).map(|n| format!("n{n} ")).collect();
        assert_eq!(after(&many, &[]).look_up().len(), MOST);
    }

    #[test]
    fn short_words_are_looked_up_by_what_begins_with_them() {
        let pieces = |count: usize| move |_: &str| Ok::<_, ()>((0..count).map(|n| format!("k\"{n}")).collect());
        let sought = after("kl say\"so", &[]);
        assert_eq!(sought.quoted(pieces(2)), Ok(Some("\"say\"\"so\" AND (\"k\"\"0\" OR \"k\"\"1\")".to_owned())));
        assert_eq!(sought.quoted(pieces(0)), Ok(None), "it occurs nowhere");
        assert_eq!(sought.quoted(pieces(301)), Ok(Some("\"say\"\"so\"".to_owned())), "it occurs nearly everywhere");
        assert_eq!(after("kl", &[]).quoted(pieces(301)), Ok(Some(String::new())), "all are looked at");
        assert_eq!(sought.quoted(|_| Err("fault")), Err("fault"));
        let near: Vec<&str> = (0..110).map(|_| "orrin 5").collect();
        assert_eq!(after("o orrin", &near).quoted(pieces(301)), Ok(Some("\"orr\"".to_owned())), "the next one instead");
        assert_eq!(after("é 5", &near).look_up(), [LookUp::Beginning("é")]);
    }
}
