//! The service: every route, and the stack of layers around them all.

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
        call::{CallLayer, LogAnswer},
        client_ip::Peer,
        compression::WholeAndLarge,
        cors, listener, negotiation,
        problem::{Kind, Problem},
        problem_layer,
        rate_limit::RateLimitLayer,
        request_checks,
        request_id::{self, ID, NewRequestId},
        state::{AppState, Config},
    },
    web::{pages, site::SITE},
};

/// A service that answers every request.
type Answers = BoxCloneSyncService<Request, Response, Infallible>;

/// The whole service, without a socket.
#[derive(Clone)]
pub struct App {
    service: Answers,
    /// What answers connections beyond the limit.
    busy: Answers,
    state: Arc<AppState>,
}

impl App {
    /// A service with this configuration.
    pub fn new(config: Config) -> Self {
        let (router, templates) = routes();
        let state = Arc::new(AppState::new(config, SITE, templates));
        let router = router.with_state(Arc::clone(&state));
        Self { service: stack(router, &state), busy: busy(&state), state }
    }

    /// What holds while it runs.
    pub fn state(&self) -> &Arc<AppState> {
        &self.state
    }

    /// Answers a request that came from `peer`, as if it had a connection of its own.
    pub async fn answer(&self, mut request: Request, peer: IpAddr) -> Response {
        request.extensions_mut().insert(Peer { address: peer, ..Peer::default() });
        let Ok(response) = self.service.clone().oneshot(request).await;
        response
    }

    /// Serves on a socket until `stop` is ready, and answers what has come by then.
    pub async fn serve(
        self,
        listener: TcpListener,
        stop: impl Future<Output = ()> + Send + 'static,
    ) -> io::Result<()> {
        listener::serve(listener, self.service, self.busy, self.state, stop).await
    }
}

/// The routes without their state, and their templates. The endpoints' table is in `endpoints.rs`.
fn routes() -> (Router<Arc<AppState>>, Vec<String>) {
    let mut router = pages::routes();
    let mut templates: Vec<String> = pages::TEMPLATES.map(str::to_owned).into();
    for topic in endpoints::TOPICS {
        // Each topic's part of the document is dropped at once: together they would stay some megabytes of the heap.
        let (routes, document) = topic().split_for_parts();
        templates.extend(document.paths.paths.into_keys());
        router = router.merge(routes);
    }
    (router, templates)
}

/// Wraps the router. Outermost first; the order matters where a comment says so.
fn stack(router: Router, state: &Arc<AppState>) -> Answers {
    let config = &state.config;
    let stack = ServiceBuilder::new()
        .layer(MapResponseBodyLayer::new(Body::new))
        .layer(MapRequestLayer::new(request_id::drop_malformed))
        // Before trace and calls: every line of the log has the id.
        .layer(SetRequestIdLayer::new(ID, NewRequestId))
        .layer(
            TraceLayer::new_for_http()
                .make_span_with(|_: &Request| tracing::Span::none())
                .on_request(())
                .on_response(LogAnswer)
                .on_body_chunk(())
                .on_eos(())
                .on_failure(()),
        )
        // Ours: counts by route, and 499 where the client leaves early.
        .layer(CallLayer(Arc::clone(&state.metrics)))
        .layer(header(header::X_CONTENT_TYPE_OPTIONS, |_| true, "nosniff"))
        .layer(header(header::CONTENT_SECURITY_POLICY, is_page, PAGE_POLICY))
        .layer(header(header::X_FRAME_OPTIONS, is_page, "DENY"))
        .layer(header(header::REFERRER_POLICY, is_page, "no-referrer"))
        .layer(header(HeaderName::from_static("cross-origin-opener-policy"), is_page, "same-origin"))
        .layer({
            // A busy client then goes elsewhere by itself.
            let stopping = state.stopping.subscribe();
            header(header::CONNECTION, move |_| *stopping.borrow(), "close")
        })
        // Outside all that may refuse: a bare error becomes a problem document, with the id out of the answer's head.
        .layer(MapResponseLayer::new(problem_layer::document(config.limits.time_limit)))
        .layer(PropagateRequestIdLayer::new(ID))
        .layer(MapResponseBodyLayer::new(Body::new))
        .layer(CatchPanicLayer::custom(|_| {
            Problem::of_bare(StatusCode::INTERNAL_SERVER_ERROR).into_response()
        }))
        .layer(ValidateRequestHeaderLayer::custom(request_checks::refuse))
        // Before keys: a preflight carries none.
        .layer(MapResponseLayer::new(cors::preflight_status))
        .layer(config.origins.layer())
        // Ours: who calls, by bearer key (SHA-256) or address.
        .layer(AuthLayer::new(state))
        // Ours, on governor: by key, else by network. Before keys are asked for, so that guessing is not free.
        .layer(option_layer(config.rate.as_ref().map(RateLimitLayer::new)))
        .layer(ValidateRequestHeaderLayer::custom(auth_layer::require_key))
        .layer(MapResponseBodyLayer::new(Body::new))
        .layer(CompressionLayer::new().quality(CompressionLevel::Fastest).compress_when(WholeAndLarge))
        .layer(TimeoutLayer::with_status_code(StatusCode::REQUEST_TIMEOUT, config.limits.time_limit))
        // Inside compression, so that a HEAD is as its GET to the last byte; the connection leaves the body out.
        .layer(MapRequestLayer::new(head_as_get))
        .service(router);
    BoxCloneSyncService::new(stack)
}

/// Answers the connections beyond the limit: 503, and the connection is closed.
fn busy(state: &Arc<AppState>) -> Answers {
    let stack = ServiceBuilder::new()
        .layer(MapRequestLayer::new(request_id::drop_malformed))
        .layer(SetRequestIdLayer::new(ID, NewRequestId))
        .layer(header(header::X_CONTENT_TYPE_OPTIONS, |_| true, "nosniff"))
        .layer(header(header::CONNECTION, |_| true, "close"))
        .layer(MapResponseLayer::new(problem_layer::document(state.config.limits.time_limit)))
        .layer(PropagateRequestIdLayer::new(ID))
        .layer(state.config.origins.layer())
        .service_fn(async |_: Request| {
            Ok::<_, Infallible>(
                Problem::new(Kind::Unavailable, "Too many connections; send it again.").into_response(),
            )
        });
    BoxCloneSyncService::new(stack)
}

/// Sets a header of the answers for which `applies` holds.
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

/// A page loads nothing from elsewhere, sends nothing elsewhere, and stands in no frame. Scripts and styles come out of
/// files; Swagger UI has pictures in its styles.
const PAGE_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
                           connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

/// Whether an answer is a page, to which a browser gives a place of its own.
fn is_page(response: &Response) -> bool {
    response
        .headers()
        .get(header::CONTENT_TYPE)
        .is_some_and(|media| media == negotiation::SVG || media.as_bytes().starts_with(b"text/html"))
}

/// A HEAD is answered as a GET; the connection leaves the body out.
fn head_as_get(mut request: Request) -> Request {
    if *request.method() == Method::HEAD {
        *request.method_mut() = Method::GET;
    }
    request
}
