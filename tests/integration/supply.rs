//! `/v1/supply/plan`.

use serde_json::{Value, json};
use uom::si::{
    electric_current::ampere,
    electric_potential::volt,
    energy::{joule, kilowatt_hour},
    f64::{ElectricPotential, Energy, Power, Time},
    power::watt,
    time::{hour, second},
};

use crate::support::{Server, close, codes, pointers};

const PLAN: &str = "/v1/supply/plan";

fn head(draw: &Value) -> Value {
    json!({"name": "head", "energy": "500 J", "scale": {"style": "dial", "full": 9, "least": 2},
        "recycle_s": 2, "draw": draw})
}

fn body(draw: &Value, setting: &str, seconds: f64) -> Value {
    json!({
        "kit": [{"unit": head(draw), "count": 3}],
        "shots": [{"name": "crew", "frames": 100, "interval_s": seconds, "lights": [
            {"unit": "head", "setting": setting}, {"unit": "head #2", "setting": setting}]}],
        "circuits": [{"name": "wall", "volts": 230, "breaker_a": 16, "units": ["head", "head #2", "head #3"]}]
    })
}

fn text(value: &Value) -> &str {
    value.as_str().expect("text")
}

fn assumed(answer: &Value) -> Vec<&str> {
    answer["assumptions"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|assumption| text(&assumption["code"]))
        .collect()
}

#[tokio::test]
async fn power_is_energy_over_time_and_efficiency() {
    let server = Server::start().await;
    let stated = json!({"charging_efficiency": 0.8, "power_factor": 0.95, "modelling_lamp_w": 150});
    // One stop down: 250 J every 4 s, recycled in 1 s.
    let answer = server.ask(PLAN, body(&stated, "8", 4.0)).await;
    assert_eq!(answer["feasible"], true);
    // uom, a general-purpose library of units, is the reference.
    let energy = Energy::new::<joule>(250.0) / 0.8;
    let mean: Power = energy / Time::new::<second>(4.0);
    let peak: Power = energy / Time::new::<second>(1.0);
    let unit = &answer["units"][0];
    for end in ["low", "typical", "high"] {
        close(&unit["power"]["mean_w"][end], mean.get::<watt>() + 150.0, 1e-3);
        close(&unit["power"]["charging_w"][end], peak.get::<watt>() + 150.0, 1e-3);
    }
    close(&unit["work"][0]["recycle_s"], 1.0, 1e-12);
    // Two units flash; the modelling lamp of the third is on as well.
    let lamps = Power::new::<watt>(3.0 * 150.0);
    let amperes = |each: Power| {
        let current = (each * 2.0 + lamps) / 0.95 / ElectricPotential::new::<volt>(230.0);
        current.get::<ampere>()
    };
    let circuit = &answer["circuits"][0];
    close(&circuit["mean_w"]["typical"], 2.0 * mean.get::<watt>() + 450.0, 1e-2);
    close(&circuit["mean_a"]["typical"], amperes(mean), 1e-4);
    close(&circuit["charging_a"]["high"], amperes(peak), 1e-4);
    assert_eq!(circuit["verdict"], "within");
    // The recycle time a stop down is derived from that at full power.
    assert_eq!(assumed(&answer), ["recycle_s"]);
    // The caution says it, so that the summary need not.
    assert!(!text(&answer["summary"]).contains("licensed electrician"));
    let shot = &answer["shots"][0];
    close(&shot["lasts_s"], 99.0 * 4.0, 1e-9);
    assert_eq!((&shot["holds"], &shot["slowest_unit"]), (&json!(true), &json!("head")));
    assert_eq!(codes(&answer["cautions"]), ["stored_charge", "mains_load", "heat"]);
}

#[tokio::test]
async fn a_setting_that_is_left_out_is_full_power() {
    let server = Server::start().await;
    let stated = body(&json!({}), "full", 10.0);
    let mut left_out = stated.clone();
    for light in left_out["shots"][0]["lights"].as_array_mut().expect("lights") {
        light.as_object_mut().expect("fields").remove("setting");
    }
    assert_eq!(server.ask(PLAN, left_out).await, server.ask(PLAN, stated).await);
}

#[tokio::test]
async fn missing_values_are_assumed_and_listed() {
    let server = Server::start().await;
    let answer = server.ask(PLAN, body(&json!(null), "9", 4.0)).await;
    let peak = &answer["circuits"][0]["charging_a"];
    // By hand, for two units: 500 J in 2 s over 0.9, 0.7, 0.5, over a power factor of 1, 0.8, 0.6, over 230 V.
    // Three modelling lamps have 0, 100 or 250 W each.
    // The parts of each add as the root of the sum of squares of their stops, each side by itself; a lamp may be off.
    let root = |a: f64, b: f64| a.log2().hypot(b.log2());
    let [charge, lamp] = [250.0 / 0.7 / 0.8 / 230.0, 100.0 / 0.8 / 230.0];
    close(&peak["low"], 2.0 * charge * (-root(0.9 / 0.7, 1.0 / 0.8)).exp2(), 1e-4);
    close(&peak["typical"], 2.0 * charge + 3.0 * lamp, 1e-4);
    let high = 2.0 * charge * root(0.7 / 0.5, 0.8 / 0.6).exp2() + 3.0 * lamp * root(2.5, 0.8 / 0.6).exp2();
    close(&peak["high"], high, 1e-4);
    assert_eq!(assumed(&answer), ["charging_efficiency", "power_factor", "modelling_lamp_w"]);
    close(&answer["units"][0]["power"]["modelling_lamp_w"]["high"], 250.0, 1e-9);
}

