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
    the_ruler_shows_what_lies_beyond_it,
    without_a_script_the_form_leads_to_the_answer,
    a_line_is_copied_as_it_is_shown
);

const ANSWER: &str = "#answer";

pub async fn open(browser: &Browser, server: &Server) {
    browser.open(&format!("{}/", server.url)).await;
}

/// Asks with the form, and returns what it then shows.
pub async fn ask(browser: &Browser, question: &str) -> String {
    browser.write("#q", question).await;
    browser.run("document.querySelector('#answer').replaceChildren()").await;
    // With the Enter key, as a user would.
    browser.find("#q").await.send_keys("\u{e007}").await.expect("a key");
    browser.until("document.querySelector('#answer').childElementCount").await;
    browser.text(ANSWER).await
}

async fn the_form_answers_in_the_page() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        let before = browser.text(ANSWER).await;
        // The page arrives with the answer to this question.
        assert_eq!(ask(browser, "f/8 to f/11").await, before);
        assert_eq!(before, "f/8 to f/11 is 1 stop darker.\nstopwright ask stops/convert from=f/8 to=f/11");
        let feet = ask(browser, "6 ft to 10 ft 6 in").await;
        assert!(feet.starts_with("6 ft to 10.5 ft is 1.61 stops darker."), "{feet}");
        let guide = ask(browser, "GN 40 at 5 m").await;
        assert!(guide.starts_with("Set the lens to f/8, give or take"), "{guide}");
        assert!(
            guide.ends_with("stopwright ask exposure/one-light guide_number='GN 40' distance='5 m'"),
            "{guide}"
        );
        let ruler = "getComputedStyle(document.querySelector('.ruler')).visibility";
        assert_eq!(browser.run(&format!("return {ruler}")).await, "hidden", "there are no stops to show");
        let sum = ask(browser, "f/8 + f/5.6").await;
        assert!(sum.contains("f/8 +0.6"), "{sum}");
        assert_eq!(browser.loaded().await.iter().filter(|one| !one.starts_with(&server.url)).count(), 0);
        assert_eq!(browser.complaints().await, [""; 0]);
    })
    .await;
}

async fn the_curl_line_asks_what_the_form_asks() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        for question in ["f/8 to f/11", "8'6\" to 2.5 m", "f/8 +0.3 to f/8", "50 % to 25 %", "f/8 + f/5.6"] {
            let shown = ask(browser, question).await;
            let line = browser.text("#asked").await;
            let words = curl::words(&line);
            let [_, url] = words.as_slice() else { panic!("{line}") };
            let answer = server.get(url.strip_prefix(&server.url).expect("this service")).await;
            let summary = answer.body["answer"]["summary"].as_str().expect("a summary");
            assert!(shown.starts_with(summary), "{line}: {summary}, not {shown}");
        }
    })
    .await;
}

async fn faults_are_shown_in_words() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        let wrong = "document.getElementById('q').getAttribute('aria-invalid')";
        let wrong = async || browser.run(&format!("return {wrong}")).await;
        let shown = ask(browser, "f/0 to f/11").await;
        assert_eq!(shown, "f-number 0 is out of range; expected: 0.5 to 512.");
        assert_eq!(wrong().await, "true");
        let shown = ask(browser, "f/8 to 2 m").await;
        assert!(shown.starts_with("f/8 is an f-number and 2 m a distance"), "{shown}");
        let shown = ask(browser, "loud <b>").await;
        assert!(shown.starts_with("\"loud <b>\" is in no known form"), "{shown}");
        assert!(ask(browser, "f/8 to f/4").await.starts_with("f/8 to f/4 is 2 stops brighter."));
        assert_eq!(wrong().await, json!(null));
    })
    .await;
}

async fn a_refused_call_is_explained() {
    let keys = Keys::read(&format!("someone {}", "0".repeat(64))).expect("keys");
    let server =
        Server::on(Config { keys: watch::channel(Some(Arc::new(keys))).1, ..Config::default() }).await;
    with_browser(async |browser| {
        open(browser, &server).await;
        let shown = ask(browser, "f/8 to f/11").await;
        assert_eq!(shown, "Send a key that is taken: Authorization: Bearer KEY.");
        browser.ask("Network.enable", json!({})).await;
        let offline =
            json!({"offline": true, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1});
        browser.ask("Network.emulateNetworkConditions", offline).await;
        assert_eq!(ask(browser, "f/8 to f/11").await, "The service did not answer.");
    })
    .await;
}

