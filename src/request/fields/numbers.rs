//! Numbers with their own bounds, ranges and pairs.

use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};

use crate::{
    light::quantity::{
        Metres, Seconds, Stops, bounds,
        kind::Kind,
        notation::{self, measure},
    },
    request::{
        field_schema::{FieldSchema, Named, looks_like},
        place::At,
        reader::{
            Read, Reader,
            lists::array_of,
            values::{number, number_or_text, whole, written},
        },
        schema::{
            self, BlurLengthInput, DistanceWithinInput, DurationInput, LightingRatioNumber, SizeInput,
            StopsInput,
        },
        value::Value,
    },
    wording::fault::Fault,
};

/// Defines a number type with the bounds of one row of `bounds`.
macro_rules! bounded {
    ($(#[doc = $doc:literal] $name:ident: $bounds:ident),+ $(,)?) => {$(
        #[doc = $doc]
        #[derive(Clone, Copy)]
        pub struct $name(pub f64);

        impl Read for $name {
            fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                number(value, bounds::$bounds, at, reader).map(Self)
            }

            fn expected() -> String {
                format!("a number, {}", bounds::$bounds.range())
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
                schema::number(bounds::$bounds).description(Some($doc.trim())).into()
            }
        }

        impl ToSchema for $name {}

        looks_like!($name as $name);
    )+};
}

bounded!(
    /// The value of a guide number, in its own unit and at its own ISO speed.
    GuideValue: GUIDE_NUMBER,
    /// A focal length, mm.
    FocalLength: FOCAL_LENGTH,
    /// How far a lens is moved out, mm.
    Extension: EXTENSION,
    /// Diameter of the exit pupil over that of the entrance pupil.
    PupilRatio: PUPIL_RATIO,
    /// The full angle of a cone, degrees.
    ConeAngle: CONE,
    /// On-axis intensity over that of an isotropic source of equal flux.
    GainValue: GAIN,
    /// The label on a dial.
    DialLabel: DIAL_LABEL,
    /// A linear step of a power control, in percent or joules.
    LinearStep: LINEAR_STEP,
    /// The constant C, lx·s.
    ConstantC: CONSTANT_C,
    /// The level of a grey patch.
    PatchLevel: PATCH_LEVEL,
    /// Stops below full power.
    BelowFull: BELOW_FULL,
    /// The weight of an error at a point.
    Weight: WEIGHT,
    /// Angle of incidence, degrees.
    AngleOfIncidence: INCIDENCE,
    /// One component of a direction.
    DirectionPart: DIRECTION_PART,
    /// Angle off a beam's axis, degrees.
    OffAxis: OFF_AXIS,
    /// How far off an angle may be: the half-width of its 95 % interval, degrees.
    AngleWithin: ANGLE_WITHIN,
    /// Intensity relative to a beam's axis.
    Relative: RELATIVE,
    /// The full angle between the two directions of half intensity, degrees.
    HalfPower: ANGLE,
    /// Speed, m/s.
    Speed: SPEED,
    /// Pixels across a frame.
    Pixels: PIXELS,
    /// Pixel pitch of a sensor, µm.
    PixelPitch: PIXEL_PITCH,
    /// Blur, pixels.
    Blur: BLUR,
    /// Colour temperature, mired.
    MiredValue: MIRED,
    /// A gel's shift, mired.
    MiredShift: MIRED_SHIFT,
    /// Full-power flashes per battery charge.
    ChargeFlashes: CHARGE,
    /// Flash energy divided by the energy drawn for it.
    Efficiency: CHARGING_EFFICIENCY,
    /// Watts divided by volt-amperes.
    PowerFactor: POWER_FACTOR,
    /// Electrical power, W.
    Watts: POWER,
    /// Apparent power, VA.
    VoltAmperes: APPARENT_POWER,
    /// Voltage, V.
    Volts: VOLTAGE,
    /// Current, A.
    Amperes: CURRENT,
    /// The fraction of a charge kept in reserve.
    Reserve: RESERVE,
    /// A price.
    Price: PRICE,
    /// The part of an outlet in the energy of a pack, in any unit.
    PackShare: PACK_SHARE,
    /// Luminous intensity, cd.
    Intensity: INTENSITY,
    /// Luminous flux, lm.
    Flux: FLUX,
    /// Time limit, ms.
    TimeLimit: TIME_LIMIT,
);

