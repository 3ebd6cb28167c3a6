//! Balances against the clock.

use std::{
    sync::atomic::{AtomicBool, Ordering},
    time::{Duration, Instant},
};

use serde_json::{Value, json};

use crate::{
    endpoints::{balance::BalanceChecked, extract},
    light::{
        balance::{Question, balance},
        interrupt::NeverInterrupted,
    },
    request,
};

fn question(body: &str) -> Question {
    let tree = extract::parse(body.as_bytes()).expect("JSON");
    let (checked, _) = request::read::<BalanceChecked>(&tree).expect("a question");
    checked.0
}

/// Sixteen lights on twenty-four points, out of reach: proven in some milliseconds.
fn out_of_reach() -> Question {
    question(include_str!("../../../tests/data/balance_16_24.json"))
}

/// The largest set, which takes all its time, and is out of reach.
fn largest(time_limit_ms: u64) -> Question {
    let light = |l: usize| json!({"name": format!("l{l}"), "unit": {"energy": 500, "scale": {"style": "dial", "full": 9, "least": 2}}});
    let reading = |l: usize, p: usize| {
        // No two lights light alike.
        let f_number = 4.0 + ((l * l * 7 + l * p * 5 + p * p * 13) % 97) as f64 / 27.0;
        json!({"light": format!("l{l}"), "point": format!("p{p}"), "setting": "9", "f_number": f_number})
    };
    let points =
        (0..64).map(|p| json!({"name": format!("p{p}"), "target": {"stops": f64::from(p % 5) / 3.0 - 1.0}}));
    let body = json!({
        "exposure": {"f_number": "f/8"}, "reading": "literal", "tolerance_stops": 0.1,
        "lights": (0..32).map(light).collect::<Value>(),
        "points": points.collect::<Value>(),
        "readings": (0..32).flat_map(|l| (0..64).map(move |p| reading(l, p))).collect::<Value>(),
        "time_limit_ms": time_limit_ms
    });
    question(&body.to_string())
}

#[test]
fn a_busy_machine_finds_the_same_remedies() {
    // Counted work alone ends them here.
    let asked = Question { time_limit: Duration::from_secs(600), ..out_of_reach() };
    let begun = Instant::now();
    let quiet = balance(&asked, &NeverInterrupted).expect("an answer");
    eprintln!("{:?}, {} remedies", begun.elapsed(), quiet.remedies.len());
    assert!(quiet.optimality.proven && !quiet.feasible && !quiet.remedies.is_empty());
    let over = AtomicBool::new(false);
    let busy = std::thread::scope(|scope| {
        for _ in 0..4 * std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                while !over.load(Ordering::Relaxed) {
                    std::hint::spin_loop();
                }
            });
        }
        let busy = balance(&asked, &NeverInterrupted).expect("an answer");
        over.store(true, Ordering::Relaxed);
        busy
    });
    assert_eq!(busy, quiet);
}

#[test]
fn what_the_clock_cuts_off_is_told() {
    let asked = Question { time_limit: Duration::from_millis(1), ..out_of_reach() };
    let answer = balance(&asked, &NeverInterrupted).expect("an answer");
    assert!(!answer.remedies_complete && !answer.held_back_by.complete);
}

/// Time that this thread has had a processor, whatever else runs.
#[cfg(target_os = "linux")]
fn worked() -> Duration {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").expect("times of this thread");
    let nanoseconds = told.split(' ').next().and_then(|first| first.parse().ok());
    Duration::from_nanos(nanoseconds.expect("a number"))
}

#[cfg(target_os = "linux")]
#[test]
fn the_time_limit_is_for_the_whole_answer() {
    // Remedies, and what holds back, once came on top: 250 ms took 456. By the processor's time, which is never more
    // than the wall's.
    for limit in [20, 100, 250] {
        let asked = largest(limit);
        let (begun, before) = (Instant::now(), worked());
        let answer = balance(&asked, &NeverInterrupted).expect("an answer");
        let took = worked().saturating_sub(before);
        eprintln!("{limit} ms: {took:?} worked, {:?} by the wall", begun.elapsed());
        assert!(!answer.optimality.proven && !answer.remedies_complete);
        // Between two looks at the clock there is little work, in a build for tests as well.
        assert!(took < Duration::from_millis(limit + 40), "{limit} ms took {took:?}");
    }
}
