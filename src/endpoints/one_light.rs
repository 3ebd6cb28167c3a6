//! `/v1/exposure/one-light`.

use axum::{http::HeaderMap, response::Response};
use utoipa_axum::routes;

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw, patches_of},
        extract::{Body, Query},
    },
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        one_light::{self, Known, OneLight, OneLightQuestion},
        quantity::{FNumber, Iso, Metres, Seconds},
        remedy::Patch,
        set::{
            filter::Filter,
            lens::Lens,
            limits::Limits,
            modifier::Modifier,
            placement::{Source, Sure},
        },
        unit::{Unit, shutter::Shutter},
    },
    request::{
        declare::request,
        fields::{
            DistanceWithin, FocalLength, LensInput, Pops, SettingText, StockUnit, Tolerance, UnitGuide,
            zoomed,
        },
        options::Options,
        place::At,
        reader::{Read, Reader},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(solve_one_light_by_query, solve_one_light))
}

request! {
    /// A light (a unit, a guide number, or a reading of it), and two of its setting, its distance and the aperture.
    struct OneLightRequest {
        /// The unit. Beside `metered` only its scale counts, which may be left out.
        unit: Option<StockUnit>,
        /// A guide number, in place of a unit.
        guide_number: Option<UnitGuide>,
        /// The zoom of its head, mm: a table of guide numbers is read there, and it is the coverage of a unit that states none.
        zoom_mm: Option<FocalLength>,
        /// A reading of this light alone, as it stood then.
        metered: Option<MeteredInput>,
        /// Its setting. Left out together with the distance or the aperture it is that of the reading, else full power.
        setting: Option<SettingText>,
        /// Its distance from the subject, and how far off it may be, as "2 m ±3 cm". A metered light stays where it was metered if this is left out.
        distance: Option<DistanceWithin>,
        /// The aperture to set on the lens.
        f_number: Option<FNumber>,
        /// The ISO speed, that of the reading too; 100 if left out.
        iso: Option<Iso>,
        /// The exposure time. A lamp needs it; of a flash it counts with high-speed sync only. A reading of such a light was taken at it.
        exposure_time: Option<Seconds>,
        /// The camera's sync time, for a flash with high-speed sync, or to tell whether the frame is lit whole.
        sync_time: Option<Seconds>,
        /// The effect of its modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`. It is refused beside `metered`, because the reading was taken with it in place.
        modifier_stops: Option<Modifier>,
        /// The face of the modifier, for a light that is near; a point if left out. In a query: `source[disc_m]=0.9`.
        source: Option<Source>,
        /// Filters on it. They are refused beside `metered`, for the reading was taken with them on.
        filters: Option<Vec<Filter>>,
        /// What the lens takes from the light.
        lens: Option<LensInput>,
        /// Flashes in one exposure; 1 if left out. A reading is of one. A lamp has none.
        pops: Option<Pops>,
        /// Limits on the remedies that may be proposed.
        limits: Option<Limits>,
    }
}

request! {
    /// A meter reading of one light alone.
    struct MeteredInput {
        /// The f-number that the meter read.
        f_number: FNumber,
        /// The distance at which it was metered, and how far off it may be, as "2 m ±3 cm". It is needed to move the light.
        distance: Option<DistanceWithin>,
        /// The setting at which it was metered. It is needed to set the light.
        setting: Option<SettingText>,
        /// How far the reading may be off, its last digit apart, ± stops at 95 %, 0.001 to 4; 0.12 if left out.
        plus_minus_stops: Option<Tolerance>,
    }
}

