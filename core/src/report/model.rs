//! A report as titled blocks: everything worded, in order, nothing placed on a page yet.

use crate::record::Hash;
use crate::unit::Stamp;
use crate::verdict::words::Language;
use crate::view::{Ladder, TraceView};
use serde::{Deserialize, Serialize};

/// A job as somebody reads it on paper.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export, rename = "ReportView"))]
pub struct Report {
    /// Language of every sentence in it.
    pub language: Language,
    /// What it is: "Job report".
    pub title: String,
    /// Order number or name.
    pub order: String,
    /// Vehicle in short words; the last six of the VIN only while the details are here.
    pub vehicle: String,
    /// When it was put together.
    pub printed: Stamp,
    /// What has to be known before anything else is read: the job is not closed, it was practice; may be empty.
    pub notice: Vec<String>,
    /// Order, vehicle, customer and so on.
    pub head: Vec<Field>,
    /// The first page, for the customer.
    pub summary: Vec<Section>,
    /// All that stands behind it.
    pub details: Vec<Section>,
    /// What the layout itself has to say.
    pub page_words: PageWords,
}

/// A name and what it is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export, rename = "ReportField"))]
pub struct Field {
    /// "Customer".
    pub label: String,
    /// What is known, or that it is not.
    pub value: String,
}

/// Blocks under a title. One without blocks is never put into a report.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export, rename = "ReportSection"))]
pub struct Section {
    /// The title.
    pub title: String,
    /// What stands under it, at least one.
    pub blocks: Vec<Block>,
}

/// A piece of a section.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export, rename = "ReportBlock"))]
#[serde(rename_all = "kebab-case", tag = "block", content = "of")]
pub enum Block {
    /// The sentence that matters most.
    Headline(String),
    /// A title below the section's own.
    Subtitle(String),
    /// A paragraph.
    Words(String),
    /// Short sentences, one below the other.
    List(Vec<String>),
    /// Names and values, one below the other.
    Fields(Vec<Field>),
    /// A table.
    Table(Table),
    /// The conductors as rungs on a shared ohm axis.
    Ladder(Box<LadderPicture>),
    /// A sweep over time.
    Trace(Box<TracePicture>),
    /// A photo, by the hash of its bytes.
    Photo(PhotoBlock),
}

/// A table. Every row has a cell for every column.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export, rename = "ReportTable"))]
pub struct Table {
    /// What it shows, for somebody who does not see it.
    pub caption: String,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows.
    pub rows: Vec<Row>,
}

/// A column.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export, rename = "ReportColumn"))]
pub struct Column {
    /// Its title.
    pub title: String,
    /// Figures: they stand at the right edge.
    pub figures: bool,
}

/// A row.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export, rename = "ReportRow"))]
pub struct Row {
    /// One for every column.
    pub cells: Vec<String>,
    /// It does not count any more: drawn with a line through it. A cell says so, too.
    pub struck: bool,
}

/// A ladder with what is written beside it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct LadderPicture {
    /// The ladder; places are thousandths of the axis.
    pub ladder: Ladder,
    /// What the grey band is: "Alike: 0.34 Ω, up to …"; empty without a band.
    pub band_words: String,
    /// What is written at the axis: "Ω", "Ω, logarithmic".
    pub axis_words: String,
    /// What the mark of the old part is called; empty where none is drawn.
    pub old_words: String,
    /// What the mark of a limit is called; empty where none is drawn.
    pub limit_words: String,
    /// The whole picture in words.
    pub alternative: String,
}

/// A trace with what is written beside it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct TracePicture {
    /// The trace; places are thousandths of the axes.
    pub trace: TraceView,
    /// What is written at the ohm axis.
    pub axis_words: String,
    /// The whole picture in words.
    pub alternative: String,
}

/// A photo of the job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct PhotoBlock {
    /// SHA-256 of the JPEG.
    #[cfg_attr(test, ts(as = "String"))]
    pub photo: Hash,
    /// The step it belongs to, and when it was kept.
    pub caption: String,
    /// Width in pixels, as recorded.
    pub width: u32,
    /// Height in pixels, as recorded.
    pub height: u32,
    /// What stands in its place when its bytes are not here or cannot be shown.
    pub missing: String,
}

/// What the layout itself has to say.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct PageWords {
    /// "Page {} of {}": the page, then how many.
    pub page_of: String,
    /// What stands above the details: "Details".
    pub details: String,
    /// What is written for the shop's logo to whoever does not see it.
    pub logo: String,
}

impl PageWords {
    /// "Page 2 of 5".
    pub fn page(&self, page: usize, of: usize) -> String {
        self.page_of.replacen("{}", &page.to_string(), 1).replacen("{}", &of.to_string(), 1)
    }
}

impl Table {
    /// A table with these column titles; one that begins with `#` holds figures.
    pub(super) fn new(caption: &str, titles: &[&str]) -> Table {
        let column =
            |title: &&str| Column { title: title.trim_start_matches('#').to_owned(), figures: title.starts_with('#') };
        Table { caption: caption.to_owned(), columns: titles.iter().map(column).collect(), rows: Vec::new() }
    }

    /// Puts a row below the others.
    pub(super) fn push(&mut self, cells: Vec<String>, struck: bool) {
        debug_assert_eq!(cells.len(), self.columns.len());
        self.rows.push(Row { cells, struck });
    }

    /// Without the columns in which no row says anything.
    pub(super) fn lean(mut self) -> Table {
        for at in (0..self.columns.len()).rev() {
            if self.rows.iter().all(|row| row.cells[at].is_empty()) {
                self.columns.remove(at);
                self.rows.iter_mut().for_each(|row| drop(row.cells.remove(at)));
            }
        }
        self
    }

    /// As a block, unless it has no row.
    pub(super) fn block(self) -> Option<Block> {
        (!self.rows.is_empty()).then(|| Block::Table(self.lean()))
    }
}

impl Field {
    /// A field.
    pub(super) fn new(label: &str, value: impl Into<String>) -> Field {
        Field { label: label.to_owned(), value: value.into() }
    }
}