#[tokio::test]
async fn a_breaker_is_within_beyond_or_between_the_estimates() {
    let server = Server::start().await;
    for (amperes, verdict, feasible) in [(8.0, "within", true), (4.0, "unsure", true), (2.0, "over", false)] {
        let mut asked = body(&json!({"modelling_lamp_w": 0}), "9", 4.0);
        asked["circuits"][0]["breaker_a"] = json!(amperes);
        let answer = server.ask(PLAN, asked).await;
        assert_eq!(
            (&answer["circuits"][0]["verdict"], &answer["feasible"]),
            (&json!(verdict), &json!(feasible))
        );
        assert_eq!(text(&answer["summary"]).to_lowercase().contains("circuit \"wall\""), verdict != "within");
    }
    // Published for one country, NFPA 70, 210.20(A): a continuous load may take at most 80 % of its breaker.
    let mut asked =
        body(&json!({"charging_efficiency": 1, "power_factor": 1, "modelling_lamp_w": 0}), "9", 4.0);
    asked["shots"][0]["frames"] = json!(1000);
    asked["circuits"][0]["breaker_a"] = json!(2.0 * 125.0 / 230.0 / 0.8 * 1.001);
    assert!(!codes(&server.ask(PLAN, asked.clone()).await["warnings"]).contains(&"long_load"));
    asked["circuits"][0]["breaker_a"] = json!(2.0 * 125.0 / 230.0 / 0.8 * 0.999);
    assert!(codes(&server.ask(PLAN, asked.clone()).await["warnings"]).contains(&"long_load"));
    // A load of minutes is not a continuous one.
    asked["shots"][0]["frames"] = json!(100);
    assert!(!codes(&server.ask(PLAN, asked).await["warnings"]).contains(&"long_load"));
}

#[tokio::test]
async fn a_pace_too_fast_is_reported_with_a_setting_that_holds() {
    let server = Server::start().await;
    let answer = server.ask(PLAN, body(&json!(null), "9", 1.5)).await;
    assert_eq!(answer["feasible"], false);
    let shot = &answer["shots"][0];
    assert_eq!((&shot["holds"], &shot["shortest_interval_s"]), (&json!(false), &json!(2.0)));
    // The frames follow as fast as the unit recycles.
    close(&shot["lasts_s"], 198.0, 1e-9);
    let work = &answer["units"][0]["work"][0];
    assert_eq!(work["holds"], false);
    // By hand: 1.5 s allows 0.75 of full energy, 0.415 stops down; the next tenth is 0.5.
    assert_eq!(work["setting_that_holds"]["label"], "8.5");
    let again = server.ask(PLAN, body(&json!(null), "8.5", 1.5)).await;
    assert_eq!(again["feasible"], true);
    let summary = text(&answer["summary"]);
    assert!(summary.starts_with("In \"crew\" \"head\" recycles in 2 s, not within 1.5 s."), "{summary}");
}

#[tokio::test]
async fn tables_of_recycle_times_rule() {
    let server = Server::start().await;
    let mut asked = body(&json!(null), "7", 4.0);
    let unit = &mut asked["kit"][0]["unit"];
    unit["recycle_by_setting"] =
        json!([{"setting": "8", "recycle_s": 1.4}, {"setting": "6", "recycle_s": 0.9}]);
    let answer = server.ask(PLAN, asked.clone()).await;
    // By hand: at a quarter, a third of the way in energy from an eighth (0.9 s) to a half (1.4 s).
    close(&answer["units"][0]["work"][0]["recycle_s"], 0.9 + 0.5 / 3.0, 5e-6);
    asked["kit"][0]["unit"]["recycle_by_setting"][1]["recycle_s"] = json!(1.5);
    let faults = server.refused(PLAN, asked).await;
    assert_eq!(pointers(&faults), ["/kit/0/unit/recycle_by_setting"]);
}

#[tokio::test]
async fn charges_are_counted_with_a_reserve() {
    let server = Server::start().await;
    let plan = |frames: u32, reserve: f64| {
        json!({
            "kit": [{"unit": {"name": "battery head", "energy": 500, "recycle_s": 1.5, "flashes_per_charge": 220,
                "scale": {"style": "dial", "full": 9, "least": 2}}}],
            "shots": [
                {"name": "one", "frames": frames, "lights": [{"unit": "battery head", "setting": "9"}]},
                {"name": "two", "frames": 2 * frames, "lights": [{"unit": "battery head", "setting": "8"}]}],
            "reserve": reserve
        })
    };
    // By hand: 110 full and 220 half flashes count as 220 full ones, one charge.
    let answer = server.ask(PLAN, plan(110, 0.0)).await;
    let charges = &answer["units"][0]["charges"];
    assert_eq!((&charges["used"], &charges["needed"]), (&json!(1.0), &json!(1)));
    let answer = server.ask(PLAN, plan(110, 0.2)).await;
    assert_eq!(answer["units"][0]["charges"]["needed"], 2);
    assert!(text(&answer["summary"]).contains("Have 2 charges"));
    // A battery unit is not on the mains.
    assert_eq!(codes(&answer["cautions"]), ["stored_charge", "heat"]);
}

#[tokio::test]
async fn more_than_three_flashes_a_second_are_cautioned() {
    let server = Server::start().await;
    // Published: WCAG 2.x, success criterion 2.3.1.
    for (seconds, cautioned) in [(0.3, true), (1.0 / 3.0, false), (0.4, false)] {
        let mut asked = body(&json!(null), "4", seconds);
        asked["shots"][0]["frames"] = json!(10);
        let answer = server.ask(PLAN, asked).await;
        assert_eq!(codes(&answer["cautions"]).contains(&"photosensitivity"), cautioned, "{seconds}");
    }
}

#[tokio::test]
async fn heads_have_duty_limits() {
    let server = Server::start().await;
    let mut asked = body(&json!(null), "9", 4.0);
    asked["kit"][0]["unit"]["duty"] = json!({"flashes": 60, "in_s": 300});
    let answer = server.ask(PLAN, asked.clone()).await;
    let heat = &answer["units"][0]["heat"];
    // By hand: 75 flashes 4 s apart in 300 s; the limit is 60, one every 5 s.
    assert_eq!((&heat["most_full_flashes"], &heat["within_duty"]), (&json!(75.0), &json!(false)));
    assert_eq!((&heat["interval_within_duty_s"], &answer["feasible"]), (&json!(5.0), &json!(false)));
    assert!(text(&answer["summary"]).contains("The head of head gets 75 full flashes in 300 s"));
    asked["shots"][0]["interval_s"] = json!(5);
    assert_eq!(server.ask(PLAN, asked).await["feasible"], true);
}

