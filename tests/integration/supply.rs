//! `/v1/supply/plan`.

use serde_json::{Value, json};
use uom::si::{
    electric_current::ampere,
    electric_potential::volt,
    energy::joule,
    f64::{ElectricPotential, Energy, Power, Time},
    power::watt,
    time::second,
};

use crate::support::{Server, close, pointers};

const PLAN: &str = "/v1/supply/plan";

fn head(draw: &Value) -> Value {
    json!({"name": "head", "energy": "500 J", "scale": {"style": "dial", "full": 9, "least": 2},
        "recycle_s": 2, "draw": draw})
}

fn body(draw: &Value, setting: &str, seconds: f64) -> Value {
    json!({
        "kit": [{"unit": head(draw), "count": 3}],
        "shots": [{"name": "crew", "pops": 100, "seconds_between": seconds, "lights": [
            {"unit": "head", "setting": setting}, {"unit": "head #2", "setting": setting}]}],
        "circuits": [{"name": "wall", "volts": 230, "breaker_amps": 16, "units": ["head", "head #2", "head #3"]}]
    })
}

fn text(value: &Value) -> &str {
    value.as_str().expect("text")
}

fn codes(remarks: &Value) -> Vec<&str> {
    remarks.as_array().expect("a list").iter().map(|remark| text(&remark["code"])).collect()
}

#[tokio::test]
async fn power_is_energy_over_time_and_efficiency() {
    let server = Server::start().await;
    let stated = json!({"charging_efficiency": 0.8, "power_factor": 0.95, "modelling_lamp_w": 150});
    // One stop down: 250 J each 4 s, recycled in 1 s.
    let answer = server.ask(PLAN, body(&stated, "8", 4.0)).await;
    assert_eq!(answer["feasible"], true);
    // uom, a general-purpose library of units, is the reference.
    let energy = Energy::new::<joule>(250.0) / 0.8;
    let mean: Power = energy / Time::new::<second>(4.0);
    let peak: Power = energy / Time::new::<second>(1.0);
    let unit = &answer["units"][0];
    for end in ["low", "typical", "high"] {
        close(&unit["power"]["mean_w"][end], mean.get::<watt>() + 150.0, 1e-3);
        close(&unit["power"]["peak_w"][end], peak.get::<watt>() + 150.0, 1e-3);
    }
    close(&unit["work"][0]["recycle_s"], 1.0, 1e-12);
    // Two at work; the lamp of the third burns as well.
    let lamps = Power::new::<watt>(3.0 * 150.0);
    let amperes = |each: Power| {
        let current = (each * 2.0 / 0.95 + lamps) / ElectricPotential::new::<volt>(230.0);
        current.get::<ampere>()
    };
    let circuit = &answer["circuits"][0];
    close(&circuit["mean_w"]["typical"], 2.0 * mean.get::<watt>() + 450.0, 1e-2);
    close(&circuit["mean_a"]["typical"], amperes(mean), 1e-4);
    close(&circuit["peak_a"]["high"], amperes(peak), 1e-4);
    assert_eq!(circuit["verdict"], "within");
    assert_eq!(answer["assumptions"], json!([]));
    assert!(text(&answer["summary"]).contains("licensed electrician"));
    let shot = &answer["shots"][0];
    close(&shot["lasts_s"], 99.0 * 4.0, 1e-9);
    assert_eq!((&shot["holds"], &shot["slowest_unit"]), (&json!(true), &json!("head")));
    assert_eq!(codes(&answer["cautions"]), ["stored_charge", "mains_load", "heat"]);
}

#[tokio::test]
async fn what_is_not_stated_is_assumed_and_told() {
    let server = Server::start().await;
    let answer = server.ask(PLAN, body(&json!(null), "9", 4.0)).await;
    let peak = &answer["circuits"][0]["peak_a"];
    // By hand, of two: 500 J in 2 s over 0.9, 0.7, 0.5, over a power factor of 1, 0.8, 0.6, over 230 V.
    close(&peak["low"], 2.0 * 250.0 / 0.9 / 230.0, 1e-5);
    close(&peak["typical"], 2.0 * 250.0 / 0.7 / 0.8 / 230.0, 1e-5);
    close(&peak["high"], 2.0 * 250.0 / 0.5 / 0.6 / 230.0, 1e-5);
    let assumed: Vec<&str> =
        answer["assumptions"].as_array().expect("a list").iter().map(|a| text(&a["name"])).collect();
    assert_eq!(assumed, ["charging_efficiency", "power_factor"]);
}

#[tokio::test]
async fn a_breaker_is_within_beyond_or_between_the_estimates() {
    let server = Server::start().await;
    for (amperes, verdict, feasible) in [(8.0, "within", true), (4.0, "unsure", true), (2.0, "over", false)] {
        let mut asked = body(&json!(null), "9", 4.0);
        asked["circuits"][0]["breaker_amps"] = json!(amperes);
        let answer = server.ask(PLAN, asked).await;
        assert_eq!(
            (&answer["circuits"][0]["verdict"], &answer["feasible"]),
            (&json!(verdict), &json!(feasible))
        );
        assert_eq!(text(&answer["summary"]).contains("circuit \"wall\""), verdict != "within");
    }
    // Published for one country, NFPA 70, 210.20(A): a load of hours takes at most 80 % of its breaker.
    let mut asked = body(&json!({"charging_efficiency": 1, "power_factor": 1}), "9", 4.0);
    asked["circuits"][0]["breaker_amps"] = json!(2.0 * 125.0 / 230.0 / 0.8 * 1.001);
    assert!(!codes(&server.ask(PLAN, asked.clone()).await["warnings"]).contains(&"long_load"));
    asked["circuits"][0]["breaker_amps"] = json!(2.0 * 125.0 / 230.0 / 0.8 * 0.999);
    assert!(codes(&server.ask(PLAN, asked).await["warnings"]).contains(&"long_load"));
}

