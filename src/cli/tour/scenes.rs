//! The scenes of the tour. What they say of an answer is taken from the answer.

use std::collections::HashMap;

use serde_json::{Value, json};

use crate::wording::format::{rounded_stops, signed_stops};

/// What was asked and answered so far, by path.
pub type Answers = HashMap<&'static str, (Value, Value)>;

/// A question of the day.
pub struct Scene {
    /// What it is about.
    pub title: &'static str,
    /// What is asked on set.
    pub before: &'static str,
    /// The path of the calculation, without `/v1/`.
    pub path: &'static str,
    /// The body of the request, from what was answered before.
    pub body: fn(&Answers) -> Value,
    /// What is new in a body that is otherwise known.
    pub news: Option<fn(&Value) -> Value>,
    /// Whether the answer has a picture.
    pub is_drawn: bool,
    /// What the answer means.
    pub after: fn(&Value) -> String,
}

/// All scenes, in order.
pub fn scenes() -> [Scene; 6] {
    [
        Scene {
            title: "The evening before: will the kit do?",
            before: "The eight in a row want the lens at f/11 from four metres, the single portraits f/8 from close by, and a frame every few seconds. Which head does what, and is there enough light?",
            path: "kit/check",
            body: |_| planned(),
            news: None,
            is_drawn: true,
            after: after_planning,
        },
        Scene {
            title: "In the morning the key head is gone to another room.",
            before: "It stood at 7.4. A borrowed head counts in joules and has another reflector; what is it set to, so that the picture stays as it is?",
            path: "energy/equivalence",
            body: |_| {
                json!({
                    "reference": {"unit": key_head(), "setting": "7.4"},
                    "candidates": [{"unit": borrowed_head()}]
                })
            },
            news: None,
            is_drawn: false,
            after: after_the_swap,
        },
        Scene {
            title: "The set: what does every light go to?",
            before: "A portrait at f/8, three to one from the lit side to the shadow side, the hair a third over, and the backdrop two under. The tape measure gives the distances; nothing has been fired yet.",
            path: "ratios/balance",
            body: |_| set(),
            news: None,
            is_drawn: true,
            after: after_the_set,
        },
        Scene {
            title: "The evening comes in through the boathouse door.",
            before: "A meter at the subject reads 300 lux with the flash off. At 1/60 s, does the daylight stay out of the picture?",
            path: "ambient/check",
            body: |_| {
                json!({
                    "exposure": {"f_number": "f/8", "exposure_time": "1/60", "sync_time": "1/200"},
                    "ambient": {"illuminance_lx": 300}
                })
            },
            news: None,
            is_drawn: false,
            after: after_the_ambient,
        },
        Scene {
            title: "The first flash: one round with the meter.",
            before: "The lights stand as they were set, and all of them fire. The meter goes to the face, to the shadow side, to the hair and to the backdrop. Which light is off, and what is it set to now?",
            path: "sets/correct",
            body: metered,
            news: Some(|body| json!({"rounds": body["rounds"]})),
            is_drawn: true,
            after: after_the_meter,
        },
        Scene {
            title: "At the desk: do the portraits match?",
            before: "Each of the crew held a grey card for one frame. The card's level in the files says who stood in less light.",
            path: "patches/compare",
            body: |_| {
                json!({
                    "exposure": {"f_number": "f/8"},
                    "reference": 118,
                    "readings": [
                        {"name": "stroke", "level": 121}, {"name": "four", "level": 116}, {"name": "bow", "level": 97}
                    ]
                })
            },
            news: None,
            is_drawn: false,
            after: after_the_patches,
        },
    ]
}

/// Whether to pack.
fn after_planning(answer: &Value) -> String {
    let sure = answer["shots"].as_array().into_iter().flatten();
    let chance = sure.filter_map(|shot| shot["chance_reached"].as_f64()).fold(1.0, f64::min);
    let verdict = if answer["feasible"] == true { "Pack it" } else { "Borrow before you pack" };
    format!(
        "{verdict}: by the ratings alone, the shot that is least sure comes out with a chance of {:.0} %. A meter would know better.",
        100.0 * chance
    )
}

/// What to dial, and what is left.
fn after_the_swap(answer: &Value) -> String {
    let found = &answer["candidates"][0];
    format!(
        "Dial {}. It can give {} more than that, should the lens be closed later.",
        text(&found["setting"]["label"]),
        stops(&found["headroom_stops"])
    )
}

/// How far off the points are.
fn after_the_set(answer: &Value) -> String {
    format!(
        "Four dials, four ways to count, one answer: no point is off by more than {}, as far as the ratings are right.",
        stops(&answer["worst_error_stops"])
    )
}

/// Whether the daylight stays out, and until when.
fn after_the_ambient(answer: &Value) -> String {
    let time = text(&answer["longest_exposure_time"]["mark"]);
    let verdict = if answer["clean"] == true { "It does" } else { "It does not" };
    format!("{verdict}. Up to {time} the shutter keeps it out; open it longer to let the evening in.")
}

