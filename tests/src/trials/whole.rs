//! The whole bench as a child to be killed: its thread, the practice meter at eight times life, photos through the
//! decoder, reports into a folder. What it acknowledges is what its screen shows.

use anyhow::{Context, Result, bail, ensure};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::caution::Caution;
use evenwire_core::job::{Command, Job};
use evenwire_core::record::{Conditions, Details};
use evenwire_core::view::{Ask, Pushed, Reply, View};
use evenwire_engine::bench::{Bench, BenchOptions, Listener};
use evenwire_engine::photo;
use evenwire_engine::practice::PartModel;
use evenwire_store::Store;
use std::io::Write;
use std::path::Path;
use std::time::Duration;
use uuid::Uuid;

/// Speed of the practice bench, per cent of life. Faster hands would lift before a contact has stood still.
const FASTEST: u32 = 800;
/// Screens after which the next job is begun: children do not live long. Samples and a touch or two come meanwhile.
const SCREENS: u32 = 20;
/// Nothing takes longer.
const DEADLINE: Duration = Duration::from_secs(40);

/// What a screen said of a job.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Shown {
    /// Touches in the table, those taken back as well.
    pub touches: usize,
    /// Photos.
    pub photos: usize,
}

impl Shown {
    /// Both of them were said.
    pub fn and(self, other: Shown) -> Shown {
        Shown { touches: self.touches.max(other.touches), photos: self.photos.max(other.photos) }
    }

    /// The job in `store` has all of it.
    ///
    /// # Errors
    /// What it has not.
    pub fn is_in(self, store: &Store, job: Uuid) -> Result<()> {
        let kept = Job::from_entries(&store.entries_of(job)?).with_context(|| format!("job {job} is not there"))?;
        let has = Shown { touches: kept.touches.len(), photos: kept.photos.len() };
        ensure!(has.and(self) == has, "the screen said {self:?} of job {job}, the record {has:?}");
        Ok(())
    }
}

/// The child: does job after job at the ledger at `path` until it is killed. Prints `s` job, touches and photos with each
/// new screen, and `r` and the length of its name for a report.
///
/// # Errors
/// Whatever keeps it from working.
pub fn bench_until_killed(path: &Path) -> Result<()> {
    let options = BenchOptions {
        radio: false,
        practice_speed_percent: FASTEST,
        reports: Some(path.with_extension("reports")),
        ..BenchOptions::on(path.to_owned())
    };
    let bench = Bench::start(options)?;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
    runtime.block_on(async {
        let mut screen = Screen { listener: bench.listen(), bench, said: None };
        screen.until(|_| Some(())).await?;
        loop {
            screen.job().await?;
        }
    })
}

struct Screen {
    bench: Bench,
    listener: Listener,
    said: Option<(String, Shown)>,
}

impl Screen {
    async fn job(&mut self) -> Result<()> {
        let details = Details { customer: "Harbour Cars".into(), ..Details::default() };
        self.wish(Command::NewJob { order: "2107".into(), vehicle: "Yard van".into(), details }).await?;
        self.wish(Command::AcceptCautions { cautions: vec![Caution::C0] }).await?;
        self.wish(Command::DescribePart { part: PartModel::first_practice().to_part() }).await?;
        self.wish(Command::SearchMeters).await?;
        let id = self.until(|view| Some(view.meter.found.first()?.id.clone())).await?;
        self.wish(Command::ConnectMeter { id }).await?;
        let spec = self.until(|view| view.meter.display.as_ref().map(|_| view.meter.spec.clone())).await?;
        self.wish(Command::DescribeMeter { spec }).await?;
        let conditions = Conditions { leads_zeroed: true, ..Conditions::default() };
        self.wish(Command::StateConditions { conditions }).await?;
        self.wish(Command::AcceptCautions { cautions: vec![Caution::C1] }).await?;
        let job = self.until(|view| view.bench.as_ref()?.job.parse::<Uuid>().ok()).await?;
        self.photo(job).await?;
        for _ in 0..SCREENS {
            self.until(|_| Some(())).await?;
        }
        self.photo(job).await?;
        match self.bench.ask(Ask::Report { job, letter: false }).await {
            Reply::Paper { name, .. } => say(&format!("r {}\n", name.len()))?,
            other => bail!("no report: {other:?}"),
        }
        self.wish(Command::DisconnectMeter).await?;
        self.wish(Command::LeaveJob).await
    }

    async fn photo(&mut self, job: Uuid) -> Result<()> {
        let (jpeg, ..) = photo::drawn((160, 120)).context("a photo can be drawn")?;
        match self.bench.ask(Ask::KeepPhoto { job, step: None, picture: STANDARD.encode(jpeg) }).await {
            Reply::Done | Reply::Refused { .. } => Ok(()),
            other => bail!("no photo: {other:?}"),
        }
    }

    async fn wish(&mut self, command: Command) -> Result<()> {
        match self.bench.ask(Ask::Do { command: command.clone() }).await {
            // A refusal changes nothing: what the meter showed just now may not fit.
            Reply::Done | Reply::Refused { .. } => Ok(()),
            other => bail!("{command:?}: {other:?}"),
        }
    }

    /// Looks at screens until `pick` takes one, and says what is on each.
    async fn until<T>(&mut self, pick: impl Fn(&View) -> Option<T>) -> Result<T> {
        loop {
            let next = tokio::time::timeout(DEADLINE, self.listener.next()).await.context("nothing more is shown")?;
            let Pushed::View { view } = next.context("the bench has ended")? else { continue };
            self.tell(&view)?;
            if let Some(picked) = pick(&view) {
                return Ok(picked);
            }
        }
    }

    fn tell(&mut self, view: &View) -> Result<()> {
        let Some(bench) = &view.bench else { return Ok(()) };
        let rows = bench.measure.iter().flat_map(|measure| &measure.rows);
        let shown = Shown { touches: rows.map(|row| row.touches.len()).sum(), photos: bench.photos.len() };
        let now = (bench.job.clone(), shown);
        if self.said.as_ref() != Some(&now) {
            say(&format!("s {} {} {}\n", bench.job, shown.touches, shown.photos))?;
            self.said = Some(now);
        }
        Ok(())
    }
}

fn say(line: &str) -> Result<()> {
    let mut out = std::io::stdout().lock();
    out.write_all(line.as_bytes())?;
    Ok(out.flush()?)
}
