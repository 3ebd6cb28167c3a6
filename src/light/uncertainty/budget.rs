//! The budget of a set: what makes its light uncertain, and what follows for points, for ratios, and for all together.
//!
//! To the first order a part counts by the share of the light that it is about, and parts that lights have in common add
//! before they are squared (JCGM 100:2008, 5.1.2 and 5.2.2). Where the shares themselves move, or the two halves of a part
//! differ, the ends are quantiles of draws (JCGM 101:2008). Chances are by draws, but for what all light has in common,
//! which is integrated in closed form.

use std::{borrow::Cow, cell::OnceCell, collections::HashMap};

use super::{
    Cause, UncertainPart, Uncertainty,
    draws::{self, Lattice},
};
use crate::light::{
    id::Id,
    quantity::{
        Stops,
        half_widths::{HalfWidth, SIGMAS},
    },
};

/// What a source of doubt is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// The light of one or more lights, wherever it falls.
    Light,
    /// The light of one light at one point.
    Pair,
}

/// A source of doubt.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// Its cause.
    pub cause: Cause,
    /// What it is about.
    pub scope: Scope,
    /// The row of the table of half-widths that it has because nothing was stated.
    pub usual: Option<&'static HalfWidth>,
    /// Its effects: they come together, each in proportion to its half-width.
    pub effects: Vec<Effect>,
}

/// The effect of a source on the light of one light at one point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effect {
    /// The index of the point.
    pub point: usize,
    /// The index of the light; the number of lights for ambient light.
    pub light: usize,
    /// Half-widths down and up, stops.
    pub half_widths: [f64; 2],
}

impl Effect {
    /// Whether it has no effect at all.
    pub fn is_nothing(&self) -> bool {
        self.half_widths.iter().all(|half_width| *half_width <= 0.0)
    }
}

/// What makes the light at points uncertain.
#[derive(Debug, Clone)]
pub struct Budget {
    /// The lights.
    lights: Vec<(String, Option<Id>)>,
    /// The share of each light at each point, and last that of the ambient light: by point. All 0 at a dark point.
    shares: Vec<Vec<f64>>,
    sources: Vec<Source>,
    whole: Whole,
    /// The sources of each point with their effects there, in their order.
    at_point: Vec<Vec<(usize, Effect)>>,
    drawn: OnceCell<Vec<DrawnPoint>>,
}

/// What all light has in common: the meter against the camera.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Whole {
    /// Its half-width, stops.
    pub half_width: f64,
    /// The row of the table that it is out of, if it is.
    pub usual: Option<&'static HalfWidth>,
}

/// The chances that points are within their bounds.
#[derive(Debug, Clone, PartialEq)]
pub struct Chances {
    /// Of each point.
    pub points: Vec<f64>,
    /// Of all together.
    pub all: f64,
}

/// Points whose light has to be alike.
#[derive(Debug, Clone, PartialEq)]
pub struct Alike {
    /// The points, each with what is added to its light, stops.
    pub points: Vec<(usize, f64)>,
    /// How much the greatest may differ from the least, stops.
    pub within: f64,
}

/// What is known of the lights of a set before it is metered: standard deviations in stops, the meter's offset left out.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// The sources that are about lights wherever their light falls, independent of each other: what several lights have
    /// in common is one source with a standard deviation on each.
    pub sources: Vec<PriorSource>,
    /// What differs from point to point because of where a light stands: by point, then by light.
    pub pairs: Vec<Vec<f64>>,
    /// What the rating of a light leaves open where it was not metered, if it was metered elsewhere: by point, then by light.
    pub unmetered: Vec<Vec<f64>>,
}

/// A source of doubt about lights.
#[derive(Debug, Clone, PartialEq)]
pub struct PriorSource {
    /// Its cause.
    pub cause: Cause,
    /// Its standard deviation on each light, 0 where it has none.
    pub deviations: Vec<f64>,
}

/// First-order ends whose errors add up to less than this are kept, stops.
const FIRST_ORDER: f64 = 0.015;
/// The mean of a normal distribution of two halves, for each stop that its half-widths differ: 1/(1.96·√(2π)).
const MEAN_OF_HALVES: f64 = 0.203_54;
/// What differs from point to point and is less than this is not drawn by itself, stops.
const SMALL: f64 = 0.35;
/// Half-widths that differ by less than this are even, stops.
const EVEN: f64 = 0.02;
/// Effects that change the light at a point by less than this are not drawn, stops.
const NEGLIGIBLE: f64 = 1e-4;

