//! A head on a pack, in place of a unit with an energy and a scale of its own.

use crate::{
    light::{
        quantity::{Joules, bounds::Bounds, bounds::OUTLETS},
        unit::{
            pack::{Head, Split},
            scale::Scale,
        },
    },
    request::{
        fields::numbers::Outlets,
        place::At,
        reader::{Reader, values::EntryName},
    },
    wording::fault::Fault,
};

/// What a head has of its pack.
pub struct OnPack {
    /// Its place.
    pub head: Head,
    /// The energy at the full setting: of the pack, until it is known how many heads share it.
    pub energy: Joules,
    /// The scale of its setting.
    pub scale: Scale,
}

/// The place of a head on a pack, of a unit that states a pack or an outlet. `beside` are fields in whose place a pack
/// stands, and whether each is given. `None` after a fault.
pub fn read(
    pack: Option<&EntryName>,
    outlet: Option<Outlets>,
    beside: &[(&'static str, bool)],
    at: &At<'_>,
    reader: &mut Reader,
) -> Option<OnPack> {
    let (pack_at, outlet_at) = (At::Field(at, "pack"), At::Field(at, "outlet"));
    let Some(EntryName(name)) = pack else {
        let fault = || Fault::Missing { expected: "pack, which goes with outlet".to_owned() };
        return reader.push_fault_with(&pack_at, fault);
    };
    if reader.references().packs.is_empty() {
        return reader.push_fault(&pack_at, Fault::NoPacks);
    }
    reader.check_name(&pack_at, "pack", name, |references| &references.packs);
    for (field, _) in beside.iter().filter(|(_, is_given)| *is_given) {
        let ways = [*field, "pack"].map(str::to_owned).into();
        let what = if *field == "scale" { "the scale" } else { "the energy" };
        reader.push_fault::<()>(&At::Field(at, field), Fault::Conflict { what, ways });
    }
    let packs = &reader.references().packs;
    let (index, pack) = (packs.index(name)?, packs.get(name)?.clone());
    if let Some(Outlets(number)) = outlet {
        let own = Bounds { what: "outlet", greatest: f64::from(pack.outlets), ..OUTLETS };
        reader.checked(&outlet_at, own.check(f64::from(number)))?;
    } else if matches!(pack.split, Split::Shares(_)) {
        let fault = || Fault::Missing { expected: format!("its outlet, 1 to {}", pack.outlets) };
        return reader.push_fault_with(&outlet_at, fault);
    }
    if beside.iter().any(|(_, is_given)| *is_given) {
        return None;
    }
    let energy = match pack.split {
        Split::Each { most } => most,
        Split::Even | Split::Shares(_) => pack.energy,
    };
    let head = Head { pack: index, outlet: outlet.map(|outlet| outlet.0) };
    Some(OnPack { head, energy, scale: pack.scale })
}