async fn an_example_fills_the_form() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        let count = browser.run("return document.querySelectorAll('.examples a').length").await;
        assert_eq!(count, 4);
        for index in 1..=4 {
            let link = format!(".examples li:nth-child({index}) a");
            let question = browser.text(&link).await;
            browser.run("document.querySelector('#answer').replaceChildren()").await;
            browser.click(&link).await;
            browser.until("document.querySelector('#answer').childElementCount").await;
            assert_eq!(browser.run("return document.getElementById('q').value").await, question);
            let query = form_urlencoded::Serializer::new(String::new()).append_pair("q", &question).finish();
            let answer = server.get(&format!("/v1/ask?{query}")).await;
            let summary = answer.body["answer"]["summary"].as_str().expect("a summary");
            assert!(browser.text(ANSWER).await.starts_with(summary), "{question}: {summary}");
        }
    })
    .await;
}

async fn the_ruler_shows_what_lies_beyond_it() {
    let server = Server::start().await;
    with_browser(async |browser| {
        open(browser, &server).await;
        let seen =
            "const [arrow, axis] = ['#beyond', '.ruler path'].map((name) => document.querySelector(name));
            const middle = ({left, right}) => (left + right) / 2;
            return [getComputedStyle(arrow).visibility, document.querySelector('#span').getAttribute('width'),
                Math.sign(middle(arrow.getBoundingClientRect()) - middle(axis.getBoundingClientRect())),
                ...['#darker', '#brighter'].map((name) => document.querySelector(name).textContent)]";
        for (question, expected) in [
            ("f/8 to f/11", json!(["hidden", "1", "darker", "brighter"])),
            ("f/2.8 to f/32", json!(["visible", "6", "darker, 1 stop beyond −6", ""])),
            ("1/250 s to 4 s", json!(["visible", "6", "", "brighter, 4 stops beyond +6"])),
            ("f/8 to f/1", json!(["hidden", "6", "darker", "brighter"])),
        ] {
            ask(browser, question).await;
            let mut seen = browser.run(seen).await;
            let side = seen.as_array_mut().expect("a list").remove(2);
            assert_eq!(seen, expected, "{question}");
            let is_left = expected[2] != "";
            assert!(expected[0] == "hidden" || side == if is_left { -1 } else { 1 }, "{question}: {side}");
            browser.set_width(390).await;
            let leaves = "const edge = document.querySelector('.answer').getBoundingClientRect();
                return [...document.querySelectorAll('.ruler *')].map((one) => one.getBoundingClientRect())
                    .filter((one) => one.left < edge.left || one.right > edge.right).length";
            assert_eq!(browser.run(leaves).await, 0, "{question}");
        }
        // Answers without stops, and faults, have no ruler.
        for question in ["GN 40 at 5 m", "f/0 to f/8"] {
            ask(browser, question).await;
            assert_eq!(browser.run(seen).await[0], "hidden", "{question}");
        }
        assert_eq!(browser.complaints().await.iter().filter(|one| !one.contains("status of 422")).count(), 0);
    })
    .await;
}

async fn without_a_script_the_form_leads_to_the_answer() {
    let server = Server::start().await;
    with_browser(async |browser| {
        browser.ask("Emulation.setScriptExecutionDisabled", json!({"value": true})).await;
        open(browser, &server).await;
        assert_eq!(browser.run("return document.querySelectorAll('figure button').length").await, 0);
        browser.write("#q", "8 ft 6 in to 2 m").await;
        browser.click("form button").await;
        browser.until("location.pathname == '/v1/ask'").await;
        let answer = browser.text("body").await;
        assert!(answer.contains("from         8.5 ft"), "{answer}");
        assert!(answer.contains("stopwright ask stops/convert from='8 ft 6 in' to='2 m'"), "{answer}");
        open(browser, &server).await;
        browser.click(".examples a").await;
        browser.until("location.pathname == '/v1/ask'").await;
        let answer = browser.text("body").await;
        assert!(answer.starts_with("Set the lens to f/8"), "{answer}");
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
