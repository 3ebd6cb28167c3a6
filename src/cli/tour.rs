//! The `tour` command: plays a worked studio day through a real server.

use std::{fmt::Write as _, io};

use serde_json::{Value, json};
use tokio::{net::TcpListener, sync::oneshot};

use crate::{app::App, cli::io::print, server::state::Config};

/// One request of the day.
struct Scene {
    title: &'static str,
    why: &'static str,
    path: &'static str,
    body: Value,
}

/// Starts a server on a free port, sends every request over HTTP, and prints requests and answers.
pub async fn play() -> io::Result<()> {
    let listener = TcpListener::bind("127.0.0.1:0").await?;
    let url = format!("http://{}", listener.local_addr()?);
    let (stop, stopped) = oneshot::channel::<()>();
    let server = tokio::spawn(App::new(Config::default()).serve(listener, async move {
        // Dropping the sender stops the server too.
        let _ = stopped.await;
    }));
    print("A day in the boathouse: portraits of a rowing club's crew. First the booking, then the day.\n")?;
    let client = reqwest::Client::builder().no_proxy().build().map_err(io::Error::other)?;
    for (number, scene) in scenes().iter().enumerate() {
        let response = client
            .post(format!("{url}{}", scene.path))
            .header("accept", "text/plain, application/json;q=0.5")
            .json(&scene.body)
            .send()
            .await
            .map_err(io::Error::other)?;
        let status = response.status();
        let answer = response.text().await.map_err(io::Error::other)?;
        // A batch has no text answer, only JSON.
        let answer = match serde_json::from_str::<Value>(&answer) {
            Ok(json) => serde_json::to_string_pretty(&json).unwrap_or_default(),
            Err(_) => answer,
        };
        print(&render(number + 1, scene, &answer))?;
        if !status.is_success() {
            return Err(io::Error::other(format!("{} answered {status}", scene.path)));
        }
    }
    drop(client);
    drop(stop);
    server.await.map_err(io::Error::other)?
}

/// A request and its answer as text.
fn render(number: usize, scene: &Scene, answer: &str) -> String {
    let body = serde_json::to_string_pretty(&scene.body).unwrap_or_default();
    let request = format!("POST {}\n{body}", scene.path);
    let mut text = format!("\n{number}. {}\n   {}\n", scene.title, scene.why);
    for (arrow, lines) in [(">", request.as_str()), ("<", answer)] {
        text.push('\n');
        for line in lines.lines() {
            // Writing to a String cannot fail.
            let _ = writeln!(text, "{}", format!("   {arrow} {line}").trim_end());
        }
    }
    text
}

/// The kit: a big key light whose dial runs down from 9 at full, a fill whose dial runs up from 0 at full, a backdrop
/// light in percent, and a shoe-mount unit that states only a guide number.
fn kit() -> [Value; 4] {
    [
        json!({"name": "key", "energy": "1000 J", "scale": {"style": "dial", "full": 9, "least": 2, "click": "1/10"}}),
        json!({"name": "fill", "energy": "500 J", "scale": {"style": "dial", "full": 0, "least": 6, "click": "1/10"}}),
        json!({"name": "backdrop", "energy": "250 J", "scale": {"style": "percent", "least": 4}}),
        json!({"name": "shoe-mount", "guide_number": {"value": 36, "unit": "m"}, "coverage": {"focal_length_mm": 35},
            "scale": {"style": "fraction", "least": "1/128", "click": "1/3"}}),
    ]
}

