//! Connections: so many at a time, each with so much time for its request.

use axum::Router;
use axum::extract::Request;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::net::IpAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tower::ServiceExt;

/// Connections at a time: thirty phones keep two to six each.
const MOST_CONNECTIONS: usize = 400;
/// A request's head has to come within this.
const HEAD: Duration = Duration::from_secs(15);
/// A connection ends after this, however busy: a phone opens another.
const CONNECTION: Duration = Duration::from_secs(900);
/// What is waited when the system gives no connection.
const PAUSE: Duration = Duration::from_millis(100);

/// Address of whoever asks.
#[derive(Debug, Clone, Copy)]
pub(super) struct From(pub(super) IpAddr);

/// Serves until the future is dropped.
pub(super) async fn serve(listener: TcpListener, routes: Router) {
    let seats = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    loop {
        let Ok(seat) = Arc::clone(&seats).acquire_owned().await else {
            return;
        };
        let Ok((stream, from)) = listener.accept().await else {
            // Too many files are open, or the phone is gone already.
            tokio::time::sleep(PAUSE).await;
            continue;
        };
        let routes = routes.clone();
        let with_address =
            tower::service_fn(move |mut request: hyper::Request<hyper::body::Incoming>| {
                request.extensions_mut().insert(From(from.ip()));
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
            drop(seat);
        });
    }
}
