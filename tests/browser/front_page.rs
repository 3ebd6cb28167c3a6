//! The form of the front page, with a script and without.

use std::sync::Arc;

use serde_json::json;
use stopwright::server::{auth::Keys, state::Config};
use tokio::sync::watch;

use crate::{
    chromium::{Browser, with_browser},
    curl,
    support::Server,
    trials,
};

trials!(
    the_form_answers_in_the_page,
    the_curl_line_asks_what_the_form_asks,
    faults_are_shown_in_words,
    a_refused_call_is_explained,
    an_example_fills_the_form,
    without_a_script_the_form_leads_to_the_answer,
    a_line_is_copied_as_it_is_shown
);

const ANSWER: &str = "#answer";

pub async fn open(browser: &Browser, server: &Server) {
    browser.open(&format!("{}/", server.url)).await;
}

/// Converts with the form, and returns what it then shows.
pub async fn convert(browser: &Browser, from: &str, to: &str) -> String {
    browser.write("#from", from).await;
    browser.write("#to", to).await;
    browser.run("document.querySelector('#answer').replaceChildren()").await;
    // With the Enter key, as a user would.
    browser.find("#to").await.send_keys("\u{e007}").await.expect("a key");
    browser.until("document.querySelector('#answer').childElementCount").await;
    browser.text(ANSWER).await
}

async fn the_form_answers_in_the_page() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        let before = browser.text(ANSWER).await;
        // The page arrives with the answer to this conversion.
        assert_eq!(convert(browser, "f/8", "f/11").await, before);
        assert_eq!(before, "−1 stop\ndarker, 0.5 times the light\nf/8 (8) to f/11 (11.3137)");
        assert_eq!(
            convert(browser, "6 ft", "10 ft 6 in").await,
            "−1.6147 stops\ndarker, 0.326531 times the light\n6 ft (1.8288 m) to 10.5 ft (3.2004 m)"
        );
        assert_eq!(
            convert(browser, "ISO 100", "ISO 640").await,
            "+2.6667 stops\nbrighter, 6.3496 times the light\nISO 100 (100) to ISO 640 (634.96)"
        );
        let guide = convert(browser, "GN 40", "GN 56").await;
        assert!(guide.contains("40 m at ISO 100 to 56 m"), "{guide}");
        let same = convert(browser, "f/8", "f/8").await;
        assert!(same.starts_with("0 stops\n1 times the light"), "{same}");
        assert_eq!(browser.loaded().await.iter().filter(|one| !one.starts_with(&server.url)).count(), 0);
        assert_eq!(browser.complaints().await, [""; 0]);
    })
    .await;
}

async fn the_curl_line_asks_what_the_form_asks() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        for (from, to) in [("f/8", "f/11"), ("8'6\"", "2.5 m"), ("f/8 +0.3", "f/8"), ("50 %", "25 %")] {
            let shown = convert(browser, from, to).await;
            let line = browser.text("#asked").await;
            let words = curl::words(&line);
            let [_, url] = words.as_slice() else { panic!("{line}") };
            let answer = server.get(url.strip_prefix(&server.url).expect("this service")).await;
            let stops = answer.body["exposure_stops"].as_f64().expect("stops");
            assert!(shown.replace('−', "-").contains(&stops.to_string()), "{line}: {stops}, not {shown}");
        }
    })
    .await;
}

async fn faults_are_shown_in_words() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        let wrong = "[...document.querySelectorAll('input[aria-invalid]')].map((field) => field.id).join()";
        let wrong = async || browser.run(&format!("return {wrong}")).await;
        assert_eq!(
            convert(browser, "f/0", "f/11").await,
            "From: f-number 0 is out of range; expected: 0.5 to 512."
        );
        assert_eq!(wrong().await, "from");
        let shown = convert(browser, "f/8", "2 m").await;
        assert!(shown.starts_with("To: from and to are of different kinds"), "{shown}");
        assert_eq!(wrong().await, "to");
        let shown = convert(browser, "loud", "<b>").await;
        assert_eq!(shown.lines().count(), 2, "{shown}");
        assert_eq!(wrong().await, "from,to");
        assert!(convert(browser, "f/8", "f/4").await.starts_with("+2 stops"));
        assert_eq!(wrong().await, "");
    })
    .await;
}

async fn a_refused_call_is_explained() {
    let keys = Keys::read(&format!("someone {}", "0".repeat(64))).expect("keys");
    let server =
        Server::on(Config { keys: watch::channel(Some(Arc::new(keys))).1, ..Config::default() }).await;
    with_browser(async |browser| {
        open(browser, &server).await;
        let shown = convert(browser, "f/8", "f/11").await;
        assert_eq!(shown, "Send a key that is taken: Authorization: Bearer KEY.");
        browser.ask("Network.enable", json!({})).await;
        let offline =
            json!({"offline": true, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1});
        browser.ask("Network.emulateNetworkConditions", offline).await;
        assert_eq!(convert(browser, "f/8", "f/11").await, "The service did not answer.");
    })
    .await;
}

async fn an_example_fills_the_form() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        let count = browser.run("return document.querySelectorAll('.examples a').length").await;
        for index in 1..=count.as_u64().expect("a number") {
            let link = format!(".examples li:nth-child({index}) a");
            browser.run("document.querySelector('#answer').replaceChildren()").await;
            browser.click(&link).await;
            browser.until("document.querySelector('#answer').childElementCount").await;
            let answer = browser.text(ANSWER).await;
            assert!(answer.contains(" stop"), "{answer}");
            let filled = browser
                .run("return ['from', 'to'].map((id) => document.getElementById(id).value).join(' to ')");
            assert_eq!(browser.text(&link).await, filled.await);
        }
    })
    .await;
}

async fn without_a_script_the_form_leads_to_the_answer() {
    let server = Server::start().await;
    with_browser(async |browser| {
        browser.ask("Emulation.setScriptExecutionDisabled", json!({"value": true})).await;
        open(browser, &server).await;
        assert_eq!(browser.run("return document.querySelectorAll('figure button').length").await, 0);
        browser.write("#from", "8 ft 6 in").await;
        browser.write("#to", "2 m").await;
        browser.click("form button").await;
        browser.until("location.pathname == '/v1/stops/convert'").await;
        let answer = browser.text("body").await;
        assert!(answer.contains("from         2.591"), "{answer}");
        open(browser, &server).await;
        browser.click(".examples a").await;
        browser.until("location.pathname == '/v1/stops/convert'").await;
        let answer = browser.text("body").await;
        assert!(answer.contains("exposure     -1.615 stops"), "{answer}");
        assert_eq!(browser.complaints().await, [""; 0]);
    })
    .await;
}

async fn a_line_is_copied_as_it_is_shown() {
    let server = Server::start().await;
    with_browser(async |browser| {
        let allowed = json!({"permissions": ["clipboardReadWrite", "clipboardSanitizedWrite"]});
        browser.ask("Browser.grantPermissions", allowed).await;
        open(browser, &server).await;
        browser.click("figure button").await;
        browser.until("document.querySelector('figure button').textContent == 'Copied'").await;
        let copied = browser.run("return navigator.clipboard.readText()").await;
        assert_eq!(copied, browser.text("#asked").await);
        assert!(copied.as_str().is_some_and(|line| line.contains(&server.url)), "{copied}");
    })
    .await;
}
