//! Pictures as a browser lays them out: no text overlaps another, and none leaves the sheet.

use serde_json::{Value, json};

use crate::{
    chromium::{Browser, with_browser},
    support::{Server, document},
    trials,
};

trials!(
    no_text_meets_another_in_the_examples,
    no_text_meets_another_in_a_crowd,
    no_line_runs_through_a_label
);

/// Lays out the picture of an answer. Returns the number of texts, their faults, and which of them a line crosses.
const LOOK: &str = r"
const [path, question, done] = arguments;
fetch(path, { method: 'POST', body: JSON.stringify(question),
    headers: { accept: 'image/svg+xml', 'content-type': 'application/json' } })
  .then(async (answer) => {
    if (!answer.ok) return done({ refused: answer.status });
    const parsed = new DOMParser().parseFromString(await answer.text(), 'image/svg+xml');
    document.body.replaceChildren(document.importNode(parsed.documentElement, true));
    const sheet = document.querySelector('svg');
    const edge = sheet.getBoundingClientRect();
    const texts = [...sheet.querySelectorAll('text')].map((text) =>
      [text.getBoundingClientRect(), text.textContent, text.hasAttribute('stroke')]);
    const [faults, struck] = [[], []];
    texts.forEach(([a, label], index) => {
      if (a.left < edge.left || a.right > edge.right || a.top < edge.top || a.bottom > edge.bottom) {
        faults.push(`${label} leaves the sheet`);
      }
      for (const [b, other] of texts.slice(index + 1)) {
        const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        // A line of text has some space above and below its letters, so a small overlap of boxes is fine.
        if (wide > 1 && high > 3) faults.push(`${label} meets ${other}`);
      }
    });
    // Curves, reference lines, and lines from a curve up or down.
    const isLine = (line) => line.getAttribute('stroke') === '#2168b0'
      || ['6 4', '1 3', '2 3'].includes(line.getAttribute('stroke-dasharray'));
    const spots = (line) => line.getAttribute('points').split(' ').map((spot) => spot.split(',').map(Number));
    const found = [...sheet.querySelectorAll('polyline')].filter(isLine);
    const lines = found.map(spots);
    // A dotted guide is interrupted by the halo of a number that it passes.
    const isGuide = (line) => line.getAttribute('stroke-dasharray') === '1 3';
    const solid = found.filter((line) => !isGuide(line)).map(spots);
    // Whether a line crosses a box: tests its middle, and halves it until it is short.
    const isWithin = ([x, y], [left, top, right, bottom]) => left < x && x < right && top < y && y < bottom;
    const crosses = (a, b, field) => {
      if (Math.max(a[0], b[0]) < field[0] || Math.min(a[0], b[0]) > field[2]
        || Math.max(a[1], b[1]) < field[1] || Math.min(a[1], b[1]) > field[3]) return false;
      const middle = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
      if (isWithin(middle, field)) return true;
      return Math.hypot(a[0] - b[0], a[1] - b[1]) > 0.5 && (crosses(a, middle, field) || crosses(middle, b, field));
    };
    for (const [box, label, hasHalo] of texts) {
      const letters = [box.left - edge.left + 1, box.top - edge.top + 3, box.right - edge.left - 1, box.bottom - edge.top - 3];
      const crossed = (hasHalo ? solid : lines).some((spots) => spots.slice(1).some((spot, index) => crosses(spots[index], spot, letters)));
      if (crossed) struck.push(label);
    }
    done({ texts: texts.length, lines: lines.length, faults, struck });
  });
";

/// The widths at which pictures are laid out: that of a phone, and the usual one.
const WIDTHS: [u16; 2] = [390, 900];

async fn look(browser: &Browser, path: &str, question: &Value, width: u16) -> Value {
    let mut question = question.clone();
    question["width"] = json!(width);
    browser.run_async(LOOK, vec![json!(path), question]).await
}

/// The paths of pictures whose labels must not touch their curves.
const CURVES: [&str; 2] = ["/v1/lights/falloff", "/v1/patches/response"];

fn no_faults(at: &str, seen: &Value) {
    assert_eq!(seen["faults"], json!([]), "{at}");
    assert!(seen["texts"].as_u64().is_some_and(|texts| texts > 2), "{at}: {seen}");
    if CURVES.iter().any(|path| at.starts_with(path)) {
        assert_eq!(seen["struck"], json!([]), "{at}");
        assert!(seen["lines"].as_u64().is_some_and(|lines| lines >= 2), "{at}: {seen}");
    }
}

