//! The pages in a real browser: Debian's Chromium, headless, driven by its ChromeDriver. Skipped, and told so, where
//! either is missing; `STOPWRIGHT_BROWSER=required` makes that a failure. A program of its own, so that a browser
//! takes no cores from tests that measure time.
#![expect(clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod chromium;
#[path = "../integration/curl.rs"]
#[expect(dead_code, reason = "not all of it is asked for here")]
mod curl;
mod docs;
mod front_page;
mod pictures;
mod readers;
#[path = "../integration/support.rs"]
#[expect(dead_code, reason = "not all of it is asked for here")]
mod support;
