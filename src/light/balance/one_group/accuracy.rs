//! The least worst error of a set that is one group; then the least sum of squares, then the least energy.

use super::{Goal, HALVINGS, OneGroup, Partial};
use crate::light::balance::{
    clock::Clock,
    problem::{Problem, SAME_SQUARES, SAME_WORST, Score},
    solution::{Bound, Solution},
    sum_list::SumList,
};

/// Nodes for ties once the worst error is proven, in a walk that can see them all and in one that cannot. Counted, so
/// that the same request has the same answer.
const TIES: u64 = 8192;
const TIES_IN_THE_MIDDLE: u64 = 1024;

/// The best choice so far.
struct Accuracy<'g, 'p> {
    group: &'g OneGroup<'p>,
    choice: Vec<usize>,
    score: Score,
    /// No sum has a lesser worst error.
    bound: f64,
    window: [f64; 2],
    /// Nodes for ties, and the nodes at which they are used up.
    ties: u64,
    end: Option<u64>,
}

/// The least worst error, from a first choice.
pub fn accuracy(problem: &Problem, group: &[usize], choice: Vec<usize>, clock: &mut Clock<'_>) -> Solution {
    let group = OneGroup::new(problem, group);
    let best = best_power(&group);
    let bound = problem.points.iter().map(|point| group.error(point, best).abs()).fold(0.0, f64::max);
    let score = problem.score(&choice);
    let mut goal = Accuracy {
        group: &group,
        choice,
        score,
        bound,
        window: [0.0; 2],
        ties: TIES_IN_THE_MIDDLE,
        end: None,
    };
    goal.narrow();
    let mut saw_all = false;
    if !(group.walk_the_middle(best, &mut goal, clock) && goal.is_proven()) {
        goal.ties = TIES;
        saw_all = group.walk(&group.list(), &mut goal, clock);
    }
    Solution {
        proven: saw_all || goal.is_proven(),
        ties_proven: saw_all && goal.is_convex(),
        bound: Bound::WorstStops(bound.min(goal.score.worst)),
        score: goal.score,
        choice: goal.choice,
        nodes: clock.nodes(),
    }
}

/// The sum with the least worst error: below it the worst point is too dark, above it too bright.
fn best_power(group: &OneGroup<'_>) -> f64 {
    // Within the limits.
    let within = group.window(|point| if point.is_limit() { point.range(0.0) } else { [0.0, f64::INFINITY] });
    let [mut low, mut high] = [group.ends[0], group.ends[1].min(within[1])];
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        let reached = group.problem.points.iter().filter(|point| group.gain(point) > 0.0);
        let (dark, bright) = reached.fold((0.0_f64, 0.0_f64), |(dark, bright), point| {
            let error = group.error(point, middle);
            (dark.max(-error), bright.max(error))
        });
        if bright < dark {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

impl Accuracy<'_, '_> {
    /// Whether the worst error is the least.
    fn is_proven(&self) -> bool {
        self.score.worst <= self.bound + SAME_WORST
    }

    fn squares(&self, power: f64) -> f64 {
        self.group.problem.points.iter().map(|point| self.group.error(point, power).powi(2)).sum()
    }

    /// The sums with no greater worst error than the best.
    fn no_worse(&self) -> [f64; 2] {
        self.group.window(|point| point.range(self.score.worst + SAME_WORST))
    }

    /// Narrows the window to what is as good as the best.
    fn narrow(&mut self) {
        self.window = self.no_worse();
        if self.is_proven() {
            self.narrow_by_squares();
        }
    }

    /// Cuts off sums with more squares than the best. If the squares have a second valley, it may be cut off too:
    /// then `is_convex` is false.
    fn narrow_by_squares(&mut self) {
        let [least, most] = self.window;
        let ends = [least.max(self.group.ends[0]), most.min(self.group.ends[1])];
        let [mut low, mut high] = ends;
        for _ in 0..HALVINGS {
            let third = (high - low) / 3.0;
            if self.squares(low + third) <= self.squares(high - third) {
                high -= third;
            } else {
                low += third;
            }
        }
        let best = 0.5 * (low + high);
        let level = self.score.squares + SAME_SQUARES;
        let edge = |end: f64, own: f64| {
            if self.squares(end) <= level {
                return own;
            }
            let [mut inside, mut outside] = [best, end];
            for _ in 0..HALVINGS {
                let middle = 0.5 * (inside + outside);
                if self.squares(middle) <= level {
                    inside = middle;
                } else {
                    outside = middle;
                }
            }
            outside
        };
        self.window = [edge(ends[0], least), edge(ends[1], most)];
    }

    /// Whether the sum of squares has one valley among the sums that are no worse: the square of an error is convex
    /// in light up to e times the target.
    fn is_convex(&self) -> bool {
        let most = self.no_worse()[1].min(self.group.ends[1]);
        let light = |point| self.group.error(point, most) / point.weight;
        self.group.problem.points.iter().all(|point| light(point) <= std::f64::consts::LOG2_E)
    }
}

impl Goal for Accuracy<'_, '_> {
    fn window(&self) -> [f64; 2] {
        self.window
    }

    fn is_open(&self, _: Partial) -> bool {
        true
    }

    fn visit(&mut self, list: &SumList<'_, '_>, settings: &[usize], partial: Partial) {
        let mut at = list.first_from(self.window[0] - partial.power);
        while list.power(at).is_some_and(|own| own <= self.window[1] - partial.power) {
            let choice = self.group.choice(settings.iter().copied().chain(list.settings(at)));
            let score = self.group.problem.score(&choice);
            if score.better_than(&self.score) {
                (self.choice, self.score) = (choice, score);
                self.narrow();
            }
            at += 1;
        }
    }

    fn is_done(&mut self, nodes: u64) -> bool {
        self.is_proven() && nodes > *self.end.get_or_insert(nodes + self.ties)
    }
}
