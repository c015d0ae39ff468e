//! The station's own pages, built into the program.

use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

/// Name, kind, text.
const FILES: &[(&str, &str, &str)] = &[
    ("pupils.html", HTML, include_str!("page/pupils.html")),
    ("coach.html", HTML, include_str!("page/coach.html")),
    ("board.html", HTML, include_str!("page/board.html")),
    (
        "colours.css",
        CSS,
        include_str!("../outputs/report/colours.css"),
    ),
    ("station.css", CSS, include_str!("page/station.css")),
    ("dom.js", JS, include_str!("../setup_page/page/dom.js")),
    ("server.js", JS, include_str!("page/server.js")),
    ("runs.js", JS, include_str!("page/runs.js")),
    ("send.js", JS, include_str!("page/send.js")),
    ("point.js", JS, include_str!("page/point.js")),
    ("car.js", JS, include_str!("page/car.js")),
    ("pupils.js", JS, include_str!("page/pupils.js")),
    ("coach.js", JS, include_str!("page/coach.js")),
    ("board.js", JS, include_str!("page/board.js")),
];

/// A file of the pages by its name.
pub(super) fn file(name: &str) -> Response {
    match FILES.iter().find(|(own, ..)| *own == name) {
        Some((_, kind, text)) => ([(header::CONTENT_TYPE, *kind)], *text).into_response(),
        None => (StatusCode::NOT_FOUND, "There is nothing at this address.\n").into_response(),
    }
}
