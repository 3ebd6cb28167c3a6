//! A set: one shape for all that ask about one.

mod contribution;
mod light;
mod pack;
mod point;
mod round;
mod surroundings;

use std::{collections::HashMap, time::Duration};

use utoipa::ToSchema;

use self::{
    contribution::{AmbientEntry, Contributions, PlacementEntry, ReadingInput},
    light::LightEntry,
    point::{LightingRatioInput, PointInput},
    round::{MAX_ROUND_READINGS, RoundEntry, RoundInput},
    surroundings::{BlockerEntry, ReflectorEntry},
};
use crate::{
    light::{
        balance::search::Objective,
        correct::question::Round,
        quantity::{Stops, constants::BALANCE_TOLERANCE},
        set::{
            Light, Meter, MeteringPoint, Scene,
            geometry::Camera,
            lens::Lens,
            limits::Limits,
            packs,
            ratio::{LightingRatio, SIDES},
            room::Room,
            target::Target,
        },
    },
    request::{
        declare::request,
        fields::{self, Correction, ExposureInput, LensInput, PackEntry, TimeLimit, Tolerance, begin_packs},
        place::At,
        reader::{Read, Reader, lists::Item, words::reads_word},
        references,
        value::Value,
    },
    wording::fault::Fault,
};

/// What the settings are optimised for.
#[derive(Clone, Copy, ToSchema)]
#[schema(rename_all = "snake_case", as = BalancePreference)]
enum Preference {
    /// The smallest worst error.
    Accuracy,
    /// The lowest energy with every point within `tolerance_stops`.
    LeastEnergy,
}

reads_word!(Preference: [("accuracy", Preference::Accuracy), ("least_energy", Preference::LeastEnergy)]);

request! {
    /// What a meter shows against what the camera gets.
    pub struct MeterInput {
        /// How much more light (+) the camera gets than the meter reads, stops; 0 if left out. Applied to all meter readings.
        offset_stops: Option<Correction>,
        /// How far the meter may be off the camera, ± stops at 95 %, 0.001 to 4; 0.2 if left out, 0.06 where `offset_stops` is given.
        offset_plus_minus_stops: Option<Tolerance>,
        /// How far a reading may be off, its last digit apart, ± stops at 95 %, 0.001 to 4; 0.12 if left out.
        plus_minus_stops: Option<Tolerance>,
        /// The step of its last digit, stops, 0.001 to 4; 0.1 if left out.
        digit_stops: Option<Tolerance>,
    }
}

request! {
    /// A set of lights and metering points. A field that a calculation has no use for is checked, and otherwise left alone.
    pub struct SetRequest {
        /// The working exposure, with its exposure time if there is ambient light.
        exposure: ExposureInput,
        /// What the lens takes from the light.
        lens: Option<LensInput>,
        /// The packs that lights are on: for each light on one, `unit` has `pack` in place of energy and scale.
        packs: Option<Vec<PackEntry>>,
        /// The lights.
        lights: Vec<LightEntry>,
        /// The metering points. A balance needs them, or `ratio`. For a prediction they may be left out: the points are then those named by readings, placements and ambient light, in the order first named.
        points: Option<Vec<PointInput>>,
        /// Shorthand for two lights on a lit side and a shadow side, instead of `points`. The lit side gets the working exposure.
        ratio: Option<LightingRatioInput>,
        /// Meter readings, each with one light firing alone.
        readings: Option<Vec<ReadingInput>>,
        /// Light computed from where the lights stand. A light and a point that both have a position need no placement.
        placements: Option<Vec<PlacementEntry>>,
        /// Boards and ceilings that send light on, for lights and points that have positions.
        reflectors: Option<Vec<ReflectorEntry>>,
        /// Flags, people and what else hides lights from points, for lights and points that have positions.
        blockers: Option<Vec<BlockerEntry>>,
        /// The room whose walls send on the light of placements, as a rough estimate; none if left out.
        room: Option<Room>,
        /// Where the camera stands, for the plan in the picture. It changes no number.
        camera: Option<Camera>,
        /// Ambient light at the points.
        ambient: Option<Vec<AmbientEntry>>,
        /// The meter against the camera.
        meter: Option<MeterInput>,
        /// For a correction: rounds of readings of the whole set, oldest first.
        rounds: Option<Vec<RoundInput>>,
        /// For a balance: what the settings are optimised for; `accuracy` if left out.
        prefer: Option<Preference>,
        /// The largest error that still counts as feasible, or as within the tolerance, stops, 0.001 to 4; 1/3 if left out.
        tolerance_stops: Option<Tolerance>,
        /// For a balance: time limit for the whole answer, counted from when work on it starts, ms, 1 to 2000; 250 if left out. The search takes at most four fifths of it. The rest, and what the search does not use, goes to the remedies and to finding what limits the result.
        time_limit_ms: Option<TimeLimit>,
        /// Limits on the remedies that may be proposed.
        limits: Option<Limits>,
    }
    at most one of "the target": points | ratio
}

