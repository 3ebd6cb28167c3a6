//! The search behind `/v1/ratios/balance`: against a MILP solver, and the guarantees that it reports.

use serde_json::{Value, json};
use stopwright::light::balance::{
    clock::Budget,
    search::{Objective, search},
};

use crate::{
    balance::{BALANCE, check, dial, three_lights},
    remedies::with_change,
    support::{Server, close},
};

#[path = "../../benches/common/mod.rs"]
#[expect(dead_code, reason = "the benchmark makes sets as well")]
mod instances;

#[test]
fn the_search_finds_what_a_milp_solver_found() {
    // The optima of a general-purpose solver, named in the file with its version; made by benches/milp/compare.py.
    let text = include_str!("../data/balance_instances.json");
    let data: Value = serde_json::from_str(text).expect("JSON");
    assert!(data["solver"].as_str().is_some_and(|solver| solver.starts_with("HiGHS")));
    let problems = instances::load(text);
    assert!(problems.len() >= 40);
    for (problem, reference) in problems.iter().zip(data["instances"].as_array().expect("instances")) {
        let found = search(problem, Objective::Accuracy, Budget::NONE);
        assert!(found.proven);
        close(&reference["optimum_stops"], found.score.worst, 1e-6);
    }
}

#[tokio::test]
async fn the_limiting_end_is_named() {
    let server = Server::start().await;
    let mut body = three_lights();
    // The target of the wall is three stops more than its light can give.
    body["points"][2]["target"] = json!({"f_number": "f/32"});
    let answer = server.ask(BALANCE, body).await;
    check(&answer);
    assert_eq!(answer["feasible"], false);
    assert_eq!(
        answer["held_back_by"],
        json!({"at_full": [{"name": "wall"}], "at_least": [], "complete": true})
    );
    // One click down, a tenth of a stop, on the wall light takes as much from the wall, and nothing elsewhere.
    let wall = &answer["clicks"][2];
    assert_eq!(wall["up"], Value::Null);
    close(&wall["down"]["change_stops"][0], 0.0, 1e-9);
    close(&wall["down"]["change_stops"][2], -0.1, 1e-4);
    assert_eq!(wall["down"]["label"], "8.9");
    // The smallest change comes first.
    let remedies = answer["remedies"].as_array().expect("remedies");
    assert!((1..=8).contains(&remedies.len()), "{remedies:?}");
}

#[tokio::test]
async fn aperture_and_iso_share_a_change_too_large_for_either() {
    let server = Server::start().await;
    let body = json!({
        "exposure": {"f_number": "f/8", "iso": 100},
        "lights": [dial("key", 500.0)],
        "points": [{"name": "face", "target": {"stops": 0}}],
        "readings": [{"light": "key", "point": "face", "setting": "9", "f_number": "f/4"}],
        "limits": {"f_number": ["f/5.6", "f/22"], "iso": [100, 200], "max_pops": 1}
    });
    let answer = server.ask(BALANCE, body).await;
    // Two stops short, of which the aperture can give one.
    let changes = &answer["remedies"][0]["changes"];
    assert_eq!((&changes[0]["change"], &changes[1]["change"]), (&json!("aperture"), &json!("iso")));
    assert_eq!(changes[0]["to"]["f_number"]["mark"], "f/5.6");
    assert_eq!(changes[1]["to"]["iso"]["mark"], "ISO 200");
    close(&changes[0]["by_stops"], 1.0, 1e-4);
    close(&changes[1]["by_stops"], 1.0, 1e-4);
}

#[tokio::test]
async fn five_lights_on_one_point_are_balanced() {
    let server = Server::start().await;
    let unit = json!({"energy": 300, "guide_number": {"value": 40, "unit": "m"}, "scale": {"style": "dial", "full": 9, "least": 2}});
    let lights: Vec<Value> = (0..5).map(|l| json!({"name": format!("l{l}"), "unit": unit})).collect();
    let placements: Vec<Value> = (0..5)
        .map(|l| json!({"light": format!("l{l}"), "point": "p", "distance": 2.0 + 0.5 * f64::from(l)}))
        .collect();
    for target in [-1.5, 0.0, 2.0] {
        for prefer in ["accuracy", "least_energy"] {
            let body = json!({
                "exposure": {"f_number": "f/8"}, "lights": lights, "placements": placements, "prefer": prefer,
                "points": [{"name": "p", "target": {"stops": target}}], "time_limit_ms": 50
            });
            let answer = server.ask(BALANCE, body).await;
            if prefer == "accuracy" {
                check(&answer);
            }
            assert_eq!(answer["feasible"], true);
        }
    }
}

