//! The application: the routes merged into one router, and the stack of layers around it.
//!
//! What each layer of our own does is in `server/`, the route table in `endpoints.rs`.

use std::{
    convert::Infallible, future::Future, io, net::IpAddr, panic::AssertUnwindSafe, sync::Arc, time::Duration,
};

use axum::{
    Router,
    extract::Request,
    http::{HeaderName, HeaderValue, Method, StatusCode, header},
    response::{IntoResponse, Response},
};
use futures_util::FutureExt;
use tokio::{net::TcpListener, time::timeout};
use tower::{
    ServiceBuilder, ServiceExt,
    util::{BoxCloneSyncService, MapFutureLayer, MapRequestLayer, MapResponseLayer, option_layer},
};
use tower_http::{
    compression::{CompressionLayer, CompressionLevel},
    request_id::{PropagateRequestIdLayer, SetRequestIdLayer},
    set_header::SetResponseHeaderLayer,
    validate_request::ValidateRequestHeaderLayer,
};

use crate::{
    endpoints,
    server::{
        around::AroundLayer,
        auth_layer::{self, IdentifyCaller},
        compression::{WorthCompressing, to_body},
        listener,
        metrics_layer::CountRequests,
        page_headers,
        problem::{Kind, Problem},
        problem_layer::WriteProblems,
        rate_limit::{Caller, LimitRate},
        request_checks,
        request_id::{self, ID, NewRequestId},
        retirement::AnnounceRetirement,
        state::{AppState, Config},
        worker_pool::caller_info::CallerInfo,
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
        request
            .extensions_mut()
            .insert(CallerInfo { caller: Caller::Address(peer), ..CallerInfo::default() });
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
        // Request ids first: every log line has one. Ours: a malformed id is dropped, so that the request gets a new one.
        .layer(MapRequestLayer::new(request_id::drop_malformed))
        .layer(SetRequestIdLayer::new(ID, NewRequestId))
        // Ours: counts by route template and logs; 499 if the client disconnects first.
        .layer(AroundLayer(CountRequests(Arc::clone(&state.metrics))))
        // Outside all layers that refuse: errors have these headers too, and the media type is the final one.
        .layer(header(header::X_CONTENT_TYPE_OPTIONS, |_| true, "nosniff"))
        // Ours: what will be retired, if there is any such path.
        .layer(option_layer(
            (!config.retirements.is_empty()).then_some(AroundLayer(AnnounceRetirement(config.retirements))),
        ))
        // Ours: the content security policy of pages, and what else only HTML and SVG need.
        .layer(MapResponseLayer::new(page_headers::set))
        .layer({
            // During shutdown, so that clients on a kept connection reconnect elsewhere.
            let stopping = state.stopping.subscribe();
            header(header::CONNECTION, move |_| *stopping.borrow(), "close")
        })
        // Ours: every 4xx and 5xx becomes a problem document, for a browser a page. Outside all layers that refuse.
        .layer(AroundLayer(WriteProblems(state.site.problem_page)))
        // Copies the id to the response. Inside the layer above, which quotes it.
        .layer(PropagateRequestIdLayer::new(ID))
        // Ours: refuses a message that two servers may read in two ways.
        .layer(ValidateRequestHeaderLayer::custom(request_checks::refuse))
        // CORS before auth and rates: a preflight carries no key and costs nothing, and pages may read a 401 or 429. Ours:
        // tower-http's builds a map of headers for each request, a twelfth of a light call.
        .layer(config.origins.layer())
        // Ours: identifies the caller, by bearer key (SHA-256) or else by address.
        .layer(AroundLayer(IdentifyCaller(Arc::clone(state))))
        // Ours, on governor: by key, else by network. Before keys are required, so that guessing keys is limited too.
        .layer(option_layer(config.rate.clone().map(|rate| AroundLayer(LimitRate(rate)))))
        // Ours: 401 without a known key, if the service has keys.
        .layer(ValidateRequestHeaderLayer::custom(auth_layer::require_key))
        // Ours: back to axum's body type, which compression changes.
        .layer(MapResponseLayer::new(to_body))
        // Inside the problem layer: problem documents are never compressed.
        .layer(CompressionLayer::new().quality(CompressionLevel::Fastest).compress_when(WorthCompressing))
        // Ours: the time limit, until the response begins, and a 500 for a panic. tower-http's layers register a timer for
        // each request and box each body.
        .layer({
            let limit = config.limits.time_limit;
            MapFutureLayer::new(move |response| or_problem(response, limit))
        })
        // Ours. Inside metrics, which log the method. The router would empty the body of a HEAD, and compression would then
        // see nothing to compress: as a GET it has the same headers. The connection omits the body.
        .layer(MapRequestLayer::new(head_as_get))
        .service(router);
    BoxCloneSyncService::new(stack)
}

/// Answers connections beyond the limit: 503, and the connection is closed. The listener counts them.
fn busy(state: &Arc<AppState>) -> AppService {
    let stack = ServiceBuilder::new()
        .layer(MapRequestLayer::new(request_id::drop_malformed))
        .layer(SetRequestIdLayer::new(ID, NewRequestId))
        .layer(header(header::X_CONTENT_TYPE_OPTIONS, |_| true, "nosniff"))
        .layer(header(header::CONNECTION, |_| true, "close"))
        .layer(MapResponseLayer::new(page_headers::set))
        .layer(AroundLayer(WriteProblems(state.site.problem_page)))
        .layer(PropagateRequestIdLayer::new(ID))
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

/// The response; a 408 if it takes longer than the limit, a 500 if making it panics (the panic hook logs that).
fn or_problem(
    response: impl Future<Output = Result<Response, Infallible>>,
    limit: Duration,
) -> impl Future<Output = Result<Response, Infallible>> {
    // Boxed, so that the layers outside do not move it about.
    let mut response = Box::pin(AssertUnwindSafe(response).catch_unwind());
    async move {
        // Quick calls are ready at once, and need no timer.
        let outcome = match response.as_mut().now_or_never() {
            Some(outcome) => Ok(outcome),
            None => timeout(limit, response).await,
        };
        let problem = match outcome {
            Ok(Ok(response)) => return response,
            Ok(Err(_)) => Problem::from_status(StatusCode::INTERNAL_SERVER_ERROR),
            Err(_) => Problem::new(Kind::Timeout, format!("No answer within {} s.", limit.as_secs_f64())),
        };
        Ok(problem.into_response())
    }
}

/// Turns a HEAD into a GET.
fn head_as_get(mut request: Request) -> Request {
    if *request.method() == Method::HEAD {
        *request.method_mut() = Method::GET;
    }
    request
}
