//! Packs, which feed several heads.

use utoipa::openapi::{ObjectBuilder, OneOfBuilder, Ref, Type};

use crate::{
    light::{
        id::Id,
        quantity::{Joules, bounds::Bounds, bounds::ENERGY, constants::DEFAULT_OUTLETS},
        unit::{
            Feeding,
            pack::{Pack, Split},
            scale::Scale,
        },
    },
    request::{
        declare::request,
        field_schema::{Named, add, looks_like},
        fields::{
            feeding::{DrawInput, SettingRecycleInput, recycle_times},
            numbers::{ChargeFlashes, Interval, Outlets, PackShare, Tolerance},
            unit::ScaleInput,
        },
        names::Names,
        place::At,
        reader::{Read, Reader, lists::Item},
        references,
        schema::Name,
        value::Value,
    },
    wording::fault::Fault,
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
        /// Recycle time after a flash with its full energy, s; after weaker flashes it is proportional to the energy of all its heads together. Used for kits and supply.
        recycle_s: Option<Interval>,
        /// Recycle times after flashes at single settings: linear in energy between two of them, never faster than the fastest. With `each`, settings are parts of the pack's full energy, as "1/2", or joules. Used for kits and supply.
        recycle_by_setting: Option<Vec<SettingRecycleInput>>,
        /// Flashes with its full energy per battery charge; leave it out for a pack on the mains. Used for kits and supply.
        flashes_per_charge: Option<ChargeFlashes>,
        /// What it draws from mains or battery; `modelling_lamp_w` is that of all its heads together, and 0 to 250 W for each head is assumed if left out. Used for supply.
        draw: Option<DrawInput>,
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
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
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

impl Read for SplitInput {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match (value, value.text()) {
            (_, Some(word)) if word.trim().eq_ignore_ascii_case(EVEN) => Some(Self::Even),
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
pub struct PackEntry(pub Pack);

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
        // Outlets that are set apart have scales of their own, and the pack has none.
        let recycle_scale =
            if matches!(split, Split::Each { .. }) { Scale::continuous() } else { scale.clone() };
        let feeding = Feeding {
            recycle: recycle_times(
                input.recycle_s,
                input.recycle_by_setting.unwrap_or_default(),
                (&recycle_scale, Some(input.energy)),
                at,
                reader,
            ),
            flashes_per_charge: input.flashes_per_charge.map(|flashes| flashes.0),
            draw: input.draw.map(DrawInput::draw).unwrap_or_default(),
            duty: None,
        };
        let pack = Pack {
            name: references::name_or_id(input.name, input.id.as_ref())?,
            id: input.id,
            energy: input.energy,
            scale,
            outlets: outlets.unwrap_or(DEFAULT_OUTLETS),
            split,
            plus_minus: input.plus_minus_stops.map(|it| it.0),
            feeding,
        };
        references::complete_pack(&pack, reader);
        Some(Self(pack))
    }
}

/// Notes whether a name of a pack may be in a list that cannot be read, before `value` is read: a whole request, or a part
/// with packs of its own.
pub fn begin(value: &Value<'_>, reader: &mut Reader) {
    let packs = value.get("packs").filter(|packs| **packs != Value::Null);
    let is_readable = |packs: &Value<'_>| matches!(packs, Value::List(list) if list.len() <= PackEntry::MAX);
    let names = &mut reader.references().packs;
    *names = Names::default();
    names.is_incomplete = packs.is_some_and(|packs| !is_readable(packs));
}

/// The packs that were read.
pub fn packs(entries: Option<Vec<PackEntry>>) -> Vec<Pack> {
    entries.into_iter().flatten().map(|entry| entry.0).collect()
}

/// What is wrong with the outlets of heads that are used together on a pack, given by name and outlet: the index of a head,
/// and the fault.
pub fn outlet_faults(pack: &Pack, heads: &[(&str, Option<u32>)]) -> Vec<(usize, Fault)> {
    let fault = |nth: usize| {
        let stated = heads[nth].1;
        let before = heads[..nth].iter().find(|(_, outlet)| stated.is_some() && *outlet == stated);
        match (stated, before) {
            (Some(outlet), Some((light, _))) => {
                Some(Fault::OutletTaken { outlet, light: (*light).to_owned() })
            }
            _ if nth >= pack.outlets as usize => Some(Fault::PackTooSmall {
                pack: pack.name.clone(),
                heads: heads.len(),
                outlets: pack.outlets,
            }),
            _ => None,
        }
    };
    (0..heads.len()).filter_map(|nth| Some((nth, fault(nth)?))).collect()
}
