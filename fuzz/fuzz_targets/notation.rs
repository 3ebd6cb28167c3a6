//! Two texts, a line each, as what the trade writes.
#![no_main]

use libfuzzer_sys::{fuzz_mutator, fuzz_target, fuzzer_mutate};
use stopwright_fuzz::{dice::Dice, mutate::spell, spelling};

fuzz_target!(|data: &[u8]| {
    let text = String::from_utf8_lossy(data);
    let (first, second) = text.split_once('\n').unwrap_or((&text, "f/8"));
    spelling::check(first, second);
});

fuzz_mutator!(|data: &mut [u8], size: usize, most: usize, seed: u32| {
    let mut dice = Dice::new(seed.into());
    if dice.chance(3) {
        return fuzzer_mutate(data, size, most);
    }
    let text = String::from_utf8_lossy(&data[..size]);
    let changed = spell(&text, &mut dice).into_bytes();
    let size = changed.len().min(most);
    data[..size].copy_from_slice(&changed[..size]);
    size
});