/// Which light was off, and what is left.
fn after_the_meter(answer: &Value) -> String {
    let lights = answer["lights"].as_array().into_iter().flatten();
    let error = |light: &Value| light["error_stops"].as_f64().unwrap_or_default();
    let worst = lights.max_by(|a, b| error(a).abs().total_cmp(&error(b).abs()));
    let worst = worst.map_or_else(String::new, |light| {
        let side = if error(light) < 0.0 { "too weak" } else { "too strong" };
        format!("The {} was {} {side}. ", text(&light["light"]), stops(&light["error_stops"]))
    });
    format!(
        "{worst}Four readings found it. Set the lights once more, and the worst point is off by {}.",
        stops(&answer["worst_error_stops"])
    )
}

/// What the portraits that do not match want.
fn after_the_patches(answer: &Value) -> String {
    let patches = answer["readings"].as_array().map(Vec::as_slice).unwrap_or_default();
    let off: Vec<String> = patches
        .iter()
        .filter(|patch| patch["matches"] == false)
        .map(|patch| {
            let change = patch["power_change_stops"].as_f64().unwrap_or_default();
            format!("{} wants {}", text(&patch["name"]), signed_stops(change))
        })
        .collect();
    let off = if off.is_empty() { "All of them match".to_owned() } else { off.join(", ") };
    format!("{off}, in the file or from the light the next time. That was the day.")
}

/// A dial whose numbers rise with power.
fn key_head() -> Value {
    json!({"name": "key head", "energy": "1000 J", "guide_number": "GN 80",
        "scale": {"style": "dial", "full": 9, "least": 2}})
}

/// A dial whose numbers fall as power rises.
fn fill_head() -> Value {
    json!({"name": "fill head", "energy": "500 J", "guide_number": "GN 55",
        "scale": {"style": "dial", "full": 0, "least": 6}})
}

/// Per cent.
fn small_head() -> Value {
    json!({"name": "small head", "energy": "250 J", "guide_number": "GN 42",
        "scale": {"style": "percent", "least": 4}})
}

/// Fractions.
fn speedlight() -> Value {
    json!({"name": "speedlight", "guide_number": "GN 36",
        "scale": {"style": "fraction", "least": "1/128", "click": "1/3"}})
}

/// Joules.
fn borrowed_head() -> Value {
    json!({"name": "borrowed head", "energy": "600 J", "guide_number": "GN 62",
        "scale": {"style": "joules", "least": "19 J"}})
}

/// The kit against the brief.
fn planned() -> Value {
    let mut kit = Vec::new();
    for (mut unit, recycle_s) in
        [(key_head(), 1.8), (fill_head(), 1.2), (small_head(), 1.5), (speedlight(), 2.5)]
    {
        unit["recycle_s"] = json!(recycle_s);
        kit.push(json!({"unit": unit}));
    }
    let role = |role: &str, stops: &str, distance: &str| json!({"role": role, "stops": stops, "distance": distance, "modifier_stops": -1.5});
    json!({
        "kit": kit,
        "shots": [
            {"name": "the eight", "exposure": {"f_number": "f/11"}, "frames": 60, "interval_s": 2,
                "lights": [role("key", "0", "4 m"), role("fill", "-2", "4.5 m")]},
            {"name": "portraits", "exposure": {"f_number": "f/8"}, "frames": 40, "interval_s": 3,
                "lights": [role("key", "0", "2 m"), role("fill", "-2", "3 m"), role("hair", "1/3", "2.5 m")]}
        ]
    })
}

/// The set, by distances.
fn set() -> Value {
    let light = |name: &str, mut unit: Value| {
        if let Some(unit) = unit.as_object_mut() {
            unit.remove("name");
        }
        json!({"name": name, "unit": unit})
    };
    let placed = |light: &str, point: &str, distance: &str| json!({"light": light, "point": point, "distance": distance});
    let soft = |light: &str, point: &str, distance: &str| {
        let mut placed = placed(light, point, distance);
        placed["modifier_stops"] = json!(-1.5);
        placed
    };
    json!({
        "exposure": {"f_number": "f/8"},
        "lights": [
            light("key", borrowed_head()), light("fill", fill_head()),
            light("hair", speedlight()), light("backdrop", small_head())
        ],
        "points": [
            {"name": "face", "target": {"f_number": "f/8"}},
            {"name": "shadow", "target": {"ratio": "3:1", "to": "face"}},
            {"name": "crown", "target": {"stops": "1/3"}},
            {"name": "wall", "target": {"stops": -2}}
        ],
        "placements": [
            soft("key", "face", "2 m"), soft("fill", "face", "3 m"), soft("fill", "shadow", "3 m"),
            placed("hair", "crown", "2.5 m"), placed("backdrop", "wall", "3 m")
        ]
    })
}

/// The set as it was answered, with what the meter read.
fn metered(answers: &Answers) -> Value {
    let Some((body, answer)) = answers.get("ratios/balance") else { return Value::Null };
    let mut body = body.clone();
    let settings = answer["settings"].as_array().into_iter().flatten();
    for (light, set) in body["lights"].as_array_mut().into_iter().flatten().zip(settings) {
        light["setting"] = set["setting"]["label"].clone();
    }
    let read = |point: &str, f_number: &str| json!({"point": point, "f_number": f_number});
    body["rounds"] = json!([{"readings": [
        read("face", "f/8 +0.4"), read("shadow", "f/4 +0.3"), read("crown", "f/5.6 +0.7"), read("wall", "f/4 +0.1")
    ]}]);
    body
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}

fn stops(value: &Value) -> String {
    rounded_stops(value.as_f64().unwrap_or_default())
}
