//! Which unit for which role: one assignment out of all, by several wishes in order.
//!
//! Each wish is met by the Hungarian algorithm (Kuhn 1955, Munkres 1957) on whole-number costs; a wish about
//! the worst of several pairs by bisection over the pairs that are let in.

use pathfinding::{kuhn_munkres::kuhn_munkres_min, matrix::Matrix};

/// How one unit serves one role.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// How far it is off what counts as reached, stops; 0 where it reaches.
    pub short: f64,
    /// What it has to spare, stops, where it reaches.
    pub headroom: f64,
    /// Whether it would have to be moved there from the shot before.
    pub moved: bool,
}

/// An assignment: for each role its unit; none where units run out.
pub type Assignment = Vec<Option<usize>>;

/// Two stops closer than this are the same.
const SAME: f64 = 1e-9;
/// Costs: a pair that is not let in, an empty role, an unreached role, a move.
const SHUT: i64 = 1 << 40;
const UNREACHED: i64 = 1 << 20;
const MOVE: i64 = 1;

/// The best assignment of `pairs[role][unit]`: as many roles reached as can be, then the least worst
/// shortfall, then the fewest moves, then the most headroom in the tightest light.
pub fn assign(pairs: &[Vec<Pair>]) -> Assignment {
    let mut limits = Limits { short: f64::INFINITY, headroom: f64::NEG_INFINITY };
    let (least, _) = solve(pairs, limits, false);
    let mut shorts: Vec<f64> = pairs.iter().flatten().map(|pair| pair.short).chain([0.0]).collect();
    shorts.sort_by(f64::total_cmp);
    // The least limit at which as many are reached and none is left empty that need not be.
    limits.short = first(&shorts, |short| solve(pairs, Limits { short, ..limits }, false).0 == least)
        .unwrap_or(f64::INFINITY);
    let (least, mut best) = solve(pairs, limits, true);
    let mut headrooms: Vec<f64> =
        pairs.iter().flatten().filter(|pair| pair.short <= SAME).map(|pair| pair.headroom).collect();
    // From the most headroom down: the first that still can be had.
    headrooms.sort_by(|a, b| b.total_cmp(a));
    if let Some(headroom) =
        first(&headrooms, |headroom| solve(pairs, Limits { headroom, ..limits }, true).0 == least)
    {
        best = solve(pairs, Limits { headroom, ..limits }, true).1;
    }
    best
}

/// Whether every role can be reached at once, by augmenting paths (Kuhn 1955): `reached[role][unit]`.
pub fn all_reached(reached: &[Vec<bool>]) -> bool {
    let units = reached.first().map_or(0, Vec::len);
    let mut taken: Vec<Option<usize>> = vec![None; units];
    (0..reached.len()).all(|role| place(role, reached, &mut taken, &mut vec![false; units]))
}

/// Finds a unit for a role, sending the roles in its way elsewhere.
fn place(role: usize, reached: &[Vec<bool>], taken: &mut [Option<usize>], seen: &mut [bool]) -> bool {
    for unit in 0..taken.len() {
        if !reached[role][unit] || std::mem::replace(&mut seen[unit], true) {
            continue;
        }
        if taken[unit].is_none_or(|other| place(other, reached, taken, seen)) {
            taken[unit] = Some(role);
            return true;
        }
    }
    false
}

/// Which pairs are let in.
#[derive(Clone, Copy)]
struct Limits {
    /// No shorter.
    short: f64,
    /// A pair that reaches must have as much to spare.
    headroom: f64,
}

/// The first of sorted values that holds, if all after it hold as well.
fn first(sorted: &[f64], holds: impl Fn(f64) -> bool) -> Option<f64> {
    let (mut shut, mut open) = (0, sorted.len());
    while shut < open {
        let middle = usize::midpoint(shut, open);
        if holds(sorted[middle]) {
            open = middle;
        } else {
            shut = middle + 1;
        }
    }
    sorted.get(open).copied()
}

fn solve(pairs: &[Vec<Pair>], limits: Limits, count_moves: bool) -> (i64, Assignment) {
    let units = pairs.first().map_or(0, Vec::len);
    let cost = |pair: &Pair| {
        let reached = pair.short <= SAME;
        if pair.short > limits.short + SAME || (reached && pair.headroom < limits.headroom - SAME) {
            return SHUT;
        }
        i64::from(!reached) * UNREACHED + i64::from(count_moves && pair.moved) * MOVE
    };
    // As many empty places as roles, so that there is always an assignment.
    let rows = pairs.iter().map(|row| {
        let empty = std::iter::repeat_n(SHUT / 64, pairs.len());
        row.iter().map(cost).chain(empty).collect::<Vec<_>>()
    });
    let Ok(matrix) = Matrix::from_rows(rows) else {
        return (0, Vec::new());
    };
    if matrix.rows == 0 {
        return (0, Vec::new());
    }
    let (total, chosen) = kuhn_munkres_min(&matrix);
    let assignment = chosen.into_iter().map(|column| (column < units).then_some(column)).collect();
    (total, assignment)
}

#[cfg(test)]
mod tests;
