//! Lights that light alike and have too many sums to write down: six equal units with seventy settings have two
//! hundred million.
//!
//! As far as the worst error goes, such a group is one light with any power between its ends. Programs bound the
//! worst error of that problem from below. Then the room above the bound is widened step by step: each step leaves
//! the group a range of power, whose sums are few and are written down, so that what is searched there is exact.

use super::{
    clock::Clock,
    problem::{Problem, SAME_WORST},
    reduce::{MOST, Reduced, members},
    search::{Best, Bound, Found, accuracy},
    start,
    sums::{Merged, Sums},
    tree::{Aim, Tree},
};

/// How much wider each step is.
const WIDER: f64 = 8.0;
/// Sums that are enough where any of them reaches the bound.
const ENOUGH: usize = 16;
/// Most turns of an enumeration, so that a step has an end that does not hang on time.
const TURNS: usize = 96;
/// Sums that stand for all where all are too many, and nodes for the search among them.
const SOME: usize = 1024;
const NODES: u64 = 2000;

/// The least worst error of a problem with groups of lights that light alike, from a first choice.
pub fn search(problem: &Problem, groups: Vec<Vec<usize>>, choice: Vec<usize>, clock: &mut Clock<'_>) -> Found {
    let sums: Vec<Sums<'_>> = groups.iter().map(|group| Sums::new(members(problem, group))).collect();
    let with = |merged: Vec<Merged>| Reduced::with(problem, groups.iter().cloned().zip(merged).collect());
    let relaxed = with(sums.iter().map(Sums::ends_alone).collect());
    let places: Vec<usize> = groups.iter().filter_map(|group| relaxed.place(group[0])).collect();
    let mut best = problem.score(&choice).worst;
    let mut choice = choice;
    let mut tree = Tree::new(&relaxed.problem, Aim::Worst, vec![0; relaxed.problem.lights.len()]);
    let bound = tree.take_program(best, clock);
    let mut room = SAME_WORST;
    let mut ties_proven = false;
    let mut proven = false;
    let mut is_stuck = false;
    while !proven && !clock.is_out() {
        if best <= bound + SAME_WORST {
            proven = true;
            break;
        }
        let level = (bound + room).min(best);
        let ranges = tree.reach(level + 2.0 * SAME_WORST, &places);
        let is_first = room <= SAME_WORST;
        let most = if is_first { ENOUGH } else { MOST };
        let merged: Vec<Merged> =
            sums.iter().zip(&ranges).map(|(sums, range)| sums.between(*range, most, TURNS)).collect();
        let is_complete = merged.iter().all(|merged| merged.is_complete);
        if merged.iter().any(|merged| merged.is_complete && merged.levels.power.is_empty()) {
            proven = level >= best;
            room *= WIDER;
            continue;
        }
        let few = |(merged, (sums, range)): (Merged, (&Sums<'_>, &[f64; 2]))| {
            let is_enough = merged.is_complete || is_first && !merged.levels.power.is_empty();
            if is_enough { merged } else { sums.spread(*range, SOME) }
        };
        let narrowed = with(merged.into_iter().zip(sums.iter().zip(&ranges)).map(few).collect());
        let mut inner = Best { choice: Vec::new(), level: level + 2.0 * SAME_WORST };
        let mut part = if is_complete { *clock } else { clock.part(NODES) };
        let found = {
            let guide = start::start(&narrowed.problem, &mut part).0;
            let mut tree = Tree::new(&narrowed.problem, Aim::Worst, guide);
            accuracy(&mut tree, &mut inner, &mut part)
        };
        clock.join(&part);
        if found.score.worst < best + SAME_WORST && !found.choice.is_empty() {
            choice = narrowed.back(&found.choice);
            best = problem.score(&choice).worst;
            if is_complete && found.proven {
                (proven, ties_proven) = (true, found.ties_proven);
            }
            is_stuck = false;
        } else if is_complete && found.proven {
            proven = level >= best;
        } else if is_stuck && level >= best {
            break;
        } else {
            is_stuck = true;
        }
        room *= WIDER;
    }
    let score = problem.score(&choice);
    Found { choice, score, bound: Bound::WorstStops(bound), proven, ties_proven, nodes: 0 }
}
