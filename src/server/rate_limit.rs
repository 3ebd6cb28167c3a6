//! How often a caller may call: so many calls a second, with bursts (the generic cell rate algorithm of the crate
//! `governor`). What is left is told in the `RateLimit` fields of draft-ietf-httpapi-ratelimit-headers-10.

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
    Quota, RateLimiter,
    clock::{Clock, MonotonicClock},
    middleware::StateInformationMiddleware,
    state::keyed::HashMapStateStore,
};
use tower::{Layer, Service};

use super::problem::{Kind, Problem};

/// The limit, in an answer's head.
pub const POLICY: HeaderName = HeaderName::from_static("ratelimit-policy");
/// What is left of it.
pub const LIMIT: HeaderName = HeaderName::from_static("ratelimit");
/// Seconds whose calls may come at once.
const WINDOW_S: u32 = 10;
/// Calls a second that may be asked for at the most.
pub const MOST: u32 = 1_000_000;
/// Addresses that are told apart; some 100 bytes each.
const ADDRESSES_MOST: usize = 50_000;

/// Who is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Caller {
    /// The one who has a key, by a number of their name.
    Key(u64),
    /// All at an address.
    Address(IpAddr),
    /// All further addresses, once the table is full.
    Others,
}

/// What a caller has left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CallsLeft {
    /// Calls that may be made at once.
    pub left: u32,
    /// Until the whole burst may be made again.
    pub whole_in: Duration,
}

/// A limit, and who has used how much of it.
#[derive(Debug)]
pub struct Rate {
    limiter: RateLimiter<Caller, HashMapStateStore<Caller>, MonotonicClock, StateInformationMiddleware>,
    policy: HeaderValue,
    per_second: u32,
    begun: Instant,
    /// When those who are whole again were last forgotten, in seconds since `begun`.
    swept_s: AtomicU64,
}

impl CallsLeft {
    /// What a caller has who was refused.
    pub const NONE: Self = Self { left: 0, whole_in: Duration::from_secs(WINDOW_S as u64) };
}

impl Rate {
    /// So many calls a second, up to [`MOST`], and ten seconds' worth at once.
    pub fn per_second(calls: NonZeroU32) -> Self {
        let burst = calls.saturating_mul(NonZeroU32::new(WINDOW_S).unwrap_or(NonZeroU32::MIN));
        let quota = Quota::per_second(calls).allow_burst(burst);
        let policy = format!("\"calls\";q={burst};w={WINDOW_S}");
        Self {
            limiter: RateLimiter::hashmap_with_clock(quota, MonotonicClock).with_middleware(),
            // Digits and quotes are always a value of a header.
            policy: HeaderValue::from_str(&policy).unwrap_or_else(|_| HeaderValue::from_static("")),
            per_second: calls.get(),
            begun: Instant::now(),
            swept_s: AtomicU64::new(0),
        }
    }

    /// Counts a call. Refused: how long to wait.
    pub fn count(&self, caller: Caller) -> Result<CallsLeft, Duration> {
        // Keys are as many as their file has, so they always have room.
        let caller =
            if matches!(caller, Caller::Address(_)) && self.is_full() { Caller::Others } else { caller };
        match self.limiter.check_key(&caller) {
            Ok(snapshot) => {
                let left = snapshot.remaining_burst_capacity();
                let used = snapshot.quota().burst_size().get().saturating_sub(left);
                let whole_in = Duration::from_secs_f64(f64::from(used) / f64::from(self.per_second));
                Ok(CallsLeft { left, whole_in })
            }
            Err(refusal) => Err(refusal.wait_time_from(MonotonicClock.now())),
        }
    }

    /// Whether there is no room for another caller, even without those who are whole again. They are forgotten once
    /// a second at the most, so that a flood of callers does not make each call slow.
    fn is_full(&self) -> bool {
        if self.limiter.len() < ADDRESSES_MOST {
            return false;
        }
        let now = self.begun.elapsed().as_secs();
        if self.swept_s.fetch_max(now, Ordering::Relaxed) < now {
            self.limiter.retain_recent();
            return self.limiter.len() >= ADDRESSES_MOST;
        }
        true
    }

    /// Tells it in an answer's head.
    pub fn tell(&self, standing: CallsLeft, headers: &mut HeaderMap) {
        headers.insert(POLICY, self.policy.clone());
        let text = format!("\"calls\";r={};t={}", standing.left, whole_seconds(standing.whole_in));
        if let Ok(value) = HeaderValue::try_from(text) {
            headers.insert(LIMIT, value);
        }
    }
}

/// Refuses a caller who calls too often, and says in every answer what is left. tower has a limit for all callers
/// together only.
#[derive(Clone)]
pub struct RateLimitLayer(Arc<Rate>);

impl RateLimitLayer {
    /// By this limit.
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
            // Not a calculation.
            return Box::pin(self.inner.call(request));
        };
        let counted = self.rate.count(caller);
        let quota = *counted.as_ref().unwrap_or(&CallsLeft::NONE);
        let answer = match counted {
            Ok(_) => Ok(self.inner.call(request)),
            Err(wait) => {
                let seconds = whole_seconds(wait).max(1);
                let detail = format!("Too many calls; the next is taken in {seconds} s.");
                Err(Problem::new(Kind::TooMany, detail).retry_after(seconds))
            }
        };
        let rate = Arc::clone(&self.rate);
        Box::pin(async move {
            let mut response = match answer {
                Ok(answer) => answer.await?,
                Err(problem) => problem.into_response(),
            };
            rate.tell(quota, response.headers_mut());
            Ok(response)
        })
    }
}

/// Seconds, rounded up, so that who waits them out is not refused again.
pub fn whole_seconds(duration: Duration) -> u64 {
    duration.as_secs() + u64::from(duration.subsec_nanos() > 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_burst_is_let_through_and_what_is_beyond_waits() {
        let rate = Rate::per_second(NonZeroU32::MIN);
        let left: Vec<_> =
            (0..10).map_while(|_| rate.count(Caller::Key(0)).ok().map(|standing| standing.left)).collect();
        assert_eq!(left, [9, 8, 7, 6, 5, 4, 3, 2, 1, 0]);
        assert!(rate.count(Caller::Key(0)).is_err_and(|wait| whole_seconds(wait) == 1));
        // Others have their own.
        assert_eq!(rate.count(Caller::Key(1)).map(|standing| standing.left), Ok(9));
        assert_eq!(whole_seconds(Duration::from_millis(1001)), 2);
    }

    #[test]
    fn a_flood_of_callers_is_not_remembered_without_end() {
        let rate = Rate::per_second(NonZeroU32::MIN);
        for number in 0..120_000_u32 {
            let address = IpAddr::V4(number.into());
            let _ = rate.count(Caller::Address(address));
        }
        assert!(rate.limiter.len() <= ADDRESSES_MOST + 1, "{}", rate.limiter.len());
        // Who has a key is not hurt.
        assert!(rate.count(Caller::Key(7)).is_ok());
        // The rest share what is left, and that is used up.
        assert!(rate.count(Caller::Address(IpAddr::V4(u32::MAX.into()))).is_err());
    }
}
