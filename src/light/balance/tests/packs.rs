//! Sets with packs against every combination of their lights' settings.

use crate::light::{
    balance::{
        clock::Budget,
        search::{Objective, search},
        setup::prepare,
    },
    error::Entry,
    quantity::{FNumber, GuideMetres, Iso, Joules, Metres, Stops},
    set::{
        Contribution, Geometry, Light, Meter, MeteringPoint, Optics, Origin, Scene, control::Control,
        exposure::FlashExposure, lens::Lens, packs::divide, placement::Sure, target::Target,
    },
    unit::{
        Feeding, Unit,
        pack::{Head, Pack, Split},
        scale::{Grid, Scale, Style},
    },
};

/// A linear congruential generator (Knuth's MMIX, from memory), good enough for sets.
struct Dice(u64);

impl Dice {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, end: usize) -> usize {
        self.between(0.0, end as f64) as usize
    }
}

fn scale(dice: &mut Dice, full: f64) -> Scale {
    let (style, grid) = match dice.below(3) {
        0 => (Style::Dial { full: 9.0, least: 6.0 }, Grid::Click(0.5)),
        1 => (Style::Fraction { least: 1.0 / 8.0 }, Grid::Click(1.0 / 3.0)),
        _ => (Style::Joules { full, least: full / 8.0 }, Grid::Linear(full / 8.0)),
    };
    Scale::new(style, grid).expect("a scale")
}

/// Two packs of any kind, two or three heads, and perhaps a light of its own.
fn set(dice: &mut Dice) -> Scene {
    let packs: Vec<Pack> = (0..2)
        .map(|index| {
            let energy = dice.between(600.0, 3000.0);
            let most = energy * dice.between(0.4, 1.0);
            let (split, full) = match dice.below(3) {
                0 => (Split::Even, energy),
                1 => (Split::Shares(vec![2.0, 1.0]), energy),
                _ => (Split::Each { most: Joules::new_unchecked(most) }, most),
            };
            Pack {
                id: None,
                name: format!("p{index}"),
                energy: Joules::new_unchecked(energy),
                scale: scale(dice, full),
                outlets: 2,
                split,
                feeding: Feeding::default(),
                plus_minus: None,
            }
        })
        .collect();
    let count = 2 + dice.below(3);
    let points = 1 + dice.below(3);
    // The first two lights are on one pack.
    let mut lights: Vec<Light> = (0..count)
        .map(|index| {
            let guide_number = Some(GuideMetres::new_unchecked(dice.between(30.0, 90.0)));
            let unit = if index < 3 {
                let head = Head { pack: index / 2, outlet: Some(index as u32 % 2 + 1) };
                Unit {
                    guide_number,
                    scale: packs[index / 2].scale.clone(),
                    head: Some(head),
                    ..Unit::unknown()
                }
            } else {
                Unit {
                    guide_number,
                    energy: Some(Joules::new_unchecked(500.0)),
                    scale: scale(dice, 500.0),
                    ..Unit::unknown()
                }
            };
            let may_be_off = index > 1 && dice.below(2) == 0;
            Light {
                id: None,
                name: format!("l{index}"),
                unit,
                position: None,
                optics: Optics::default(),
                filters: Vec::new(),
                control: Control { setting: None, hold: false, may_be_off, max_below: None, pops: 1 },
            }
        })
        .collect();
    divide(&packs, &mut lights);
    let contributions = (0..count).flat_map(|light| (0..points).map(move |point| (light, point)));
    let contributions = contributions
        .map(|(light, point)| Contribution {
            light,
            point,
            origin: Origin::Placement {
                geometry: Geometry::Distance {
                    distance: Metres::new_unchecked(dice.between(1.0, 6.0)),
                    incidence_deg: 0.0,
                    off_axis_deg: 0.0,
                    sure: Sure::default(),
                },
                optics: Optics::default(),
            },
            entry: Entry::Placement(light * points + point),
        })
        .collect();
    let points = (0..points)
        .map(|point| MeteringPoint {
            id: None,
            name: format!("p{point}"),
            position: None,
            normal: None,
            target: Some(Target::Stops(Stops::new_unchecked(dice.between(-1.0, 3.0)))),
            weight: 1.0,
        })
        .collect();
    Scene {
        exposure: FlashExposure { f_number: FNumber::new_unchecked(11.0), iso: Iso::new_unchecked(100.0) },
        exposure_time: None,
        sync_time: None,
        lens: Lens::default(),
        packs,
        lights,
        points,
        contributions,
        ambient: Vec::new(),
        ratio: None,
        meter_offset: Stops::ZERO,
        meter: Meter::default(),
        reflectors: Vec::new(),
        blockers: Vec::new(),
        room: None,
        camera: None,
    }
}

