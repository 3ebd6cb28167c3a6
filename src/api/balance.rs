//! `/v1/ratios/balance`.

use std::{
    sync::{
        Arc, LazyLock,
        atomic::{AtomicBool, Ordering},
    },
    time::Duration,
};

use axum::response::Response;
use tokio::sync::Semaphore;
use utoipa::ToSchema;
use utoipa_axum::{router::OpenApiRouter, routes};

use super::{
    exchange::{self, Body},
    objects::{
        AngleOfIncidence, BelowFull, Correction, ExposureInput, LightingRatioValue, LimitsInput, LuxValue,
        SettingText, Size, TimeLimit, Tolerance, UnitInput, Weight,
    },
    openapi::Refusals,
    problem::{Kind as ProblemKind, Problem},
    read::{At, Item, Read, Reader, quantity, reads, word},
    schema::{DistanceInput, FNumberInput, RatioInput, SettingInput, SizeInput, StopsInput},
    tree::Tree,
};
use crate::light::{
    balance::{
        Balance, Counting, LightingRatio, Question, balance,
        search::Prefer,
        setup::{Ambient, AmbientAmount, Contribution, Known, Light, MeteringPoint, Set, Target},
    },
    bounds,
    constants::BALANCE_TOLERANCE,
    fault::Place,
    kind::{Kind, Reading},
    limits::Limits,
    marks::Step,
    placement::{Placement, Source},
    quantity::{FNumber, Lux, Metres, Stops},
    unit::Unit,
};

/// The routes of this file.
pub fn routes() -> OpenApiRouter {
    OpenApiRouter::new().routes(routes!(balance_lights))
}

/// Names of the two points of the shorthand.
const SIDES: [&str; 2] = ["lit side", "shadow side"];

/// A light of the set.
#[derive(ToSchema)]
struct LightInput {
    /// Your own name for this entry, given back with its result.
    #[schema(min_length = 1, max_length = 64)]
    id: Option<String>,
    /// Its name in this request, 1 to 64 characters, unlike all others.
    #[schema(min_length = 1, max_length = 64)]
    name: String,
    /// The unit.
    #[schema(value_type = UnitInput)]
    unit: Unit,
    /// It may go no lower than so many stops below full, 0 to 16.
    max_stops_below_full: Option<BelowFull>,
    /// It stays at this setting.
    #[schema(value_type = Option<SettingInput>)]
    fixed_setting: Option<SettingText>,
    /// It may be switched off; false if left out.
    may_be_off: Option<bool>,
}
reads!(LightInput { id, name, unit, max_stops_below_full, fixed_setting, may_be_off });

impl Item for LightInput {
    const MOST: usize = 32;
    const WHAT: &'static str = "lights";
}

/// What is wanted at a point: exactly one of `f_number`, `stops`, or `ratio` with `to`.
#[derive(ToSchema)]
struct TargetInput {
    /// The aperture that a meter should read there.
    #[schema(value_type = Option<FNumberInput>)]
    f_number: Option<FNumber>,
    /// Stops against the working exposure.
    #[schema(value_type = Option<StopsInput>)]
    stops: Option<Stops>,
    /// The point named by `to` gets this many times the light of this one: "3:1" is 3 there, 1 here.
    #[schema(value_type = Option<RatioInput>)]
    ratio: Option<Ratio>,
    /// The other point of the ratio.
    #[schema(min_length = 1, max_length = 64)]
    to: Option<String>,
}
reads!(TargetInput { f_number, stops, ratio, to });

/// A ratio of light, to 1.
#[derive(Clone, Copy)]
struct Ratio(f64);

impl Read for Ratio {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        quantity(Kind::LightRatio, tree, at, reader).map(Self)
    }

    fn wanted() -> String {
        Kind::LightRatio.expected().to_owned()
    }
}

impl Read for Target {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = TargetInput::read(tree, at, reader)?;
        match (form.f_number, form.stops, form.ratio, form.to) {
            (Some(f_number), None, None, None) => Some(Self::FNumber(f_number)),
            (None, Some(stops), None, None) => Some(Self::Stops(stops)),
            (None, None, Some(Ratio(ratio)), Some(to)) => Some(Self::Ratio { ratio, to }),
            _ => reader.fault(
                at,
                "a target is told in exactly one way",
                "exactly one of f_number, stops, or ratio with to",
            ),
        }
    }
}

