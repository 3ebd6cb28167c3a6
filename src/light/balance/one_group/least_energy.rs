//! The least energy of a set that is one group, with every unweighted error within a tolerance; or among choices that
//! are equal otherwise.

use super::{Goal, HALVINGS, OneGroup, Partial};
use crate::light::balance::{
    clock::Clock,
    problem::Problem,
    solution::{Bound, Solution},
    sum_list::SumList,
    sums::Member,
};

/// Energies closer than this, as a part of the whole, are the same.
const SAME_ENERGY: f64 = 9e-10;

/// The best choice so far.
struct LeastEnergy<'g, 'p, W> {
    group: &'g OneGroup<'p>,
    /// Empty if none is known.
    choice: Vec<usize>,
    energy_j: f64,
    /// Whether a choice is good enough.
    is_within: W,
    window: [f64; 2],
    price: Price,
}

/// A bound on the energy of some power: so much for each unit of it, and what each light takes beyond that.
struct Price {
    per_power: f64,
    /// The least that the lights from each one on take beyond that price, J.
    beyond: Vec<f64>,
    /// The least that they take whatever their power, J.
    least: Vec<f64>,
}

impl Price {
    fn new(members: &[Member<'_>], per_power: f64) -> Self {
        let beyond = |member: &Member<'_>| {
            let settings = member.levels.power.iter().zip(&member.levels.energy_j);
            let beyond = settings.map(|(power, energy)| energy - per_power * member.share * power);
            beyond.fold(f64::INFINITY, f64::min)
        };
        let least =
            |member: &Member<'_>| member.levels.energy_j.iter().copied().fold(f64::INFINITY, f64::min);
        let from = |of: &dyn Fn(&Member<'_>) -> f64| {
            (0..=members.len()).map(|from| members[from..].iter().map(of).sum()).collect()
        };
        Self { per_power, beyond: from(&beyond), least: from(&least) }
    }

    /// The least energy that the lights from one on take for a power, J.
    fn of(&self, from: usize, power: f64) -> f64 {
        self.per_power.mul_add(power, self.beyond[from]).max(self.least[from])
    }

    /// The price that gives the greatest bound for a power. The bound is concave in the price.
    fn best(members: &[Member<'_>], power: f64) -> Self {
        let ratio = |member: &Member<'_>| member.levels.energy_j[0] / member.most();
        let [mut low, mut high] = [0.0, 16.0 * members.iter().map(ratio).fold(0.0, f64::max)];
        for _ in 0..HALVINGS {
            let third = (high - low) / 3.0;
            let [left, right] =
                [low + third, high - third].map(|price| Self::new(members, price).of(0, power));
            if left >= right {
                high -= third;
            } else {
                low += third;
            }
        }
        Self::new(members, 0.5 * (low + high))
    }
}

/// The least energy within a tolerance, from a first choice. `None` if no choice is within it, or none was found in
/// time.
pub fn least_energy(
    problem: &Problem,
    group: &[usize],
    tolerance: f64,
    start: &[usize],
    clock: &mut Clock<'_>,
) -> Option<Solution> {
    let group = OneGroup::new(problem, group);
    let window = group.window(|point| point.range(tolerance * point.weight));
    if window[0] > window[1] {
        return None;
    }
    let is_within = |choice: &[usize]| problem.worst_error_stops(choice) <= tolerance;
    let Cheapest { choice, bound, proven } =
        cheapest(&group, window, Some(start).filter(|start| is_within(start)), is_within, clock);
    if choice.is_empty() {
        return None;
    }
    let score = problem.score(&choice);
    Some(Solution {
        score,
        choice,
        bound: Bound::EnergyJ(bound.min(score.energy_j)),
        proven,
        ties_proven: proven,
        nodes: clock.nodes(),
    })
}

/// The choice with the least energy.
pub(super) struct Cheapest {
    /// Empty if none was found.
    pub choice: Vec<usize>,
    /// No choice takes less than this, J.
    pub bound: f64,
    /// Whether none takes less than the one found; if none was found, whether there is none.
    pub proven: bool,
}

/// The least energy of a sum in a window, of choices that are good enough, from one that is known to be.
pub(super) fn cheapest(
    group: &OneGroup<'_>,
    window: [f64; 2],
    known: Option<&[usize]>,
    is_within: impl Fn(&[usize]) -> bool,
    clock: &mut Clock<'_>,
) -> Cheapest {
    let price = Price::best(&group.members, window[0]);
    let bound = price.of(0, window[0]);
    let energy_j = known.map_or(f64::INFINITY, |known| group.problem.energy_j(known));
    let choice = known.unwrap_or_default().to_vec();
    let mut goal = LeastEnergy { group, choice, energy_j, is_within, window, price };
    group.walk_the_middle(window[0], &mut goal, clock);
    let mut proven = !goal.is_better(bound);
    if !proven {
        let list = group.list();
        group.fill(&list, &mut goal);
        proven = group.walk(&list, &mut goal, clock) || !goal.is_better(bound);
    }
    Cheapest { choice: goal.choice, bound, proven }
}

impl<W> LeastEnergy<'_, '_, W> {
    fn is_better(&self, energy_j: f64) -> bool {
        energy_j < self.energy_j * (1.0 - SAME_ENERGY)
    }
}

impl<W: Fn(&[usize]) -> bool> Goal for LeastEnergy<'_, '_, W> {
    fn window(&self) -> [f64; 2] {
        self.window
    }

    fn is_open(&self, Partial { count, power, energy_j }: Partial) -> bool {
        self.is_better(energy_j + self.price.of(count, self.window[0] - power))
    }

    fn visit(&mut self, list: &SumList<'_, '_>, settings: &[usize], partial: Partial) {
        let [least, most] = self.window.map(|end| end - partial.power);
        let first = list.first_from(least);
        // The price shuts out most settings without a look at the list's energies.
        let Some(power) = list.power(first) else { return };
        if !self.is_better(partial.energy_j + self.price.of(partial.count, power)) {
            return;
        }
        let Some((at, energy_j)) = list.cheapest(first, most) else { return };
        if !self.is_better(partial.energy_j + energy_j) {
            return;
        }
        let choice = self.group.choice(settings.iter().copied().chain(list.settings(at)));
        if (self.is_within)(&choice) {
            self.energy_j = self.group.problem.energy_j(&choice);
            self.choice = choice;
        }
    }

    fn is_done(&mut self, _: u64) -> bool {
        !self.is_better(self.price.of(0, self.window[0]))
    }
}
