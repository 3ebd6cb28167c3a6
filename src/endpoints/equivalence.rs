//! `/v1/energy/equivalence`.

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        equivalence::{self, ComparedBy, Equivalence, EquivalenceQuestion, Placed},
        error::InvalidPart,
        interrupt::Interrupt,
        quantity::{Metres, Stops},
        set::{exposure::FlashExposure, limits::Limits, modifier::Modifier},
        unit::Unit,
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{ExposureInput, Pops, SettingText},
        place::At,
        reader::{Read, Reader, lists::Item, words::reads_word},
        schema::EntryId,
        value::Value,
    },
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(match_units))
}

request! {
    /// The unit to replace, as it was used.
    struct ReferenceInput {
        /// The unit.
        unit: Unit,
        /// Its setting.
        setting: SettingText,
        /// The exposure that was right with it.
        exposure: ExposureInput,
        /// Its distance from the subject.
        distance: Option<Metres>,
        /// The effect of its modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`.
        modifier_stops: Option<Modifier>,
    }
}

/// The reference; its setting is in stops below full power.
struct Reference {
    placed: Placed,
    setting: Stops,
    exposure: FlashExposure,
}

looks_like!(Reference as ReferenceInput);

impl Read for Reference {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = ReferenceInput::read(value, at, reader)?;
        let setting = input.setting.check(&input.unit, &At::Field(at, "setting"), reader)?;
        Some(Self {
            setting,
            exposure: input.exposure.flash(),
            placed: placed(None, input.unit, input.distance, input.modifier_stops),
        })
    }

    fn expected() -> String {
        ReferenceInput::expected()
    }
}

fn placed(id: Option<String>, unit: Unit, distance: Option<Metres>, modifier: Option<Modifier>) -> Placed {
    Placed { id, unit, distance, modifier }
}

request! {
    /// A candidate to replace it.
    struct CandidateInput {
        /// Your own id for this entry, returned with its result.
        id: Option<String> as EntryId,
        /// The unit.
        unit: Unit,
        /// Its distance from the subject; that of the reference if left out.
        distance: Option<Metres>,
        /// The effect of its modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`.
        modifier_stops: Option<Modifier>,
    }
}

impl Item for CandidateInput {
    const MAX: usize = 64;
    const PLURAL: &'static str = "candidates";
}

reads_word!(ComparedBy: ComparedBy::ALL.map(|by| (by.text(), by)));

request! {
    /// A unit to replace by another without changing the picture.
    struct EquivalenceRequest {
        /// The unit to replace, as it was used.
        reference: Reference,
        /// The candidates to replace it.
        candidates: Vec<CandidateInput>,
        /// The exposure to keep; the reference's if left out.
        exposure: Option<ExposureInput>,
        /// Most flashes per exposure; 1 if left out.
        max_pops: Option<Pops>,
        /// What to compare by; chosen from what the units state if left out.
        compare_by: Option<ComparedBy>,
        /// Limits on the remedies that may be proposed.
        limits: Option<Limits>,
    }
}

impl Read for EquivalenceQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = EquivalenceRequest::read(value, at, reader)?;
        let reference = input.reference;
        Some(Self {
            setting: reference.setting,
            exposure: reference.exposure,
            hold: input.exposure.map_or(reference.exposure, |exposure| exposure.flash()),
            reference: reference.placed,
            candidates: input
                .candidates
                .into_iter()
                .map(|c| placed(c.id, c.unit, c.distance, c.modifier_stops))
                .collect(),
            max_pops: input.max_pops.map_or(1, |pops| pops.0),
            compare_by: input.compare_by,
            limits: input.limits.unwrap_or_default(),
            step: reader.rules.step,
            units: reader.rules.units,
        })
    }
}

impl Calculation for EquivalenceQuestion {
    type Answer = Equivalence;

    fn answer(&self, _: &dyn Interrupt) -> Result<Equivalence, Vec<InvalidPart>> {
        equivalence::compare(self)
    }
}

/// Match units
///
/// The setting of each candidate that gives the same light as the reference, so that the picture does not change. The answer has the nearest click and the remaining error. If a candidate is too weak or cannot be set low enough, it says by how many stops, with remedies. Units are compared by guide number if both state one and no modifier is named, otherwise by the light in their coverage, or by energy.
#[utoipa::path(post, path = "/v1/energy/equivalence", tag = "energy", request_body = EquivalenceRequest,
    responses((status = 200, description = "Each candidate's setting", body = Equivalence), Refusals))]
async fn match_units(body: Body<EquivalenceQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