/// A metering point.
#[derive(ToSchema)]
struct PointInput {
    /// Your own name for this entry, given back with its result.
    #[schema(min_length = 1, max_length = 64)]
    id: Option<String>,
    /// Its name in this request, 1 to 64 characters, unlike all others.
    #[schema(min_length = 1, max_length = 64)]
    name: String,
    /// What is wanted there.
    #[schema(value_type = TargetInput)]
    target: Target,
    /// What an error there counts, 0.01 to 100; 1 if left out.
    weight: Option<Weight>,
}
reads!(PointInput { id, name, target, weight });

impl Item for PointInput {
    const MOST: usize = 64;
    const WHAT: &'static str = "points";
}

/// A meter's reading with one light alone.
#[derive(ToSchema)]
struct ReadingInput {
    /// The light's name.
    #[schema(min_length = 1, max_length = 64)]
    light: String,
    /// The point's name; may be left out in the two-light shorthand.
    #[schema(min_length = 1, max_length = 64)]
    point: Option<String>,
    /// The setting of the light.
    #[schema(value_type = SettingInput)]
    setting: SettingText,
    /// What the meter read, at the working ISO speed.
    #[schema(value_type = FNumberInput)]
    f_number: FNumber,
}
reads!(ReadingInput { light, point, setting, f_number });

impl Item for ReadingInput {
    const LEAST: usize = 0;
    const MOST: usize = 2048;
    const WHAT: &'static str = "readings";
}

/// The face of a source: exactly one of `disc_m` and `rectangle_m`.
#[derive(ToSchema)]
struct SourceInput {
    /// The diameter of a round face.
    #[schema(value_type = Option<SizeInput>)]
    disc_m: Option<Size>,
    /// The width and height of a rectangular face.
    #[schema(value_type = Option<Vec<SizeInput>>, min_items = 2, max_items = 2)]
    rectangle_m: Option<Sides>,
}
reads!(SourceInput { disc_m, rectangle_m });

struct Sides([Size; 2]);

impl Read for Sides {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        const EXPECTED: &str = "a list of two, width and height";
        let Tree::List(items) = tree else {
            return reader.mistyped(at, tree, EXPECTED);
        };
        let [width, height] = items.as_slice() else {
            return reader.fault(at, format!("the list has {} elements", items.len()), EXPECTED);
        };
        let width = Size::read(width, &At::Index(at, 0), reader);
        let height = Size::read(height, &At::Index(at, 1), reader);
        Some(Self([width?, height?]))
    }
}

impl Read for Source {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = SourceInput::read(tree, at, reader)?;
        match (form.disc_m, form.rectangle_m) {
            (Some(Size(diameter)), None) => Some(Self::Disc { diameter }),
            (None, Some(Sides([Size(width), Size(height)]))) => Some(Self::Rectangle { width, height }),
            _ => {
                reader.fault(at, "a source is told in exactly one way", "exactly one of disc_m, rectangle_m")
            }
        }
    }
}

/// Where a light stands to a point.
#[derive(ToSchema)]
struct PlacementInput {
    /// The light's name.
    #[schema(min_length = 1, max_length = 64)]
    light: String,
    /// The point's name; may be left out in the two-light shorthand.
    #[schema(min_length = 1, max_length = 64)]
    point: Option<String>,
    /// From the light to the point.
    #[schema(value_type = DistanceInput)]
    distance: Metres,
    /// Angle between the light's direction and the point's normal, degrees, 0 to 90; 0 if left out.
    incidence_deg: Option<AngleOfIncidence>,
    /// What its modifier does against the unit as it is rated, stops; negative where it darkens.
    #[schema(value_type = Option<StopsInput>)]
    modifier_stops: Option<Correction>,
    /// The face of the modifier, where it is near: the finite-source factor comes on top.
    #[schema(value_type = Option<SourceInput>)]
    source: Option<Source>,
}
reads!(PlacementInput { light, point, distance, incidence_deg, modifier_stops, source });

impl Item for PlacementInput {
    const LEAST: usize = 0;
    const MOST: usize = 2048;
    const WHAT: &'static str = "placements";
}

