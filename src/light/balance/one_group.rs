//! Sets whose lights all light alike, and have too many sums to list: six equal units with seventy settings have two
//! hundred million.
//!
//! The light at every point then depends on one number only, the sum of the lights' powers. The worst error falls up
//! to the best sum and rises after it, so whatever is as good as a known answer lies in a window of sums. A walk tries
//! the settings of all lights but three, and looks up what the three must add in a sorted list of their sums. Each
//! better answer narrows the window. Equal lights are tried from the brightest to the dimmest, so the list stands for
//! the dimmest: most settings of the others leave too much to add, and are cut off early.

mod accuracy;
mod least_energy;

pub use self::{accuracy::accuracy, least_energy::least_energy};

use crate::light::balance::{
    clock::Clock,
    problem::{Point, Problem},
    reduce::members,
    sum_list::{SumList, lights_that_fit},
    sums::{Member, count, order},
};

/// If a walk has more settings to try than this, it starts with those that are likely to hold an answer.
const LARGE: f64 = 3e6;
/// For that start: lights in the list, its sums at most, how far they lie from their share of the power, and nodes.
const MIDDLE_LIGHTS: usize = 4;
const MIDDLE_SUMS: usize = 50_000;
const MIDDLE: f64 = 0.1;
const MIDDLE_NODES: u64 = 1 << 14;
/// Halvings of an interval: more than a number has digits.
const HALVINGS: usize = 64;

/// A set as one number: the sum of its lights' powers, in terms of the first light's.
struct OneGroup<'p> {
    problem: &'p Problem,
    /// The lights: those that take least energy for their power first, equal ones side by side.
    members: Vec<Member<'p>>,
    /// The index of each member in the problem.
    lights: Vec<usize>,
    /// The least and the most power of all lights together.
    ends: [f64; 2],
}

/// What a walk looks for.
trait Goal {
    /// Sums worth looking at.
    fn window(&self) -> [f64; 2];

    /// Whether these settings of the first lights can lead to anything better.
    fn is_open(&self, partial: Partial) -> bool;

    /// Completes settings of the first lights by sums of the list.
    fn visit(&mut self, list: &SumList<'_, '_>, settings: &[usize], partial: Partial);

    /// Whether the walk may end, after so many nodes.
    fn is_done(&mut self, nodes: u64) -> bool;
}

/// Settings of the first lights: how many, and what they add up to.
#[derive(Clone, Copy)]
struct Partial {
    count: usize,
    power: f64,
    energy_j: f64,
}

