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
            predict::{self, Lamplight, Lens, Prediction, Question},
        },
        unit::Unit,
    },
    request::{
        fields::{
            AmbientInput, BeamInput, Correction, ExposureInput, MagnificationValue, Placed, PlacementInput,
            Pops, ReadingInput, SettingText, SourceInput, UnitInput, contributions,
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
    /// Your own name for this entry, given back with its result.
    #[schema(value_type = Option<EntryId>)]
    id: Option<String>,
    /// Its name in this request, 1 to 64 characters, unlike all others.
    #[schema(value_type = Name)]
    name: String,
    /// The unit.
    #[schema(value_type = UnitInput)]
    unit: Unit,
    /// Its setting; full power if left out. With null, `off` must be said.
    #[schema(value_type = Option<SettingInput>)]
    setting: Option<SettingText>,
    /// Whether it is switched off; false if left out.
    off: Option<bool>,
    /// Flashes in one exposure; 1 if left out.
    #[schema(value_type = Option<u32>, minimum = 1, maximum = 1000)]
    pops: Option<Pops>,
    /// Where it stands. It then lights every point whose position is known.
    #[schema(value_type = Option<PositionInput>)]
    position: Option<Position>,
    /// The place that it is aimed at; at each point if left out.
    #[schema(value_type = Option<PositionInput>)]
    aim: Option<Position>,
    /// How its beam falls off its axis; even if left out.
    #[schema(value_type = Option<BeamInput>)]
    beam: Option<Beam>,
    /// What its modifier does against the unit as it is rated: stops, negative where it darkens, or a kind out of `modifiers`.
    #[schema(value_type = Option<ModifierInput>)]
    modifier_stops: Option<Modifier>,
    /// The face of its modifier: the finite-source factor comes on top.
    #[schema(value_type = Option<SourceInput>)]
    source: Option<Source>,
}
reads!(LitLightInput { id, name, unit, setting, off, pops, position, aim, beam, modifier_stops, source });

struct LitLight(Light, Lamplight);

impl Read for LitLight {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = LitLightInput::read(tree, at, reader)?;
        if matches!(tree.get("setting"), Some(Value::Null)) && form.off.is_none() {
            // An answer says so of a light that is off; who leaves it out means full power.
            return reader.fault(
                &At::Field(at, "setting"),
                "null may be a light that is off, or one at full power",
                "off beside it: true, or false for full power",
            );
        }
        let below = match &form.setting {
            Some(setting) => setting.check(&form.unit, &At::Field(at, "setting"), reader)?,
            None => Stops::ZERO,
        };
        let lamplight = Lamplight {
            below: (!form.off.unwrap_or(false)).then_some(below),
            pops: form.pops.map_or(1, |pops| pops.0),
        };
        let lamp = Light {
            id: form.id,
            name: form.name,
            unit: form.unit,
            position: form.position,
            outfit: Optics {
                aim: form.aim,
                beam: form.beam,
                modifier: form.modifier_stops,
                source: form.source,
            },
        };
        Some(Self(lamp, lamplight))
    }
}

impl Item for LitLight {
    const MOST: usize = LIGHTS_MOST;
    const WHAT: &'static str = "lights";
}

/// A point to look at.
#[derive(ToSchema)]
struct SpotInput {
    /// Your own name for this entry, given back with its result.
    #[schema(value_type = Option<EntryId>)]
    id: Option<String>,
    /// Its name in this request, 1 to 64 characters, unlike all others.
    #[schema(value_type = Name)]
    name: String,
    /// Where it is; with it, lights whose position is known need no placement.
    #[schema(value_type = Option<PositionInput>)]
    position: Option<Position>,
    /// Where it faces; each light if left out.
    #[schema(value_type = Option<DirectionInput>)]
    normal: Option<Direction>,
}
reads!(SpotInput { id, name, position, normal });

impl Item for SpotInput {
    const MOST: usize = 64;
    const WHAT: &'static str = "points";
}

/// What the lens does to the light that a meter reads.
#[derive(ToSchema)]
struct LensInput {
    /// Size of the image over that of the subject, 0 to 20; close-up loses 2·log2(1+m) stops. 0 if left out.
    magnification: Option<MagnificationValue>,
    /// What the glass lets through, stops; negative. 0 if left out.
    #[schema(value_type = Option<StopsInput>)]
    transmission_stops: Option<Correction>,
    /// Marks at which the aperture is off, as at the ends of a lens's range. That of the working aperture counts, if it is among them.
    #[schema(max_items = 64)]
    mark_corrections: Option<Vec<MarkCorrectionInput>>,
}
reads!(LensInput { magnification, transmission_stops, mark_corrections });

