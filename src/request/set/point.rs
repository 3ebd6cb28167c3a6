//! A metering point of a set, its target, and the lighting ratio that may stand in place of points.

use std::collections::HashMap;

use crate::{
    light::{
        id::Id,
        quantity::{FNumber, Stops, bounds, kind::Kind},
        set::{
            MeteringPoint,
            geometry::{Direction, Position},
            ratio::{Counting, LightingRatio},
            target::Target,
        },
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{LightingRatioValue, Weight},
        place::At,
        reader::{
            Read, Reader,
            lists::Item,
            values::{EntryName, quantity, written},
            words::reads_word,
        },
        references,
        schema::{Name, RatioInput},
        value::Value,
    },
    wording::fault::Fault,
};

request! {
    /// The target at a point: exactly one of `f_number`, `stops`, `at_most_stops`, `at_least_stops`, or `ratio` with `to`. It is in the picture: what the lens takes counts.
    pub struct TargetInput {
        /// What would be set on the lens for the light there.
        pub f_number: Option<FNumber>,
        /// Stops relative to the working exposure.
        pub stops: Option<Stops>,
        /// At most so many stops relative to the working exposure: less light is no error. -2 is two stops under or darker; 0.5 is half a stop over at most.
        pub at_most_stops: Option<Stops>,
        /// At least so many stops relative to the working exposure: more light is no error. -2 is two stops under at the most; 1 is a stop over or brighter.
        pub at_least_stops: Option<Stops>,
        /// The point named by `to` is to get this many times the light of this one: "3:1" is 3 there, 1 here. It relates the targets of the two points, not the light they get in the end; a one-sided target counts as its bound.
        pub ratio: Option<Ratio>,
        /// The other point of the ratio.
        pub to: Option<EntryName>,
    }
    exactly one of "the target": f_number | stops | at_most_stops | at_least_stops | ratio & to
    checked by references::note_target(to)
}

/// A light ratio, as the number before ":1".
#[derive(Clone, Copy)]
pub struct Ratio(f64);

looks_like!(Ratio as RatioInput);

impl Read for Ratio {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        quantity(Kind::LightRatio, value, at, reader).map(Self)
    }

    fn expected() -> String {
        Kind::LightRatio.expected().to_owned()
    }
}

request! {
    /// A metering point.
    pub struct PointInput {
        /// Your own id for this entry, returned wherever the point is named.
        id: Option<Id>,
        /// Its name in this request, 1 to 64 characters, unique among them; the text of its `id` if left out.
        name: Option<String> as Name,
        /// Its position. With it, lights that have a position need no placement for this point.
        position: Option<Position>,
        /// The direction it faces; towards each light in turn if left out.
        normal: Option<Direction>,
        /// Its target. A balance needs one on every point; a prediction compares with it, and with the working exposure if it is left out.
        target: Option<TargetInput>,
        /// Weight of its error in a balance, 0.01 to 100; 1 if left out.
        weight: Option<Weight>,
    }
    checked by references::define_point(id, name)
}

impl Item for PointInput {
    const MAX: usize = 64;
    const PLURAL: &'static str = "points";
}

impl PointInput {
    /// Its name, or the text of its id.
    pub fn name(&self) -> String {
        references::name_or_id(self.name.clone(), self.id.as_ref()).unwrap_or_default()
    }

    /// The point, with the point that its target refers to. `None` if that is unknown.
    pub fn point(self, index_of: &HashMap<String, usize>) -> Option<MeteringPoint> {
        let name = self.name();
        let target = match self.target {
            Some(target) => Some(target.check(index_of)?),
            None => None,
        };
        Some(MeteringPoint {
            id: self.id,
            name,
            position: self.position,
            normal: self.normal,
            target,
            weight: self.weight.map_or(1.0, |weight| weight.0),
        })
    }
}

impl TargetInput {
    fn check(self, index_of: &HashMap<String, usize>) -> Option<Target> {
        // The reader refuses more than one.
        let level = self.f_number.map(Target::FNumber).or_else(|| self.stops.map(Target::Stops));
        let side =
            self.at_most_stops.map(Target::AtMost).or_else(|| self.at_least_stops.map(Target::AtLeast));
        level
            .or(side)
            .or_else(|| Some(Target::Ratio { ratio: self.ratio?.0, to: *index_of.get(&self.to?.0)? }))
    }
}

reads_word!(Counting: Counting::ALL.map(|counting| (counting.text(), counting)));

request! {
    /// A lighting ratio between two lights, instead of points.
    pub struct LightingRatioInput {
        /// The ratio, 1:1 to 1000:1, as 3 or "3:1".
        value: LightingRatioValue,
        /// Name of the key light, which reaches the lit side.
        key: EntryName,
        /// Name of the fill light, which reaches both sides.
        fill: EntryName,
        /// How the ratio is defined; `sides` if left out.
        counting: Option<Counting>,
    }
    checked by references::check_ratio(key, fill)
}

impl LightingRatioInput {
    /// Finds the two lights by name.
    pub fn check(
        self,
        lights: &HashMap<String, usize>,
        at: &At<'_>,
        reader: &mut Reader,
    ) -> Option<LightingRatio> {
        if lights.len() != 2 {
            return reader.push_fault(at, Fault::NotTwoLights);
        }
        // `references` reports a name that does not exist.
        let (key, fill) = (*lights.get(&self.key.0)?, *lights.get(&self.fill.0)?);
        if key == fill {
            return reader.push_fault(&At::Field(at, "fill"), Fault::KeyIsFill);
        }
        let counting = self.counting.unwrap_or(Counting::Sides);
        Some(LightingRatio { value: self.value.0, counting, key, fill })
    }
}

impl Read for LightingRatioValue {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let written = written(Kind::LightRatio, value, at, reader)?;
        let (value, bounds) = (written.number, bounds::LIGHTING_RATIO);
        if (0.0..1.0).contains(&value) {
            return reader.push_fault(at, Fault::RatioBelowOne { value, greatest: bounds.greatest });
        }
        reader.checked(at, bounds.check(value)).map(Self)
    }

    fn expected() -> String {
        Kind::LightRatio.expected().to_owned()
    }
}