#[tokio::test]
async fn the_result_of_a_kit_check_can_be_planned() {
    let server = Server::start().await;
    let kit = json!([{"unit": {"name": "big", "energy": 1000, "guide_number": {"value": 80, "unit": "m"},
        "recycle_s": 1.8, "scale": {"style": "dial", "full": 9, "least": 2}}, "count": 2}]);
    let lights =
        json!([{"role": "key", "stops": 0, "distance": 3}, {"role": "fill", "stops": -2, "distance": 3}]);
    let shots = json!([{"name": "crew", "exposure": {"f_number": "f/8"}, "lights": lights}]);
    let checked = server.ask("/v1/kit/check", json!({"kit": kit, "shots": shots})).await;
    let lights = checked["shots"][0]["lights"].as_array().expect("lights").iter();
    let lights: Vec<Value> =
        lights.map(|light| json!({"unit": light["unit"], "setting": light["setting"]})).collect();
    let shots = json!([{"name": "crew", "frames": 60, "interval_s": 2, "lights": lights}]);
    let answer = server.ask(PLAN, json!({"kit": kit, "shots": shots})).await;
    assert_eq!(answer["feasible"], true);
    assert_eq!(answer["units"][0]["work"][0]["setting"], checked["shots"][0]["lights"][0]["setting"]);
}

#[tokio::test]
async fn unknown_values_stay_null() {
    let server = Server::start().await;
    let answer = server
        .ask(
            PLAN,
            json!({
                "kit": [{"unit": {"name": "shoe-mount", "guide_number": {"value": 36, "unit": "m"}}}],
                "shots": [{"name": "slip", "frames": 20, "lights": [{"unit": "shoe-mount", "setting": "1/4"}]}],
                "circuits": [{"name": "wall", "volts": 230, "breaker_a": 16, "units": ["shoe-mount"]}]
            }),
        )
        .await;
    let shot = &answer["shots"][0];
    assert_eq!(
        (&shot["shortest_interval_s"], &shot["holds"], &shot["lasts_s"]),
        (&Value::Null, &Value::Null, &Value::Null)
    );
    assert_eq!(
        (&answer["units"][0]["power"], &answer["circuits"][0]["verdict"]),
        (&Value::Null, &json!("unknown"))
    );
    assert_eq!(codes(&answer["warnings"]), ["energy_unknown", "recycle_unknown"]);
    let lacking =
        |needs: Value, purpose: &str| json!({"pointer": "/kit/0/unit", "needs": needs, "for": purpose});
    let lacks = [
        lacking(json!([["energy"]]), "draw"),
        lacking(json!([["recycle_s"], ["recycle_by_setting"]]), "recycle"),
    ];
    assert_eq!((&answer["lacks"], &answer["complete"]), (&json!(lacks), &json!(false)));
    assert!(text(&answer["summary"]).contains("not known"));
}

#[tokio::test]
async fn dangling_names_are_faults() {
    let server = Server::start().await;
    let mut asked = body(&json!({"charging_efficiency": 1.2}), "9", 4.0);
    assert_eq!(
        pointers(&server.refused(PLAN, asked.clone()).await),
        ["/kit/0/unit/draw/charging_efficiency"]
    );
    asked["kit"][0]["unit"]["draw"] = json!(null);
    asked["shots"][0]["lights"] = json!([{"unit": "head", "setting": "9"}, {"unit": "head", "setting": "11"}, {"unit": "heat", "setting": "9"}]);
    asked["circuits"][0]["units"] = json!(["head", "head", "head #4"]);
    let faults = server.refused(PLAN, asked).await;
    assert_eq!(
        pointers(&faults),
        ["/shots/0/lights/1/unit", "/shots/0/lights/2/unit", "/circuits/0/units/1", "/circuits/0/units/2"]
    );
}

/// Two units that alternate: a shot with one, a shot with the other.
fn in_turns(one: &Value, other: &Value, seconds: f64) -> Value {
    let shot = |unit: &Value| {
        json!({"name": format!("shot of {}", text(&unit["name"])), "frames": 100, "interval_s": seconds,
            "lights": [{"unit": unit["name"], "setting": "full"}]})
    };
    json!({
        "kit": [{"unit": one}, {"unit": other}],
        "shots": [shot(one), shot(other)],
        "circuits": [{"name": "wall", "volts": 230, "breaker_a": 10, "units": [one["name"], other["name"]]}]
    })
}

#[tokio::test]
async fn alternating_units_do_not_certainly_overload() {
    let server = Server::start().await;
    // Each draws 1000 W at a power factor of 0.5: 8.7 A alone, 17.4 A together.
    let unit = |name: &str| json!({"name": name, "energy": 1000, "recycle_s": 1, "draw": {"charging_efficiency": 1, "power_factor": 0.5, "modelling_lamp_w": 0}});
    let mut asked = in_turns(&unit("a"), &unit("b"), 10.0);
    let answer = server.ask(PLAN, asked.clone()).await;
    let circuit = &answer["circuits"][0];
    assert_eq!((&circuit["verdict"], &answer["feasible"]), (&json!("unsure"), &json!(true)));
    close(&circuit["charging_a"]["low"], 2.0 * 2000.0 / 230.0, 1e-3);
    asked["shots"][0]["lights"] = json!([{"unit": "a", "setting": "full"}, {"unit": "b", "setting": "full"}]);
    let answer = server.ask(PLAN, asked).await;
    assert_eq!((&answer["circuits"][0]["verdict"], &answer["feasible"]), (&json!("over"), &json!(false)));
}

