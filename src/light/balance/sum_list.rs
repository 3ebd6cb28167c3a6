//! The sums of a few lights that light alike, sorted, with a table that finds the sums near a power at once.

use std::cell::OnceCell;

use crate::light::balance::sums::{Member, count};

/// Bits for the setting of one light: at most 4096 settings.
const BITS: u32 = 12;
/// Most lights in a list of all sums.
const MAX_LIGHTS: usize = 3;
/// Most sums in such a list: three lights with a hundred settings have 171,700.
const MAX_SUMS: usize = 200_000;

/// The sums of some lights, the least power first.
pub struct SumList<'p, 'm> {
    members: &'m [Member<'p>],
    is_whole: bool,
    power: Vec<f64>,
    /// The settings of each sum, [`BITS`] each, the first light's the most significant.
    codes: Vec<u64>,
    /// For each sum, the sum with the least energy among it and those after it, and that energy.
    cheapest: OnceCell<Vec<(u32, f64)>>,
    /// The first sum of each bucket. Buckets divide the power evenly, one for each sum.
    starts: Vec<u32>,
    /// Power of the first and of the last sum.
    ends: [f64; 2],
    buckets_per_power: f64,
}

/// How many lights at the end of `members` a list of all sums can take, at least one.
pub fn lights_that_fit(members: &[Member<'_>]) -> usize {
    let fits = |lights: &usize| count(&members[members.len() - lights..]) <= MAX_SUMS as f64;
    (1..=MAX_LIGHTS.min(members.len())).take_while(fits).last().unwrap_or(1)
}

/// Adds the sums of lights to a sum of those before them. `first` is the brightest setting of the next light.
fn add(
    sums: &mut Vec<(f64, u64)>,
    members: &[Member<'_>],
    window: [f64; 2],
    most_sums: usize,
    (power, code, first): (f64, u64, usize),
) {
    if sums.len() >= most_sums {
        return;
    }
    let Some((member, after)) = members.split_first() else {
        sums.push((power, code));
        return;
    };
    let least: f64 = after.iter().map(Member::least).sum();
    let equal = after.iter().take_while(|other| other.is_same(member)).count();
    let most: f64 = after[equal..].iter().map(Member::most).sum();
    let [low, high] = window.map(|end| end - power);
    let levels = &member.levels.power;
    let first = first + levels[first..].partition_point(|part| member.share * part + least > high);
    for (index, part) in levels.iter().enumerate().skip(first) {
        let own = member.share * part;
        // Equal lights that follow are no brighter.
        if own * (1 + equal) as f64 + most < low {
            break;
        }
        let first = if equal > 0 { index } else { 0 };
        add(sums, after, window, most_sums, (power + own, code << BITS | index as u64, first));
    }
}

impl<'p, 'm> SumList<'p, 'm> {
    /// All sums of some lights. Settings of equal lights count once, whatever their order.
    pub fn new(members: &'m [Member<'p>]) -> Self {
        Self { is_whole: true, ..Self::between(members, [0.0, f64::INFINITY], usize::MAX) }
    }

    /// Sums of at most five lights between two powers, up to a number of them; possibly none.
    pub fn between(members: &'m [Member<'p>], window: [f64; 2], most_sums: usize) -> Self {
        let mut sums = Vec::new();
        add(&mut sums, members, window, most_sums, (0.0, 0, 0));
        let ends = sums
            .iter()
            .fold([f64::INFINITY, 0.0_f64], |[least, most], &(power, _)| [least.min(power), most.max(power)]);
        let width = ends[1] - ends[0];
        let mut list = Self {
            members,
            is_whole: false,
            power: vec![],
            codes: vec![],
            cheapest: OnceCell::new(),
            starts: vec![],
            ends,
            buckets_per_power: if width > 0.0 { sums.len() as f64 / width } else { 0.0 },
        };
        list.sort(sums);
        list
    }

    /// Sorts sums into buckets, then each bucket.
    fn sort(&mut self, sums: Vec<(f64, u64)>) {
        let mut starts = vec![0_u32; self.bucket(self.ends[1]) + 2];
        for sum in &sums {
            starts[self.bucket(sum.0) + 1] += 1;
        }
        for at in 1..starts.len() {
            starts[at] += starts[at - 1];
        }
        let mut next = starts.clone();
        let mut sorted = vec![(0.0, 0); sums.len()];
        for sum in sums {
            let at = &mut next[self.bucket(sum.0)];
            sorted[*at as usize] = sum;
            *at += 1;
        }
        for ends in starts.windows(2) {
            sorted[ends[0] as usize..ends[1] as usize]
                .sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        }
        (self.power, self.codes) = sorted.into_iter().unzip();
        self.starts = starts;
    }

    fn bucket(&self, power: f64) -> usize {
        ((power - self.ends[0]) * self.buckets_per_power) as usize
    }

    /// The first sum with at least a power.
    pub fn first_from(&self, power: f64) -> usize {
        let Some(&start) = self.starts.get(self.bucket(power)) else { return self.power.len() };
        let start = start as usize;
        start + self.power[start..].iter().take_while(|&&own| own < power).count()
    }

    /// The power of a sum. `None` after the last.
    pub fn power(&self, at: usize) -> Option<f64> {
        self.power.get(at).copied()
    }

    /// The sum with the least energy from one sum up to a power, and its energy.
    pub fn cheapest(&self, first: usize, most: f64) -> Option<(usize, f64)> {
        let &(at, energy_j) = self.cheapest.get_or_init(|| self.cheapest_after_each()).get(first)?;
        if self.power[at as usize] <= most {
            return Some((at as usize, energy_j));
        }
        let within = (first..self.power.len()).take_while(|&at| self.power[at] <= most);
        within.map(|at| (at, self.energy_j(at))).min_by(|a, b| a.1.total_cmp(&b.1))
    }

    fn cheapest_after_each(&self) -> Vec<(u32, f64)> {
        let mut best = (0, f64::INFINITY);
        let mut cheapest = vec![best; self.codes.len()];
        for (at, cheapest) in cheapest.iter_mut().enumerate().rev() {
            let energy_j = self.energy_j(at);
            if energy_j <= best.1 {
                best = (at as u32, energy_j);
            }
            *cheapest = best;
        }
        cheapest
    }

    /// Power of the first and of the last sum.
    pub const fn ends(&self) -> [f64; 2] {
        self.ends
    }

    /// Whether these are all sums of the lights.
    pub const fn is_whole(&self) -> bool {
        self.is_whole
    }

    /// The lights.
    pub const fn members(&self) -> &'m [Member<'p>] {
        self.members
    }

    /// The settings of a sum, light by light.
    pub fn settings(&self, at: usize) -> impl Iterator<Item = usize> {
        let code = self.codes[at];
        let lights = self.members.len() as u32;
        (0..lights).rev().map(move |place| (code >> (place * BITS) & ((1 << BITS) - 1)) as usize)
    }

    fn energy_j(&self, at: usize) -> f64 {
        self.members.iter().zip(self.settings(at)).map(|(member, index)| member.levels.energy_j[index]).sum()
    }
}