/// Ambient light at a point: exactly one of `illuminance_lx` and `f_number`.
#[derive(ToSchema)]
struct AmbientInput {
    /// The point's name.
    #[schema(min_length = 1, max_length = 64)]
    point: String,
    /// Illuminance, lx, 0 to 1000000.
    illuminance_lx: Option<LuxValue>,
    /// A meter's reading at the working exposure time and ISO speed.
    #[schema(value_type = Option<FNumberInput>)]
    f_number: Option<FNumber>,
}
reads!(AmbientInput { point, illuminance_lx, f_number });

impl Item for AmbientInput {
    const LEAST: usize = 0;
    const MOST: usize = 64;
    const WHAT: &'static str = "ambient entries";
}

impl Read for Ambient {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = AmbientInput::read(tree, at, reader)?;
        let amount = match (form.illuminance_lx, form.f_number) {
            (Some(lux), None) => AmbientAmount::Illuminance(Lux::computed(lux.0)),
            (None, Some(f_number)) => AmbientAmount::FNumber(f_number),
            _ => {
                return reader.fault(
                    at,
                    "ambient light is told in exactly one way",
                    "exactly one of illuminance_lx, f_number",
                );
            }
        };
        Some(Self { point: form.point, amount })
    }
}

impl Item for Ambient {
    const LEAST: usize = AmbientInput::LEAST;
    const MOST: usize = AmbientInput::MOST;
    const WHAT: &'static str = AmbientInput::WHAT;
}

/// How a lighting ratio is counted.
#[derive(ToSchema)]
#[schema(rename_all = "lowercase")]
#[expect(dead_code, reason = "stands in the OpenAPI document only")]
enum CountingWord {
    /// The fill reaches both sides: (key + fill) : fill.
    Sides,
    /// Each light metered alone: key : fill.
    Lights,
}

impl Read for Counting {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        word(tree, &[Self::Sides, Self::Lights].map(|counting| (counting.text(), counting)), at, reader)
    }
}

/// A lighting ratio of two lights, instead of points.
#[derive(ToSchema)]
struct LightingRatioInput {
    /// The ratio, 1 to 1000 to 1, as 3 or "3:1".
    #[schema(value_type = RatioInput)]
    value: LightingRatioValue,
    /// Name of the key light, which reaches the lit side.
    #[schema(min_length = 1, max_length = 64)]
    key: String,
    /// Name of the fill light, which reaches both sides.
    #[schema(min_length = 1, max_length = 64)]
    fill: String,
    /// `sides` (if left out): (key + fill) : fill. `lights`: each metered alone.
    #[schema(value_type = Option<CountingWord>)]
    counting: Option<Counting>,
}
reads!(LightingRatioInput { value, key, fill, counting });

/// What is wanted of the settings.
#[derive(Clone, Copy, ToSchema)]
#[schema(rename_all = "snake_case")]
enum Preference {
    /// The least worst error.
    Accuracy,
    /// The least energy with every point within `tolerance_stops`.
    LeastEnergy,
}

impl Read for Preference {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        word(tree, &[("accuracy", Self::Accuracy), ("least_energy", Self::LeastEnergy)], at, reader)
    }
}

/// A set of lights to balance, with `points`, or with the two-light shorthand `ratio`.
#[derive(ToSchema)]
struct BalanceRequest {
    /// The working exposure; with its time where there is ambient light.
    exposure: ExposureInput,
    /// The lights.
    #[schema(min_items = 1, max_items = 32)]
    lights: Vec<LightInput>,
    /// The metering points.
    #[schema(min_items = 1, max_items = 64)]
    points: Option<Vec<PointInput>>,
    /// Two lights on a lit side and a shadow side, instead of `points`; the lit side gets the working exposure.
    ratio: Option<LightingRatioInput>,
    /// Light as it was metered, each light alone.
    #[schema(max_items = 2048)]
    readings: Option<Vec<ReadingInput>>,
    /// Light as it is computed from where the lights stand.
    #[schema(max_items = 2048)]
    placements: Option<Vec<PlacementInput>>,
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
    /// Time that the search may take, ms, 1 to 2000; 250 if left out.
    time_limit_ms: Option<TimeLimit>,
    /// How far remedies may go.
    #[schema(value_type = Option<LimitsInput>)]
    limits: Option<Limits>,
    /// How numbers are read; `marked` if left out.
    #[expect(dead_code, reason = "read ahead of all else, by Reader::request")]
    reading: Option<Reading>,
    /// The series of marks; thirds if left out.
    #[expect(dead_code, reason = "read ahead of all else, by Reader::request")]
    step: Option<Step>,
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
    limits,
    reading,
    step
});

