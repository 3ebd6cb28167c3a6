//! Every rejection is a problem document.

use reqwest::Method;
use serde_json::json;

use crate::support::{Server, faults, pointers};

#[tokio::test]
async fn the_frameworks_own_rejections_are_problems() {
    let server = Server::start().await;
    let missing = server.get("/v1/nowhere").await;
    assert_eq!((missing.status, &missing.body["type"]), (404, &json!("/problems/not-found")));
    let deleted = server.send(server.request(Method::DELETE, "/v1/stops/convert")).await;
    assert_eq!(deleted.status, 405);
    let allowed = deleted.header("allow");
    assert!(allowed.contains("GET") && allowed.contains("POST"), "{allowed}");
    let post = || server.request(Method::POST, "/v1/stops/convert");
    let text = server.send(post().header("content-type", "text/plain").body("{}")).await;
    assert_eq!(text.status, 415);
    let html = server
        .send(server.request(Method::GET, "/v1/stops/convert?from=f/8&to=f/11").header("accept", "image/png"))
        .await;
    assert_eq!(html.status, 406);
    let large = "x".repeat(256 * 1024 + 1);
    let large = server.send(post().header("content-type", "application/json").body(large)).await;
    assert_eq!(large.status, 413);
}

#[tokio::test]
async fn malformed_and_invalid_requests_have_different_statuses() {
    let server = Server::start().await;
    let json = |body: &str| {
        server
            .request(Method::POST, "/v1/stops/convert")
            .header("content-type", "application/json")
            .body(body.to_owned())
    };
    for broken in ["{", "", "nonsense", "{\"from\": 1e999}", "\u{1}", &"[".repeat(200)] {
        let answer = server.send(json(broken)).await;
        assert_eq!(answer.status, 400, "{broken}: {}", answer.body);
    }
    for wrong in ["[]", "null", "3", "{}", "{\"from\": {\"f\": 8}, \"to\": []}"] {
        let answer = server.send(json(wrong)).await;
        assert_eq!(answer.status, 422, "{wrong}: {}", answer.body);
    }
    let twice = server.send(json(r#"{"from": "f/8", "to": "f/8", "from": "f/4"}"#)).await;
    assert_eq!(twice.status, 422, "a name given twice is a fault");
    for query in ["from=%zz&to=f/8", "from=%ff&to=f/8"] {
        assert_eq!(server.get(&format!("/v1/stops/convert?{query}")).await.status, 400, "{query}");
    }
    let unknown = server.get("/v1/stops/convert?from=f/8&to=f/11&colour=red").await;
    assert_eq!(unknown.status, 422);
    assert_eq!(pointers(&faults(&unknown.body)), ["/colour"]);
}

#[tokio::test]
async fn a_well_formed_request_id_is_returned() {
    let server = Server::start().await;
    let with = |id: &str| server.request(Method::GET, "/healthz").header("x-request-id", id);
    assert_eq!(server.send(with("booking-17.a_b")).await.header("x-request-id"), "booking-17.a_b");
    assert_ne!(server.send(with("two words")).await.header("x-request-id"), "two words");
}

#[tokio::test]
async fn every_problem_explains_itself() {
    let server = Server::start().await;
    for kind in stopwright::server::problem::Kind::ALL {
        let page = server.get(&format!("/problems/{}", kind.slug())).await;
        assert_eq!(page.status, 200);
        assert_eq!(page.body["status"], kind.status().as_u16());
    }
    assert_eq!(server.get("/problems/none-such").await.status, 404);
}

#[tokio::test]
async fn a_question_in_a_query_may_be_cached() {
    let server = Server::start().await;
    let path = "/v1/stops/convert?from=f/8&to=f/11";
    let first = server.get(path).await;
    let tag = first.header("etag").to_owned();
    // Published: RFC 9110, 8.8.1: weak, because compression changes the bytes of the same answer.
    assert!(tag.starts_with("W/\"") && first.header("cache-control").contains("max-age"));
    let again = server.send(server.request(Method::GET, path).header("if-none-match", &tag)).await;
    assert_eq!(again.status, 304);
    let other = server.get("/v1/stops/convert?from=f/8&to=f/16").await;
    assert_ne!(other.header("etag"), tag);
    let head = server.send(server.request(Method::HEAD, path)).await;
    assert_eq!((head.status, head.header("etag")), (200, tag.as_str()));
}

#[tokio::test]
async fn the_index_is_json_or_html() {
    let server = Server::start().await;
    let json = server.get("/").await;
    assert_eq!(json.body["links"]["openapi"], "/openapi.json");
    let html = server.send(server.request(Method::GET, "/").header("accept", "text/html,*/*;q=0.8")).await;
    assert!(html.body.as_str().is_some_and(|page| page.starts_with("<!doctype html>")));
}

#[tokio::test]
async fn the_documentation_page_needs_no_outside_asset() {
    let server = Server::start().await;
    let page = server.get("/docs/").await;
    let page = page.body.as_str().expect("a page");
    assert!(page.contains("swagger-ui"), "{page}");
    assert!(!page.contains("http://") && !page.contains("https://"), "{page}");
    for (asset, bytes) in [
        ("swagger-ui.css", 100_000),
        ("swagger-ui-bundle.js", 1_000_000),
        ("docs.css", 100),
        ("docs.js", 100),
    ] {
        assert!(page.contains(asset), "{page}");
        let asset = server.get(&format!("/docs/{asset}")).await;
        assert!(asset.status == 200 && asset.body.as_str().is_some_and(|text| text.len() > bytes));
    }
    assert_eq!(server.get("/docs/nothing.js").await.status, 404);
}

#[tokio::test]
async fn a_fault_of_shape_hides_no_fault_of_value() {
    let server = Server::start().await;
    let convert = |body| server.refused("/v1/stops/convert", body);
    let faults = convert(json!({"from": "f/0", "to": "f/-2", "colour": 1})).await;
    assert_eq!(pointers(&faults), ["/from", "/to", "/colour"]);
    let faults = convert(json!({"from": "f/0", "to": [], "kind": "f_number"})).await;
    assert_eq!(pointers(&faults), ["/from", "/to"]);
    // A value that is ambiguous without its partner is not reported if the partner is faulty.
    let faults = convert(json!({"from": "1/4", "to": []})).await;
    assert_eq!(pointers(&faults), ["/to"]);
    let faults = server
        .refused(
            "/v1/energy/equivalence",
            json!({
                "reference": {"unit": {"energy": 500}, "setting": "loud", "exposure": {"f_number": 8}},
                "candidates": [{"unit": {"energy": -1}}]
            }),
        )
        .await;
    assert_eq!(pointers(&faults), ["/reference/setting", "/candidates/0/unit/energy"]);
    let faults = server
        .refused(
            "/v1/guide-number/energy",
            json!({"guide_number": {"value": 40, "unit": "m"}, "setting_stops": 1, "efficacy_lm_per_j": 1e9}),
        )
        .await;
    assert_eq!(pointers(&faults), ["/setting_stops", "/efficacy_lm_per_j"]);
    let dial = json!({"energy": 500, "scale": {"style": "dial", "full": 9, "least": 2}});
    let faults = server
        .refused(
            "/v1/ratios/balance",
            json!({
                "exposure": {"f_number": "f/0"},
                "lights": [{"name": "key", "unit": dial, "setting": "99", "hold": true}, {"name": "fill", "unit": dial}],
                "points": [{"name": "face", "target": {"ratio": 3, "to": "fase"}}, {"name": "face", "target": {"stops": 0}}],
                "readings": [
                    {"light": "kye", "point": "face", "setting": "9", "f_number": 8},
                    {"light": "fill", "point": "fcae", "setting": "12", "f_number": 8}
                ]
            }),
        )
        .await;
    assert_eq!(
        pointers(&faults),
        [
            "/exposure/f_number",
            "/lights/0/setting",
            "/points/0/target/to",
            "/points/1/name",
            "/readings/0/light",
            "/readings/1/point",
            "/readings/1/setting",
        ]
    );
}