async fn no_text_meets_another_in_the_examples() {
    let server = Server::start().await;
    with_browser(async |browser| {
        browser.open(&server.url).await;
        let mut drawn = 0;
        for (path, methods) in document()["paths"].as_object().expect("paths") {
            let operation = &methods["post"];
            if operation["responses"]["200"]["content"].get("image/svg+xml").is_none() {
                continue;
            }
            let examples = &operation["requestBody"]["content"]["application/json"]["examples"];
            for (name, example) in examples.as_object().expect("examples") {
                for width in WIDTHS {
                    let seen = look(browser, path, &example["value"], width).await;
                    if seen.get("refused").is_none() {
                        no_faults(&format!("{path} {name} at {width}"), &seen);
                        drawn += 1;
                    }
                }
            }
        }
        assert!(drawn > 100, "{drawn} pictures");
    })
    .await;
}

async fn no_text_meets_another_in_a_crowd() {
    let server = Server::start().await;
    let unit = json!({"energy": "600 J", "guide_number": {"value": 60, "unit": "m"},
        "scale": {"style": "dial", "full": 9, "least": 2}});
    let name = |number: usize| match number % 3 {
        0 => format!("{number}"),
        1 => format!("the one with a long name by the window that looks north {number}"),
        _ => format!("WWWW MMMM {number}"),
    };
    let around = |number: usize, of: usize, far: f64| {
        let turn = number as f64 / of as f64 * std::f64::consts::TAU;
        [far * turn.cos(), far * turn.sin(), 1.5]
    };
    let lights: Vec<Value> = (0..32)
        // In pairs, one above the other.
        .map(|i| json!({"name": format!("light {}", name(i)), "unit": unit, "position": around(i / 2, 16, 3.0 + (i % 2) as f64 * 0.01),
            "aim": [0, 0, 1], "setting": "5"}))
        .collect();
    let points: Vec<Value> = (0..64)
        .map(|i| json!({"name": name(i), "position": around(i, 64, 0.2 + (i % 7) as f64 / 4.0), "normal": [0, -1, 0]}))
        .collect();
    let set = json!({"exposure": {"f_number": "f/8"}, "lights": lights, "points": points});
    // Error bars, missed targets, remedies and many letters.
    let rough = json!({"exposure": {"f_number": "f/8"}, "tolerance_stops": 0.25, "units": "imperial",
        "lights": (0..12).map(|i| json!({"name": name(i), "unit": unit, "setting": "3", "hold": true})).collect::<Vec<Value>>(),
        "points": (0..6_u8).map(|i| json!({"name": name(i.into()), "target": {"stops": f64::from(i) - 3.0}})).collect::<Vec<Value>>(),
        "placements": (0..72).map(|i| json!({"light": name(i % 12), "point": name(i / 12), "distance": 4 + i % 5,
            "modifier_stops": {"kind": "grid"}})).collect::<Vec<Value>>()});
    let shots: Vec<Value> = (0..8_i32)
        .map(|i| {
            json!({"name": format!("shot {i}"), "exposure": {"f_number": "f/45"}, "lights": (0..12).map(|j| {
            json!({"role": name(j), "stops": i - 4, "distance": "6 m", "modifier_stops": {"kind": "grid"}})
        }).collect::<Vec<Value>>()})
        })
        .collect();
    let kit = json!({"kit": [{"unit": {"name": name(1), "guide_number": {"value": 60, "unit": "m"}}, "count": 10}], "shots": shots});
    // One fault of each kind, with error bars, and long names in every column.
    let mixed: Vec<Value> = [(20.0, "far"), (0.2, "close"), (3.0, "right"), (900.0, "beyond")]
        .into_iter()
        .map(|(far, word)| {
            json!({"name": format!("{} {word}", name(1)), "exposure": {"f_number": "f/8"}, "lights": (0..4).map(|j| {
                json!({"role": name(j), "stops": 0, "distance": far + f64::from(j as u32),
                    "modifier_stops": {"kind": "softbox_two_diffusers"}})
            }).collect::<Vec<Value>>()})
        })
        .collect();
    let mixed = json!({"kit": [{"unit": unit}, {"unit": {"name": name(1), "guide_number": {"value": 60, "unit": "m"},
        "scale": {"style": "fraction", "least": "1/128", "click": "1/3"}}, "count": 2}], "shots": mixed});
    let frames: Vec<Value> =
        (0..40).map(|i| json!({"stops": f64::from(i) / 8.0, "level": 20 + i * 5})).collect();
    let bracket = json!({"frames": frames, "between": [[30, 60], [40, 200], [22, 25], [100, 104]]});
    let readings: Vec<Value> = (0..60)
        .map(|i| json!({"setting": format!("{}", 9.0 - f64::from(i / 3) / 3.0), "f_number": 32.0 * (-f64::from(i / 3) / 6.0).exp2() * if i % 13 == 0 { 0.5 } else { 1.0 }}))
        .collect();
    let calibration = json!({"unit": unit, "distance": "2 m", "readings": readings});
    with_browser(async |browser| {
        browser.open(&server.url).await;
        for (path, question) in [
            ("/v1/exposure/predict", &set),
            ("/v1/ratios/balance", &rough),
            ("/v1/kit/check", &kit),
            ("/v1/kit/check", &mixed),
            ("/v1/patches/response", &bracket),
            ("/v1/units/calibrate", &calibration),
            ("/v1/lights/falloff", &json!({"from": 0.5, "to": 20, "count": 256, "depth": 0.1, "unit": unit})),
        ] {
            for width in WIDTHS {
                no_faults(&format!("{path} at {width}"), &look(browser, path, question, width).await);
            }
        }
    })
    .await;
}