impl Budget {
    /// The budget of lights with these shares of the light at each point, the ambient light's last.
    pub fn new(
        lights: Vec<(String, Option<Id>)>,
        shares: Vec<Vec<f64>>,
        sources: Vec<Source>,
        whole: Whole,
    ) -> Self {
        let mut at_point = vec![Vec::new(); shares.len()];
        for (index, source) in sources.iter().enumerate() {
            for effect in &source.effects {
                at_point[effect.point].push((index, *effect));
            }
        }
        Self { lights, shares, sources, whole, at_point, drawn: OnceCell::new() }
    }

    /// Whether any light reaches a point.
    pub fn is_lit(&self, point: usize) -> bool {
        self.shares[point].iter().any(|share| *share > 0.0)
    }

    /// The uncertainty of the light at a point; `None` if there is none.
    pub fn at(&self, point: usize) -> Option<Uncertainty> {
        self.with_whole_at(point, self.whole.half_width)
    }

    /// The same if the meter were compared with the camera, to this half-width.
    pub fn with_whole_at(&self, point: usize, whole: f64) -> Option<Uncertainty> {
        self.is_lit(point).then_some(())?;
        let mut parts = self.parts(&[(point, 1.0)]);
        parts.push(UncertainPart::new(Cause::Meter, [whole; 2]));
        let found = Uncertainty::first_order(parts)?;
        if self.left_out(point) < FIRST_ORDER {
            return Some(found);
        }
        let mut stops = self.drawn_at(point);
        self.lattice().add(0, &mut stops, [whole; 2]);
        Some(found.with_ends(draws::ends(stops)))
    }

    /// The uncertainty of the light at one point against that at another, in which cancels what they have in common; `None`
    /// if one of the two gets none.
    pub fn between(&self, point: usize, other: usize) -> Option<Uncertainty> {
        (self.is_lit(point) && self.is_lit(other)).then_some(())?;
        let found = Uncertainty::first_order(self.parts(&[(point, 1.0), (other, -1.0)]))?;
        if self.left_out(point) + self.left_out(other) < FIRST_ORDER {
            return Some(found);
        }
        let stops = self.drawn_at(point).into_iter().zip(self.drawn_at(other));
        let stops = stops.map(|(stops, other)| stops - other);
        Some(found.with_ends(draws::ends(stops.collect())))
    }

    /// The chances that points are within their bounds: the least and the greatest stops between which the light of each
    /// may lie against what is expected of it. A dark point never is.
    pub fn chances(&self, bounds: &[[f64; 2]]) -> Chances {
        let all: Vec<(usize, [f64; 2])> = bounds.iter().copied().enumerate().collect();
        let points = all.iter().map(|(point, bounds)| self.chance_at(*point, *bounds)).collect();
        Chances { points, all: self.chance_of_all(&all, &[]) }
    }

    /// The chance that a point is within its bounds.
    pub fn chance_at(&self, point: usize, [least, greatest]: [f64; 2]) -> f64 {
        if !self.is_lit(point) {
            return 0.0;
        }
        let DrawnPoint { stops, own: (_, [low, high]) } = &self.drawn()[point];
        // Between which the rest may lie: what is common to all, and what is of this point only if it is even.
        let (stops, rest) = if (high - low).abs() < EVEN {
            (Cow::Borrowed(stops), self.whole.half_width.hypot(f64::midpoint(*low, *high)))
        } else {
            (Cow::Owned(self.drawn_at(point)), self.whole.half_width)
        };
        let rest = deviation(rest);
        let chance = |stops: &f32| {
            let stops = f64::from(*stops);
            chance_between([least - stops, greatest - stops], rest)
        };
        (stops.iter().map(chance).sum::<f64>() / stops.len() as f64).clamp(0.0, 1.0)
    }

