//! `/v1/motion/freeze`.

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw},
        extract::Body,
    },
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        measure::{
            motion::{self, Duration, Freeze, FreezeQuestion, Shape},
            train::TrainQuestion,
        },
        quantity::{Seconds, Stops, bounds},
        unit::Unit,
    },
    request::{
        declare::request,
        fields::{
            Blur, BlurLength, FlashDuration, Interval, MagnificationValue, PixelPitch, Pixels, Rate,
            SettingDurationInput, SettingText, Size, Speed, StockUnit, TrainPops,
        },
        options::Options,
        place::At,
        reader::{Read, Reader, words::reads_word},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(freeze_motion))
}

reads_word!(Shape: Shape::ALL.map(|shape| (shape.text(), shape)));

request! {
    /// A flash and a moving subject.
    struct FreezeRequest {
        /// Time above half of the peak (ISO 2827). Alone it gives t0.1, unless the flash is cut off.
        t0_5_s: Option<FlashDuration>,
        /// Time above a tenth of the peak (ISO 2827).
        t0_1_s: Option<FlashDuration>,
        /// How the flash ends; `exponential` if left out.
        shape: Option<Shape>,
        /// Speed of the subject across the frame, m/s; needed for the blur.
        speed_m_s: Option<Speed>,
        /// Width of the field of view at the subject; needs `pixels_across`. Without the size of a pixel, blur is answered in metres only.
        field_width_m: Option<Size>,
        /// Pixels across the frame; needs `field_width_m`.
        pixels_across: Option<Pixels>,
        /// Image size divided by subject size; needs `pixel_pitch_um`.
        magnification: Option<MagnificationValue>,
        /// Pixel pitch of the sensor, µm; needs `magnification`.
        pixel_pitch_um: Option<PixelPitch>,
        /// The largest blur that counts as sharp, pixels; 1 if left out, where the size of a pixel is known.
        allowed_blur_px: Option<Blur>,
        /// The same as a length at the subject, as 0.002 (metres) or "2 mm"; at most one of the two.
        allowed_blur_m: Option<BlurLength>,
        /// The unit, for its `duration_by_setting`; in a train of flashes also for its recycle time and the duty limit of its head.
        unit: Option<StockUnit>,
        /// Its setting; full power if left out. A duration that is listed for it is that of the flash, where none is stated.
        setting: Option<SettingText>,
        /// Durations at other settings, instead of those of the unit.
        duration_by_setting: Option<Vec<SettingDurationInput>>,
        /// The exposure time. If it is shorter than t0.1, it limits the blur and cuts off part of the flash. It also sets the length of the ghost that ambient light records.
        exposure_time: Option<Seconds>,
        /// The camera's sync time: with a shorter exposure time the flash does not light the whole frame.
        sync_time: Option<Seconds>,
        /// How far ambient light is below the flash, stops, as answered by `/v1/ambient/check`.
        ambient_below_flash_stops: Option<Stops>,
        /// A train of flashes: how many fire in one exposure. If left out beside `interval_s` or `hz`, as many as `exposure_time` holds.
        pops: Option<TrainPops>,
        /// Time from one flash of the train to the next, s.
        interval_s: Option<Interval>,
        /// The same as a rate, flashes a second, as 5 or "5 Hz"; at most one of the two.
        hz: Option<Rate>,
    }
    at most one of "the size of a pixel at the subject": field_width_m & pixels_across | magnification & pixel_pitch_um
}

