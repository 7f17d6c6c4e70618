//! The shop's hub: devices bring their ledgers, the office looks at them.
//!
//! [`router`] shows every way in. What devices ask is answered in [`device`], what is kept stands in [`storage`] and
//! [`blobs`], and [`app`] holds what all of them need; [`behind`] works
//! beside the answers. [`door`] leads each connection to the shop it asks for, and [`house`] holds those that are open. Time comes in as an argument ([`app::Clock`]).

pub mod app;
pub mod behind;
pub mod blobs;
pub mod copy;
pub mod device;
pub mod doctor;
pub mod door;
pub mod house;
pub mod metrics;
pub mod office;
pub mod owner_link;
pub mod problem;
pub mod rates;
pub mod router;
pub mod serve;
pub mod storage;
pub mod tls;