#[tokio::test]
async fn the_busiest_shot_is_reported_in_watts_and_in_amperes() {
    let server = Server::start().await;
    // 354 W at a power factor of 0.3 are 1180 VA, more than 500 W at 1.
    let unit = |name: &str, watts: f64, factor: f64| {
        json!({"name": name, "energy": watts * 10.0, "recycle_s": 10,
            "draw": {"charging_efficiency": 1, "power_factor": factor, "modelling_lamp_w": 0}})
    };
    let mut asked = in_turns(&unit("a", 354.0, 0.3), &unit("b", 500.0, 1.0), 10.0);
    asked["circuits"][0]["breaker_a"] = json!(6);
    asked["shots"][0]["frames"] = json!(1000);
    let answer = server.ask(PLAN, asked).await;
    let circuit = &answer["circuits"][0];
    close(&circuit["mean_w"]["high"], 500.0, 1e-9);
    close(&circuit["mean_a"]["high"], 354.0 / 0.3 / 230.0, 1e-5);
    assert!(codes(&answer["warnings"]).contains(&"long_load"));
}

#[tokio::test]
async fn partly_known_loads_are_reported_as_far_as_known() {
    let server = Server::start().await;
    let a = json!({"name": "a", "energy": 500, "recycle_s": 1, "duty": {"flashes": 10, "in_s": 100}});
    let b = json!({"name": "b", "energy": 500});
    // A is not used in the shot of unknown pace, so its load in the other is certain.
    let mut asked = in_turns(&a, &b, 1.0);
    asked["shots"][1]["interval_s"] = json!(null);
    let answer = server.ask(PLAN, asked.clone()).await;
    assert_eq!(
        (&answer["units"][0]["heat"]["within_duty"], &answer["feasible"]),
        (&json!(false), &json!(false))
    );
    // A is in that shot too: the result is unknown, unless the other shot alone is too much.
    asked["shots"][0]["frames"] = json!(5);
    asked["shots"][1]["lights"] = json!([{"unit": "b", "setting": "full"}]);
    asked["kit"][0]["unit"]["recycle_s"] = json!(null);
    asked["shots"]
        .as_array_mut()
        .expect("shots")
        .push(json!({"name": "again", "frames": 50, "lights": [{"unit": "a", "setting": "full"}]}));
    let answer = server.ask(PLAN, asked).await;
    assert_eq!(answer["units"][0]["heat"]["within_duty"], Value::Null);
    assert!(codes(&answer["warnings"]).contains(&"duty_unchecked"));
    // One unit in time and one unknown are not "every unit in time".
    let mut asked = in_turns(&a, &b, 2.0);
    asked["shots"] = json!([{"name": "both", "frames": 5, "interval_s": 2,
        "lights": [{"unit": "a", "setting": "full"}, {"unit": "b", "setting": "full"}]}]);
    let answer = server.ask(PLAN, asked.clone()).await;
    assert_eq!(
        (&answer["shots"][0]["holds"], &answer["shots"][0]["shortest_interval_s"]),
        (&Value::Null, &json!(1.0))
    );
    assert!(!text(&answer["summary"]).contains("in time"));
    asked["shots"][0]["interval_s"] = json!(0.5);
    assert_eq!(server.ask(PLAN, asked).await["shots"][0]["holds"], false);
}

#[tokio::test]
async fn a_lamp_that_is_not_stated_leaves_the_verdict_open_where_it_decides() {
    let server = Server::start().await;
    // By hand: 1000 W of flash at 230 V are 4.35 A, a lamp of 250 W 1.09 A more.
    let ask = async |lamp: Option<f64>, breaker: f64| {
        let mut unit = json!({"name": "a", "energy": 1000, "recycle_s": 1,
            "draw": {"charging_efficiency": 1, "power_factor": 1}});
        if let Some(watts) = lamp {
            unit["draw"]["modelling_lamp_w"] = json!(watts);
        }
        let body = json!({"kit": [{"unit": unit}],
            "shots": [{"name": "s", "frames": 10, "interval_s": 2, "lights": [{"unit": "a", "setting": "full"}]}],
            "circuits": [{"name": "wall", "volts": 230, "breaker_a": breaker, "units": ["a"]}]});
        server.ask(PLAN, body).await
    };
    for (lamp, breaker, verdict) in [
        (None, 5.0, "unknown"),
        (Some(0.0), 5.0, "within"),
        (Some(250.0), 5.0, "over"),
        (None, 6.0, "within"),
        (None, 4.0, "over"),
    ] {
        let answer = ask(lamp, breaker).await;
        assert_eq!(answer["circuits"][0]["verdict"], verdict, "{lamp:?} {breaker}");
        assert_eq!(answer["feasible"], verdict != "over");
        assert_eq!(assumed(&answer).contains(&"modelling_lamp_w"), lamp.is_none());
        let says_so = text(&answer["summary"]).contains("modelling lamps whose power is not stated");
        assert_eq!(says_so, verdict == "unknown", "{}", answer["summary"]);
    }
}

#[tokio::test]
async fn a_circuit_is_over_only_by_certain_loads() {
    let server = Server::start().await;
    // No recycle time is known, but the mean power and the lamps are.
    let unit = |lamp: f64| json!({"name": "a", "energy": 1000, "draw": {"charging_efficiency": 1, "power_factor": 1, "modelling_lamp_w": lamp}});
    let b = json!({"name": "b", "energy": 100});
    for (lamp, amperes, verdict) in [(0.0, 5.0, "unknown"), (0.0, 4.0, "over"), (3000.0, 15.0, "over")] {
        let mut asked = in_turns(&unit(lamp), &b, 1.0);
        asked["circuits"][0]["breaker_a"] = json!(amperes);
        let answer = server.ask(PLAN, asked).await;
        // By hand: 1000 J a second at 230 V is 4.35 A; 3000 W are 13 A more.
        assert_eq!(answer["circuits"][0]["verdict"], verdict, "{lamp} {amperes}");
        assert_eq!(answer["feasible"], verdict != "over");
    }
    let mut asked = in_turns(&unit(0.0), &b, 1.0);
    let circuit = asked["circuits"][0].clone();
    asked["circuits"] = json!([]);
    assert_eq!(server.ask(PLAN, asked.clone()).await["circuits"], json!([]));
    asked["circuits"] = json!([circuit, circuit]);
    let faults = server.refused(PLAN, asked).await;
    assert_eq!(pointers(&faults), ["/circuits/1/name", "/circuits/1/units/0", "/circuits/1/units/1"]);
}

