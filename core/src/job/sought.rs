//! Looking for jobs by words, the same at the bench and at the office: which words are looked up in an index, and which
//! are only compared with the text itself, as all of them are in the end.
//!
//! The newest lines are looked at first, without the index: often they are all that is asked for, and they tell which
//! words are rare. The index is one of every three characters that follow each other.

use std::collections::BTreeSet;

/// Newest lines that are looked at before anything is looked up.
pub const NEAR: u32 = 200;
/// A word that occurs in more of them is compared only, where a rarer one is looked up.
const FREQUENT: u32 = NEAR / 4;
/// Words that are looked up; the others are compared only.
const MOST_WORDS: usize = 12;
/// Characters of a word that are looked up; the rest is compared only.
const MOST_CHARACTERS: usize = 64;
/// Characters the index holds in one piece.
const PIECE: usize = 3;
/// Pieces that begin with a word shorter than one, at most; a word that begins more occurs nearly everywhere, and is
/// compared only.
pub const MOST_BEGINNINGS: u32 = 300;

/// Words that all have to occur in a line's search text.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sought {
    words: Vec<String>,
    /// In how many of the lines looked at so far each occurs.
    seen: Vec<u32>,
}

/// What is looked up of one word.
#[derive(Clone, Debug, PartialEq, Eq)]
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
    /// let mut sought = Sought::of("Anna w-20").unwrap();
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
        Some(Sought { seen: vec![0; words.len()], words })
    }

    /// Every line has them: there are none.
    pub fn is_empty(&self) -> bool {
        self.words.is_empty()
    }

    /// The words, each once, in lower case.
    pub fn words(&self) -> &[String] {
        &self.words
    }

    /// Whether every word occurs in the text of a line, and notes which do.
    pub fn occurs_in(&mut self, text: &str) -> bool {
        let mut all = true;
        for (word, seen) in self.words.iter().zip(&mut self.seen) {
            let is_here = text.contains(word.as_str());
            *seen += u32::from(is_here);
            all &= is_here;
        }
        all
    }

    /// Each word with how often it was seen, the rarest first.
    fn by_rarity(&self) -> Vec<(u32, &str)> {
        let mut words: Vec<(u32, &str)> =
            self.seen.iter().copied().zip(self.words.iter().map(String::as_str)).collect();
        words.sort_by_key(|(seen, word)| (*seen, std::cmp::Reverse(word.len())));
        words
    }

    /// What is worth looking up after the newest [`NEAR`] lines were looked at: the rarest word among them, and others
    /// that are rare enough; the rarest first. Nothing where there are no words.
    pub fn look_up(&self) -> Vec<LookUp<'_>> {
        let worth = |(place, (seen, _)): &(usize, (u32, &str))| *place == 0 || *seen <= FREQUENT;
        let words = self.by_rarity().into_iter().enumerate().take_while(worth).take(MOST_WORDS);
        words.map(|(_, (_, word))| of_word(word)).collect()
    }

    /// The same as an expression of a full-text index of three characters, each word quoted; empty: nothing is to be
    /// looked up, every line has to be looked at. `beginnings` says which pieces begin with one or two characters, one
    /// more than [`MOST_BEGINNINGS`] where there are more: then the next word is looked up instead. `None`: one of the
    /// words occurs nowhere.
    ///
    /// # Errors
    /// Those of `beginnings`.
    pub fn quoted<E>(&self, mut beginnings: impl FnMut(&str) -> Result<Vec<String>, E>) -> Result<Option<String>, E> {
        let mut terms: Vec<String> = Vec::new();
        for (seen, word) in self.by_rarity() {
            if terms.len() == MOST_WORDS || (seen > FREQUENT && !terms.is_empty()) {
                break;
            }
            match of_word(word) {
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

fn of_word(word: &str) -> LookUp<'_> {
    if word.chars().count() < PIECE {
        return LookUp::Beginning(word);
    }
    let end = word.char_indices().nth(MOST_CHARACTERS).map_or(word.len(), |(end, _)| end);
    LookUp::Run(&word[..end])
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
        for text in near {
            sought.occurs_in(text);
        }
        sought
    }

    #[test]
    fn a_word_that_is_frequent_among_the_newest_is_looked_up_only_if_none_is_rarer() {
        let near: Vec<&str> = (0..60).map(|_| "orrin 5").collect();
        assert_eq!(after("orrin klemm", &near).look_up(), [LookUp::Run("klemm")]);
        assert_eq!(after("orrin", &near).look_up(), [LookUp::Run("orrin")]);
        assert_eq!(after("orrin klemm", &near[..40]).look_up(), [LookUp::Run("klemm"), LookUp::Run("orrin")]);
        assert_eq!(after("", &near).look_up(), []);
    }

    #[test]
    fn only_the_beginning_of_a_long_word_and_of_many_is_looked_up() {
        let long = "ä".repeat(65);
        assert_eq!(after(&long, &[]).look_up(), [LookUp::Run(&long[..128])]);
        let many: String = (100..120).map(|n| format!("n{n} ")).collect();
        assert_eq!(after(&many, &[]).look_up().len(), MOST_WORDS);
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
    }
}
