//! `/v1/exposure/predict`.

use axum::response::Response;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    drawing::{self, Picture},
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::FieldError,
        interrupt::Interrupt,
        quantity::{FNumber, Stops},
        set::{
            Ambient, Light, MeteringPoint, Optics, Scene,
            beam::Beam,
            geometry::{Direction, Position},
            modifier::Modifier,
            placement::Source,
            predict::{self, Lens, LightSetting, Prediction, Question},
        },
        unit::Unit,
    },
    request::{
        fields::{
            AmbientInput, BeamInput, CheckedPlacement, Correction, ExposureInput, MagnificationValue,
            PlacementInput, Pops, ReadingInput, SettingText, SourceInput, UnitInput, contributions,
        },
        place::At,
        reader::{Item, Read, Reader, reads},
        references::{self, LIGHTS_MOST},
        schema::{
            DirectionInput, EntryId, FNumberInput, ModifierInput, Name, PositionInput, SettingInput,
            StopsInput,
        },
        value::Value,
    },
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(predict_exposure))
}

/// A light at its setting.
#[derive(ToSchema)]
struct LitLightInput {
    /// Your own id for this entry, returned with its result.
    #[schema(value_type = Option<EntryId>)]
    id: Option<String>,
    /// Its name in this request, 1 to 64 characters, unique among them.
    #[schema(value_type = Name)]
    name: String,
    /// The unit.
    #[schema(value_type = UnitInput)]
    unit: Unit,
    /// Its setting; full power if left out. If null, `off` must be stated.
    #[schema(value_type = Option<SettingInput>)]
    setting: Option<SettingText>,
    /// Whether it is switched off; false if left out.
    off: Option<bool>,
    /// Flashes per exposure; 1 if left out.
    #[schema(value_type = Option<u32>, minimum = 1, maximum = 1000)]
    pops: Option<Pops>,
    /// Its position. With it, the light reaches every point that has a position.
    #[schema(value_type = Option<PositionInput>)]
    position: Option<Position>,
    /// The position that it is aimed at; each point in turn if left out.
    #[schema(value_type = Option<PositionInput>)]
    aim: Option<Position>,
    /// How its beam falls off away from the axis; an even beam if left out.
    #[schema(value_type = Option<BeamInput>)]
    beam: Option<Beam>,
    /// The effect of its modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`.
    #[schema(value_type = Option<ModifierInput>)]
    modifier_stops: Option<Modifier>,
    /// The face of its modifier. The finite-source factor is then applied as well.
    #[schema(value_type = Option<SourceInput>)]
    source: Option<Source>,
}
reads!(LitLightInput { id, name, unit, setting, off, pops, position, aim, beam, modifier_stops, source });

struct LitLight(Light, LightSetting);

impl Read for LitLight {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = LitLightInput::read(value, at, reader)?;
        if matches!(value.get("setting"), Some(Value::Null)) && input.off.is_none() {
            // In an answer, null means a light that is off; in a request, a setting left out means full power.
            return reader.push_fault(
                &At::Field(at, "setting"),
                "null may be a light that is off, or one at full power",
                "off beside it: true, or false for full power",
            );
        }
        let below = match &input.setting {
            Some(setting) => setting.check(&input.unit, &At::Field(at, "setting"), reader)?,
            None => Stops::ZERO,
        };
        let lamplight = LightSetting {
            below: (!input.off.unwrap_or(false)).then_some(below),
            pops: input.pops.map_or(1, |pops| pops.0),
        };
        let light = Light {
            id: input.id,
            name: input.name,
            unit: input.unit,
            position: input.position,
            optics: Optics {
                aim: input.aim,
                beam: input.beam,
                modifier: input.modifier_stops,
                source: input.source,
            },
        };
        Some(Self(light, lamplight))
    }
}

impl Item for LitLight {
    const MOST: usize = LIGHTS_MOST;
    const WHAT: &'static str = "lights";
}

