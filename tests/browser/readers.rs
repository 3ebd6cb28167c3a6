//! The front page at any width, in both colour schemes, by keyboard alone, and for screen readers.

use std::{env, fs};

use serde_json::json;

use crate::{
    chromium::with_browser,
    front_page::{ask, open},
    support::Server,
    trials,
};

/// The variable with the path of `axe.min.js`, which `tests/browser/axe` fetches.
pub const AXE: &str = "STOPWRIGHT_AXE";

trials!(
    nothing_shifts_and_nothing_overflows,
    everything_is_large_enough_for_a_thumb_and_to_read,
    the_page_works_by_keyboard_and_for_screen_readers,
    axe_finds_nothing
);

async fn nothing_shifts_and_nothing_overflows() {
    let server = Server::start().await;
    with_browser(async |browser| {
        // 320 pixels are a small phone, or a window of 1280 pixels at a zoom of 400 %.
        for width in [1280, 640, 390, 320] {
            browser.set_width(width).await;
            open(browser, &server).await;
            ask(browser, "8 ft 6 in to 2 m").await;
            assert_eq!(browser.too_wide().await, 0, "at {width}");
            let moved = "return new Promise((resolve) => {
                new PerformanceObserver((list) => resolve(list.getEntries().map((entry) => entry.value)))
                    .observe({type: 'layout-shift', buffered: true});
                setTimeout(resolve, 200, []);
            })";
            assert_eq!(browser.run(moved).await, json!([]), "at {width}");
        }
    })
    .await;
}

/// Opens every task.
const OPEN_ALL: &str = "document.querySelectorAll('details').forEach((task) => { task.open = true; })";

async fn everything_is_large_enough_for_a_thumb_and_to_read() {
    let server = Server::start().await;
    with_browser(async |browser| {
        for (scheme, width) in [("light", 390), ("dark", 390), ("light", 1280), ("dark", 1280)] {
            browser.set_width(width).await;
            browser.set_scheme(scheme).await;
            open(browser, &server).await;
            browser.run(OPEN_ALL).await;
            assert_eq!(browser.too_wide().await, 0, "{scheme} at {width}");
            let small = "return [...document.querySelectorAll('a:not(.skip), button, input:not([type=hidden]), summary')]
                .filter((one) => { const {width, height} = one.getBoundingClientRect(); return Math.min(width, height) < 44; })
                .map((one) => one.outerHTML)";
            assert_eq!(browser.run(small).await, json!([]), "{scheme} at {width}");
            // Type in the ruler is in the units of its view box.
            let fine = "const scale = document.querySelector('.ruler').getScreenCTM().a;
                return [...document.querySelectorAll('body *')]
                .filter((one) => [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
                .filter((one) => parseFloat(getComputedStyle(one).fontSize) * (one.closest('svg') ? scale : 1) < 14)
                .map((one) => one.outerHTML)";
            assert_eq!(browser.run(fine).await, json!([]), "{scheme} at {width}");
            let field = browser.run("return parseFloat(getComputedStyle(document.getElementById('q')).fontSize)").await;
            assert!(field.as_f64().is_some_and(|size| size >= 16.0), "phones zoom into a field of {field} px");
            // One picture of the two.
            browser.run("document.querySelector('.picture').scrollIntoView()").await;
            browser.until("document.querySelector('.picture').complete && document.querySelector('.picture').naturalWidth").await;
            let shown = browser.run("return document.querySelector('.picture').currentSrc").await;
            assert_eq!(shown.as_str().is_some_and(|one| one.ends_with("_narrow.svg")), width < 640, "{shown}");
        }
        assert_eq!(browser.complaints().await, [""; 0]);
    })
    .await;
}

async fn the_page_works_by_keyboard_and_for_screen_readers() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        let is_so = [
            "document.documentElement.lang == 'en-GB'",
            "document.title.startsWith('Stopwright')",
            "document.querySelectorAll('h1').length == 1",
            "['header', 'nav', 'main', 'footer'].every((name) => document.querySelectorAll(name).length == 1)",
            "[...document.querySelectorAll('input:not([type=hidden])')].every((field) => field.labels.length == 1)",
            "[...document.querySelectorAll('button')].every((button) => button.textContent)",
            "[...document.querySelectorAll('section')].every((part) => document.getElementById(part.getAttribute('aria-labelledby')))",
            "document.querySelector('#answer').ariaLive == 'polite'",
        ];
        for expression in is_so {
            assert_eq!(browser.run(&format!("return {expression}")).await, true, "{expression}");
        }
        let levels = browser.run("return [...document.querySelectorAll('h1,h2,h3,h4')].map((one) => +one.tagName[1])").await;
        let levels: Vec<u64> = serde_json::from_value(levels).expect("levels");
        assert!(levels.windows(2).all(|pair| pair[1] <= pair[0] + 1), "{levels:?}");
        // The focus is visible.
        let focused = "const one = document.activeElement; const style = getComputedStyle(one);
            return [one.id || one.textContent, style.outlineStyle, parseFloat(style.outlineWidth) >= 2]";
        let mut reached = Vec::new();
        for _ in 0..6 {
            browser.press_tab().await;
            let now = browser.run(focused).await;
            assert_eq!((&now[1], &now[2]), (&json!("solid"), &json!(true)), "{now}");
            reached.push(now[0].as_str().expect("text").to_owned());
        }
        let expected = ["Skip to the content", "q", "Ask", "Copy", "GN 40 at 5 m", "80 % to 25 %"];
        assert_eq!(reached, expected);
    })
    .await;
}

/// Runs axe-core, from npm, in both colour schemes, with an answer and with a fault.
async fn axe_finds_nothing() {
    let file = env::var_os(AXE).expect("a trial that runs has it");
    let axe = fs::read_to_string(file).expect("axe.min.js");
    let server = Server::start().await;
    with_browser(async |browser| {
        for (scheme, width) in [("light", 1280), ("dark", 1280), ("light", 390), ("dark", 390)] {
            browser.set_width(width).await;
            browser.set_scheme(scheme).await;
            open(browser, &server).await;
            browser.run(OPEN_ALL).await;
            browser.run(&axe).await;
            for to in ["f/11", "f/0"] {
                ask(browser, &format!("f/8 to {to}")).await;
                // Axe cannot tell the contrast of the marks in the ruler, which is a picture to it.
                let found = "return axe.run().then(({violations, incomplete, passes}) => [
                    violations.map(({id, nodes}) => [id, nodes.map(({html}) => html)]),
                    incomplete.flatMap(({nodes}) => nodes).map(({html}) => html).filter((html) => !html.startsWith('<text')),
                    passes.map(({id}) => id),
                ])";
                let found = browser.run(found).await;
                assert_eq!((&found[0], &found[1]), (&json!([]), &json!([])), "{scheme} at {width}, {to}");
                let passed = found[2].as_array().expect("rules");
                assert!(["color-contrast", "label"].iter().all(|rule| passed.contains(&json!(rule))), "{passed:?}");
            }
        }
    })
    .await;
}
