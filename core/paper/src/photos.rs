//! Photos, two beside each other, each with the title of its step.

use crate::Photos;
use crate::face::{Shaped, Style};
use crate::figures;
use crate::flow::{Flow, SIDE, stacked};
use crate::sheet::{Belongs, Kind, Mark};
use evenwire_core::record::Hash;
use evenwire_core::report::PhotoBlock;
use krilla::image::Image;

/// Photos beside each other.
pub const IN_A_ROW: usize = 2;
const CAPTION: Style = Style { bold: false, size: 7.8, leading: 10.2, grey: 0 };
const GUTTER: f32 = 14.0;
/// Most height of a photo, points.
const MOST: f32 = 196.0;
/// Height of the frame that stands for a photo that is not here.
const MISSING: f32 = 54.0;

/// A photo with its size on the paper.
pub struct LaidPhoto<'r> {
    photo: &'r PhotoBlock,
    image: Option<Image>,
    width: f32,
    height: f32,
    caption: Vec<Shaped>,
    missing: Vec<Shaped>,
}

fn column(flow: &Flow<'_>) -> f32 {
    (flow.width() - GUTTER) / IN_A_ROW as f32
}

/// Looks a photo up and fits it into its column, never larger than it is at 96 dots an inch.
pub fn lay<'r>(flow: &Flow<'_>, photo: &'r PhotoBlock, photos: &Photos<'_>) -> LaidPhoto<'r> {
    let column = column(flow);
    let whole = |jpeg: &Vec<u8>| Hash::of(jpeg) == photo.photo;
    let jpeg = photos(photo.photo).filter(whole);
    let image = jpeg.and_then(|jpeg| Image::from_jpeg(jpeg.into(), true).ok());
    let (width, height) = match &image {
        Some(image) => {
            let (wide, tall) = (image.size().0.max(1) as f32, image.size().1.max(1) as f32);
            let scale = (column / wide).min(MOST / tall).min(0.75);
            (wide * scale, tall * scale)
        }
        None => (column, MISSING),
    };
    LaidPhoto {
        photo,
        image,
        width,
        height,
        caption: flow.breaker.lines(&photo.caption, CAPTION, column),
        missing: flow.breaker.lines(&photo.missing, CAPTION, column - 16.0),
    }
}

/// Height of a row of photos with their captions.
pub fn height(row: &[LaidPhoto<'_>]) -> f32 {
    let one = |photo: &LaidPhoto<'_>| photo.height + 3.0 + CAPTION.leading * photo.caption.len() as f32;
    row.iter().map(one).fold(0.0, f32::max) + 8.0
}

/// Puts a row down.
pub fn place(flow: &mut Flow<'_>, row: Vec<LaidPhoto<'_>>) {
    let tall = height(&row);
    flow.room_for(tall);
    let (top, column) = (flow.y, column(flow));
    for (index, photo) in row.into_iter().enumerate() {
        let x = SIDE + (column + GUTTER) * index as f32;
        let below = top + photo.height + 3.0;
        let tag = flow.sheet.tag(flow.parent, Kind::Figure(alternative(&photo)));
        match photo.image {
            Some(image) => {
                let (width, height) = (photo.width, photo.height);
                flow.put(Belongs::To(tag), [Mark::Picture { x, y: top, width, height, image }]);
            }
            None => {
                let frame = figures::rect(x, top, photo.width, photo.height);
                flow.put(Belongs::Nothing, figures::drawn(frame, 0.6, 120));
                flow.put(Belongs::To(tag), stacked(photo.missing, (x + 8.0, top + 8.0), CAPTION));
            }
        }
        let caption = flow.sheet.tag(flow.parent, Kind::Paragraph);
        flow.put(Belongs::To(caption), stacked(photo.caption, (x, below), CAPTION));
    }
    flow.y = top + tall;
}

fn alternative(photo: &LaidPhoto<'_>) -> String {
    if photo.image.is_some() { photo.photo.caption.clone() } else { photo.photo.missing.clone() }
}
