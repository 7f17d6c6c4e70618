//! A computed figure as it is written down: decimal text, so that the record holds no binary float.

use serde::{Deserialize, Serialize};

/// A figure with six decimal places, as text: "0.333333".
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Figure(String);

/// A text that is not a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("not a figure with six decimal places")]
pub struct NotAFigure;

/// Whole digits a figure can have; far more than any reading leads to, and few enough to be drawn.
const MOST_WHOLE: usize = 30;

impl Figure {
    /// `value` rounded to six places. Not for NaN or infinity.
    pub fn write(value: f64) -> Figure {
        let text = format!("{value:.6}");
        Figure(if text == "-0.000000" { "0.000000".into() } else { text })
    }

    /// The figure as a binary float, for placing it in a picture.
    pub fn read(&self) -> f64 {
        self.0.parse().expect("checked when made")
    }

    /// The figure in millionths, saturating.
    pub fn millionths(&self) -> i64 {
        (self.read() * 1e6).round() as i64
    }
}

impl From<Figure> for String {
    fn from(figure: Figure) -> String {
        figure.0
    }
}

impl TryFrom<String> for Figure {
    type Error = NotAFigure;
    fn try_from(text: String) -> Result<Figure, NotAFigure> {
        let digits = text.strip_prefix('-').unwrap_or(&text);
        let (whole, rest) = digits.split_once('.').ok_or(NotAFigure)?;
        let all_digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
        let fits = whole.len() <= MOST_WHOLE && rest.len() == 6;
        if fits && all_digits(whole) && all_digits(rest) { Ok(Figure(text)) } else { Err(NotAFigure) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_is_plain_text_with_six_places() {
        let read = |text: &str| Figure::try_from(text.to_owned());
        for text in ["0.333333", "-0.663333", "11.666667", "1000.000000"] {
            let figure = read(text).unwrap();
            assert_eq!(String::from(figure.clone()), text);
            assert_eq!(Figure::write(figure.read()), figure);
        }
        assert_eq!(String::from(Figure::write(-0.000_000_4)), "0.000000", "no minus before nothing");
        assert_eq!(String::from(Figure::write(1.0 / 3.0)), "0.333333");
        for text in
            ["", ".333333", "0.33333", "0.3333333", "1", "1e3", "+0.333333", "--0.333333", "NaN", "inf", "0,333333"]
        {
            assert_eq!(read(text), Err(NotAFigure), "{text:?}");
        }
        assert!(read(&format!("{}.000000", "9".repeat(MOST_WHOLE))).is_ok());
        assert_eq!(read(&format!("{}.000000", "9".repeat(MOST_WHOLE + 1))), Err(NotAFigure));
    }
}
