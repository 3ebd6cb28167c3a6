//! The lights of a set that are set together because they are on one pack.

use crate::{
    light::{
        quantity::Stops,
        set::{
            Light,
            control::{Control, LightSetting},
            edit::OFF,
        },
        unit::pack::Pack,
    },
    request::{fields::outlet_faults, place::At, reader::Reader},
    wording::fault::Fault,
};

/// Checks the outlets of all packs, and sets together what is on one: a setting, a hold or a limit that one light states
/// holds for all.
pub fn plug(packs: &[Pack], lights: &mut [Light], at: &At<'_>, reader: &mut Reader) {
    let lights_at = At::Field(at, "lights");
    for (index, pack) in packs.iter().enumerate() {
        let heads: Vec<usize> = (0..lights.len()).filter(|&light| lights[light].unit.is_on(index)).collect();
        check_outlets(pack, &heads, lights, &lights_at, reader);
        if pack.is_set_as_one()
            && let Some(control) = common_control(pack, &heads, lights, &lights_at, reader)
        {
            for head in heads {
                lights[head].control = control;
            }
        }
    }
}

fn check_outlets(pack: &Pack, heads: &[usize], lights: &[Light], at: &At<'_>, reader: &mut Reader) {
    let outlet = |head: usize| lights[head].unit.head.and_then(|head| head.outlet);
    let plugged: Vec<_> = heads.iter().map(|&head| (lights[head].name.as_str(), outlet(head))).collect();
    for (nth, fault) in outlet_faults(pack, &plugged) {
        let light_at = At::Index(at, heads[nth]);
        let field = if matches!(fault, Fault::OutletTaken { .. }) { "outlet" } else { "pack" };
        reader.push_fault::<()>(&At::Field(&At::Field(&light_at, "unit"), field), fault);
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
