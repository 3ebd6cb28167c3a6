//! One table of bounds: name, unit, least and greatest value of every quantity in a request.
//!
//! Validation, error texts, the OpenAPI document and README use it.

use crate::light::{error::InvalidValue, quantity::significant};

/// The range of one quantity, both ends included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// The quantity, as named in a sentence.
    pub what: &'static str,
    /// The unit; empty if there is none.
    pub unit: &'static str,
    /// The least accepted value.
    pub least: f64,
    /// The greatest accepted value.
    pub greatest: f64,
}

impl Bounds {
    const fn new(what: &'static str, unit: &'static str, least: f64, greatest: f64) -> Self {
        Self { what, unit, least, greatest }
    }

    /// Returns the value if it is in the range, else an error. NaN and infinities are out of range.
    pub fn check(&self, value: f64) -> Result<f64, InvalidValue> {
        if (self.least..=self.greatest).contains(&value) {
            Ok(value)
        } else {
            let Self { what, least, greatest, unit } = *self;
            Err(InvalidValue::OutOfRange { what, value: significant(value), least, greatest, unit })
        }
    }

    /// The range as text: `0.01 to 100000 J`.
    pub fn range(&self) -> String {
        let text = format!("{} to {} {}", plain(self.least), plain(self.greatest), self.unit);
        text.trim_end().to_owned()
    }
}

/// Formats a number, without an exponent if its size is usual.
pub fn plain(value: f64) -> String {
    let size = value.abs();
    if size != 0.0 && !(1e-7..1e15).contains(&size) { format!("{value:e}") } else { format!("{value}") }
}

