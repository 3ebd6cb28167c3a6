//! `/v1/lights/falloff`.

use axum::{http::HeaderMap, response::Response};
use utoipa_axum::routes;

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw},
        extract::{Body, Query},
    },
    light::{
        error::{InvalidPart, InvalidValue},
        interrupt::Interrupt,
        quantity::{Estimate, Iso, Metres, Seconds, Stops, constants::EVENNESS},
        set::{
            beam::Beam,
            falloff::{self, Falloff, FalloffQuestion, Output},
            filter::Filter,
            modifier::Modifier,
            placement::Source,
        },
        unit::{Unit, shutter::Shutter},
    },
    request::{
        declare::request,
        fields::{Evenness, FocalLength, RowCount, SettingText, zoomed},
        options::Options,
        place::At,
        reader::{Read, Reader, lists::Item},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(tell_falloff_by_query, tell_falloff))
}

request! {
    /// How light falls off with distance: at `distances`, or at `count` distances from `from` to `to`, or over a `depth`.
    struct FalloffRequest {
        /// The face of the source; a point source if left out. In a query: `source[disc_m]=0.9`.
        source: Option<Source>,
        /// How the beam falls off away from the axis. It affects only the apertures of a unit that states an energy and no guide number.
        beam: Option<Beam>,
        /// The effect of the source's modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`. It affects the apertures only. In a query: `modifier_stops=-1.5` or `modifier_stops[kind]=softbox_one_diffuser`.
        modifier_stops: Option<Modifier>,
        /// Filters on the light. They affect the apertures only. In a query, separated by commas: `filters=ND 0.6,ND8`.
        filters: Option<Vec<Filter>>,
        /// The unit, to get apertures as well as stops.
        unit: Option<Unit>,
        /// The zoom of its head, mm: a table of guide numbers is read there, and it is the coverage of a unit that states none.
        zoom_mm: Option<FocalLength>,
        /// The exposure time, for the apertures of a lamp. A flash does not depend on it.
        exposure_time: Option<Seconds>,
        /// Its setting; full power if left out.
        setting: Option<SettingText>,
        /// The ISO speed for the apertures; 100 if left out.
        iso: Option<Iso>,
        /// The distances to list. In a query, separated by commas.
        distances: Option<Vec<Metres>>,
        /// The first of a series of distances; needs `to` and `count`.
        from: Option<Metres>,
        /// The last of the series; needs `from` and `count`.
        to: Option<Metres>,
        /// How many distances in the series, in equal steps, 2 to 256.
        count: Option<RowCount>,
        /// The depth of the subject, or the gap between a face and the wall behind it, measured from the reference distance away from the light. Alone it is enough for the distance at which the light is as even as `within_stops`.
        depth: Option<Metres>,
        /// The largest difference wanted over the depth, stops, 0.001 to 16; 1/3 if left out.
        within_stops: Option<Evenness>,
        /// The distance that stops are relative to; the first distance if left out, or for a depth alone the distance for evenness.
        reference_distance: Option<Metres>,
    }
    at most one of "the list of distances": distances | from & to & count
}

impl Item for Metres {
    const MAX: usize = 256;
    const PLURAL: &'static str = "distances";
}

impl Read for FalloffQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = FalloffRequest::read(value, at, reader)?;
        let distances = match (input.distances, input.from, input.to, input.count) {
            (Some(distances), None, None, None) => distances,
            (None, Some(from), Some(to), Some(RowCount(count))) => (0..count)
                .map(|k| from.get() + (to.get() - from.get()) * f64::from(k) / f64::from(count - 1))
                .map(Metres::new_unchecked)
                .collect(),
            (None, None, None, None) if input.depth.is_some() => Vec::new(),
            (None, None, None, None) => {
                let expected = "distances, or from with to and count, or a depth";
                return reader.push_fault(&At::Field(at, "distances"), Fault::NothingAsked { expected });
            }
            // Refused by the reader.
            _ => return None,
        };
        let within = input.within_stops.map_or(Stops::new_unchecked(EVENNESS), |within| within.0);
        let even = || Some(falloff::front_for_evenness(input.source, input.depth?, within));
        let reference = input.reference_distance.or(distances.first().copied()).or_else(even)?;
        let output = match (input.unit, input.setting) {
            (Some(unit), setting) => {
                let unit = zoomed(unit, input.zoom_mm, at, reader)?;
                let shutter = Shutter { time: input.exposure_time, sync_time: None };
                let through =
                    if unit.lamp.is_some() { unit.through(shutter) } else { Ok(Estimate::exact(1.0)) };
                let through = through.map_err(InvalidValue::from);
                let through = reader.checked(&At::Field(at, "exposure_time"), through)?.typical;
                let below = match setting {
                    Some(setting) => setting.check(&unit, &At::Field(at, "setting"), reader)?,
                    None => Stops::ZERO,
                };
                Some(Output { unit, below, through, iso: input.iso.unwrap_or(Iso::BASE) })
            }
            (None, Some(_)) => {
                return reader.push_fault(&At::Field(at, "setting"), Fault::SettingWithoutUnit);
            }
            (None, None) => None,
        };
        Some(Self {
            source: input.source,
            beam: input.beam,
            modifier: input.modifier_stops,
            filters: input.filters.unwrap_or_default(),
            output,
            distances,
            reference,
            depth: input.depth,
            within,
            step: reader.rules.step,
            units: reader.rules.units,
        })
    }
}

impl Calculation for FalloffQuestion {
    type Answer = Falloff;
    const OPTIONS: Options = Options::ALL_DRAWN;
    const PICTURE: Option<Draw<Self, Falloff>> =
        Some(|question, answer, width| drawing::falloff(question, answer, &falloff::curve(question), width));

    fn answer(&self, _: &dyn Interrupt) -> Result<Falloff, Vec<InvalidPart>> {
        falloff::falloff(self).map_err(|fault| vec![fault])
    }
}

/// Tell falloff, by query
///
/// How light falls off with distance from a source of finite size, compared with the inverse-square law, and from which distance it is even over a depth. Answers may be cached.
#[utoipa::path(get, path = "/v1/lights/falloff", tag = "ratios", params(FalloffRequest),
    responses((status = 200, description = "The light by distance", body = Falloff)))]
async fn tell_falloff_by_query(
    headers: HeaderMap,
    query: Query<FalloffQuestion>,
) -> Result<Response, Problem> {
    query.answer(&headers)
}

/// Tell falloff
///
/// How light falls off with distance from a source of finite size (`source`; a point source if left out), compared with the inverse-square law: at `distances`, or at `count` distances from `from` to `to`. With a `depth`: the loss from front to back, and the distance from which it stays within `within_stops`; depth alone is enough for that. With a `unit` also the apertures; state the loss of a softbox or umbrella as `modifier_stops`, as in a placement, and that of filters as `filters`.
#[utoipa::path(post, path = "/v1/lights/falloff", tag = "ratios", request_body = FalloffRequest,
    responses((status = 200, description = "The light by distance", body = Falloff)))]
async fn tell_falloff(body: Body<FalloffQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
