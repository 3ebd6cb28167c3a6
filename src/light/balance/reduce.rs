//! Makes a problem smaller before the search: lights that reach no point are left out, and lights that light alike, of
//! which only the sum counts, become one.

use crate::light::balance::{
    lattice,
    problem::{Levels, Point, Problem},
    sums::{Member, Merged, SAME_POWER, Sums, count},
};

/// Tolerance for gains in proportion, relative.
const ALIKE: f64 = 1e-12;
/// Most sums for which lights become one light before the search.
pub const MOST: usize = 8192;

/// The origin of a light of the reduced problem.
enum Source {
    One(usize),
    /// The lights that became this one, and their settings for each of its settings.
    Many(Vec<usize>, Vec<Vec<usize>>),
}

/// A problem with fewer lights, and the way back.
pub struct Reduced {
    /// The problem.
    pub problem: Problem,
    sources: Vec<Source>,
    /// Lights that reach no point, and their settings.
    idle: Vec<(usize, usize)>,
}

/// Whether a light reaches a metering point.
pub fn reaches_a_point(problem: &Problem, light: usize) -> bool {
    problem.metered().any(|point| point.gain[light] > 0.0)
}

/// Groups of two or more lights whose gains are in proportion.
pub fn alike(problem: &Problem) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for light in 0..problem.lights.len() {
        if !reaches_a_point(problem, light) {
            continue;
        }
        match groups.iter_mut().find(|group| is_alike(problem, group[0], light)) {
            Some(group) => group.push(light),
            None => groups.push(vec![light]),
        }
    }
    groups.retain(|group| group.len() > 1);
    groups
}

/// The gain of a light relative to that of another, at the point that the other reaches best.
fn share(problem: &Problem, of: usize, light: usize) -> f64 {
    let best = problem.points.iter().max_by(|a, b| a.gain[of].total_cmp(&b.gain[of]));
    best.map_or(1.0, |point| point.gain[light] / point.gain[of])
}

fn is_alike(problem: &Problem, of: usize, light: usize) -> bool {
    let share = share(problem, of, light);
    let off = |point: &Point| (point.gain[light] - share * point.gain[of]).abs();
    share > 0.0 && problem.points.iter().all(|point| off(point) <= ALIKE * share * point.gain[of])
}

/// The lights of a group with their shares of the first one's light.
pub fn members<'p>(problem: &'p Problem, group: &[usize]) -> Vec<Member<'p>> {
    let mut members: Vec<Member<'p>> = Vec::with_capacity(group.len());
    for (class, &light) in group.iter().enumerate() {
        let (levels, share) = (&problem.lights[light], share(problem, group[0], light));
        let is_same =
            |other: &&Member<'_>| (other.share - share).abs() <= SAME_POWER * share && other.levels == levels;
        let class = members.iter().find(is_same).map_or(class, |other| other.class);
        members.push(Member { levels, share, class });
    }
    members
}

/// Whether energy is in proportion to light over all settings of all lights.
fn is_proportional(members: &[Member<'_>]) -> bool {
    let first = members[0].levels.energy_j[0] / members[0].levels.power[0];
    members.iter().all(|member| {
        let mut settings = member.levels.power.iter().zip(&member.levels.energy_j);
        settings.all(|(power, energy)| (energy - first * power * member.share).abs() <= 1e-9 * energy)
    })
}

impl Reduced {
    /// Leaves out lights that reach no point, and joins lights that light alike if their sums are few. If energy counts
    /// first, only if it is in proportion to light: otherwise it would no longer be a linear row.
    pub fn new(problem: &Problem, by_energy: bool) -> Self {
        let groups = alike(problem).into_iter().filter_map(|group| {
            let members = members(problem, &group);
            if by_energy && !is_proportional(&members) {
                return None;
            }
            let merged = if count(&members) <= MOST as f64 {
                Sums::new(members).all()
            } else {
                lattice::sums(&members)?
            };
            Some((group, merged))
        });
        Self::with(problem, groups.collect())
    }

    /// Leaves out lights that reach no point, and makes one light of each group.
    pub fn with(problem: &Problem, mut groups: Vec<(Vec<usize>, Merged)>) -> Self {
        let mut reduced =
            Self { problem: Problem { lights: vec![], points: vec![] }, sources: vec![], idle: vec![] };
        // The light that gives each light of the reduced problem its gains.
        let mut columns = Vec::new();
        for (light, levels) in problem.lights.iter().enumerate() {
            if !reaches_a_point(problem, light) {
                let is_limited = problem.points.iter().any(|point| point.gain[light] > 0.0);
                let index = if is_limited { levels.power.len() - 1 } else { least_energy(levels) };
                reduced.idle.push((light, index));
                continue;
            }
            if let Some(at) = groups.iter().position(|(group, _)| group[0] == light) {
                let (group, merged) = groups.swap_remove(at);
                reduced.problem.lights.push(merged.levels);
                reduced.sources.push(Source::Many(group, merged.choices));
                columns.push(light);
            } else if !reduced.has(light) && !groups.iter().any(|(group, _)| group.contains(&light)) {
                reduced.problem.lights.push(levels.clone());
                reduced.sources.push(Source::One(light));
                columns.push(light);
            }
        }
        // Lights left out give light to no point, but take their part of a limit.
        let taken = |point: &Point| {
            let idle = reduced.idle.iter();
            idle.map(|&(light, index)| point.gain[light] * problem.lights[light].power[index]).sum::<f64>()
        };
        let point = |point: &Point| Point {
            gain: columns.iter().map(|&light| point.gain[light]).collect(),
            ambient: point.ambient + taken(point),
            ..point.clone()
        };
        reduced.problem.points = problem.points.iter().map(point).collect();
        reduced
    }

    fn has(&self, light: usize) -> bool {
        self.sources.iter().any(|source| matches!(source, Source::Many(group, _) if group.contains(&light)))
    }

    /// The index in the reduced problem of the group with this first light.
    pub fn place(&self, first: usize) -> Option<usize> {
        self.sources.iter().position(|source| matches!(source, Source::Many(group, _) if group[0] == first))
    }

    /// Least energy of the lights left out, J.
    pub fn idle_energy_j(&self, problem: &Problem) -> f64 {
        self.idle.iter().map(|&(light, index)| problem.lights[light].energy_j[index]).sum()
    }

    /// A choice for the whole problem.
    pub fn back(&self, choice: &[usize]) -> Vec<usize> {
        let merged: usize = self.sources.iter().map(|source| source.lights().len()).sum();
        let mut whole = vec![0; merged + self.idle.len()];
        for (source, &index) in self.sources.iter().zip(choice) {
            match source {
                Source::One(light) => whole[*light] = index,
                Source::Many(lights, choices) => {
                    for (&light, &setting) in lights.iter().zip(&choices[index]) {
                        whole[light] = setting;
                    }
                }
            }
        }
        for &(light, index) in &self.idle {
            whole[light] = index;
        }
        whole
    }
}

impl Source {
    fn lights(&self) -> &[usize] {
        match self {
            Self::One(light) => std::slice::from_ref(light),
            Self::Many(lights, _) => lights,
        }
    }
}

/// The setting with the least energy; of equals, the one with the least light.
fn least_energy(levels: &Levels) -> usize {
    let all = (0..levels.energy_j.len()).rev();
    all.min_by(|&a, &b| levels.energy_j[a].total_cmp(&levels.energy_j[b])).unwrap_or(0)
}
