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
            Balance, Question, balance,
            ratio::{LightingRatio, SIDES},
            search::Objective,
            setup::{PointTarget, Set, Target},
        },
        error::FieldError,
        interrupt::Interrupt,
        quantity::{Stops, constants::BALANCE_TOLERANCE},
        set::{Ambient, Light, MeteringPoint, Scene, limits::Limits},
    },
    request::{
        fields::{
            AmbientInput, Correction, ExposureInput, LimitsInput, Placed, PlacementInput, ReadingInput,
            TimeLimit, Tolerance, contributions,
        },
        place::At,
        reader::{Read, Reader, reads, reads_word},
        references,
        schema::StopsInput,
        value::Value,
    },
    server::{
        metrics,
        problem::{Problem, Refusals},
        state::Routes,
    },
};

use self::inputs::{CheckedLight, LightingRatioInput, PointInput};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(balance_lights))
}

/// What is wanted of the settings.
#[derive(Clone, Copy, ToSchema)]
#[schema(rename_all = "snake_case", as = BalancePreference)]
enum Preference {
    /// The least worst error.
    Accuracy,
    /// The least energy with every point within `tolerance_stops`.
    LeastEnergy,
}

reads_word!(Preference: [("accuracy", Preference::Accuracy), ("least_energy", Preference::LeastEnergy)]);

/// A set of lights to balance, with `points`, or with the two-light shorthand `ratio`.
#[derive(ToSchema)]
struct BalanceRequest {
    /// The working exposure; with its time where there is ambient light.
    exposure: ExposureInput,
    /// The lights.
    #[schema(value_type = Vec<inputs::LightInput>, min_items = 1, max_items = 32)]
    lights: Vec<CheckedLight>,
    /// The metering points.
    #[schema(min_items = 1, max_items = 64)]
    points: Option<Vec<PointInput>>,
    /// Two lights on a lit side and a shadow side, instead of `points`; the lit side gets the working exposure.
    ratio: Option<LightingRatioInput>,
    /// Light as it was metered, each light alone.
    #[schema(max_items = 2048)]
    readings: Option<Vec<ReadingInput>>,
    /// Light as it is computed from where the lights stand. Pairs of a light and a point whose positions are both known need none.
    #[schema(value_type = Option<Vec<PlacementInput>>, max_items = 2048)]
    placements: Option<Vec<Placed>>,
    /// Light that is there anyway.
    #[schema(value_type = Option<Vec<AmbientInput>>, max_items = 64)]
    ambient: Option<Vec<Ambient>>,
    /// How much more (+) light the camera gets than the meter says, stops; 0 if left out. Corrects all meter readings.
    #[schema(value_type = Option<StopsInput>)]
    meter_offset_stops: Option<Correction>,
    /// What is wanted of the settings; `accuracy` if left out.
    prefer: Option<Preference>,
    /// Worst error that is feasible, stops, 0.001 to 4; 1/3 if left out.
    #[schema(value_type = Option<StopsInput>)]
    tolerance_stops: Option<Tolerance>,
    /// Time that the whole answer may take from when work on it begins, ms, 1 to 2000; 250 if left out. The search takes at most four fifths of it; the rest, and what the search leaves, is for remedies and for what holds the result back.
    time_limit_ms: Option<TimeLimit>,
    /// How far remedies may go.
    #[schema(value_type = Option<LimitsInput>)]
    limits: Option<Limits>,
}
reads!(BalanceRequest {
    exposure,
    lights,
    points,
    ratio,
    readings,
    placements,
    ambient,
    meter_offset_stops,
    prefer,
    tolerance_stops,
    time_limit_ms,
    limits
});

pub(crate) struct BalanceChecked(Question);

impl Read for BalanceChecked {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        references::checked(tree, at, reader, BalanceRequest::check).map(Self)
    }
}

impl Calculation for BalanceChecked {
    type Answer = Balance;
    const PICTURE: Option<fn(&Self, &Balance) -> Picture> =
        Some(|request, answer| drawing::balance(&request.0, answer));
    const HEAVY: bool = true;

    fn answer(&self, interrupt: &dyn Interrupt) -> Result<Balance, Vec<FieldError>> {
        let balanced = balance(&self.0, interrupt)?;
        if !interrupt.checkpoint() {
            metrics::count_search(balanced.optimality.nodes, balanced.optimality.proven);
        }
        Ok(balanced)
    }
}