/// A metering point.
#[derive(ToSchema)]
struct SpotInput {
    /// Your own id for this entry, returned with its result.
    #[schema(value_type = Option<EntryId>)]
    id: Option<String>,
    /// Its name in this request, 1 to 64 characters, unique among them.
    #[schema(value_type = Name)]
    name: String,
    /// Its position. With it, lights that have a position need no placement for this point.
    #[schema(value_type = Option<PositionInput>)]
    position: Option<Position>,
    /// The direction it faces; towards each light in turn if left out.
    #[schema(value_type = Option<DirectionInput>)]
    normal: Option<Direction>,
}
reads!(SpotInput { id, name, position, normal });

impl Item for SpotInput {
    const MOST: usize = 64;
    const WHAT: &'static str = "points";
}

/// Lens corrections, which a hand-held meter does not see.
#[derive(ToSchema)]
struct LensInput {
    /// Image size divided by subject size, 0 to 20; 0 if left out. A close-up loses 2·log2(1+m) stops.
    magnification: Option<MagnificationValue>,
    /// Transmission loss of the glass, stops, negative; 0 if left out.
    #[schema(value_type = Option<StopsInput>)]
    transmission_stops: Option<Correction>,
    /// Aperture errors at single marks, such as at the ends of a lens's range. The one at the working aperture is applied, if it is listed.
    #[schema(max_items = 64)]
    mark_corrections: Option<Vec<MarkCorrectionInput>>,
}
reads!(LensInput { magnification, transmission_stops, mark_corrections });

/// The aperture error at one mark.
#[derive(ToSchema)]
struct MarkCorrectionInput {
    /// The mark.
    #[schema(value_type = FNumberInput)]
    f_number: FNumber,
    /// The error, stops: positive if the picture is brighter than the mark says.
    #[schema(value_type = StopsInput)]
    stops: Correction,
}
reads!(MarkCorrectionInput { f_number, stops });

impl Item for MarkCorrectionInput {
    const LEAST: usize = 0;
    const MOST: usize = 64;
    const WHAT: &'static str = "corrections";
}

/// A set of lights and its settings.
#[derive(ToSchema)]
struct PredictRequest {
    /// The working exposure, with its exposure time if there is ambient light.
    exposure: ExposureInput,
    /// The lights.
    #[schema(value_type = Vec<LitLightInput>, min_items = 1, max_items = 32)]
    lights: Vec<LitLight>,
    /// The metering points. If left out, the points named by readings, placements and ambient light, in the order first named.
    #[schema(min_items = 1, max_items = 64)]
    points: Option<Vec<SpotInput>>,
    /// Meter readings, each with one light firing alone.
    #[schema(max_items = 2048)]
    readings: Option<Vec<ReadingInput>>,
    /// Light computed from where the lights stand. A light and a point that both have a position need no placement.
    #[schema(value_type = Option<Vec<PlacementInput>>, max_items = 2048)]
    placements: Option<Vec<CheckedPlacement>>,
    /// Ambient light at the points.
    #[schema(value_type = Option<Vec<AmbientInput>>, max_items = 64)]
    ambient: Option<Vec<Ambient>>,
    /// How much more light (+) the camera gets than the meter reads, stops; 0 if left out. Applied to all meter readings.
    #[schema(value_type = Option<StopsInput>)]
    meter_offset_stops: Option<Correction>,
    /// Lens corrections.
    lens: Option<LensInput>,
}
reads!(PredictRequest { exposure, lights, points, readings, placements, ambient, meter_offset_stops, lens });

pub(crate) struct CheckedPredict(Question);

impl Read for CheckedPredict {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        references::read_and_check(value, at, reader, PredictRequest::check).map(Self)
    }
}

impl Calculation for CheckedPredict {
    type Answer = Prediction;
    const PICTURE: Option<fn(&Self, &Prediction) -> Picture> =
        Some(|request, answer| drawing::predict(&request.0, answer));

