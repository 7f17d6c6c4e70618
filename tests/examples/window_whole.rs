//! A whole procedure in the real window, from its first step to its last: every wait, photo, reading and both
//! signatures, as a person would, with the program killed and started again in the middle. The machine itself goes on:
//! what stood before the program was killed stands after it, and the cable need not be taken off again.
//!
//! Too long for every run of the tests; `make whole` tells it. `EVENWIRE_APP` names the window's program.

use anyhow::{Context, Result, bail, ensure};
use base64::{Engine, prelude::BASE64_STANDARD};
use evenwire_core::job::Stage;
use evenwire_core::record::Outcome;
use evenwire_core::verdict::SetVerdict;
use evenwire_tests::window::{Opening, PATIENCE, Window, job_in, signal_app};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Per cent of life. Hands are quicker; waits are as long as a vehicle wants them.
const SPEED: &str = "300";
const PROCEDURE: &str = "Orrin 3: steering coil";
/// The program is killed when this step is to be begun: the part is off, and one group of it is measured.
const KILLED_BEFORE: &str = "measure-switch";
/// The step that a second person signs, and the people of the shop with their PINs; both are made up.
const SIGNED_SECOND: &str = "The coil to be fitted";
const DOER: (&str, &str) = ("Ada Orrin", "4711");
const SECOND: (&str, &str) = ("Bo Sabrel", "0815");
/// How long the wait of the procedure may take, with room for a busy machine.
const WAIT: Duration = Duration::from_secs(240);
/// How long the readings of one step may take.
const READINGS: Duration = Duration::from_secs(360);
/// How long a key that was there a moment ago is looked for.
const SOON: Duration = Duration::from_secs(1);
/// Steps of this procedure, each begun and done.
const STEPS: usize = 40;
/// Keys pressed at most, and at most while the same thing stands there.
const MOST: usize = 400;
const MOST_ALIKE: usize = 8;

/// What stands open: the step, its state and what it asks for.
const STANDS: &str = "const card = document.querySelector('[data-step]');
const has = (css) => Boolean(card?.querySelector(css));
return {
  step: card?.dataset.step ?? '', state: card?.dataset.state ?? '',
  main: document.querySelector('button.main')?.innerText.trim() ?? '',
  photo: has('.photos input') && !has('.photos img'),
  points: card?.querySelectorAll('ol input').length ?? 0,
  values: card?.querySelectorAll('.values input').length ?? 0,
  waits: has('[data-wait]'),
  unread: card?.querySelectorAll('[data-read=\"false\"]').length ?? 0,
  ended: document.querySelector('.ended')?.innerText ?? '',
};";
/// Another step stands there, another state of it, or what was wrong with what was entered.
const MOVED_ON: &str = "const card = document.querySelector('[data-step]');
const unread = card?.querySelectorAll('[data-read=\"false\"]').length ?? 0;
return [card?.dataset.step ?? '', card?.dataset.state ?? '', unread].join(' ') !== arguments[0]
  || document.querySelector('[aria-invalid=\"true\"], [data-marked], .sentence') !== null;";
/// A picture as a camera would give it, drawn in the page: a JPEG as text.
const PICTURE: &str = "const canvas = document.createElement('canvas');
[canvas.width, canvas.height] = [1200, 900];
const pen = canvas.getContext('2d');
for (let stripe = 0; stripe < 12; stripe += 1) {
  pen.fillStyle = stripe % 2 ? '#454e57' : '#c9cdd0';
  pen.fillRect(stripe * 100, 0, 100, 900);
}
return canvas.toDataURL('image/jpeg', 0.8).split(',')[1];";
/// What the keys say that can be pressed while something is read.
const KEYS: &str = "return [...document.querySelectorAll('button')]
  .filter((key) => !key.disabled && key.checkVisibility({ visibilityProperty: true })).map((key) => key.innerText.trim());";