#[tokio::test]
async fn unusual_plans_are_answered() {
    let server = Server::start().await;
    // A single frame waits for no other.
    let mut asked = body(&json!(null), "9", 1.0);
    asked["shots"][0]["frames"] = json!(1);
    assert_eq!(server.ask(PLAN, asked).await["feasible"], true);
    // A unit without a scale is set in tenths of a stop: 1 s of 2 s is one stop down.
    let mut asked = body(&json!(null), "full", 1.0);
    asked["kit"][0]["unit"]["scale"] = json!(null);
    let answer = server.ask(PLAN, asked).await;
    close(&answer["units"][0]["work"][0]["setting_that_holds"]["stops_below_full"], 1.0, 1e-9);
    // A unit that is barely too slow is reported with as many digits as that takes.
    let mut asked = body(&json!(null), "9", 1.999);
    asked["shots"][0]["frames"] = json!(2);
    let summary = server.ask(PLAN, asked).await["summary"].clone();
    assert!(text(&summary).contains("recycles in 2 s, not within 1.999 s"), "{summary}");
    // Many charges; a lamp on a battery.
    let unit = json!({"name": "a".repeat(64), "energy": 500, "flashes_per_charge": 1, "draw": {"modelling_lamp_w": 20}});
    let names: Vec<String> =
        (1..=8).map(|k| if k == 1 { "a".repeat(64) } else { format!("{} #{k}", "a".repeat(64)) }).collect();
    let lights: Vec<Value> = names.iter().map(|name| json!({"unit": name, "setting": "full"})).collect();
    let shots: Vec<Value> = (0..64)
        .map(|k| json!({"name": k.to_string(), "frames": 1_000_000, "interval_s": 1, "lights": lights}))
        .collect();
    let answer =
        server.ask(PLAN, json!({"kit": [{"unit": unit, "count": 8}], "shots": shots, "reserve": 0.9})).await;
    // By hand: 64 million flashes of eight units, ten times as many charges for the reserve.
    assert!(text(&answer["summary"]).contains("Have 5120000000 charges"), "{}", answer["summary"]);
    assert!(codes(&answer["warnings"]).contains(&"lamp_on_battery"));
    // A fault in the reserve does not hide an unknown name.
    let mut asked = body(&json!(null), "9", 4.0);
    asked["reserve"] = json!(2);
    asked["circuits"][0]["units"] = json!(["nobody"]);
    assert_eq!(pointers(&server.refused(PLAN, asked).await), ["/circuits/0/units/0", "/reserve"]);
}

#[tokio::test]
async fn circuits_alone_are_answered_by_watts_and_volts() {
    let server = Server::start().await;
    // Derived (P = U·I·pf; any handbook of electricity): three lamps of 500 W at 120 V draw 12.5 A.
    let lamps = json!([{"watts": 500}, {"watts": 500}, {"watts": 500}]);
    let mut asked = json!({"circuits": [{"volts": 120, "breaker_a": 20, "devices": lamps}]});
    let answer = server.ask(PLAN, asked.clone()).await;
    let circuit = &answer["circuits"][0];
    close(&circuit["charging_a"]["low"], 12.5, 1e-9);
    close(&circuit["charging_a"]["typical"], 12.5, 1e-9);
    // A power factor that is not stated may be 0.7: from memory.
    close(&circuit["charging_a"]["high"], 12.5 / 0.7, 1e-4);
    close(&circuit["left_a"], 20.0 - 12.5 / 0.7, 1e-4);
    close(&circuit["mean_w"]["high"], 1500.0, 1e-9);
    assert_eq!((&circuit["rated_va"], &circuit["verdict"]), (&json!(2400.0), &json!("within")));
    assert_eq!((&circuit["name"], &circuit["energy_kwh"]), (&json!("circuit 1"), &Value::Null));
    assert_eq!(circuit["devices"][2], json!({"name": "device 3"}));
    assert_eq!((&answer["shots"], &answer["units"]), (&json!([]), &json!([])));
    assert_eq!((&answer["feasible"], &answer["complete"]), (&json!(true), &json!(true)));
    assert_eq!(assumed(&answer), ["device_power_factor"]);
    assert_eq!(codes(&answer["cautions"]), ["mains_load"]);
    assert!(
        text(&answer["summary"]).starts_with("Circuit \"circuit 1\" carries its load: up to 17.9 A of 20 A")
    );
    // Published for one country, NFPA 70, 210.20(A): 16 of 20 A for hours; how long is not said.
    assert_eq!(codes(&answer["warnings"]), ["long_load"]);
    asked["hours"] = json!("1/2 h");
    let answer = server.ask(PLAN, asked.clone()).await;
    assert_eq!(answer["warnings"], json!([]));
    close(&answer["circuits"][0]["energy_kwh"]["high"], 0.75, 1e-9);
    // A stated power factor leaves no range.
    asked["circuits"][0]["devices"] = json!([{"id": 7, "watts": 1900, "power_factor": 0.95}]);
    let answer = server.ask(PLAN, asked).await;
    close(&answer["circuits"][0]["charging_a"]["low"], 1900.0 / 0.95 / 120.0, 1e-4);
    close(&answer["circuits"][0]["charging_a"]["high"], 1900.0 / 0.95 / 120.0, 1e-4);
    assert_eq!(answer["circuits"][0]["devices"], json!([{"name": "7", "id": 7}]));
    assert_eq!(assumed(&answer), [""; 0]);
    // Nothing on it: 16 A at 230 V are 3680 VA.
    let answer = server.ask(PLAN, json!({"circuits": [{"volts": 230, "breaker_a": 16}]})).await;
    let circuit = &answer["circuits"][0];
    assert_eq!((&circuit["rated_va"], &circuit["left_a"]), (&json!(3680.0), &json!(16.0)));
    assert!(text(&answer["summary"]).starts_with("Circuit \"circuit 1\" carries up to 16 A (3680 VA)."));
}

