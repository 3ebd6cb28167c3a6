//! The documentation page.

use serde_json::{Value, json};

use crate::{
    chromium::{Browser, with_browser},
    support::{Server, document},
    trials,
};

trials!(
    the_page_loads_whole_and_from_this_service_alone,
    a_link_to_an_operation_opens_it_and_its_example_runs,
    every_operation_runs_with_its_example_as_it_is_shown,
    a_picture_is_shown_as_one_and_fits_a_phone,
    schemas_faults_and_keys_are_shown_within_the_policy,
    every_text_of_an_operation_has_contrast_in_both_schemes,
    a_key_is_asked_for_once_and_not_at_every_operation
);

/// The selector of an operation in the page.
fn place(operation: &Value) -> String {
    let text = |value: &Value| value.as_str().expect("text").to_owned();
    format!("#operations-{}-{}", text(&operation["tags"][0]), text(&operation["operationId"]))
}

/// The selector of every operation, and its path.
fn operations() -> Vec<(String, &'static str)> {
    let paths = document()["paths"].as_object().expect("paths");
    let methods = |(path, methods): (&'static String, &'static Value)| {
        let methods = methods.as_object().expect("methods").values();
        methods.map(move |operation| (place(operation), path.as_str()))
    };
    paths.into_iter().flat_map(methods).collect()
}

async fn open(browser: &Browser, server: &Server) {
    browser.open(&format!("{}/docs/", server.url)).await;
    browser.until(&format!("document.querySelectorAll('.opblock').length == {}", operations().len())).await;
}

async fn the_page_loads_whole_and_from_this_service_alone() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        for (place, _) in operations() {
            browser.find(&place).await;
        }
        let loaded = browser.loaded().await;
        assert!(loaded.iter().any(|one| one.ends_with("/openapi.json")), "{loaded:?}");
        assert!(loaded.iter().all(|one| one.starts_with(&server.url)), "{loaded:?}");
        for width in [1280, 390] {
            browser.set_width(width).await;
            assert_eq!(browser.too_wide().await, 0, "at {width}");
        }
        assert_eq!(browser.complaints().await, [""; 0]);
    })
    .await;
}

/// Runs an open operation with the example that the page shows. Returns the status, and the answer as shown.
async fn run(browser: &Browser, place: &str) -> (String, String) {
    browser.click(&format!("{place} .try-out__btn")).await;
    browser.click(&format!("{place} .execute")).await;
    answer(browser, place).await
}

/// The status of an operation's answer, and the answer as shown.
async fn answer(browser: &Browser, place: &str) -> (String, String) {
    let answer = format!("{place} .live-responses-table tbody");
    browser.find(&format!("{answer} .response-col_status")).await;
    let status = browser.text(&format!("{answer} .response-col_status")).await;
    let status = status.lines().next().unwrap_or_default().to_owned();
    (status, browser.text(&format!("{answer} .highlight-code")).await)
}

async fn a_link_to_an_operation_opens_it_and_its_example_runs() {
    let server = Server::start().await;
    with_browser(async |browser| {
        browser.open(&format!("{}/docs/#/stops/convert_stops_by_query", server.url)).await;
        let (status, answer) = run(browser, "#operations-stops-convert_stops_by_query").await;
        assert_eq!(status, "200", "{answer}");
        assert!(answer.contains("\"exposure_stops\": -1"), "{answer}");
        // Swagger UI reads `_` as a space and warns that it will not always.
        let complaints = browser.complaints().await;
        assert!(complaints.iter().all(|one| one.contains("escaping deep link whitespace")), "{complaints:?}");
    })
    .await;
}

async fn every_operation_runs_with_its_example_as_it_is_shown() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        // The OpenAPI document is left out: the page has read it already, and showing it takes long.
        for (place, path) in operations().iter().filter(|(_, path)| *path != "/openapi.json") {
            let toggle = format!("{place} .opblock-summary-control");
            browser.click(&toggle).await;
            let (status, answer) = run(browser, place).await;
            assert_eq!(status, "200", "{path}: {answer}");
            browser.click(&toggle).await;
            assert_eq!(browser.complaints().await, [""; 0], "{path}");
        }
    })
    .await;
}

