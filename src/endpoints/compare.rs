//! `/v1/exposure/compare`.

use axum::{http::HeaderMap, response::Response};
use utoipa_axum::routes;

use crate::{
    endpoints::{
        calculation::Calculation,
        extract::{Body, Query},
    },
    light::{
        error::InvalidPart,
        exposure::{self, ComparedExposures, Exposure, ExposuresQuestion, Sought},
        interrupt::Interrupt,
        quantity::{FNumber, Iso, Seconds},
        set::filter::Filter,
    },
    request::{
        declare::request,
        place::At,
        reader::{Read, Reader, words::reads_word},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(compare_exposures_by_query, compare_exposures))
}

reads_word!(Sought: Sought::ALL.map(|sought| (sought.text(), sought)));

request! {
    /// The first exposure.
    struct FromExposureInput {
        /// Aperture.
        f_number: FNumber,
        /// Exposure time.
        exposure_time: Seconds,
        /// ISO speed; 100 if left out.
        iso: Option<Iso>,
        /// Filters on the lens; none if left out. In a query, separated by commas.
        filters: Option<Vec<Filter>>,
    }
}

request! {
    /// The second exposure. What it lacks of aperture and time is found, so that both expose alike.
    struct ToExposureInput {
        /// Aperture; found if left out.
        f_number: Option<FNumber>,
        /// Exposure time; found if left out.
        exposure_time: Option<Seconds>,
        /// ISO speed; that of `from` if left out.
        iso: Option<Iso>,
        /// Filters on the lens; none if left out. In a query, separated by commas.
        filters: Option<Vec<Filter>>,
    }
}

request! {
    /// Two exposures of the same scene. In a query: `from[f_number]=f/8`.
    struct CompareExposuresRequest {
        /// The first exposure.
        from: FromExposureInput,
        /// The second exposure; the first again if left out, which tells the light that suits it.
        to: Option<ToExposureInput>,
        /// The setting of `to` that is found, so that both expose alike. All others that `to` lacks are then those of `from`. If left out, the aperture or the time that `to` lacks is found.
        find: Option<Sought>,
    }
    checked by Self::check(to, find)
}

impl CompareExposuresRequest {
    /// Checks that one setting is to be found at the most, and that `to` does not state it.
    fn check(
        to: Option<&Option<ToExposureInput>>,
        find: Option<&Option<Sought>>,
        at: &At<'_>,
        reader: &mut Reader,
    ) {
        let (Some(Some(to)), Some(find)) = (to, find) else { return };
        match find {
            None if to.f_number.is_none() && to.exposure_time.is_none() => {
                let expected = "f_number or exposure_time, to find the other, or \"find\" beside \"to\"";
                let at = At::Field(at, "to");
                reader.push_fault::<()>(
                    &At::Field(&at, "f_number"),
                    Fault::Missing { expected: expected.to_owned() },
                );
            }
            Some(find) if to.states(*find) => {
                let what = match find {
                    Sought::FNumber => "the aperture of \"to\"",
                    Sought::ExposureTime => "the exposure time of \"to\"",
                    Sought::Iso => "the ISO speed of \"to\"",
                };
                let ways = vec![format!("to with {}", find.text()), "find".to_owned()];
                reader.push_fault::<()>(&At::Field(at, "find"), Fault::Conflict { what, ways });
            }
            _ => {}
        }
    }
}

impl ToExposureInput {
    const fn states(&self, setting: Sought) -> bool {
        match setting {
            Sought::FNumber => self.f_number.is_some(),
            Sought::ExposureTime => self.exposure_time.is_some(),
            Sought::Iso => self.iso.is_some(),
        }
    }
}

impl Read for ExposuresQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let CompareExposuresRequest { from, to, find } = CompareExposuresRequest::read(value, at, reader)?;
        let from = Exposure {
            f_number: from.f_number,
            exposure_time: from.exposure_time,
            iso: from.iso.unwrap_or(Iso::BASE),
            filters: from.filters.unwrap_or_default(),
        };
        let step = reader.rules.step;
        let Some(to) = to else { return Some(Self { to: from.clone(), from, find, step }) };
        let lacking = [Sought::FNumber, Sought::ExposureTime].into_iter().find(|sought| !to.states(*sought));
        Some(Self {
            to: Exposure {
                f_number: to.f_number.unwrap_or(from.f_number),
                exposure_time: to.exposure_time.unwrap_or(from.exposure_time),
                iso: to.iso.unwrap_or(from.iso),
                filters: to.filters.unwrap_or_default(),
            },
            from,
            find: find.or(lacking),
            step,
        })
    }
}

impl Calculation for ExposuresQuestion {
    type Answer = ComparedExposures;

    fn answer(&self, _: &dyn Interrupt) -> Result<ComparedExposures, Vec<InvalidPart>> {
        Ok(exposure::compare(self))
    }
}

/// Compare exposures, by query
///
/// How much brighter one exposure is than another, or the setting that exposes alike, with exposure values and illuminances. Write `from[f_number]=f/8`. Answers may be cached.
#[utoipa::path(get, path = "/v1/exposure/compare", tag = "stops", params(CompareExposuresRequest),
    responses((status = 200, description = "Both exposures", body = ComparedExposures)))]
async fn compare_exposures_by_query(
    headers: HeaderMap,
    query: Query<ExposuresQuestion>,
) -> Result<Response, Problem> {
    query.answer(&headers)
}

/// Compare exposures
///
/// How much brighter `to` exposes than `from` in the same light. What `to` lacks of aperture and time is found, so that both expose alike; `find` names the setting to find, also the ISO speed. For each exposure: the exposure value at ISO 100 and the illuminance of the light that suits it, filters counted. `from` alone tells these two.
#[utoipa::path(post, path = "/v1/exposure/compare", tag = "stops", request_body = CompareExposuresRequest,
    responses((status = 200, description = "Both exposures", body = ComparedExposures)))]
async fn compare_exposures(body: Body<ExposuresQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
