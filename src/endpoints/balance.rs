//! `/v1/ratios/balance`.

mod inputs;
#[cfg(test)]
mod tests;

use std::time::Duration;

use axum::response::Response;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    drawing::{self, Picture},
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        balance::{
            Balance, BalanceQuestion, balance,
            predicted::predicted,
            ratio::{LightingRatio, SIDES},
            search::Objective,
            setup::{PointTarget, Set, Target},
        },
        error::InvalidPart,
        interrupt::Interrupt,
        quantity::{Stops, constants::BALANCE_TOLERANCE},
        set::{Ambient, Light, MeteringPoint, Scene, limits::Limits},
    },
    request::{
        declare::request,
        fields::{
            Correction, ExposureInput, PlacementEntry, ReadingInput, TimeLimit, Tolerance, contributions,
        },
        place::At,
        reader::{Read, Reader, words::reads_word},
        references,
        value::Value,
    },
    server::{
        metrics,
        problem::{Problem, Refusals},
        state::Routes,
    },
    wording::fault::Fault,
};

use self::inputs::{ControlledLight, LightingRatioInput, PointInput};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(balance_lights))
}

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
    /// A set of lights to balance, with `points` or with the two-light shorthand `ratio`.
    struct BalanceRequest {
        /// The working exposure, with its exposure time if there is ambient light.
        exposure: ExposureInput,
        /// The lights.
        lights: Vec<ControlledLight>,
        /// The metering points.
        points: Option<Vec<PointInput>>,
        /// Shorthand for two lights on a lit side and a shadow side, instead of `points`. The lit side gets the working exposure.
        ratio: Option<LightingRatioInput>,
        /// Meter readings, each with one light firing alone.
        readings: Option<Vec<ReadingInput>>,
        /// Light computed from where the lights stand. A light and a point that both have a position need no placement.
        placements: Option<Vec<PlacementEntry>>,
        /// Ambient light at the points.
        ambient: Option<Vec<Ambient>>,
        /// How much more light (+) the camera gets than the meter reads, stops; 0 if left out. Applied to all meter readings.
        meter_offset_stops: Option<Correction>,
        /// What the settings are optimised for; `accuracy` if left out.
        prefer: Option<Preference>,
        /// The largest error that still counts as feasible, stops, 0.001 to 4; 1/3 if left out.
        tolerance_stops: Option<Tolerance>,
        /// Time limit for the whole answer, counted from when work on it starts, ms, 1 to 2000; 250 if left out. The search takes at most four fifths of it. The rest, and what the search does not use, goes to the remedies and to finding what limits the result.
        time_limit_ms: Option<TimeLimit>,
        /// Limits on the remedies that may be proposed.
        limits: Option<Limits>,
    }
    exactly one of "the target": points | ratio
}

impl Read for BalanceQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let request = BalanceRequest::read(value, at, reader);
        references::check_targets(reader);
        request?.check(at, reader)
    }
}

impl Calculation for BalanceQuestion {
    type Answer = Balance;
    const PICTURE: Option<fn(&Self, &Balance) -> Picture> = Some(|question, answer| {
        let placements = question.set.scene.light(&mut Vec::new()).placements;
        drawing::balance(question, answer, &predicted(question, answer), &placements)
    });
    const HEAVY: bool = true;

    fn answer(&self, interrupt: &dyn Interrupt) -> Result<Balance, Vec<InvalidPart>> {
        let balanced = balance(self, interrupt)?;
        if !interrupt.checkpoint() {
            metrics::count_search(balanced.optimality.nodes, balanced.optimality.proven);
        }
        Ok(balanced)
    }
}

