//! `/v1/colour/gel`.

use axum::response::Response;
use utoipa_axum::routes;

use utoipa::openapi::{RefOr, Schema};

use crate::{
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        quantity::{Mired, Stops},
        set::gel::{self, Gel, GelQuestion, Gelled, MAX_STACK},
        unit::Unit,
    },
    request::{
        declare::request,
        field_schema::{FieldSchema, looks_like},
        fields::{Correction, KelvinValue, MiredShift, MiredValue, SettingText},
        place::At,
        reader::{Read, Reader, lists::Item},
        references::find,
        schema::Name,
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(choose_gels))
}

request! {
    /// A gel.
    struct GelInput {
        /// Its name, 1 to 64 characters, unique among the gels.
        name: String as Name,
        /// Its shift, mired, -500 to 500; + is warmer.
        mired: MiredShift,
        /// Its light loss, stops; 0 or less, 0 if left out.
        stops: Option<Correction>,
    }
}

looks_like!(Gel as GelInput);

impl Read for Gel {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = GelInput::read(value, at, reader)?;
        let stops = input.stops.map_or(0.0, |stops| stops.0.get());
        if stops > 0.0 {
            return reader.push_fault(&At::Field(at, "stops"), Fault::GelAddsLight);
        }
        Some(Self { name: input.name, mired: input.mired.0, stops })
    }
}

impl Item for Gel {
    const MAX: usize = 40;
    const PLURAL: &'static str = "gels";
}

struct GelName(String);

impl FieldSchema for GelName {
    fn schema() -> RefOr<Schema> {
        String::schema()
    }
}

impl Read for GelName {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        String::read(value, at, reader).map(Self)
    }
}

impl Item for GelName {
    const MIN: usize = 0;
    const MAX: usize = MAX_STACK;
    const PLURAL: &'static str = "names of gels";
}

request! {
    /// A light, the colour temperature that is wanted, and the available gels.
    struct GelRequest {
        /// Colour temperature of the light, K; exactly one of this and `from_mired`.
        from_k: Option<KelvinValue>,
        /// The same in mired.
        from_mired: Option<MiredValue>,
        /// Colour temperature wanted, K; at most one of this and `to_mired`. Both may be left out with `applied`.
        to_k: Option<KelvinValue>,
        /// The same in mired.
        to_mired: Option<MiredValue>,
        /// The available gels; the shift alone is answered if left out.
        gels: Option<Vec<Gel>>,
        /// Names of up to three of the gels, to find out what this stack gives.
        applied: Option<Vec<GelName>>,
        /// The unit that gets the gels, for its new setting.
        unit: Option<Unit>,
        /// Its setting without a gel; full power if left out. Needs `unit`.
        setting: Option<SettingText>,
    }
    exactly one of "the colour temperature of the light": from_k | from_mired
    at most one of "the colour temperature wanted": to_k | to_mired
}

impl Read for GelQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = GelRequest::read(value, at, reader)?;
        let mired = |kelvin: Option<KelvinValue>, mired: Option<MiredValue>| {
            kelvin.map(|kelvin| 1e6 / kelvin.0).or(mired.map(|mired| mired.0)).map(Mired::new_unchecked)
        };
        let (from, to) = (mired(input.from_k, input.from_mired), mired(input.to_k, input.to_mired));
        if to.is_none() && input.applied.is_none() {
            let expected = "to_k or to_mired, or applied";
            reader.push_fault::<()>(&At::Field(at, "to_k"), Fault::NothingAsked { expected });
        }
        let gels_at = At::Field(at, "gels");
        if input.gels.is_none() && input.applied.is_some() {
            return reader.push_fault(&gels_at, Fault::Missing { expected: Vec::<Gel>::expected() });
        }
        let gels = input.gels.unwrap_or_default();
        let mut names = Vec::new();
        for (index, gel) in gels.iter().enumerate() {
            let at = At::Index(&gels_at, index);
            reader.check_unique(&gel.name, &mut names, &At::Field(&at, "name"));
        }
        let applied_at = At::Field(at, "applied");
        let applied = input.applied.map(|names| {
            let known = || gels.iter().map(|gel| gel.name.as_str());
            let applied = names.iter().enumerate();
            let applied = applied.filter_map(|(index, GelName(name))| {
                find(name, "gel", known(), &At::Index(&applied_at, index), reader)
            });
            applied.collect()
        });
        let light = match (input.unit, input.setting) {
            (Some(unit), setting) => {
                let below = match setting {
                    Some(setting) => setting.check(&unit, &At::Field(at, "setting"), reader)?,
                    None => Stops::ZERO,
                };
                // With the unit's corrections, since the gel's loss applies to the actual light.
                let light = Stops::new_unchecked(unit.below(below));
                Some((unit, light))
            }
            (None, Some(_)) => {
                return reader.push_fault(&At::Field(at, "setting"), Fault::SettingWithoutUnit);
            }
            (None, None) => None,
        };
        Some(Self { from: from?, to, gels, applied, light })
    }
}

impl Calculation for GelQuestion {
    type Answer = Gelled;

    fn answer(&self, _: &dyn Interrupt) -> Result<Gelled, Vec<InvalidPart>> {
        Ok(gel::gel(self))
    }
}

/// Choose gels
///
/// Which gels bring a light to the colour temperature that is wanted: the shift in mired that it takes, and the best stack of up to three of the available gels by mired, its error, its light loss, and the unit's new setting. Or the effect of a given stack. The two colour temperatures are enough for the shift.
#[utoipa::path(post, path = "/v1/colour/gel", tag = "measuring", request_body = GelRequest,
    responses((status = 200, description = "The gels", body = Gelled)))]
async fn choose_gels(body: Body<GelQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
