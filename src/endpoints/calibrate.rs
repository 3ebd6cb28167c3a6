//! `/v1/units/calibrate`.

use axum::response::Response as HttpResponse;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    drawing::{self, Picture},
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::FieldError,
        interrupt::Interrupt,
        measure::{
            calibrate::{self, Calibration, Question, Sample},
            response::Response,
            space::Level,
        },
        quantity::{FNumber, Iso, Metres},
        unit::Unit,
    },
    request::{
        fields::{Repeat, ResponseInput, SettingText, UnitInput, within},
        place::At,
        reader::{Item, Read, Reader, reads},
        references,
        schema::{DistanceInput, FNumberInput, IsoInput, LevelInput, SettingInput},
        value::Value,
    },
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(calibrate_unit))
}

/// One reading: exactly one of `f_number` and `level`, alike in all.
#[derive(ToSchema)]
struct UnitReadingInput {
    /// The setting.
    #[schema(value_type = SettingInput)]
    setting: SettingText,
    /// What a meter read.
    #[schema(value_type = Option<FNumberInput>)]
    f_number: Option<FNumber>,
    /// The level of a grey patch, with a `response`.
    #[schema(value_type = Option<LevelInput>)]
    level: Option<Level>,
    /// Which of several readings at this setting it is; for your own order.
    #[expect(dead_code, reason = "repeats are told by their setting")]
    #[schema(value_type = Option<u32>)]
    repeat: Option<Repeat>,
}
reads!(UnitReadingInput { setting, f_number, level, repeat });

impl Item for UnitReadingInput {
    const MOST: usize = 256;
    const WHAT: &'static str = "readings";
}

/// Readings of one unit over its settings.
#[derive(ToSchema)]
struct CalibrateRequest {
    /// The unit as it is rated; its own offset and corrections are measured anew.
    #[schema(value_type = UnitInput)]
    unit: Unit,
    /// The readings, repeats among them.
    #[schema(min_items = 1, max_items = 256)]
    readings: Vec<UnitReadingInput>,
    /// How far the meter stood; with the unit's guide number it tells the offset.
    #[schema(value_type = Option<DistanceInput>)]
    distance: Option<Metres>,
    /// The ISO speed that the meter was set to; 100 if left out.
    #[schema(value_type = Option<IsoInput>)]
    iso: Option<Iso>,
    /// What levels mean, as `patches/response` answers it.
    #[schema(value_type = Option<ResponseInput>)]
    response: Option<Response>,
}
reads!(CalibrateRequest { unit, readings, distance, iso, response });

pub(crate) struct CalibrateChecked(Question);

impl Read for CalibrateChecked {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let Some(form) = CalibrateRequest::read(tree, at, reader) else {
            // What is wrong elsewhere does not hide what is wrong with the settings.
            references::check_settings(tree, tree.get("unit"), at, reader);
            return None;
        };
        let metered = form.readings.first().is_some_and(|reading| reading.f_number.is_some());
        if !metered && form.response.is_none() {
            return reader.fault(
                &At::Field(at, "response"),
                "levels mean nothing without a response",
                "a response out of patches/response, or f_number in every reading",
            );
        }
        let readings_at = At::Field(at, "readings");
        let mut samples = Vec::new();
        let mut extrapolated = false;
        for (index, reading) in form.readings.into_iter().enumerate() {
            let at = At::Index(&readings_at, index);
            let below = reading.setting.check(&form.unit, &At::Field(&at, "setting"), reader);
            let stops = match (reading.f_number, reading.level, &form.response) {
                (Some(f_number), None, _) if metered => Some(2.0 * f_number.get().log2()),
                (None, Some(level), Some(response)) if !metered => {
                    let level_at = At::Field(&at, "level");
                    within(level, response.encoding, &level_at, reader);
                    if response.encoding.is_clipped(level) {
                        reader.fault::<()>(
                            &level_at,
                            "the level is at an end of its range, where light is not told apart",
                            "a level in between, or no such reading",
                        );
                    }
                    extrapolated |= !response.curve.holds(response.encoding.grey(level));
                    Some(response.curve.at(response.encoding.grey(level)))
                }
                _ => reader.fault(
                    &at,
                    "a reading is told in one way, alike in all",
                    "f_number in all readings, or level in all with a response",
                ),
            };
            if let (Some(below), Some(stops)) = (below, stops) {
                samples.push(Sample { below, stops });
            }
        }
        Some(Self(Question {
            unit: form.unit,
            samples,
            metered,
            distance: form.distance,
            iso: form.iso.unwrap_or(Iso::BASE),
            extrapolated,
        }))
    }
}

impl Calculation for CalibrateChecked {
    type Answer = Calibration;
    const HEAVY: bool = true;
    const PICTURE: Option<fn(&Self, &Calibration) -> Picture> =
        Some(|request, answer| drawing::calibrate(&request.0, answer));

    fn answer(&self, _: &dyn Interrupt) -> Result<Calibration, Vec<FieldError>> {
        calibrate::calibrate(&self.0).map_err(|fault| vec![fault])
    }
}

/// Calibrate a unit
///
/// What a unit really gives at each setting, from metered light (or patch levels with a response): its offset against the rating, how truly its scale tracks, each setting's departure, how well it repeats, which readings were misfires and which are too bright. Neither moves the fit. Intervals of 95 % rest on how well the unit repeats, as it states (`repeat_plus_minus_stops`) or as is assumed, and on the readings' distances from their line, the more the more readings there are; where four or more settings were read repeatedly also on those of the settings, so that a scale that strays is counted; of fewer it is not. f-numbers that all stand on thirds or tenths of a stop are taken to be rounded to them, and no interval of the light is narrower than that allows. Answers the unit with its corrections, which every other call honours.
#[utoipa::path(post, path = "/v1/units/calibrate", tag = "measuring", request_body = CalibrateRequest,
    responses((status = 200, description = "The calibration", body = Calibration), Refusals))]
async fn calibrate_unit(body: Body<CalibrateChecked>) -> Result<HttpResponse, Problem> {
    body.answer().await
}
