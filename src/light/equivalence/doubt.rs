//! What is uncertain of a candidate against the reference.
//!
//! The two are the lights of two points, and what they have in common cancels in the one against the other (JCGM 100:2008,
//! 5.2): the meter; the rating of units of one name, with all that goes by it; one kind of modifier, or one number; a
//! filter of one name. A setting cancels only if the candidate is the same unit at the same setting.

use crate::light::{
    equivalence::{
        modifiers::Modifiers,
        question::{ComparedBy, EquivalenceQuestion, Placed, SAME_STOPS},
    },
    quantity::{
        Stops,
        half_widths::{LAMP, RATING},
    },
    set::{filter::Filter, placement::Sure},
    uncertainty::{
        Cause,
        budget::{Budget, Effect, Whole},
        sources::{Common, Sources},
    },
    unit::pack::Pack,
};

/// The point and the light of the reference.
pub const REFERENCE: usize = 0;
/// Those of the candidate.
pub const CANDIDATE: usize = 1;

/// One side of a comparison.
struct Side<'q> {
    index: usize,
    placed: &'q Placed,
    /// Its setting, stops below full.
    below: Stops,
    /// The half-widths of what it is compared by, beside its rating, stops.
    compared: [f64; 2],
}

impl EquivalenceQuestion {
    /// The budget of a candidate against the reference, at the setting that it has, given what they are compared by, with the
    /// half-widths of that for the reference and the candidate.
    pub fn budget(
        &self,
        index: usize,
        below: Stops,
        by: ComparedBy,
        [before, after]: [[f64; 2]; 2],
    ) -> Budget {
        let (placed, own) = (&self.reference, self.setting);
        let reference = Side { index: REFERENCE, placed, below: own, compared: before };
        let candidate = Side { index: CANDIDATE, placed: &self.candidates[index], below, compared: after };
        let sides = [&reference, &candidate];
        let [r, c] = sides.map(|side| &side.placed.unit);
        let is_named_twice = r.name.is_some() && r == c;
        let is_same_setting = (reference.below.get() - candidate.below.get()).abs() < SAME_STOPS;
        let mut sources = Sources::default();
        for side in sides {
            let pair = (side.index, side.index);
            let (unit, shutter) = (&side.placed.unit, side.placed.shutter);
            sources.rating(pair, unit, side.rating(by));
            // One name and one coverage are one kind of unit.
            let is_like = r.coverage == c.coverage;
            let kind =
                unit.name.as_deref().filter(|_| is_like).map_or(Common::Light(side.index), Common::Name);
            let effect = Effect { point: side.index, light: side.index, half_widths: side.compared };
            sources.add(Cause::Comparison, kind, None, effect);
            sources.sync(pair, unit, shutter);
            let own = if is_named_twice && is_same_setting { REFERENCE } else { side.index };
            sources.setting(pair, Common::Light(own), unit, unit.power(side.below));
            sources.repeatability(pair, unit);
            if let Some(pack) = side.divided(&self.packs) {
                sources.division(pair, pack);
            }
            if let (Some(_), Some(distance)) = (candidate.placed.distance, side.placed.distance) {
                let sure = Sure { distance: side.placed.within, angles_deg: None };
                sources.distance(pair, None, distance, sure);
            }
        }
        let modifiers = Modifiers::of(reference.placed, candidate.placed);
        for (index, modifier) in modifiers.uncertain() {
            sources.modifier((index, index), modifier.kind(), modifier.stops());
        }
        let [before, after] = sides.map(|side| &side.placed.filters);
        sources.filters((REFERENCE, REFERENCE), without(before, after).into_iter());
        sources.filters((CANDIDATE, CANDIDATE), without(after, before).into_iter());
        let light = |side: &Side<'_>, usual: &str| {
            (side.placed.name().unwrap_or_else(|| usual.to_owned()), side.placed.id.clone())
        };
        Budget::new(
            vec![light(&reference, "reference"), light(&candidate, "candidate")],
            vec![vec![1.0, 0.0, 0.0], vec![0.0, 1.0, 0.0]],
            sources.into_all(),
            // What the meter is off, it is off for both.
            Whole { half_width: 0.0, usual: None },
        )
    }
}

impl Side<'_> {
    /// The half-widths of what is stated of the unit's light, stops. An energy that states none has the range of the efficacy
    /// in its place, which is what it is compared by.
    fn rating(&self, by: ComparedBy) -> [f64; 2] {
        let unit = &self.placed.unit;
        let is_by_energy = by == ComparedBy::Energy && unit.energy.is_some();
        match unit.plus_minus {
            Some(stated) => [stated.get(); 2],
            None if unit.lamp.is_some() => [LAMP.value; 2],
            None if is_by_energy => [0.0; 2],
            None => [RATING.value; 2],
        }
    }

    /// Its pack, if it gets a part of that only.
    fn divided<'p>(&self, packs: &'p [Pack]) -> Option<&'p Pack> {
        let unit = &self.placed.unit;
        let pack = packs.get(unit.head?.pack)?;
        let is_part = unit.energy.is_some_and(|own| own.get() < pack.energy.get() * (1.0 - SAME_STOPS));
        pack.is_divided(if is_part { 2 } else { 1 }).then_some(pack)
    }
}

/// The filters that are not among the others by name; each of the others takes the place of one.
fn without<'f>(filters: &'f [Filter], others: &[Filter]) -> Vec<&'f Filter> {
    let mut others: Vec<&Filter> = others.iter().filter(|other| other.name.is_some()).collect();
    let is_left = |filter: &&Filter| {
        let same = others.iter().position(|other| *other == *filter);
        same.map(|place| others.swap_remove(place)).is_none()
    };
    filters.iter().filter(is_left).collect()
}

/// The half-widths of an efficacy, or none for a unit whose own are stated.
pub fn unless_stated(placed: &Placed, widths: [f64; 2]) -> [f64; 2] {
    if placed.unit.plus_minus.is_some() { [0.0; 2] } else { widths }
}
