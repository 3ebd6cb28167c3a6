//! Large answers are compressed for clients that accept it.

use std::io::Read;

use flate2::read::GzDecoder;
use reqwest::{Method, Response, StatusCode};

use crate::support::Server;

const LARGE: &str = "/v1/lights/falloff?source[disc_m]=0.9&from=0.5&to=8&count=256";

async fn ask(server: &Server, path: &str, fields: &[(&str, &str)]) -> Response {
    let request = server.request(Method::GET, path);
    let request = fields.iter().fold(request, |request, (name, value)| request.header(*name, *value));
    request.send().await.expect("an answer")
}

fn header<'r>(response: &'r Response, name: &str) -> &'r str {
    response.headers().get(name).map_or("", |value| value.to_str().expect("text"))
}

/// The size of an answer, and its bytes without gzip.
async fn unpacked(response: Response) -> (usize, Vec<u8>) {
    let mut bytes = Vec::new();
    let packed = response.bytes().await.expect("a body");
    GzDecoder::new(packed.as_ref()).read_to_end(&mut bytes).expect("gzip");
    (packed.len(), bytes)
}

#[tokio::test]
async fn large_answers_are_compressed_for_clients_that_accept_it() {
    let server = Server::start().await;
    for (path, media, times) in [
        (LARGE, "application/json", 4),
        ("/openapi.json", "application/json", 4),
        ("/docs/swagger-ui-bundle.js", "text/javascript; charset=utf-8", 2),
    ] {
        let plain = ask(&server, path, &[]).await;
        assert_eq!((plain.status(), header(&plain, "content-encoding")), (StatusCode::OK, ""), "{path}");
        assert_eq!(header(&plain, "vary"), "accept, accept-encoding");
        let plain_tag = header(&plain, "etag").to_owned();
        let plain = plain.bytes().await.expect("a body");
        for taken in ["gzip", "br;q=1.0, gzip;q=0.8, *;q=0.1", "deflate, GZIP"] {
            let packed = ask(&server, path, &[("accept-encoding", taken)]).await;
            assert_eq!(header(&packed, "content-encoding"), "gzip", "{path} {taken}");
            assert_eq!(header(&packed, "vary"), "accept, accept-encoding");
            assert_eq!(header(&packed, "content-type"), media);
            // Published: RFC 9110, 8.8.1: a weak tag is the same for an answer and its compressed bytes.
            assert_eq!(header(&packed, "etag"), plain_tag);
            assert!(plain_tag.starts_with("W/"), "{plain_tag}");
            let (length, unpacked) = unpacked(packed).await;
            assert!(length * times < plain.len(), "{path}: {length} of {}", plain.len());
            assert_eq!(unpacked, plain);
            // Published: RFC 9110, 8.8.3.2, the weak comparison.
            for held in [&plain_tag, plain_tag.trim_start_matches("W/")] {
                let again = ask(&server, path, &[("accept-encoding", taken), ("if-none-match", held)]).await;
                assert_eq!(
                    (again.status(), header(&again, "etag")),
                    (StatusCode::NOT_MODIFIED, plain_tag.as_str())
                );
                assert!(!again.headers().contains_key("content-encoding"));
            }
        }
    }
}

#[tokio::test]
async fn a_head_request_has_the_headers_of_get() {
    let server = Server::start().await;
    for path in [LARGE, "/openapi.json", "/v1/stops/convert?from=f/8&to=f/11", "/healthz", "/nowhere"] {
        for taken in ["gzip", "identity"] {
            let get = ask(&server, path, &[("accept-encoding", taken), ("x-request-id", "one")]).await;
            let head = server.request(Method::HEAD, path).header("accept-encoding", taken);
            let head = head.header("x-request-id", "one").send().await.expect("an answer");
            assert_eq!(head.status(), get.status(), "{path}");
            // Published: RFC 9110, 9.3.2: headers known only while the content is made, as its length, may be missing.
            let is_fixed = |name: &str| !["date", "transfer-encoding"].contains(&name);
            for (name, value) in get.headers().iter().filter(|(name, _)| is_fixed(name.as_str())) {
                assert_eq!(head.headers().get(name), Some(value), "{path} {taken} {name}");
            }
            assert!(head.bytes().await.expect("no body").is_empty());
        }
    }
}

#[tokio::test]
async fn small_answers_and_other_clients_get_no_compression() {
    let server = Server::start().await;
    let small = "/v1/stops/convert?from=f/8&to=f/11";
    for (path, taken) in [
        (small, "gzip"),
        (LARGE, "identity"),
        (LARGE, "gzip;q=0"),
        (LARGE, "gzip;q=0, *"),
        // RFC 9110, 12.5.3: the coding of higher quality is preferred.
        (LARGE, "identity, gzip;q=0.1"),
        (LARGE, "br"),
        (LARGE, "nonsense;;q"),
    ] {
        let answer = ask(&server, path, &[("accept-encoding", taken)]).await;
        assert_eq!((answer.status(), header(&answer, "content-encoding")), (StatusCode::OK, ""), "{taken}");
        let body = answer.bytes().await.expect("a body");
        assert!(std::str::from_utf8(&body).is_ok_and(|text| text.len() > 100), "plain text");
    }
}