fn scenes() -> Vec<Scene> {
    let [key, fill, backdrop, shoe] = kit();
    let mut scenes = booking();
    scenes.extend(vec![
        Scene {
            title: "The brief wants f/11; yesterday was f/8.",
            why: "How many stops is that?",
            path: "/v1/stops/convert",
            body: json!({"from": "f/8", "to": "f/11"}),
        },
        Scene {
            title: "What is the shoe-mount unit worth in joules?",
            why: "It states only a guide number of 36 m at 35 mm, so this is an estimate.",
            path: "/v1/guide-number/energy",
            body: json!({"guide_number": {"value": 36, "unit": "m"}, "coverage": {"focal_length_mm": 35}}),
        },
        Scene {
            title: "The key must go to another room. Can the fill or a backdrop light stand in?",
            why: "The key stands at 7.5 and is right at f/11, two metres off.",
            path: "/v1/energy/equivalence",
            body: json!({
                "reference": {"unit": key, "setting": "7.5", "exposure": {"f_number": "f/11"}, "distance": "2 m"},
                "candidates": [{"unit": fill}, {"unit": backdrop}, {"unit": shoe, "distance": "1 m"}],
                "limits": {"f_number": ["f/5.6", "f/16"], "iso": [100, 400], "max_pops": 4}
            }),
        },
        Scene {
            title: "What does the borrowed head really give?",
            why: "The key at 8 met f/11 on the grey card; the borrowed head in its place met f/8 and 0.3.",
            path: "/v1/energy/measured",
            body: json!({
                "reference": {"energy": "500 J", "f_number": "f/11"},
                "other": {"f_number": "f/8 +0.3"}
            }),
        },
        Scene {
            title: "The eight sit in a row three metres deep. From where is the big softbox even on them?",
            why: "Within a third of a stop from stroke to bow; the softbox is 1.2 by 1.8 m.",
            path: "/v1/lights/falloff",
            body: json!({
                "source": {"rectangle_m": ["1.2 m", "1.8 m"]}, "distances": ["2 m", "4 m", "6 m"],
                "depth": "3 m", "within_stops": "1/3"
            }),
        },
        Scene {
            title: "Before a light is switched on: what will stroke and cox get?",
            why: "The shoe-mount unit on a pole, aimed at stroke; the evening comes in through the boathouse door.",
            path: "/v1/exposure/predict",
            body: json!({
                "exposure": {"f_number": "f/5.6", "iso": 200, "exposure_time": "1/60"},
                "lights": [{"name": "pole", "unit": shoe, "setting": "1/2", "position": [1, -3, 2.5], "aim": [0, 0, 1.6],
                    "beam": {"half_power_deg": 60}}],
                "points": [
                    {"name": "stroke", "position": [0, 0, 1.6], "normal": [0, -1, 0]},
                    {"name": "cox", "position": [-2, 0, 1.4], "normal": [0, -1, 0]}
                ],
                "ambient": [{"point": "stroke", "illuminance_lx": 40}, {"point": "cox", "illuminance_lx": 60}]
            }),
        },
        Scene {
            title: "How must every light be set?",
            why: "f/8 on the face, 3:1 to the shadow cheek, the backdrop a stop under: each light was metered alone.",
            path: "/v1/ratios/balance",
            body: json!({
                "exposure": {"f_number": "f/8"},
                "lights": [
                    {"name": "key", "unit": key}, {"name": "fill", "unit": fill},
                    {"name": "backdrop left", "unit": backdrop}, {"name": "backdrop right", "unit": backdrop}
                ],
                "points": [
                    {"name": "face", "target": {"f_number": "f/8"}, "weight": 2},
                    {"name": "shadow cheek", "target": {"ratio": "3:1", "to": "face"}},
                    {"name": "backdrop at left", "target": {"stops": -1}},
                    {"name": "backdrop at right", "target": {"stops": -1}}
                ],
                "readings": [
                    {"light": "key", "point": "face", "setting": "8", "f_number": "f/11"},
                    {"light": "key", "point": "shadow cheek", "setting": "8", "f_number": "f/2.8"},
                    {"light": "fill", "point": "face", "setting": "1", "f_number": "f/4 +0.3"},
                    {"light": "fill", "point": "shadow cheek", "setting": "1", "f_number": "f/5.6"},
                    {"light": "backdrop left", "point": "backdrop at left", "setting": "50 %", "f_number": "f/8 +0.7"},
                    {"light": "backdrop left", "point": "backdrop at right", "setting": "50 %", "f_number": "f/4"},
                    {"light": "backdrop right", "point": "backdrop at left", "setting": "50 %", "f_number": "f/4 +0.3"},
                    {"light": "backdrop right", "point": "backdrop at right", "setting": "50 %", "f_number": "f/8 +0.5"}
                ]
            }),
        },
        Scene {
            title: "The last portrait is outdoors on the slip, with the shoe-mount unit alone.",
            why: "Can it do f/16 from three metres through a small softbox?",
            path: "/v1/ratios/balance",
            body: json!({
                "exposure": {"f_number": "f/16"},
                "lights": [{"name": "shoe-mount", "unit": shoe}],
                "points": [{"name": "face", "target": {"stops": 0}}],
                "placements": [{"light": "shoe-mount", "point": "face", "distance": "3 m", "modifier_stops": -1}],
                "limits": {"f_number": ["f/5.6", "f/22"], "iso": [100, 800], "max_pops": 8}
            }),
        },
    ]);
    scenes
}

/// The kit as a booking system knows it: guide numbers, recycling and power draw.
fn booked() -> Value {
    json!([
        {"unit": {"name": "big", "energy": "1000 J", "guide_number": {"value": 80, "unit": "m"},
            "scale": {"style": "dial", "full": 9, "least": 2}, "recycle_s": 1.8,
            "draw": {"charging_efficiency": 0.8, "modelling_lamp_w": 250}, "duty": {"flashes": 60, "in_s": 300}}},
        {"unit": {"name": "small", "energy": "400 J", "guide_number": {"value": 50, "unit": "m"},
            "scale": {"style": "dial", "full": 9, "least": 2}, "recycle_s": 1.2, "flashes_per_charge": 300}, "count": 2}
    ])
}

/// The requests of the week before.
fn booking() -> Vec<Scene> {
    vec![
        Scene {
            title: "A week before: can the boathouse kit do the brief?",
            why: "The crew at the slip at f/8, a frame every three seconds.",
            path: "/v1/kit/check",
            body: json!({
                "kit": booked(),
                "shots": [{"name": "crew at the slip", "exposure": {"f_number": "f/8"}, "frames": 400, "interval_s": 3,
                    "lights": [
                        {"role": "key", "stops": 0, "distance": "3 m", "modifier_stops": -1.5},
                        {"role": "fill", "stops": -1.5, "distance": "4 m", "modifier_stops": -2}
                    ]}]
            }),
        },
        Scene {
            title: "Will it keep up, and will the old wall socket hold?",
            why: "The settings are those of the answer before; the breaker is for 10 A.",
            path: "/v1/supply/plan",
            body: json!({
                "kit": booked(),
                "shots": [{"name": "crew at the slip", "frames": 400, "interval_s": 3, "lights": [
                    {"unit": "big", "setting": "7"}, {"unit": "small", "setting": "8.2"}
                ]}],
                "circuits": [{"name": "boathouse wall", "volts": 230, "breaker_a": 10, "units": ["big"]}]
            }),
        },
        Scene {
            title: "The booking page asks the rest at once.",
            why: "One request, two questions; the second is a slip of the keyboard and does not spoil the first.",
            path: "/v1/batch",
            body: json!({"requests": [
                {"id": "from the pontoon", "path": "/v1/stops/convert", "body": {"from": "8 ft", "to": "16 ft", "units": "imperial"}},
                {"id": "slip", "path": "/v1/stops/convert", "body": {"from": "f/8", "to": "f/0"}}
            ]}),
        },
    ]
}
