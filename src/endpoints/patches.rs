//! `/v1/patches/compare` and `/v1/patches/response`.

use axum::response::Response as HttpResponse;
use utoipa_axum::routes;

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw},
        extract::Body,
    },
    light::{
        error::InvalidPart,
        id::Id,
        interrupt::Interrupt,
        measure::{
            patches::{self, Comparison, Patch, PatchesQuestion},
            response::{self, Fit, Frame, Response, ResponseQuestion},
            space::{Level, Space},
        },
        quantity::{FNumber, Iso, Seconds, Stops, bounds, constants::PATCH_TOLERANCE, kind::Kind},
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{Bits, ExposureInput, PatchLevel, Tolerance, check_level, encoding, encoding_with},
        options::Options,
        place::At,
        reader::{
            Read, Reader,
            lists::{Item, array_of},
        },
        references,
        schema::{self, Name, schema},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(compare_patches)).routes(routes!(fit_response))
}

request! {
    /// A patch in a frame.
    struct PatchInput {
        /// Your own id for this entry, returned with its result.
        id: Option<Id>,
        /// Its name, 1 to 64 characters; the text of its `id` if left out.
        name: Option<String> as Name,
        /// Its level.
        level: Level,
    }
}

impl Item for PatchInput {
    const MAX: usize = 256;
    const PLURAL: &'static str = "readings";
}

request! {
    /// Patches to compare with a reference.
    struct CompareRequest as "PatchCompareRequest" {
        /// Colour space of the levels; that of the `response`, or else `srgb`, if left out.
        space: Option<Space>,
        /// Bit depth of the levels, 8 or 16; that of the `response`, or else 8, if left out.
        bits: Option<Bits>,
        /// The level that all are compared with.
        reference: Level,
        /// The patches.
        readings: Vec<PatchInput>,
        /// The response of the camera, as answered by `/v1/patches/response`.
        response: Option<Response>,
        /// The largest difference that counts as a match, stops, 0.001 to 4; 0.1 if left out.
        tolerance_stops: Option<Tolerance>,
        /// The exposure of the frames, to get apertures and changes of power as well.
        exposure: Option<ExposureInput>,
    }
}

impl Read for PatchesQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = CompareRequest::read(value, at, reader)?;
        let levels = encoding_with(input.response.as_ref(), input.space, input.bits, at, reader);
        check_level(input.reference, levels, &At::Field(at, "reference"), reader);
        let readings_at = At::Field(at, "readings");
        for (index, patch) in input.readings.iter().enumerate() {
            check_level(patch.level, levels, &At::Field(&At::Index(&readings_at, index), "level"), reader);
        }
        let patch = |(index, patch): (usize, PatchInput)| {
            let at = At::Index(&readings_at, index);
            let name = references::named(patch.name, patch.id.as_ref(), &At::Field(&at, "name"), reader)?;
            Some(Patch { id: patch.id, name, level: patch.level })
        };
        let patches = input.readings.into_iter().enumerate().filter_map(patch).collect();
        Some(Self {
            encoding: levels,
            reference: input.reference,
            readings: patches,
            response: input.response,
            tolerance: input
                .tolerance_stops
                .map_or(Stops::new_unchecked(PATCH_TOLERANCE), |tolerance| tolerance.0),
            exposure: input.exposure.map(|exposure| exposure.flash()),
            step: reader.rules.step,
        })
    }
}

impl Calculation for PatchesQuestion {
    type Answer = Comparison;

    fn answer(&self, _: &dyn Interrupt) -> Result<Comparison, Vec<InvalidPart>> {
        Ok(patches::compare(self))
    }
}

/// Compare patches
///
/// How many stops grey patches in captured frames differ from a reference patch, by their levels. A file has a tone curve that its colour space does not describe: send the `response` that `/v1/patches/response` fits to bracketed frames, or take `stops_range` seriously. With a response the range is a 95 % interval: it covers the noise of the levels and the uncertainty between the frames, which grows with their spacing, and grows further beyond them. With an `exposure` the answer also has the aperture and the change of power that correct each patch.
#[utoipa::path(post, path = "/v1/patches/compare", tag = "measuring", request_body = CompareRequest,
    responses((status = 200, description = "Each patch against the reference", body = Comparison)))]
async fn compare_patches(body: Body<PatchesQuestion>) -> Result<HttpResponse, Problem> {
    body.answer().await
}