impl Read for FreezeQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let mut input = FreezeRequest::read(value, at, reader)?;
        let shape = input.shape.unwrap_or(Shape::Exponential);
        let seconds = |duration: Option<FlashDuration>| duration.map(|duration| duration.0);
        if let (Some(t0_5), Some(t0_1)) = (input.t0_5_s, input.t0_1_s)
            && t0_1.0 < t0_5.0
        {
            return reader.push_fault(
                &At::Field(at, "t0_1_s"),
                Fault::T01Shorter { t0_1_s: t0_1.0.get(), t0_5_s: t0_5.0.get() },
            );
        }
        let (t0_5, t0_1) = (seconds(input.t0_5_s), seconds(input.t0_1_s));
        let stated = Duration::of(t0_5, t0_1, shape);
        if stated.is_none() && t0_5.is_some() {
            return reader.push_fault(&At::Field(at, "t0_1_s"), Fault::UnknownDuration);
        }
        let pixel_m = input.pixel_m(at, reader);
        let allowed_m = input.allowed_m(pixel_m, at, reader);
        let by_setting = input.durations(shape, at, reader);
        let unit = input.unit_at_setting(at, reader);
        let listed = || {
            let (unit, below) = unit.as_ref().filter(|_| input.setting.is_some())?;
            let is_it = |label: &String| {
                SettingText(label.clone()).find(unit).is_ok_and(|row| (row.get() - below.get()).abs() < 1e-9)
            };
            Some(by_setting.iter().find(|(label, _)| is_it(label))?.1)
        };
        let duration = stated.or_else(|| listed().filter(|_| t0_1.is_none()));
        let train = input.train(unit, at, reader);
        let question = Self {
            t0_5: duration.map(|duration| duration.t0_5),
            t0_1: duration.map(|duration| duration.t0_1).or(t0_1),
            shape,
            speed_m_s: input.speed_m_s.map(|speed| speed.0),
            pixel_m,
            allowed_m,
            by_setting,
            exposure_time: input.exposure_time,
            sync_time: input.sync_time,
            ambient_below_flash: input.ambient_below_flash_stops,
            train,
            step: reader.rules.step,
        };
        if !question.has_answer() && reader.is_clean() {
            let expected = "t0_5_s or t0_1_s, or pops, or speed_m_s with an exposure_time or an allowed blur";
            return reader.push_fault(&At::Field(at, "t0_5_s"), Fault::NothingAsked { expected });
        }
        Some(question)
    }
}

impl FreezeRequest {
    /// The size of a pixel at the subject, m, if it is stated.
    fn pixel_m(&self, at: &At<'_>, reader: &mut Reader) -> Option<f64> {
        match (self.field_width_m, self.pixels_across, self.magnification, self.pixel_pitch_um) {
            (Some(Size(width)), Some(Pixels(pixels)), None, None) => Some(width.get() / pixels),
            (None, None, Some(magnification), Some(pitch)) if magnification.0 >= 1e-6 => {
                Some(pitch.0 * 1e-6 / magnification.0)
            }
            (None, None, Some(_), Some(_)) => {
                reader.push_fault(&At::Field(at, "magnification"), Fault::NoMagnification)
            }
            // Not stated, or refused by the reader.
            _ => None,
        }
    }

    /// The allowed blur at the subject, m, if one is known.
    fn allowed_m(&self, pixel_m: Option<f64>, at: &At<'_>, reader: &mut Reader) -> Option<f64> {
        match (self.allowed_blur_px, self.allowed_blur_m) {
            (Some(_), Some(_)) => {
                let ways = ["allowed_blur_px", "allowed_blur_m"].map(str::to_owned);
                let fault = Fault::Conflict { what: "the allowed blur", ways: ways.into() };
                reader.push_fault(&At::Field(at, "allowed_blur_m"), fault)
            }
            (Some(_), None) if pixel_m.is_none() && reader.is_clean() => {
                let expected = "field_width_m with pixels_across, or magnification with pixel_pitch_um, for a blur in pixels; or allowed_blur_m".to_owned();
                reader.push_fault(&At::Field(at, "field_width_m"), Fault::Missing { expected })
            }
            (px, None) => pixel_m.map(|pixel| pixel * px.map_or(1.0, |px| px.0)),
            (None, Some(BlurLength(length))) => Some(length.get()),
        }
    }