    /// The chance that all these points are within their bounds, and the light at points that have to be alike differs by no
    /// more than it may.
    pub fn chance_of_all(&self, bounds: &[(usize, [f64; 2])], alike: &[Alike]) -> f64 {
        if let ([(point, bounds)], []) = (bounds, alike) {
            return self.chance_at(*point, *bounds);
        }
        if bounds.iter().any(|(point, _)| !self.is_lit(*point)) {
            return 0.0;
        }
        let lattice = self.lattice();
        let stops: Vec<Vec<f32>> = bounds.iter().map(|(point, _)| self.drawn_at(*point)).collect();
        // Between which what is common to all may lie.
        let mut all = vec![[f64::NEG_INFINITY, f64::INFINITY]; lattice.count()];
        for ((_, [least, greatest]), stops) in bounds.iter().zip(&stops) {
            for ([low, high], stops) in all.iter_mut().zip(stops) {
                let stops = f64::from(*stops);
                (*low, *high) = (low.max(least - stops), high.min(greatest - stops));
            }
        }
        for Alike { points, within } in alike {
            let with = |(point, more): &(usize, f64)| {
                let place = bounds.iter().position(|(other, _)| other == point)?;
                Some((&stops[place], *more))
            };
            let points: Vec<(&Vec<f32>, f64)> = points.iter().filter_map(with).collect();
            for (draw, [low, _]) in all.iter_mut().enumerate() {
                let light = || points.iter().map(|(stops, more)| f64::from(stops[draw]) + more);
                let spread = light().fold(f64::MIN, f64::max) - light().fold(f64::MAX, f64::min);
                if spread > *within {
                    *low = f64::INFINITY;
                }
            }
        }
        let whole = deviation(self.whole.half_width);
        let sum: f64 = all.into_iter().map(|ends| chance_between(ends, whole)).sum();
        (sum / lattice.count() as f64).clamp(0.0, 1.0)
    }

    /// What is known of the lights before they are metered together. A light that was metered alone is known by the least sure
    /// of its readings, and by its rating only where it was not.
    pub fn prior(&self) -> Prior {
        let lights = self.lights.len();
        let variance = |[low, high]: [f64; 2]| low.mul_add(low, high * high) / 2.0 / (SIGMAS * SIGMAS);
        let none = vec![vec![0.0; lights]; self.shares.len()];
        let (mut pairs, mut unmetered) = (none.clone(), none);
        let mut sources = Vec::new();
        let mut readings = vec![0.0_f64; lights];
        let of_lights = |effect: &&Effect| effect.light < lights;
        for source in self.sources.iter().filter(|source| source.cause == Cause::Reading) {
            for effect in source.effects.iter().filter(of_lights) {
                readings[effect.light] = readings[effect.light].max(variance(effect.half_widths));
            }
        }
        for source in self.sources.iter().filter(|source| source.cause != Cause::Reading) {
            let is_own = matches!(source.cause, Cause::Setting | Cause::Repeatability);
            // The mean over the points that the light reaches.
            let mut sums = vec![[0.0; 2]; lights];
            for effect in source.effects.iter().filter(of_lights) {
                let (Effect { point, light, .. }, own) = (*effect, variance(effect.half_widths));
                if source.scope == Scope::Pair {
                    pairs[point][light] += own;
                } else if readings[light] > 0.0 && !is_own {
                    unmetered[point][light] += own;
                } else {
                    sums[light][0] += own;
                    sums[light][1] += 1.0;
                }
            }
            if source.scope == Scope::Light {
                let deviation = |[sum, count]: [f64; 2]| f64::sqrt(sum / f64::max(count, 1.0));
                let deviations = sums.into_iter().map(deviation).collect();
                sources.push(PriorSource { cause: source.cause, deviations });
            }
        }
        for (light, variance) in readings.into_iter().enumerate().filter(|(_, variance)| *variance > 0.0) {
            let mut deviations = vec![0.0; lights];
            deviations[light] = variance.sqrt();
            sources.push(PriorSource { cause: Cause::Reading, deviations });
        }
        for variance in pairs.iter_mut().chain(&mut unmetered).flatten() {
            *variance = variance.sqrt();
        }
        Prior { sources, pairs, unmetered }
    }

    /// The longer end at a point to the first order, stops, if a light were metered there alone to this half-width.
    pub fn rough(&self, point: usize, light: usize, reading: f64) -> f64 {
        let kept = self.effects(&[(point, 1.0)]).into_iter();
        let kept = kept
            .filter(|felt| felt.light != light || self.sources[felt.source].cause == Cause::Repeatability);
        let kept: Vec<Felt> = kept.collect();
        let other = self.whole.half_width.hypot(self.shares[point][light] * reading).powi(2);
        let squares = by_source(&kept).map(|felt| widths(felt).map(|width| width * width));
        let [low, high] = squares.fold([other; 2], |sums, own| [0, 1].map(|side| sums[side] + own[side]));
        low.max(high).sqrt()
    }

