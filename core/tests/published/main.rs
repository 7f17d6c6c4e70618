//! What the product computes against what somebody else has published. Every check names its source.
//!
//! "Clause from memory" means that the number was recomputed with outside libraries and the clause was not looked up;
//! "common practice" means that nobody published it. What is compared in bulk is in `reference_differential.rs`.

mod any_text;
mod bench;
mod budgets;
mod conformity;
mod copper;
mod outliers;
mod statistics;
mod torque;
mod trade;
mod trouble_codes;
mod vin;

/// `got` is `want` within `within`, and a number.
#[track_caller]
fn near(got: f64, want: f64, within: f64) {
    assert!((got - want).abs() <= within, "got {got}, want {want} within {within}");
}