/// A mark at which the aperture is off.
#[derive(ToSchema)]
struct MarkCorrectionInput {
    /// The mark.
    #[schema(value_type = FNumberInput)]
    f_number: FNumber,
    /// How much brighter (+) the picture is than the mark says, stops.
    #[schema(value_type = StopsInput)]
    stops: Correction,
}
reads!(MarkCorrectionInput { f_number, stops });

impl Item for MarkCorrectionInput {
    const LEAST: usize = 0;
    const MOST: usize = 64;
    const WHAT: &'static str = "corrections";
}

/// A set of lights at their settings.
#[derive(ToSchema)]
struct PredictRequest {
    /// The working exposure; with its time where there is ambient light.
    exposure: ExposureInput,
    /// The lights.
    #[schema(value_type = Vec<LitLightInput>, min_items = 1, max_items = 32)]
    lights: Vec<LitLight>,
    /// The points to look at; if left out, those that placements, readings and ambient light name, in the order first seen.
    #[schema(min_items = 1, max_items = 64)]
    points: Option<Vec<SpotInput>>,
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
    /// What the lens does.
    lens: Option<LensInput>,
}
reads!(PredictRequest { exposure, lights, points, readings, placements, ambient, meter_offset_stops, lens });

pub(crate) struct PredictChecked(Question);

impl Read for PredictChecked {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        references::checked(tree, at, reader, PredictRequest::check).map(Self)
    }
}

impl Calculation for PredictChecked {
    type Answer = Prediction;
    const PICTURE: Option<fn(&Self, &Prediction) -> Picture> =
        Some(|request, answer| drawing::predict(&request.0, answer));

    fn answer(&self, _: &dyn Interrupt) -> Result<Prediction, Vec<FieldError>> {
        predict::predict(&self.0)
    }
}

impl PredictRequest {
    fn check(self, at: &At<'_>, reader: &mut Reader) -> Option<Question> {
        let (lamps, lamplight): (Vec<_>, Vec<_>) =
            self.lights.into_iter().map(|LitLight(lamp, light)| (lamp, light)).unzip();
        let contributions = contributions(
            self.readings.unwrap_or_default(),
            self.placements.unwrap_or_default(),
            &lamps,
            at,
            reader,
            |_, point, at, reader| match point {
                Some(point) => Some(vec![point.to_owned()]),
                None => reader.fault(&At::Field(at, "point"), "this field is missing", "the name of a point"),
            },
        )?;
        let ambient = self.ambient.unwrap_or_default();
        let spots = match self.points {
            Some(points) => points
                .into_iter()
                .map(|spot| MeteringPoint {
                    id: spot.id,
                    name: spot.name,
                    position: spot.position,
                    normal: spot.normal,
                })
                .collect(),
            None => {
                let mut spots: Vec<MeteringPoint> = Vec::new();
                let named = contributions.iter().map(|contribution| &contribution.point);
                for name in named.chain(ambient.iter().map(|entry| &entry.point)) {
                    if !spots.iter().any(|spot| spot.name == *name) {
                        spots.push(MeteringPoint {
                            id: None,
                            name: name.clone(),
                            position: None,
                            normal: None,
                        });
                    }
                }
                if spots.len() > SpotInput::MOST {
                    return reader.fault(
                        &At::Field(at, "placements"),
                        format!("{} points are named", spots.len()),
                        format!("at most {}", SpotInput::MOST),
                    );
                }
                spots
            }
        };
        let corrections_at = At::Field(at, "lens");
        let corrections_at = At::Field(&corrections_at, "mark_corrections");
        let marks = self.lens.iter().filter_map(|lens| lens.mark_corrections.as_ref()).flatten();
        let marks: Vec<f64> = marks.map(|correction| correction.f_number.get()).collect();
        for (index, mark) in marks.iter().enumerate() {
            if marks[..index].iter().any(|before| (before / mark - 1.0).abs() < 1e-3) {
                let at = At::Index(&corrections_at, index);
                reader.fault::<()>(
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
                lamps,
                spots,
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
/// What each point gets before a light is switched on: the aperture that a meter would read, the luminous exposure, each light's part, and how far the picture is from right at the working exposure, with what the lens loses. Light comes from placements, positions or readings; ambient light is added for the exposure time.
#[utoipa::path(post, path = "/v1/exposure/predict", tag = "ratios", request_body = PredictRequest,
    responses((status = 200, description = "The light at each point", body = Prediction), Refusals))]
async fn predict_exposure(body: Body<PredictChecked>) -> Result<Response, Problem> {
    body.answer().await
}
