//! Lights with even steps of power, as on scales in per cent or joules: their sums are whole numbers of steps, so that
//! few are distinct.

use crate::light::balance::sums::{Member, Merged, merge_choices};

/// Most distinct sums, in steps.
const MAX_STEPS: usize = 1 << 14;
/// How near a power must be to a whole number of steps, as a part of full power.
const EVEN: f64 = 1e-12;
/// How near an energy must be to a line through all settings, as a part of the most energy.
const STRAIGHT: f64 = 1e-9;

/// Numbers of steps, as bits.
struct Reach(Vec<u64>);

impl Reach {
    fn has(&self, steps: usize) -> bool {
        self.0.get(steps / 64).is_some_and(|word| word >> (steps % 64) & 1 == 1)
    }

    /// Adds all numbers of another, each increased.
    fn add(&mut self, other: &Self, steps: usize) {
        let (words, bits) = (steps / 64, steps % 64);
        for (at, word) in other.0.iter().enumerate().filter(|(_, word)| **word != 0) {
            self.set(at + words, word << bits);
            if bits > 0 {
                self.set(at + words + 1, word >> (64 - bits));
            }
        }
    }

    fn set(&mut self, at: usize, word: u64) {
        if let Some(own) = self.0.get_mut(at) {
            *own |= word;
        }
    }
}

/// All sums of lights with even steps. `None` if the steps are not even, there are too many, or the energy is not a
/// straight line over the power: then it depends on the settings that make a sum.
pub fn sums(members: &[Member<'_>]) -> Option<Merged> {
    let step = step(members)?;
    if !is_straight(members) {
        return None;
    }
    let steps: Vec<Vec<usize>> = members.iter().map(|member| whole(member, step)).collect::<Option<_>>()?;
    let most: usize = steps.iter().map(|steps| steps[0]).sum();
    if most >= MAX_STEPS {
        return None;
    }
    // What the first lights reach: none of them, one, two and so on.
    let empty = || Reach(vec![0; most / 64 + 1]);
    let mut reach = vec![empty()];
    reach[0].set(0, 1);
    for steps in &steps {
        let mut next = empty();
        for &steps in steps {
            next.add(&reach[reach.len() - 1], steps);
        }
        reach.push(next);
    }
    let choice = |mut sum: usize| {
        let mut choice = vec![0; members.len()];
        let mut before = most;
        for (light, steps) in steps.iter().enumerate().rev() {
            // As little as can be of the last lights.
            before -= steps[0];
            let least = sum.saturating_sub(before);
            let end = steps.partition_point(|&steps| steps >= least);
            let can = |&at: &usize| sum >= steps[at] && reach[light].has(sum - steps[at]);
            choice[light] = (0..end).rev().find(can)?;
            sum -= steps[choice[light]];
        }
        Some(choice)
    };
    let reached = (0..=most).rev().filter(|&sum| reach[members.len()].has(sum));
    Some(merge_choices(members, reached.map(choice).collect::<Option<_>>()?))
}

/// The greatest step that all powers are whole multiples of, from their light's least power. `None` if it is too small
/// to tell from rounding.
fn step(members: &[Member<'_>]) -> Option<f64> {
    let full = members.iter().map(Member::most).fold(0.0, f64::max);
    let mut step = 0.0_f64;
    for member in members {
        for power in &member.levels.power {
            let (mut a, mut b) = (member.share * power - member.least(), step);
            // Euclid's algorithm, with room for rounding.
            while b > EVEN * full {
                let rest = a % b;
                (a, b) = (b, if b - rest <= EVEN * full { 0.0 } else { rest });
            }
            step = a;
            if step > 0.0 && full / step > MAX_STEPS as f64 {
                return None;
            }
        }
    }
    (step > 0.0).then_some(step)
}

/// The powers of a light in steps above its least.
fn whole(member: &Member<'_>, step: f64) -> Option<Vec<usize>> {
    let steps = |power: &f64| {
        let above = member.share * power - member.least();
        let steps = (above / step).round();
        ((steps * step - above).abs() <= EVEN * member.most()).then_some(steps as usize)
    };
    member.levels.power.iter().map(steps).collect()
}

/// Whether every light's energy rises with its power at one rate for all.
fn is_straight(members: &[Member<'_>]) -> bool {
    let rate = |member: &Member<'_>| {
        let [first, .., last] = member.levels.energy_j[..] else { return None };
        Some((first - last) / (member.most() - member.least()))
    };
    let Some(rate) = members.iter().find_map(rate) else { return true };
    members.iter().all(|Member { levels, share, .. }| {
        let line = |power: f64| levels.energy_j[0] + rate * share * (power - levels.power[0]);
        let mut settings = levels.power.iter().zip(&levels.energy_j);
        settings.all(|(power, energy)| (line(*power) - energy).abs() <= STRAIGHT * levels.energy_j[0])
    })
}