impl Read for OneLightQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = OneLightRequest::read(value, at, reader)?;
        let light = [
            ("unit", input.unit.is_some() && input.metered.is_none()),
            ("guide_number", input.guide_number.is_some()),
            ("metered", input.metered.is_some()),
        ];
        let [unit, guide, metered] = light.map(|(name, given)| [(name, Some(given))]);
        reader.check_one_way(at, "the light", &[&unit, &guide, &metered], true);
        if input.metered.is_some() {
            for (name, given) in
                [("modifier_stops", input.modifier_stops.is_some()), ("filters", input.filters.is_some())]
            {
                if given {
                    reader.push_fault::<()>(&At::Field(at, name), Fault::InReading);
                }
            }
        } else if input.unit.as_ref().is_some_and(|unit| !unit.0.is_rated()) {
            reader.push_fault::<()>(&At::Field(at, "unit"), Fault::NoOutput);
        }
        let by_guide_alone = input.guide_number.is_some();
        let unit = match (input.unit, input.guide_number) {
            (Some(StockUnit(unit)), _) => unit,
            (None, guide) => guide.map_or_else(Unit::unknown, |guide| guide.on(Unit::unknown())),
        };
        let unit = if input.metered.is_some() { unit } else { zoomed(unit, input.zoom_mm, at, reader)? };
        let pops = input.pops.map_or(1, |pops| pops.0);
        if pops > 1 && unit.lamp.is_some() {
            return reader.push_fault(&At::Field(at, "pops"), Fault::PopsOfLamp);
        }
        let setting = |text: Option<SettingText>, at: &At<'_>, reader: &mut Reader| match text {
            Some(text) => text.check(&unit, &At::Field(at, "setting"), reader).map(Some),
            None => Some(None),
        };
        let known = match input.metered {
            Some(MeteredInput { f_number, distance, setting: at_reading, plus_minus_stops }) => {
                let below = setting(at_reading, &At::Field(at, "metered"), reader);
                let plus_minus = plus_minus_stops.map(|it| it.0);
                let (distance, sure) = placed(distance);
                Known::Metered { f_number, distance, below: below?, sure, plus_minus }
            }
            None => Known::Rated { by_guide_alone },
        };
        let below = setting(input.setting, at, reader)?;
        let (distance, sure) = placed(input.distance);
        let lens = input.lens.map_or_else(Lens::default, |lens| lens.check(&At::Field(at, "lens"), reader));
        Some(Self {
            unit,
            known,
            below,
            distance,
            sure,
            f_number: input.f_number,
            iso: input.iso.unwrap_or(Iso::BASE),
            modifier: input.modifier_stops,
            source: input.source,
            filters: input.filters.unwrap_or_default(),
            lens,
            pops,
            shutter: Shutter { time: input.exposure_time, sync_time: input.sync_time },
            limits: input.limits.unwrap_or_default(),
            rules: reader.rules,
        })
    }
}

/// A distance, and how sure it is.
fn placed(distance: Option<DistanceWithin>) -> (Option<Metres>, Sure) {
    let within = distance.and_then(|it| it.within);
    (distance.map(|it| it.distance), Sure { distance: within, angles_deg: None })
}

impl Calculation for OneLightQuestion {
    type Answer = OneLight;
    const OPTIONS: Options = Options::ALL_DRAWN;
    const PICTURE: Option<Draw<Self, OneLight>> = Some(|question, answer, width| {
        drawing::one_light(question, answer, question.likely_distances(answer), width)
    });

    fn patches(answer: &mut OneLight) -> Vec<&mut Patch> {
        patches_of(&mut answer.remedies).collect()
    }

    fn answer(&self, _: &dyn Interrupt) -> Result<OneLight, Vec<InvalidPart>> {
        one_light::solve(self)
    }
}

/// Solve one light, by query
///
/// Of a light's setting, its distance and the aperture, the one that is not given: `guide_number=GN 40&distance=5 m`. Answers may be cached.
#[utoipa::path(get, path = "/v1/exposure/one-light", tag = "ratios", params(OneLightRequest),
    responses((status = 200, description = "The light, the setting, the distance and the aperture", body = OneLight)))]
async fn solve_one_light_by_query(
    headers: HeaderMap,
    query: Query<OneLightQuestion>,
) -> Result<Response, Problem> {
    query.answer(&headers)
}

/// Solve one light
///
/// Of a light's setting, its distance and the aperture, the one that is not given. The light is that of a unit (by its guide number, or by energy and coverage), of a guide number alone, or of a meter reading, which is moved to another distance and set to another power: a softbox that read f/8 at 2 m, brought to 1.5 m. Where all three are given, the answer says how far off they are. If the light does not reach, it has remedies.
#[utoipa::path(post, path = "/v1/exposure/one-light", tag = "ratios", request_body = OneLightRequest,
    responses((status = 200, description = "The light, the setting, the distance and the aperture", body = OneLight)))]
async fn solve_one_light(body: Body<OneLightQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