struct BalanceChecked(Question);

impl Read for BalanceChecked {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = BalanceRequest::read(tree, at, reader)?;
        let lights_at = At::Field(at, "lights");
        let lights: Vec<Option<Light>> = form
            .lights
            .into_iter()
            .enumerate()
            .map(|(index, light)| light.check(&At::Index(&lights_at, index), reader))
            .collect();
        let lights: Vec<Light> = lights.into_iter().collect::<Option<_>>()?;
        let ratio = match (&form.points, form.ratio) {
            (Some(_), None) => None,
            (None, Some(ratio)) => Some(ratio.check(&lights, &At::Field(at, "ratio"), reader)?),
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
        let points = match (form.points, ratio) {
            (None, Some(ratio)) => sides(&ratio),
            (points, _) => points.into_iter().flatten().map(PointInput::checked).collect(),
        };
        let reach = Reach { lights: &lights, ratio };
        let mut contributions = Some(Vec::new());
        let readings_at = At::Field(at, "readings");
        for (index, reading) in form.readings.into_iter().flatten().enumerate() {
            let at = At::Index(&readings_at, index);
            let Some(points) = reach.points(&reading.light, reading.point.as_deref(), &at, reader) else {
                contributions = None;
                continue;
            };
            // A light that is not there is told with all other dangling names.
            let below = match lights.iter().find(|light| light.name == reading.light) {
                Some(light) => reading.setting.check(&light.unit, &At::Field(&at, "setting"), reader),
                None => Some(Stops::ZERO),
            };
            let known = below.map(|below| Known::Reading { below, f_number: reading.f_number });
            match (known, &mut contributions) {
                (Some(known), Some(list)) => push(list, &reading.light, points, &known, &at.place()),
                _ => contributions = None,
            }
        }
        let placements_at = At::Field(at, "placements");
        for (index, placement) in form.placements.into_iter().flatten().enumerate() {
            let at = At::Index(&placements_at, index);
            let points = reach.points(&placement.light, placement.point.as_deref(), &at, reader);
            let known = Known::Placement(Placement {
                distance: placement.distance,
                incidence_deg: placement.incidence_deg.map_or(0.0, |angle| angle.0),
                modifier: placement.modifier_stops.map_or(Stops::ZERO, |modifier| modifier.0),
                source: placement.source,
            });
            match (points, &mut contributions) {
                (Some(points), Some(list)) => push(list, &placement.light, points, &known, &at.place()),
                _ => contributions = None,
            }
        }
        let tolerance =
            form.tolerance_stops.map_or(Stops::computed(BALANCE_TOLERANCE), |tolerance| tolerance.0);
        Some(Self(Question {
            set: Set {
                exposure: form.exposure.flash(),
                exposure_time: form.exposure.exposure_time,
                lights,
                points,
                contributions: contributions?,
                ambient: form.ambient.unwrap_or_default(),
                meter_offset: form.meter_offset_stops.map_or(Stops::ZERO, |offset| offset.0),
                limits: form.limits.unwrap_or_default(),
                step: reader.rules.step,
            },
            ratio,
            prefer: match form.prefer {
                Some(Preference::LeastEnergy) => Prefer::LeastEnergy { tolerance_stops: tolerance.get() },
                _ => Prefer::Accuracy,
            },
            tolerance,
            time_limit: Duration::from_millis(form.time_limit_ms.map_or(250, |limit| limit.0 as u64)),
        }))
    }
}

fn push(list: &mut Vec<Contribution>, light: &str, points: Vec<String>, known: &Known, place: &Place) {
    for point in points {
        list.push(Contribution {
            light: light.to_owned(),
            point,
            known: known.clone(),
            place: place.clone(),
        });
    }
}

/// Which points an entry without a `point` reaches: only the shorthand says.
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
            (None, None) => {
                reader.fault(&At::Field(at, "point"), "this field is missing", "the name of a point")
            }
            (None, Some(ratio)) if self.lights[ratio.key].name == light => Some(owned(&SIDES[..1])),
            (None, Some(_)) => Some(owned(&SIDES)),
        }
    }
}