impl MeterInput {
    /// Its offset, and how sure it is.
    pub fn check(self) -> (Stops, Meter) {
        let stops = |tolerance: Option<Tolerance>| tolerance.map(|it| it.0);
        let meter = Meter {
            plus_minus: stops(self.plus_minus_stops),
            digit: stops(self.digit_stops),
            offset_plus_minus: stops(self.offset_plus_minus_stops),
            is_offset_stated: self.offset_stops.is_some(),
        };
        (self.offset_stops.map_or(Stops::ZERO, |it| it.0), meter)
    }
}

/// A set that was read, and what a balance asks beside it.
pub struct SetInput {
    /// The set.
    pub scene: Scene,
    /// What a balance optimises.
    pub prefer: Objective,
    /// The largest error that counts as feasible.
    pub tolerance: Stops,
    /// The time limit of a balance.
    pub time_limit: Duration,
    /// The limits of remedies.
    pub limits: Limits,
    /// Rounds of readings of the whole set.
    pub rounds: Vec<Round>,
}

impl Read for SetInput {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        begin_packs(value, reader);
        let request = SetRequest::read(value, at, reader);
        references::check_targets(reader);
        request?.check(at, reader)
    }
}

impl SetInput {
    /// Adds a fault for what only a correction needs: rounds of readings.
    pub fn require_rounds(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) {
        let lacks = value.get("rounds").is_none_or(|rounds| *rounds == Value::Null);
        if matches!(value, Value::Object(_)) && lacks {
            let fault = || Fault::Missing { expected: Vec::<RoundInput>::expected() };
            reader.push_fault_with::<()>(&At::Field(at, "rounds"), fault);
        }
    }

    /// Adds faults for what only a balance needs: points or a ratio, and a target on each point.
    pub fn require_targets(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) {
        let given = |name: &str| value.get(name).filter(|value| **value != Value::Null);
        let points_at = At::Field(at, "points");
        if let Some(Value::List(points)) = given("points") {
            let lacks = |point: &Value<'_>| {
                matches!(point, Value::Object(_))
                    && point.get("target").is_none_or(|target| *target == Value::Null)
            };
            for (index, _) in points.iter().enumerate().filter(|(_, point)| lacks(point)) {
                let at = At::Index(&points_at, index);
                let fault = || Fault::Missing { expected: point::TargetInput::expected() };
                reader.push_fault_with::<()>(&At::Field(&at, "target"), fault);
            }
        } else if matches!(value, Value::Object(_)) && given("points").or(given("ratio")).is_none() {
            let expected = "the target, as exactly one of points, ratio".to_owned();
            reader.push_fault::<()>(&points_at, Fault::Missing { expected });
        }
    }
}

