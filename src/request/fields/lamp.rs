//! The light of a lamp, and high-speed sync of a flash.

use utoipa::openapi::{ObjectBuilder, OneOfBuilder, Ref, Type};

use crate::{
    light::{
        quantity::{Lux, Metres},
        unit::{lamp::Lamp, shutter::HighSpeedSync},
    },
    request::{
        declare::request,
        field_schema::{Named, add, looks_like},
        fields::numbers::{Correction, Flux, Intensity, LampLux, Tolerance},
        place::At,
        reader::{Read, Reader},
        value::Value,
    },
    wording::fault::Fault,
};

request! {
    /// The light of a lamp at full output: exactly one of `illuminance_lx` with `distance`, `intensity_cd`, `luminous_flux_lm`.
    pub struct ContinuousInput {
        /// Illuminance on its axis at `distance`, lx.
        illuminance_lx: Option<LampLux>,
        /// Where that was measured: far from the lamp, or the inverse-square law does not hold.
        distance: Option<Metres>,
        /// Luminous intensity on its axis, cd: the illuminance at 1 m.
        intensity_cd: Option<Intensity>,
        /// Luminous flux, lm. With the coverage of the unit, or a beam of the light, it gives an estimate of the intensity.
        luminous_flux_lm: Option<Flux>,
    }
    exactly one of "the light of the lamp": illuminance_lx & distance | intensity_cd | luminous_flux_lm
}

request! {
    /// High-speed sync, with what entering it takes.
    pub struct HighSpeedSyncInput {
        /// The loss on entering it, at the sync time, stops, 0 or less; low -2.3, typical -1.8, high -1.5 if left out.
        loss_stops: Option<Correction>,
        /// How far the loss may be off, ± stops at 95 %, 0.001 to 4; 0.5 more and 0.3 less if left out.
        plus_minus_stops: Option<Tolerance>,
    }
}

/// High-speed sync, if a unit has it.
pub struct MaybeHighSpeedSync(pub Option<HighSpeedSync>);

/// The schema of high-speed sync in a request.
struct AnyHighSpeedSync;

impl utoipa::PartialSchema for AnyHighSpeedSync {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        OneOfBuilder::new()
            .item(ObjectBuilder::new().schema_type(Type::Boolean))
            .item(Ref::from_schema_name("HighSpeedSyncInput"))
            .description(Some("Whether a flash has high-speed sync, or what entering it takes."))
            .into()
    }
}

impl utoipa::ToSchema for AnyHighSpeedSync {
    fn name() -> std::borrow::Cow<'static, str> {
        "HighSpeedSync".into()
    }

    fn schemas(all: &mut Named) {
        add::<HighSpeedSyncInput>(all);
    }
}

looks_like!(Lamp as ContinuousInput, MaybeHighSpeedSync as AnyHighSpeedSync);

impl Read for Lamp {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = ContinuousInput::read(value, at, reader)?;
        match (input.illuminance_lx.zip(input.distance), input.intensity_cd, input.luminous_flux_lm) {
            (Some((lux, distance)), None, None) => Some(Self::metered(Lux::new_unchecked(lux.0), distance)),
            (None, Some(Intensity(candela)), None) => Some(Self::Intensity(candela)),
            (None, None, Some(Flux(lumen))) => Some(Self::Flux(lumen)),
            // Refused by the reader.
            _ => None,
        }
    }
}

impl Read for MaybeHighSpeedSync {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        if !matches!(value, Value::Object(_) | Value::LongObject(_)) {
            let has_it = bool::read(value, at, reader)?;
            return Some(Self(has_it.then_some(HighSpeedSync { loss: None, plus_minus: None })));
        }
        let input = HighSpeedSyncInput::read(value, at, reader)?;
        let loss = input.loss_stops.map(|loss| loss.0);
        if loss.is_some_and(|loss| loss.get() > 0.0) {
            return reader.push_fault(&At::Field(at, "loss_stops"), Fault::LossAddsLight);
        }
        let plus_minus = input.plus_minus_stops.map(|it| it.0);
        Some(Self(Some(HighSpeedSync { loss, plus_minus })))
    }

    fn expected() -> String {
        "true or false, or {\"loss_stops\": -1.8}".to_owned()
    }
}