/// The two points of the shorthand: the lit side gets the working exposure, the shadow side its part.
fn sides(ratio: &LightingRatio) -> Vec<MeteringPoint> {
    let [lit, shadow] = SIDES;
    let point = |name: &str, target| MeteringPoint { id: None, name: name.to_owned(), target, weight: 1.0 };
    vec![
        point(lit, Target::Stops(Stops::ZERO)),
        point(shadow, Target::Ratio { ratio: ratio.sides(), to: lit.to_owned() }),
    ]
}

impl LightInput {
    fn check(self, at: &At<'_>, reader: &mut Reader) -> Option<Light> {
        let fixed = match &self.fixed_setting {
            Some(setting) => Some(setting.check(&self.unit, &At::Field(at, "fixed_setting"), reader)?),
            None => None,
        };
        Some(Light {
            id: self.id,
            name: self.name,
            unit: self.unit,
            max_below: self.max_stops_below_full.map(|below| Stops::computed(below.0)),
            fixed,
            may_be_off: self.may_be_off.unwrap_or(false),
        })
    }
}

impl PointInput {
    fn checked(self) -> MeteringPoint {
        MeteringPoint {
            id: self.id,
            name: self.name,
            target: self.target,
            weight: self.weight.map_or(1.0, |weight| weight.0),
        }
    }
}

impl LightingRatioInput {
    fn check(self, lights: &[Light], at: &At<'_>, reader: &mut Reader) -> Option<LightingRatio> {
        if lights.len() != 2 {
            return reader.fault(
                at,
                "the shorthand is for two lights",
                "two lights, or points instead of ratio",
            );
        }
        let mut find = |name: &str, field| {
            let found = lights.iter().position(|light| light.name == name);
            match found {
                Some(index) => Some(index),
                None => reader.fault(
                    &At::Field(at, field),
                    format!("no light is named \"{name}\""),
                    format!("one of {}, {}", lights[0].name, lights[1].name),
                ),
            }
        };
        let (key, fill) = (find(&self.key, "key"), find(&self.fill, "fill"));
        let (key, fill) = (key?, fill?);
        if key == fill {
            return reader.fault(&At::Field(at, "fill"), "key and fill are the same light", "two lights");
        }
        let counting = self.counting.unwrap_or(Counting::Sides);
        Some(LightingRatio { value: self.value.0, counting, key, fill })
    }
}

/// Heavy calculations at a time: the machine's cores but one, so that light calls stay quick.
static HEAVY: LazyLock<Semaphore> = LazyLock::new(|| {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    Semaphore::new(cores.saturating_sub(1).max(1))
});

/// Ends a search when the request that asked for it goes away.
struct StopOnDrop(Arc<AtomicBool>);

impl Drop for StopOnDrop {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// Balance lights
///
/// Which setting of each light gives every metering point the light that is wanted: an aperture, stops against the working exposure, or a ratio to another point. Light comes from readings (each light metered alone) and placements (computed from where it stands). The settings are the best on the units' own clicks, and the answer says whether that is proven; where they are not good enough, it tells what would do it. For two lights, `ratio` is enough.
#[utoipa::path(post, path = "/ratios/balance", tag = "ratios", request_body = BalanceRequest,
    responses((status = 200, description = "The settings", body = Balance), Refusals))]
async fn balance_lights(Body(request, origin): Body<BalanceChecked>) -> Result<Response, Problem> {
    let internal = |_| Problem::new(ProblemKind::Internal, "The search failed.");
    let place = HEAVY
        .acquire()
        .await
        .map_err(|_| Problem::new(ProblemKind::Unavailable, "The service is stopping."))?;
    let stop = StopOnDrop(Arc::new(AtomicBool::new(false)));
    let seen = Arc::clone(&stop.0);
    let answer =
        tokio::task::spawn_blocking(move || balance(&request.0, Some(&seen))).await.map_err(internal)?;
    drop(place);
    exchange::answer(&answer.map_err(|faults| origin.refuse(faults))?)
}

impl Read for LightingRatioValue {
    fn read(tree: &Tree<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let Ratio(ratio) = Ratio::read(tree, at, reader)?;
        match bounds::LIGHTING_RATIO.check(ratio) {
            Ok(ratio) => Some(Self(ratio)),
            Err(wrong) => reader.wrong(at, wrong),
        }
    }

    fn wanted() -> String {
        Kind::LightRatio.expected().to_owned()
    }
}
