//! Problems in a browser: pages for whoever navigates, documents for programs.

use reqwest::Method;
use serde_json::json;

use crate::support::{Answer, Server};

/// What browsers accept when they navigate.
const BROWSER: &str = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8";
const WRONG: &str = "/v1/stops/convert?from=f/0&to=%3Cb%3E%26";

async fn get(server: &Server, path: &str, accept: &str) -> Answer {
    server.send(server.request(Method::GET, path).header("accept", accept)).await
}

#[tokio::test]
async fn a_browser_gets_a_problem_as_a_page() {
    let server = Server::start().await;
    let answer = get(&server, WRONG, BROWSER).await;
    assert_eq!((answer.status, answer.header("content-type")), (422, "text/html; charset=utf-8"));
    assert!(answer.header("vary").contains("accept"), "{:?}", answer.headers);
    assert_eq!(answer.header("cache-control"), "no-store");
    let policy = get(&server, "/", BROWSER).await;
    for name in
        ["content-security-policy", "x-frame-options", "referrer-policy", "cross-origin-opener-policy"]
    {
        assert_eq!(answer.header(name), policy.header(name), "{name}");
    }
    let page = answer.body.as_str().expect("a page");
    for part in
        ["The request has faults", "<code>from</code>", "f-number 0 is out of range", "Expected: 0.5 to 512"]
    {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert!(page.contains("&lt;b&gt;&amp;") && !page.contains("<b>") && !page.contains("<script"), "{page}");
    assert!(page.contains(answer.header("x-request-id")), "{page}");
    // Its links lead somewhere.
    for link in page.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next()) {
        assert_eq!(get(&server, link, BROWSER).await.status, 200, "{link}");
    }
    let nothing = get(&server, "/nothing", BROWSER).await;
    assert!(
        nothing.status == 404 && nothing.body.as_str().is_some_and(|page| page.contains("<h1>Nothing is at"))
    );
}

#[tokio::test]
async fn programs_get_the_document() {
    let server = Server::start().await;
    for accept in ["*/*", "application/json", "text/plain", "application/json, text/html;q=0.9"] {
        let answer = get(&server, WRONG, accept).await;
        assert_eq!(
            (answer.status, answer.header("content-type")),
            (422, "application/problem+json"),
            "{accept}"
        );
        assert!(answer.header("vary").contains("accept"), "{:?}", answer.headers);
    }
    let posted = server.post("/v1/stops/convert", &json!({})).await;
    assert_eq!(posted.header("content-type"), "application/problem+json");
}

#[tokio::test]
async fn a_kind_of_problem_is_explained_in_the_form_that_is_asked_for() {
    let server = Server::start().await;
    let path = "/problems/invalid-request";
    let forms = [
        (BROWSER, "text/html; charset=utf-8"),
        ("*/*", "application/json"),
        ("text/plain", "text/plain; charset=utf-8"),
    ];
    for (accept, media) in forms {
        let answer = get(&server, path, accept).await;
        assert_eq!((answer.status, answer.header("content-type")), (200, media), "{accept}");
        assert_eq!(answer.header("vary"), "accept, accept-encoding");
    }
    let page = get(&server, path, BROWSER).await;
    assert!(page.body.as_str().is_some_and(|page| page.contains("<code>errors</code> lists the faults")));
}
