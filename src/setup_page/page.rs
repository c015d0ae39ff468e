//! The page's own files, built into the program.

use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

/// Name, kind, text.
const FILES: &[(&str, &str, &str)] = &[
    ("page.html", HTML, include_str!("page/page.html")),
    (
        "colours.css",
        CSS,
        include_str!("../outputs/report/colours.css"),
    ),
    ("page.css", CSS, include_str!("page/page.css")),
    ("main.js", JS, include_str!("page/main.js")),
    ("dom.js", JS, include_str!("page/dom.js")),
    ("state.js", JS, include_str!("page/state.js")),
    ("history.js", JS, include_str!("page/history.js")),
    ("server.js", JS, include_str!("page/server.js")),
    ("picture.js", JS, include_str!("page/picture.js")),
    ("shapes.js", JS, include_str!("page/shapes.js")),
    ("spread.js", JS, include_str!("page/spread.js")),
    ("zoom.js", JS, include_str!("page/zoom.js")),
    ("marks.js", JS, include_str!("page/marks.js")),
    ("floor.js", JS, include_str!("page/floor.js")),
    ("aim.js", JS, include_str!("page/aim.js")),
    ("sizes.js", JS, include_str!("page/sizes.js")),
    ("end_view.js", JS, include_str!("page/end_view.js")),
    ("follows.js", JS, include_str!("page/follows.js")),
    ("finish.js", JS, include_str!("page/finish.js")),
];

/// A file of the page by its name.
pub(super) fn file(name: &str) -> Response {
    match FILES.iter().find(|(own, ..)| *own == name) {
        Some((_, kind, text)) => ([(header::CONTENT_TYPE, *kind)], *text).into_response(),
        None => (StatusCode::NOT_FOUND, "There is nothing at this address.\n").into_response(),
    }
}