/// f-number.
pub const F_NUMBER: Bounds = Bounds::new("f-number", "", 0.5, 512.0);
/// Exposure time.
pub const EXPOSURE_TIME: Bounds = Bounds::new("exposure time", "s", 1e-6, 3600.0);
/// ISO speed.
pub const ISO: Bounds = Bounds::new("ISO speed", "", 1.0, 1e7);
/// Energy.
pub const ENERGY: Bounds = Bounds::new("energy", "J", 0.01, 1e5);
/// Distance.
pub const DISTANCE: Bounds = Bounds::new("distance", "m", 0.01, 1000.0);
/// How far off a distance may be.
pub const DISTANCE_WITHIN: Bounds = Bounds::new("± of a distance", "m", 0.0001, 100.0);
/// How far off an angle may be.
pub const ANGLE_WITHIN: Bounds = Bounds::new("± of an angle", "degrees", 0.01, 90.0);
/// Side or diameter of a light source.
pub const SIZE: Bounds = Bounds::new("size", "m", 0.001, 100.0);
/// A coordinate of a position.
pub const COORDINATE: Bounds = Bounds::new("coordinate", "m", -1000.0, 1000.0);
/// A component of a direction vector.
pub const DIRECTION_PART: Bounds = Bounds::new("part of a direction", "", -1000.0, 1000.0);
/// Intensity relative to that on the beam's axis.
pub const RELATIVE: Bounds = Bounds::new("relative intensity", "", 0.0, 1000.0);
/// Angle from the beam's axis.
pub const OFF_AXIS: Bounds = Bounds::new("angle off the axis", "degrees", 0.0, 180.0);
/// Magnification: size of the image over size of the subject.
pub const MAGNIFICATION: Bounds = Bounds::new("magnification", "", 0.0, 20.0);
/// How far a lens is moved out for a close-up.
pub const EXTENSION: Bounds = Bounds::new("extension", "mm", 0.0, 5000.0);
/// Pupil ratio: the diameter of the exit pupil over that of the entrance pupil.
pub const PUPIL_RATIO: Bounds = Bounds::new("pupil ratio", "", 0.1, 10.0);
/// Guide number, in metres at ISO 100.
pub const GUIDE_NUMBER: Bounds = Bounds::new("guide number", "m at ISO 100", 0.01, 10_000.0);
/// A fraction of full power.
pub const POWER_FRACTION: Bounds = Bounds::new("power fraction", "", 1e-6, 1.0);
/// Percentage of full energy.
pub const PERCENT: Bounds = Bounds::new("percent of full energy", "%", 1e-4, 100.0);
/// Optical density.
pub const OPTICAL_DENSITY: Bounds = Bounds::new("optical density", "", 0.0, 10.0);
/// Filter factor.
pub const FILTER_FACTOR: Bounds = Bounds::new("filter factor", "", 1.0, 1e10);
/// Light ratio, a : 1.
pub const LIGHT_RATIO: Bounds = Bounds::new("light ratio", "to 1", 1e-6, 1e6);
/// Exposure value.
pub const EXPOSURE_VALUE: Bounds = Bounds::new("exposure value", "", -20.0, 40.0);
/// An illuminance that is counted in stops, which darkness has none of.
pub const ILLUMINANCE_IN_STOPS: Bounds = Bounds::new("illuminance to convert", "lx", 1e-6, 1e6);
/// Reflectance: the share of the light that a surface sends back.
pub const REFLECTANCE: Bounds = Bounds::new("reflectance", "", 1e-4, 1.0);
/// Mean reflectance of the walls of a room, which must take some of the light.
pub const ROOM_REFLECTANCE: Bounds = Bounds::new("reflectance of a room", "", 1e-4, 0.98);
/// A requested lighting ratio of two sides.
pub const LIGHTING_RATIO: Bounds = Bounds::new("lighting ratio", "to 1", 1.0, 1000.0);
/// A shift in stops.
pub const SHIFT: Bounds = Bounds::new("shift", "stops", -60.0, 60.0);
/// The effect of a modifier, an offset or a correction.
pub const CORRECTION: Bounds = Bounds::new("correction", "stops", -20.0, 20.0);
/// The range of a power control below full power.
pub const BELOW_FULL: Bounds = Bounds::new("range under full power", "stops", 0.0, 16.0);
/// A label on a dial.
pub const DIAL_LABEL: Bounds = Bounds::new("dial label", "", -100.0, 100.0);
/// The smallest step of a power control.
pub const CLICK: Bounds = Bounds::new("click", "stops", 0.01, 4.0);
/// The smallest step of a linear power control.
pub const LINEAR_STEP: Bounds = Bounds::new("step", "% or J", 0.01, 1e4);
/// Flashes in one exposure.
pub const POPS: Bounds = Bounds::new("pops", "", 1.0, 1000.0);
/// Outlets of a pack.
pub const OUTLETS: Bounds = Bounds::new("outlets", "", 1.0, 8.0);
/// The part of an outlet in the energy of a pack, in any unit.
pub const PACK_SHARE: Bounds = Bounds::new("part of an outlet", "", 0.01, 1000.0);
/// Flashes of a train.
pub const TRAIN: Bounds = Bounds::new("flashes of a train", "", 2.0, 1000.0);
/// The rate of a train of flashes.
pub const RATE: Bounds = Bounds::new("rate of flashes", "Hz", 0.001, 1000.0);
/// Colour temperature.
pub const KELVIN: Bounds = Bounds::new("colour temperature", "K", 1000.0, 100_000.0);
/// Colour in mireds.
pub const MIRED: Bounds = Bounds::new("mireds", "mired", 10.0, 1000.0);
/// The shift of a gel.
pub const MIRED_SHIFT: Bounds = Bounds::new("shift of a gel", "mired", -500.0, 500.0);
/// Duration of a flash.
pub const DURATION: Bounds = Bounds::new("flash duration", "s", 1e-7, 1.0);
/// Speed of a subject.
pub const SPEED: Bounds = Bounds::new("speed", "m/s", 0.001, 10_000.0);
/// Pixels across a frame.
pub const PIXELS: Bounds = Bounds::new("pixels across", "", 1.0, 1e6);
/// Distance between the pixels of a sensor.
pub const PIXEL_PITCH: Bounds = Bounds::new("pixel pitch", "µm", 0.1, 1000.0);
/// Motion blur in a picture.
pub const BLUR: Bounds = Bounds::new("blur", "pixels", 0.01, 1000.0);
/// Motion blur at the subject.
pub const BLUR_LENGTH: Bounds = Bounds::new("blur at the subject", "m", 1e-6, 10.0);
/// Bits per pixel level.
pub const BITS: Bounds = Bounds::new("bits", "", 8.0, 16.0);
/// The index of a repeated reading.
pub const REPEAT: Bounds = Bounds::new("repeat", "", 0.0, 10_000.0);
/// Number of identical units in a kit.
pub const COUNT: Bounds = Bounds::new("count", "", 1.0, 64.0);
/// Frames of a shot.
pub const FRAMES: Bounds = Bounds::new("frames of a shot", "", 1.0, 1e6);
/// Time between frames, or a recycle time.
pub const INTERVAL: Bounds = Bounds::new("time between frames", "s", 0.001, 3600.0);
/// Flashes per battery charge.
pub const CHARGE: Bounds = Bounds::new("flashes of a charge", "", 1.0, 1e6);
/// Energy of a flash over the energy drawn to charge it.
pub const CHARGING_EFFICIENCY: Bounds = Bounds::new("charging efficiency", "", 0.05, 1.0);
/// Power factor: watts over volt-amperes.
pub const POWER_FACTOR: Bounds = Bounds::new("power factor", "", 0.1, 1.0);
/// Electrical power.
pub const POWER: Bounds = Bounds::new("power", "W", 0.0, 1e5);
/// Apparent power of a generator.
pub const APPARENT_POWER: Bounds = Bounds::new("apparent power", "VA", 1.0, 1e6);
/// How long circuits are in use.
pub const HOURS: Bounds = Bounds::new("time in use", "h", 0.01, 1000.0);
/// Voltage of a circuit.
pub const VOLTAGE: Bounds = Bounds::new("voltage", "V", 1.0, 1000.0);
/// Rated current of a breaker.
pub const CURRENT: Bounds = Bounds::new("current", "A", 0.1, 10_000.0);
/// Reserve: the part of a battery charge that is not used.
pub const RESERVE: Bounds = Bounds::new("reserve", "", 0.0, 0.9);
/// The time in which a duty limit counts flashes.
pub const WINDOW: Bounds = Bounds::new("time of a duty limit", "s", 1.0, 86_400.0);
/// A price.
pub const PRICE: Bounds = Bounds::new("price", "", 0.0, 1e12);
/// Rows of a table.
pub const ROWS: Bounds = Bounds::new("rows", "", 2.0, 256.0);
/// Tolerance.
pub const TOLERANCE: Bounds = Bounds::new("tolerance", "stops", 0.001, 4.0);
/// The evenness over a depth.
pub const EVENNESS: Bounds = Bounds::new("evenness", "stops", 0.001, 16.0);
/// Weight of a metering point.
pub const WEIGHT: Bounds = Bounds::new("weight", "", 0.01, 100.0);
/// Illuminance.
pub const ILLUMINANCE: Bounds = Bounds::new("illuminance", "lx", 0.0, 1e6);
/// Luminous intensity of a lamp.
pub const INTENSITY: Bounds = Bounds::new("luminous intensity", "cd", 1e-3, 1e8);
/// Luminous flux of a lamp.
pub const FLUX: Bounds = Bounds::new("luminous flux", "lm", 1e-3, 1e8);
/// Focal length.
pub const FOCAL_LENGTH: Bounds = Bounds::new("focal length", "mm", 1.0, 5000.0);
/// A side of the image frame.
pub const FRAME_SIDE: Bounds = Bounds::new("frame side", "mm", 1.0, 1000.0);
/// One full angle of a rectangular coverage.
pub const ANGLE: Bounds = Bounds::new("angle", "degrees", 0.1, 179.9);
/// The full angle of a cone.
pub const CONE: Bounds = Bounds::new("cone angle", "degrees", 0.1, 360.0);
/// Angle between the direction of the light and the normal of the metering point.
pub const INCIDENCE: Bounds = Bounds::new("incidence", "degrees", 0.0, 90.0);
/// On-axis intensity over that of an isotropic source.
pub const GAIN: Bounds = Bounds::new("gain", "", 0.1, 10_000.0);
/// Luminous efficacy of a flash.
pub const EFFICACY: Bounds = Bounds::new("efficacy", "lm/W", 0.1, 683.0);
/// Share of the lamp's light inside the coverage.
pub const SHARE: Bounds = Bounds::new("share of light", "", 0.001, 1.0);
/// Incident-light constant C.
pub const CONSTANT_C: Bounds = Bounds::new("constant C", "lx s", 50.0, 1000.0);
/// Level of a grey patch.
pub const PATCH_LEVEL: Bounds = Bounds::new("patch level", "", 0.0, 65_535.0);
/// The id of an entry, if it is a number: whole numbers that JSON readers keep (RFC 8259, section 6). Not in the table,
/// since it is no quantity.
pub const ID: Bounds = Bounds::new("id", "", -9_007_199_254_740_991.0, 9_007_199_254_740_991.0);
/// Time limit of a search.
pub const TIME_LIMIT: Bounds = Bounds::new("time limit", "ms", 1.0, 2000.0);

