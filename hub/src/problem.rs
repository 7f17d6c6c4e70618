//! Why something was not done, as it is told (RFC 9457).

use crate::storage::StorageError;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use evenwire_core::sync::Problem;

/// What a problem is, for programs. Each has one status and one title.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Code {
    /// The request cannot be read.
    Unreadable,
    /// It is longer than what is taken.
    TooLarge,
    /// It did not come in time.
    TooSlow,
    /// Asked too often.
    TooOften,
    /// There is nothing of that name.
    NotFound,
    /// It is there, and not to be asked by this method.
    Method,
    /// No token, or none that is good.
    Token,
    /// What was signed is not what was to be signed, or not by that key.
    Signature,
    /// The device is not of this shop.
    UnknownDevice,
    /// The device may not come any more.
    Revoked,
    /// The code of an invitation is none, was used, or is over.
    Code,
    /// The device was taken in under another key.
    OtherKey,
    /// What was asked to be decided does not wait.
    NotWaiting,
    /// A batch begins after the number that is wanted.
    Gap,
    /// Another entry of that number is here already.
    Fork,
    /// A batch is not a chain of entries.
    Chain,
    /// No stored entry wants it here.
    NotWanted,
    /// The bytes are not those of the hash.
    HashDiffers,
    /// Nobody is signed in, or not any more.
    SignedOut,
    /// Whoever is signed in may not do that.
    Forbidden,
    /// Something else was done in the meantime.
    Conflict,
    /// No room.
    Full,
    /// It failed here.
    Fault,
}

impl Code {
    /// Every one, in the order of this list.
    pub const ALL: [Code; 23] = [
        Code::Unreadable,
        Code::TooLarge,
        Code::TooSlow,
        Code::TooOften,
        Code::NotFound,
        Code::Method,
        Code::Token,
        Code::Signature,
        Code::UnknownDevice,
        Code::Revoked,
        Code::Code,
        Code::OtherKey,
        Code::NotWaiting,
        Code::Gap,
        Code::Fork,
        Code::Chain,
        Code::NotWanted,
        Code::HashDiffers,
        Code::SignedOut,
        Code::Forbidden,
        Code::Conflict,
        Code::Full,
        Code::Fault,
    ];

    /// Word, status, title.
    fn parts(self) -> (&'static str, StatusCode, &'static str) {
        use StatusCode as S;
        match self {
            Code::Unreadable => ("unreadable", S::BAD_REQUEST, "The request cannot be read"),
            Code::TooLarge => ("too-large", S::PAYLOAD_TOO_LARGE, "More than is taken at once"),
            Code::TooSlow => ("too-slow", S::REQUEST_TIMEOUT, "The request did not come in time"),
            Code::TooOften => ("too-often", S::TOO_MANY_REQUESTS, "Asked too often"),
            Code::NotFound => ("not-found", S::NOT_FOUND, "There is nothing of that name"),
            Code::Method => ("method", S::METHOD_NOT_ALLOWED, "Not to be asked by this method"),
            Code::Token => ("token", S::UNAUTHORIZED, "No token, or none that is good"),
            Code::Signature => ("signature", S::UNAUTHORIZED, "Not signed as it has to be"),
            Code::UnknownDevice => ("unknown-device", S::UNAUTHORIZED, "Not a device of this shop"),
            Code::Revoked => ("revoked", S::FORBIDDEN, "The shop has taken this device off"),
            Code::Code => ("code", S::FORBIDDEN, "This invitation does not hold"),
            Code::OtherKey => ("other-key", S::CONFLICT, "The device is known under another key"),
            Code::NotWaiting => ("not-waiting", S::CONFLICT, "It does not wait any more"),
            Code::Gap => ("gap", S::CONFLICT, "Entries before these are not here"),
            Code::Fork => ("fork", S::CONFLICT, "Another entry is here already"),
            Code::Chain => ("chain", S::UNPROCESSABLE_ENTITY, "Not a chain of entries"),
            Code::NotWanted => ("not-wanted", S::CONFLICT, "No entry here wants it"),
            Code::HashDiffers => ("hash-differs", S::UNPROCESSABLE_ENTITY, "Other bytes than those that were named"),
            Code::SignedOut => ("signed-out", S::UNAUTHORIZED, "Nobody is signed in"),
            Code::Forbidden => ("forbidden", S::FORBIDDEN, "Not for this role"),
            Code::Conflict => ("conflict", S::CONFLICT, "Something else was done in the meantime"),
            Code::Full => ("full", S::INSUFFICIENT_STORAGE, "No room on the hub's disk"),
            Code::Fault => ("fault", S::INTERNAL_SERVER_ERROR, "The hub could not do it"),
        }
    }

    /// As it is written in an answer.
    pub fn word(self) -> &'static str {
        self.parts().0
    }

    /// The status it comes with.
    pub fn status(self) -> StatusCode {
        self.parts().1
    }

    /// This, with what was wrong and what to do.
    pub fn because(self, detail: impl Into<String>) -> Refused {
        let (code, status, title) = self.parts();
        Refused(Box::new(Problem {
            kind: "about:blank".to_owned(),
            title: title.to_owned(),
            status: status.as_u16(),
            detail: detail.into(),
            code: code.to_owned(),
            expected: None,
            sequence: None,
        }))
    }
}

/// An answer that says no.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused(pub Box<Problem>);

impl Refused {
    /// With the number that is wanted.
    #[must_use]
    pub fn expecting(mut self, sequence: u64) -> Refused {
        self.0.expected = Some(sequence);
        self
    }

    /// With the number at which it differs.
    #[must_use]
    pub fn differing_at(mut self, sequence: u64) -> Refused {
        self.0.sequence = Some(sequence);
        self
    }
}

impl From<StorageError> for Refused {
    /// The particulars go into the log, not to whoever asked.
    fn from(error: StorageError) -> Refused {
        tracing::error!(%error, "the storage failed");
        match error {
            StorageError::Full { .. } => Code::Full.because("Nothing was stored. Make room and send it again."),
            _ => Code::Fault.because("Nothing was stored. Send it again; if it stays so, look into the hub's log."),
        }
    }
}

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.0.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let body = serde_json::to_vec(&self.0).unwrap_or_default();
        let mut response = (status, [(header::CONTENT_TYPE, "application/problem+json")], body).into_response();
        if status == StatusCode::UNAUTHORIZED {
            response.headers_mut().insert(header::WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
        }
        response
    }
}
