//! Heat loads against a simulation of every flash.

use proptest::prelude::*;

use crate::light::{
    kit::KitUnit,
    quantity::Joules,
    supply::*,
    unit::{Duty, Feeding, Unit},
};

fn kit(duty: Duty) -> KitUnit {
    let unit = Unit {
        energy: Some(Joules::new_unchecked(500.0)),
        feeding: Feeding { recycle: vec![[1.0, 1.0]], duty: Some(duty), ..Feeding::default() },
        ..Unit::unknown()
    };
    KitUnit { name: "head".to_owned(), id: None, unit, entry: 0 }
}

fn shot(frames: u32, seconds: f64, below: Option<f64>) -> PlannedShot {
    let uses = below.map(|below| Use { unit: 0, below: Stops::new_unchecked(below) }).into_iter().collect();
    PlannedShot {
        id: None,
        name: "shot".to_owned(),
        frames,
        interval_s: Some(seconds),
        uses,
        packs: Vec::new(),
    }
}

/// The most energy within a window of `in_s`, tried from every flash, in flashes at full power.
fn most(question: &SupplyQuestion, in_s: f64) -> f64 {
    let mut flashes = Vec::new();
    let mut clock = 0.0;
    for shot in &question.shots {
        let interval = question.interval(shot).unwrap_or(0.0);
        for k in 0..shot.frames {
            let part = shot.uses.first().map(|used| (-used.below.get()).exp2());
            flashes.extend(part.map(|part| (clock + f64::from(k) * interval, part)));
        }
        clock += f64::from(shot.frames) * interval;
    }
    let from = |begin: f64| {
        let within = flashes.iter().filter(|(time, _)| (begin - 1e-9..begin + in_s - 1e-9).contains(time));
        within.map(|(_, part)| part).sum::<f64>()
    };
    flashes.iter().map(|(time, _)| from(*time)).fold(0.0, f64::max)
}

#[test]
fn a_plan_at_the_makers_pace_is_within_the_duty_limit() {
    // By hand: 60 flashes in 300 s is one every 5 s; every 4 s is 75 in 300 s.
    let duty = Duty { flashes: 60.0, in_s: 300.0 };
    let heat = |seconds: f64, below: f64| {
        let shots = vec![shot(200, seconds, Some(below))];
        heat::heat(
            &SupplyQuestion {
                packs: Vec::new(),
                kit: vec![kit(duty)],
                shots,
                circuits: Vec::new(),
                reserve: 0.2,
                hours: None,
            },
            0,
        )
    };
    let load = heat(5.0, 0.0).map(|heat| (heat.within_duty, heat.most_full_flashes.get()));
    assert_eq!(load, Some((Some(true), 60.0)));
    let load = heat(4.0, 0.0).map(|heat| (heat.within_duty, heat.most_full_flashes.get()));
    assert_eq!(load, Some((Some(false), 75.0)));
    let interval = heat(4.0, 0.0).and_then(|heat| heat.interval_within_duty_s);
    assert_eq!(interval.map(Number::get), Some(5.0));
    // One stop down, each flash counts half, so that twice as many are allowed.
    assert_eq!(heat(2.5, 1.0).and_then(|heat| heat.within_duty), Some(true));
    assert_eq!(heat(2.4, 1.0).and_then(|heat| heat.within_duty), Some(false));
}

proptest! {
    #[test]
    fn heat_agrees_with_a_simulation_of_every_flash(
        shots in prop::collection::vec((1..60_u32, 4..40_u32, prop::option::of(0..3_u32)), 1..5),
        in_s in 5..120_u32,
    ) {
        let duty = Duty { flashes: 10.0, in_s: f64::from(in_s) };
        let shots: Vec<PlannedShot> = shots
            .into_iter()
            .map(|(frames, quarters, below)| shot(frames, f64::from(quarters) / 4.0, below.map(f64::from)))
            .collect();
        let question = SupplyQuestion { packs: Vec::new(), kit: vec![kit(duty)], shots, circuits: Vec::new(), reserve: 0.0, hours: None };
        let heat = heat::heat(&question, 0).map(|heat| heat.most_full_flashes.get());
        let simulated = most(&question, duty.in_s);
        // Accurate to one flash where shots with different intervals meet.
        let trains = question.shots.iter().filter(|shot| !shot.uses.is_empty()).count();
        let room = if trains > 1 { 1.0 } else { 1e-9 };
        prop_assert!(heat.is_some_and(|heat| (heat - simulated).abs() <= room), "{:?} {}", heat, simulated);
    }
}
