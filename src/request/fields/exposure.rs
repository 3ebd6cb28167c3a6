//! Exposures, and limits on remedies.

use crate::{
    light::{
        quantity::{FNumber, Iso, Metres, Seconds, bounds, kind::Kind},
        set::{exposure::FlashExposure, filter::NeutralDensity, limits::Limits},
        unit::shutter::Shutter,
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::numbers::{Pops, Range},
        place::At,
        reader::{Read, Reader, lists::Item, values::written},
        schema::DensityInput,
        value::Value,
    },
};

request! {
    /// An aperture and an ISO speed, and for ambient light and lamps the exposure time. Flash does not depend on the time, unless it is in high-speed sync.
    pub struct ExposureInput {
        /// Aperture.
        pub f_number: FNumber,
        /// ISO speed; 100 if left out.
        pub iso: Option<Iso>,
        /// Exposure time; it affects ambient light, lamps, and flashes in high-speed sync.
        pub exposure_time: Option<Seconds>,
        /// The camera's sync time: the shortest exposure time at which the shutter is fully open.
        pub sync_time: Option<Seconds>,
    }
}

impl ExposureInput {
    /// The part that affects flash: aperture and ISO speed.
    pub fn flash(&self) -> FlashExposure {
        FlashExposure { f_number: self.f_number, iso: self.iso.unwrap_or(Iso::BASE) }
    }

    /// The exposure time and the sync time.
    pub const fn shutter(&self) -> Shutter {
        Shutter { time: self.exposure_time, sync_time: self.sync_time }
    }
}

request! {
    /// Limits on the remedies that may be proposed.
    pub struct LimitsInput {
        /// Widest and smallest aperture; f/1.4 and f/22 if left out.
        f_number: Option<Range<FNumber>>,
        /// Lowest and highest ISO speed; 50 and 12800 if left out.
        iso: Option<Range<Iso>>,
        /// Shortest and longest exposure time; 1/8000 and 1/30 s if left out.
        exposure_time: Option<Range<Seconds>>,
        /// Nearest and farthest distance of a light; 0.3 and 10 m if left out.
        distance: Option<Range<Metres>>,
        /// Most flashes per exposure; 1 if left out.
        max_pops: Option<Pops>,
        /// The neutral-density filters at hand, as "ND 0.6", each once for each that there is; those that are commonly sold if left out, two of each.
        filters: Option<Vec<NeutralDensity>>,
    }
}

looks_like!(Limits as LimitsInput, NeutralDensity as DensityInput);

impl Read for NeutralDensity {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let written = written(Kind::OpticalDensity, value, at, reader)?;
        let density = reader.checked(at, bounds::OPTICAL_DENSITY.check(written.number))?;
        Some(Self::new(density, reader.rules))
    }
}

impl Item for NeutralDensity {
    const MIN: usize = 0;
    const MAX: usize = 16;
    const PLURAL: &'static str = "filters";
}

impl Read for Limits {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = LimitsInput::read(value, at, reader)?;
        let defaults = Self::default();
        Some(Self {
            f_number: input.f_number.map_or(defaults.f_number, |range| range.0),
            iso: input.iso.map_or(defaults.iso, |range| range.0),
            exposure_time: input.exposure_time.map_or(defaults.exposure_time, |range| range.0),
            distance: input.distance.map_or(defaults.distance, |range| range.0),
            max_pops: input.max_pops.map_or(defaults.max_pops, |pops| pops.0),
            filters: input.filters,
        })
    }
}