    /// The rows of the table of half-widths that matter at some point: those with at least this share of its variance.
    pub fn usual(&self, least_share: f64) -> Vec<&'static HalfWidth> {
        let mut all = Vec::new();
        for point in (0..self.shares.len()).filter(|point| self.is_lit(*point)) {
            let whole = (self.whole.usual, square([self.whole.half_width; 2]));
            self.add_usual(&mut all, vec![whole], &[(point, 1.0)], least_share);
        }
        all
    }

    /// The rows that matter for the light at one point against that at another.
    pub fn usual_between(&self, point: usize, other: usize, least_share: f64) -> Vec<&'static HalfWidth> {
        let mut all = Vec::new();
        self.add_usual(&mut all, Vec::new(), &[(point, 1.0), (other, -1.0)], least_share);
        all
    }

    /// Adds those that matter for points against each other, beside rows with their variances.
    fn add_usual(
        &self,
        all: &mut Vec<&'static HalfWidth>,
        mut rows: Vec<(Option<&'static HalfWidth>, f64)>,
        signs: &[(usize, f64)],
        least_share: f64,
    ) {
        for felt in by_source(&self.effects(signs)) {
            let (usual, variance) = (self.sources[felt[0].source].usual, square(widths(felt)));
            match rows.iter_mut().find(|(row, _)| *row == usual) {
                Some((_, sum)) => *sum += variance,
                None => rows.push((usual, variance)),
            }
        }
        let total: f64 = rows.iter().map(|(_, variance)| variance).sum();
        let noticed =
            rows.into_iter().filter(|(_, variance)| *variance > 0.0 && *variance >= least_share * total);
        for row in noticed.filter_map(|(row, _)| row) {
            if !all.contains(&row) {
                all.push(row);
            }
        }
    }

    /// The effects that are felt at points against each other, each with its sign: in the order of their sources.
    fn effects(&self, signs: &[(usize, f64)]) -> Vec<Felt> {
        let felt = |(point, sign): &(usize, f64)| {
            let (shares, sign) = (&self.shares[*point], *sign);
            self.at_point[*point].iter().filter(|(_, effect)| shares[effect.light] > 0.0).map(
                move |(source, effect)| {
                    let by = sign * shares[effect.light];
                    let [low, high] = effect.half_widths;
                    Felt { source: *source, light: effect.light, ends: [-by * low, by * high] }
                },
            )
        };
        let mut all: Vec<Felt> = signs.iter().flat_map(felt).collect();
        if signs.len() > 1 {
            all.sort_by_key(|felt| felt.source);
        }
        all
    }

    /// The parts of the uncertainty of points against each other, without what all light has in common.
    fn parts(&self, signs: &[(usize, f64)]) -> Vec<UncertainPart> {
        let part = |felt: &[Felt]| {
            let light = felt[0].light;
            let light =
                felt.iter().all(|other| other.light == light).then(|| self.lights.get(light).cloned());
            let cause = self.sources[felt[0].source].cause;
            UncertainPart { light: light.flatten(), ..UncertainPart::new(cause, widths(felt)) }
        };
        by_source(&self.effects(signs)).map(part).collect()
    }

    /// What the first order leaves out at a point, stops: the means of uneven parts, and of shares that move (the second
    /// order: half of ln 2·s·(1 - s) times the variance).
    fn left_out(&self, point: usize) -> f64 {
        let shares = &self.shares[point];
        let mut variances = vec![0.0; shares.len()];
        for (_, effect) in &self.at_point[point] {
            let width = 0.5 * (effect.half_widths[0] + effect.half_widths[1]) / SIGMAS;
            variances[effect.light] += width * width;
        }
        let uneven = by_source(&self.effects(&[(point, 1.0)]))
            .map(widths)
            .map(|[low, high]| (high - low).abs())
            .sum::<f64>();
        let moved = shares.iter().zip(variances).map(|(share, variance)| share * (1.0 - share) * variance);
        uneven.mul_add(MEAN_OF_HALVES, 0.5 * std::f64::consts::LN_2 * moved.sum::<f64>())
    }

    fn lattice(&self) -> Lattice {
        let lit = |shares: &Vec<f64>| shares.iter().filter(|share| **share > 0.0).count();
        Lattice::for_pairs(self.shares.iter().map(lit).sum())
    }

    fn drawn(&self) -> &Vec<DrawnPoint> {
        self.drawn.get_or_init(|| self.draw())
    }

    /// Draws of the light at a point against what is expected, stops, without what all light has in common.
    fn drawn_at(&self, point: usize) -> Vec<f32> {
        let DrawnPoint { stops, own: (part, half_widths) } = &self.drawn()[point];
        let mut stops = stops.clone();
        self.lattice().add(*part, &mut stops, *half_widths);
        stops
    }

    fn draw(&self) -> Vec<DrawnPoint> {
        let columns = self.lights.len() + 1;
        let lattice = self.lattice();
        let Drawn { parts, at_points } = self.merged();
        let mut on_pairs: Vec<Vec<(usize, [f64; 2])>> = vec![Vec::new(); self.shares.len() * columns];
        for (index, part) in parts.iter().enumerate() {
            for effect in part {
                on_pairs[effect.point * columns + effect.light].push((index, effect.half_widths));
            }
        }
        // At most points the same parts reach a light, and its factor is kept.
        let none: &[(usize, [f64; 2])] = &[];
        let mut kept = vec![(none, vec![1.0; lattice.count()]); columns];
        let mut at_point = |point: usize| {
            let mut light = vec![0.0; lattice.count()];
            let mut lit = self.shares[point].iter().enumerate().filter(|(_, share)| **share > 0.0);
            let own = (parts.len() + 1 + point, at_points[point]);
            // The stops of a light that is alone are those of its parts.
            if let (Some((column, _)), None) = (lit.next(), lit.next()) {
                for (index, widths) in &on_pairs[point * columns + column] {
                    lattice.add(index + 1, &mut light, *widths);
                }
                return DrawnPoint { stops: light, own };
            }
            for (column, share) in self.shares[point].iter().enumerate().filter(|(_, share)| **share > 0.0) {
                let own = on_pairs[point * columns + column].as_slice();
                let (of, factor) = &mut kept[column];
                if *of != own {
                    *of = own;
                    factor.fill(0.0);
                    // The first component is that of what all light has in common.
                    for (index, widths) in own {
                        lattice.add(index + 1, factor, *widths);
                    }
                    for stops in factor.iter_mut() {
                        *stops = draws::exp2(*stops);
                    }
                }
                let share = *share as f32;
                light.iter_mut().zip(factor).for_each(|(sum, factor)| *sum += share * *factor);
            }
            for light in &mut light {
                *light = draws::log2(*light);
            }
            DrawnPoint { stops: light, own }
        };
        (0..self.shares.len()).map(&mut at_point).collect()
    }

    /// What is drawn: the effects of each source that can be felt, what matters most first, even parts that are about the
    /// same as one; and at each point what is small and differs from point to point, to the first order.
    fn merged(&self) -> Drawn {
        let share = |effect: &Effect| self.shares[effect.point][effect.light];
        let largest = |effect: &Effect| effect.half_widths[0].max(effect.half_widths[1]);
        let size = |effect: &Effect| share(effect) * largest(effect);
        let mut parts: Vec<Vec<Effect>> = Vec::new();
        let mut at_points = vec![[0.0_f64; 2]; self.shares.len()];
        let mut even: HashMap<Vec<(usize, usize)>, usize> = HashMap::new();
        for source in &self.sources {
            let felt: Vec<Effect> =
                source.effects.iter().filter(|effect| size(effect) > NEGLIGIBLE).copied().collect();
            let Some(first) = felt.first() else { continue };
            if source.scope == Scope::Pair && felt.len() == 1 && largest(first) < SMALL {
                for (sum, own) in at_points[first.point].iter_mut().zip(first.half_widths) {
                    *sum = sum.hypot(share(first) * own);
                }
                continue;
            }
            let [low, high] = first.half_widths;
            // Of several effects, only those of equal parts are in proportion.
            let is_even = (low - high).abs() < NEGLIGIBLE
                && felt.iter().all(|effect| {
                    let [own_low, own_high] = effect.half_widths;
                    (own_low - low).abs().max((own_high - high).abs()) < NEGLIGIBLE * NEGLIGIBLE
                });
            if !is_even {
                parts.push(felt);
                continue;
            }
            let about = felt.iter().map(|effect| (effect.point, effect.light)).collect();
            if let Some(&index) = even.get(&about) {
                for effect in &mut parts[index] {
                    effect.half_widths = effect.half_widths.map(|own| own.hypot(low));
                }
            } else {
                even.insert(about, parts.len());
                parts.push(felt);
            }
        }
        let weight = |part: &Vec<Effect>| part.iter().map(|effect| size(effect).powi(2)).sum::<f64>();
        parts.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
        Drawn { parts, at_points }
    }

    /// The budget of one point if a light were metered alone there, with a reading of this half-width: what is left of the
    /// light is the reading, and what changes from flash to flash.
    #[must_use]
    pub fn with_reading(&self, point: usize, light: usize, half_width: f64) -> Self {
        let reading = Effect { point: 0, light, half_widths: [half_width; 2] };
        let mut sources =
            vec![Source { cause: Cause::Reading, scope: Scope::Pair, usual: None, effects: vec![reading] }];
        for source in &self.sources {
            let is_kept = |effect: &&Effect| {
                let is_metered = effect.light == light && source.cause != Cause::Repeatability;
                effect.point == point && !is_metered
            };
            let kept = source.effects.iter().filter(is_kept);
            let effects = kept.map(|effect| Effect { point: 0, ..*effect }).collect();
            sources.push(Source { effects, ..source.clone() });
        }
        Self::new(self.lights.clone(), vec![self.shares[point].clone()], sources, self.whole)
    }

    /// The half-width of what all light has in common, stops.
    pub const fn whole(&self) -> Whole {
        self.whole
    }

    /// The lights that reach a point.
    pub fn lights_at(&self, point: usize) -> impl Iterator<Item = usize> {
        (0..self.lights.len()).filter(move |light| self.shares[point][*light] > 0.0)
    }
}

