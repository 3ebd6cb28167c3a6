//! A path and a body, changed as bytes.
#![no_main]

use libfuzzer_sys::fuzz_target;
use stopwright_fuzz::{holds, json::Json};

fuzz_target!(|data: &[u8]| {
    let (path, body) = holds::split(data);
    let hastened = Json::parse(body).filter(|_| path == "ratios/balance").map(|mut json| {
        holds::hasten(path, &mut json);
        json.text()
    });
    holds::ask(path, hastened.as_ref().map_or(body, String::as_bytes));
});
