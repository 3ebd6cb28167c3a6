//! The speed of the exact search, on one core.
//!
//! - `cargo bench --bench balance` prints how many sets are proven and how fast: sets that can be met, twelve families of
//!   hard sets, and sets of equal lights; then medians over seeded sets. `-- --families` leaves out these medians.
//! - `-- --instances FILE` solves the sets of a file and prints JSON, for `benches/milp/compare.py`.
//! - `-- --make FILE` writes such a file.

#![expect(clippy::expect_used, reason = "a benchmark fails by panicking")]

use std::{
    env, fs,
    time::{Duration, Instant},
};

use divan::Bencher;
use serde_json::{Value, json};
use stopwright::light::balance::{
    clock::Budget,
    problem::Problem,
    search::{Bound, Objective, Solution, search},
};

mod common;
use common::{
    Spill,
    families::{self, EqualScale, Family},
    load, save, set,
};

/// The sets: spill, lights, points, number of sets.
const SETS: [(Spill, usize, usize, u64); 12] = [
    (Spill::Directed, 4, 4, 200),
    (Spill::Directed, 8, 8, 100),
    (Spill::Directed, 6, 16, 100),
    (Spill::Directed, 8, 12, 100),
    (Spill::Local, 6, 16, 100),
    (Spill::Local, 16, 16, 50),
    (Spill::Local, 32, 64, 20),
    (Spill::Flat, 4, 4, 50),
    (Spill::Flat, 6, 6, 20),
    (Spill::Flat, 6, 16, 20),
    (Spill::Flat, 8, 8, 20),
    (Spill::Flat, 12, 12, 20),
];

/// Sets of each family.
const FAMILY: u64 = 8;

/// Sets of equal lights of each number of points.
const EQUAL: u64 = 9;

/// The default time limit of a request.
const TIME_LIMIT: Duration = Duration::from_millis(250);

fn solve(problem: &Problem) -> Solution {
    let deadline = Some(Instant::now() + TIME_LIMIT);
    search(problem, Objective::Accuracy, Budget { deadline, ..Budget::NONE })
}

fn main() {
    let arguments: Vec<String> = env::args().collect();
    let file = |flag: &str| {
        arguments.iter().position(|argument| argument == flag).and_then(|at| arguments.get(at + 1))
    };
    if let Some(path) = file("--instances") {
        println!("{}", instances(&fs::read_to_string(path).expect("a file of instances")));
    } else if let Some(path) = file("--make") {
        fs::write(path, save()).expect("written");
    } else {
        quality();
        for (lights, points) in [(12, 16), (32, 64)] {
            hard(lights, points);
        }
        equal();
        if !arguments.iter().any(|argument| argument == "--families") {
            divan::main();
        }
    }
}

/// Solves the sets of a file. Prints worst error, whether proven, and seconds (the best of five).
fn instances(text: &str) -> Value {
    load(text)
        .into_iter()
        .map(|problem| {
            let timed = (0..5).map(|_| {
                let begun = Instant::now();
                let found = solve(&problem);
                (begun.elapsed(), found)
            });
            let (time, found) = timed.min_by_key(|(time, _)| *time).expect("five runs");
            json!({"worst_stops": found.score.worst, "proven": found.proven, "seconds": time.as_secs_f64()})
        })
        .collect()
}

/// Prints how many sets were proven within the time limit, and the worst gap of the others.
fn quality() {
    println!("{:<20}{:>10}{:>14}{:>14}", "set", "proven", "worst gap", "longest");
    for (spill, lights, points, count) in SETS {
        let (mut proven, mut gap, mut longest) = (0, 0.0_f64, Duration::ZERO);
        for seed in 0..count {
            let begun = Instant::now();
            let found = solve(&set(spill, lights, points, seed));
            longest = longest.max(begun.elapsed());
            proven += u64::from(found.proven);
            if let Bound::WorstStops(bound) = found.bound {
                gap = gap.max(found.score.worst - bound);
            }
        }
        let name = format!("{spill:?} {lights} x {points}");
        println!("{name:<20}{:>10}{gap:>14.5}{longest:>14.1?}", format!("{proven}/{count}"));
    }
}