    /// The durations by setting: those of the request, else those of the unit.
    fn durations(&mut self, shape: Shape, at: &At<'_>, reader: &mut Reader) -> Vec<(String, Duration)> {
        let at = At::Field(at, "duration_by_setting");
        let stated = self.duration_by_setting.take().into_iter().flatten().enumerate();
        let stated: Vec<_> =
            stated.filter_map(|(index, row)| row.check(shape, &At::Index(&at, index), reader)).collect();
        if stated.is_empty() {
            self.unit.as_ref().map(|unit| unit.0.durations.clone()).unwrap_or_default()
        } else {
            stated
        }
    }

    /// The unit, if there is one, and its setting, stops below full.
    fn unit_at_setting(&mut self, at: &At<'_>, reader: &mut Reader) -> Option<(Unit, Stops)> {
        let setting_at = At::Field(at, "setting");
        match (self.unit.take(), &self.setting) {
            (Some(StockUnit(unit)), Some(setting)) => {
                let below = setting.check(&unit, &setting_at, reader)?;
                Some((unit, below))
            }
            (Some(StockUnit(unit)), None) => Some((unit, Stops::ZERO)),
            (None, Some(_)) => reader.push_fault(&setting_at, Fault::SettingWithoutUnit),
            (None, None) => None,
        }
    }

    /// The train of flashes, if one is asked about.
    fn train(&self, unit: Option<(Unit, Stops)>, at: &At<'_>, reader: &mut Reader) -> Option<TrainQuestion> {
        let interval_s = match (self.interval_s, self.hz) {
            (Some(_), Some(_)) => {
                let ways = ["interval_s", "hz"].map(str::to_owned);
                let fault = Fault::Conflict { what: "the pace of the flashes", ways: ways.into() };
                return reader.push_fault(&At::Field(at, "hz"), fault);
            }
            (interval, rate) => interval.map(|interval| interval.0).or(rate.map(|rate| 1.0 / rate.0)),
        };
        let pops = self.pops.map(|pops| pops.0);
        if interval_s.is_some() && pops.is_none() && self.exposure_time.is_none() {
            let expected =
                format!("a whole number, {}, or exposure_time beside the pace", bounds::TRAIN.range());
            return reader.push_fault(&At::Field(at, "pops"), Fault::Missing { expected });
        }
        (pops.is_some() || interval_s.is_some()).then_some(TrainQuestion { pops, interval_s, unit })
    }
}

impl Calculation for FreezeQuestion {
    type Answer = Freeze;
    const OPTIONS: Options = Options::MARKS_DRAWN;
    const PICTURE: Option<Draw<Self, Freeze>> =
        Some(|question, answer, width| drawing::motion(question, answer, &motion::decay(question), width));

    fn answer(&self, _: &dyn Interrupt) -> Result<Freeze, Vec<InvalidPart>> {
        Ok(motion::freeze(self))
    }
}

/// Freeze motion
///
/// How sharply a flash freezes a moving subject: blur in pixels and metres over t0.1, the fastest subject that stays sharp, and the same at other settings. Whatever can be told from what is given is answered: t0.5 alone gives t0.1, a speed and a time the blur in metres, a speed and an allowed blur the longest t0.1. With an exposure time, blur is counted over the shorter of the two times, and `bounded_by` says which that is; the answer then also has the part of the flash that the shutter cuts off, and the length of the ghost from ambient light.
///
/// A train of flashes in one exposure: `pops` with `interval_s` or `hz` gives the exposure time that holds it, how many flashes a stated exposure time holds, what adds up on all that stands still, and how far apart the images of the subject are. With a `unit` it also gives whether that recycles in time, and the heat load of its head. `pops` alone gives the stops.
#[utoipa::path(post, path = "/v1/motion/freeze", tag = "measuring", request_body = FreezeRequest,
    responses((status = 200, description = "The blur", body = Freeze)))]
async fn freeze_motion(body: Body<FreezeQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
