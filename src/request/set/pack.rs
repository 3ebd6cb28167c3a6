//! The packs of a set, and the lights that are set together because they are on one.

use utoipa::openapi::{ObjectBuilder, OneOfBuilder, Ref, RefOr, Schema, Type};

use crate::{
    light::{
        id::Id,
        quantity::{Joules, Stops, bounds::Bounds, bounds::ENERGY, constants::DEFAULT_OUTLETS},
        set::{
            Light,
            control::{Control, LightSetting},
            edit::OFF,
        },
        unit::{
            pack::{Pack, Split},
            scale::Scale,
        },
    },
    request::{
        declare::request,
        field_schema::{FieldSchema, Named, add, looks_like},
        fields::{Outlets, PackShare, Tolerance, unit::ScaleInput},
        place::At,
        reader::{Read, Reader, lists::Item},
        references,
        schema::Name,
        value::Value,
    },
    wording::{fault::Fault, phrase::Words},
};

request! {
    /// A pack, which feeds several heads.
    struct PackInput {
        /// Your own id for this entry, returned wherever the pack is named.
        id: Option<Id>,
        /// Its name in this request, 1 to 64 characters, unique among them; the text of its `id` if left out.
        name: Option<String> as Name,
        /// Its energy at full power.
        energy: Joules,
        /// Its power scale; not with `each`, where it has no setting of its own.
        scale: Option<ScaleInput>,
        /// How many heads it takes; one for each of the shares, or else 2, if left out.
        outlets: Option<Outlets>,
        /// How its energy is divided.
        split: SplitInput,
        /// How far the part of a head may be off, ± stops at 95 %, 0.001 to 4; 0.1 if left out.
        plus_minus_stops: Option<Tolerance>,
    }
    checked by references::define_pack(id, name)
}

request! {
    /// A division of a pack's energy other than even: exactly one of `shares` and `each`.
    struct DivisionInput as "PackDivision" {
        /// Fixed parts of the outlets, one number for each, whatever is plugged in: [2, 1] is two thirds and one third of the energy. Lights on the pack have one setting.
        shares: Option<Vec<PackShare>>,
        /// Outlets that are set apart. Together they take no more than the pack has.
        each: Option<EachInput>,
    }
    exactly one of "the division": shares | each
}

request! {
    /// Outlets that are set apart.
    struct EachInput as "EachOutlet" {
        /// The most energy of one outlet. Settings are below that.
        most: Joules,
        /// The power scale of an outlet; continuously variable over 8 stops if left out.
        scale: Option<ScaleInput>,
    }
}

/// How the energy is divided.
enum SplitInput {
    Even,
    Shares(Vec<PackShare>),
    Each(EachInput),
}

/// The schema of a division in a request.
struct AnySplit;

const EVEN: &str = "even";
const EXPECTED: &str = "\"even\", {\"shares\": [2, 1]} or {\"each\": {\"most\": \"800 J\"}}";

impl utoipa::PartialSchema for AnySplit {
    fn schema() -> RefOr<Schema> {
        OneOfBuilder::new()
            .item(ObjectBuilder::new().schema_type(Type::String).pattern(Some("^even$")))
            .item(Ref::from_schema_name("PackDivision"))
            .description(Some("How a pack divides its energy: \"even\" among the lights of this set that are on it, in fixed shares by outlet, or by a setting of each outlet. But for the last, lights on the pack are set together."))
            .into()
    }
}

impl utoipa::ToSchema for AnySplit {
    fn name() -> std::borrow::Cow<'static, str> {
        "PackSplit".into()
    }

    fn schemas(all: &mut Named) {
        add::<DivisionInput>(all);
    }
}

looks_like!(SplitInput as AnySplit, PackEntry as PackInput);

/// The packs of a request, declared before the units that are on them.
pub struct Packs(pub Vec<Pack>);