/// Prints, for each family, how many sets were proven within the time limit, how many with all ties, the gaps left, and
/// the times.
fn hard(lights: usize, points: usize) {
    println!("\n{lights} x {points}, {FAMILY} sets of each family");
    println!(
        "{:<12}{:>8}{:>8}{:>14}{:>12}{:>14}{:>12}",
        "family", "proven", "ties", "median gap", "worst gap", "median time", "longest"
    );
    let mut all = [0, 0];
    for family in Family::ALL {
        let (mut proven, mut ties) = (0, 0);
        let (mut gaps, mut times) = (Vec::new(), Vec::new());
        for seed in 0..FAMILY {
            let problem = families::of(family, lights, points, seed);
            let begun = Instant::now();
            let found = solve(&problem);
            times.push(begun.elapsed());
            proven += u64::from(found.proven);
            ties += u64::from(found.ties_proven);
            let Bound::WorstStops(bound) = found.bound else { continue };
            gaps.push(if found.proven { 0.0 } else { found.score.worst - bound });
        }
        gaps.sort_by(f64::total_cmp);
        times.sort();
        let [median, worst] = [gaps[gaps.len() / 2], gaps[gaps.len() - 1]];
        let (time, longest) = (times[times.len() / 2], times[times.len() - 1]);
        println!(
            "{:<12}{:>8}{:>8}{median:>14.5}{worst:>12.5}{time:>14.1?}{longest:>12.1?}",
            format!("{family:?}"),
            format!("{proven}/{FAMILY}"),
            format!("{ties}/{FAMILY}"),
        );
        all = [all[0] + proven, all[1] + FAMILY];
    }
    println!("{} of {} proven", all[0], all[1]);
}

/// Prints, for sets of equal lights on 2 to 12 points, how many were proven within the time limit, and the times.
fn equal() {
    println!(
        "\n{:<12}{:>8}{:>14}{:>12}{:>14}{:>12}",
        "equal", "lights", "prefer", "proven", "median time", "longest"
    );
    let least_energy = Objective::LeastEnergy { tolerance_stops: 1.0 / 3.0 };
    for (scale, lights) in
        EqualScale::ALL.into_iter().flat_map(|scale| [6, 7, 8].map(|lights| (scale, lights)))
    {
        for (name, objective) in [("accuracy", Objective::Accuracy), ("least energy", least_energy)] {
            let (mut proven, mut times) = (0, Vec::new());
            for (points, seed) in
                [2, 3, 5, 8, 12].into_iter().flat_map(|points| (0..EQUAL).map(move |seed| (points, seed)))
            {
                let problem = families::equal(scale, lights, points, seed);
                let begun = Instant::now();
                let deadline = Some(begun + TIME_LIMIT);
                let found = search(&problem, objective, Budget { deadline, ..Budget::NONE });
                times.push(begun.elapsed());
                proven += u64::from(found.proven);
            }
            times.sort();
            let (time, longest) = (times[times.len() / 2], times[times.len() - 1]);
            println!(
                "{:<12}{lights:>8}{name:>14}{:>12}{time:>14.2?}{longest:>12.2?}",
                format!("{scale:?}"),
                format!("{proven}/{}", times.len()),
            );
        }
    }
}

/// Each set once: the median is over sets.
#[divan::bench(args = SETS.iter().map(|&(spill, lights, points, _)| Named(spill, lights, points)))]
fn balance(bencher: Bencher<'_, '_>, Named(spill, lights, points): &Named) {
    let mut seed = 0;
    bencher
        .with_inputs(|| {
            seed += 1;
            set(*spill, *lights, *points, seed)
        })
        .bench_local_values(|problem| solve(&problem));
}

struct Named(Spill, usize, usize);

impl std::fmt::Display for Named {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:?} {} x {}", self.0, self.1, self.2)
    }
}