/// The least worst error of all settings of single lights that the packs allow, stops.
fn brute_force(scene: &Scene) -> f64 {
    let mut faults = Vec::new();
    let lit = scene.light(&mut faults);
    let targets = scene.targets(&lit, &mut faults).light;
    let all = scene.lights.iter().fold(vec![Vec::new()], |choices, light| {
        let settings = light.unit.scale.settings().iter().map(|below| Some(*below));
        let settings: Vec<Option<f64>> = settings.chain(light.control.may_be_off.then_some(None)).collect();
        let longer = |choice: &Vec<Option<f64>>| {
            let choice = choice.clone();
            settings.iter().map(move |setting| [choice.clone(), vec![*setting]].concat()).collect::<Vec<_>>()
        };
        choices.iter().flat_map(longer).collect()
    });
    let part = |setting: Option<f64>| setting.map_or(0.0, |below| (-below).exp2());
    let is_allowed = |choice: &&Vec<Option<f64>>| {
        scene.packs.iter().enumerate().all(|(index, pack)| {
            let heads: Vec<usize> = scene.heads(index).collect();
            let most = match pack.split {
                Split::Each { most } => most.get(),
                Split::Even | Split::Shares(_) => {
                    return heads.iter().all(|&head| choice[head] == choice[heads[0]]);
                }
            };
            let energy: f64 = heads.iter().map(|&head| most * part(choice[head])).sum();
            energy <= pack.energy.get() * (1.0 + 1e-12)
        })
    };
    let worst = |choice: &Vec<Option<f64>>| {
        let error = |point: usize| {
            let lights = lit.gain[point].iter().zip(choice);
            let light: f64 = lights.map(|(gain, setting)| gain.typical * part(*setting)).sum();
            (light / targets[point]).log2().max(-60.0).abs()
        };
        (0..scene.points.len()).map(error).fold(0.0, f64::max)
    };
    all.iter().filter(is_allowed).map(worst).fold(f64::INFINITY, f64::min)
}

#[test]
fn sets_with_packs_are_balanced_as_by_brute_force() {
    let mut limited = 0;
    for seed in 0..300 {
        let scene = set(&mut Dice(seed));
        let best = brute_force(&scene);
        let Ok(prepared) = prepare(&scene) else {
            // The least settings take more than a pack has.
            assert!(best.is_infinite(), "seed {seed}");
            continue;
        };
        let found = search(&prepared.problem, Objective::Accuracy, Budget::NONE);
        assert!(found.proven, "seed {seed}");
        assert!((found.score.worst - best).abs() < 1e-8, "seed {seed}: {} {best}", found.score.worst);
        // What is found is what the packs allow.
        let below = prepared.below(&found.choice);
        let mut faults = Vec::new();
        scene.check_packs(&below, &mut faults);
        assert_eq!(faults, []);
        for light in 0..scene.lights.len() {
            prepared.together(light).for_each(|other| assert_eq!(below[light], below[other]));
        }
        let mut free = prepared.problem.clone();
        free.points.truncate(scene.points.len());
        let unlimited = search(&free, Objective::Accuracy, Budget::NONE);
        limited += usize::from(unlimited.score.worst < found.score.worst - 1e-6);
    }
    assert!(limited > 5, "in {limited} sets a pack's energy is the limit");
}
