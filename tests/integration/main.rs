//! Everything through a real server over HTTP.
#![expect(clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod ask;
mod balance;
mod batch;
mod calibrated;
mod clients;
mod compression;
mod curl;
mod drops;
mod energy;
mod falloff;
mod faults;
mod front_page;
mod guide;
mod keys;
mod kit;
mod limits;
mod manual;
mod measuring;
mod nonsense;
mod openapi;
mod origins;
mod pictures;
mod plain;
mod predict;
mod rates;
mod readme;
mod reference;
mod search;
mod service;
mod stops;
mod supply;
mod support;
mod traffic;
mod units;
mod wire;
