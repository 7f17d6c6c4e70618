//! What a screen sees of a job that goes from device to device.

use serde::{Deserialize, Serialize};

/// A job that goes from device to device.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct HandView {
    /// It may be handed over now.
    pub may_release: bool,
    /// That it is with somebody else, and since when; empty while it is here.
    pub away: String,
    /// What taking it back means; empty while it is here.
    pub back: String,
    /// It was just taken over: what has to be known before anything is done, most important first, then where it came
    /// from. Empty once something was done.
    pub taken_over: Vec<String>,
    /// It is offered to a device on the same network, or was last; nothing: it is not.
    pub offer: Option<OfferView>,
}

/// A job that is offered to a device on the same network.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct OfferView {
    /// `open`: it can be fetched now; `handed-out`: a device has it; `over`: it ended, and nobody has it by this.
    pub state: String,
    /// How far that has come, or how it ended, in words.
    pub words: String,
    /// What the other device needs, as text; empty where it cannot be fetched any more.
    pub text: String,
    /// The same as a picture: fields along an edge.
    pub fields: u32,
    /// Its dark fields, as the path of an SVG.
    pub path: String,
}

/// A job that another device of the shop handed over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct WaitingLine {
    /// Its id.
    pub job: String,
    /// Order number or name.
    pub order: String,
    /// Which vehicle; may be empty.
    pub vehicle: String,
    /// From whom, and who said already that it takes it over.
    pub words: String,
    /// Another device said so first: taking it all the same makes two versions.
    pub taken: bool,
}
