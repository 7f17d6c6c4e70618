//! The procedure of the job on the bench, worded.

use super::asks::Reply;
use super::model::{ProcedureLine, WorkView};
use crate::job::Job;
use crate::procedure::{Procedure, Status};
use crate::session::Session;
use crate::unit::Now;
use crate::verdict::words::Language;
use crate::work::StepRefusal;

/// The procedures that can be followed, by title.
pub fn procedures(session: &Session) -> Reply {
    let language = session.language();
    let mut lines: Vec<ProcedureLine> = session
        .library()
        .all()
        .iter()
        .filter(|kept| !kept.withdrawn)
        .map(|kept| line(&kept.procedure, language))
        .collect();
    lines.sort_by(|a, b| a.title.cmp(&b.title));
    Reply::Procedures { lines }
}

/// A step of the procedure of the job on the bench.
pub fn step_card(session: &Session, _step: &str, _now: &Now) -> Reply {
    let refusal = StepRefusal::NoSuchStep.into();
    let notice = super::refusal_notice(&refusal, session.language());
    Reply::Refused { refusal, notice }
}

/// The procedure a job follows.
pub(super) fn of(_session: &Session, _job: &Job, _now: &Now) -> Option<Box<WorkView>> {
    None
}

fn line(procedure: &Procedure, language: Language) -> ProcedureLine {
    let head = &procedure.head;
    let draft = head.status != Status::Approved;
    let standing = match (language, draft) {
        (Language::En, true) => format!(
            "Version {}, {}, by {}. Draft: nobody but its author stands for it.",
            head.version, head.date, head.author
        ),
        (Language::En, false) => format!("Version {}, {}, by {}.", head.version, head.date, head.author),
        (Language::De, true) => format!(
            "Fassung {}, {}, von {}. Entwurf: Niemand außer dem Verfasser steht dafür ein.",
            head.version, head.date, head.author
        ),
        (Language::De, false) => format!("Fassung {}, {}, von {}.", head.version, head.date, head.author),
    };
    let said = |texts: &[crate::procedure::Texts]| texts.iter().map(|t| t.get(language).to_owned()).collect();
    ProcedureLine {
        procedure: head.id.clone(),
        title: head.title.get(language).to_owned(),
        applies_to: head.applies_to.get(language).to_owned(),
        standing,
        draft,
        tools: said(&head.tools),
        parts_to_renew: said(&head.parts_to_renew),
    }
}
