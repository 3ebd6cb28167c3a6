//! `/v1/patches/compare` and `/v1/patches/response`.

use axum::response::Response as HttpResponse;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    drawing::{self, Picture},
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::FieldError,
        interrupt::Interrupt,
        measure::{
            patches::{self, Comparison, Patch},
            response::{self, Fit, Frame, Response},
            space::{Level, Space},
        },
        quantity::{FNumber, Stops, bounds, constants::PATCH_TOLERANCE},
    },
    request::{
        fields::{Bits, ExposureInput, PatchLevel, ResponseInput, Tolerance, encoding, within},
        place::At,
        reader::{Item, Read, Reader, array_of, reads},
        schema::{self, EntryId, FNumberInput, LevelInput, Name, StopsInput, schema},
        value::Value,
    },
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(compare_patches)).routes(routes!(fit_response))
}

/// A patch in a frame.
#[derive(ToSchema)]
struct PatchInput {
    /// Your own name for this entry, given back with its result.
    #[schema(value_type = Option<EntryId>)]
    id: Option<String>,
    /// Its name, 1 to 64 characters.
    #[schema(value_type = Name)]
    name: String,
    /// Its level.
    #[schema(value_type = LevelInput)]
    level: Level,
}
reads!(PatchInput { id, name, level });

impl Item for PatchInput {
    const MOST: usize = 256;
    const WHAT: &'static str = "readings";
}

/// Patches against a reference.
#[derive(ToSchema)]
#[schema(as = PatchCompareRequest)]
struct CompareRequest {
    /// The space of the levels; `srgb`, or that of the `response`, if left out.
    space: Option<Space>,
    /// Bits of a level, 8 or 16; 8, or those of the `response`, if left out.
    #[schema(value_type = Option<u32>, minimum = 8, maximum = 16)]
    bits: Option<Bits>,
    /// What all are compared with.
    #[schema(value_type = LevelInput)]
    reference: Level,
    /// The patches.
    #[schema(min_items = 1, max_items = 256)]
    readings: Vec<PatchInput>,
    /// What levels mean, as `patches/response` answers it.
    #[schema(value_type = Option<ResponseInput>)]
    response: Option<Response>,
    /// How far off still matches, stops, 0.001 to 4; 0.1 if left out.
    #[schema(value_type = Option<StopsInput>)]
    tolerance_stops: Option<Tolerance>,
    /// The exposure of the frames, for apertures and power changes.
    exposure: Option<ExposureInput>,
}
reads!(CompareRequest { space, bits, reference, readings, response, tolerance_stops, exposure });

pub(crate) struct CompareChecked(patches::Question);

impl Read for CompareChecked {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = CompareRequest::read(tree, at, reader)?;
        let mut levels = encoding(form.space, form.bits);
        if let Some(response) = &form.response {
            for (given, same, name) in [
                (form.space.is_some(), levels.space == response.encoding.space, "space"),
                (form.bits.is_some(), levels.bits == response.encoding.bits, "bits"),
            ] {
                if given && !same {
                    reader.fault::<()>(
                        &At::Field(at, name),
                        "the response is of another",
                        "that of the response, or none",
                    );
                }
            }
            levels = response.encoding;
        }
        within(form.reference, levels, &At::Field(at, "reference"), reader);
        let readings_at = At::Field(at, "readings");
        for (index, patch) in form.readings.iter().enumerate() {
            within(patch.level, levels, &At::Field(&At::Index(&readings_at, index), "level"), reader);
        }
        Some(Self(patches::Question {
            encoding: levels,
            reference: form.reference,
            readings: form
                .readings
                .into_iter()
                .map(|patch| Patch { id: patch.id, name: patch.name, level: patch.level })
                .collect(),
            response: form.response,
            tolerance: form
                .tolerance_stops
                .map_or(Stops::new_unchecked(PATCH_TOLERANCE), |tolerance| tolerance.0),
            exposure: form.exposure.map(|exposure| exposure.flash()),
            step: reader.rules.step,
        }))
    }
}

impl Calculation for CompareChecked {
    type Answer = Comparison;

    fn answer(&self, _: &dyn Interrupt) -> Result<Comparison, Vec<FieldError>> {
        Ok(patches::compare(&self.0))
    }
}

/// Compare patches
///
/// How many stops grey patches in captured frames are from a reference patch, by their levels. A file has a tone curve, which the curve of its colour space does not know: send the `response` that `patches/response` fits to bracketed frames, or take `stops_range` seriously. With a response the range is of 95 %: it holds the noise of levels and what the frames leave open, more the farther apart they are, and more yet beyond them. With an `exposure` also the aperture and the change of power that bring each back.
#[utoipa::path(post, path = "/v1/patches/compare", tag = "measuring", request_body = CompareRequest,
    responses((status = 200, description = "Each patch against the reference", body = Comparison), Refusals))]
