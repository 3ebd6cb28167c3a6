//! The pages in a real browser: Debian's Chromium, headless, driven by its ChromeDriver. Where either is missing the
//! trials are ignored; `STOPWRIGHT_BROWSER=required` makes that a failure. A program of its own, so that a browser takes
//! no cores from tests that measure time, and without the usual test runner, which cannot ignore a test at run time.
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

use std::{env, process::ExitCode};

use futures_util::future::BoxFuture;
use libtest_mimic::{Arguments, Trial};

/// A trial's name, and the trial.
type Named = (&'static str, fn() -> BoxFuture<'static, ()>);

/// The trials of a file, by the names of their functions. The compiler reports one that is left out as dead code.
macro_rules! trials {
    ($($name:ident),+ $(,)?) => {
        pub const TRIALS: &[crate::Named] = &[$((stringify!($name), || Box::pin($name()))),+];
    };
}
use trials;

fn main() -> ExitCode {
    let arguments = Arguments::from_args();
    let no_browser = chromium::missing();
    if let Some(missing) = no_browser {
        eprintln!("ignored: {missing}");
    }
    let no_axe = env::var_os(readers::AXE).is_none();
    if no_axe {
        eprintln!(
            "ignored: axe_finds_nothing: {} names no axe.min.js (tests/browser/axe fetches it)",
            readers::AXE
        );
    }
    let files = [
        ("docs", docs::TRIALS),
        ("front_page", front_page::TRIALS),
        ("pictures", pictures::TRIALS),
        ("readers", readers::TRIALS),
    ];
    let named = files.iter().flat_map(|(file, trials)| trials.iter().map(move |trial| (file, trial)));
    let trials = named.map(|(file, &(name, trial))| {
        let run = move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
            runtime.expect("a runtime").block_on(trial());
            Ok(())
        };
        let is_ignored = no_browser.is_some() || (name == "axe_finds_nothing" && no_axe);
        Trial::test(format!("{file}::{name}"), run).with_ignored_flag(is_ignored)
    });
    libtest_mimic::run(&arguments, trials.collect()).exit_code()
}