#[tokio::test]
async fn units_without_shots_are_at_full_power() {
    let server = Server::start().await;
    // By hand: 1000 J a second are 1000 W; two at 230 V draw 8.7 A, and lamps of 250 W 2.17 A more.
    let ask = async |draw: Value, breaker: f64| {
        let unit = json!({"name": "a", "energy": 1000, "recycle_s": 1, "flashes_per_charge": 100,
            "duty": {"flashes": 60, "in_s": 300}, "draw": draw});
        let circuit = json!({"volts": 230, "breaker_a": breaker, "units": ["a", "a #2"]});
        server.ask(PLAN, json!({"kit": [{"unit": unit, "count": 2}], "circuits": [circuit]})).await
    };
    let stated = json!({"charging_efficiency": 1, "power_factor": 1, "modelling_lamp_w": 0});
    let open = json!({"charging_efficiency": 1, "power_factor": 1});
    for (draw, breaker, verdict) in [
        (&stated, 8.0, "over"),
        (&stated, 9.0, "within"),
        (&open, 9.0, "unknown"),
        (&open, 11.0, "within"),
        (&json!(null), 12.0, "unsure"),
    ] {
        let answer = ask(draw.clone(), breaker).await;
        assert_eq!(answer["circuits"][0]["verdict"], verdict, "{draw} {breaker}");
        assert!(assumed(&answer).contains(&"all_at_full_power"));
        assert!(!text(&answer["summary"]).contains("in time"), "{}", answer["summary"]);
    }
    let answer = ask(stated, 9.0).await;
    let unit = &answer["units"][1];
    close(&unit["power"]["charging_w"]["typical"], 1000.0, 1e-9);
    assert_eq!((&unit["work"], &unit["charges"], &unit["heat"]), (&json!([]), &Value::Null, &Value::Null));
    close(&answer["circuits"][0]["charging_a"]["typical"], 2000.0 / 230.0, 1e-4);
    // What a unit lacks is said without shots too.
    let body = json!({"kit": [{"unit": {"name": "b", "energy": 500}}],
        "circuits": [{"volts": 230, "breaker_a": 16, "units": ["b"]}], "hours": 2});
    let answer = server.ask(PLAN, body).await;
    assert_eq!(
        (&answer["circuits"][0]["verdict"], &answer["lacks"][0]["for"]),
        (&json!("unknown"), &json!("recycle"))
    );
    // Flashes that nobody counts have no energy.
    assert_eq!(answer["circuits"][0]["energy_kwh"], Value::Null);
}

#[tokio::test]
async fn energy_is_power_times_hours_and_flashes() {
    let server = Server::start().await;
    let stated = json!({"charging_efficiency": 0.8, "power_factor": 0.95, "modelling_lamp_w": 150});
    let mut asked = body(&stated, "8", 4.0);
    asked["circuits"][0]["devices"] = json!([{"name": "laptop", "watts": 200}]);
    asked["hours"] = json!(2);
    let answer = server.ask(PLAN, asked.clone()).await;
    // By uom: two units flash 100 times with 250 J of 0.8; three lamps and the laptop are on for two hours.
    let flashes = Energy::new::<joule>(2.0 * 100.0 * 250.0 / 0.8);
    let steady: Energy = Power::new::<watt>(3.0 * 150.0 + 200.0) * Time::new::<hour>(2.0);
    let all = (flashes + steady).get::<kilowatt_hour>();
    for end in ["low", "typical", "high"] {
        close(&answer["circuits"][0]["energy_kwh"][end], all, 1e-5);
    }
    assert!(text(&answer["summary"]).contains("Circuit \"wall\" draws 1.32 kWh."), "{}", answer["summary"]);
    // An efficiency that is not stated makes a range: by hand, 50 kJ over 0.9, 0.7, 0.5.
    let mut asked = body(&json!({"modelling_lamp_w": 0}), "8", 4.0);
    asked["hours"] = json!("2 h");
    let answer = server.ask(PLAN, asked).await;
    for (end, efficiency) in [("low", 0.9), ("typical", 0.7), ("high", 0.5)] {
        close(&answer["circuits"][0]["energy_kwh"][end], 0.05 / efficiency / 3.6, 1e-6);
    }
}

#[tokio::test]
async fn a_generator_is_limited_by_volt_amperes() {
    let server = Server::start().await;
    let ask = async |more: f64| {
        let devices = json!([
            {"name": "heater", "watts": 2000, "power_factor": 1},
            {"name": "pump", "watts": 600, "power_factor": 0.6},
            {"name": "lamp", "watts": more, "power_factor": 1}
        ]);
        let circuit = json!({"name": "lorry", "volts": 230, "generator_va": 3000, "devices": devices});
        server.ask(PLAN, json!({"circuits": [circuit], "hours": 8})).await
    };
    // By hand: 2000 W and 600 W at 0.6 are 3000 VA, though only 2600 W.
    let answer = ask(0.0).await;
    let circuit = &answer["circuits"][0];
    close(&circuit["charging_w"]["typical"], 2600.0, 1e-9);
    close(&circuit["charging_a"]["typical"], 3000.0 / 230.0, 1e-4);
    close(&circuit["breaker_a"], 3000.0 / 230.0, 1e-4);
    close(&circuit["energy_kwh"]["typical"], 20.8, 1e-9);
    assert_eq!((&circuit["verdict"], &circuit["left_a"]), (&json!("within"), &json!(0.0)));
    // The share for hours is a breaker's.
    assert_eq!(answer["warnings"], json!([]));
    let answer = ask(10.0).await;
    assert_eq!((&answer["circuits"][0]["verdict"], &answer["feasible"]), (&json!("over"), &json!(false)));
    let summary = text(&answer["summary"]);
    assert!(summary.contains("up to 13.1 A, and its generator gives 13 A (3000 VA)"), "{summary}");
}

