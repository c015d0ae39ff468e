//! Connections: so many at a time, each with so much time for its request.

use super::locked;
use axum::Router;
use axum::extract::Request;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tower::ServiceExt;

/// Connections at a time: thirty phones keep two to six each.
const MOST_CONNECTIONS: usize = 400;
/// Connections from one address at a time, so that no phone takes the others' seats: a browser opens six. This computer's
/// own are not counted.
const MOST_FROM_ONE: usize = 24;
/// A request's head has to come within this.
const HEAD: Duration = Duration::from_secs(15);
/// A connection ends after this, however busy: a phone opens another.
const CONNECTION: Duration = Duration::from_secs(900);
/// What is waited when the system gives no connection.
const PAUSE: Duration = Duration::from_millis(100);

/// Address of whoever asks.
#[derive(Debug, Clone, Copy)]
pub(super) struct From(pub(super) IpAddr);

/// Connections by address.
#[derive(Default)]
struct Open(Mutex<BTreeMap<IpAddr, usize>>);

impl Open {
    /// Whether an address may have one more, which is then counted.
    fn admit(&self, from: IpAddr) -> bool {
        let mut open = locked(&self.0);
        let count = open.entry(from).or_default();
        let room = from.is_loopback() || *count < MOST_FROM_ONE;
        *count += usize::from(room);
        room
    }

    /// One of an address ended.
    fn leave(&self, from: IpAddr) {
        let mut open = locked(&self.0);
        if let Some(count) = open.get_mut(&from) {
            *count -= 1;
            if *count == 0 {
                open.remove(&from);
            }
        }
    }
}

/// Serves until the future is dropped.
pub(super) async fn serve(listener: TcpListener, routes: Router) {
    let seats = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    let open = Arc::new(Open::default());
    loop {
        let Ok(seat) = Arc::clone(&seats).acquire_owned().await else {
            return;
        };
        let Ok((stream, from)) = listener.accept().await else {
            // Too many files are open, or the phone is gone already.
            tokio::time::sleep(PAUSE).await;
            continue;
        };
        let from = from.ip();
        if !open.admit(from) {
            continue;
        }
        let (routes, open) = (routes.clone(), Arc::clone(&open));
        let with_address =
            tower::service_fn(move |mut request: hyper::Request<hyper::body::Incoming>| {
                request.extensions_mut().insert(From(from));
                routes
                    .clone()
                    .oneshot(request.map(axum::body::Body::new) as Request)
            });
        tokio::spawn(async move {
            let connection = http1::Builder::new()
                .timer(TokioTimer::new())
                .header_read_timeout(HEAD)
                .serve_connection(TokioIo::new(stream), TowerToHyperService::new(with_address));
            tokio::time::timeout(CONNECTION, connection).await.ok();
            open.leave(from);
            drop(seat);
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_address_takes_all_seats() {
        let open = Open::default();
        let [here, one, other] = [[127, 0, 0, 1], [10, 0, 0, 1], [10, 0, 0, 2]].map(IpAddr::from);
        for _ in 0..MOST_FROM_ONE {
            assert!(open.admit(one) && open.admit(here));
        }
        assert!(!open.admit(one));
        assert!(open.admit(other) && open.admit(here));
        open.leave(one);
        assert!(open.admit(one));
        open.leave(other);
        assert_eq!(locked(&open.0).len(), 2, "who has none is forgotten");
    }
}
