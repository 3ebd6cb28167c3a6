//! Assignments of heads against brute force over all of them.

use proptest::prelude::*;

use crate::light::{
    kit::{
        heads::*,
        question::{Role, RoleTarget},
    },
    quantity::{FNumber, GuideMetres, Iso, Joules, Metres, Stops},
    set::{exposure::FlashExposure, lens::Lens, placement::Placement},
    unit::{
        Feeding,
        pack::Head,
        scale::{Grid, Scale, Style},
        shutter::Shutter,
    },
};

fn scale(click: f64) -> Scale {
    Scale::new(Style::Dial { full: 6.0, least: 3.0 }, Grid::Click(click)).expect("a scale")
}

fn unit(guide: u32, head: Option<Head>, click: f64) -> Unit {
    Unit {
        energy: Some(Joules::new_unchecked(1200.0)),
        // Whole and half stops apart, so that roles can agree.
        guide_number: Some(GuideMetres::new_unchecked(40.0 * 2_f64.powf(f64::from(guide) / 4.0))),
        scale: scale(click),
        head,
        ..Unit::unknown()
    }
}

fn role((stops, distance, pops): (u32, u32, u32)) -> Role {
    Role {
        name: String::new(),
        id: None,
        target: RoleTarget::Stops(Stops::new_unchecked(-f64::from(stops) / 2.0)),
        pops,
        placement: Placement::at(Metres::new_unchecked(2.0 * 2_f64.powf(f64::from(distance) / 4.0))),
        filters: Vec::new(),
    }
}

fn pack(kind: u32, outlets: u32) -> Pack {
    let energy = Joules::new_unchecked(1200.0);
    let split = match kind {
        0 => Split::Even,
        1 => Split::Shares((1..=outlets).map(f64::from).collect()),
        2 => Split::Each { most: Joules::new_unchecked(500.0) },
        _ => Split::Each { most: Joules::new_unchecked(900.0) },
    };
    Pack {
        id: None,
        name: String::new(),
        energy,
        scale: scale(0.5),
        outlets,
        split,
        plus_minus: None,
        feeding: Feeding::default(),
    }
}

/// What an assignment is judged by in truth; `None` if it cannot be.
fn truth(stock: Stock<'_>, shot: &Shot, moved: &[Option<usize>], units: &[Option<usize>]) -> Option<Rank> {
    let pack_of = |unit: usize| stock.kit[unit].unit.head.map(|head| head.pack);
    let mut fits: Vec<Option<Fit>> = vec![None; units.len()];
    for (role, own) in units.iter().enumerate() {
        if let Some(kit) = own.filter(|&unit| pack_of(unit).is_none()).map(|unit| &stock.kit[unit]) {
            fits[role] = Some(fit(kit, headroom(kit, &shot.roles[role], shot)));
        }
    }
    for (index, pack) in stock.packs.iter().enumerate() {
        let on: Vec<usize> =
            (0..units.len()).filter(|&role| units[role].and_then(pack_of) == Some(index)).collect();
        let mut outlets: Vec<u32> =
            on.iter().filter_map(|&role| stock.kit[units[role]?].unit.head?.outlet).collect();
        let stated = outlets.len();
        outlets.sort_unstable();
        outlets.dedup();
        let fire_alike = on.windows(2).all(|pair| shot.roles[pair[0]].pops == shot.roles[pair[1]].pops);
        if outlets.len() < stated || on.len() > pack.outlets as usize || (pack.is_set_as_one() && !fire_alike)
        {
            return None;
        }
        let fed: Vec<KitUnit> = on
            .iter()
            .filter_map(|&role| {
                let mut own = stock.kit[units[role]?].clone();
                own.unit.take_part(pack, on.len());
                Some(own)
            })
            .collect();
        let room = |(role, kit): (&usize, &KitUnit)| headroom(kit, &shot.roles[*role], shot);
        let rooms: Vec<f64> = on.iter().zip(&fed).map(room).collect();
        let settled = match rooms[..] {
            [] => continue,
            [room] => vec![fit(&fed[0], room)],
            _ => settle(pack, &fed.iter().zip(rooms).collect::<Vec<_>>())?,
        };
        for (role, fit) in on.into_iter().zip(settled) {
            fits[role] = Some(fit);
        }
    }
    let served = units.iter().zip(&fits).enumerate();
    Some(Rank::of(served.map(|(role, (unit, fit))| Some((fit.as_ref()?, moved[role] != Some((*unit)?))))))
}