    fn answer(&self, _: &dyn Interrupt) -> Result<Prediction, Vec<FieldError>> {
        predict::predict(&self.0)
    }
}

impl PredictRequest {
    fn check(self, at: &At<'_>, reader: &mut Reader) -> Option<Question> {
        let (lights, lamplight): (Vec<_>, Vec<_>) =
            self.lights.into_iter().map(|LitLight(light, lamplight)| (light, lamplight)).unzip();
        let contributions = contributions(
            self.readings.unwrap_or_default(),
            self.placements.unwrap_or_default(),
            &lights,
            at,
            reader,
            |_, point, at, reader| match point {
                Some(point) => Some(vec![point.to_owned()]),
                None => {
                    reader.push_fault(&At::Field(at, "point"), "this field is missing", "the name of a point")
                }
            },
        )?;
        let ambient = self.ambient.unwrap_or_default();
        let points = match self.points {
            Some(points) => points
                .into_iter()
                .map(|point| MeteringPoint {
                    id: point.id,
                    name: point.name,
                    position: point.position,
                    normal: point.normal,
                })
                .collect(),
            None => {
                let mut points: Vec<MeteringPoint> = Vec::new();
                let named = contributions.iter().map(|contribution| &contribution.point);
                for name in named.chain(ambient.iter().map(|entry| &entry.point)) {
                    if !points.iter().any(|point| point.name == *name) {
                        points.push(MeteringPoint {
                            id: None,
                            name: name.clone(),
                            position: None,
                            normal: None,
                        });
                    }
                }
                if points.len() > SpotInput::MOST {
                    return reader.push_fault(
                        &At::Field(at, "placements"),
                        format!("{} points are named", points.len()),
                        format!("at most {}", SpotInput::MOST),
                    );
                }
                points
            }
        };
        let corrections_at = At::Field(at, "lens");
        let corrections_at = At::Field(&corrections_at, "mark_corrections");
        let marks = self.lens.iter().filter_map(|lens| lens.mark_corrections.as_ref()).flatten();
        let marks: Vec<f64> = marks.map(|correction| correction.f_number.get()).collect();
        for (index, mark) in marks.iter().enumerate() {
            if marks[..index].iter().any(|before| (before / mark - 1.0).abs() < 1e-3) {
                let at = At::Index(&corrections_at, index);
                reader.push_fault::<()>(
                    &At::Field(&at, "f_number"),
                    "this mark is corrected twice",
                    "each mark once",
                );
            }
        }
        let lens = self.lens.map_or_else(Lens::default, |lens| Lens {
            magnification: lens.magnification.map_or(0.0, |magnification| magnification.0),
            transmission: lens.transmission_stops.map(|stops| stops.0),
            mark_corrections: lens
                .mark_corrections
                .into_iter()
                .flatten()
                .map(|correction| (correction.f_number, correction.stops.0))
                .collect(),
        });
        Some(Question {
            scene: Scene {
                exposure: self.exposure.flash(),
                exposure_time: self.exposure.exposure_time,
                lights,
                points,
                contributions,
                ambient,
                meter_offset: self.meter_offset_stops.map_or(Stops::ZERO, |offset| offset.0),
            },
            lamplight,
            lens,
            step: reader.rules.step,
            units: reader.rules.units,
        })
    }
}

/// Predict exposure
///
/// Predicts the light at each point before a light is switched on: the f-number that a meter would read, the luminous exposure, each light's share, and the error of the picture at the working exposure, with the losses of the lens. Light is known from placements, positions or readings; ambient light is added for the exposure time.
#[utoipa::path(post, path = "/v1/exposure/predict", tag = "ratios", request_body = PredictRequest,
    responses((status = 200, description = "The light at each point", body = Prediction), Refusals))]
async fn predict_exposure(body: Body<CheckedPredict>) -> Result<Response, Problem> {
    body.answer().await
}
