//! Texts in the languages a procedure says it speaks.

use crate::meter::FileErrorCode;
use crate::meter::fields::Fields;
use crate::verdict::words::Language;
use toml::Spanned;
use toml::de::DeValue;

/// The word of a language in a file.
pub(super) const LANGUAGES: [(&str, Language); 2] = [("en", Language::En), ("de", Language::De)];

/// A text in one language or more.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Texts {
    en: Option<String>,
    de: Option<String>,
}

impl Texts {
    /// In this language, or in the other when the procedure does not speak it.
    pub fn get(&self, language: Language) -> &str {
        let other = || self.en.as_deref().or(self.de.as_deref()).unwrap_or_default();
        self.strictly(language).unwrap_or_else(other)
    }

    /// In this language and no other.
    pub fn strictly(&self, language: Language) -> Option<&str> {
        match language {
            Language::En => self.en.as_deref(),
            Language::De => self.de.as_deref(),
        }
    }

    fn set(&mut self, language: Language, text: String) {
        match language {
            Language::En => self.en = Some(text),
            Language::De => self.de = Some(text),
        }
    }
}

/// What a text may be.
#[derive(Clone, Copy)]
pub(super) struct Shape {
    /// Most characters.
    pub most: usize,
    /// Most sentences.
    pub sentences: usize,
}

/// A name or title.
pub(super) const TITLE: Shape = Shape { most: 80, sentences: 1 };
/// An instruction: two sentences at most, or nobody reads it with a tool in the hand.
pub(super) const INSTRUCTION: Shape = Shape { most: 400, sentences: 2 };
/// A description that is read at a desk.
pub(super) const PASSAGE: Shape = Shape { most: 600, sentences: 12 };

/// Reads texts in the languages of the file.
#[derive(Clone)]
pub(super) struct Tongue {
    pub languages: Vec<Language>,
}

impl Tongue {
    /// The texts at `key`; a mistake if they have to be there and are not.
    pub(super) fn wanted(&self, fields: &mut Fields<'_, '_>, key: &'static str, shape: Shape) -> Option<Texts> {
        if !fields.has(key) {
            fields.missing(key, &format!("{key} = {}", self.example()));
        }
        self.texts(fields, key, shape)
    }

    /// The texts at `key`, if there are any.
    pub(super) fn texts(&self, fields: &mut Fields<'_, '_>, key: &'static str, shape: Shape) -> Option<Texts> {
        let value = fields.get(key)?;
        self.of(fields, key, (value, shape))
    }

    /// A list of texts.
    pub(super) fn list(&self, fields: &mut Fields<'_, '_>, key: &'static str, shape: Shape) -> Vec<Texts> {
        let wanted = format!("a list such as [{}]", self.example());
        let list = fields.list_up_to(key, &wanted, 32).unwrap_or_default();
        list.iter().filter_map(|value| self.of(fields, key, (value, shape))).collect()
    }

    fn of<'f, 't>(
        &self,
        fields: &Fields<'f, 't>,
        key: &str,
        (value, shape): (&'f Spanned<DeValue<'t>>, Shape),
    ) -> Option<Texts> {
        let mut texts = Texts::default();
        let at = value.span().start;
        match (value.get_ref().as_str(), self.languages.as_slice()) {
            (Some(text), [language]) => {
                check(fields, (key, text, at), shape);
                texts.set(*language, text.to_owned());
                return Some(texts);
            }
            (Some(_), _) => {
                let what = format!("`{key}` does not say which language it is in");
                fields.mistake(at, FileErrorCode::WrongType, what, self.example());
                return None;
            }
            _ => {}
        }
        let Some(mut inner) = fields.inner(value) else {
            fields.wrong_type(key, value, &self.example());
            return None;
        };
        let mut whole = true;
        for (word, language) in LANGUAGES {
            let text = inner.text(word, "a text in quotes");
            match (text, self.languages.contains(&language)) {
                (Some(text), true) => {
                    check(fields, (key, &text.value, text.at), shape);
                    texts.set(language, text.value);
                }
                (Some(text), false) => {
                    let what = format!("the file does not say that it speaks \"{word}\"");
                    let instead = format!("languages = [..., \"{word}\"] in the head");
                    fields.mistake(text.at, FileErrorCode::Conflict, what, instead);
                }
                (None, true) => {
                    whole = false;
                    if !inner.has(word) {
                        let what = format!("`{key}` has no text in \"{word}\"");
                        fields.mistake(at, FileErrorCode::MissingKey, what, self.example());
                    }
                }
                (None, false) => {}
            }
        }
        inner.finish();
        whole.then_some(texts)
    }

    fn example(&self) -> String {
        let words = LANGUAGES.iter().filter(|(_, language)| self.languages.contains(language));
        let each: Vec<_> = words.map(|(word, _)| format!("{word} = \"…\"")).collect();
        if each.len() == 1 { "\"…\"".to_owned() } else { format!("{{ {} }}", each.join(", ")) }
    }
}

fn check(fields: &Fields<'_, '_>, (key, text, at): (&str, &str, usize), shape: Shape) {
    let length = text.chars().count();
    if text.trim().is_empty() || length > shape.most {
        let what = format!("`{key}` has {length} characters");
        fields.mistake(at, FileErrorCode::OutOfRange, what, format!("1 to {} characters", shape.most));
    }
    if let Some(odd) = text.chars().find(|c| is_odd(*c)) {
        let what =
            format!("`{key}` holds the character U+{:04X}, which is not seen or turns the text round", odd as u32);
        fields.mistake(at, FileErrorCode::OutOfRange, what, "plain text on one line");
    }
    if sentences(text) > shape.sentences {
        let what = format!("`{key}` has {} sentences", sentences(text));
        let instead = format!("at most {}: make two steps of it, or say less", shape.sentences);
        fields.mistake(at, FileErrorCode::OutOfRange, what, instead);
    }
}

/// Not seen, or changes how its neighbours are read: nobody could tell what a text says by looking at it.
pub(super) fn is_odd(letter: char) -> bool {
    letter.is_control()
        || matches!(letter, '\u{AD}' | '\u{61C}' | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}')
        || matches!(letter, '\u{2060}'..='\u{206F}' | '\u{FEFF}' | '\u{FFF9}'..='\u{FFFB}' | '\u{E0000}'..='\u{E0FFF}')
}

/// Sentences begun: a `.`, `!` or `?` ends one if a blank and a capital letter or digit follow, or nothing.
fn sentences(text: &str) -> usize {
    let text = text.trim_end().trim_end_matches(['.', '!', '?']);
    let letters: Vec<char> = text.chars().collect();
    let begins = |after: &[char]| match after {
        [' ', rest @ ..] => rest.iter().find(|c| **c != ' ').is_some_and(|c| c.is_uppercase() || c.is_numeric()),
        _ => false,
    };
    1 + (0..letters.len()).filter(|at| ".!?".contains(letters[*at]) && begins(&letters[at + 1..])).count()
}