async fn a_picture_is_shown_as_one_and_fits_a_phone() {
    let server = Server::start().await;
    with_browser(async |browser| {
        for (scheme, width) in [("light", 390), ("dark", 390), ("light", 1280)] {
            browser.set_width(width).await;
            browser.set_scheme(scheme).await;
            open(browser, &server).await;
            let place = "#operations-ratios-tell_falloff";
            browser.click(&format!("{place} .opblock-summary-control")).await;
            browser.click(&format!("{place} .try-out__btn")).await;
            browser.click(&format!("{place} select option[value='image/svg+xml']")).await;
            browser.click(&format!("{place} .execute")).await;
            let picture = format!("{place} .live-responses-table img.picture");
            browser.find(&picture).await;
            browser.until(&format!("document.querySelector('{picture}').naturalWidth")).await;
            let alt = browser.run(&format!("return document.querySelector('{picture}').alt")).await;
            assert!(alt.as_str().is_some_and(|alt| alt.len() > 20), "{alt}");
            assert_eq!(browser.too_wide().await, 0, "{scheme} at {width}");
            if width == 390 {
                let small = format!("return [...document.querySelectorAll('{place} :is(button, select, input, textarea)')]
                    .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < 44).map((one) => one.outerHTML)");
                assert_eq!(browser.run(&small).await, json!([]), "{scheme}");
            }
        }
        assert_eq!(browser.complaints().await, [""; 0]);
    })
    .await;
}

async fn schemas_faults_and_keys_are_shown_within_the_policy() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        browser.click(".btn.authorize").await;
        browser.write(".modal-ux input", "a-key").await;
        browser.click(".modal-ux .btn.authorize").await;
        browser.click(".modal-ux .btn-done").await;
        let place = "#operations-stops-convert_stops";
        browser.click(&format!("{place} .opblock-summary-control")).await;
        browser.click(&format!("{place} .tablinks[data-name=model]")).await;
        browser.find(&format!("{place} .json-schema-2020-12")).await;
        browser.click(&format!("{place} .tablinks[data-name=example]")).await;
        browser.click(&format!("{place} .try-out__btn")).await;
        browser.write(&format!("{place} textarea"), "{\"from\": \"f/0\", \"to\": \"f/8\"}").await;
        browser.click(&format!("{place} .execute")).await;
        let (status, answer) = answer(browser, place).await;
        assert!(status == "422" && answer.contains("0.5 to 512"), "{answer}");
        assert!(browser.text(&format!("{place} .curl")).await.contains("Authorization: Bearer a-key"));
        // The console reports every status that is no success, and nothing else.
        let complaints = browser.complaints().await;
        assert!(complaints.iter().all(|one| one.contains("status of 422")), "{complaints:?}");
    })
    .await;
}

/// The texts of an element, and those whose contrast is less than level AA of WCAG 2.2 asks of small text (1.4.3).
const CONTRAST: &str = r"
const colour = (text) => { const [r, g, b, a = 1] = text.match(/[\d.]+/g).map(Number); return [r, g, b, a]; };
const over = ([r, g, b, a], under) => [r, g, b].map((part, index) => part * a + under[index] * (1 - a));
const light = (rgb) => rgb.map((part) => part / 255)
  .map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4))
  .reduce((sum, part, index) => sum + part * [0.2126, 0.7152, 0.0722][index], 0);
const behind = (one) => (one ? over(colour(getComputedStyle(one).backgroundColor), behind(one.parentElement)) : [255, 255, 255]);
const contrast = (text) => {
  const [a, b] = [light(over(colour(getComputedStyle(text).color), behind(text))), light(behind(text))];
  return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
};
const [place, done] = arguments;
const holdsText = (one) => [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
// Swagger UI sets the colours of JSON on each number itself.
const texts = [...document.querySelectorAll(`${place} *`)]
  .filter((one) => holdsText(one) && one.checkVisibility() && !one.closest('pre'));
const faint = texts.map((text) => [contrast(text), text.textContent, text.className]).filter(([ratio]) => ratio < 4.5);
done({ texts: texts.map((text) => text.textContent), faint });
";

async fn every_text_of_an_operation_has_contrast_in_both_schemes() {
    let server = Server::start().await;
    with_browser(async |browser| {
        for scheme in ["dark", "light"] {
            browser.set_scheme(scheme).await;
            open(browser, &server).await;
            let place = "#operations-ratios-balance_lights";
            browser.click(&format!("{place} .opblock-summary-control")).await;
            browser.find(&format!("{place} .examples-select__section-label")).await;
            let seen = browser.run_async(CONTRAST, vec![json!(place)]).await;
            assert!(
                seen["texts"].as_array().is_some_and(|texts| texts.contains(&json!("Examples: "))),
                "{seen}"
            );
            assert_eq!(seen["faint"], json!([]), "{scheme}");
        }
    })
    .await;
}

async fn a_key_is_asked_for_once_and_not_at_every_operation() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        let shown = "[...document.querySelectorAll('.authorization__btn, .btn.authorize')].filter((one) => one.checkVisibility())";
        let shown = browser.run(&format!("return {shown}.map((one) => one.className)")).await;
        assert_eq!(shown, json!(["btn authorize unlocked"]));
    })
    .await;
}
