//! Light added and taken away, and the ratio of two readings.
//!
//! Light adds, and goes with the square of an f-number or a guide number, so N = √(ΣN²). Sources: APEX (published: CIPA
//! DC-008) for f-numbers, ISO 1230 for guide numbers; the two ways of counting a lighting ratio are common practice.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::quantity::{FNumber, GuideFeet, GuideMetres, Number, Stops, marks::Step, nominal::Nominal};

/// Less than this part of all the light that was added counts as none: rounding.
const NOTHING: f64 = 1e-9;

/// Readings of one kind.
#[derive(Debug, Clone, PartialEq)]
pub enum Readings {
    /// Apertures.
    FNumbers(Vec<FNumber>),
    /// Guide numbers.
    Guides(Vec<GuideMetres>),
}

impl Readings {
    /// The light of each, with f/1 or guide number 1 as 1.
    fn light(&self) -> Vec<f64> {
        match self {
            Self::FNumbers(all) => all.iter().map(|f_number| f_number.squared()).collect(),
            Self::Guides(all) => all.iter().map(|guide| guide.get().powi(2)).collect(),
        }
    }
}

/// What is left when light is added and taken away.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Combined {
    /// Whether there is as much light as is taken away.
    pub feasible: bool,
    /// The f-number of the light that is left; absent for guide numbers, and if nothing is left.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub f_number: Option<Nominal>,
    /// The guide number of the light that is left, metres at ISO 100; absent for f-numbers, and if nothing is left.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub guide_number_m: Option<GuideMetres>,
    /// The same in feet.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub guide_number_ft: Option<GuideFeet>,
    /// How much more light that is than the first one added, stops; null if nothing is left.
    pub stops: Option<Stops>,
    /// How much more light is taken away than there is, stops; 0 if there is enough.
    pub shortfall_stops: Stops,
}

/// Adds light, and takes light away. Both are of one kind; `add` has at least one.
///
/// ```
/// use stopwright::light::{measure::readings::{Readings, combine}, quantity::{FNumber, marks::Step}};
/// let f = |value: f64| FNumber::new_unchecked(value);
/// // √(8² + 8²)
/// let twice = combine(&Readings::FNumbers(vec![f(8.0), f(8.0)]), &Readings::FNumbers(vec![]), Step::Third);
/// assert_eq!(twice.stops.map(|stops| stops.get()), Some(1.0));
/// ```
pub fn combine(add: &Readings, subtract: &Readings, step: Step) -> Combined {
    let added = add.light();
    let (total, taken) = (added.iter().sum::<f64>(), subtract.light().iter().sum::<f64>());
    let left = total - taken;
    let is_nothing = left < NOTHING * total;
    let feasible = left >= -NOTHING * total;
    let root = (!is_nothing).then(|| left.sqrt());
    let guide = root.filter(|_| matches!(add, Readings::Guides(_))).map(GuideMetres::new_unchecked);
    let f_number = root.filter(|_| matches!(add, Readings::FNumbers(_))).map(FNumber::new_unchecked);
    Combined {
        feasible,
        f_number: f_number.map(|f_number| Nominal::f_number(f_number, step)),
        guide_number_m: guide,
        guide_number_ft: guide.map(GuideFeet::of),
        stops: root.and_then(|_| Some(Stops::new_unchecked((left / added.first()?).log2()))),
        shortfall_stops: if feasible { Stops::ZERO } else { Stops::new_unchecked((taken / total).log2()) },
    }
}

/// The part of a reading in all the light that was added.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadingPart {
    /// The reading: an f-number, or a guide number in metres.
    pub value: f64,
    /// Its part of what was added, 0 to 1; negative if it is taken away.
    pub part: f64,
    /// Its light against what was added, stops.
    pub stops: Stops,
}

/// The parts of what is added, then of what is taken away.
pub fn parts(add: &Readings, subtract: &Readings) -> Vec<ReadingPart> {
    let total: f64 = add.light().iter().sum();
    let part = |light: f64, sign: f64| ReadingPart {
        value: light.sqrt(),
        part: sign * light / total,
        stops: Stops::new_unchecked((light / total).log2()),
    };
    let added = add.light().into_iter().map(|light| part(light, 1.0));
    added.chain(subtract.light().into_iter().map(|light| part(light, -1.0))).collect()
}

/// Two readings whose ratio is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pair {
    /// Each light metered alone.
    Lights {
        /// The key light, on the lit side.
        key: FNumber,
        /// The fill light, which reaches both sides.
        fill: FNumber,
    },
    /// Each side of the face metered with all lights on.
    Sides {
        /// The side that key and fill reach.
        lit: FNumber,
        /// The side that only the fill reaches.
        shadow: FNumber,
    },
}

/// The lighting ratio of two readings, counted both ways.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReadingRatio {
    /// The light of the lit side over that of the shadow side, to 1: key and fill to fill.
    pub sides: Number,
    /// The light of the key over that of the fill, each alone, to 1; null if the shadow side is the brighter one, which no fill that reaches both sides makes.
    pub lights: Option<Number>,
    /// How much brighter the lit side is than the shadow side, stops.
    pub difference_stops: Stops,
    /// What the lit side reads with both lights on.
    pub lit: Nominal,
    /// What the shadow side reads: the fill alone.
    pub shadow: Nominal,
}

/// The ratio of two readings. The fill reaches both sides alike.
pub fn ratio(pair: Pair, step: Step) -> ReadingRatio {
    let (lit, shadow) = match pair {
        Pair::Lights { key, fill } => (FNumber::new_unchecked((key.squared() + fill.squared()).sqrt()), fill),
        Pair::Sides { lit, shadow } => (lit, shadow),
    };
    let sides = lit.squared() / shadow.squared();
    let lights = match pair {
        Pair::Lights { key, fill } => key.squared() / fill.squared(),
        Pair::Sides { .. } => sides - 1.0,
    };
    ReadingRatio {
        sides: Number::new_unchecked(sides),
        lights: (lights >= 0.0).then(|| Number::new_unchecked(lights)),
        difference_stops: Stops::new_unchecked(sides.log2()),
        lit: Nominal::f_number(lit, step),
        shadow: Nominal::f_number(shadow, step),
    }
}