#[tokio::test]
async fn a_plan_needs_shots_or_circuits_and_a_kit_for_its_units() {
    let server = Server::start().await;
    let circuit = |more: Value| {
        let mut circuit = json!({"volts": 230});
        for (name, value) in more.as_object().expect("fields") {
            circuit[name] = value.clone();
        }
        json!({"circuits": [circuit]})
    };
    let shots = json!({"shots": [{"name": "s", "lights": [{"unit": "a", "setting": "full"}]}]});
    for (asked, expected) in [
        (json!({}), "/shots"),
        (json!({"kit": [{"unit": {"energy": 500}}], "circuits": []}), "/shots"),
        (shots, "/kit"),
        (circuit(json!({"breaker_a": 16, "units": ["a"]})), "/kit"),
        (circuit(json!({})), "/circuits/0/breaker_a"),
        (circuit(json!({"breaker_a": 16, "generator_va": 3000})), "/circuits/0/generator_va"),
        (circuit(json!({"breaker_a": 16, "devices": [{"name": "tea"}]})), "/circuits/0/devices/0/watts"),
    ] {
        assert_eq!(pointers(&server.refused(PLAN, asked.clone()).await), [expected], "{asked}");
    }
}

/// A pack of 2400 J with two heads, and its supply.
fn pack(split: &Value) -> Value {
    let mut pack = json!({"name": "p", "energy": "2400 J", "split": split, "recycle_s": 2,
        "draw": {"charging_efficiency": 0.8, "power_factor": 0.95, "modelling_lamp_w": 500}});
    if *split == "even" {
        pack["scale"] = json!({"style": "dial", "full": 9, "least": 4});
    }
    pack
}

fn on_pack(split: &Value, settings: [&str; 2]) -> Value {
    json!({
        "packs": [pack(split)],
        "kit": [{"unit": {"name": "head", "pack": "p", "duty": {"flashes": 50, "in_s": 300}}, "count": 2}],
        "shots": [{"name": "crew", "frames": 10, "interval_s": 4, "lights": [
            {"unit": "head", "setting": settings[0]}, {"unit": "head #2", "setting": settings[1]}]}],
        "circuits": [{"name": "wall", "volts": 230, "breaker_a": 16, "units": ["head", "head #2"], "packs": ["p"]}]
    })
}

#[tokio::test]
async fn a_pack_recycles_and_draws_once_for_its_heads() {
    let server = Server::start().await;
    // Derived, as for a unit: a stop down, 1200 J of 2400 J, recycled in half of 2 s.
    let answer = server.ask(PLAN, on_pack(&json!("even"), ["8", "8"])).await;
    assert_eq!(answer["feasible"], true);
    let pack = &answer["packs"][0];
    assert_eq!((&pack["pack"], &pack["charges"]), (&json!("p"), &json!(null)));
    let work = &pack["work"][0];
    assert_eq!((&work["setting"]["label"], &work["holds"]), (&json!("8"), &json!(true)));
    close(&work["setting"]["energy_j"], 1200.0, 1e-9);
    close(&work["energy_j"], 1200.0, 1e-9);
    close(&work["left_j"], 1200.0, 1e-9);
    close(&work["recycle_s"], 1.0, 1e-9);
    // 1200 J / 0.8 every 4 s, and while it charges in 1 s; the lamps of both heads are 500 W.
    close(&pack["power"]["mean_w"]["typical"], 1200.0 / 0.8 / 4.0 + 500.0, 1e-6);
    close(&pack["power"]["charging_w"]["typical"], 1200.0 / 0.8 + 500.0, 1e-6);
    for unit in answer["units"].as_array().expect("units") {
        assert_eq!((&unit["power"], &unit["charges"]), (&json!(null), &json!(null)));
        close(&unit["work"][0]["setting"]["energy_j"], 600.0, 1e-9);
        close(&unit["work"][0]["recycle_s"], 1.0, 1e-9);
        // Ten flashes of a quarter of the pack's energy.
        close(&unit["heat"]["most_full_flashes"], 2.5, 1e-9);
    }
    let circuit = &answer["circuits"][0];
    assert_eq!(circuit["packs"], json!([{"name": "p"}]));
    close(&circuit["mean_w"]["typical"], 875.0, 1e-6);
    close(&circuit["charging_a"]["high"], 2000.0 / 0.95 / 230.0, 1e-4);
    assert_eq!(answer["shots"][0]["slowest_unit"], "p");
    assert_eq!((&answer["complete"], &answer["warnings"]), (&json!(true), &json!([])));

    // One head alone gets all of it, and the pack is charged no less. Any head stands for the pack.
    let mut body = on_pack(&json!("even"), ["8", "8"]);
    body["shots"][0]["lights"].as_array_mut().expect("lights").pop();
    body["circuits"][0] = json!({"volts": 230, "breaker_a": 16, "units": ["head #2"]});
    let answer = server.ask(PLAN, body).await;
    close(&answer["units"][0]["work"][0]["setting"]["energy_j"], 1200.0, 1e-9);
    close(&answer["circuits"][0]["mean_w"]["typical"], 875.0, 1e-6);
}