impl BalanceRequest {
    fn check(self, at: &At<'_>, reader: &mut Reader) -> Option<BalanceQuestion> {
        let (lights, controls): (Vec<_>, Vec<_>) =
            self.lights.into_iter().map(|entry| (entry.light, entry.control)).unzip();
        let ratio = match (&self.points, self.ratio) {
            (Some(_), None) => None,
            (None, Some(ratio)) => Some(ratio.check(&lights, &At::Field(at, "ratio"), reader)?),
            // Refused by the reader.
            _ => return None,
        };
        let (points, targets): (Vec<_>, Vec<_>) = match (self.points, ratio) {
            (None, Some(ratio)) => sides(&ratio).into_iter().unzip(),
            (points, _) => points.into_iter().flatten().map(PointInput::split).unzip(),
        };
        let reach = Reach { lights: &lights, ratio };
        if let Some(ratio) = ratio {
            // An entry with an unknown name may be meant for this light; the name has a fault of its own.
            let may_be =
                |light: &str, name: &str| light == name || !lights.iter().any(|known| known.name == light);
            let is_known = |name: &str| {
                self.readings.iter().flatten().any(|reading| may_be(&reading.light, name))
                    || self.placements.iter().flatten().any(|placement| may_be(&placement.light, name))
            };
            let ratio_at = At::Field(at, "ratio");
            for (field, light) in [("key", ratio.key), ("fill", ratio.fill)] {
                let name = &lights[light].name;
                if !is_known(name) {
                    reader.push_fault::<()>(
                        &At::Field(&ratio_at, field),
                        Fault::LightOutputUnknown { light: name.clone() },
                    );
                }
            }
        }
        let contributions = contributions(
            self.readings.unwrap_or_default(),
            self.placements.unwrap_or_default(),
            &lights,
            at,
            reader,
            |light, point, at, reader| reach.points(light, point, at, reader),
        );
        let tolerance =
            self.tolerance_stops.map_or(Stops::new_unchecked(BALANCE_TOLERANCE), |tolerance| tolerance.0);
        Some(BalanceQuestion {
            set: Set {
                scene: Scene {
                    exposure: self.exposure.flash(),
                    exposure_time: self.exposure.exposure_time,
                    lights,
                    points,
                    contributions: contributions?,
                    ambient: self.ambient.unwrap_or_default(),
                    meter_offset: self.meter_offset_stops.map_or(Stops::ZERO, |offset| offset.0),
                },
                controls,
                point_targets: targets,
                limits: self.limits.unwrap_or_default(),
                step: reader.rules.step,
                units: reader.rules.units,
            },
            ratio,
            prefer: match self.prefer {
                Some(Preference::LeastEnergy) => Objective::LeastEnergy { tolerance_stops: tolerance.get() },
                _ => Objective::Accuracy,
            },
            tolerance,
            time_limit: Duration::from_millis(self.time_limit_ms.map_or(250, |limit| limit.0 as u64)),
        })
    }
}

/// Which points an entry reaches. Only with the `ratio` shorthand may it leave out its `point`.
struct Reach<'l> {
    lights: &'l [Light],
    ratio: Option<LightingRatio>,
}

impl Reach<'_> {
    fn points(
        &self,
        light: &str,
        point: Option<&str>,
        at: &At<'_>,
        reader: &mut Reader,
    ) -> Option<Vec<String>> {
        let owned = |names: &[&str]| names.iter().map(|&name| name.to_owned()).collect();
        match (point, self.ratio) {
            (Some(point), _) => Some(owned(&[point])),
            (None, None) => reader.push_fault(
                &At::Field(at, "point"),
                Fault::Missing { expected: "the name of a point".to_owned() },
            ),
            (None, Some(ratio)) if self.lights[ratio.key].name == light => Some(owned(&SIDES[..1])),
            (None, Some(_)) => Some(owned(&SIDES)),
        }
    }
}

/// The two points of the shorthand: the lit side gets the working exposure, the shadow side the exposure that makes the
/// ratio.
fn sides(ratio: &LightingRatio) -> [(MeteringPoint, PointTarget); 2] {
    let [lit, shadow] = SIDES;
    let point = |name: &str| MeteringPoint { id: None, name: name.to_owned(), position: None, normal: None };
    let with_weight = |target| PointTarget { target, weight: 1.0 };
    [
        (point(lit), with_weight(Target::Stops(Stops::ZERO))),
        (point(shadow), with_weight(Target::Ratio { ratio: ratio.sides(), to: lit.to_owned() })),
    ]
}

/// Balance lights
///
/// The setting of each light that gives every metering point its target: an aperture, stops relative to the working exposure, or a ratio to another point. Light is known from readings (each light metered alone) and placements (computed from where it stands). The settings are the best on the units' own clicks, and the answer says whether that is proven. If they are not good enough, it lists remedies. For two lights, `ratio` is enough.
#[utoipa::path(post, path = "/v1/ratios/balance", tag = "ratios", request_body = BalanceRequest,
    responses((status = 200, description = "The settings", body = Balance), Refusals))]
async fn balance_lights(body: Body<BalanceQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
