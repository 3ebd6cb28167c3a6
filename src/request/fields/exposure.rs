//! Exposures, and limits on remedies.

use utoipa::ToSchema;

use crate::{
    light::{
        quantity::{FNumber, Iso, Metres, Seconds},
        set::{exposure::FlashExposure, limits::Limits},
    },
    request::{
        fields::numbers::{Pops, Range},
        place::At,
        reader::{Read, Reader, reads},
        schema::{DistanceInput, ExposureTimeInput, FNumberInput, IsoInput},
        value::Value,
    },
};

/// An aperture and an ISO speed, and for ambient light the exposure time. Flash does not depend on the time.
#[derive(ToSchema)]
pub struct ExposureInput {
    /// Aperture.
    #[schema(value_type = FNumberInput)]
    pub f_number: FNumber,
    /// ISO speed; 100 if left out.
    #[schema(value_type = Option<IsoInput>)]
    pub iso: Option<Iso>,
    /// Exposure time; it affects ambient light only.
    #[schema(value_type = Option<ExposureTimeInput>)]
    pub exposure_time: Option<Seconds>,
}
reads!(ExposureInput { f_number, iso, exposure_time });

impl ExposureInput {
    /// The part that affects flash: aperture and ISO speed.
    pub fn flash(&self) -> FlashExposure {
        FlashExposure { f_number: self.f_number, iso: self.iso.unwrap_or(Iso::BASE) }
    }
}

/// Limits on the remedies that may be proposed.
#[derive(ToSchema)]
pub struct LimitsInput {
    /// Widest and smallest aperture; f/1 and f/64 if left out.
    #[schema(value_type = Option<Vec<FNumberInput>>, min_items = 2, max_items = 2)]
    f_number: Option<Range<FNumber>>,
    /// Lowest and highest ISO speed; 25 and 25600 if left out.
    #[schema(value_type = Option<Vec<IsoInput>>, min_items = 2, max_items = 2)]
    iso: Option<Range<Iso>>,
    /// Nearest and farthest distance of a light; 0.3 m and 1 km if left out.
    #[schema(value_type = Option<Vec<DistanceInput>>, min_items = 2, max_items = 2)]
    distance: Option<Range<Metres>>,
    /// Most flashes per exposure; 64 if left out.
    #[schema(value_type = Option<u32>, minimum = 1, maximum = 1000)]
    max_pops: Option<Pops>,
}
reads!(LimitsInput { f_number, iso, distance, max_pops });

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