/// Words of the keys that lead through a reading, each as it begins or ends.
const ASKED: [&str; 8] = [
    "Connect the meter",
    "Look for meters",
    "no hardware needed",
    "Use this meter",
    "Read on",
    "I have read this",
    "Sweep like this",
    "take over-range",
];
/// What the meter step says once a meter sends, and the key that leads back from there where the meter was known.
const SENDS: (&str, &str) = ("Your meter shows this now?", "Back to the open step");

/// The step that stands open.
struct Open {
    step: String,
    state: String,
    main: String,
    ended: String,
    asks: Value,
}

/// A window on a folder of its own, and the person in front of it.
struct Person {
    window: Window,
    folder: PathBuf,
    looked: Vec<String>,
}

fn main() -> Result<()> {
    let begun = Instant::now();
    let folder = tempfile::tempdir()?;
    let mut person = Person { window: open(folder.path())?, folder: folder.path().into(), looked: Vec::new() };
    let told = person.prepare().and_then(|()| person.work_through());
    if told.is_err() {
        person.window.keep_picture("window-whole-stuck")?;
    }
    let steps = told?;
    person.look("ended")?;
    let said = person.window.read(".ended", "Repaired.")?;
    ensure!(said.trim() == "Repaired.", "nothing waits for a second signature: {said}");
    person.window.close()?;
    kept_in(folder.path())?;
    println!("{PROCEDURE}: {steps} steps begun, the program killed once, {} s.", begun.elapsed().as_secs());
    Ok(())
}

/// A window on a computer without Bluetooth and with quick practice hands.
fn open(folder: &Path) -> Result<Window> {
    let opening = Opening::at(folder)
        .with("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent/bus")
        .with("LC_ALL", "C.UTF-8")
        .with("EVENWIRE_PRACTICE_SPEED", SPEED);
    Window::open(&opening)
}

impl Person {
    /// From the first screen to the first step: who does the job is on the roster, and says so.
    fn prepare(&mut self) -> Result<()> {
        self.add_to_the_roster(DOER)?;
        self.press("Start a practice job", ("main", "does not replace"))?;
        self.press_at(
            &format!("[aria-label='Follow this procedure: {PROCEDURE}']"),
            "",
            ("[data-step='identify']", ""),
        )?;
        self.window.click_on("button", "Say who does it")?;
        self.window.write("PIN", DOER.1)?;
        self.window.click_on("form button[type=submit]", "Say who does it")?;
        self.window.read("main", &format!("Technician: {}.", DOER.0))?;
        Ok(())
    }

    fn add_to_the_roster(&mut self, (name, pin): (&str, &str)) -> Result<()> {
        self.press("Who signs", ("h1, h2", "Who signs here"))?;
        self.window.write("Name", name)?;
        self.window.write("PIN, typed by this person", pin)?;
        self.window.write("Once more", pin)?;
        self.window.click_on("button", "Add to the roster")?;
        self.window.read("main li", name)?;
        self.press("Back to the jobs", ("button", "Who signs"))
    }

    /// Presses a key until the page says what comes after it: one that moves lets a click land beside its key.
    fn press(&self, key: &str, after: (&str, &str)) -> Result<()> {
        self.press_at("button", key, after)
    }

    fn press_at(&self, at: &str, key: &str, (css, words): (&str, &str)) -> Result<()> {
        for _ in 0..MOST_ALIKE {
            // The key may have gone by now, because the press before did land.
            let _gone = self.window.click_on(at, key);
            if self.window.read(css, words).is_ok() {
                return Ok(());
            }
        }
        bail!("{at} {key:?} was pressed {MOST_ALIKE} times, and `{css}` does not say {words:?}")
    }

    /// Keeps a picture of each thing once.
    fn look(&mut self, name: &str) -> Result<()> {
        if self.looked.iter().any(|looked| looked == name) {
            return Ok(());
        }
        self.looked.push(name.into());
        self.window.keep_picture(&format!("window-whole-{:02}-{name}", self.looked.len()))
    }

    fn stands(&self) -> Result<Open> {
        let asks = self.window.run(STANDS, &[])?;
        let text = |name: &str| asks[name].as_str().unwrap_or_default().to_owned();
        Ok(Open { step: text("step"), state: text("state"), main: text("main"), ended: text("ended"), asks })
    }

