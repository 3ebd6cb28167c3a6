//! The front page covers the whole service and says only what is true. Its behaviour in a browser is in
//! `tests/browser`.

use reqwest::Method;
use serde_json::Value;

use crate::{
    curl,
    support::{Answer, Server, document},
};

async fn get(server: &Server, path: &str) -> Answer {
    server.send(server.request(Method::GET, path).header("accept", "text/html")).await
}

async fn page(server: &Server) -> String {
    get(server, "/").await.body.as_str().expect("a page").to_owned()
}

/// All texts between two marks.
fn between(page: &str, begin: &str, end: &str) -> Vec<String> {
    let pieces = page.split(begin).skip(1).map(|piece| piece.split(end).next().expect("an end"));
    pieces.map(|piece| piece.replace("&lt;", "<").replace("&quot;", "\"").replace("&amp;", "&")).collect()
}

#[tokio::test]
async fn every_endpoint_has_its_place() {
    let page = page(&Server::start().await).await;
    for (path, methods) in document()["paths"].as_object().expect("paths") {
        let methods = methods.as_object().expect("methods");
        let names: Vec<String> = methods.keys().map(|method| method.to_uppercase()).collect();
        let place = format!("<code>{} {path}</code>", names.join(", "));
        assert_eq!(page.matches(&place).count(), 1, "src/web/pages/front.html lacks {{{{endpoint {path}}}}}");
    }
    assert!(!page.contains("{{"), "a place for what is not there");
}

#[tokio::test]
async fn every_link_leads_somewhere() {
    let server = Server::start().await;
    let page = page(&server).await;
    let links = ["href", "src", "srcset"].map(|name| between(&page, &format!(" {name}=\""), "\"")).concat();
    assert!(links.len() > 30, "{links:?}");
    let operations = document()["paths"].as_object().expect("paths").values();
    let operations: Vec<&Value> =
        operations.flat_map(|path| path.as_object().expect("methods").values()).collect();
    for link in links {
        let (path, mark) = link.split_once('#').unwrap_or((&link, ""));
        if path.is_empty() {
            assert!(page.contains(&format!("id=\"{mark}\"")), "{link}");
            continue;
        }
        assert_eq!(server.get(path).await.status, 200, "{link}");
        if let Some((tag, id)) = mark.trim_start_matches('/').split_once('/') {
            let known = operations.iter().any(|one| one["tags"][0] == tag && one["operationId"] == id);
            assert!(known, "{link}");
        }
    }
}

#[tokio::test]
async fn every_line_for_a_terminal_is_answered() {
    let server = Server::start().await;
    let lines: Vec<String> = between(&page(&server).await, "<pre><code", "</code></pre>")
        .iter()
        .map(|line| line.split_once('>').expect("a line").1.to_owned())
        .collect();
    assert_eq!(lines.len(), 5);
    for line in lines {
        let answer = curl::ask(&server, &line).await;
        assert_eq!(answer.status, 200, "{line}: {}", answer.body);
        assert_eq!(answer.body.is_string(), line.contains("accept: text/plain"), "{line}");
    }
}

#[tokio::test]
async fn every_notation_on_the_page_is_accepted() {
    let server = Server::start().await;
    let page = page(&server).await;
    let cells = between(&page, "<td><code>", "</code></td>");
    let values: Vec<&str> = cells.iter().flat_map(|cell| cell.split("</code> <code>")).collect();
    assert!(values.len() > 10, "{values:?}");
    for from in values {
        let body = serde_json::json!({"from": from, "shift": "+1"});
        assert_eq!(server.ask("/v1/stops/convert", body).await["exposure_stops"], 1.0, "{from}");
    }
}

/// The pictures of the page: the address of each, and its tag.
fn pictures(page: &str) -> [(String, String); 2] {
    [("<source ", "srcset"), ("<img ", "src")].map(|(tag, name)| {
        let tag = between(page, tag, ">").remove(0);
        (between(&tag, &format!(" {name}=\""), "\"").remove(0), tag)
    })
}

#[tokio::test]
async fn its_pictures_are_of_the_stated_size_and_described() {
    let server = Server::start().await;
    let page = page(&server).await;
    for (address, tag) in pictures(&page) {
        let drawn = server.send(server.request(Method::GET, &address).header("accept", "image/*")).await;
        assert_eq!((drawn.status, drawn.header("content-type")), (200, "image/svg+xml"));
        let drawn = roxmltree::Document::parse(drawn.body.as_str().expect("a picture")).expect("XML");
        for side in ["width", "height"] {
            // The size is given, so that nothing moves when it loads.
            let stated = between(&tag, &format!(" {side}=\""), "\"").remove(0);
            assert_eq!(drawn.root_element().attribute(side), Some(&*stated), "{address} {side}");
        }
    }
    let example = &document()["paths"]["/v1/ratios/balance"]["post"]["requestBody"]["content"]["application/json"]
        ["examples"]["by_position"]["value"];
    let answer = server.ask("/v1/ratios/balance", example.clone()).await;
    let summary = answer["summary"].as_str().expect("a summary");
    let alt = page.split_once(" alt=\"").expect("a description").1.replace("&quot;", "\"");
    assert!(alt.contains(summary), "{summary} is not in {}", &alt[..400]);
}

#[tokio::test]
async fn it_is_small_and_cached() {
    let server = Server::start().await;
    let mut bytes = 0;
    for path in ["/", "/assets/front.css", "/assets/front.js", "/assets/icon.svg"] {
        let answer = get(&server, path).await;
        assert_eq!(answer.header("cache-control"), "public, max-age=86400", "{path}");
        let tag = answer.header("etag").to_owned();
        let again =
            server.request(Method::GET, path).header("accept", "text/html").header("if-none-match", &tag);
        assert_eq!(server.send(again).await.status, 304, "{path}");
        let packed =
            server.request(Method::GET, path).header("accept", "text/html").header("accept-encoding", "gzip");
        let packed = packed.send().await.expect("an answer");
        assert_eq!(packed.headers()["content-encoding"], "gzip", "{path}");
        let packed = packed.bytes().await.expect("a body").len();
        println!("{path} {packed}");
        bytes += packed;
    }
    // The page fits into the first flight of packets on a fresh connection, ten of 1460 bytes (RFC 6928).
    assert!(bytes <= 14_600, "{bytes} bytes");
    // Its picture is not part of that: it is loaded lazily, one of two, and takes less than a flight of its own.
    for (address, _) in pictures(&page(&server).await) {
        let packed = server.request(Method::GET, &address).header("accept-encoding", "gzip").send().await;
        let packed = packed.expect("an answer").bytes().await.expect("a body").len();
        println!("{address} {packed}");
        assert!(packed <= 14_600, "{packed} bytes");
    }
}
