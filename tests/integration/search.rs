//! The search behind `/v1/ratios/balance`: against a MILP solver, and what it says of its answer.

use serde_json::{Value, json};
use stopwright::light::balance::{
    clock::Budget,
    search::{Prefer, search},
};

use crate::{
    balance::{BALANCE, check, dial, three_lights},
    support::{Server, close},
};

#[path = "../../benches/common/mod.rs"]
#[expect(dead_code, reason = "the benchmark makes sets as well")]
mod instances;

#[test]
fn the_search_finds_what_a_milp_solver_found() {
    // The optima of a general-purpose solver, whose name and version stand in the file;
    // benches/milp/compare.py made it.
    let text = include_str!("../data/balance_instances.json");
    let data: Value = serde_json::from_str(text).expect("JSON");
    assert!(data["solver"].as_str().is_some_and(|solver| solver.starts_with("HiGHS")));
    let problems = instances::load(text);
    assert!(problems.len() >= 40);
    for (problem, told) in problems.iter().zip(data["instances"].as_array().expect("instances")) {
        let found = search(problem, Prefer::Accuracy, Budget::NONE);
        assert!(found.proven);
        close(&told["optimum_stops"], found.score.worst, 1e-6);
    }
}

#[tokio::test]
async fn what_holds_the_result_back_is_named() {
    let server = Server::start().await;
    let mut body = three_lights();
    // The wall wants three stops more than its light has.
    body["points"][2]["target"] = json!({"f_number": "f/32"});
    let answer = server.ask(BALANCE, body).await;
    check(&answer);
    assert_eq!(answer["feasible"], false);
    assert_eq!(answer["held_back_by"], json!({"at_full": ["wall"], "at_least": []}));
    // A click down of the wall light, a tenth of a stop, takes as much from the wall, and nothing elsewhere.
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
async fn aperture_and_iso_share_what_neither_can_do_alone() {
    let server = Server::start().await;
    let body = json!({
        "exposure": {"f_number": "f/8", "iso": 100},
        "lights": [dial("key", 500.0)],
        "points": [{"name": "face", "target": {"stops": 0}}],
        "readings": [{"light": "key", "point": "face", "setting": "9", "f_number": "f/4"}],
        "limits": {"f_number": ["f/5.6", "f/22"], "iso": [100, 200], "max_pops": 1}
    });
    let answer = server.ask(BALANCE, body).await;
    // Two stops are lacking, a third is tolerated: 1 2/3, of which the aperture has one.
    let remedy = &answer["remedies"][0];
    assert_eq!(remedy["change"], "aperture");
    close(&remedy["by"]["stops"], 5.0 / 3.0, 1e-4);
    let detail = remedy["detail"].as_str().expect("text");
    assert!(detail.contains("f/5.6") && detail.contains("ISO 160"), "{detail}");
}
