//! `/v1/units/calibrate`.

use axum::response::Response as HttpResponse;
use utoipa_axum::routes;

use utoipa::openapi::{RefOr, Schema};

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw},
        extract::Body,
    },
    light::{
        error::InvalidPart,
        id::Id,
        interrupt::Interrupt,
        measure::{
            calibrate::{self, CalibrateQuestion, Calibration, Sample},
            response::Response,
            space::Level,
        },
        quantity::{FNumber, Iso, Stops, bounds},
        set::Meter,
        unit::Unit,
    },
    request::{
        declare::request,
        field_schema::{FieldSchema, looks_like},
        fields::{DistanceWithin, FocalLength, SettingText, StockUnit, UnitInput, check_level, zoomed},
        options::Options,
        place::At,
        reader::{Read, Reader, lists::Item, values::whole},
        references,
        schema::{self},
        set::MeterInput,
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(calibrate_unit))
}

request! {
    /// One reading: exactly one of `f_number` and `level`, the same one in all readings.
    struct UnitReadingInput {
        /// Your own id for this entry, returned where it is named.
        id: Option<Id>,
        /// The setting; full power if left out.
        setting: Option<SettingText>,
        /// The f-number that a meter read.
        f_number: Option<FNumber>,
        /// The level of a grey patch; needs `response`.
        level: Option<Level>,
        /// A number of your own for repeated readings, a whole number from 0 to 10000. It is checked but has no effect: readings at the same setting count as repeats with or without it.
        #[expect(dead_code, reason = "checked, then ignored; readings at the same setting are repeats")]
        repeat: Option<RepeatNumber>,
    }
    checked by references::check_setting(setting)
}

/// The number of a repeated reading. Its value is not used.
struct RepeatNumber;

impl FieldSchema for RepeatNumber {
    fn schema() -> RefOr<Schema> {
        schema::whole_number(bounds::REPEAT)
    }
}

impl Read for RepeatNumber {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        whole(value, bounds::REPEAT, at, reader).map(|_| Self)
    }
}

impl Item for UnitReadingInput {
    const MAX: usize = 256;
    const PLURAL: &'static str = "readings";
}

/// The unit that the readings are of.
struct RatedUnit(Unit);

looks_like!(RatedUnit as UnitInput);

impl Read for RatedUnit {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let StockUnit(unit) = StockUnit::read(value, at, reader)?;
        references::note_unit(&unit, reader);
        Some(Self(unit))
    }

    fn expected() -> String {
        StockUnit::expected()
    }
}

request! {
    /// Readings of one unit at its settings.
    struct CalibrateRequest {
        /// The unit as rated. An offset and corrections that it states are ignored, since they are measured here. It may lack energy and guide number, or be left out, where the guide number is measured: with f-numbers and the distance.
        unit: Option<RatedUnit>,
        /// The zoom of its head, mm: a table of guide numbers is read there, and the answered unit is the unit at that zoom.
        zoom_mm: Option<FocalLength>,
        /// The readings, one or more; a setting may be read repeatedly.
        readings: Vec<UnitReadingInput>,
        /// Distance from the unit to the meter, and how far off it may be, as "2 m ±3 cm"; with the unit's guide number it gives the offset.
        distance: Option<DistanceWithin>,
        /// The ISO speed that the meter was set to; 100 if left out.
        iso: Option<Iso>,
        /// The meter against the camera. Its offset is added to all readings, so that the unit is that of the camera; state it in later requests as well, for their readings.
        meter: Option<MeterInput>,
        /// The response of the camera, as answered by `/v1/patches/response`.
        response: Option<Response>,
    }
}