fn every_assignment(roles: usize, units: usize) -> Vec<Vec<Option<usize>>> {
    (0..roles).fold(vec![Vec::new()], |all, _| {
        let longer = |assignment: Vec<Option<usize>>| {
            let free: Vec<Option<usize>> =
                (0..units).map(Some).filter(|unit| !assignment.contains(unit)).chain([None]).collect();
            free.into_iter().map(move |unit| assignment.iter().copied().chain([unit]).collect())
        };
        all.into_iter().flat_map(longer).collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(250))]

    #[test]
    fn no_assignment_of_heads_is_better(
        roles in prop::collection::vec((0..4_u32, 0..6_u32, prop_oneof![4 => Just(1_u32), 1 => Just(2)]), 1..5),
        own in prop::collection::vec(0..5_u32, 0..3),
        packs in prop::collection::vec((0..4_u32, 1..4_u32, prop::collection::vec((0..3_u32, any::<bool>()), 1..4)), 1..3),
        homes in Just((0..8_usize).collect::<Vec<_>>()).prop_shuffle(),
        is_first in any::<bool>(),
    ) {
        let mut units: Vec<Unit> = own.iter().map(|&guide| unit(guide, None, 0.5)).collect();
        for (index, (kind, outlets, heads)) in packs.iter().enumerate() {
            for (nth, (guide, states)) in heads.iter().enumerate() {
                // With shares an outlet is stated; some heads have one in common.
                let outlet = (*kind == 1 || *states).then_some(nth as u32 % outlets + 1);
                units.push(unit(*guide, Some(Head { pack: index, outlet }), 0.5));
            }
        }
        let packs: Vec<Pack> = packs.iter().map(|(kind, outlets, _)| pack(*kind, *outlets)).collect();
        let kit: Vec<KitUnit> = units
            .into_iter()
            .enumerate()
            .map(|(entry, unit)| KitUnit { name: format!("u{entry}"), id: None, unit, entry })
            .collect();
        let stock = Stock { kit: &kit, packs: &packs };
        let shot = Shot {
            id: None,
            name: String::new(),
            exposure: FlashExposure { f_number: FNumber::new_unchecked(11.0), iso: Iso::BASE },
            shutter: Shutter::default(),
            lens: Lens::default(),
            roles: roles.into_iter().map(role).collect(),
            frames: 1,
            interval_s: None,
        };
        let count = shot.roles.len();
        let home: Vec<Option<usize>> = homes[..count].iter().map(|&unit| Some(unit)).collect();
        let moved = |role: usize, unit: usize| !is_first && home[role] != Some(unit);
        let found = assign_heads(stock, &shot, moved);
        // It is not complete where more ways are equally good than are compared by the worst error of all; by what comes
        // before that, none is better all the same.
        let judged = |units: &[Option<usize>]| {
            let own: Vec<Option<usize>> = if is_first { units.to_vec() } else { home.clone() };
            truth(stock, &shot, &own, units)
        };
        let rank = judged(&found.units).expect("an assignment that can be");
        let served = found.units.iter().zip(&found.fits).enumerate();
        let said = Rank::of(served.map(|(role, (unit, fit))| Some((fit.as_ref()?, moved(role, (*unit)?)))));
        prop_assert!(!rank.is_better(&said) && !said.is_better(&rank), "{:?} {:?}", rank.0, said.0);
        prop_assert_eq!(can_reach_with_heads(stock, &shot), rank.0[0] + rank.0[1] == 0.0);
        for other in every_assignment(count, kit.len()) {
            if let Some(other_rank) = judged(&other) {
                // The last decides between choices of ways only.
                let other_rank = Rank([&other_rank.0[..5], &rank.0[5..]].concat().try_into().expect("six"));
                let text = format!("{:?} {:?} {:?} {:?}", rank.0, other_rank.0, found.units, other);
                prop_assert!(!other_rank.is_better(&rank), "{}", text);
            }
        }
    }
}
