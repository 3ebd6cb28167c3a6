//! `/v1/colour/gel`.

use axum::response::Response;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::FieldError,
        interrupt::Interrupt,
        quantity::{Mired, Stops},
        set::gel::{self, Gel, Gelled, Question, STACK_MOST},
        unit::Unit,
    },
    request::{
        fields::{Correction, KelvinValue, MiredShift, MiredValue, SettingText, UnitInput},
        place::At,
        reader::{Item, Read, Reader, reads},
        schema::{Name, SettingInput, StopsInput},
        value::Value,
    },
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(choose_gels))
}

/// A gel.
#[derive(ToSchema)]
struct GelInput {
    /// Its name, 1 to 64 characters, unlike all others.
    #[schema(value_type = Name)]
    name: String,
    /// Its shift, mired, -500 to 500; + is warmer.
    mired: MiredShift,
    /// What it takes, stops; 0 or less, 0 if left out.
    #[schema(value_type = Option<StopsInput>)]
    stops: Option<Correction>,
}
reads!(GelInput { name, mired, stops });

impl Read for Gel {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = GelInput::read(tree, at, reader)?;
        let stops = form.stops.map_or(0.0, |stops| stops.0.get());
        if stops > 0.0 {
            return reader.fault(&At::Field(at, "stops"), "a gel takes light", "0 or less, as -1/2");
        }
        Some(Self { name: form.name, mired: form.mired.0, stops })
    }
}

impl Item for Gel {
    const MOST: usize = 40;
    const WHAT: &'static str = "gels";
}

struct GelName(String);

impl Read for GelName {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        String::read(tree, at, reader).map(Self)
    }
}

impl Item for GelName {
    const LEAST: usize = 0;
    const MOST: usize = STACK_MOST;
    const WHAT: &'static str = "names of gels";
}

/// A light, the colour that it is to have, and the gels at hand.
#[derive(ToSchema)]
struct GelRequest {
    /// Colour temperature of the light, K; or `from_mired`.
    from_k: Option<KelvinValue>,
    /// The same in mired.
    from_mired: Option<MiredValue>,
    /// Colour temperature wanted, K; or `to_mired`; left out where only a stack is asked for.
    to_k: Option<KelvinValue>,
    /// The same in mired.
    to_mired: Option<MiredValue>,
    /// The gels at hand.
    #[schema(value_type = Vec<GelInput>, min_items = 1, max_items = 40)]
    gels: Vec<Gel>,
    /// Names of up to three of the gels: what this stack would give.
    #[schema(value_type = Option<Vec<String>>, max_items = 3)]
    applied: Option<Vec<GelName>>,
    /// The light that gets the gels, for its new setting.
    #[schema(value_type = Option<UnitInput>)]
    unit: Option<Unit>,
    /// Its setting without a gel; goes with `unit`.
    #[schema(value_type = Option<SettingInput>)]
    setting: Option<SettingText>,
}
reads!(GelRequest { from_k, from_mired, to_k, to_mired, gels, applied, unit, setting });

pub(crate) struct GelChecked(Question);

impl Read for GelChecked {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = GelRequest::read(tree, at, reader)?;
        let mired = |kelvin: Option<KelvinValue>, mired: Option<MiredValue>| match (kelvin, mired) {
            (Some(kelvin), None) => Ok(Some(Mired::new_unchecked(1e6 / kelvin.0))),
            (None, Some(mired)) => Ok(Some(Mired::new_unchecked(mired.0))),
            (None, None) => Ok(None),
            (Some(_), Some(_)) => Err(()),
        };
        let from = match mired(form.from_k, form.from_mired) {
            Ok(Some(from)) => Some(from),
            Ok(None) => {
                reader.fault(&At::Field(at, "from_k"), "this field is missing", "from_k or from_mired")
            }
            Err(()) => reader.fault(&At::Field(at, "from_mired"), "told twice", "from_k or from_mired"),
        };
        let to = match mired(form.to_k, form.to_mired) {
            Ok(None) if form.applied.is_none() => {
                reader.fault(&At::Field(at, "to_k"), "nothing is asked", "to_k or to_mired, or applied")
            }
            Ok(to) => Some(to),
            Err(()) => reader.fault(&At::Field(at, "to_mired"), "told twice", "to_k or to_mired"),
        };
        let gels_at = At::Field(at, "gels");
        let mut names = Vec::new();
        for (index, gel) in form.gels.iter().enumerate() {
            let at = At::Index(&gels_at, index);
            reader.keep_name("name", &gel.name, &mut names, &At::Field(&at, "name"));
        }
        let applied_at = At::Field(at, "applied");
        let applied = form.applied.map(|names| {
            let mut found = Vec::new();
            for (index, GelName(name)) in names.iter().enumerate() {
                match form.gels.iter().position(|gel| gel.name == *name) {
                    Some(gel) => found.push(gel),
                    None => {
                        reader.fault::<()>(
                            &At::Index(&applied_at, index),
                            format!("no gel is named \"{name}\""),
                            "the name of one of the gels",
                        );
                    }
                }
            }
            found
        });
        let light = match (form.unit, form.setting) {
            (Some(unit), setting) => {
                let below = match setting {
                    Some(setting) => setting.check(&unit, &At::Field(at, "setting"), reader)?,
                    None => Stops::ZERO,
                };
                // Corrected: the gel's loss is of light.
                let light = Stops::new_unchecked(unit.below(below));
                Some((unit, light))
            }
            (None, Some(_)) => {
                return reader.fault(&At::Field(at, "setting"), "a setting of no unit", "unit beside it");
            }
            (None, None) => None,
        };
        Some(Self(Question { from: from?, to: to?, gels: form.gels, applied, light }))
    }
}

impl Calculation for GelChecked {
    type Answer = Gelled;

    fn answer(&self, _: &dyn Interrupt) -> Result<Gelled, Vec<FieldError>> {
        Ok(gel::gel(&self.0))
    }
}

/// Choose gels
///
/// Which gels bring a light to the colour temperature that is wanted: the best stack of up to three of those at hand, by mireds, its error, its loss, and the light's new setting. Or what a given stack does.
#[utoipa::path(post, path = "/v1/colour/gel", tag = "measuring", request_body = GelRequest,
    responses((status = 200, description = "The gels", body = Gelled), Refusals))]
async fn choose_gels(body: Body<GelChecked>) -> Result<Response, Problem> {
    body.answer().await
}
