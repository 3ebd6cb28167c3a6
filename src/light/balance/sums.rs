//! Sums of lights that light alike: their gains are in proportion, so that only the sum of their light counts. Each sum
//! keeps the settings that make it with the least energy.

use crate::light::balance::problem::Levels;

/// Powers closer than this, relative, are the same: far below the smallest difference in worst error that counts.
pub const SAME_POWER: f64 = 1e-12;
/// Most sums of each of the first two parts, and of the third.
const PART: usize = 100_000;
const REST: usize = 4096;
/// Most sums of one enumeration.
const MAX_FOUND: usize = 60_000;

/// A light of a group.
pub struct Member<'p> {
    /// Its settings.
    pub levels: &'p Levels,
    /// Its gain relative to that of the group's first light.
    pub share: f64,
    /// Lights of one class have the same settings at the same price, and the same share.
    pub class: usize,
}

impl Member<'_> {
    /// Whether two lights have the same settings at the same price.
    pub const fn is_same(&self, other: &Self) -> bool {
        self.class == other.class
    }

    /// The least power.
    pub fn least(&self) -> f64 {
        self.share * self.levels.power[self.levels.power.len() - 1]
    }

    /// The most power.
    pub fn most(&self) -> f64 {
        self.share * self.levels.power[0]
    }
}

/// A sum of settings.
#[derive(Debug, Clone, Copy)]
struct Sum {
    power: f64,
    energy_j: f64,
    /// The settings of a part's members, the first the most significant, in base [`BASE`].
    code: u64,
}

/// Most settings of a light.
const BASE: u64 = 1 << 12;

/// Sums of all lights of a group, most power first.
#[derive(Debug, Clone, Default)]
pub struct Merged {
    /// The sums as settings of one light.
    pub levels: Levels,
    /// The setting of each member, for each sum.
    pub choices: Vec<Vec<usize>>,
    /// Whether no sum is left out.
    pub is_complete: bool,
}

/// The lights of a group in up to three parts, each with its sums, least power first. A sum of all lights is one sum of
/// each part.
pub struct Sums<'p> {
    members: Vec<Member<'p>>,
    /// The members of each part.
    parts: [Vec<usize>; 3],
    lists: [Vec<Sum>; 3],
    /// Lights that fit into no part. They stay at one setting, so that not all sums are found.
    over: Vec<usize>,
}