impl Read for Packs {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let packs = Vec::<PackEntry>::read(value, at, reader);
        let names = &mut reader.references().packs;
        // A name may be meant for one in a list that cannot be read.
        names.is_incomplete |= packs.is_none() && names.is_empty();
        Some(Self(packs?.into_iter().map(|entry| entry.0).collect()))
    }

    fn expected() -> String {
        Vec::<PackEntry>::expected()
    }
}

impl FieldSchema for Packs {
    fn schema() -> RefOr<Schema> {
        Vec::<PackEntry>::schema()
    }

    fn add_named(all: &mut Named) {
        Vec::<PackEntry>::add_named(all);
    }
}

impl Read for SplitInput {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match (value, value.text()) {
            (_, Some(EVEN)) => Some(Self::Even),
            (_, Some(word)) => reader.push_fault_with(at, || Fault::UnknownWord {
                word: word.chars().take(64).collect(),
                known: Words([EVEN].into()),
            }),
            (Value::Object(_) | Value::LongObject(_), None) => {
                let input = DivisionInput::read(value, at, reader)?;
                match (input.shares, input.each) {
                    (Some(shares), None) => Some(Self::Shares(shares)),
                    (None, Some(each)) => Some(Self::Each(each)),
                    // Refused by the reader.
                    _ => None,
                }
            }
            _ => reader.push_wrong_type(at, value, EXPECTED),
        }
    }

    fn expected() -> String {
        EXPECTED.to_owned()
    }
}

impl Item for PackShare {
    const MAX: usize = 8;
    const PLURAL: &'static str = "shares";
}

/// A pack that was read.
struct PackEntry(Pack);

impl Item for PackEntry {
    const MIN: usize = 0;
    const MAX: usize = 16;
    const PLURAL: &'static str = "packs";
}

impl Read for PackEntry {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = PackInput::read(value, at, reader)?;
        let (scale_at, split_at) = (At::Field(at, "scale"), At::Field(at, "split"));
        let mut outlets = input.outlets.map(|outlets| outlets.0);
        let (split, scale) = match (input.split, input.scale) {
            (SplitInput::Each(_), Some(_)) => return reader.push_fault(&scale_at, Fault::ScaleBesideEach),
            (SplitInput::Each(each), None) => {
                let each_at = At::Field(&split_at, "each");
                let most = Bounds { what: "energy", greatest: input.energy.get(), ..ENERGY };
                reader.checked(&At::Field(&each_at, "most"), most.check(each.most.get()))?;
                let scale = match each.scale {
                    Some(scale) => scale.check(Some(each.most), &At::Field(&each_at, "scale"), reader)?,
                    None => Scale::continuous(),
                };
                (Split::Each { most: each.most }, scale)
            }
            (_, None) => {
                let expected = "the pack's power scale, as {\"style\": \"dial\", \"full\": 9, \"least\": 4}";
                return reader.push_fault(&scale_at, Fault::Missing { expected: expected.to_owned() });
            }
            (split, Some(scale)) => {
                let scale = scale.check(Some(input.energy), &scale_at, reader)?;
                let split = match split {
                    SplitInput::Shares(shares) => Split::Shares(shares.iter().map(|share| share.0).collect()),
                    SplitInput::Even | SplitInput::Each(_) => Split::Even,
                };
                (split, scale)
            }
        };
        if let Split::Shares(shares) = &split {
            let outlets = *outlets.get_or_insert(shares.len() as u32);
            if shares.len() != outlets as usize {
                let fault = Fault::SharesAndOutlets { shares: shares.len(), outlets };
                return reader.push_fault(&At::Field(&split_at, "shares"), fault);
            }
        }
        let pack = Pack {
            name: references::name_or_id(input.name, input.id.as_ref())?,
            id: input.id,
            energy: input.energy,
            scale,
            outlets: outlets.unwrap_or(DEFAULT_OUTLETS),
            split,
            plus_minus: input.plus_minus_stops.map(|it| it.0),
        };
        references::complete_pack(&pack, reader);
        Some(Self(pack))
    }
}

