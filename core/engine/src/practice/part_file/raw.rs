//! The part file as it is written.

use serde::Deserialize;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawPart {
    pub(super) format: Spanned<i64>,
    pub(super) name: Spanned<String>,
    #[serde(default)]
    pub(super) connectors: Vec<Spanned<RawConnector>>,
    #[serde(default)]
    pub(super) conductors: Vec<Spanned<RawConductor>>,
    #[serde(default)]
    pub(super) bars: Vec<Spanned<(Spanned<String>, Spanned<String>)>>,
    pub(super) bar_ohm: Option<Spanned<f64>>,
    pub(super) bar_at: Option<Spanned<String>>,
    pub(super) ceiling: Option<Spanned<RawLimit>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawConnector {
    pub(super) name: Spanned<String>,
    pub(super) cavities: Spanned<i64>,
    pub(super) rows: Option<Spanned<i64>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawConductor {
    pub(super) name: Spanned<String>,
    pub(super) group: Option<String>,
    pub(super) from: Spanned<RawEnd>,
    pub(super) to: Spanned<RawEnd>,
    #[serde(default)]
    pub(super) drawn_only: bool,
    pub(super) ohm: Option<Spanned<f64>>,
    #[serde(default)]
    pub(super) over_angle: Vec<Spanned<(i64, f64)>>,
    pub(super) fault: Option<Spanned<RawFault>>,
    pub(super) limit: Option<Spanned<RawLimit>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawEnd {
    pub(super) connector: Spanned<String>,
    pub(super) cavity: Spanned<i64>,
    pub(super) at: Spanned<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawFault {
    pub(super) kind: Spanned<String>,
    pub(super) ohm: Option<Spanned<f64>>,
    pub(super) at_milli: Option<Spanned<i64>>,
    pub(super) reach_milli: Option<Spanned<i64>>,
    pub(super) touches: Option<Spanned<String>>,
}

/// In ohms and degrees Celsius, as they are printed.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawLimit {
    pub(super) high: Option<Spanned<f64>>,
    pub(super) low: Option<Spanned<f64>>,
    pub(super) temperature: Option<Spanned<f64>>,
    #[serde(default)]
    pub(super) source: String,
}
