//! Writing to standard output.

use std::io::{self, Write};

use serde_json::Value;

use crate::wording::visible::escaped_json;

/// Prints to standard output. A closed pipe is not an error: the reader, such as `head`, has read enough.
pub fn print(text: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        printed => printed,
    }
}

/// Pretty-printed JSON, with control characters escaped for a terminal.
pub fn pretty(json: &Value) -> String {
    escaped_json(&format!("{json:#}\n")).into_owned()
}
