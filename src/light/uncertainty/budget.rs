//! The budget of a set: what makes its light uncertain, and what follows for points, for ratios, and for all together.
//!
//! To the first order a part counts by the share of the light that it is about, and parts that lights have in common add
//! before they are squared (JCGM 100:2008, 5.1.2 and 5.2.2). Where the shares themselves move, or the two halves of a part
//! differ, the ends are quantiles of draws (JCGM 101:2008). Chances are by draws, but for what all light has in common,
//! which is integrated in closed form.

mod chances;
mod drawn;

use std::cell::OnceCell;

pub use self::chances::{Alike, Chances, bounds};
use self::drawn::DrawnPoint;
use super::{Cause, UncertainPart, Uncertainty, draws};
use crate::light::{
    id::Id,
    quantity::half_widths::{HalfWidth, SIGMAS},
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
    pub(super) lights: Vec<(String, Option<Id>)>,
    /// The share of each light at each point, and last that of the ambient light: by point. All 0 at a dark point.
    pub(super) shares: Vec<Vec<f64>>,
    pub(super) sources: Vec<Source>,
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

/// First-order ends whose errors add up to less than this are kept, stops.
const FIRST_ORDER: f64 = 0.015;
/// The mean of a normal distribution of two halves, for each stop that its half-widths differ: 1/(1.96·√(2π)).
const MEAN_OF_HALVES: f64 = 0.203_54;
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
        let mut stops = self.drawn_at(point).to_vec();
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
        let stops = self.drawn_at(point).iter().zip(self.drawn_at(other));
        let stops = stops.map(|(stops, other)| stops - other);
        Some(found.with_ends(draws::ends(stops.collect())))
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

/// An effect at a point, by the share of its light: its two ends, stops.
struct Felt {
    source: usize,
    light: usize,
    ends: [f64; 2],
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