impl SetRequest {
    fn check(self, at: &At<'_>, reader: &mut Reader) -> Option<SetInput> {
        let packs = fields::packs(self.packs);
        let mut lights: Vec<Light> = self.lights.into_iter().map(|entry| entry.0).collect();
        pack::plug(&packs, &mut lights, at, reader);
        packs::divide(&packs, &mut lights);
        let index_of = indexes(lights.iter().map(|light| light.name.as_str()));
        let ratio = match self.ratio {
            Some(ratio) => {
                let ratio_at = At::Field(at, "ratio");
                let ratio = ratio.check(&index_of, &ratio_at, reader)?;
                let is_named = |light: usize| {
                    // An entry with an unknown name may be meant for this light; the name has a fault of its own.
                    let may_be = |name: &str| index_of.get(name).is_none_or(|index| *index == light);
                    self.readings.iter().flatten().any(|reading| may_be(&reading.light.0))
                        || self.placements.iter().flatten().any(|placement| may_be(&placement.light.0))
                };
                for (field, light) in [("key", ratio.key), ("fill", ratio.fill)] {
                    if !is_named(light) {
                        let light = lights[light].name.clone();
                        let at = At::Field(&ratio_at, field);
                        reader.push_fault::<()>(&at, Fault::LightOutputUnknown { light });
                    }
                }
                Some(ratio)
            }
            None => None,
        };
        let are_points_stated = self.points.is_some() || ratio.is_some();
        let mut points = match (self.points, ratio) {
            (Some(points), None) => read_points(points)?,
            (None, Some(ratio)) => sides(&ratio).into(),
            (None, None) => Vec::new(),
            // Refused by the reader.
            (Some(_), Some(_)) => return None,
        };
        let mut all = Contributions { points: &mut points, are_points_stated, lights: &index_of, ratio };
        let contributions = all.read(
            self.readings.unwrap_or_default(),
            self.placements.unwrap_or_default(),
            &lights,
            at,
            reader,
        );
        let ambient = all.ambient(self.ambient.unwrap_or_default());
        let count = self.rounds.iter().flatten().map(RoundInput::count).sum();
        if count > MAX_ROUND_READINGS {
            let expected = format!("at most {MAX_ROUND_READINGS} readings in all rounds");
            let fault = Fault::TooMany { count, most: MAX_ROUND_READINGS, expected };
            return reader.push_fault(&At::Field(at, "rounds"), fault);
        }
        let rounds = self.rounds.into_iter().flatten();
        let rounds: Option<Vec<RoundEntry>> = rounds.map(|round| round.check(&mut all, &lights)).collect();
        if points.len() > PointInput::MAX {
            let fault = Fault::TooManyPoints { count: points.len(), most: PointInput::MAX };
            return reader.push_fault(&At::Field(at, "placements"), fault);
        }
        let lens = match self.lens {
            Some(lens) => lens.check(&At::Field(at, "lens"), reader),
            None => Lens::default(),
        };
        let tolerance =
            self.tolerance_stops.map_or(Stops::new_unchecked(BALANCE_TOLERANCE), |tolerance| tolerance.0);
        let (meter_offset, meter) = self.meter.map_or((Stops::ZERO, Meter::default()), MeterInput::check);
        let scene = Scene {
            exposure: self.exposure.flash(),
            exposure_time: self.exposure.exposure_time,
            sync_time: self.exposure.sync_time,
            lens,
            packs,
            lights,
            points,
            contributions: contributions?,
            ambient: ambient?,
            reflectors: self.reflectors.into_iter().flatten().map(|entry| entry.0).collect(),
            blockers: self.blockers.into_iter().flatten().map(|entry| entry.0).collect(),
            room: self.room,
            camera: self.camera,
            ratio,
            meter_offset,
            meter,
        };
        let rounds = rounds?.into_iter().map(|round| round.of(&scene)).collect();
        Some(SetInput {
            scene,
            rounds,
            prefer: match self.prefer {
                Some(Preference::LeastEnergy) => Objective::LeastEnergy { tolerance_stops: tolerance.get() },
                _ => Objective::Accuracy,
            },
            tolerance,
            time_limit: Duration::from_millis(self.time_limit_ms.map_or(250, |limit| limit.0 as u64)),
            limits: self.limits.unwrap_or_default(),
        })
    }
}

/// The index of each name.
fn indexes<'n>(names: impl Iterator<Item = &'n str>) -> HashMap<String, usize> {
    names.enumerate().map(|(index, name)| (name.to_owned(), index)).collect()
}

/// The points, with the points that their targets refer to. `None` if one is unknown, which has a fault of its own.
fn read_points(points: Vec<PointInput>) -> Option<Vec<MeteringPoint>> {
    let names: Vec<String> = points.iter().map(PointInput::name).collect();
    let index_of = indexes(names.iter().map(String::as_str));
    points.into_iter().map(|point| point.point(&index_of)).collect()
}

/// The two points of the shorthand: the lit side gets the working exposure, the shadow side the exposure that makes the
/// ratio.
fn sides(ratio: &LightingRatio) -> [MeteringPoint; 2] {
    let [lit, shadow] = SIDES;
    [
        MeteringPoint { target: Some(Target::Stops(Stops::ZERO)), ..MeteringPoint::named(lit) },
        MeteringPoint {
            target: Some(Target::Ratio { ratio: ratio.sides(), to: 0 }),
            ..MeteringPoint::named(shadow)
        },
    ]
}