async fn no_line_runs_through_a_label() {
    let server = Server::start().await;
    let unit = json!({"guide_number": {"value": 58, "unit": "m"}, "energy": "600 J",
        "scale": {"style": "dial", "full": 9, "least": 2}});
    let row = |disc: f64, from: f64, to: f64, count: u32| json!({"source": {"disc_m": disc}, "from": from, "to": to, "count": count});
    let with_apertures = |mut question: Value| {
        question["unit"] = unit.clone();
        question["depth"] = json!("40 cm");
        question
    };
    let frames = |bits: u32, count: u32| -> Vec<Value> {
        let greatest = f64::from(bits).exp2();
        (0..count)
            .map(|i| {
                let part = f64::from(i) / f64::from(count);
                json!({"stops": 12.0 * part, "level": greatest * (0.01 + 0.98 * part.powi(3))})
            })
            .collect()
    };
    let lost = |reading: usize, f_number: f64| {
        let readings: Vec<Value> = (0..15)
            .map(|i| json!({"setting": (9 - i / 3).to_string(), "f_number": if i == reading { f_number } else { 28.0 * (-0.48 * (i / 3) as f64).exp2() }}))
            .collect();
        json!({"unit": unit, "distance": "2 m", "readings": readings})
    };
    let [falloff, response] = CURVES;
    let calibrate = "/v1/units/calibrate";
    with_browser(async |browser| {
        browser.open(&server.url).await;
        for (path, question) in [
            // The address in docs/values.md, and rows whose last label once lay on the curve.
            (falloff, row(1.2, 0.5, 4.0, 8)),
            (falloff, with_apertures(row(0.9, 0.6, 3.0, 9))),
            (falloff, with_apertures(row(1.2, 0.6, 9.0, 12))),
            (falloff, with_apertures(row(1.5, 0.3, 20.0, 256))),
            (falloff, row(3.0, 0.05, 1000.0, 2)),
            // The reference comes last, and two distances are almost the same.
            (falloff, json!({"source": {"rectangle_m": [0.3, 1.8]}, "distances": [4, 1, 2.5, 1.01, 3.999], "units": "imperial"})),
            (falloff, json!({"distances": ["1 m", "1.1 m"]})),
            (response, json!({"bits": 16, "frames": frames(16, 64), "between": (0..20).map(|i| [1000 + i * 900, 3000 + i * 900]).collect::<Vec<_>>()})),
            (response, json!({"frames": frames(8, 8), "between": [[100, 150], [118, 200], [20, 240], [60, 64]]})),
            (calibrate, lost(7, 2.3)),
            (calibrate, lost(7, 0.5)),
        ] {
            for width in WIDTHS {
                no_faults(&format!("{path} at {width}"), &look(browser, path, &question, width).await);
            }
        }
    })
    .await;
}