/// Checks the outlets of all packs, and sets together what is on one: a setting, a hold or a limit that one light states
/// holds for all.
pub fn plug(packs: &[Pack], lights: &mut [Light], at: &At<'_>, reader: &mut Reader) {
    let lights_at = At::Field(at, "lights");
    for (index, pack) in packs.iter().enumerate() {
        let is_on = |light: &Light| light.unit.head.is_some_and(|head| head.pack == index);
        let heads: Vec<usize> = (0..lights.len()).filter(|&light| is_on(&lights[light])).collect();
        check_outlets(pack, &heads, lights, &lights_at, reader);
        if pack.is_set_as_one()
            && let Some(control) = common_control(pack, &heads, lights, &lights_at, reader)
        {
            for &head in &heads {
                lights[head].control = control;
            }
        }
    }
}

fn check_outlets(pack: &Pack, heads: &[usize], lights: &[Light], at: &At<'_>, reader: &mut Reader) {
    let outlet = |head: usize| lights[head].unit.head.and_then(|head| head.outlet);
    for (nth, &head) in heads.iter().enumerate() {
        let (light_at, is_beyond) = (At::Index(at, head), nth >= pack.outlets as usize);
        let unit_at = At::Field(&light_at, "unit");
        let stated = outlet(head);
        let before = heads[..nth].iter().find(|&&other| stated.is_some() && outlet(other) == stated);
        if let (Some(outlet), Some(&other)) = (stated, before) {
            let fault = Fault::OutletTaken { outlet, light: lights[other].name.clone() };
            reader.push_fault::<()>(&At::Field(&unit_at, "outlet"), fault);
        } else if is_beyond {
            let fault =
                Fault::PackTooSmall { pack: pack.name.clone(), heads: heads.len(), outlets: pack.outlets };
            reader.push_fault::<()>(&At::Field(&unit_at, "pack"), fault);
        }
    }
}

/// How lights that are on one pack are set, and may be.
fn common_control(
    pack: &Pack,
    heads: &[usize],
    lights: &[Light],
    at: &At<'_>,
    reader: &mut Reader,
) -> Option<Control> {
    let (first, others) = heads.split_first()?;
    let mut common = lights[*first].control;
    let mut held_at = common.hold.then_some(*first);
    let label = |setting: LightSetting| {
        setting.below().map_or_else(|| OFF.to_owned(), |below| pack.scale.label(below))
    };
    let mut conflict = |head: usize, field: &str, what: &'static str, ways: [String; 2]| {
        let at = At::Index(at, head);
        reader.push_fault::<()>(&At::Field(&at, field), Fault::Conflict { what, ways: ways.into() });
    };
    for &head in others {
        let own = lights[head].control;
        match (common.setting, own.setting) {
            (Some(one), Some(other)) if !is_same(one, other) => {
                conflict(head, "setting", "the setting of a pack", [one, other].map(label));
            }
            (one, other) => common.setting = one.or(other),
        }
        if own.pops != common.pops {
            let ways = [common.pops, own.pops].map(|pops| pops.to_string());
            conflict(head, "pops", "the number of flashes of a pack", ways);
        }
        held_at = held_at.or(own.hold.then_some(head));
        common.hold |= own.hold;
        common.may_be_off &= own.may_be_off;
        let strictest = |a: Stops, b: Stops| if a < b { a } else { b };
        common.max_below = match (common.max_below, own.max_below) {
            (Some(one), Some(other)) => Some(strictest(one, other)),
            (one, other) => one.or(other),
        };
    }
    if let (Some(head), Some(LightSetting::Below(held)), Some(most)) =
        (held_at, common.held(), common.max_below)
        && held.get() > most.get() + 1e-9
    {
        let at = At::Index(at, head);
        let fault = Fault::BelowLeast { below: held.get(), most: most.get() };
        reader.push_fault::<()>(&At::Field(&at, "setting"), fault);
    }
    Some(common)
}

fn is_same(one: LightSetting, other: LightSetting) -> bool {
    match (one.below(), other.below()) {
        (Some(one), Some(other)) => (one.get() - other.get()).abs() < 1e-9,
        (one, other) => one.is_none() && other.is_none(),
    }
}
