//! The modifiers of two units that are compared.
//!
//! A candidate that states no modifier is in that of the reference. The same kind, or the same number, on both sides
//! cancels, with what is uncertain of it.

use crate::light::{
    equivalence::question::Placed, quantity::Stops, remark::WarningKind, set::modifier::Modifier,
};

/// The modifiers of the reference and of a candidate.
#[derive(Clone, Copy)]
pub struct Modifiers {
    reference: Option<Modifier>,
    candidate: Option<Modifier>,
    is_stated: bool,
}

impl Modifiers {
    /// Those of these two.
    pub fn of(reference: &Placed, candidate: &Placed) -> Self {
        Self {
            reference: reference.modifier,
            candidate: candidate.modifier.or(reference.modifier),
            is_stated: candidate.modifier.is_some(),
        }
    }

    /// Whether guide numbers compare by themselves: neither has a modifier, or both have the same.
    pub fn cancel(self) -> bool {
        self.reference == self.candidate
    }

    /// How much more light that of the candidate leaves than that of the reference, stops.
    pub fn stops(self) -> f64 {
        let effect = |modifier: Option<Modifier>| modifier.map_or(0.0, |its| its.stops().typical.get());
        effect(self.candidate) - effect(self.reference)
    }

    /// Those that do not cancel, of the reference (0) and the candidate (1).
    pub fn uncertain(self) -> impl Iterator<Item = (usize, Modifier)> {
        let both = [self.reference, self.candidate].into_iter().enumerate();
        both.filter_map(move |(index, modifier)| Some((index, modifier?)).filter(|_| !self.cancel()))
    }

    /// Whether that of the reference changes its light.
    pub fn change(self) -> bool {
        self.reference.is_some_and(|modifier| modifier.stops().typical != Stops::ZERO)
    }

    /// The warning if the candidate is taken to be in the modifier of the reference, and that changes its light.
    pub fn warning(self) -> Option<WarningKind> {
        (self.change() && !self.is_stated).then_some(WarningKind::ModifierOfReference)
    }
}
