//! The application: the routes merged into one router, and the stack of layers around it.
//!
//! What each layer of our own does is in `server/`, the route table in `endpoints.rs`.

use std::{convert::Infallible, future::Future, io, net::IpAddr, sync::Arc};

use axum::{
    Router,
    body::Body,
    extract::Request,
    http::{HeaderName, HeaderValue, Method, StatusCode, header},
    response::{IntoResponse, Response},
};
use tokio::net::TcpListener;
use tower::{
    ServiceBuilder, ServiceExt,
    util::{BoxCloneSyncService, MapRequestLayer, MapResponseLayer, option_layer},
};
use tower_http::{
    catch_panic::CatchPanicLayer,
    compression::{CompressionLayer, CompressionLevel},
    map_response_body::MapResponseBodyLayer,
    request_id::{PropagateRequestIdLayer, SetRequestIdLayer},
    set_header::SetResponseHeaderLayer,
    timeout::TimeoutLayer,
    trace::TraceLayer,
    validate_request::ValidateRequestHeaderLayer,
};

use crate::{
    endpoints,
    server::{
        auth_layer::{self, AuthLayer},
        client_ip::Peer,
        compression::WorthCompressing,
        cors, listener,
        metrics_layer::{LogResponse, MetricsLayer},
        negotiation,
        problem::{Kind, Problem},
        problem_layer,
        rate_limit::RateLimitLayer,
        request_checks,
        request_id::{self, ID, NewRequestId},
        state::{AppState, Config},
    },
    web::{pages, site::SITE},
};

/// A router with its layers, boxed once.
type AppService = BoxCloneSyncService<Request, Response, Infallible>;

/// The application, without a socket.
#[derive(Clone)]
pub struct App {
    service: AppService,
    /// Answers connections beyond the limit.
    busy: AppService,
    state: Arc<AppState>,
}

impl App {
    /// Builds the application.
    pub fn new(config: Config) -> Self {
        let (router, templates) = routes();
        let state = Arc::new(AppState::new(config, SITE, templates));
        let router = router.with_state(Arc::clone(&state));
        Self { service: stack(router, &state), busy: busy(&state), state }
    }

    /// The shared state.
    pub fn state(&self) -> &Arc<AppState> {
        &self.state
    }

    /// Answers a request in this process, as if it came from `peer` on a connection of its own.
    pub async fn answer(&self, mut request: Request, peer: IpAddr) -> Response {
        request.extensions_mut().insert(Peer { address: peer, ..Peer::default() });
        let Ok(response) = self.service.clone().oneshot(request).await;
        response
    }

    /// Serves on a socket until `stop` is ready, then answers the requests in flight.
    pub async fn serve(
        self,
        listener: TcpListener,
        stop: impl Future<Output = ()> + Send + 'static,
    ) -> io::Result<()> {
        listener::serve(listener, self.service, self.busy, self.state, stop).await
    }
}

/// The router, and the path templates for metrics.
fn routes() -> (Router<Arc<AppState>>, Vec<String>) {
    let mut router = pages::routes();
    let mut templates: Vec<String> = pages::TEMPLATES.map(str::to_owned).into();
    for topic in endpoints::TOPICS {
        // Each topic's part of the OpenAPI document is dropped here; together they would keep some megabytes.
        let (routes, document) = topic().split_for_parts();
        templates.extend(document.paths.paths.into_keys());
        router = router.merge(routes);
    }
    (router, templates)
}