/// The width of a picture.
pub const PICTURE_WIDTH: Bounds = Bounds::new("picture width", "px", 320.0, 1600.0);

/// All rows of the table, for README and the tests.
pub const ALL: &[Bounds] = &[
    F_NUMBER,
    EXPOSURE_TIME,
    ISO,
    ENERGY,
    DISTANCE,
    DISTANCE_WITHIN,
    ANGLE_WITHIN,
    SIZE,
    COORDINATE,
    DIRECTION_PART,
    RELATIVE,
    OFF_AXIS,
    MAGNIFICATION,
    EXTENSION,
    PUPIL_RATIO,
    GUIDE_NUMBER,
    POWER_FRACTION,
    PERCENT,
    OPTICAL_DENSITY,
    FILTER_FACTOR,
    LIGHT_RATIO,
    EXPOSURE_VALUE,
    ILLUMINANCE_IN_STOPS,
    REFLECTANCE,
    ROOM_REFLECTANCE,
    LIGHTING_RATIO,
    SHIFT,
    CORRECTION,
    BELOW_FULL,
    DIAL_LABEL,
    CLICK,
    LINEAR_STEP,
    POPS,
    OUTLETS,
    PACK_SHARE,
    TRAIN,
    RATE,
    KELVIN,
    MIRED,
    MIRED_SHIFT,
    DURATION,
    SPEED,
    PIXELS,
    PIXEL_PITCH,
    BLUR,
    BLUR_LENGTH,
    BITS,
    REPEAT,
    COUNT,
    FRAMES,
    INTERVAL,
    CHARGE,
    CHARGING_EFFICIENCY,
    POWER_FACTOR,
    POWER,
    APPARENT_POWER,
    HOURS,
    VOLTAGE,
    CURRENT,
    RESERVE,
    WINDOW,
    PRICE,
    ROWS,
    TOLERANCE,
    EVENNESS,
    WEIGHT,
    ILLUMINANCE,
    INTENSITY,
    FLUX,
    FOCAL_LENGTH,
    FRAME_SIDE,
    ANGLE,
    CONE,
    INCIDENCE,
    GAIN,
    EFFICACY,
    SHARE,
    CONSTANT_C,
    PATCH_LEVEL,
    TIME_LIMIT,
    PICTURE_WIDTH,
];
