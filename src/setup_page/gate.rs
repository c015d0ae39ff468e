//! Who may talk to the page: the browser that was given the address, on this computer, and nobody else.
//!
//! The server listens on 127.0.0.1 only. The address holds a secret that is taken once, in exchange for a
//! session cookie. The `Host` header must be this server's own, so that no foreign name can be pointed at
//! it; what changes anything must come from its own page, by the `Origin` header.

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use rand::TryRng;
use rand::rngs::SysRng;
use std::fmt::Write;
use std::sync::{Arc, Mutex, PoisonError};
use subtle::ConstantTimeEq;

/// Bytes of a secret.
const SECRET_BYTES: usize = 32;

/// Secrets of one run of the server.
pub(crate) struct Gate {
    port: u16,
    /// The secret of the address; gone once it was used.
    token: Mutex<Option<String>>,
    session: String,
}

/// A secret from the operating system, in hexadecimal digits.
pub(crate) fn secret() -> std::io::Result<String> {
    let mut bytes = [0_u8; SECRET_BYTES];
    SysRng
        .try_fill_bytes(&mut bytes)
        .map_err(std::io::Error::other)?;
    Ok(in_hexadecimal(&bytes))
}

/// Bytes as pairs of hexadecimal digits.
pub(super) fn in_hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string does not fail.
        write!(text, "{byte:02x}").ok();
        text
    })
}

/// Whether two secrets are one, in a time that does not tell how alike they are.
pub(crate) fn same(a: &str, b: &str) -> bool {
    a.as_bytes().ct_eq(b.as_bytes()).into()
}

impl Gate {
    /// New secrets for a server on this port.
    ///
    /// # Errors
    /// Where the system has no random numbers.
    pub(crate) fn new(port: u16) -> std::io::Result<Self> {
        Ok(Self {
            port,
            token: Mutex::new(Some(secret()?)),
            session: secret()?,
        })
    }

    /// The address to open, with its secret.
    pub(crate) fn address(&self) -> String {
        let token = self.token.lock().unwrap_or_else(PoisonError::into_inner);
        format!(
            "http://127.0.0.1:{}/?token={}",
            self.port,
            token.as_deref().unwrap_or_default()
        )
    }

    fn cookie_name(&self) -> String {
        // Cookies do not know ports: two servers must not take each other's.
        format!("gripline_{}", self.port)
    }

    /// Takes the secret of the address, once.
    fn take_token(&self, given: &str) -> bool {
        let mut token = self.token.lock().unwrap_or_else(PoisonError::into_inner);
        let right = token.as_deref().is_some_and(|token| same(token, given));
        if right {
            *token = None;
        }
        right
    }

    fn knows(&self, headers: &HeaderMap) -> bool {
        let name = self.cookie_name();
        let cookies = headers
            .get_all(header::COOKIE)
            .iter()
            .filter_map(|value| value.to_str().ok());
        cookies
            .flat_map(|line| line.split(';'))
            .filter_map(|cookie| cookie.trim().split_once('='))
            .any(|(key, value)| key == name && same(value, &self.session))
    }

    /// The host named by a request, where it is this server's own.
    fn own_host<'a>(&self, headers: &'a HeaderMap) -> Option<&'a str> {
        let host = headers.get(header::HOST)?.to_str().ok()?;
        let names = ["127.0.0.1", "localhost"];
        names
            .iter()
            .any(|name| host == format!("{name}:{}", self.port))
            .then_some(host)
    }
}

fn text<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    headers.get(name).and_then(|value| value.to_str().ok())
}

/// Lets a request pass or answers it with a refusal; sets the headers that every answer has.
pub(crate) async fn guard(State(gate): State<Arc<Gate>>, request: Request, next: Next) -> Response {
    let mut answer = match admit(&gate, &request) {
        Ok(entered) => {
            let mut answer = next.run(request).await;
            if entered {
                let cookie = format!(
                    "{}={}; HttpOnly; SameSite=Strict; Path=/",
                    gate.cookie_name(),
                    gate.session
                );
                if let Ok(cookie) = HeaderValue::from_str(&cookie) {
                    answer.headers_mut().insert(header::SET_COOKIE, cookie);
                }
            }
            answer
        }
        Err((status, why)) => (
            status,
            [(header::CONTENT_TYPE, "text/plain; charset=utf-8")],
            why,
        )
            .into_response(),
    };
    set_headers(&mut answer, POLICY);
    answer
}

/// Whether a request may pass; true where it came with the address's secret.
fn admit(gate: &Gate, request: &Request<Body>) -> Result<bool, (StatusCode, &'static str)> {
    let headers = request.headers();
    let refused = |why| Err((StatusCode::FORBIDDEN, why));
    let Some(host) = gate.own_host(headers) else {
        return refused("This address is not this page's own.\n");
    };
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    let own = format!("http://{host}");
    let origin = text(headers, &header::ORIGIN);
    if origin.is_some_and(|origin| origin != own) || (!reads && origin.is_none()) {
        return refused("Another page may not ask for this.\n");
    }
    if gate.knows(headers) {
        return Ok(false);
    }
    let given = request
        .uri()
        .query()
        .and_then(|query| query.strip_prefix("token="));
    if request.method() == Method::GET && request.uri().path() == "/" {
        if given.is_some_and(|given| gate.take_token(given)) {
            return Ok(true);
        }
        return refused(
            "This address has been used, or is not complete. It opens the page once, in one browser. \
             Stop gripline with Ctrl-C and start it again for a new one.\n",
        );
    }
    refused("Open the page by the address that gripline printed.\n")
}

/// What a page of ours may load and do: its own files, and nothing from elsewhere.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
     connect-src 'self'; frame-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// Sets the headers that every answer has; one that brings a policy of its own keeps it.
pub(crate) fn set_headers(answer: &mut Response, policy: &'static str) {
    let headers = answer.headers_mut();
    let always = [
        (header::CACHE_CONTROL, "no-store"),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("cross-origin-opener-policy"),
            "same-origin",
        ),
    ];
    for (name, value) in always {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers
        .entry(header::CONTENT_SECURITY_POLICY)
        .or_insert(HeaderValue::from_static(policy));
}