request! {
    /// One frame of the patch. Its exposure is `stops`, or what of aperture, exposure time and ISO speed was changed from frame to frame; all frames state the same.
    struct BracketFrameInput {
        /// Its exposure, stops, relative to any reference that is the same for all frames.
        stops: Option<Stops>,
        /// Its aperture.
        f_number: Option<FNumber>,
        /// Its exposure time, if the light was continuous; flash does not depend on it.
        exposure_time: Option<Seconds>,
        /// Its ISO speed.
        iso: Option<Iso>,
        /// The level of the patch.
        level: Level,
    }
}

impl Item for BracketFrameInput {
    const MIN: usize = 2;
    const MAX: usize = 64;
    const PLURAL: &'static str = "frames";
}

impl BracketFrameInput {
    /// The values that state its exposure.
    fn values(&self) -> [Option<(Kind, f64)>; 3] {
        [
            self.f_number.map(|f_number| (Kind::FNumber, f_number.get())),
            self.exposure_time.map(|time| (Kind::ExposureTime, time.get())),
            self.iso.map(|iso| (Kind::Iso, iso.get())),
        ]
    }

    /// Which fields state its exposure. `None` if it is not stated, or both in stops and by settings of the camera.
    fn way(&self) -> Option<[bool; 3]> {
        let settings = self.values().map(|value| value.is_some());
        (self.stops.is_some() != settings.contains(&true)).then_some(settings)
    }

    /// Its exposure, stops, relative to that of any other frame that states the same.
    fn exposure(&self) -> f64 {
        let settings = self.values().into_iter().flatten();
        self.stops.map_or(0.0, Stops::get)
            + settings.map(|(kind, value)| kind.exposure_stops(value)).sum::<f64>()
    }
}

struct LevelPair([f64; 2]);

schema!(of LevelPair as "LevelPair":
    schema::pair(schema::number(bounds::PATCH_LEVEL).into()).description(Some("Two levels.")).into());

looks_like!(LevelPair as LevelPair);

impl Read for LevelPair {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        const EXPECTED: &str = "a list of two levels";
        array_of(value, EXPECTED, at, reader, |_, value, at, reader| {
            PatchLevel::read(value, at, reader).map(|level| level.0)
        })
        .map(Self)
    }
}

impl Item for LevelPair {
    const MIN: usize = 0;
    const MAX: usize = 64;
    const PLURAL: &'static str = "pairs of levels";
}

request! {
    /// Bracketed frames of one patch.
    struct ResponseRequest as "PatchResponseRequest" {
        /// Colour space of the levels; `srgb` if left out. It affects [r, g, b] levels only.
        space: Option<Space>,
        /// Bit depth of the levels, 8 or 16; 8 if left out.
        bits: Option<Bits>,
        /// The frames.
        frames: Vec<BracketFrameInput>,
        /// Pairs of levels; the answer has the stops between the two.
        between: Option<Vec<LevelPair>>,
    }
}

impl Read for ResponseQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = ResponseRequest::read(value, at, reader)?;
        let encoding = encoding(input.space, input.bits);
        let frames_at = At::Field(at, "frames");
        let way = input.frames.iter().find_map(BracketFrameInput::way);
        let mut frames = Vec::new();
        for (index, frame) in input.frames.into_iter().enumerate() {
            let at = At::Index(&frames_at, index);
            check_level(frame.level, encoding, &At::Field(&at, "level"), reader);
            if way.is_some() && frame.way() == way {
                frames.push(Frame { stops: frame.exposure(), level: frame.level });
            } else {
                reader.push_fault::<()>(&at, Fault::MixedFrames);
            }
        }
        let between = input.between.into_iter().flatten().map(|pair| pair.0).collect();
        Some(Self { encoding, frames, between })
    }
}

impl Calculation for ResponseQuestion {
    type Answer = Fit;
    const OPTIONS: Options = Options::MARKS_DRAWN;
    const PICTURE: Option<Draw<Self, Fit>> = Some(drawing::response);

    fn answer(&self, _: &dyn Interrupt) -> Result<Fit, Vec<InvalidPart>> {
        response::fit(self).map_err(|fault| vec![fault])
    }
}

/// Fit a response
///
/// Which exposure each level of a file stands for, from frames of one patch at known exposures (a bracket of apertures is enough; two frames are the least). Answers a `response` that other calls accept, the number of levels per stop at each frame, and the stops between the pairs of levels in `between`, with their 95 % interval. The curve is monotone and passes through the frames.
#[utoipa::path(post, path = "/v1/patches/response", tag = "measuring", request_body = ResponseRequest,
    responses((status = 200, description = "The response", body = Fit)))]
async fn fit_response(body: Body<ResponseQuestion>) -> Result<HttpResponse, Problem> {
    body.answer().await
}
