//! What has to hold after everything that is handed in.

use super::*;

impl Bench {
    pub(super) fn replay_is_live(&self) {
        if let Some(live) = self.session.job() {
            let entries = self.of_job(live.id);
            assert_eq!(Job::from_entries(&entries).as_ref(), Some(live));
        }
    }

    pub(super) fn check(
        &self,
        sealed: &Sealed,
        (input, before): (&Input, Option<&Job>),
        (of_job, announced): (bool, Option<u32>),
    ) {
        let entry = sealed.entry();
        let event = entry.event().expect("own events are known");
        assert_eq!(entry.job.is_none(), event.is_of_device());
        // What is erased may be of a job that lies elsewhere.
        if entry.job.is_some() && event != (Event::DetailsErased {}) {
            assert_eq!(entry.job, self.session.job().map(|j| j.id), "it belongs to the job on the bench");
        }
        match event {
            Event::TouchTaken(fact) => {
                let before = before.expect("a job is on the bench");
                assert_eq!((before.stage(), before.finished.as_ref()), (Stage::Measure, None));
                assert!([Caution::C0, Caution::C1].iter().all(|c| before.cautions.contains(c)));
                assert!(of_job || before.is_typed(), "it comes from the meter of the job");
                assert_eq!(Some(fact.conductor), announced);
                let part = before.part.as_ref().expect("described");
                assert!(part.clip_points(fact.conductor as usize).is_ok());
                self.check_touch(&fact, input);
            }
            Event::ZeroTaken(fact) => self.check_aside(&fact.taken, &fact.chunks, input),
            Event::ResistorRead(fact) => self.check_aside(&fact.taken, &fact.chunks, input),
            Event::IsolationTaken(fact) => {
                let before = before.expect("a job is on the bench");
                assert!(before.cautions.contains(&Caution::C9));
                let part = before.part.as_ref().expect("described");
                assert!(std::iter::once(fact.a).chain(fact.other).all(|c| part.clip_points(c as usize).is_ok()));
                self.check_aside(&fact.taken, &fact.chunks, input);
            }
            Event::SweepTaken(fact) => self.check_sweep(&fact, before.expect("a job is on the bench")),
            Event::BarStated { .. } => assert!(before.expect("a job").cautions.contains(&Caution::C7)),
            Event::Judged { judgement } => {
                let reloaded = Job::from_entries(&self.of_job(before.unwrap().id)).expect("it can be opened");
                assert_eq!(reloaded.judged(), Some(judgement), "judging the reloaded job is the same");
            }
            _ => {}
        }
    }

    fn check_touch(&self, fact: &TouchFact, input: &Input) {
        let touch = &fact.taken;
        let asked = match input {
            Input::Wish(Command::TakeOverRange) => TouchKind::OverRange,
            Input::Wish(Command::TakeAsItIs) => TouchKind::AsItWas,
            Input::Wish(Command::TypeReading { .. }) => TouchKind::Typed,
            Input::Wish(Command::TypeOverRange) => TouchKind::TypedOverRange,
            _ => TouchKind::Settled,
        };
        assert_eq!(touch.kind, asked, "over-range is taken by a key only");
        let typed = self.session.job().expect("on the bench").is_typed();
        assert_eq!(touch.kind.is_typed(), typed);
        if typed {
            assert!(fact.chunks.is_empty() && touch.digits.len() <= 1);
            return;
        }
        let (from, to) = (touch.from_ms.0, touch.to_ms.0);
        let period = self.session.settler().expect("connected").period().0;
        assert!(self.now - to <= (3 * period).max(400), "taken {} ms late", self.now - to);
        assert!(from >= self.announced_at, "it begins after its conductor was announced");
        let within: Vec<&Sent> = self.sent.range(from..=to).map(|(_, s)| s).collect();
        assert!(within.iter().all(|s| s.generation == self.generation), "it spans no reconnect");
        let gaps = within.windows(2).map(|w| w[1].at - w[0].at);
        assert!(gaps.max().unwrap_or(0) <= (3 * period).max(400), "it spans no gap");
        match touch.kind {
            TouchKind::OverRange => {
                assert!(touch.digits.is_empty() && within.iter().all(|s| s.face == Face::Over));
            }
            _ => {
                let face = if touch.relative { Face::Relative } else { Face::Ohm };
                let faces: Vec<Face> = touch.digits.iter().map(|d| face(i32::try_from(*d).unwrap())).collect();
                assert_eq!(within.iter().map(|s| s.face).collect::<Vec<_>>(), faces);
                self.check_lifted(from);
            }
        }
        self.check_evidence(fact);
    }

