//! Settings of heads that are used together, against brute force over all settings.

use proptest::prelude::*;

use crate::light::{
    kit::together::*,
    quantity::Joules,
    unit::{
        Feeding, Unit,
        scale::{Grid, Style},
    },
};

fn pack(split: Split, scale: Scale) -> Pack {
    let energy = Joules::new_unchecked(1200.0);
    Pack {
        id: None,
        name: String::new(),
        energy,
        scale,
        outlets: 4,
        split,
        plus_minus: None,
        feeding: Feeding::default(),
    }
}

fn dial(click: f64) -> Scale {
    Scale::new(Style::Dial { full: 6.0, least: 3.0 }, Grid::Click(click)).expect("a scale")
}

fn head(pack: &Pack) -> KitUnit {
    let unit = Unit { scale: pack.scale.clone(), ..Unit::unknown() };
    KitUnit { name: "head".to_owned(), id: None, unit, entry: 0 }
}

fn settled(pack: &Pack, headrooms: &[f64]) -> Option<Vec<Fit>> {
    let head = head(pack);
    settle(pack, &headrooms.iter().map(|&headroom| (&head, headroom)).collect::<Vec<_>>())
}

#[test]
fn heads_with_one_setting_meet_half_way() {
    // By hand: at 1.1 the second is 0.2 over, at 1.2 the first 0.2 under; one of them is within a sixth. Ties go to the darker.
    let pack = pack(Split::Even, dial(0.1));
    let fits = settled(&pack, &[1.0, 1.3]).expect("fits");
    assert!((fits[0].below.get() - 1.2).abs() < 1e-9, "{fits:?}");
    assert!(!fits[0].reached && fits[1].reached, "{fits:?}");
    // A quarter of a stop apart, both are within a sixth.
    let fits = settled(&pack, &[1.0, 1.25]).expect("fits");
    assert!(fits.iter().all(|fit| fit.reached), "{fits:?}");
}

#[test]
fn outlets_that_want_too_much_are_lowered_alike() {
    // By hand: two outlets of 900 J at full want 1800 J of 1200 J: each gets 600 J, log2(1.5) = 0.585 below.
    let most = Joules::new_unchecked(900.0);
    let fits = settled(&pack(Split::Each { most }, Scale::continuous()), &[0.0, 0.0]).expect("fits");
    assert!(
        fits.iter().all(|fit| (fit.below.get() - 1.5_f64.log2()).abs() < 1e-6 && !fit.reached),
        "{fits:?}"
    );
    // One is content with 300 J: the other has its 900 J.
    let fits = settled(&pack(Split::Each { most }, Scale::continuous()), &[0.0, 3_f64.log2()]).expect("fits");
    assert!(fits.iter().all(|fit| fit.reached && fit.error.abs() < 1e-9), "{fits:?}");
}

proptest! {
    #[test]
    fn no_common_setting_is_better(
        headrooms in prop::collection::vec(-1.0..4.0_f64, 2..5),
        click in prop_oneof![Just(0.1), Just(0.5), Just(1.0)],
        is_continuous in any::<bool>(),
    ) {
        let scale = if is_continuous { Scale::continuous() } else { dial(click) };
        let pack = pack(Split::Even, scale.clone());
        let rank = |below: f64| {
            let fits: Vec<Fit> = headrooms.iter().map(|&room| fit_at(&scale, room, below)).collect();
            let missed = fits.iter().filter(|fit| !fit.reached).count();
            (missed, fits.iter().map(|fit| fit.missed_by().abs()).fold(0.0, f64::max))
        };
        let found = settled(&pack, &headrooms).expect("fits");
        let found = rank(found[0].below.get());
        let fine: Vec<f64> = (0..=8000).map(|k| f64::from(k) / 1000.0).collect();
        let all = if is_continuous { fine.as_slice() } else { scale.settings() };
        for &below in all {
            let other = rank(below);
            let is_better = other.0 < found.0 || (other.0 == found.0 && other.1 < found.1 - 1e-6);
            prop_assert!(!is_better, "{:?} {:?} at {}", found, other, below);
        }
    }

    #[test]
    fn lowered_outlets_lack_least(headrooms in prop::collection::vec(-0.5..3.0_f64, 2..4)) {
        let most = Joules::new_unchecked(900.0);
        let pack = pack(Split::Each { most }, dial(0.5));
        let energy = |settings: &[f64]| settings.iter().map(|below| 900.0 * (-below).exp2()).sum::<f64>();
        let worst = |settings: &[f64]| {
            settings.iter().zip(&headrooms).map(|(below, room)| below - room).fold(0.0, f64::max)
        };
        let found: Vec<f64> =
            settled(&pack, &headrooms).expect("fits").iter().map(|fit| fit.below.get()).collect();
        prop_assert!(energy(&found) <= 1200.0 + 1e-6);
        let every = headrooms.iter().fold(vec![Vec::new()], |all: Vec<Vec<f64>>, _| {
            let longer = |settings: Vec<f64>| {
                let more = pack.scale.settings().to_vec();
                more.into_iter().map(move |below| [settings.clone(), vec![below]].concat())
            };
            all.into_iter().flat_map(longer).collect()
        });
        // Nobody is brighter than wanted.
        let wanted: Vec<f64> =
            headrooms.iter().map(|&room| pack.scale.nearest(Stops::new_unchecked(room)).get()).collect();
        for settings in every.into_iter().filter(|settings| energy(settings) <= 1200.0) {
            if settings.iter().zip(&wanted).all(|(below, wanted)| below >= wanted) {
                prop_assert!(worst(&settings) >= worst(&found) - 1e-9, "{:?} {:?}", settings, found);
            }
        }
    }
}
