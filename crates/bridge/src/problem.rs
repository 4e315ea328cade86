//! How a request fails: a code for programs, a sentence for people, never an inside of the program.

use axum::body::Body;
use axum::http::{HeaderValue, Response, StatusCode, header};
use serde::Serialize;
use utoipa::ToSchema;

/// What went wrong, for programs; a screen words it in its user's language.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ProblemCode {
    /// The Host of the request is none of the ship's names.
    HostNotKnown,
    /// A post came from a page that is not the ship's, or says not from where.
    OriginNotKnown,
    /// The browser says that another site's page asks.
    CrossSite,
    /// The device is not paired, or not any more.
    NotPaired,
    /// Only the ship's own computer may do this.
    OnlyAtTheShipsComputer,
    /// The wheelhouse's PIN has to be entered first.
    PinNeeded,
    /// The PIN is wrong.
    PinWrong,
    /// The code is wrong, used up or too old.
    CodeNotValid,
    /// Too much at once.
    TooMany,
    /// Larger than is taken.
    TooLarge,
    /// The body took too long to come.
    TooSlow,
    /// The body is not of the kind that is taken here.
    NotJson,
    /// A parameter or a field cannot be understood.
    NotUnderstood,
    /// There is nothing of that name.
    NotFound,
    /// This address takes no such method.
    MethodNotAllowed,
    /// The device's role does not allow this.
    NotInThisRole,
    /// As things stand this cannot be done; the text says what to do first.
    NotNow,
    /// The id was used before for something else.
    IdUsed,
    /// The journal has stopped: nothing can be kept.
    JournalStopped,
    /// The journal's file cannot be read.
    JournalUnreadable,
    /// Something on the ship's disk could not be written.
    Unwritten,
}

/// The body of every answer that is not a success.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Problem {
    /// What went wrong.
    pub code: ProblemCode,
    /// The same as an English sentence.
    pub text: String,
    /// When it is worth trying again, seconds.
    pub retry_after_s: Option<f64>,
    #[serde(skip)]
    #[schema(ignore)]
    pub(crate) status: StatusCode,
}

impl Problem {
    pub(crate) fn new(status: StatusCode, code: ProblemCode, text: impl Into<String>) -> Self {
        Self { code, text: text.into(), retry_after_s: None, status }
    }

    pub(crate) fn forbidden(code: ProblemCode, text: impl Into<String>) -> Self {
        Self::new(StatusCode::FORBIDDEN, code, text)
    }

    pub(crate) fn not_understood(text: impl Into<String>) -> Self {
        Self::new(StatusCode::BAD_REQUEST, ProblemCode::NotUnderstood, text)
    }

    pub(crate) fn not_found(text: impl Into<String>) -> Self {
        Self::new(StatusCode::NOT_FOUND, ProblemCode::NotFound, text)
    }

    pub(crate) fn not_now(text: impl Into<String>) -> Self {
        Self::new(StatusCode::CONFLICT, ProblemCode::NotNow, text)
    }

    pub(crate) fn too_many(text: impl Into<String>, wait_s: f64) -> Self {
        let retry_after_s = Some((wait_s * 10.0).ceil() / 10.0);
        Self { retry_after_s, ..Self::new(StatusCode::TOO_MANY_REQUESTS, ProblemCode::TooMany, text) }
    }

    /// A journal that cannot be read is told without its path.
    pub(crate) fn unreadable() -> Self {
        let text = "the journal cannot be read; what is kept is untouched. Run gangion journal verify.";
        Self::new(StatusCode::SERVICE_UNAVAILABLE, ProblemCode::JournalUnreadable, text)
    }
}

/// An answer as JSON.
pub(crate) fn json<T: Serialize>(status: StatusCode, value: &T) -> Response<Body> {
    let body = serde_json::to_vec(value).unwrap_or_default();
    let mut response = Response::new(Body::from(body));
    *response.status_mut() = status;
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("application/json"));
    response
}

impl axum::response::IntoResponse for Problem {
    fn into_response(self) -> Response<Body> {
        let mut response = json(self.status, &self);
        if let Some(wait) = self.retry_after_s.and_then(|wait_s| {
            // Whole seconds, RFC 9110 section 10.2.3.
            HeaderValue::from_str(&format!("{:.0}", wait_s.ceil())).ok()
        }) {
            response.headers_mut().insert(header::RETRY_AFTER, wait);
        }
        response
    }
}