#[tokio::test]
async fn weights_may_cost_the_tolerance_with_a_warning() {
    let server = Server::start().await;
    let mut body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [{"name": "a", "unit": {"energy": 100, "scale": {"style": "dial", "full": 9, "least": 2}}}],
        "points": [{"name": "p", "target": {"stops": 0}, "weight": 0.1}, {"name": "q", "target": {"stops": 0.5}}],
        "readings": [
            {"light": "a", "point": "p", "setting": "full", "f_number": "f/11"},
            {"light": "a", "point": "q", "setting": "full", "f_number": "f/11"}
        ],
        "tolerance_stops": 0.3
    });
    let answer = server.ask(BALANCE, body.clone()).await;
    assert_eq!(answer["feasible"], false);
    let codes: Vec<&str> =
        answer["warnings"].as_array().expect("warnings").iter().filter_map(|w| w["code"].as_str()).collect();
    assert!(codes.contains(&"weights_over_tolerance"), "{codes:?}");
    assert_eq!(answer["remedies"], json!([]), "none that the weights would undo");
    body["prefer"] = json!("least_energy");
    assert_eq!(server.ask(BALANCE, body).await["feasible"], true);
}

#[tokio::test]
async fn pops_add_up_in_a_balance() {
    let server = Server::start().await;
    let body = |pops: u32| {
        json!({
            "exposure": {"f_number": "f/8"},
            "lights": [{"name": "key", "unit": dial("key", 500.0)["unit"], "pops": pops}],
            "points": [{"name": "face", "target": {"stops": 0}}],
            "readings": [{"light": "key", "point": "face", "setting": "9", "f_number": "f/4"}],
            "limits": {"max_pops": 8}
        })
    };
    // Two stops short: the remedy of four pops works.
    let answer = server.ask(BALANCE, body(1)).await;
    assert_eq!(answer["feasible"], false);
    let more = with_change(&answer["remedies"], "pops").expect("more pops");
    assert_eq!(more["changes"][0]["to"]["pops"], 4);
    let answer = server.ask(BALANCE, body(4)).await;
    assert_eq!(answer["feasible"], true);
    close(&answer["total_energy_j"], 2000.0, 1e-9);
}

#[tokio::test]
async fn fine_clicks_and_exact_ties_come_to_an_end() {
    let server = Server::start().await;
    // A regression: a chain of "better" choices led back to where it began.
    let body = json!({
        "exposure": {"f_number": "f/8"},
        "lights": [
            {"name": "l1", "unit": {"energy": 100, "scale": {"style": "percent", "least": 1, "click": 0.01}}},
            {"name": "l2", "unit": {"energy": 400, "scale": {"style": "percent", "least": 1, "click": 0.01}}},
            {"name": "l3", "unit": {"energy": 100, "scale": {"style": "percent", "least": 5, "step": 1}}},
            {"name": "l5", "unit": {"energy": 600, "scale": {"style": "fraction", "least": "1/128", "click": "1/3"}}}
        ],
        "points": [{"name": "p0", "target": {"f_number": "f/8"}}, {"name": "p1", "target": {"stops": -2}}],
        "readings": [
            {"light": "l1", "point": "p0", "setting": "full", "f_number": 0.5}, {"light": "l1", "point": "p1", "setting": "full", "f_number": 2},
            {"light": "l2", "point": "p0", "setting": "full", "f_number": 0.5}, {"light": "l3", "point": "p0", "setting": "full", "f_number": 8},
            {"light": "l3", "point": "p1", "setting": "full", "f_number": 0.5}, {"light": "l5", "point": "p0", "setting": "full", "f_number": 4},
            {"light": "l5", "point": "p1", "setting": "full", "f_number": 22}
        ],
        "prefer": "least_energy", "time_limit_ms": 20
    });
    let begun = std::time::Instant::now();
    server.ask(BALANCE, body).await;
    assert!(begun.elapsed().as_secs() < 5, "{:?}", begun.elapsed());
}

#[tokio::test]
async fn the_least_energy_of_a_corrected_unit_is_bounded() {
    let server = Server::start().await;
    let answer = server
        .ask(
            BALANCE,
            json!({
                "exposure": {"f_number": "f/8"},
                "lights": [{"name": "a", "unit": {"energy": 600, "scale": {"style": "dial", "full": 9, "least": 3},
                    "corrections": [{"setting": "9", "stops": 0}, {"setting": "7", "stops": 0.3}]}}],
                "points": [{"name": "p", "target": {"stops": -5}}],
                "readings": [{"light": "a", "point": "p", "setting": "9", "f_number": "f/8"}],
                "prefer": "least_energy", "tolerance_stops": 0.05
            }),
        )
        .await;
    assert_eq!(answer["optimality"]["proven"], true);
    assert_eq!(answer["optimality"]["lower_bound_energy_j"], answer["total_energy_j"]);
}
