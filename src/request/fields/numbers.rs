//! Numbers with bounds of their own, ranges and pairs.

use utoipa::ToSchema;

use crate::{
    light::quantity::{Metres, Seconds, Stops, bounds, kind::Kind, notation},
    request::{
        place::At,
        reader::{Read, Reader, array_of, number, number_or_text, whole},
        schema,
        value::Value,
    },
};

/// A number in the bounds of one row of the table.
macro_rules! bounded {
    ($(#[doc = $doc:literal] $name:ident: $bounds:ident),+ $(,)?) => {$(
        #[doc = $doc]
        #[derive(Clone, Copy)]
        pub struct $name(pub f64);

        impl Read for $name {
            fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                number(tree, bounds::$bounds, at, reader).map(Self)
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
    )+};
}

bounded!(
    /// A guide number's value, in its own unit and ISO speed.
    GuideValue: GUIDE_NUMBER,
    /// A focal length, mm.
    FocalLength: FOCAL_LENGTH,
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
    /// What an error at a point counts.
    Weight: WEIGHT,
    /// Illuminance, lx.
    LuxValue: ILLUMINANCE,
    /// Angle of incidence, degrees.
    AngleOfIncidence: INCIDENCE,
    /// A part of a direction.
    DirectionPart: DIRECTION_PART,
    /// Angle off a beam's axis, degrees.
    OffAxis: OFF_AXIS,
    /// Intensity relative to a beam's axis.
    Relative: RELATIVE,
    /// The full angle between the two directions of half intensity, degrees.
    HalfPower: ANGLE,
    /// Size of the image over that of the subject.
    MagnificationValue: MAGNIFICATION,
    /// Speed, m/s.
    Speed: SPEED,
    /// Pixels across a frame.
    Pixels: PIXELS,
    /// Distance of pixels on a sensor, µm.
    PixelPitch: PIXEL_PITCH,
    /// Blur, pixels.
    Blur: BLUR,
    /// Colour temperature, K.
    KelvinValue: KELVIN,
    /// Colour as mireds.
    MiredValue: MIRED,
    /// A gel's shift, mired.
    MiredShift: MIRED_SHIFT,
    /// Time between frames, s.
    Interval: INTERVAL,
    /// Flashes of one charge at full power.
    ChargePops: CHARGE,
    /// Energy in the flash over the energy drawn for it.
    Efficiency: CHARGING_EFFICIENCY,
    /// Watts over volt-amperes.
    PowerFactor: POWER_FACTOR,
    /// Electrical power, W.
    Watts: POWER,
    /// Voltage, V.
    Volts: VOLTAGE,
    /// Current, A.
    Amperes: CURRENT,
    /// A part that is held back.
    Reserve: RESERVE,
    /// A time that flashes are counted in, s.
    DutyWindow: WINDOW,
    /// A price.
    Price: PRICE,
    /// Time limit, ms.
    TimeLimit: TIME_LIMIT,
);

/// A lighting ratio, to 1.
#[derive(Clone, Copy)]
pub struct LightingRatioValue(pub f64);

/// The size of a source.
#[derive(Clone, Copy)]
pub struct Size(pub Metres);

impl Read for Size {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let written = crate::request::reader::written(Kind::Distance, tree, at, reader)?;
        let expected = Kind::Distance.expected();
        reader
            .within(bounds::SIZE, written.number, expected, at)
            .map(|size| Self(Metres::new_unchecked(size)))
    }
}

/// A coordinate.
pub struct Coordinate(pub Metres);

impl Read for Coordinate {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let expected = notation::COORDINATE_EXPECTED;
        let metres = number_or_text(tree, expected, at, reader, |metres| metres, notation::coordinate)?;
        reader
            .within(bounds::COORDINATE, metres, expected, at)
            .map(|metres| Self(Metres::new_unchecked(metres)))
    }
}

