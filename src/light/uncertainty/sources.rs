//! The sources of doubt about lights, each with what it has in common with others.

use std::collections::HashMap;

use super::{
    Cause,
    budget::{Effect, Scope, Source},
    half_widths,
};
use crate::light::{
    quantity::{
        Estimate, Metres, Stops,
        half_widths::{ANGLE, DIAL, DISTANCE, FILTER, HalfWidth, LAMP, MODIFIER, PACK, RATING, REPEAT},
    },
    set::{
        beam::Beam,
        falloff,
        filter::Filter,
        modifier::ModifierKind,
        placement::{Placement, Source as Face, Sure, beam_at_full},
    },
    unit::{Unit, pack::Pack, shutter::Shutter},
};

/// The most that an angle is taken to change the light, stops: it may end beyond the beam.
const MOST_BY_ANGLE: f64 = 3.0;
/// The most that a distance is: it may end at the light.
const MOST_BY_DISTANCE: f64 = 8.0;

/// What sources of one cause have in common.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Common<'s> {
    /// Nothing: it is one light's own.
    Light(usize),
    /// The name of a unit, or a kind of modifier.
    Name(&'s str),
    /// It is the same for all lights, as a board or the room is.
    Index(usize),
}

/// A light that is computed from the rating of its unit.
#[derive(Debug, Clone, Copy)]
pub struct Rated<'s> {
    /// Its unit.
    pub unit: &'s Unit,
    /// The filters on it.
    pub filters: &'s [Filter],
    /// Where it is.
    pub placement: &'s Placement,
    /// The exposure time and the sync time.
    pub shutter: Shutter,
    /// Its pack, if that has other heads.
    pub divided: Option<&'s Pack>,
}

/// A light at a point, by their indexes: the point's first.
type Pair = (usize, usize);

/// The sources as they are found.
#[derive(Default)]
pub struct Sources<'s> {
    all: Vec<Source>,
    by_cause: HashMap<(Cause, Common<'s>), usize>,
}

/// The row of the table, if nothing is stated in its place.
pub fn unless<T: Copy>(stated: Option<T>, usual: &'static HalfWidth) -> Option<&'static HalfWidth> {
    stated.is_none().then_some(usual)
}

/// What the rating of a unit has in common with others: units of one name.
fn of_unit(unit: &Unit, light: usize) -> Common<'_> {
    unit.name.as_deref().map_or(Common::Light(light), Common::Name)
}

impl<'s> Sources<'s> {
    /// All that were found.
    pub fn into_all(self) -> Vec<Source> {
        self.all
    }

    /// Adds an effect to the source of this cause and what it has in common.
    pub fn add(
        &mut self,
        cause: Cause,
        common: Common<'s>,
        usual: Option<&'static HalfWidth>,
        effect: Effect,
    ) {
        if effect.is_nothing() {
            return;
        }
        let next = self.all.len();
        let index = *self.by_cause.entry((cause, common)).or_insert(next);
        if index == next {
            self.all.push(Source { cause, scope: Scope::Light, usual, effects: Vec::new() });
        }
        self.all[index].effects.push(effect);
    }

    /// Adds a source of one light at one point.
    pub fn add_pair(&mut self, cause: Cause, usual: Option<&'static HalfWidth>, effect: Effect) {
        if !effect.is_nothing() {
            self.all.push(Source { cause, scope: Scope::Pair, usual, effects: vec![effect] });
        }
    }

    /// Adds how far the light of a unit at a part of its power follows its scale.
    pub fn setting(&mut self, (point, light): Pair, common: Common<'s>, unit: &Unit, power: f64) {
        let stated = unit.dial_at(power);
        let effect = Effect { point, light, half_widths: [DIAL.or(stated); 2] };
        self.add(Cause::Setting, common, unless(stated, &DIAL), effect);
    }

    /// Adds how far one flash is like another.
    pub fn repeatability(&mut self, (point, light): Pair, unit: &Unit) {
        let effect = Effect { point, light, half_widths: [REPEAT.or(unit.repeat); 2] };
        self.add(Cause::Repeatability, Common::Light(light), unless(unit.repeat, &REPEAT), effect);
    }

    /// Adds how far the light of a unit may be off what is stated of it.
    pub fn rating(&mut self, (point, light): Pair, unit: &'s Unit, half_widths: [f64; 2]) {
        let usual = if unit.lamp.is_some() {
            Some(&LAMP)
        } else {
            // An estimate from energy and coverage is an assumption of its own.
            unit.guide_number.map(|_| &RATING)
        };
        let effect = Effect { point, light, half_widths };
        self.add(Cause::Rating, of_unit(unit, light), usual.filter(|_| unit.plus_minus.is_none()), effect);
    }

    /// Adds the effect of a modifier, of which the kind may be all that is known.
    pub fn modifier(
        &mut self,
        (point, light): Pair,
        kind: Option<&'static ModifierKind>,
        effect: Estimate<Stops>,
    ) {
        let half_widths = half_widths(effect.map(Stops::factor));
        let is_usual = half_widths.iter().all(|half_width| (half_width - MODIFIER.value).abs() < 1e-9);
        let usual = (kind.is_none() && is_usual).then_some(&MODIFIER);
        let common = kind.map_or(Common::Light(light), |kind| Common::Name(kind.kind.0));
        self.add(Cause::Modifier, common, usual, Effect { point, light, half_widths });
    }

