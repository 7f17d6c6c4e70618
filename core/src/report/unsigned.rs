//! What a second person is shown who signs away from the device: what was done at the step, by whom, and its photos.

use super::model::PhotoBlock;
use super::{Asked, Chronicle, Telling, record, steps};
use crate::record::Sealed;
use crate::view::work::second;
use serde::{Deserialize, Serialize};

/// A step that waits for the signature of a second person.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Unsigned {
    /// The step, by its id in the file.
    pub step: String,
    /// Which settling of a step of the job it was that is shown here.
    pub doing: u32,
    /// What the step is called.
    pub title: String,
    /// Why a second person signs it.
    pub why: String,
    /// What was done, in words.
    pub done: String,
    /// Who did it, by name, or that nobody was named.
    pub by: String,
    /// When, to the minute.
    pub at: String,
    /// The photos that were kept for it since it was begun.
    pub photos: Vec<PhotoBlock>,
}

/// The steps of a job that wait for a second person, in the order of the procedure; none where its entries make no job.
pub fn unsigned(entries: &[Sealed], asked: &Asked<'_>) -> Vec<Unsigned> {
    let Some(told) = Chronicle::read(entries, asked.zone.as_ref()) else { return Vec::new() };
    let telling = Telling { told: &told, asked };
    let Some(work) = told.job.work.as_deref() else { return Vec::new() };
    let waiting: Vec<&str> = work.waits_for_second().collect();
    let done = steps::done_at(&telling).into_iter().filter(|(step, ..)| waiting.contains(&step.id.as_str()));
    done.map(|(step, state, _)| {
        let of_step = telling.told.photos.iter().filter(|(photo, _)| photo.step.as_ref() == Some(&step.id));
        let all: Vec<PhotoBlock> = of_step.map(|kept| record::photo(&telling, kept)).collect();
        let newest = usize::try_from(work.photos_of(&step.id)).unwrap_or(usize::MAX).min(all.len());
        Unsigned {
            step: step.id.clone(),
            doing: state.doing,
            title: step.title.get(telling.language()).to_owned(),
            why: second::why(work, step, telling.language()).to_owned(),
            done: steps::result(&telling, work, (step, state)),
            by: steps::doer(&telling, &step.id),
            at: state.at.to_minute(),
            photos: all[all.len() - newest..].to_vec(),
        }
    })
    .collect()
}
