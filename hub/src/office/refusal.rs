//! Why something is not done, as it is told to the page.

use super::model::{OfficeCode, OfficeMistake, OfficeRefusal};
use crate::storage::StorageError;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use evenwire_core::record::NotSigned;

/// An answer that says no.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct No(pub OfficeCode, pub Vec<OfficeMistake>);

impl From<OfficeCode> for No {
    fn from(code: OfficeCode) -> No {
        No(code, Vec::new())
    }
}

impl From<NotSigned> for OfficeCode {
    fn from(why: NotSigned) -> OfficeCode {
        match why {
            NotSigned::NotHere => OfficeCode::SignNotHere,
            NotSigned::HandedOver => OfficeCode::SignHandedOver,
            NotSigned::NewerProgram => OfficeCode::SignNewerProgram,
            NotSigned::OtherVersion => OfficeCode::SignOtherVersion,
            NotSigned::DoneAgain => OfficeCode::SignDoneAgain,
            NotSigned::NothingToSign => OfficeCode::SignNothing,
            NotSigned::CompareFirst => OfficeCode::SignCompareFirst,
            NotSigned::OwnSecond => OfficeCode::SignOwnSecond,
            NotSigned::DoerUnknown => OfficeCode::SignDoerUnknown,
        }
    }
}

impl From<StorageError> for No {
    /// The particulars go into the log, not to whoever asked.
    fn from(error: StorageError) -> No {
        tracing::error!(%error, "the storage failed");
        match error {
            StorageError::Full { .. } => OfficeCode::Full.into(),
            _ => OfficeCode::Failed.into(),
        }
    }
}

impl OfficeCode {
    /// The status it comes with.
    pub fn status(self) -> StatusCode {
        use OfficeCode as C;
        match self {
            C::SignedOut | C::WrongPassword => StatusCode::UNAUTHORIZED,
            C::NotAllowed | C::StalePage | C::LinkOver => StatusCode::FORBIDDEN,
            C::TooOften => StatusCode::TOO_MANY_REQUESTS,
            C::NotHere => StatusCode::NOT_FOUND,
            C::NameTaken
            | C::LastOwner
            | C::NotClosed
            | C::ProcedureVersion
            | C::ProcedureWeaker
            | C::DeviceOut
            | C::SignedAlready
            | C::SignNotHere
            | C::SignHandedOver
            | C::SignNewerProgram
            | C::SignOtherVersion
            | C::SignDoneAgain
            | C::SignNothing
            | C::SignCompareFirst
            | C::SignOwnSecond
            | C::SignDoerUnknown => StatusCode::CONFLICT,
            C::PasswordShort | C::NameWrong | C::ProcedureWrong => StatusCode::UNPROCESSABLE_ENTITY,
            C::Unreadable => StatusCode::BAD_REQUEST,
            C::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            C::Full => StatusCode::INSUFFICIENT_STORAGE,
            C::Failed => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }
}

impl IntoResponse for No {
    fn into_response(self) -> Response {
        let status = self.0.status();
        let refusal = OfficeRefusal { code: self.0, mistakes: self.1 };
        let body = serde_json::to_vec(&refusal).unwrap_or_default();
        let headers = [(header::CONTENT_TYPE, "application/json"), (header::CACHE_CONTROL, "no-store")];
        (status, headers, body).into_response()
    }
}
