//! How fast the exact search is: medians over seeded sets, one core.
//!
//! `cargo bench --bench balance`

use std::time::{Duration, Instant};

use stopwright::light::balance::{
    clock::Budget,
    search::{Bound, Prefer, search},
};

mod common;
use common::{Spill, set};

fn main() {
    println!("{:<22}{:>12}{:>12}{:>12}{:>9}{:>12}", "set", "median", "worst", "nodes", "proven", "worst gap");
    for (spill, lights, points, instances) in [
        (Spill::Directed, 4, 4, 200),
        (Spill::Directed, 6, 6, 200),
        (Spill::Directed, 6, 16, 100),
        (Spill::Directed, 8, 8, 100),
        (Spill::Directed, 8, 12, 100),
        (Spill::Local, 6, 16, 100),
        (Spill::Local, 16, 16, 50),
        (Spill::Local, 32, 64, 10),
        (Spill::Flat, 4, 4, 50),
        (Spill::Flat, 6, 6, 10),
        (Spill::Flat, 6, 16, 10),
        (Spill::Flat, 8, 8, 10),
        (Spill::Flat, 12, 12, 10),
    ] {
        let mut times = Vec::new();
        let mut nodes = Vec::new();
        let (mut proven, mut gap) = (0, 0.0_f64);
        for seed in 0..instances {
            let problem = set(spill, lights, points, seed);
            let begun = Instant::now();
            let deadline = begun + Duration::from_millis(250);
            let found =
                search(&problem, Prefer::Accuracy, Budget { deadline: Some(deadline), ..Budget::NONE });
            times.push(begun.elapsed());
            nodes.push(found.nodes);
            proven += u64::from(found.proven);
            if let Bound::WorstStops(bound) = found.bound {
                gap = gap.max(found.score.worst - bound);
            }
        }
        times.sort();
        nodes.sort_unstable();
        println!(
            "{:<22}{:>12.1?}{:>12.1?}{:>12}{:>6}/{:<3}{:>11.4}",
            format!("{spill:?} {lights} x {points}"),
            times[times.len() / 2],
            times[times.len() - 1],
            nodes[nodes.len() / 2],
            proven,
            instances,
            gap
        );
    }
}
