//! The effect of kinds of modifier on the light on the axis, relative to a standard reflector.
//!
//! From memory, rough: makes and sizes differ, and so does the reflector that a unit is rated with. Good enough to start a
//! plan; a meter reading is better.

use serde::Serialize;
use utoipa::ToSchema;

use crate::light::quantity::{Estimate, Stops, half_widths::MODIFIER};

/// The name of a kind of modifier.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct KindName(pub &'static str);

/// A kind of modifier.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct ModifierKind {
    /// The name in requests.
    pub kind: KindName,
    /// A description.
    pub what: &'static str,
    /// Its effect on the light on the axis relative to a standard reflector, stops; negative is darker.
    pub stops: Estimate<Stops>,
    /// The source of the value, with its grade.
    pub source: &'static str,
}

const fn kind(kind: &'static str, what: &'static str, low: f64, typical: f64, high: f64) -> ModifierKind {
    let stops = Estimate {
        low: Stops::new_unchecked(low),
        typical: Stops::new_unchecked(typical),
        high: Stops::new_unchecked(high),
    };
    ModifierKind { kind: KindName(kind), what, stops, source: "from memory, rough" }
}

/// All kinds.
pub const KINDS: [ModifierKind; 9] = [
    kind("standard_reflector", "the reflector that the others are compared with", -0.3, 0.0, 0.3),
    kind("bare", "a bare tube, without a reflector", -3.0, -2.0, -1.0),
    kind("umbrella_reflecting", "an umbrella that throws the light back", -2.3, -1.3, -0.5),
    kind("umbrella_through", "an umbrella that the light passes", -2.8, -2.0, -1.2),
    kind("softbox_one_diffuser", "a softbox with one diffuser", -2.3, -1.5, -0.7),
    kind("softbox_two_diffusers", "a softbox with two diffusers", -3.3, -2.3, -1.5),
    kind("dish", "a wide shallow reflector with the tube covered", -1.7, -1.0, 0.0),
    kind("grid", "a honeycomb on the standard reflector", -2.5, -1.2, -0.5),
    kind("snoot", "a tube that leaves a small round spot", -3.0, -1.5, 0.0),
];

/// The effect of a modifier: a value from the client, or typical of its kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Modifier {
    /// An effect in stops, and how far it may be off if that is stated: ± stops at 95 %.
    Stops(Stops, Option<Stops>),
    /// A kind, whose effect is known roughly.
    Kind(&'static ModifierKind),
}

impl Modifier {
    /// The modifier of the kind with this name.
    pub fn named(kind: &str) -> Option<Self> {
        KINDS.iter().find(|known| known.kind.0 == kind).map(Self::Kind)
    }

    /// Its effect in stops. No modifier at all is exact.
    pub fn stops(self) -> Estimate<Stops> {
        match self {
            Self::Stops(stops, None) if stops == Stops::ZERO => Estimate::exact(stops),
            Self::Stops(stops, plus_minus) => Estimate::plus_minus(stops, MODIFIER.or(plus_minus)),
            Self::Kind(kind) => kind.stops,
        }
    }

    /// Its kind, or `None` if its effect is known.
    pub fn kind(self) -> Option<&'static ModifierKind> {
        match self {
            Self::Stops(..) => None,
            Self::Kind(kind) => Some(kind),
        }
    }
}
