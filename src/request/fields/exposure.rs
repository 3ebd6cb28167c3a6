//! Exposures, and limits on remedies.

use crate::{
    light::{
        quantity::{FNumber, Iso, Metres, Seconds},
        set::{exposure::FlashExposure, limits::Limits},
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::numbers::{Pops, Range},
        place::At,
        reader::{Read, Reader},
        value::Value,
    },
};

request! {
    /// An aperture and an ISO speed, and for ambient light the exposure time. Flash does not depend on the time.
    pub struct ExposureInput {
        /// Aperture.
        pub f_number: FNumber,
        /// ISO speed; 100 if left out.
        pub iso: Option<Iso>,
        /// Exposure time; it affects ambient light only.
        pub exposure_time: Option<Seconds>,
    }
}

impl ExposureInput {
    /// The part that affects flash: aperture and ISO speed.
    pub fn flash(&self) -> FlashExposure {
        FlashExposure { f_number: self.f_number, iso: self.iso.unwrap_or(Iso::BASE) }
    }
}

request! {
    /// Limits on the remedies that may be proposed.
    pub struct LimitsInput {
        /// Widest and smallest aperture; f/1 and f/64 if left out.
        f_number: Option<Range<FNumber>>,
        /// Lowest and highest ISO speed; 25 and 25600 if left out.
        iso: Option<Range<Iso>>,
        /// Nearest and farthest distance of a light; 0.3 m and 1 km if left out.
        distance: Option<Range<Metres>>,
        /// Most flashes per exposure; 64 if left out.
        max_pops: Option<Pops>,
    }
}

looks_like!(Limits as LimitsInput);

impl Read for Limits {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = LimitsInput::read(value, at, reader)?;
        let defaults = Self::default();
        Some(Self {
            f_number: input.f_number.map_or(defaults.f_number, |range| range.0),
            iso: input.iso.map_or(defaults.iso, |range| range.0),
            distance: input.distance.map_or(defaults.distance, |range| range.0),
            max_pops: input.max_pops.map_or(defaults.max_pops, |pops| pops.0),
        })
    }
}