    /// Adds what high-speed sync takes.
    pub fn sync(&mut self, (point, light): Pair, unit: &'s Unit, shutter: Shutter) {
        let half_widths = unit.through(shutter).map_or([0.0; 2], half_widths);
        self.add(Cause::HighSpeedSync, of_unit(unit, light), None, Effect { point, light, half_widths });
    }

    /// Adds the filters on a light.
    pub fn filters<'f>(&mut self, pair: Pair, filters: impl Iterator<Item = &'f Filter>) {
        self.filtered(pair, Common::Light(pair.1), filters);
    }

    /// Adds the filters on the lens, which all light goes through.
    pub fn lens_filters(&mut self, pair: Pair, filters: &[Filter]) {
        self.filtered(pair, Common::Index(0), filters.iter());
    }

    fn filtered<'f>(
        &mut self,
        (point, light): Pair,
        common: Common<'s>,
        filters: impl Iterator<Item = &'f Filter>,
    ) {
        let (mut sum, mut usual) = (0.0, None);
        for filter in filters {
            sum += FILTER.or(filter.plus_minus).powi(2);
            usual = usual.or(unless(filter.plus_minus, &FILTER));
        }
        let effect = Effect { point, light, half_widths: [sum.sqrt(); 2] };
        self.add(Cause::Filter, common, usual, effect);
    }

    /// Adds the division of a pack among its heads.
    pub fn division(&mut self, (point, light): Pair, pack: &Pack) {
        let effect = Effect { point, light, half_widths: [PACK.or(pack.plus_minus); 2] };
        self.add(Cause::Pack, Common::Light(light), unless(pack.plus_minus, &PACK), effect);
    }

    /// Adds all of a light that is computed from the rating of its unit, but for where it is.
    pub fn rated(&mut self, pair: Pair, rated: &Rated<'s>) {
        let Rated { unit, filters, placement, shutter, divided } = *rated;
        let rating = beam_at_full(unit, placement.beam.as_ref()).map_or([0.0; 2], half_widths);
        self.rating(pair, unit, rating);
        self.modifier(pair, placement.kind, placement.modifier);
        self.sync(pair, unit, shutter);
        self.filters(pair, filters.iter());
        if let Some(pack) = divided {
            self.division(pair, pack);
        }
    }

    /// Adds what is not sure of a distance.
    pub fn distance(&mut self, (point, light): Pair, source: Option<Face>, distance: Metres, sure: Sure) {
        let effect = Effect { point, light, half_widths: by_distance(source, distance, sure) };
        self.add_pair(Cause::Distance, unless(sure.distance, &DISTANCE), effect);
    }

    /// Adds what is not sure of the distance and the angles of a light at a point.
    pub fn geometry(&mut self, (point, light): Pair, placement: &Placement) {
        let Placement { distance, sure, source, beam, incidence_deg, off_axis_deg, .. } = placement;
        self.distance((point, light), *source, *distance, *sure);
        let off = sure.angles_deg.unwrap_or(ANGLE.value);
        let cosine = |angle_deg: f64| angle_deg.abs().to_radians().cos().max(0.0);
        let incidence = by_angle(*incidence_deg, off, cosine);
        let across = match (Beam::shaped(beam.as_ref()), beam, source) {
            (Some(beam), ..) => by_angle(*off_axis_deg, off, |angle_deg| beam.relative(angle_deg.abs())),
            // A face falls off with the cosine.
            (None, None, Some(_)) => by_angle(*off_axis_deg, off, cosine),
            _ => [0.0; 2],
        };
        let half_widths = [0, 1].map(|side| incidence[side].hypot(across[side]));
        let effect = Effect { point, light, half_widths };
        self.add_pair(Cause::Angle, unless(sure.angles_deg, &ANGLE), effect);
    }
}

/// The half-widths of light by that of its distance, stops.
pub fn by_distance(source: Option<Face>, distance: Metres, sure: Sure) -> [f64; 2] {
    let off = sure.distance.map_or(DISTANCE.value, Metres::get);
    let light = |distance: f64| falloff::light(source, distance.max(1e-3));
    let stops =
        |to: f64| (light(to) / light(distance.get())).log2().clamp(-MOST_BY_DISTANCE, MOST_BY_DISTANCE);
    [-stops(distance.get() + off), stops(distance.get() - off)]
}

/// The half-widths of light by that of an angle, stops. Where both ways are darker, it is the darker one.
fn by_angle(angle_deg: f64, off_deg: f64, light: impl Fn(f64) -> f64) -> [f64; 2] {
    let here = light(angle_deg);
    if here <= 0.0 {
        return [0.0; 2];
    }
    let stops = |to: f64| (light(to) / here).log2().clamp(-MOST_BY_ANGLE, MOST_BY_ANGLE);
    let [one, other] = [stops(angle_deg - off_deg), stops(angle_deg + off_deg)];
    [(-one.min(other)).max(0.0), one.max(other).max(0.0)]
}
