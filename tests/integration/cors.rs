//! Cross-origin requests, by the CORS protocol of the Fetch standard.

use reqwest::Method;
use stopwright::server::{cors::Origins, state::Config};

use crate::support::{Answer, Server};

const CONVERT: &str = "/v1/stops/convert?from=f/8&to=f/11";

async fn server(origin: &str) -> Server {
    let origins = Origins::read(&[origin.to_owned()]).expect("an origin");
    Server::on(Config { origins, ..Config::default() }).await
}

async fn ask(server: &Server, method: Method, path: &str, fields: &[(&str, &str)]) -> Answer {
    let request = server.request(method, path);
    server.send(fields.iter().fold(request, |request, (name, value)| request.header(*name, *value))).await
}

#[tokio::test]
async fn only_allowed_origins_get_cors_headers() {
    let server = server("https://set.example").await;
    let answer = ask(&server, Method::GET, CONVERT, &[("origin", "https://set.example")]).await;
    assert_eq!(answer.header("access-control-allow-origin"), "https://set.example");
    assert!(answer.header("access-control-expose-headers").contains("x-request-id"));
    for origin in ["https://other.example", "http://set.example", "null"] {
        let answer = ask(&server, Method::GET, CONVERT, &[("origin", origin)]).await;
        assert_eq!(answer.status, 200);
        assert!(!answer.headers.contains_key("access-control-allow-origin"), "{origin}");
        // A cache must not serve the headers of one origin to another.
        assert!(answer.headers.get_all("vary").iter().any(|value| value == "origin"), "{origin}");
    }
    // Errors have the headers too, or a page could not read the reason.
    let answer =
        ask(&server, Method::GET, "/v1/stops/convert?from=f/0", &[("origin", "https://set.example")]).await;
    assert_eq!(answer.status, 422);
    assert_eq!(answer.header("access-control-allow-origin"), "https://set.example");
}

#[tokio::test]
async fn a_preflight_is_answered() {
    let server = server("https://set.example").await;
    let asking = |origin: &'static str| {
        [
            ("origin", origin),
            ("access-control-request-method", "POST"),
            ("access-control-request-headers", "authorization,content-type"),
        ]
    };
    let path = "/v1/ratios/balance";
    let answer = ask(&server, Method::OPTIONS, path, &asking("https://set.example")).await;
    assert_eq!(answer.status, 204);
    assert_eq!(answer.header("access-control-allow-origin"), "https://set.example");
    assert!(answer.header("access-control-allow-methods").contains("POST"));
    for name in ["authorization", "content-type"] {
        assert!(answer.header("access-control-allow-headers").contains(name));
    }
    let answer = ask(&server, Method::OPTIONS, path, &asking("https://other.example")).await;
    assert_eq!(answer.status, 204);
    assert!(
        !answer.headers.contains_key("access-control-allow-origin"),
        "a browser then lets nothing through"
    );
}

#[tokio::test]
async fn a_plain_options_is_answered_as_a_preflight_is() {
    for server in [Server::start().await, server("https://set.example").await] {
        for path in ["/v1/ratios/balance", "/healthz"] {
            let answer = ask(&server, Method::OPTIONS, path, &[]).await;
            assert_eq!(
                (answer.status, answer.header("access-control-allow-methods")),
                (204, "GET,HEAD,POST")
            );
        }
    }
}

#[tokio::test]
async fn by_default_other_origins_read_only_the_document() {
    let plain = Server::start().await;
    let origin = [("origin", "https://set.example")];
    let answer = ask(&plain, Method::GET, CONVERT, &origin).await;
    assert!(!answer.headers.contains_key("access-control-allow-origin"));
    let answer = ask(&plain, Method::GET, "/openapi.json", &origin).await;
    assert_eq!(answer.header("access-control-allow-origin"), "*");
    // For any origin, because a cache may serve the answer to a page later.
    let all = server("*").await;
    for (server, path) in [(&all, CONVERT), (&plain, "/openapi.json")] {
        for fields in [&origin[..], &[]] {
            let answer = ask(server, Method::GET, path, fields).await;
            assert_eq!(answer.header("access-control-allow-origin"), "*", "{path} {fields:?}");
        }
    }
}

#[tokio::test]
async fn pages_load_nothing_from_elsewhere_and_cannot_be_framed() {
    let server = Server::start().await;
    for path in ["/", "/docs/"] {
        let answer = ask(&server, Method::GET, path, &[("accept", "text/html")]).await;
        assert_eq!(answer.status, 200, "{path}");
        assert!(answer.header("content-type").starts_with("text/html"), "{path}");
        let policy = answer.header("content-security-policy");
        for part in ["default-src 'none'", "script-src 'self';", "frame-ancestors 'none'", "base-uri 'none'"]
        {
            assert!(policy.contains(part), "{path}: {policy}");
        }
        assert!(!policy.contains("'unsafe-"), "{path}: {policy}");
        assert_eq!(answer.header("x-frame-options"), "DENY");
        assert_eq!(answer.header("cache-control"), "public, max-age=86400", "{path}");
        assert_eq!(answer.header("referrer-policy"), "no-referrer");
        let page = answer.body.as_str().expect("a page");
        // The policy lets no script in the page run, so there must be none.
        assert!(!page.contains("<script>") && !page.contains("src=\"http") && !page.contains("href=\"http"));
    }
    let answer = server.get(CONVERT).await;
    assert!(!answer.headers.contains_key("content-security-policy"));
}
