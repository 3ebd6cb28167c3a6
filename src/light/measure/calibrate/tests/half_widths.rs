//! The half-widths that a calibrated unit carries on, simulated with units of known light.

use serde_json::Value;

use crate::light::{
    measure::calibrate::tests::{coverage::DESIGNS, *},
    quantity::{
        Metres,
        half_widths::{DISTANCE, METER_OFFSET, RATING, READING, REPEAT, SIGMAS},
    },
};

const RUNS: u32 = 2000;

/// How the dome is held for the readings of one unit.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Dome {
    /// It stays where it is, so that all readings are off alike.
    OnAStand,
    /// Anew for each reading.
    ByHand,
}

/// In how many of 100 runs each half-width holds what it is about.
#[derive(Debug, Clone, Copy, Default)]
struct Held {
    runs: f64,
    /// The light at full power: for this meter at this distance, as the unit states it, and against the camera.
    this_meter: f64,
    unit: f64,
    camera: f64,
    /// The light at the setting with the fewest readings against the mean of many, and one flash against others.
    dial: f64,
    repeat: f64,
    /// The light at that setting anywhere, by the two half-widths of the unit together.
    setting: f64,
}

impl Held {
    fn percent(&self) -> [f64; 6] {
        let all = [self.this_meter, self.unit, self.camera, self.dial, self.repeat, self.setting];
        all.map(|held| (1000.0 * held / self.runs).round() / 10.0)
    }

    fn plus(self, other: Self) -> Self {
        Self {
            runs: self.runs + other.runs,
            this_meter: self.this_meter + other.this_meter,
            unit: self.unit + other.unit,
            camera: self.camera + other.camera,
            dial: self.dial + other.dial,
            repeat: self.repeat + other.repeat,
            setting: self.setting + other.setting,
        }
    }
}

/// Units whose true offset, like all that makes their readings wrong, is drawn from the table of half-widths, metered in
/// tenths at a stated distance.
fn simulate((below, repeats): (&[f64], usize), dome: Dome, seed: u64) -> Held {
    const STATED_M: f64 = 2.5;
    let mut noise = Noise(seed);
    let mut held = Held::default();
    for _ in 0..RUNS {
        let mut draw = |half_width: f64| half_width / SIGMAS * noise.normal();
        let (offset, meter) = (draw(RATING.value), draw(METER_OFFSET.value));
        let by_distance = -2.0 * ((STATED_M + draw(DISTANCE.value)) / STATED_M).log2();
        let common = if dome == Dome::OnAStand { draw(READING.value) } else { 0.0 };
        let slope = 1.0 + draw(0.05);
        // GN 50 at 2.5 m is f/20.
        let full = 2.0 * 20_f64.log2() + offset - meter + by_distance + common;
        let mut samples = Vec::new();
        for below in below {
            for _ in 0..repeats {
                let own = if dome == Dome::ByHand { draw(READING.value) } else { 0.0 };
                let light = full - slope * below + own + draw(REPEAT.value);
                let stops = (light * 10.0).round() / 10.0;
                samples.push(Sample { id: None, below: Stops::new_unchecked(*below), stops });
            }
        }
        let flash = draw(REPEAT.value);
        let answer = calibrate(&metered(samples, Some(STATED_M))).expect("a calibration");
        let unit = serde_json::to_value(&answer.unit).expect("JSON");
        let number = |value: &Value| value.as_f64();
        let found = answer.offset_stops.expect("an offset").get();
        let last = answer.settings.last().expect("a setting");
        let (set, at_last) = (last.stops_below_full.get(), last.deviation_stops.get());
        let strays = (1.0 - slope) * set;
        let holds = |off: f64, half_width: f64| f64::from(u8::from(off.abs() <= half_width + 1e-4));
        let [this_meter, camera] = [answer.this_meter_plus_minus_stops, answer.camera_plus_minus_stops]
            .map(|it| it.expect("known").get());
        let plus_minus = number(&unit["plus_minus_stops"]).expect("a half-width");
        let dial = number(&unit["dial_plus_minus_stops"]).expect("a half-width");
        held.runs += 1.0;
        held.this_meter += holds(found - (offset - meter + by_distance + common), this_meter);
        held.unit += holds(found - (offset - meter), plus_minus);
        held.camera += holds(found - offset, camera);
        held.dial += holds(at_last - (offset - meter + by_distance + common) - strays, dial);
        held.setting += holds(at_last - (offset - meter) - strays, plus_minus.hypot(dial));
        // Without repeats it is the default.
        held.repeat += holds(flash, number(&unit["repeat_plus_minus_stops"]).unwrap_or(REPEAT.value));
    }
    held
}