/// The number of combinations of settings, those of equal lights counted once whatever their order.
pub fn count(members: &[Member<'_>]) -> f64 {
    let mut count = 1.0;
    for (at, member) in members.iter().enumerate() {
        let before = members[..at].iter().filter(|other| other.is_same(member)).count() as f64;
        count *= (member.levels.power.len() as f64 + before) / (before + 1.0);
    }
    count
}

/// Sorts by power, the least first, and keeps the least energy of each power.
fn sort(part: &mut Vec<Sum>) {
    let by_power = |a: &Sum, b: &Sum| {
        a.power.total_cmp(&b.power).then(a.energy_j.total_cmp(&b.energy_j)).then(a.code.cmp(&b.code))
    };
    part.sort_unstable_by(by_power);
    part.dedup_by(|next, kept| {
        next.power <= kept.power * (1.0 + SAME_POWER) && next.energy_j >= kept.energy_j
    });
}

/// The sums that choices make, as settings of one light.
pub fn merge_choices(members: &[Member<'_>], mut choices: Vec<Vec<usize>>) -> Merged {
    for choice in &mut choices {
        order(members, choice);
    }
    let total = |choice: &Vec<usize>, of: fn(&Member<'_>, usize) -> f64| {
        members.iter().zip(choice).map(|(member, &index)| of(member, index)).sum()
    };
    let power = |member: &Member<'_>, index: usize| member.share * member.levels.power[index];
    let energy_j = |member: &Member<'_>, index: usize| member.levels.energy_j[index];
    Merged {
        levels: Levels {
            power: choices.iter().map(|choice| total(choice, power)).collect(),
            energy_j: choices.iter().map(|choice| total(choice, energy_j)).collect(),
        },
        choices,
        is_complete: true,
    }
}

/// Orders the settings of equal lights, the brightest first.
pub fn order(members: &[Member<'_>], choice: &mut [usize]) {
    for at in 1..choice.len() {
        let mut here = at;
        for before in (0..at).rev() {
            if members[before].is_same(&members[here]) && choice[before] > choice[here] {
                choice.swap(before, here);
                here = before;
            }
        }
    }
}

impl<'p> Sums<'p> {
    /// The parts of a group.
    pub fn new(members: Vec<Member<'p>>) -> Self {
        let mut sums = Self {
            members,
            parts: [vec![], vec![], vec![]],
            lists: [(); 3].map(|()| vec![Sum { power: 0.0, energy_j: 0.0, code: 0 }]),
            over: vec![],
        };
        for member in 0..sums.members.len() {
            let shorter = usize::from(sums.lists[1].len() < sums.lists[0].len());
            let tried = [(shorter, PART), (1 - shorter, PART), (2, REST)];
            if !tried.into_iter().any(|(part, most)| sums.add(part, member, most)) {
                sums.over.push(member);
            }
        }
        let [first, second, rest] = &mut sums.lists;
        sort(first);
        let same = |(a, b): (&usize, &usize)| sums.members[*a].is_same(&sums.members[*b]);
        if sums.parts[0].len() == sums.parts[1].len() && sums.parts[0].iter().zip(&sums.parts[1]).all(same) {
            second.clone_from(first);
        } else {
            sort(second);
        }
        sort(rest);
        sums
    }

    /// Adds a light to a part unless its sums become too many. Whether it did.
    fn add(&mut self, part: usize, member: usize, most: usize) -> bool {
        let new = &self.members[member];
        // A later equal light is never brighter, so that each combination comes once.
        let ordered = self.parts[part].last().is_some_and(|&last| self.members[last].is_same(new));
        let from = |sum: &Sum| if ordered { (sum.code % BASE) as usize } else { 0 };
        let levels = new.levels;
        let count: usize = self.lists[part].iter().map(|sum| levels.power.len() - from(sum)).sum();
        if count > most || self.parts[part].len() >= 5 || levels.power.len() as u64 > BASE {
            return false;
        }
        let share = new.share;
        self.lists[part] = self.lists[part]
            .iter()
            .flat_map(|sum| {
                (from(sum)..levels.power.len()).map(move |index| Sum {
                    power: sum.power + share * levels.power[index],
                    energy_j: sum.energy_j + levels.energy_j[index],
                    code: sum.code * BASE + index as u64,
                })
            })
            .collect();
        self.parts[part].push(member);
        true
    }

    /// The least and the most power of all lights.
    pub fn ends(&self) -> [f64; 2] {
        let sum = |of: fn(&[f64]) -> f64| self.members.iter().map(|m| m.share * of(&m.levels.power)).sum();
        [sum(|power| power[power.len() - 1]), sum(|power| power[0])]
    }

    /// The least and the most power only, for a problem in which any power between them is possible.
    pub fn ends_alone(&self) -> Merged {
        let [least, most] = self.ends();
        Merged {
            levels: Levels { power: vec![most, least], energy_j: vec![0.0; 2] },
            choices: vec![vec![]; 2],
            is_complete: false,
        }
    }

    /// All sums. For groups with few of them.
    pub fn all(&self) -> Merged {
        self.between([0.0, f64::INFINITY], usize::MAX, usize::MAX)
    }

    /// Whether an enumeration takes more than one turn.
    pub fn is_wide(&self) -> bool {
        self.lists[2].len() > 1 || !self.over.is_empty()
    }

    /// The sums between two powers. Each turn takes one sum of the third part; stops after `turns` turns, or once there
    /// are `count` sums.
    pub fn between(&self, [least, most]: [f64; 2], count: usize, turns: usize) -> Merged {
        let [first, second, rest] = &self.lists;
        // A sum at an end may be rounded to beyond it.
        let [least, most] = [least * (1.0 - SAME_POWER), most * (1.0 + SAME_POWER)];
        let over = self.middle(0.5 * (least + most));
        let extra = self.sum_of(&over);
        let mut found: Vec<(Sum, [u64; 2])> = Vec::new();
        let mut is_complete = self.over.is_empty();
        // The middle sums of the third part come first: most sums lie there.
        let mut turn = 0;
        let most_found = count.max(MAX_FOUND);
        let ends = [first, second].map(|part| [part[0].power, part[part.len() - 1].power]);
        'all: for r in from_the_middle(rest.len()) {
            let base = rest[r].power + extra.power;
            if base + ends[0][0] + ends[1][0] > most || base + ends[0][1] + ends[1][1] < least {
                continue;
            }
            turn += 1;
            if turn > turns || turn > 1 && found.len() >= count {
                is_complete = false;
                break;
            }
            let (mut start, mut end) = (second.len(), second.len());
            for a in first {
                let [low, high] = [least, most].map(|power| power - base - a.power);
                while start > 0 && second[start - 1].power >= low {
                    start -= 1;
                }
                while end > 0 && second[end - 1].power > high {
                    end -= 1;
                }
                let window = &second[start.min(end)..end];
                if found.len() + window.len() > most_found {
                    is_complete = false;
                    break 'all;
                }
                for b in window {
                    let power = base + a.power + b.power;
                    let energy_j = rest[r].energy_j + extra.energy_j + a.energy_j + b.energy_j;
                    found.push((Sum { power, energy_j, code: a.code }, [b.code, rest[r].code]));
                }
            }
        }
        let mut merged = self.merged(found, &over);
        merged.is_complete = is_complete;
        merged
    }

    /// A sample of sums, spread evenly in stops between two powers.
    pub fn spread(&self, [least, most]: [f64; 2], count: usize) -> Merged {
        let [first, second, rest] = &self.lists;
        let ends = self.ends();
        let [least, most] = [least.max(ends[0]), most.min(ends[1])];
        let floor = least.max(1e-6 * most);
        let mut found = Vec::with_capacity(count + 2);
        let over = self.middle(0.5 * (least + most));
        let extra = self.sum_of(&over);
        let near = |part: &[Sum], power: f64| {
            let after = part.partition_point(|sum| sum.power < power).min(part.len() - 1);
            let before = after.saturating_sub(1);
            if power - part[before].power < part[after].power - power { before } else { after }
        };
        for step in 0..=count {
            let power = floor * (most / floor).powf(step as f64 / count as f64);
            let part = ((power - ends[0]) / (ends[1] - ends[0]).max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
            let at = |part_of: &[Sum]| {
                part_of[0].power + part * (part_of[part_of.len() - 1].power - part_of[0].power)
            };
            let r = &rest[near(rest, at(rest))];
            let a = &first[near(first, at(first))];
            let b = &second[near(second, power - extra.power - r.power - a.power)];
            let power = extra.power + r.power + a.power + b.power;
            let energy_j = extra.energy_j + r.energy_j + a.energy_j + b.energy_j;
            found.push((Sum { power, energy_j, code: a.code }, [b.code, r.code]));
        }
        self.merged(found, &over)
    }

    /// Settings for the lights that fit into no part, in proportion to a power of all.
    fn middle(&self, power: f64) -> Vec<usize> {
        let part = power / self.ends()[1];
        let nearest = |&member: &usize| {
            let open = &self.members[member].levels.power;
            open.partition_point(|&power| power > part * open[0]).min(open.len() - 1)
        };
        self.over.iter().map(nearest).collect()
    }

    fn sum_of(&self, over: &[usize]) -> Sum {
        let mut sum = Sum { power: 0.0, energy_j: 0.0, code: 0 };
        for (&member, &index) in self.over.iter().zip(over) {
            let Member { levels, share, .. } = &self.members[member];
            sum.power += share * levels.power[index];
            sum.energy_j += levels.energy_j[index];
        }
        sum
    }

    /// Sorts sums, most power first, and keeps the least energy of each power.
    fn merged(&self, mut found: Vec<(Sum, [u64; 2])>, over: &[usize]) -> Merged {
        let by_power = |a: &(Sum, [u64; 2]), b: &(Sum, [u64; 2])| {
            b.0.power.total_cmp(&a.0.power).then((a.0.code, a.1).cmp(&(b.0.code, b.1)))
        };
        found.sort_unstable_by(by_power);
        found.dedup_by(|next, kept| {
            let is_same = next.0.power >= kept.0.power * (1.0 - SAME_POWER);
            if is_same && next.0.energy_j < kept.0.energy_j * (1.0 - SAME_POWER) {
                // Keep the first one's power, so that a chain of near equals cannot drift.
                *kept = (Sum { power: kept.0.power, ..next.0 }, next.1);
            }
            is_same
        });
        Merged {
            levels: Levels {
                power: found.iter().map(|(sum, _)| sum.power).collect(),
                energy_j: found.iter().map(|(sum, _)| sum.energy_j).collect(),
            },
            choices: found.iter().map(|(sum, [b, rest])| self.choice([sum.code, *b, *rest], over)).collect(),
            is_complete: false,
        }
    }

    /// The settings of the lights; equal lights the brightest first.
    fn choice(&self, codes: [u64; 3], over: &[usize]) -> Vec<usize> {
        let mut choice = vec![0; self.members.len()];
        for (part, mut code) in self.parts.iter().zip(codes) {
            for &member in part.iter().rev() {
                choice[member] = (code % BASE) as usize;
                code /= BASE;
            }
        }
        for (&member, &index) in self.over.iter().zip(over) {
            choice[member] = index;
        }
        order(&self.members, &mut choice);
        choice
    }
}

/// The indices of a list, starting in the middle.
fn from_the_middle(count: usize) -> impl Iterator<Item = usize> {
    let middle = count / 2;
    (0..=count)
        .flat_map(move |off| {
            let after = (middle + off < count).then_some(middle + off);
            let before = (off > 0).then(|| middle.checked_sub(off)).flatten();
            [after, before]
        })
        .flatten()
}