#[tokio::test]
async fn a_pace_that_units_do_not_hold_is_told_with_what_would() {
    let server = Server::start().await;
    let answer = server.ask(PLAN, body(&json!(null), "9", 1.5)).await;
    assert_eq!(answer["feasible"], false);
    let shot = &answer["shots"][0];
    assert_eq!((&shot["holds"], &shot["shortest_interval_s"]), (&json!(false), &json!(2.0)));
    // The frames come as fast as they can.
    close(&shot["lasts_s"], 198.0, 1e-9);
    let work = &answer["units"][0]["work"][0];
    assert_eq!(work["holds"], false);
    // By hand: 1.5 s is 0.75 of full energy, 0.415 stops down; the next tenth is 0.5.
    assert_eq!(work["setting_that_holds"]["label"], "8.5");
    let again = server.ask(PLAN, body(&json!(null), "8.5", 1.5)).await;
    assert_eq!(again["feasible"], true);
    let summary = text(&answer["summary"]);
    assert!(summary.starts_with("In \"crew\" head recycles in 2 s, not within 1.5 s."), "{summary}");
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
    let plan = |pops: u32, reserve: f64| {
        json!({
            "kit": [{"unit": {"name": "battery head", "energy": 500, "recycle_s": 1.5, "pops_per_charge": 220,
                "scale": {"style": "dial", "full": 9, "least": 2}}}],
            "shots": [
                {"name": "one", "pops": pops, "lights": [{"unit": "battery head", "setting": "9"}]},
                {"name": "two", "pops": 2 * pops, "lights": [{"unit": "battery head", "setting": "8"}]}],
            "reserve": reserve
        })
    };
    // By hand: 110 full and 220 half flashes are 220 full ones, one charge.
    let answer = server.ask(PLAN, plan(110, 0.0)).await;
    let charges = &answer["units"][0]["charges"];
    assert_eq!((&charges["used"], &charges["needed"]), (&json!(1.0), &json!(1)));
    let answer = server.ask(PLAN, plan(110, 0.2)).await;
    assert_eq!(answer["units"][0]["charges"]["needed"], 2);
    assert!(text(&answer["summary"]).contains("Have 2 charges"));
    // Not on the mains.
    assert_eq!(codes(&answer["cautions"]), ["stored_charge", "heat"]);
}

#[tokio::test]
async fn more_than_three_flashes_a_second_are_cautioned() {
    let server = Server::start().await;
    // Published: WCAG 2.x, success criterion 2.3.1.
    for (seconds, cautioned) in [(0.3, true), (1.0 / 3.0, false), (0.4, false)] {
        let mut asked = body(&json!(null), "4", seconds);
        asked["shots"][0]["pops"] = json!(10);
        let answer = server.ask(PLAN, asked).await;
        assert_eq!(codes(&answer["cautions"]).contains(&"photosensitivity"), cautioned, "{seconds}");
    }
}

#[tokio::test]
async fn heads_have_their_duty() {
    let server = Server::start().await;
    let mut asked = body(&json!(null), "9", 4.0);
    asked["kit"][0]["unit"]["duty"] = json!({"pops": 60, "in_s": 300});
    let answer = server.ask(PLAN, asked.clone()).await;
    let heat = &answer["units"][0]["heat"];
    // By hand: 75 flashes 4 s apart in 300 s, where 60 are allowed, one each 5 s.
    assert_eq!((&heat["most_full_pops"], &heat["within_duty"]), (&json!(75.0), &json!(false)));
    assert_eq!((&heat["interval_within_duty_s"], &answer["feasible"]), (&json!(5.0), &json!(false)));
    assert!(text(&answer["summary"]).contains("The head of head bears 75 full flashes in 300 s"));
    asked["shots"][0]["seconds_between"] = json!(5);
    assert_eq!(server.ask(PLAN, asked).await["feasible"], true);
}

#[tokio::test]
async fn what_a_kit_check_says_can_be_planned() {
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
    let shots = json!([{"name": "crew", "pops": 60, "seconds_between": 2, "lights": lights}]);
    let answer = server.ask(PLAN, json!({"kit": kit, "shots": shots})).await;
    assert_eq!(answer["feasible"], true);
    assert_eq!(answer["units"][0]["work"][0]["setting"], checked["shots"][0]["lights"][0]["setting"]);
}

#[tokio::test]
async fn what_is_not_known_is_not_made_up() {
    let server = Server::start().await;
    let answer = server
        .ask(
            PLAN,
            json!({
                "kit": [{"unit": {"name": "shoe-mount", "guide_number": {"value": 36, "unit": "m"}}}],
                "shots": [{"name": "slip", "pops": 20, "lights": [{"unit": "shoe-mount", "setting": "1/4"}]}],
                "circuits": [{"name": "wall", "volts": 230, "breaker_amps": 16, "units": ["shoe-mount"]}]
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
    assert!(text(&answer["summary"]).contains("not known"));
}

#[tokio::test]
async fn names_that_point_nowhere_are_faults() {
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