/// Defines a type of a measure with the bounds of one row of `bounds`: a number, or a text with the unit.
macro_rules! measures {
    ($(#[doc = $doc:literal] $name:ident: $bounds:ident as $measure:ident),+ $(,)?) => {$(
        #[doc = $doc]
        #[derive(Clone, Copy)]
        pub struct $name(pub f64);

        impl Read for $name {
            fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                let measure = measure::$measure;
                let text = |text: &str| measure.read(text);
                let number = number_or_text(value, measure.expected, at, reader, |number| number, text)?;
                reader.checked(at, bounds::$bounds.check(number)).map(Self)
            }

            fn expected() -> String {
                measure::$measure.expected.to_owned()
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> RefOr<Schema> {
                schema::measure(bounds::$bounds, &measure::$measure)
            }
        }

        impl ToSchema for $name {}

        looks_like!($name as $name);
    )+};
}

measures!(
    /// Illuminance, lx.
    LuxValue: ILLUMINANCE as LUX,
    /// Illuminance that a lamp gives, lx.
    LampLux: ILLUMINANCE_IN_STOPS as LUX,
    /// Image size divided by subject size.
    MagnificationValue: MAGNIFICATION as MAGNIFICATION,
    /// Reflectance of a surface, a share of the light.
    ReflectanceValue: REFLECTANCE as SHARE,
    /// Mean reflectance of the walls of a room, a share of the light.
    RoomReflectance: ROOM_REFLECTANCE as SHARE,
    /// Colour temperature, K.
    KelvinValue: KELVIN as KELVINS,
    /// A time between frames, or in which a unit recycles, s.
    Interval: INTERVAL as SECONDS,
    /// The time window in which flashes are counted, s.
    DutyWindow: WINDOW as SECONDS,
    /// How long circuits are in use, h.
    UseHours: HOURS as HOURS,
    /// Flashes a second, Hz.
    Rate: RATE as HERTZ,
);

/// A lighting ratio, as the number before ":1".
#[derive(Clone, Copy)]
pub struct LightingRatioValue(pub f64);

/// Defines a type of a length with the bounds of one row of `bounds`.
macro_rules! lengths {
    ($(#[doc = $doc:literal] $name:ident: $bounds:ident as $schema:ident),+ $(,)?) => {$(
        #[doc = $doc]
        #[derive(Clone, Copy)]
        pub struct $name(pub Metres);

        impl Read for $name {
            fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                let written = written(Kind::Distance, value, at, reader)?;
                let length = reader.checked(at, bounds::$bounds.check(written.number))?;
                Some(Self(Metres::new_unchecked(length)))
            }

            fn expected() -> String {
                Metres::expected()
            }
        }

        looks_like!($name as $schema);
    )+};
}

lengths!(
    /// A length, such as the size of a source.
    Size: SIZE as SizeInput,
    /// Blur as a length at the subject.
    BlurLength: BLUR_LENGTH as BlurLengthInput,
);

/// A distance, and how far off it may be.
#[derive(Clone, Copy)]
pub struct DistanceWithin {
    /// The distance.
    pub distance: Metres,
    /// The half-width of its 95 % interval, if it is stated.
    pub within: Option<Metres>,
}

impl Read for DistanceWithin {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let expected = notation::DISTANCE_WITHIN_EXPECTED;
        let number = |metres| (metres, None);
        let (distance, within) =
            number_or_text(value, expected, at, reader, number, notation::distance_within)?;
        let distance = reader.checked(at, Metres::new(distance))?;
        let within = match within {
            Some(within) => {
                let row = bounds::DISTANCE_WITHIN;
                // It cannot be nearer than the light.
                let greatest = row.greatest.min(distance.get());
                let row = bounds::Bounds { greatest, ..row };
                Some(reader.checked(at, row.check(within))?)
            }
            None => None,
        };
        Some(Self { distance, within: within.map(Metres::new_unchecked) })
    }

    fn expected() -> String {
        notation::DISTANCE_WITHIN_EXPECTED.to_owned()
    }
}

/// A coordinate of a position.
pub struct Coordinate(pub Metres);

impl Read for Coordinate {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let expected = notation::COORDINATE_EXPECTED;
        let metres = number_or_text(value, expected, at, reader, |metres| metres, notation::coordinate)?;
        reader.checked(at, bounds::COORDINATE.check(metres)).map(|metres| Self(Metres::new_unchecked(metres)))
    }
}

/// Defines a type of stops with the bounds of one row of `bounds`.
macro_rules! stops_within {
    ($(#[doc = $doc:literal] $name:ident: $bounds:ident),+ $(,)?) => {$(
        #[doc = $doc]
        #[derive(Clone, Copy)]
        pub struct $name(pub Stops);

        impl Read for $name {
            fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                let stops = Stops::read(value, at, reader)?;
                reader.checked(at, bounds::$bounds.check(stops.get())).map(|_| Self(stops))
            }

            fn expected() -> String {
                Stops::expected()
            }
        }

        looks_like!($name as StopsInput);
    )+};
}