    /// Does what stands open until the job is closed; gives how many steps were begun.
    fn work_through(&mut self) -> Result<usize> {
        let (mut begun, mut killed, mut signed) = (0, false, false);
        let (mut before, mut alike) = (String::new(), 0);
        for _ in 0..MOST {
            let at = self.stands()?;
            if !at.ended.is_empty() {
                ensure!(killed && signed, "killed: {killed}, signed second: {signed}");
                return Ok(begun);
            }
            let now = format!("{} {} {}", at.step, at.state, at.asks["unread"]);
            alike = if now == before { alike + 1 } else { 0 };
            if alike > MOST_ALIKE {
                bail!("nothing moves on at {now}: {}", self.page()?);
            }
            before = now;
            self.look(if at.step.is_empty() { "reading" } else { &at.step })?;
            let to_begin = at.state == "to-begin";
            if to_begin && at.step == KILLED_BEFORE && !killed {
                killed = true;
                self.killed_and_back(&at)?;
                continue;
            }
            if to_begin && at.step == "candidate-bars-open" && !signed {
                signed = true;
                self.second_signs()?;
                continue;
            }
            begun += usize::from(to_begin);
            self.go_on(&at)?;
        }
        bail!("the procedure does not come to its end")
    }

    fn page(&self) -> Result<String> {
        let said = self.window.run("return document.body.innerText", &[])?;
        Ok(said.as_str().unwrap_or_default().to_owned())
    }

    /// The program ends without a word and is started again; the same step stands there. The second person comes onto the
    /// roster before the job is opened.
    fn killed_and_back(&mut self, at: &Open) -> Result<()> {
        signal_app("-KILL", &self.folder);
        self.window = open(&self.folder)?;
        self.look("back-again")?;
        self.add_to_the_roster(SECOND)?;
        self.press("Practice", (&format!("[data-step='{}']", at.step), ""))?;
        ensure!(self.stands()?.state == at.state, "what stood before stands: {}", self.page()?);
        self.look("where-it-was")
    }

    /// Only one of the two can: the other does the job.
    fn second_signs(&mut self) -> Result<()> {
        self.window.click_on(&format!("[aria-label='Sign second: {SIGNED_SECOND}']"), "")?;
        self.window.read("form", &format!("Who signs second: {}", SECOND.0))?;
        self.window.write("PIN", SECOND.1)?;
        self.look("second-signs")?;
        self.window.click_on("form button[type=submit]", "Sign second")?;
        self.window.gone(&format!("[aria-label='Sign second: {SIGNED_SECOND}']"))?;
        self.window.gone("form button[type=submit]")
    }

    /// Does the next thing that stands open: begins it, reads, fills in, confirms.
    fn go_on(&mut self, at: &Open) -> Result<()> {
        let unread = at.asks["unread"].as_u64().unwrap_or(0);
        if at.step.is_empty() {
            self.read()?;
        } else if at.state == "to-begin" || unread > 0 {
            self.window.click_on("button.main", &at.main)?;
        } else {
            ensure!(at.state == "begun", "{}: {}", at.step, self.page()?);
            if at.asks["waits"] == true {
                self.window.wait_at_most(WAIT)?;
                self.window.see("[data-wait='over']")?;
                self.window.wait_at_most(PATIENCE)?;
            }
            self.fill(at).with_context(|| format!("filling in {}", at.step))?;
            self.window.click("button.main")?;
        }
        // A click that landed beside its key is repeated by whoever asks what stands there.
        let _same = self.window.until(MOVED_ON, &[json!(format!("{} {} {unread}", at.step, at.state))]);
        Ok(())
    }