#[tokio::test]
async fn outlets_that_are_set_apart_add_up() {
    let server = Server::start().await;
    // 1200 J and 600 J of 2400 J: three quarters of 2 s.
    let split = json!({"each": {"most": "1200 J"}});
    let answer = server.ask(PLAN, on_pack(&split, ["full", "1/2"])).await;
    let work = &answer["packs"][0]["work"][0];
    assert_eq!(work["setting"], json!(null));
    close(&work["energy_j"], 1800.0, 1e-6);
    close(&work["recycle_s"], 1.5, 1e-6);
    // Every second: the half must be 0 J beside the 1200 J of the other, which none is; beside 600 J, 600 J are left.
    let mut body = on_pack(&split, ["full", "1/2"]);
    body["shots"][0]["interval_s"] = json!(1);
    let answer = server.ask(PLAN, body).await;
    assert_eq!(answer["feasible"], false);
    close(&answer["units"][0]["work"][0]["setting_that_holds"]["energy_j"], 600.0, 50.0);
    assert_eq!(answer["units"][1]["work"][0]["setting_that_holds"], json!(null));
}

#[tokio::test]
async fn circuits_alone_may_name_a_pack() {
    let server = Server::start().await;
    let body = json!({"packs": [pack(&json!("even"))],
        "circuits": [{"volts": 230, "breaker_a": 16, "packs": ["p"]}]});
    let answer = server.ask(PLAN, body).await;
    // 2400 J / 0.8 in 2 s, and the lamps.
    close(&answer["circuits"][0]["charging_w"]["high"], 2000.0, 1e-6);
    assert_eq!(answer["circuits"][0]["verdict"], "within");
    assert_eq!(answer["packs"][0]["work"], json!([]));
}

#[tokio::test]
async fn a_battery_pack_counts_its_charges_once() {
    let server = Server::start().await;
    let mut body = on_pack(&json!("even"), ["8", "8"]);
    body["packs"][0]["flashes_per_charge"] = json!(4);
    body["circuits"] = json!([]);
    let answer = server.ask(PLAN, body).await;
    // Ten flashes at half: five of four, with a fifth in reserve two charges.
    close(&answer["packs"][0]["charges"]["used"], 1.25, 1e-9);
    assert_eq!(answer["packs"][0]["charges"]["needed"], 2);
}

#[tokio::test]
async fn faults_about_packs_are_located() {
    let server = Server::start().await;
    let faults = server.refused(PLAN, on_pack(&json!("even"), ["8", "7"])).await;
    assert_eq!(pointers(&faults), ["/shots/0/lights/1/setting"]);
    let split = json!({"each": {"most": "1600 J"}});
    let faults = server.refused(PLAN, on_pack(&split, ["full", "full"])).await;
    assert_eq!(pointers(&faults), ["/shots/0/lights"]);
    let mut body = on_pack(&json!("even"), ["8", "8"]);
    body["circuits"] = json!([{"volts": 230, "breaker_a": 16, "units": ["head"]},
        {"volts": 230, "breaker_a": 16, "units": ["head #2"], "packs": ["q"]}]);
    let faults = server.refused(PLAN, body).await;
    assert_eq!(pointers(&faults), ["/circuits/1/units/0", "/circuits/1/packs/0"]);
    let mut body = on_pack(&json!("even"), ["8", "8"]);
    body["kit"][0]["unit"]["recycle_s"] = json!(2);
    body["kit"][0]["unit"]["draw"] = json!({"power_factor": 1});
    let faults = server.refused(PLAN, body).await;
    assert_eq!(pointers(&faults), ["/kit/0/unit/recycle_s", "/kit/0/unit/draw"]);
    let mut body = on_pack(&json!("even"), ["8", "8"]);
    body["packs"][0]["outlets"] = json!(1);
    let faults = server.refused(PLAN, body).await;
    assert_eq!(pointers(&faults), ["/shots/0/lights/1/unit"]);
}

#[tokio::test]
async fn a_pack_that_nobody_uses_or_that_lacks_its_time_is_told() {
    let server = Server::start().await;
    let mut body = on_pack(&json!("even"), ["8", "8"]);
    body["packs"][0].as_object_mut().expect("a pack").remove("recycle_s");
    let answer = server.ask(PLAN, body.clone()).await;
    assert_eq!(answer["lacks"][0]["pointer"], "/packs/0");
    assert_eq!(codes(&answer["warnings"]), ["recycle_unknown"]);
    body["packs"].as_array_mut().expect("packs").push(json!({"name": "q", "energy": 600, "split": "even",
        "scale": {"style": "dial", "full": 9, "least": 4}}));
    let answer = server.ask(PLAN, body).await;
    assert_eq!(codes(&answer["warnings"]), ["recycle_unknown", "pack_unused"]);
    assert_eq!(answer["warnings"][1]["at"], "/packs/1");
}

#[tokio::test]
async fn a_lamp_draws_what_it_states_and_does_not_recycle() {
    let server = Server::start().await;
    let ask = async |draw: Value| {
        let body = json!({
            "kit": [{"unit": {"name": "lamp", "continuous": {"intensity_cd": 4800}, "draw": draw}}],
            "shots": [{"name": "a", "frames": 20, "interval_s": 2, "lights": [{"unit": "lamp"}]}],
            "circuits": [{"name": "wall", "volts": 230, "breaker_a": 10, "units": ["lamp"]}]
        });
        server.ask("/v1/supply/plan", body).await
    };
    // By hand: 690 W at 230 V with a power factor of 1 are 3 A.
    let answer = ask(json!({"modelling_lamp_w": 690, "power_factor": 1})).await;
    let circuit = &answer["circuits"][0];
    assert_eq!(circuit["charging_a"], json!({"low": 3.0, "typical": 3.0, "high": 3.0}));
    assert_eq!((&circuit["verdict"], &answer["complete"]), (&json!("within"), &json!(true)));
    assert_eq!(answer["units"][0]["work"][0]["recycle_s"], 0.0);
    assert_eq!(answer["lacks"], json!([]));
    // Nothing is assumed for one that states nothing.
    let answer = ask(Value::Null).await;
    assert_eq!(answer["circuits"][0]["verdict"], "unknown");
    assert_eq!(answer["lacks"], json!([{"pointer": "/kit/0/unit", "needs": [["draw"]], "for": "draw"}]));
}
