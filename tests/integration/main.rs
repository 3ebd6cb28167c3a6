//! Everything through a real server over HTTP.
#![expect(clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod faults;
mod openapi;
mod stops;
mod support;