/// Wraps the router. Outermost first; the order matters where a comment says so.
fn stack(router: Router, state: &Arc<AppState>) -> AppService {
    let config = &state.config;
    let stack = ServiceBuilder::new()
        // Here and below: back to axum's body type, around a layer that changes it.
        .layer(MapResponseBodyLayer::new(Body::new))
        // Request ids before trace and metrics: every log line has one. A malformed id is dropped and replaced.
        .layer(MapRequestLayer::new(request_id::drop_malformed))
        .layer(SetRequestIdLayer::new(ID, NewRequestId))
        // Outside metrics, which leave the facts to log in the response's extensions.
        .layer(
            TraceLayer::new_for_http()
                .make_span_with(|_: &Request| tracing::Span::none())
                .on_request(())
                .on_response(LogResponse)
                .on_body_chunk(())
                .on_eos(())
                .on_failure(()),
        )
        // Ours: counts by route template, 499 if the client disconnects first.
        .layer(MetricsLayer(Arc::clone(&state.metrics)))
        // Outside all layers that refuse: errors have these headers too, and `is_page` sees the final media type.
        .layer(header(header::X_CONTENT_TYPE_OPTIONS, |_| true, "nosniff"))
        .layer(header(header::CONTENT_SECURITY_POLICY, is_page, PAGE_POLICY))
        .layer(header(header::X_FRAME_OPTIONS, is_page, "DENY"))
        .layer(header(header::REFERRER_POLICY, is_page, "no-referrer"))
        .layer(header(HeaderName::from_static("cross-origin-opener-policy"), is_page, "same-origin"))
        .layer({
            // During shutdown, so that clients on a kept connection reconnect elsewhere.
            let stopping = state.stopping.subscribe();
            header(header::CONNECTION, move |_| *stopping.borrow(), "close")
        })
        // Ours: every 4xx and 5xx becomes a problem document. Outside all layers that refuse, and outside the one that
        // copies the request id to the response, because the document quotes it.
        .layer(MapResponseLayer::new(problem_layer::to_problem(config.limits.time_limit)))
        .layer(PropagateRequestIdLayer::new(ID))
        .layer(MapResponseBodyLayer::new(Body::new))
        .layer(CatchPanicLayer::custom(|_| {
            Problem::from_status(StatusCode::INTERNAL_SERVER_ERROR).into_response()
        }))
        // Ours: refuses a message that two servers may read in two ways.
        .layer(ValidateRequestHeaderLayer::custom(request_checks::refuse))
        // CORS before auth and rates: a preflight carries no key and costs nothing, and pages may read a 401 or 429.
        .layer(MapResponseLayer::new(cors::preflight_status))
        .layer(config.origins.layer())
        // Ours: identifies the caller, by bearer key (SHA-256) or else by address.
        .layer(AuthLayer::new(state))
        // Ours, on governor: by key, else by network. Before keys are required, so that guessing keys is limited too.
        .layer(option_layer(config.rate.as_ref().map(RateLimitLayer::new)))
        .layer(ValidateRequestHeaderLayer::custom(auth_layer::require_key))
        .layer(MapResponseBodyLayer::new(Body::new))
        // Inside the problem layer: problem documents are never compressed.
        .layer(CompressionLayer::new().quality(CompressionLevel::Fastest).compress_when(WorthCompressing))
        // Until the response begins; its body has no time limit here.
        .layer(TimeoutLayer::with_status_code(StatusCode::REQUEST_TIMEOUT, config.limits.time_limit))
        // Inside metrics, which log the method. The router would empty the body of a HEAD, and compression would then
        // see nothing to compress: as a GET it has the same headers. The connection omits the body.
        .layer(MapRequestLayer::new(head_as_get))
        .service(router);
    BoxCloneSyncService::new(stack)
}

/// Answers connections beyond the limit: 503, and the connection is closed.
fn busy(state: &Arc<AppState>) -> AppService {
    let stack = ServiceBuilder::new()
        .layer(MapRequestLayer::new(request_id::drop_malformed))
        .layer(SetRequestIdLayer::new(ID, NewRequestId))
        .layer(header(header::X_CONTENT_TYPE_OPTIONS, |_| true, "nosniff"))
        .layer(header(header::CONNECTION, |_| true, "close"))
        .layer(MapResponseLayer::new(problem_layer::to_problem(state.config.limits.time_limit)))
        .layer(PropagateRequestIdLayer::new(ID))
        .layer(MapResponseLayer::new(cors::preflight_status))
        .layer(state.config.origins.layer())
        .service_fn(async |_: Request| {
            Ok::<_, Infallible>(
                Problem::new(Kind::Unavailable, "Too many connections; send it again.").into_response(),
            )
        });
    BoxCloneSyncService::new(stack)
}

/// Sets a header on the responses for which `applies` is true.
fn header(
    name: HeaderName,
    applies: impl Fn(&Response) -> bool + Clone + Send + Sync + 'static,
    value: &'static str,
) -> SetResponseHeaderLayer<impl FnMut(&Response) -> Option<HeaderValue> + Clone> {
    let value = HeaderValue::from_static(value);
    SetResponseHeaderLayer::overriding(name, move |response: &Response| {
        applies(response).then(|| value.clone())
    })
}

/// The Content-Security-Policy of pages: they load from this origin only, send to this origin only, and cannot be
/// framed. No inline scripts or styles; `data:` is for the images in Swagger UI's styles.
const PAGE_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
                           connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

/// Whether a browser may open the response as a document: HTML, or SVG, which may hold scripts.
fn is_page(response: &Response) -> bool {
    response
        .headers()
        .get(header::CONTENT_TYPE)
        .is_some_and(|media| media == negotiation::SVG || media.as_bytes().starts_with(b"text/html"))
}

/// Turns a HEAD into a GET.
fn head_as_get(mut request: Request) -> Request {
    if *request.method() == Method::HEAD {
        *request.method_mut() = Method::GET;
    }
    request
}