    /// The clips were off since they touched what was announced or taken before.
    fn check_lifted(&self, from: u64) {
        let taken = self.touches().iter().rev().nth(1).map_or(0, |t| t.taken.to_ms.0);
        let this: Vec<&Sent> =
            self.sent.range(taken + 1..from).map(|(_, s)| s).filter(|s| s.generation == self.generation).collect();
        let off = this.iter().rposition(|s| s.face == Face::Over).expect("the clips were off before");
        let on = this[off].at.max(this.get(off + 1).map_or(0, |s| s.at));
        assert!(on + PERIOD >= self.announced_at, "they went on after the announcement: {on}");
    }

    fn check_evidence(&self, fact: &TouchFact) {
        let job = self.session.job().map(|j| j.id);
        let mut shown = Vec::new();
        for hash in &fact.chunks {
            let chunk = self.chunks.values().find(|c| c.closed && c.hash == *hash).expect("written and closed");
            assert_eq!((chunk.job, chunk.generation), (job, self.generation));
            let within = chunk.samples().unwrap().into_iter();
            let within = within.filter(|s| (fact.taken.from_ms..=fact.taken.to_ms).contains(&s.at));
            shown.extend(within.flat_map(|s| s.shown));
        }
        let digits: Vec<i64> =
            shown.iter().filter_map(|s| if let Shown::Value(q) = s { Some(q.digits()) } else { None }).collect();
        assert_eq!(digits, fact.taken.digits, "the evidence holds its digits");
        assert!(!shown.is_empty());
    }

    /// A reading beside the conductors: over-range by key only, and its samples are there.
    fn check_aside(&self, taken: &Touch, chunks: &[Hash], input: &Input) {
        let by_key = matches!(input, Input::Wish(Command::TakeOverRange | Command::TypeOverRange));
        assert_eq!(taken.kind.is_over_range(), by_key);
        if !taken.kind.is_typed() {
            let fact = TouchFact { touch: Uuid::nil(), conductor: 0, taken: taken.clone(), chunks: chunks.to_vec() };
            self.check_evidence(&fact);
        }
    }

    /// A sweep judged again from its stored samples says the same.
    fn check_sweep(&self, fact: &SweepFact, before: &Job) {
        let turns = matches!(fact.plan.movement, Movement::Turns { .. });
        assert!(!turns || before.cautions.contains(&Caution::C8));
        let part = before.part.as_ref().expect("described");
        assert!(part.clip_points(fact.conductor as usize).is_ok());
        let mut samples = Vec::new();
        for hash in &fact.chunks {
            let chunk = self.chunks.values().find(|c| c.closed && c.hash == *hash).expect("written and closed");
            assert_eq!(chunk.generation, self.generation, "it spans no reconnect");
            samples.extend(chunk.samples().expect("whole"));
        }
        let readings = readings_of(&samples, (fact.from_ms, fact.to_ms));
        let sent = self.sent.range(fact.from_ms.0..=fact.to_ms.0).filter(|(_, s)| s.face != Face::Garbage).count();
        assert_eq!(readings.len(), sent, "every sample is kept");
        assert!(fact.from_ms.0 >= self.sweep_asked_at, "it begins after it was asked for");
        let outcome = examine(&sweep_input(&readings, &fact.marks, fact.step, None));
        assert_eq!(Finding::write(&outcome), fact.finding);
    }

    /// Everything that arrived since the program started is kept, once.
    pub(crate) fn check_nothing_is_lost(&mut self) {
        self.done(Command::DisconnectMeter);
        self.connected = None;
        let samples = self.chunks.values().flat_map(|c| c.samples().expect("whole"));
        let kept: Vec<(u64, Vec<u8>)> = samples.map(|s| (s.at.0, s.raw)).collect();
        for sent in self.sent.values() {
            let holds = |(at, raw): &&(u64, Vec<u8>)| (*at, raw) == (sent.at, &sent.raw);
            assert_eq!(kept.iter().filter(holds).count(), 1, "{sent:?}");
        }
    }
}
