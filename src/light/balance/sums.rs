//! Lights that light alike: their columns of gains are in proportion, so that only the sum of their light counts.
//! What settings of several such lights add up to, with the least energy for each sum.

use crate::light::balance::problem::Levels;

/// Powers closer than this, relative, are the same: far under what a worst error tells apart.
pub const SAME_POWER: f64 = 1e-12;
/// Most sums of a part, and most combinations of what is left over.
const PART: usize = 100_000;
const REST: usize = 4096;
/// Sums of one turn that are too many, whatever is asked for.
const MOST_FOUND: usize = 60_000;

/// A light of a group, and its light as a part of that of the group's first.
pub struct Member<'p> {
    /// Its settings.
    pub levels: &'p Levels,
    /// Its gain by that of the first.
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

/// Settings of a light are at most this many.
const BASE: u64 = 1 << 12;

/// All members at once: settings that make each sum, most power first.
#[derive(Debug, Clone, Default)]
pub struct Merged {
    /// The sums as settings of one light.
    pub levels: Levels,
    /// The setting of each member, for each sum.
    pub choices: Vec<Vec<usize>>,
    /// Whether no sum is left out.
    pub is_complete: bool,
}

/// The members of a group in up to three parts, each with its sums, least first: a sum of the whole is one of each.
pub struct Sums<'p> {
    members: Vec<Member<'p>>,
    /// The members of each part.
    parts: [Vec<usize>; 3],
    lists: [Vec<Sum>; 3],
    /// Members that are left over: they stay in the middle, and then not all sums are known.
    over: Vec<usize>,
}

/// How many sums lights have, at the most; of equal ones each combination once.
pub fn count(members: &[Member<'_>]) -> f64 {
    let mut count = 1.0;
    for (at, member) in members.iter().enumerate() {
        let before = members[..at].iter().filter(|other| other.is_same(member)).count() as f64;
        count *= (member.levels.power.len() as f64 + before) / (before + 1.0);
    }
    count
}

/// Least first; of the same power the one with least energy.
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
    choices.iter_mut().for_each(|choice| order(members, choice));
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

/// Of equal lights the first is the brightest.
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

    /// Adds a member to a part if its sums do not become too many.
    fn add(&mut self, part: usize, member: usize, most: usize) -> bool {
        let new = &self.members[member];
        // Of equal lights the later one is never brighter: each combination once.
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

    /// The least and the most power of all.
    pub fn ends(&self) -> [f64; 2] {
        let sum = |of: fn(&[f64]) -> f64| self.members.iter().map(|m| m.share * of(&m.levels.power)).sum();
        [sum(|power| power[power.len() - 1]), sum(|power| power[0])]
    }

    /// The ends alone, as settings: for a problem in which any power between them may be had.
    pub fn ends_alone(&self) -> Merged {
        let [least, most] = self.ends();
        Merged {
            levels: Levels { power: vec![most, least], energy_j: vec![0.0; 2] },
            choices: vec![vec![]; 2],
            is_complete: false,
        }
    }

    /// All sums, where they are few.
    pub fn all(&self) -> Merged {
        self.between([0.0, f64::INFINITY], usize::MAX, usize::MAX)
    }

    /// Whether an enumeration takes many turns.
    pub fn is_wide(&self) -> bool {
        self.lists[2].len() > 1 || !self.over.is_empty()
    }

    /// The sums between two powers, in turns, one for each sum of the rest: until there are so many, in at most so many
    /// turns.
    pub fn between(&self, [least, most]: [f64; 2], count: usize, turns: usize) -> Merged {
        let [first, second, rest] = &self.lists;
        let over = self.middle(0.5 * (least + most));
        let extra = self.sum_of(&over);
        let mut found: Vec<(Sum, [u64; 2])> = Vec::new();
        let mut is_complete = self.over.is_empty();
        // Of the rest the middle ones first: there lie most sums.
        let mut turn = 0;
        let most_found = count.max(MOST_FOUND);
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

    /// Sums spread evenly over the stops between two powers.
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

    /// Settings of the members left over, where the whole has so much of its power.
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

    /// Most power first, and of the same power the one with least energy.
    fn merged(&self, mut found: Vec<(Sum, [u64; 2])>, over: &[usize]) -> Merged {
        let by_power = |a: &(Sum, [u64; 2]), b: &(Sum, [u64; 2])| {
            b.0.power.total_cmp(&a.0.power).then((a.0.code, a.1).cmp(&(b.0.code, b.1)))
        };
        found.sort_unstable_by(by_power);
        found.dedup_by(|next, kept| {
            let is_same = next.0.power >= kept.0.power * (1.0 - SAME_POWER);
            if is_same && next.0.energy_j < kept.0.energy_j * (1.0 - SAME_POWER) {
                // The power stays that of the first, so that no chain of equals runs away.
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

    /// The settings of the members; equal ones in order, the brightest first.
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

/// The indices of a list, those in the middle first.
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
