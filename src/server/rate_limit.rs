//! Rate limits by caller: a number of calls a second, with bursts (the generic cell rate algorithm of the crate
//! `governor`). Responses report the quota in the `RateLimit` headers of draft-ietf-httpapi-ratelimit-headers-10.

use std::{
    convert::Infallible,
    net::IpAddr,
    num::NonZeroU32,
    sync::{
        Arc,
        atomic::{AtomicU64, Ordering},
    },
    task::{Context, Poll},
    time::{Duration, Instant},
};

use axum::{
    extract::Request,
    http::{HeaderMap, HeaderName, HeaderValue},
    response::{IntoResponse, Response},
};
use futures_util::future::BoxFuture;
use governor::{
    RateLimiter,
    clock::{Clock, MonotonicClock},
    middleware::StateInformationMiddleware,
    state::keyed::HashMapStateStore,
};
use tower::{Layer, Service};

use super::problem::{Kind, Problem};

/// The header that states the limit.
pub const POLICY: HeaderName = HeaderName::from_static("ratelimit-policy");
/// The header that states what is left of it.
pub const LIMIT: HeaderName = HeaderName::from_static("ratelimit");
/// Seconds' worth of calls that may come at once.
const WINDOW_S: u32 = 10;
/// The highest limit that can be set, in calls a second.
pub const MAX_PER_SECOND: u32 = 1_000_000;
/// Callers that are counted one by one; some 100 bytes each. Further addresses share one quota.
const MAX_CALLERS: usize = 50_000;

/// Whose calls are counted together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Caller {
    /// The holder of a key, by the hash of their name.
    Key(u64),
    /// All clients in a network (an IPv4 address or an IPv6 /64).
    Address(IpAddr),
    /// All further networks, once the table is full.
    Others,
}

/// What a caller has left of the limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Quota {
    /// Calls that may be made at once.
    pub remaining: u32,
    /// Time until the whole burst is available again.
    pub resets_in: Duration,
}

/// A rate limit, and how much of it each caller has used.
#[derive(Debug)]
pub struct Rate {
    limiter: RateLimiter<Caller, HashMapStateStore<Caller>, MonotonicClock, StateInformationMiddleware>,
    policy: HeaderValue,
    per_second: u32,
    started: Instant,
    /// When callers with a full quota were last removed, in seconds since `started`.
    swept_s: AtomicU64,
}

impl Quota {
    /// The quota reported with a 429.
    pub const NONE: Self = Self { remaining: 0, resets_in: Duration::from_secs(WINDOW_S as u64) };
}

impl Rate {
    /// A limit of calls a second, up to [`MAX_PER_SECOND`], and ten seconds' worth at once.
    pub fn per_second(calls: NonZeroU32) -> Self {
        let burst = calls.saturating_mul(NonZeroU32::new(WINDOW_S).unwrap_or(NonZeroU32::MIN));
        let quota = governor::Quota::per_second(calls).allow_burst(burst);
        let policy = format!("\"calls\";q={burst};w={WINDOW_S}");
        Self {
            limiter: RateLimiter::hashmap_with_clock(quota, MonotonicClock).with_middleware(),
            // Digits and quotes are always a valid header value.
            policy: HeaderValue::from_str(&policy).unwrap_or_else(|_| HeaderValue::from_static("")),
            per_second: calls.get(),
            started: Instant::now(),
            swept_s: AtomicU64::new(0),
        }
    }

    /// Counts a call.
    ///
    /// # Errors
    ///
    /// The time to wait, if the caller has exceeded the limit.
    pub fn count(&self, caller: Caller) -> Result<Quota, Duration> {
        // Keys are never refused for want of room: their number is bounded by their file.
        let caller =
            if matches!(caller, Caller::Address(_)) && self.is_full() { Caller::Others } else { caller };
        match self.limiter.check_key(&caller) {
            Ok(snapshot) => {
                let remaining = snapshot.remaining_burst_capacity();
                let used = snapshot.quota().burst_size().get().saturating_sub(remaining);
                let resets_in = Duration::from_secs_f64(f64::from(used) / f64::from(self.per_second));
                Ok(Quota { remaining, resets_in })
            }
            Err(refusal) => Err(refusal.wait_time_from(MonotonicClock.now())),
        }
    }