    /// Hands the meter what the screen asks for, until the step itself is back.
    fn read(&mut self) -> Result<()> {
        let until = Instant::now() + READINGS;
        self.window.wait_at_most(SOON)?;
        while self.stands()?.step.is_empty() {
            ensure!(Instant::now() < until, "the readings of a step take too long: {}", self.page()?);
            let keys = self.window.run(KEYS, &[])?;
            let keys: Vec<&str> = keys.as_array().into_iter().flatten().filter_map(Value::as_str).collect();
            for key in ASKED.iter().filter(|asked| keys.iter().any(|key| key.contains(*asked))) {
                // Gone by now, or beside it: the next look tells.
                let _gone = self.window.click_on("button", key);
            }
            let page = self.page()?;
            if page.contains(SENDS.0) && keys.contains(&SENDS.1) {
                let _gone = self.window.click_on("button", SENDS.1);
            }
            if page.contains("Sweep") {
                self.look("sweeping")?;
            }
        }
        self.window.wait_at_most(PATIENCE)?;
        Ok(())
    }

    /// Fills in what a begun step asks for, by what stands on it.
    fn fill(&self, at: &Open) -> Result<()> {
        let window = &self.window;
        if at.asks["photo"] == true {
            window.hand_over(".photos input", &self.picture()?)?;
            window.see(".photos img")?;
        }
        if at.asks["points"].as_u64() == Some(3) {
            window.write_each("[data-step] ol input", &["12.6", "0.01", "12.6"])?;
        }
        if window.has_field("Codes that are stored now")? {
            if at.step == "before-scan" {
                window.write("Codes that are stored now", "B0001-13")?;
            } else {
                window.tick("The scanner shows none")?;
                window.tick("It came on and went off")?;
            }
        }
        if window.has_field("Turns from end to end")? {
            window.write("Turns from end to end", "5")?;
            window.write("Turns free to the left", "2.5")?;
            window.write("Turns free to the right", "2.5")?;
        }
        if window.has_field("The wrench")? {
            window.write("The wrench", "bench wrench 2")?;
            window.tick("A new bolt is in")?;
        }
        match at.asks["values"].as_u64() {
            Some(1) => window.write_each("[data-step] .values input", &["0"])?,
            Some(2) => window.write_each("[data-step] .values input", &["2.2", "2.3"])?,
            _ => {}
        }
        if window.has_field("The number on the part")? {
            window.write("The number on the part", "A-2207")?;
            window.write("Where it comes from", "shelf 3")?;
            window.tick("used")?;
        }
        if at.step == "close" {
            window.tick("Repaired")?;
        }
        if window.has_field("What you saw")? {
            window.write("What you saw", "as it should be")?;
        }
        Ok(())
    }

    /// A photo on the disk, drawn once.
    fn picture(&self) -> Result<PathBuf> {
        let path = self.folder.join("bench.jpg");
        if !path.is_file() {
            let drawn = self.window.run(PICTURE, &[])?;
            std::fs::write(&path, BASE64_STANDARD.decode(drawn.as_str().context("a picture as text")?)?)?;
        }
        Ok(path)
    }
}

/// What the ledger says of it afterwards.
fn kept_in(folder: &Path) -> Result<()> {
    let job = job_in(folder);
    ensure!(job.stage() == Stage::Done, "the job is closed: {:?}", job.stage());
    let work = job.work.as_ref().context("it followed a procedure")?;
    ensure!(work.outcome == Some(Outcome::Repaired), "{:?}", work.outcome);
    ensure!(work.waits_for_second().next().is_none(), "a signature is missing");
    let second = work.state("candidate").and_then(|state| Some(state.second?.person));
    ensure!(second.is_some() && second != work.technician, "signed by somebody else: {second:?}");
    ensure!(work.procedure.steps.len() == STEPS, "{} steps", work.procedure.steps.len());
    ensure!(work.procedure.steps.iter().all(|step| work.state(&step.id).is_some()), "every step is settled");
    let old = job.proofs.old.as_ref().context("the old coil is what the new one was held against")?;
    ensure!(!old.levels.is_empty(), "{old:?}");
    let set = job.verdict.as_ref().map(|verdict| verdict.judgement.set);
    ensure!(set == Some(SetVerdict::Pass), "what was fitted was judged with all its conductors: {set:?}");
    ensure!(job.photos.len() >= 16, "{} photos", job.photos.len());
    Ok(())
}
