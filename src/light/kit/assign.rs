//! Assigns units to roles: the best of all assignments by several objectives in order.
//!
//! Each objective uses the Hungarian algorithm (Kuhn 1955, Munkres 1957) on whole-number costs. An objective about the
//! worst of several pairs uses bisection over a limit on the allowed pairs.

use pathfinding::{kuhn_munkres::kuhn_munkres_min, matrix::Matrix};

use crate::light::kit::fit::SAME;

/// In what sense the assignment of units is the best one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Optimality {
    /// Each shot has the best assignment given the shot before it.
    ShotByShot,
    /// The same, but in some shot not all ways to use the heads of packs were compared.
    NotAllWays,
}

/// How well one unit fits one role.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// The size of the error in either direction, stops; 0 if the unit reaches the role.
    pub short: f64,
    /// Headroom, stops, if it reaches.
    pub headroom: f64,
    /// Whether the unit would have to move there after the shot before.
    pub moved: bool,
}

impl Pair {
    /// A pair that is not to be.
    pub const NONE: Self = Self { short: f64::INFINITY, headroom: 0.0, moved: false };
}

/// The unit of each role; `None` if the units run out.
pub type Assignment = Vec<Option<usize>>;

/// Cost of a pair beyond the limits.
const FORBIDDEN: i64 = 1 << 40;
/// Cost of a role without a unit.
const EMPTY: i64 = FORBIDDEN / 64;
/// Cost of a role that its unit does not reach.
const UNREACHED: i64 = 1 << 20;
/// Cost of a move.
const MOVE: i64 = 1;

/// The best assignment of `pairs[role][unit]`: most roles reached, then the least worst error of the others, then the
/// fewest moves, then the most headroom in the tightest light.
pub fn assign(pairs: &[Vec<Pair>]) -> Assignment {
    let mut limits = Limits { short: f64::INFINITY, headroom: f64::NEG_INFINITY };
    let (least, _) = solve(pairs, limits, false);
    let mut shorts: Vec<f64> = pairs.iter().flatten().map(|pair| pair.short).chain([0.0]).collect();
    shorts.sort_by(f64::total_cmp);
    // The smallest limit that costs no reached role and leaves no extra role empty.
    limits.short = first(&shorts, |short| solve(pairs, Limits { short, ..limits }, false).0 == least)
        .unwrap_or(f64::INFINITY);
    let (least, mut best) = solve(pairs, limits, true);
    let mut headrooms: Vec<f64> =
        pairs.iter().flatten().filter(|pair| pair.short <= SAME).map(|pair| pair.headroom).collect();
    // From the most headroom down, the first limit that costs nothing.
    headrooms.sort_by(|a, b| b.total_cmp(a));
    if let Some(headroom) =
        first(&headrooms, |headroom| solve(pairs, Limits { headroom, ..limits }, true).0 == least)
    {
        best = solve(pairs, Limits { headroom, ..limits }, true).1;
    }
    best
}

/// Whether every role can be reached at once, given `reached[role][unit]`. Uses augmenting paths (Kuhn 1955).
pub fn all_reached(reached: &[Vec<bool>]) -> bool {
    let units = reached.first().map_or(0, Vec::len);
    let mut taken: Vec<Option<usize>> = vec![None; units];
    (0..reached.len()).all(|role| place(role, reached, &mut taken, &mut vec![false; units]))
}

/// The most roles that can be reached at once, by the same method.
pub fn most_reached(reached: &[Vec<bool>]) -> usize {
    let units = reached.first().map_or(0, Vec::len);
    let mut taken: Vec<Option<usize>> = vec![None; units];
    // A role that finds no unit now would find none later.
    (0..reached.len()).filter(|&role| place(role, reached, &mut taken, &mut vec![false; units])).count()
}

/// Finds a unit for a role, reassigning the roles in its way.
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

/// Limits on the allowed pairs.
#[derive(Clone, Copy)]
struct Limits {
    /// The largest error, stops.
    short: f64,
    /// The least headroom of a pair that reaches, stops.
    headroom: f64,
}

/// The first of sorted values for which `holds` is true, by bisection: it must be true for all later values too.
fn first(sorted: &[f64], holds: impl Fn(f64) -> bool) -> Option<f64> {
    let (mut low, mut high) = (0, sorted.len());
    while low < high {
        let middle = usize::midpoint(low, high);
        if holds(sorted[middle]) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    sorted.get(high).copied()
}

/// The cheapest assignment within the limits, and its cost.
fn solve(pairs: &[Vec<Pair>], limits: Limits, count_moves: bool) -> (i64, Assignment) {
    let units = pairs.first().map_or(0, Vec::len);
    let cost = |pair: &Pair| {
        let reached = pair.short <= SAME;
        let is_beyond = pair.short.is_infinite() || pair.short > limits.short + SAME;
        if is_beyond || (reached && pair.headroom < limits.headroom - SAME) {
            return FORBIDDEN;
        }
        i64::from(!reached) * UNREACHED + i64::from(count_moves && pair.moved) * MOVE
    };
    // Adds one empty column per role, so that an assignment always exists.
    let rows = pairs.iter().map(|row| {
        let empty = std::iter::repeat_n(EMPTY, pairs.len());
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