    /// Whether the table is full, even without the callers whose quota is full again. Those are removed at most once a
    /// second, so that a flood of callers does not slow down every call.
    fn is_full(&self) -> bool {
        if self.limiter.len() < MAX_CALLERS {
            return false;
        }
        let now = self.started.elapsed().as_secs();
        if self.swept_s.fetch_max(now, Ordering::Relaxed) < now {
            self.limiter.retain_recent();
            return self.limiter.len() >= MAX_CALLERS;
        }
        true
    }

    /// Writes the `RateLimit` headers.
    pub fn write_headers(&self, quota: Quota, headers: &mut HeaderMap) {
        headers.insert(POLICY, self.policy.clone());
        let text = format!("\"calls\";r={};t={}", quota.remaining, whole_seconds(quota.resets_in));
        if let Ok(value) = HeaderValue::try_from(text) {
            headers.insert(LIMIT, value);
        }
    }
}

/// Answers 429 to callers beyond the limit, and reports the quota in every response. tower can only limit all callers
/// together.
#[derive(Clone)]
pub struct RateLimitLayer(Arc<Rate>);

impl RateLimitLayer {
    /// Applies this limit.
    pub fn new(rate: &Arc<Rate>) -> Self {
        Self(Arc::clone(rate))
    }
}

impl<S> Layer<S> for RateLimitLayer {
    type Service = RateLimited<S>;

    fn layer(&self, inner: S) -> RateLimited<S> {
        RateLimited { inner, rate: Arc::clone(&self.0) }
    }
}

/// The service of [`RateLimitLayer`].
#[derive(Clone)]
pub struct RateLimited<S> {
    inner: S,
    rate: Arc<Rate>,
}

impl<S> Service<Request> for RateLimited<S>
where
    S: Service<Request, Response = Response, Error = Infallible>,
    S::Future: Send + 'static,
{
    type Response = Response;
    type Error = Infallible;
    type Future = BoxFuture<'static, Result<Response, Infallible>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, request: Request) -> Self::Future {
        let Some(&caller) = request.extensions().get::<Caller>() else {
            // Not a calculation, so not limited.
            return Box::pin(self.inner.call(request));
        };
        let result = self.rate.count(caller);
        let quota = *result.as_ref().unwrap_or(&Quota::NONE);
        let response = match result {
            Ok(_) => Ok(self.inner.call(request)),
            Err(wait) => {
                let seconds = whole_seconds(wait).max(1);
                let detail = format!("Too many calls; the next is taken in {seconds} s.");
                Err(Problem::new(Kind::TooMany, detail).retry_after(seconds))
            }
        };
        let rate = Arc::clone(&self.rate);
        Box::pin(async move {
            let mut response = match response {
                Ok(response) => response.await?,
                Err(problem) => problem.into_response(),
            };
            rate.write_headers(quota, response.headers_mut());
            Ok(response)
        })
    }
}

/// Seconds, rounded up, so that a client that waits so long is not refused again.
pub fn whole_seconds(duration: Duration) -> u64 {
    duration.as_secs() + u64::from(duration.subsec_nanos() > 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_burst_is_allowed_and_further_calls_must_wait() {
        let rate = Rate::per_second(NonZeroU32::MIN);
        let remaining: Vec<_> =
            (0..10).map_while(|_| rate.count(Caller::Key(0)).ok().map(|quota| quota.remaining)).collect();
        assert_eq!(remaining, [9, 8, 7, 6, 5, 4, 3, 2, 1, 0]);
        assert!(rate.count(Caller::Key(0)).is_err_and(|wait| whole_seconds(wait) == 1));
        // Others have a quota of their own.
        assert_eq!(rate.count(Caller::Key(1)).map(|quota| quota.remaining), Ok(9));
        assert_eq!(whole_seconds(Duration::from_millis(1001)), 2);
    }

    #[test]
    fn a_flood_of_callers_takes_bounded_memory() {
        let rate = Rate::per_second(NonZeroU32::MIN);
        for number in 0..120_000_u32 {
            let address = IpAddr::V4(number.into());
            let _ = rate.count(Caller::Address(address));
        }
        assert!(rate.limiter.len() <= MAX_CALLERS + 1, "{}", rate.limiter.len());
        // Holders of keys are not affected.
        assert!(rate.count(Caller::Key(7)).is_ok());
        // Further addresses share one quota, and that is used up.
        assert!(rate.count(Caller::Address(IpAddr::V4(u32::MAX.into()))).is_err());
    }
}
