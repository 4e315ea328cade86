//! The screens as files held in memory: only what was put in is there, so no path leads out of it.

use std::borrow::Cow;
use std::sync::Arc;

use axum::body::{Body, Bytes};
use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, Method, Request, Response, StatusCode, header};
use axum::response::IntoResponse;
use sha2::{Digest, Sha256};

use crate::app::App;
use crate::problem::{Problem, ProblemCode};

/// One file of the screens.
#[derive(Debug, Clone)]
pub struct Page {
    /// Its path from the root, such as `/index.html`.
    pub path: Cow<'static, str>,
    /// Its media type.
    pub kind: Cow<'static, str>,
    /// True where its name changes with its content: browsers may keep it for a year.
    pub named_by_content: bool,
    /// Its bytes.
    pub bytes: Bytes,
    etag: String,
}

impl Page {
    /// A file of the screens.
    #[must_use]
    pub fn new(
        path: impl Into<Cow<'static, str>>,
        kind: impl Into<Cow<'static, str>>,
        named_by_content: bool,
        bytes: impl Into<Bytes>,
    ) -> Self {
        let bytes = bytes.into();
        let digest: String = Sha256::digest(&bytes).iter().take(12).map(|byte| format!("{byte:02x}")).collect();
        Self { path: path.into(), kind: kind.into(), named_by_content, bytes, etag: format!("\"{digest}\"") }
    }

    /// A file as the build of the screens leaves it, by its path from the root: what lies under `/assets/` is named by
    /// its content.
    #[must_use]
    pub fn of_build(path: impl Into<Cow<'static, str>>, bytes: impl Into<Bytes>) -> Self {
        let path = path.into();
        let (kind, named_by_content) = (media_type(&path), path.starts_with("/assets/"));
        Self::new(path, kind, named_by_content, bytes)
    }
}

include!(concat!(env!("OUT_DIR"), "/screens.rs"));

const PLAIN: &str = "<!doctype html>
<html lang=\"en\"><head><meta charset=\"utf-8\"><title>Gangion</title></head>
<body><h1>Gangion</h1>
<p>The ship's server is running. This build has no screens in it: build them with <code>npm ci</code> and
<code>npm run build</code> in the folder <code>web</code>, then build the program again. Programs find the description of what it answers
under <a href=\"/api/openapi.json\">/api/openapi.json</a>. Not for navigation.</p></body></html>
";

/// The pages given, else those that were built in, else one that says what this is.
pub(crate) fn or_built_in(pages: Vec<Page>) -> Vec<Page> {
    if !pages.is_empty() {
        return pages;
    }
    if SCREENS.is_empty() {
        return vec![Page::of_build("/index.html", PLAIN)];
    }
    SCREENS.iter().map(|(path, bytes)| Page::of_build(*path, *bytes)).collect()
}

fn media_type(path: &str) -> &'static str {
    match path.rsplit('.').next().unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "js" | "mjs" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "json" | "map" => "application/json",
        "webmanifest" => "application/manifest+json",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "ico" => "image/x-icon",
        "woff2" => "font/woff2",
        "ftl" | "txt" => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}

/// A page, or the word that there is none.
pub(crate) async fn page(State(app): State<Arc<App>>, headers: HeaderMap, request: Request<Body>) -> Response<Body> {
    let path = request.uri().path();
    let Some(page) = app.page(path).filter(|_| !path.starts_with("/api/")) else {
        return Problem::not_found("there is nothing under this address.").into_response();
    };
    if !matches!(*request.method(), Method::GET | Method::HEAD) {
        return method_not_allowed().await.into_response();
    }
    let known = headers.get(header::IF_NONE_MATCH).and_then(|tag| tag.to_str().ok());
    let unchanged =
        known.is_some_and(|tags| tags.split(',').any(|tag| tag.trim().trim_start_matches("W/") == page.etag));
    let mut response = Response::new(if unchanged { Body::empty() } else { Body::from(page.bytes.clone()) });
    if unchanged {
        *response.status_mut() = StatusCode::NOT_MODIFIED;
    }
    let keep = if page.named_by_content { "public, max-age=31536000, immutable" } else { "no-cache" };
    for (name, value) in
        [(header::CONTENT_TYPE, page.kind.as_ref()), (header::ETAG, page.etag.as_str()), (header::CACHE_CONTROL, keep)]
    {
        if let Ok(value) = HeaderValue::from_str(value) {
            response.headers_mut().insert(name, value);
        }
    }
    response
}

/// The address is there, the method is not.
pub(crate) async fn method_not_allowed() -> Problem {
    let text = "this address does not take that method; nothing was changed.";
    Problem::new(StatusCode::METHOD_NOT_ALLOWED, ProblemCode::MethodNotAllowed, text)
}