/// The truth is drawn from the table, 2000 units of each of 14 designs. Measured on a stand and by hand, in per cent: the
/// unit 93.9 and 97.8, which is 95.8 on the mean (how the dome was held is not known), 88.0 to 99.0 by design; against the
/// camera 95.0 and 96.3, 93.9 to 97.6 by design; this meter 99.2 and 95.6, for no interval is narrower than the digit; a
/// setting 99.2 and 95.6; one flash 95.3 and 97.9, for the dome's part is in its scatter.
#[test]
fn a_unit_states_how_well_its_light_is_known() {
    let [on_a_stand, by_hand] = [Dome::OnAStand, Dome::ByHand].map(|dome| {
        let of_designs = DESIGNS.into_iter().zip(1..).map(|(design, seed)| {
            let held = simulate(design, dome, 86_028_121 * seed);
            // The camera's holds for each design by itself.
            assert!((93.0..=98.0).contains(&held.percent()[2]), "{dome:?} {design:?}: {held:?}");
            held
        });
        let all = of_designs.fold(Held::default(), Held::plus);
        println!("{dome:?}: this meter, unit, camera, dial, repeat, setting: {:?}", all.percent());
        let [_, unit, camera, rest @ ..] = all.percent();
        assert!((93.0..=97.0).contains(&camera) && (93.0..=98.0).contains(&unit), "{dome:?}: {all:?}");
        assert!(rest.iter().all(|percent| *percent >= 93.0), "{dome:?}: {all:?}");
        all
    });
    let [this_meter, unit, camera, ..] = on_a_stand.plus(by_hand).percent();
    assert!([unit, camera].iter().all(|percent| (93.0..=97.0).contains(percent)), "{unit} {camera}");
    assert!(this_meter >= 93.0, "{this_meter}");
}

#[test]
fn what_is_stated_of_meter_and_distance_counts() {
    let sample = |below: f64, stops: f64| Sample { id: None, below: Stops::new_unchecked(below), stops };
    let ask = |change: fn(&mut CalibrateQuestion)| {
        let samples = [0.0, 0.0, 2.0, 2.0].map(|below| sample(below, 9.013 - below + 0.01)).to_vec();
        let mut question = metered(samples, Some(1.0));
        change(&mut question);
        let answer = calibrate(&question).expect("a calibration");
        let unit = serde_json::to_value(&answer.unit).expect("JSON");
        let camera = answer.camera_plus_minus_stops.expect("known").get();
        (unit["plus_minus_stops"].as_f64().expect("a number"), camera, answer)
    };
    let (unit, camera, usual) = ask(|_| ());
    // By squares (JCGM 100:2008, 5.1.2): the meter against the camera comes on top of the unit, by the table.
    assert!((camera - unit.hypot(METER_OFFSET.value)).abs() < 1e-4, "{unit} {camera}");
    let (known, _, _) = ask(|question| question.distance_within = Some(Metres::new_unchecked(0.001)));
    // By hand: 2·log2(1/0.96) is 0.1178 stop, and of a millimetre 0.0029.
    assert!((unit.powi(2) - known.powi(2) - 0.1178_f64.powi(2)).abs() < 2e-4, "{unit} {known}");
    // The dome's part goes with what is stated of a reading.
    let (held, _, _) = ask(|question| question.meter.plus_minus = Some(Stops::new_unchecked(0.001)));
    assert!(held < unit - 0.005, "{held} {unit}");
    // An offset that is stated is known to 0.06, and the unit is that of the camera.
    let (same, compared, offset) = ask(|question| {
        question.meter_offset = Stops::new_unchecked(0.25);
        question.meter.is_offset_stated = true;
    });
    assert!((same - unit).abs() < 1e-9 && (compared - unit.hypot(0.06)).abs() < 1e-4, "{same} {compared}");
    let [without, with] = [usual, offset].map(|answer| answer.offset_stops.expect("an offset").get());
    assert!((with - without - 0.25).abs() < 1e-9, "{with} {without}");
}

#[test]
fn half_widths_are_those_that_requests_take() {
    let sample = |below: f64, stops: f64| Sample { id: None, below: Stops::new_unchecked(below), stops };
    let stated = |samples: &[(f64, f64)], distance_m: Option<f64>| {
        let samples = samples.iter().map(|(below, stops)| sample(*below, *stops)).collect();
        let answer = calibrate(&metered(samples, distance_m)).expect("a calibration");
        let unit = serde_json::to_value(&answer.unit).expect("JSON");
        let each = ["plus_minus_stops", "dial_plus_minus_stops", "repeat_plus_minus_stops"];
        (each.map(|name| unit[name].as_f64()), answer)
    };
    // Beyond use: the interval is wider than any correction, and the unit states the most that requests take.
    let (widths, answer) = stated(&[(0.0, 9.0), (0.0, -15.0), (6.0, 12.0), (6.0, -20.0)], Some(2.5));
    assert_eq!((widths, answer.offset_stops_range), ([Some(4.0); 3], None));
    assert_eq!((answer.this_meter_plus_minus_stops, answer.camera_plus_minus_stops), (None, None));
    // One setting, one reading: the dial is the default of the table, and its repeatability is not known.
    let ([unit, dial, repeat], answer) = stated(&[(0.0, 9.0)], Some(2.5));
    assert!(unit.is_some_and(|stops| (0.1..0.3).contains(&stops)), "{unit:?}");
    assert_eq!((dial, repeat), (Some(0.1), None));
    let is_dial =
        |kind: &AssumptionKind| matches!(kind, AssumptionKind::UsualWithin { what: "setting of a unit", .. });
    assert!(answer.assumptions.iter().any(|one| is_dial(&one.kind)), "{:?}", answer.assumptions);
    // Without a distance its light is not known, but how it follows its scale is.
    let ([unit, dial, repeat], answer) = stated(&[(0.0, 9.0), (0.0, 9.1), (2.0, 7.0), (2.0, 7.1)], None);
    assert!(unit.is_none() && dial.is_some() && repeat.is_some(), "{unit:?} {dial:?} {repeat:?}");
    assert_eq!(answer.camera_plus_minus_stops, None);
}