stops_within!(
    /// A tolerance, stops.
    Tolerance: TOLERANCE,
    /// The evenness over a depth, stops.
    Evenness: EVENNESS,
    /// A correction of a modifier, an offset or a meter, stops.
    Correction: CORRECTION,
);

/// Reads two numbers with the same bounds.
fn pair(value: &Value<'_>, bounds: bounds::Bounds, at: &At<'_>, reader: &mut Reader) -> Option<[f64; 2]> {
    array_of(value, "a list of two numbers", at, reader, |_, value, at, reader| {
        number(value, bounds, at, reader)
    })
}

/// Defines a pair of numbers with the bounds of one row of `bounds`.
macro_rules! pair_of {
    (#[doc = $doc:literal] $name:ident: $bounds:ident) => {
        #[doc = $doc]
        #[derive(Clone, Copy)]
        pub struct $name(pub [f64; 2]);

        impl Read for $name {
            fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                pair(value, bounds::$bounds, at, reader).map(Self)
            }

            fn expected() -> String {
                format!("a list of two numbers, each {}", bounds::$bounds.range())
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
                schema::pair(schema::number(bounds::$bounds).into()).description(Some($doc.trim())).into()
            }
        }

        impl ToSchema for $name {}

        looks_like!($name as $name);
    };
}
pair_of!(
    /// The sides of a frame, mm.
    FrameSides: FRAME_SIDE
);
pair_of!(
    /// Two full angles, horizontal and vertical, degrees.
    AnglePair: ANGLE
);

/// The lowest and highest value of a quantity.
pub struct Range<T>(pub [T; 2]);

impl<T: Read + PartialOrd + Copy> Read for Range<T> {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        const EXPECTED: &str = "a list of two, the lesser first";
        let [first, second] =
            array_of(value, EXPECTED, at, reader, |_, value, at, reader| T::read(value, at, reader))?;
        if first <= second {
            Some(Self([first, second]))
        } else {
            reader.push_fault(at, Fault::NotRisingPair { expected: EXPECTED })
        }
    }
}

impl<T: FieldSchema> FieldSchema for Range<T> {
    fn schema() -> RefOr<Schema> {
        schema::pair(T::schema()).into()
    }

    fn add_named(all: &mut Named) {
        T::add_named(all);
    }
}

/// Defines a whole-number type with the bounds of one row of `bounds`.
macro_rules! whole_number {
    ($($(#[$doc:meta])* $name:ident: $bounds:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy)]
        pub struct $name(pub u32);

        impl Read for $name {
            fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                whole(value, bounds::$bounds, at, reader).map(Self)
            }
        }

        impl FieldSchema for $name {
            fn schema() -> RefOr<Schema> {
                schema::whole_number(bounds::$bounds)
            }
        }
    )+};
}
whole_number!(
    /// Flashes per exposure.
    Pops: POPS,
    /// Outlets of a pack, or the number of one.
    Outlets: OUTLETS,
    /// Flashes of a train.
    TrainPops: TRAIN,
    /// How many of a unit a kit has.
    Count: COUNT,
    /// Frames in a shot.
    FrameCount: FRAMES,
    /// Rows of a table.
    RowCount: ROWS,
    /// The width of a picture, px.
    PictureWidth: PICTURE_WIDTH,
);

/// Bits of a level: 8 or 16.
#[derive(Clone, Copy)]
pub struct Bits(pub u32);

impl Read for Bits {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match whole(value, bounds::BITS, at, reader)? {
            bits @ (8 | 16) => Some(Self(bits)),
            bits => reader.push_fault(at, Fault::UnknownBits { bits }),
        }
    }
}

impl FieldSchema for Bits {
    fn schema() -> RefOr<Schema> {
        schema::whole_number(bounds::BITS)
    }
}

/// The duration of a flash.
#[derive(Clone, Copy)]
pub struct FlashDuration(pub Seconds);

impl Read for FlashDuration {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        // A flash duration is not a shutter-speed mark, so it is always read literally.
        let written = written(Kind::ExposureTime, value, at, reader)?;
        match bounds::DURATION.check(written.number) {
            Ok(seconds) => Some(Self(Seconds::new_unchecked(seconds))),
            Err(invalid) => reader.push_fault(at, invalid),
        }
    }
}

looks_like!(
    LightingRatioValue as LightingRatioNumber,
    FlashDuration as DurationInput,
    DistanceWithin as DistanceWithinInput,
);
