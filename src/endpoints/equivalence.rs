//! `/v1/energy/equivalence`.

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw, patches_of},
        extract::Body,
    },
    light::{
        equivalence::{self, ComparedBy, Equivalence, EquivalenceQuestion, Placed, Reach},
        error::{InvalidPart, InvalidValue},
        id::Id,
        interrupt::Interrupt,
        quantity::{
            Seconds, Stops,
            bounds::{Bounds, OUTLETS},
        },
        remedy::Patch,
        set::{exposure::FlashExposure, filter::Filter, lens::Lens, limits::Limits, modifier::Modifier},
        unit::{
            Unit,
            pack::{Pack, Split},
            shutter::Shutter,
        },
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{
            DistanceWithin, ExposureInput, FocalLength, LensInput, Outlets, PackEntry, Pops, SettingText,
            begin_packs, packs, zoomed,
        },
        options::Options,
        place::At,
        reader::{Read, Reader, lists::Item, words::reads_word},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
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
        /// The zoom of its head, mm: a table of guide numbers is read there, and it is the coverage of a unit that states none.
        zoom_mm: Option<FocalLength>,
        /// For a head on a pack whose split is `even`: how many heads shared its energy; 1 if left out.
        heads: Option<Outlets>,
        /// Its setting; full power if left out.
        setting: Option<SettingText>,
        /// The exposure that was right with it. If it is left out, it is the one to keep (`exposure` beside `reference`); without either the picture is held at whatever it was.
        exposure: Option<ExposureInput>,
        /// Its distance from the subject; with how far it may be off at 95 % as text, such as "2 m ±3 cm".
        distance: Option<DistanceWithin>,
        /// The effect of its modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`.
        modifier_stops: Option<Modifier>,
        /// Filters on it.
        filters: Option<Vec<Filter>>,
    }
}

/// The reference; its setting is in stops below full power.
struct Reference {
    placed: Placed,
    heads: Option<Outlets>,
    setting: Stops,
    exposure: Option<FlashExposure>,
    shutter: Option<Shutter>,
}

looks_like!(Reference as ReferenceInput);

impl Read for Reference {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = ReferenceInput::read(value, at, reader)?;
        let unit = zoomed(input.unit, input.zoom_mm, at, reader)?;
        let setting = match &input.setting {
            Some(setting) => setting.check(&unit, &At::Field(at, "setting"), reader)?,
            None => Stops::ZERO,
        };
        Some(Self {
            setting,
            heads: input.heads,
            exposure: input.exposure.as_ref().map(ExposureInput::flash),
            shutter: input.exposure.as_ref().map(ExposureInput::shutter),
            placed: Placed {
                id: None,
                unit,
                distance: input.distance.map(|it| it.distance),
                within: input.distance.and_then(|it| it.within),
                modifier: input.modifier_stops,
                filters: input.filters.unwrap_or_default(),
                shutter: Shutter::default(),
            },
        })
    }

    fn expected() -> String {
        ReferenceInput::expected()
    }
}

request! {
    /// A candidate to replace it.
    struct CandidateInput {
        /// Your own id for this entry, returned with its result.
        id: Option<Id>,
        /// The unit.
        unit: Unit,
        /// The zoom of its head, mm, as for the reference.
        zoom_mm: Option<FocalLength>,
        /// For a head on a pack whose split is `even`: how many heads are to share its energy; 1 if left out.
        heads: Option<Outlets>,
        /// Its distance from the subject, as for the reference; that of the reference if left out.
        distance: Option<DistanceWithin>,
        /// The effect of its modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`. That of the reference if left out; 0 for a candidate without one. The same kind or number on both sides cancels.
        modifier_stops: Option<Modifier>,
        /// Filters on it.
        filters: Option<Vec<Filter>>,
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
        /// The packs that the reference or candidates are heads on.
        packs: Option<Vec<PackEntry>>,
        /// The unit to replace, as it was used.
        reference: Reference,
        /// The candidates to replace it.
        candidates: Vec<CandidateInput>,
        /// The exposure to keep; the reference's if left out.
        exposure: Option<ExposureInput>,
        /// What the lens takes at the exposure to keep; the reference's exposure was without it.
        lens: Option<LensInput>,
        /// Most flashes per exposure; 1 if left out.
        max_pops: Option<Pops>,
        /// What to compare by; chosen from what the units state if left out.
        compare_by: Option<ComparedBy>,
        /// Limits on the remedies that may be proposed.
        limits: Option<Limits>,
    }
}

/// Sets the times at which the units are used: the reference's own, and those that are held for the candidates, each for
/// the other if only one is stated. Adds a fault at a time that a unit needs. Among lamps alone the time cancels.
fn set_shutters(
    reference: &mut Reference,
    held: Option<Shutter>,
    candidates: &mut [Placed],
    at: &At<'_>,
    reader: &mut Reader,
) {
    let own = reference.shutter;
    let reference_at = At::Field(at, "reference");
    let exposure_at = |is_own: bool| At::Field(if is_own { &reference_at } else { at }, "exposure");
    let sides = [own.or(held), held.or(own)].map(Option::unwrap_or_default);
    let is_lamp = |placed: &Placed| placed.unit.lamp.is_some();
    let cancels = is_lamp(&reference.placed)
        && candidates.iter().all(is_lamp)
        && sides.iter().all(|shutter| shutter.time.is_none());
    let second = Shutter { time: Some(Seconds::new_unchecked(1.0)), sync_time: None };
    let [before, after] = if cancels { [second; 2] } else { sides };
    let candidates = candidates.iter_mut().map(|placed| (placed, after, held.is_none() && own.is_some()));
    let mut known = Vec::new();
    for (placed, shutter, is_own) in
        std::iter::once((&mut reference.placed, before, own.is_some())).chain(candidates)
    {
        placed.shutter = shutter;
        if let Err(lacking) = placed.unit.through(shutter)
            && !known.contains(&(lacking, is_own))
        {
            known.push((lacking, is_own));
            let exposure_at = exposure_at(is_own);
            reader.push_fault::<()>(&At::Field(&exposure_at, lacking.field()), InvalidValue::from(lacking));
        }
    }
}