impl Read for CalibrateQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = CalibrateRequest::read(value, at, reader)?;
        let (is_stated, unit) = (input.unit.is_some(), input.unit.map_or_else(Unit::unknown, |unit| unit.0));
        let unit = zoomed(unit, input.zoom_mm, at, reader)?;
        let distance = input.distance;
        let (meter_offset, meter) = input.meter.map_or((Stops::ZERO, Meter::default()), MeterInput::check);
        let metered = input.readings.first().is_some_and(|reading| reading.f_number.is_some());
        if !metered && input.response.is_none() {
            return reader.push_fault(&At::Field(at, "response"), Fault::LevelsWithoutResponse);
        }
        let is_measured = metered && distance.is_some();
        if !unit.is_rated() && !is_measured {
            return reader.push_fault(&At::Field(at, "unit"), Fault::NoOutput);
        }
        let readings_at = At::Field(at, "readings");
        let mut samples = Vec::new();
        let (mut extrapolated, mut at_full_power) = (false, false);
        for (index, reading) in input.readings.into_iter().enumerate() {
            let at = At::Index(&readings_at, index);
            at_full_power |= reading.setting.is_none();
            let below = match reading.setting {
                None => Some(Stops::ZERO),
                // Checked when it was read.
                Some(setting) if is_stated => setting.find(&unit).ok(),
                Some(setting) => setting.check(&unit, &At::Field(&at, "setting"), reader),
            };
            let stops = match (reading.f_number, reading.level, &input.response) {
                (Some(f_number), None, _) if metered => Some(2.0 * f_number.get().log2()),
                (None, Some(level), Some(response)) if !metered => {
                    let level_at = At::Field(&at, "level");
                    check_level(level, response.encoding, &level_at, reader);
                    if response.encoding.is_clipped(level) {
                        reader.push_fault::<()>(&level_at, Fault::ClippedLevel);
                    }
                    extrapolated |= !response.curve.holds(response.encoding.grey(level));
                    Some(response.curve.at(response.encoding.grey(level)))
                }
                _ => reader.push_fault(&at, Fault::MixedReadings),
            };
            if let (Some(below), Some(stops)) = (below, stops) {
                samples.push(Sample { id: reading.id, below, stops });
            }
        }
        Some(Self {
            unit,
            samples,
            metered,
            distance: distance.map(|it| it.distance),
            distance_within: distance.and_then(|it| it.within),
            iso: input.iso.unwrap_or(Iso::BASE),
            meter_offset,
            meter,
            extrapolated,
            at_full_power,
        })
    }
}

impl Calculation for CalibrateQuestion {
    type Answer = Calibration;
    const HEAVY: bool = true;
    const OPTIONS: Options = Options::MARKS_DRAWN;
    const PICTURE: Option<Draw<Self, Calibration>> = Some(drawing::calibrate);

    fn answer(&self, _: &dyn Interrupt) -> Result<Calibration, Vec<InvalidPart>> {
        calibrate::calibrate(self).map_err(|fault| vec![fault])
    }
}

/// Calibrate a unit
///
/// The light that a unit really gives at each setting, from meter readings (or patch levels with a response): its offset from the rating, how accurately its scale tracks, the deviation of each setting, its repeatability, and which readings are misfires or too bright. Misfires and readings that are too bright do not affect the fit. The 95 % intervals are based on the unit's repeatability, stated (`repeat_plus_minus_stops`) or assumed, and on the scatter of the readings about their line, which counts more the more readings there are. If four or more settings were read repeatedly, the scatter of the settings about the line is included too, so that an irregular scale is accounted for; with fewer it is not. If all f-numbers are on thirds or tenths of a stop, they are taken to be rounded to them, and no interval of the light is narrower than that allows. Answers the unit with its corrections and its 95 % half-widths, which every other call applies; how well its light is known for this meter where it stood, and against the camera, stands beside it. One reading at full power, with its distance, is enough for the offset, or for the guide number of a unit that states none.
#[utoipa::path(post, path = "/v1/units/calibrate", tag = "measuring", request_body = CalibrateRequest,
    responses((status = 200, description = "The calibration", body = Calibration)))]
async fn calibrate_unit(body: Body<CalibrateQuestion>) -> Result<HttpResponse, Problem> {
    body.answer().await
}