impl<'p> OneGroup<'p> {
    fn new(problem: &'p Problem, group: &[usize]) -> Self {
        let mut members: Vec<(usize, Member<'p>)> =
            group.iter().copied().zip(members(problem, group)).collect();
        let power_per_j = |member: &Member<'_>| member.most() / member.levels.energy_j[0];
        members
            .sort_by(|(_, a), (_, b)| power_per_j(b).total_cmp(&power_per_j(a)).then(a.class.cmp(&b.class)));
        let (lights, members): (Vec<usize>, Vec<Member<'p>>) = members.into_iter().unzip();
        let ends = [members.iter().map(Member::least).sum(), members.iter().map(Member::most).sum()];
        Self { problem, members, lights, ends }
    }

    /// Light at a point for each unit of power.
    fn gain(&self, point: &Point) -> f64 {
        point.gain[self.lights[0]] / self.members[0].share
    }

    /// Weighted error of a point at a sum, stops.
    fn error(&self, point: &Point, power: f64) -> f64 {
        point.weight * point.error_stops(self.gain(point).mul_add(power, point.ambient))
    }

    /// The sums that leave every point in its range of light. Without any, the first end is above the second.
    fn window(&self, range: impl Fn(&Point) -> [f64; 2]) -> [f64; 2] {
        let mut window = [0.0_f64, f64::INFINITY];
        for point in &self.problem.points {
            let [least, most] = point.of_lights(range(point));
            let gain = self.gain(point);
            if gain > 0.0 {
                window = [window[0].max(least / gain), window[1].min(most / gain)];
            } else if least > 0.0 || most < 0.0 {
                return [f64::INFINITY, 0.0];
            }
        }
        window
    }

    /// A list of the sums of the last lights, as many as fit.
    fn list(&self) -> SumList<'p, '_> {
        SumList::new(&self.members[self.members.len() - lights_that_fit(&self.members)..])
    }

    /// Whether a walk may have too many settings to try.
    fn is_large(&self) -> bool {
        count(&self.members[..self.members.len() - lights_that_fit(&self.members)]) > LARGE
    }

    /// Tries all settings that may lead to a sum in the goal's window. Whether none was left out.
    fn walk(&self, list: &SumList<'_, '_>, goal: &mut impl Goal, clock: &mut Clock<'_>) -> bool {
        let first = self.members.len() - list.members().len();
        let after = (0..first).map(|at| After::new(&self.members, list, at)).collect();
        let mut settings = vec![0; first];
        let walk = Walk { members: &self.members, list, after };
        walk.branch(goal, clock, &mut settings, Partial { count: 0, power: 0.0, energy_j: 0.0 })
    }

    /// If there are too many settings to try, tries those of equal lights of which half give about half of a power.
    /// Sums of four lights lie close together there, so an answer that needs no other is soon found. Whether there
    /// were too many.
    fn walk_the_middle(&self, power: f64, goal: &mut impl Goal, clock: &mut Clock<'_>) -> bool {
        if !self.is_large() || self.members.iter().any(|other| !other.is_same(&self.members[0])) {
            return false;
        }
        let last = &self.members[self.members.len() - MIDDLE_LIGHTS.min(self.members.len() / 2)..];
        let share = last.iter().map(Member::most).sum::<f64>() / self.ends[1];
        let window = [1.0 - MIDDLE, 1.0 + MIDDLE].map(|part| part * share * power);
        let list = SumList::between(last, window, MIDDLE_SUMS);
        let mut part = clock.part(MIDDLE_NODES);
        self.walk(&list, goal, &mut part);
        clock.join(&part);
        true
    }

    /// Tries one choice: each light as bright as it can be below the window, then the list.
    fn fill(&self, list: &SumList<'_, '_>, goal: &mut impl Goal) {
        let first = self.members.len() - list.members().len();
        let mut settings = Vec::with_capacity(first);
        let mut partial = Partial { count: first, power: 0.0, energy_j: 0.0 };
        for (at, Member { levels, share, .. }) in self.members[..first].iter().enumerate() {
            let after = self.members[at + 1..].iter().map(Member::least).sum::<f64>();
            let room = (goal.window()[0] - partial.power - after) / share;
            let index = levels.power.partition_point(|&own| own > room).min(levels.power.len() - 1);
            partial.power += share * levels.power[index];
            partial.energy_j += levels.energy_j[index];
            settings.push(index);
        }
        goal.visit(list, &settings, partial);
    }

    /// The choice for the problem, equal lights the brightest first.
    fn choice(&self, settings: impl Iterator<Item = usize>) -> Vec<usize> {
        let mut settings: Vec<usize> = settings.collect();
        order(&self.members, &mut settings);
        let mut choice = vec![0; settings.len()];
        for (&light, setting) in self.lights.iter().zip(settings) {
            choice[light] = setting;
        }
        choice
    }
}

/// What follows a light.
struct After {
    /// Equal lights that come next, before the list.
    equal: f64,
    /// The least power of all that follow.
    least: f64,
    /// The most power of those that are not equal, without the list.
    most: f64,
    /// The most power of the list.
    list: f64,
    /// Lights of the list that are no brighter than this one; infinite unless all are.
    dimmer_in_list: f64,
    /// Whether the light before is equal.
    is_repeated: bool,
}

impl After {
    fn new(members: &[Member<'_>], list: &SumList<'_, '_>, at: usize) -> Self {
        let own = &members[at];
        let after = &members[at + 1..members.len() - list.members().len()];
        let equal = after.iter().take_while(|other| other.is_same(own)).count();
        // A list of some sums only need not have those of the dimmest lights.
        let is_dimmer = list.is_whole() && list.members().iter().all(|other| other.is_same(own));
        Self {
            equal: equal as f64,
            least: after.iter().map(Member::least).sum::<f64>() + list.ends()[0],
            most: after[equal..].iter().map(Member::most).sum(),
            list: list.ends()[1],
            dimmer_in_list: if is_dimmer { list.members().len() as f64 } else { f64::INFINITY },
            is_repeated: at > 0 && members[at - 1].is_same(own),
        }
    }
}

/// A walk over the settings of the lights that are not in a list.
struct Walk<'w, 'p> {
    members: &'w [Member<'p>],
    list: &'w SumList<'p, 'w>,
    after: Vec<After>,
}

impl Walk<'_, '_> {
    /// Tries the settings of the next light. Whether none was left out.
    fn branch(
        &self,
        goal: &mut impl Goal,
        clock: &mut Clock<'_>,
        settings: &mut [usize],
        partial: Partial,
    ) -> bool {
        let Partial { count, power, energy_j } = partial;
        let Some(after) = self.after.get(count) else {
            goal.visit(self.list, settings, partial);
            return true;
        };
        if count + 1 == self.after.len() {
            clock.node();
            if clock.is_out() || goal.is_done(clock.nodes()) {
                return false;
            }
        }
        let Member { levels, share, .. } = &self.members[count];
        let first = if after.is_repeated { settings[count - 1] } else { 0 };
        let most = (goal.window()[1] - power - after.least) / share;
        let first = first + levels.power[first..].partition_point(|&own| own > most);
        for index in first..levels.power.len() {
            let own = share * levels.power[index];
            let list = (own * after.dimmer_in_list).min(after.list);
            if power + own * (1.0 + after.equal) + after.most + list < goal.window()[0] {
                break;
            }
            settings[count] = index;
            let next =
                Partial { count: count + 1, power: power + own, energy_j: energy_j + levels.energy_j[index] };
            if goal.is_open(next) && !self.branch(goal, clock, settings, next) {
                return false;
            }
        }
        true
    }
}