/// The draws of a point.
#[derive(Debug, Clone)]
struct DrawnPoint {
    /// The light against what is expected, stops, by the parts that are drawn.
    stops: Vec<f32>,
    /// What is of this point only, to the first order: the index of its draws, and its half-widths.
    own: (usize, [f64; 2]),
}

/// What is drawn.
struct Drawn {
    /// The effects of each part.
    parts: Vec<Vec<Effect>>,
    /// The half-widths of what is of one point only, stops.
    at_points: Vec<[f64; 2]>,
}

/// An effect at a point, by the share of its light: its two ends, stops.
struct Felt {
    source: usize,
    light: usize,
    ends: [f64; 2],
}

/// The standard deviation of a half-width; of one that is exact the least that can be divided by.
fn deviation(half_width: f64) -> f64 {
    (half_width / SIGMAS).max(1e-9)
}

/// The chance that a normal deviate with this standard deviation is between two ends.
fn chance_between([low, high]: [f64; 2], deviation: f64) -> f64 {
    (draws::below(high / deviation) - draws::below(low / deviation)).max(0.0)
}

/// Twice the variance of half-widths, on a scale of its own.
fn square([low, high]: [f64; 2]) -> f64 {
    low.mul_add(low, high * high)
}

/// The effects of each source.
fn by_source(all: &[Felt]) -> impl Iterator<Item = &[Felt]> {
    all.chunk_by(|one, other| one.source == other.source)
}

/// The half-widths of the effects of one source together: they come together, and so add, or cancel.
fn widths(felt: &[Felt]) -> [f64; 2] {
    let [one, other] = [0, 1].map(|end| felt.iter().map(|felt| felt.ends[end]).sum::<f64>());
    [(-one.min(other)).max(0.0), one.max(other).max(0.0)]
}

/// The bounds of [`Budget::chances`] for an error that is expected, stops, and a tolerance, on the sides that count.
pub fn bounds(error: f64, tolerance: Stops, [dark, bright]: [bool; 2]) -> [f64; 2] {
    let tolerance = tolerance.get();
    [
        if dark { -tolerance - error } else { f64::NEG_INFINITY },
        if bright { tolerance - error } else { f64::INFINITY },
    ]
}
