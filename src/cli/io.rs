//! Writing to standard output.

use std::io::{self, Write};

use serde_json::Value;

use crate::wording::visible::escaped_json;

/// Prints to standard output. Who closes the pipe has read enough, as `head` does: that is no error.
pub fn print(text: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        printed => printed,
    }
}
/// JSON with one value a line, and nothing in it that a terminal obeys.
pub fn pretty(json: &Value) -> String {
    escaped_json(&format!("{json:#}\n")).into_owned()
}
