//! Groups of lights that light alike and have too many sums to list, beside other lights. (A set that is one such
//! group is searched by [`super::one_group`].)
//!
//! For a lower bound on the worst error, a group is one light with any power between its ends: linear programs bound
//! that problem. Then the search admits worst errors up to a level just above the bound, and raises the level step by
//! step. Each level leaves the group a range of power. The sums in that range are few, are listed, and are searched
//! exactly.

use crate::light::balance::{
    clock::Clock,
    problem::{Problem, SAME_WORST},
    reduce::{MOST, Reduced, members},
    search::{Best, Bound, Solution, accuracy},
    start,
    sums::{Merged, Sums},
    tree::{Aim, Tree},
};

/// The factor by which the room above the bound grows from step to step.
const WIDER: f64 = 8.0;
/// Most turns of an enumeration: this ends a step by count, not by time.
const TURNS: usize = 96;
/// If the sums in a range are too many: the number taken as a sample, and nodes for the search among them.
const SOME: usize = 1024;
const NODES: u64 = 2000;

/// The least worst error of a problem with groups of lights that light alike, from a first choice.
pub fn search(
    problem: &Problem,
    groups: &[Vec<usize>],
    choice: Vec<usize>,
    clock: &mut Clock<'_>,
) -> Solution {
    let sums: Vec<Sums<'_>> = groups.iter().map(|group| Sums::new(members(problem, group))).collect();
    let with = |merged: Vec<Merged>| Reduced::with(problem, groups.iter().cloned().zip(merged).collect());
    let relaxed = with(sums.iter().map(Sums::ends_alone).collect());
    let places: Vec<usize> = groups.iter().filter_map(|group| relaxed.place(group[0])).collect();
    let mut best = problem.score(&choice).worst;
    let mut choice = choice;
    let mut tree = Tree::new(&relaxed.problem, Aim::Worst, vec![0; relaxed.problem.lights.len()]);
    let bound = tree.take_program(best, clock);
    // If a group takes more than one turn, start with half of the smallest difference that counts: any sum within it
    // reaches the bound.
    let is_wide = sums.iter().any(Sums::is_wide);
    let mut room = if is_wide { 0.5 * SAME_WORST } else { SAME_WORST };
    let (mut proven, mut ties_proven, mut is_first) = (false, false, true);
    while !proven && !clock.is_out() {
        // One look is taken even if the bound is reached already, for ties.
        if best <= bound + SAME_WORST && (is_wide || !is_first) {
            proven = true;
            break;
        }
        let level = (bound + room).min(best);
        let is_quick = is_first && is_wide;
        let (beyond, most) = if is_quick { (0.0, 1) } else { (2.0 * SAME_WORST, MOST) };
        (is_first, room) = (false, room * WIDER);
        let ranges = tree.reach(level + beyond, &places);
        let merged: Vec<Merged> =
            sums.iter().zip(&ranges).map(|(sums, range)| sums.between(*range, most, TURNS)).collect();
        let is_complete = merged.iter().all(|merged| merged.is_complete);
        if merged.iter().any(|merged| merged.is_complete && merged.levels.power.is_empty()) {
            proven = level >= best;
            continue;
        }
        let or_some = |(merged, (sums, range)): (Merged, (&Sums<'_>, &[f64; 2]))| {
            if merged.levels.power.is_empty() { sums.spread(*range, SOME) } else { merged }
        };
        let narrowed = with(merged.into_iter().zip(sums.iter().zip(&ranges)).map(or_some).collect());
        let mut inner = Best { choice: Vec::new(), level: level + 2.0 * SAME_WORST };
        let mut part = if is_complete { *clock } else { clock.part(NODES) };
        let guide = start::start(&narrowed.problem, &mut part).0;
        let found = accuracy(&mut Tree::new(&narrowed.problem, Aim::Worst, guide), &mut inner, &mut part);
        clock.join(&part);
        let is_better = !found.choice.is_empty() && found.score.worst < best - SAME_WORST;
        if !found.choice.is_empty() && found.score.worst <= best + SAME_WORST {
            choice = narrowed.back(&found.choice);
            best = problem.score(&choice).worst;
        }
        if is_complete && found.proven {
            // Everything as good was looked at, or nothing is within the level.
            proven = level >= best - SAME_WORST;
            ties_proven = proven && found.ties_proven && beyond > 0.0;
        } else if !is_better && level >= best {
            break;
        }
    }
    proven |= best <= bound + SAME_WORST;
    let score = problem.score(&choice);
    Solution { choice, score, bound: Bound::WorstStops(bound), proven, ties_proven, nodes: 0 }
}
