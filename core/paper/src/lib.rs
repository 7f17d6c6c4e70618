//! A report of core as a PDF: one layout on A4 and Letter, in black and white, tagged for whoever cannot see it
//! (PDF/UA-1), the same bytes for the same report.
//!
//! ```text
//! Report -> prepare (broken into lines) -> flow (onto pages) -> Sheet (marks with their tags) -> emit -> PDF
//! ```
//!
//! Core decides what is said; nothing is worded here.

mod blocks;
mod emit;
mod face;
mod figures;
mod flow;
mod head;
mod ladder;
mod lines;
mod photos;
mod sheet;
mod table;
#[cfg(test)]
mod tests;
mod trace;

use evenwire_core::record::{Hash, Shop};
use evenwire_core::report::Report;
use face::Faces;
use flow::Flow;

/// The shop that hands the report out. Everything may be empty.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ShopHeader {
    /// Its name, above the rest.
    pub name: String,
    /// Street, town, phone: a line each.
    pub address: Vec<String>,
    /// Its logo as PNG or JPEG; one that cannot be read is left out.
    pub logo: Option<Vec<u8>>,
    /// A line at the foot of every page.
    pub footer: String,
}

impl From<&Shop> for ShopHeader {
    /// The shop as it is described in a ledger.
    fn from(shop: &Shop) -> ShopHeader {
        let (address, logo) = (shop.lines(), shop.logo_bytes());
        ShopHeader { name: shop.name.clone(), address, logo, footer: String::new() }
    }
}

/// What it is printed on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PageSize {
    /// 210 × 297 mm.
    #[default]
    A4,
    /// 8.5 × 11 inch.
    Letter,
}

impl PageSize {
    /// Width and height in points (1/72 inch).
    pub fn points(self) -> (f32, f32) {
        match self {
            PageSize::A4 => (595.276, 841.89),
            PageSize::Letter => (612.0, 792.0),
        }
    }
}

/// Why a report could not be written.
#[derive(Debug, thiserror::Error)]
pub enum PaperError {
    /// The built-in faces cannot be read.
    #[error("the faces of the paper cannot be read")]
    Faces,
    /// The PDF does not keep what PDF/UA-1 asks for, or cannot be written.
    #[error("the report cannot be written as a PDF: {0}")]
    Pdf(String),
}

/// Where a photo's JPEG comes from, by its hash; `None`: erased, or not here.
pub type Photos<'a> = dyn Fn(Hash) -> Option<Vec<u8>> + 'a;

/// Writes `report` as a PDF.
///
/// Photos whose bytes are missing, are not what their hash says, or are no JPEG are told by their words instead.
///
/// # Errors
/// [`PaperError`]; never because of what the report says.
pub fn write(report: &Report, shop: &ShopHeader, size: PageSize, photos: &Photos<'_>) -> Result<Vec<u8>, PaperError> {
    let faces = Faces::load().ok_or(PaperError::Faces)?;
    emit::pdf(lay(&faces, report, (shop, size), photos), report)
}

/// Everything on its page, nothing written yet.
fn lay<'f>(faces: &'f Faces, report: &Report, (shop, size): (&ShopHeader, PageSize), photos: &Photos<'_>) -> Flow<'f> {
    let mut flow = Flow::new(faces, size, report.language);
    head::first_page(&mut flow, report, shop);
    for section in &report.summary {
        blocks::section(&mut flow, section, (2, photos));
    }
    if !report.details.is_empty() {
        flow.new_page();
        blocks::details_title(&mut flow, &report.page_words.details);
    }
    for section in &report.details {
        blocks::section(&mut flow, section, (3, photos));
    }
    head::every_page(&mut flow, report, shop);
    flow
}