async fn compare_patches(body: Body<CompareChecked>) -> Result<HttpResponse, Problem> {
    body.answer().await
}

/// One frame of the patch: exactly one of `stops` and `f_number`, alike in all frames.
#[derive(ToSchema)]
struct BracketFrameInput {
    /// Its exposure, stops, against whatever all frames are against.
    #[schema(value_type = Option<StopsInput>)]
    stops: Option<Stops>,
    /// Its aperture, all else equal.
    #[schema(value_type = Option<FNumberInput>)]
    f_number: Option<FNumber>,
    /// The level of the patch.
    #[schema(value_type = LevelInput)]
    level: Level,
}
reads!(BracketFrameInput { stops, f_number, level });

impl Item for BracketFrameInput {
    const LEAST: usize = 2;
    const MOST: usize = 64;
    const WHAT: &'static str = "frames";
}

struct LevelPair([f64; 2]);

schema!(of LevelPair as "LevelPair":
    schema::pair(schema::number(bounds::PATCH_LEVEL).into()).description(Some("Two levels.")).into());

impl Read for LevelPair {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        const EXPECTED: &str = "a list of two levels";
        array_of(tree, EXPECTED, at, reader, |_, tree, at, reader| {
            PatchLevel::read(tree, at, reader).map(|level| level.0)
        })
        .map(Self)
    }
}

impl Item for LevelPair {
    const LEAST: usize = 0;
    const MOST: usize = 64;
    const WHAT: &'static str = "pairs of levels";
}

/// Frames of one patch, bracketed.
#[derive(ToSchema)]
#[schema(as = PatchResponseRequest)]
struct ResponseRequest {
    /// The space of the levels; `srgb` if left out. Matters to [r, g, b] only.
    space: Option<Space>,
    /// Bits of a level, 8 or 16; 8 if left out.
    #[schema(value_type = Option<u32>, minimum = 8, maximum = 16)]
    bits: Option<Bits>,
    /// The frames.
    #[schema(min_items = 2, max_items = 64)]
    frames: Vec<BracketFrameInput>,
    /// Pairs of levels, of which the stops between are told.
    #[schema(max_items = 64)]
    between: Option<Vec<LevelPair>>,
}
reads!(ResponseRequest { space, bits, frames, between });

pub(crate) struct ResponseChecked(response::Question);

impl Read for ResponseChecked {
    fn read(tree: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let form = ResponseRequest::read(tree, at, reader)?;
        let encoding = encoding(form.space, form.bits);
        let frames_at = At::Field(at, "frames");
        let by_aperture = form.frames.first().is_some_and(|frame| frame.f_number.is_some());
        let mut frames = Vec::new();
        for (index, frame) in form.frames.into_iter().enumerate() {
            let at = At::Index(&frames_at, index);
            within(frame.level, encoding, &At::Field(&at, "level"), reader);
            let stops = match (frame.stops, frame.f_number) {
                (Some(stops), None) if !by_aperture => stops.get(),
                // Closing the lens darkens: -2·log2 N.
                (None, Some(f_number)) if by_aperture => -2.0 * f_number.get().log2(),
                _ => {
                    reader.fault::<()>(
                        &at,
                        "a frame's exposure is told in one way, alike in all frames",
                        "stops in all frames, or f_number in all",
                    );
                    continue;
                }
            };
            frames.push(Frame { stops, level: frame.level });
        }
        let between = form.between.into_iter().flatten().map(|pair| pair.0).collect();
        Some(Self(response::Question { encoding, frames, between }))
    }
}

impl Calculation for ResponseChecked {
    type Answer = Fit;
    const PICTURE: Option<fn(&Self, &Fit) -> Picture> =
        Some(|request, answer| drawing::response(&request.0, answer));

    fn answer(&self, _: &dyn Interrupt) -> Result<Fit, Vec<FieldError>> {
        response::fit(&self.0).map_err(|fault| vec![fault])
    }
}

/// Fit a response
///
/// What the levels of a file mean, from frames of one patch at known exposures (a bracket of apertures will do). Answers a `response` that other calls accept, how many levels a stop is at each frame, and the stops between levels asked for. The curve is monotone and goes through the frames.
#[utoipa::path(post, path = "/v1/patches/response", tag = "measuring", request_body = ResponseRequest,
    responses((status = 200, description = "The response", body = Fit), Refusals))]
async fn fit_response(body: Body<ResponseChecked>) -> Result<HttpResponse, Problem> {
    body.answer().await
}
