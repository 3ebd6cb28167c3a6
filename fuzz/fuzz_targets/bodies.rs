//! A path and a body, changed as JSON.
#![no_main]

use libfuzzer_sys::{fuzz_mutator, fuzz_target, fuzzer_mutate};
use stopwright_fuzz::{dice::Dice, holds, json::Json, mutate::mutate};

fuzz_target!(|data: &[u8]| {
    let (path, body) = holds::split(data);
    match Json::parse(body) {
        Some(mut json) => {
            holds::hasten(path, &mut json);
            holds::ask(path, json.text().as_bytes());
        }
        None => {
            holds::ask(path, body);
        }
    }
});

fuzz_mutator!(|data: &mut [u8], size: usize, most: usize, seed: u32| {
    let mut dice = Dice::new(seed.into());
    let (path, body) = holds::split(&data[..size]);
    let Some(mut json) = Json::parse(body).filter(|_| !dice.chance(16)) else {
        return fuzzer_mutate(data, size, most);
    };
    mutate(&mut json, &mut dice);
    let changed = format!("{path}\n{}", json.text()).into_bytes();
    // What would be cut is no JSON any more.
    if changed.len() > most {
        return fuzzer_mutate(data, size, most);
    }
    data[..changed.len()].copy_from_slice(&changed);
    changed.len()
});