impl BalanceRequest {
    fn check(self, at: &At<'_>, reader: &mut Reader) -> Option<Question> {
        let (lamps, controls): (Vec<_>, Vec<_>) =
            self.lights.into_iter().map(|light| (light.lamp, light.control)).unzip();
        let ratio = match (&self.points, self.ratio) {
            (Some(_), None) => None,
            (None, Some(ratio)) => Some(ratio.check(&lamps, &At::Field(at, "ratio"), reader)?),
            (None, None) => {
                return reader.fault(
                    &At::Field(at, "points"),
                    "neither points nor ratio is given",
                    "exactly one of points, ratio",
                );
            }
            (Some(_), Some(_)) => {
                return reader.fault(
                    &At::Field(at, "ratio"),
                    "both points and ratio are given",
                    "exactly one of points, ratio",
                );
            }
        };
        let (spots, wishes): (Vec<_>, Vec<_>) = match (self.points, ratio) {
            (None, Some(ratio)) => sides(&ratio).into_iter().unzip(),
            (points, _) => points.into_iter().flatten().map(PointInput::parts).unzip(),
        };
        let reach = Reach { lamps: &lamps, ratio };
        if let Some(ratio) = ratio {
            // A name that is nobody's may be this light's, and is told itself.
            let is_of =
                |light: &str, name: &str| light == name || !lamps.iter().any(|lamp| lamp.name == light);
            let told = |name: &str| {
                self.readings.iter().flatten().any(|reading| is_of(&reading.light, name))
                    || self.placements.iter().flatten().any(|placement| is_of(&placement.light, name))
            };
            let ratio_at = At::Field(at, "ratio");
            for (field, light) in [("key", ratio.key), ("fill", ratio.fill)] {
                let name = &lamps[light].name;
                if !told(name) {
                    reader.fault::<()>(
                        &At::Field(&ratio_at, field),
                        format!("nothing tells what light \"{name}\" gives"),
                        "a reading or a placement of it",
                    );
                }
            }
        }
        let contributions = contributions(
            self.readings.unwrap_or_default(),
            self.placements.unwrap_or_default(),
            &lamps,
            at,
            reader,
            |light, point, at, reader| reach.points(light, point, at, reader),
        );
        let tolerance =
            self.tolerance_stops.map_or(Stops::new_unchecked(BALANCE_TOLERANCE), |tolerance| tolerance.0);
        Some(Question {
            set: Set {
                scene: Scene {
                    exposure: self.exposure.flash(),
                    exposure_time: self.exposure.exposure_time,
                    lamps,
                    spots,
                    contributions: contributions?,
                    ambient: self.ambient.unwrap_or_default(),
                    meter_offset: self.meter_offset_stops.map_or(Stops::ZERO, |offset| offset.0),
                },
                controls,
                wishes,
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

/// Which points an entry without a `point` reaches: only the shorthand says.
struct Reach<'l> {
    lamps: &'l [Light],
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
            (None, None) => {
                reader.fault(&At::Field(at, "point"), "this field is missing", "the name of a point")
            }
            (None, Some(ratio)) if self.lamps[ratio.key].name == light => Some(owned(&SIDES[..1])),
            (None, Some(_)) => Some(owned(&SIDES)),
        }
    }
}

/// The two points of the shorthand: the lit side gets the working exposure, the shadow side its part.
fn sides(ratio: &LightingRatio) -> [(MeteringPoint, PointTarget); 2] {
    let [lit, shadow] = SIDES;
    let spot = |name: &str| MeteringPoint { id: None, name: name.to_owned(), position: None, normal: None };
    let wish = |target| PointTarget { target, weight: 1.0 };
    [
        (spot(lit), wish(Target::Stops(Stops::ZERO))),
        (spot(shadow), wish(Target::Ratio { ratio: ratio.sides(), to: lit.to_owned() })),
    ]
}

/// Balance lights
///
/// Which setting of each light gives every metering point the light that is wanted: an aperture, stops against the working exposure, or a ratio to another point. Light comes from readings (each light metered alone) and placements (computed from where it stands). The settings are the best on the units' own clicks, and the answer says whether that is proven; where they are not good enough, it tells what would do it. For two lights, `ratio` is enough.
#[utoipa::path(post, path = "/v1/ratios/balance", tag = "ratios", request_body = BalanceRequest,
    responses((status = 200, description = "The settings", body = Balance), Refusals))]
async fn balance_lights(body: Body<BalanceChecked>) -> Result<Response, Problem> {
    body.answer().await
}