impl Read for EquivalenceQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        begin_packs(value, reader);
        let input = EquivalenceRequest::read(value, at, reader)?;
        let packs = packs(input.packs);
        let mut reference = input.reference;
        let mut assumed_alone = Vec::new();
        let mut share = |unit: &mut Unit, heads, at: &At<'_>, reader: &mut Reader| {
            let alone = share(unit, heads, &packs, at, reader).filter(|name| !assumed_alone.contains(name));
            assumed_alone.extend(alone);
        };
        share(&mut reference.placed.unit, reference.heads, &At::Field(at, "reference"), reader);
        let candidates_at = At::Field(at, "candidates");
        let candidates = input.candidates.into_iter().enumerate().filter_map(|(index, mut candidate)| {
            let at = At::Index(&candidates_at, index);
            // Its part of the pack is one of the guide number at this zoom.
            let mut unit = zoomed(candidate.unit.clone(), candidate.zoom_mm, &at, reader);
            share(unit.as_mut().unwrap_or(&mut candidate.unit), candidate.heads, &at, reader);
            Some(Placed {
                id: candidate.id,
                unit: unit?,
                distance: candidate.distance.map(|it| it.distance),
                within: candidate.distance.and_then(|it| it.within),
                modifier: candidate.modifier_stops,
                filters: candidate.filters.unwrap_or_default(),
                shutter: Shutter::default(),
            })
        });
        let mut candidates: Vec<Placed> = candidates.collect();
        let held = input.exposure.as_ref().map(ExposureInput::shutter);
        set_shutters(&mut reference, held, &mut candidates, at, reader);
        let lens = match input.lens {
            Some(lens) => lens.check(&At::Field(at, "lens"), reader),
            None => Lens::default(),
        };
        let has_exposure = reference.exposure.is_some() || input.exposure.is_some();
        if !has_exposure && !lens.mark_corrections.is_empty() {
            let at = At::Field(at, "reference");
            let expected = ExposureInput::expected();
            reader.push_fault::<()>(&At::Field(&at, "exposure"), Fault::Missing { expected });
        }
        Some(Self {
            setting: reference.setting,
            exposure: reference.exposure,
            hold: input.exposure.map(|exposure| exposure.flash()),
            lens,
            reference: reference.placed,
            candidates,
            packs,
            assumed_alone,
            max_pops: input.max_pops.map_or(1, |pops| pops.0),
            compare_by: input.compare_by,
            limits: input.limits.unwrap_or_default(),
            rules: reader.rules,
        })
    }
}

/// Gives a head its part of the energy of its pack, where so many heads share it.
///
/// Returns the name of a pack that it is taken to have to itself.
fn share(
    unit: &mut Unit,
    heads: Option<Outlets>,
    packs: &[Pack],
    at: &At<'_>,
    reader: &mut Reader,
) -> Option<String> {
    let heads = heads.map(|heads| heads.0);
    let Some(pack) = unit.head.and_then(|head| packs.get(head.pack)) else {
        if heads.is_some() {
            let expected = "pack, which goes with heads".to_owned();
            reader.push_fault::<()>(&At::Field(&At::Field(at, "unit"), "pack"), Fault::Missing { expected });
        }
        return None;
    };
    let most = Bounds { what: "number of heads", greatest: f64::from(pack.outlets), ..OUTLETS };
    if let Some(heads) = heads {
        reader.checked(&At::Field(at, "heads"), most.check(f64::from(heads)));
    }
    unit.take_part(pack, heads.unwrap_or(1) as usize);
    (heads.is_none() && pack.split == Split::Even).then(|| pack.name.clone())
}

impl Calculation for EquivalenceQuestion {
    type Answer = Equivalence;
    const OPTIONS: Options = Options::ALL_DRAWN;
    const PICTURE: Option<Draw<Self, Equivalence>> = Some(|question, answer, width| {
        drawing::equivalence(question, answer, &Reach::of_all(question, answer), width)
    });

    fn patches(answer: &mut Equivalence) -> Vec<&mut Patch> {
        answer.candidates.iter_mut().flat_map(|candidate| patches_of(&mut candidate.remedies)).collect()
    }

    fn answer(&self, _: &dyn Interrupt) -> Result<Equivalence, Vec<InvalidPart>> {
        equivalence::compare(self)
    }
}

/// Match units
///
/// The setting of each candidate that gives the same light as the reference, so that the picture does not change. The answer has the nearest click and the remaining error. If a candidate is too weak or cannot be set low enough, it says by how many stops, with remedies. The exposure may be left out: the picture is then held at whatever it was. A head on one of the `packs` is compared with the part of its pack's energy that it gets: a monobloc for a head, and back. What a candidate leaves out, its distance and its modifier, is as the reference's. Units are compared by guide number if both state one and neither has a modifier or both have the same, otherwise by the light in their coverage, or by energy.
#[utoipa::path(post, path = "/v1/energy/equivalence", tag = "energy", request_body = EquivalenceRequest,
    responses((status = 200, description = "Each candidate's setting", body = Equivalence)))]
async fn match_units(body: Body<EquivalenceQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
