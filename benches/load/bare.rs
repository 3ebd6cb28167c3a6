//! What the framework does without us: reads JSON of the size of a `stops/convert` question into a type, writes JSON
//! of the size of its answer out of one, and nothing else.

#![expect(clippy::expect_used, reason = "a benchmark fails by panicking")]

use axum::{Json, Router, routing::post};
use serde::{Deserialize, Serialize};

#[derive(Deserialize)]
struct Question {
    from: String,
    to: String,
}

#[derive(Serialize)]
struct Answer {
    kind: &'static str,
    unit: Option<&'static str>,
    from: Marked,
    to: Marked,
    exposure_stops: f64,
    light_ratio: f64,
}

#[derive(Serialize)]
struct Marked {
    value: f64,
    mark: String,
    read_as: &'static str,
    off_by_stops: f64,
}

async fn answer(Json(question): Json<Question>) -> Json<Answer> {
    let marked = |mark, value| Marked { value, mark, read_as: "marked", off_by_stops: 0.0 };
    Json(Answer {
        kind: "f_number",
        unit: None,
        from: marked(question.from, 8.0),
        to: marked(question.to, 11.3137),
        exposure_stops: -1.0,
        light_ratio: 0.5,
    })
}

#[tokio::main]
async fn main() {
    let router = Router::new().route("/v1/stops/convert", post(answer));
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.expect("a port");
    println!("listening on http://{}", listener.local_addr().expect("an address"));
    axum::serve(listener, router).await.expect("served");
}