/// A tolerance, stops.
#[derive(Clone, Copy)]
pub struct Tolerance(pub Stops);

impl Read for Tolerance {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let stops = Stops::read(tree, at, reader)?;
        match bounds::TOLERANCE.check(stops.get()) {
            Ok(_) => Some(Self(stops)),
            Err(wrong) => reader.wrong(at, wrong),
        }
    }
}

/// Two numbers in the bounds of one row of the table.
fn pair(tree: &Value<'_>, bounds: bounds::Bounds, at: &At<'_>, reader: &mut Reader) -> Option<[f64; 2]> {
    array_of(tree, "a list of two numbers", at, reader, |_, tree, at, reader| {
        number(tree, bounds, at, reader)
    })
}

macro_rules! pair_of {
    (#[doc = $doc:literal] $name:ident: $bounds:ident) => {
        #[doc = $doc]
        #[derive(Clone, Copy)]
        pub struct $name(pub [f64; 2]);

        impl Read for $name {
            fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                pair(tree, bounds::$bounds, at, reader).map(Self)
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
                schema::pair(schema::number(bounds::$bounds).into()).description(Some($doc.trim())).into()
            }
        }

        impl ToSchema for $name {}
    };
}
pair_of!(
    /// The sides of a frame, mm.
    FrameSides: FRAME_SIDE
);
pair_of!(
    /// Two full angles, across and up, degrees.
    AnglePair: ANGLE
);

/// Stops that a modifier, an offset or a meter may be off by.
#[derive(Clone, Copy)]
pub struct Correction(pub Stops);

impl Read for Correction {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let stops = Stops::read(tree, at, reader)?;
        match bounds::CORRECTION.check(stops.get()) {
            Ok(_) => Some(Self(stops)),
            Err(wrong) => reader.wrong(at, wrong),
        }
    }
}

/// Least and greatest of a quantity.
pub struct Range<T>(pub [T; 2]);

impl<T: Read + PartialOrd + Copy> Read for Range<T> {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        const EXPECTED: &str = "a list of two, the lesser first";
        let [first, second] =
            array_of(tree, EXPECTED, at, reader, |_, tree, at, reader| T::read(tree, at, reader))?;
        if first <= second {
            Some(Self([first, second]))
        } else {
            reader.fault(at, "the first is greater than the second", EXPECTED)
        }
    }
}

/// A whole number in the bounds of one row of the table.
macro_rules! whole_number {
    ($($(#[$doc:meta])* $name:ident: $bounds:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy)]
        pub struct $name(pub u32);

        impl Read for $name {
            fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
                whole(tree, bounds::$bounds, at, reader).map(Self)
            }
        }
    )+};
}
whole_number!(
    /// Flashes in one exposure.
    Pops: POPS,
    /// Units alike in a kit.
    Count: COUNT,
    /// Frames of a shot.
    PopCount: FRAMES,
    /// Rows of a table.
    RowCount: ROWS,
    /// Which of several readings.
    #[expect(dead_code, reason = "repeats are told by their setting")]
    Repeat: REPEAT,
);

/// Bits of a level: 8 or 16.
#[derive(Clone, Copy)]
pub struct Bits(pub u32);

impl Read for Bits {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match whole(tree, bounds::BITS, at, reader)? {
            bits @ (8 | 16) => Some(Self(bits)),
            bits => reader.fault(at, format!("{bits} bits are not known"), "8 or 16"),
        }
    }
}

/// A duration of a flash.
#[derive(Clone, Copy)]
pub struct FlashDuration(pub Seconds);

impl Read for FlashDuration {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        // A duration is no mark of a shutter dial: it is what it says.
        let written = crate::request::reader::written(Kind::ExposureTime, tree, at, reader)?;
        match bounds::DURATION.check(written.number) {
            Ok(seconds) => Some(Self(Seconds::new_unchecked(seconds))),
            Err(wrong) => reader.wrong(at, wrong),
        }
    }
}
