//! Who may talk to the station: phones that typed the code on the board, each as its own team and no other.

use super::book::{Book, Team};
use crate::setup_page::same;
use axum::http::header::{COOKIE, HOST, ORIGIN};
use axum::http::{HeaderMap, Method};
use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr};
use std::time::{Duration, Instant};

/// Wrong codes that one address may type before it has to wait.
const MOST_WRONG: u32 = 10;
/// How long it waits.
const WAIT: Duration = Duration::from_secs(120);
/// Addresses that are remembered.
const MOST_ADDRESSES: usize = 4096;
/// The cookie that a phone is known by.
pub(super) const COOKIE_NAME: &str = "gripline_team";

/// Wrong codes by address.
#[derive(Debug, Default)]
pub(super) struct Wrong(BTreeMap<IpAddr, (u32, Option<Instant>)>);

impl Wrong {
    /// Whether an address has to wait before it may try again.
    pub(super) fn must_wait(&mut self, from: IpAddr, now: Instant) -> bool {
        let Some((count, last)) = self.0.get(&from) else {
            return false;
        };
        if last.is_some_and(|last| now.duration_since(last) > WAIT) {
            self.0.remove(&from);
            return false;
        }
        *count >= MOST_WRONG
    }

    /// A wrong code came from an address.
    pub(super) fn count(&mut self, from: IpAddr, now: Instant) {
        if self.0.len() >= MOST_ADDRESSES {
            self.0.clear();
        }
        let entry = self.0.entry(from).or_default();
        *entry = (entry.0 + 1, Some(now));
    }

    /// A right code came: what was mistyped before is forgotten.
    pub(super) fn forget(&mut self, from: IpAddr) {
        self.0.remove(&from);
    }
}

/// Why a request goes no further.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Refused {
    /// The address is not the station's own: a foreign name was pointed at it.
    Host,
    /// It comes from another page.
    Origin,
}

/// Whether a request was made to this station by its own page. The `Host` is a number or this computer itself, so that no
/// foreign name can be pointed at it; what changes anything says by its `Origin` that it comes from the station's page.
pub(super) fn own_page(headers: &HeaderMap, method: &Method, port: u16) -> Result<(), Refused> {
    let text = |name| headers.get(name).and_then(|value| value.to_str().ok());
    let host = text(HOST).ok_or(Refused::Host)?;
    let by_number = host
        .parse::<SocketAddr>()
        .is_ok_and(|address| address.port() == port);
    if !by_number && host != format!("localhost:{port}") {
        return Err(Refused::Host);
    }
    let reads = matches!(*method, Method::GET | Method::HEAD);
    let own = format!("http://{host}");
    match text(ORIGIN) {
        Some(origin) if origin == own => Ok(()),
        None if reads => Ok(()),
        _ => Err(Refused::Origin),
    }
}

/// What a phone's cookie says: team and secret.
pub(super) fn cookie(team: &str, secret: &str) -> String {
    // No `Secure`: the page comes over plain HTTP, which is said where the station is started.
    format!("{COOKIE_NAME}={team}.{secret}; HttpOnly; SameSite=Strict; Path=/; Max-Age=604800")
}

/// The team that a phone belongs to.
pub(super) fn team_of<'a>(headers: &HeaderMap, book: &'a Book) -> Option<(String, &'a Team)> {
    let lines = headers
        .get_all(COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok());
    lines
        .flat_map(|line| line.split(';'))
        .filter_map(|part| part.trim().split_once('='))
        .filter(|(name, _)| *name == COOKIE_NAME)
        .filter_map(|(_, value)| value.split_once('.'))
        .find_map(|(id, secret)| {
            let team = book.teams.get(id)?;
            same(&team.about.secret, secret).then(|| (id.to_owned(), team))
        })
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests fail by panicking")]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    #[test]
    fn ten_wrong_codes_make_an_address_wait_and_no_other() {
        let mut wrong = Wrong::default();
        let [here, there] = [1, 2].map(|last| IpAddr::from([192, 168, 0, last]));
        let now = Instant::now();
        for _ in 0..MOST_WRONG {
            assert!(!wrong.must_wait(here, now));
            wrong.count(here, now);
        }
        assert!(wrong.must_wait(here, now));
        assert!(!wrong.must_wait(there, now));
        assert!(!wrong.must_wait(here, now + WAIT + Duration::from_secs(1)));
    }

    #[test]
    fn only_the_station_s_own_page_may_ask() {
        let ask = |host: Option<&str>, origin: Option<&str>, method: Method| {
            let mut headers = HeaderMap::new();
            if let Some(host) = host {
                headers.insert(HOST, HeaderValue::from_str(host).unwrap());
            }
            if let Some(origin) = origin {
                headers.insert(ORIGIN, HeaderValue::from_str(origin).unwrap());
            }
            own_page(&headers, &method, 8017)
        };
        let here = Some("192.168.0.4:8017");
        let own = Some("http://192.168.0.4:8017");
        assert_eq!(ask(here, None, Method::GET), Ok(()));
        assert_eq!(ask(here, own, Method::POST), Ok(()));
        assert_eq!(ask(here, None, Method::POST), Err(Refused::Origin));
        let others = [
            Some("http://192.168.0.4"),
            Some("null"),
            Some("https://192.168.0.4:8017"),
        ];
        for other in others {
            assert_eq!(
                ask(here, other, Method::POST),
                Err(Refused::Origin),
                "{other:?}"
            );
            assert_eq!(
                ask(here, other, Method::GET),
                Err(Refused::Origin),
                "{other:?}"
            );
        }
        for host in [
            None,
            Some("example.org:8017"),
            Some("192.168.0.4:80"),
            Some("192.168.0.4"),
        ] {
            assert_eq!(ask(host, None, Method::GET), Err(Refused::Host), "{host:?}");
        }
    }
}
