//! The real window on a screen of its own, driven the way a person would: see, click, type, read.
//!
//! Three programs are started and ended together: Xvfb (the screen), WebKitWebDriver (the hand) and
//! the app (started by the driver). Waiting is done inside the page, frame by frame, and ends with
//! what was waited for or when patience ends, [`PATIENCE`] unless a story says otherwise.

mod driver;
mod fields;
mod record;

pub use record::{job_in, signal_app};

use anyhow::{Context, Result, anyhow, bail, ensure};
use base64::{Engine, prelude::BASE64_STANDARD};
use driver::start_driver;
use serde_json::{Value, json};
use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::{Duration, Instant};

/// How long anything may take to show on the page.
pub const PATIENCE: Duration = Duration::from_secs(10);
/// How long the app may take to open on a busy machine.
const OPENING: Duration = Duration::from_secs(30);
/// The name WebDriver gives an element's id on the wire, fixed by its standard.
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";
/// Gives the first shown element that matches and says the words, or null once there is none.
const WATCH: &str = "const [css, words, wanted, done] = arguments;
const says = (e) => (e.innerText ?? e.textContent ?? '').includes(words);
const look = () => {
  const found = [...document.querySelectorAll(css)].find((e) => e.checkVisibility({ visibilityProperty: true }) && says(e));
  if (Boolean(found) === wanted) done(found ?? null); else requestAnimationFrame(look);
};
look();";

/// Calls a command of the shell as the page would and gives `{"answer": …}` or `{"rejected": …}`.
const INVOKE: &str = "const [command, given, done] = arguments;
window.__TAURI_INTERNALS__.invoke(command, given).then(
  (answer) => done({ answer }), (fault) => done({ rejected: String(fault) }));";

/// The app's program as `make test` built it.
///
/// # Panics
/// When `EVENWIRE_APP` does not name it: a window story that is not told must not pass.
pub fn app() -> PathBuf {
    let named = std::env::var_os("EVENWIRE_APP").map(PathBuf::from).filter(|path| path.is_file());
    named.expect("EVENWIRE_APP names no program: run `make test`, which builds the window and then tells its stories")
}

/// A program that is ended with the story.
struct Started(Child);

impl Drop for Started {
    fn drop(&mut self) {
        // It may have ended by itself; either way it is gone afterwards.
        let _gone = self.0.kill();
        let _reaped = self.0.wait();
    }
}

/// A screen nobody sees.
pub struct Screen {
    name: String,
    _xvfb: Started,
}

impl Screen {
    /// Starts a screen of this size in pixels, on a display number the server finds free.
    ///
    /// # Errors
    /// When Xvfb is missing or does not come up.
    pub fn start(width: u32, height: u32) -> Result<Screen> {
        let size = format!("{width}x{height}x24");
        let mut xvfb = Command::new("Xvfb")
            .args(["-displayfd", "1", "-screen", "0", &size, "-nolisten", "tcp"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .context("Xvfb starts (package xvfb)")?;
        let answer = xvfb.stdout.take().context("Xvfb has an output")?;
        let xvfb = Started(xvfb);
        let mut number = String::new();
        BufReader::new(answer).read_line(&mut number)?;
        ensure!(!number.trim().is_empty(), "Xvfb ended before it had a display");
        Ok(Screen { name: format!(":{}", number.trim()), _xvfb: xvfb })
    }

    /// What `DISPLAY` is set to.
    pub fn name(&self) -> &str {
        &self.name
    }
}

/// How a window is to be opened.
pub struct Opening {
    /// The app's program.
    pub app: PathBuf,
    /// Where it keeps everything; open a second window on the same folder to see what was kept.
    pub folder: PathBuf,
    /// More of its environment.
    pub env: Vec<(String, String)>,
}

impl Opening {
    /// The app as built, keeping its things in `folder`.
    pub fn at(folder: &Path) -> Opening {
        Opening { app: app(), folder: folder.into(), env: Vec::new() }
    }

    /// With one more variable in its environment.
    #[must_use]
    pub fn with(mut self, name: &str, value: &str) -> Opening {
        self.env.push((name.into(), value.into()));
        self
    }
}

/// Where a window is and how large, in pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rect {
    /// From the left edge of the screen.
    pub x: i64,
    /// From its upper edge.
    pub y: i64,
    /// Outer width.
    pub width: i64,
    /// Outer height.
    pub height: i64,
}

/// The app's window, open until dropped.
pub struct Window {
    agent: ureq::Agent,
    session: String,
    folder: PathBuf,
    patience: Duration,
    // In this order: the session is ended first, then the driver, then the screen it stood on.
    _driver: Started,
    _screen: Screen,
}

impl Window {
    /// Opens the app on a fresh screen.
    ///
    /// # Errors
    /// When one of the three programs does not start; with what they wrote.
    pub fn open(opening: &Opening) -> Result<Window> {
        std::fs::create_dir_all(&opening.folder)?;
        let screen = Screen::start(1400, 1000)?;
        let (driver, address) = start_driver(opening, &screen)?;
        let agent =
            ureq::Agent::config_builder().timeout_global(Some(OPENING)).http_status_as_error(false).build().new_agent();
        let wanted = json!({"webkitgtk:browserOptions": {"binary": opening.app, "args": []}});
        let asked = json!({"capabilities": {"alwaysMatch": wanted}});
        // An app that ends without a window leaves the driver waiting, so this can be a time-out.
        let opened = agent.post(format!("{address}/session")).send_json(asked).map_err(Into::into).and_then(answer);
        let opened = opened.with_context(|| {
            let log = std::fs::read_to_string(opening.folder.join("window.log")).unwrap_or_default();
            format!("{} opens no window; it wrote: {log}", opening.app.display())
        })?;
        let id = opened["sessionId"].as_str().context("a session has an id")?;
        let session = format!("{address}/session/{id}");
        let folder = opening.folder.clone();
        let mut window = Window { agent, session, folder, patience: PATIENCE, _driver: driver, _screen: screen };
        window.wait_at_most(PATIENCE)?;
        Ok(window)
    }

    /// Waits no longer than `patience` for anything from now on.
    ///
    /// # Errors
    /// When the window is gone.
    pub fn wait_at_most(&mut self, patience: Duration) -> Result<()> {
        self.patience = patience;
        let script = u64::try_from(patience.as_millis())?;
        self.post("timeouts", &json!({"script": script, "implicit": 0})).map(drop)
    }

    /// Waits until an element at `css` is shown.
    ///
    /// # Errors
    /// When patience ends; with what the page shows instead.
    pub fn see(&self, css: &str) -> Result<()> {
        self.watch(css, "", true).map(drop)
    }

    /// Waits until an element at `css` is shown that says `words`, and gives all it says.
    ///
    /// # Errors
    /// When patience ends; with what the page shows instead.
    pub fn read(&self, css: &str, words: &str) -> Result<String> {
        let said = self.act(css, words, |id| self.get(&format!("element/{id}/text")))?;
        Ok(said.as_str().unwrap_or_default().to_owned())
    }

    /// Waits until nothing at `css` is shown any more.
    ///
    /// # Errors
    /// When patience ends; with what the page shows instead.
    pub fn gone(&self, css: &str) -> Result<()> {
        self.watch(css, "", false).map(drop)
    }

    /// Clicks the first element at `css` that is shown, once it is.
    ///
    /// # Errors
    /// When none is shown in time, or something lies over it.
    pub fn click(&self, css: &str) -> Result<()> {
        self.click_on(css, "")
    }

    /// Clicks the first element at `css` that says `words`.
    ///
    /// # Errors
    /// As [`Window::click`].
    pub fn click_on(&self, css: &str, words: &str) -> Result<()> {
        self.act(css, words, |id| self.click_at(id)).map(drop)
    }

    /// Types `text` into the field at `css`, over what stood there.
    ///
    /// # Errors
    /// When it is not shown in time or takes no keys.
    pub fn type_into(&self, css: &str, text: &str) -> Result<()> {
        self.act(css, "", |id| {
            self.post(&format!("element/{id}/clear"), &json!({}))?;
            self.post(&format!("element/{id}/value"), &json!({"text": text}))
        })
        .map(drop)
    }

    /// What `script` returns in the page; `arguments` are its own.
    ///
    /// # Errors
    /// When it throws.
    pub fn run(&self, script: &str, arguments: &[Value]) -> Result<Value> {
        self.post("execute/sync", &json!({"script": script, "args": arguments}))
    }

    /// Asks the shell from inside the page, past all screens, and gives the reply.
    ///
    /// # Errors
    /// When the shell cannot read `ask`; with what it says to that.
    pub fn tell(&self, ask: &Value) -> Result<Value> {
        self.invoke("tell", &json!({ "ask": ask }))
    }

    /// Calls a command of the shell or of the framework from inside the page, and gives its answer.
    ///
    /// # Errors
    /// When it is refused or fails; with what is said to that.
    pub fn invoke(&self, command: &str, given: &Value) -> Result<Value> {
        let mut said = self.post("execute/async", &json!({"script": INVOKE, "args": [command, given]}))?;
        match said["rejected"].as_str() {
            Some(fault) => bail!("rejected: {fault}"),
            None => Ok(said["answer"].take()),
        }
    }

    /// Where the window is.
    ///
    /// # Errors
    /// When the window is gone.
    pub fn rect(&self) -> Result<Rect> {
        to_rect(&self.get("window/rect")?)
    }

    /// Makes the window `width` by `height` pixels and gives what it became.
    ///
    /// # Errors
    /// When the window is gone.
    pub fn resize(&self, width: i64, height: i64) -> Result<Rect> {
        to_rect(&self.post("window/rect", &json!({"x": 0, "y": 0, "width": width, "height": height}))?)
    }

    /// A picture of the page as PNG.
    ///
    /// # Errors
    /// When the window is gone.
    pub fn picture(&self) -> Result<Vec<u8>> {
        let drawn = self.get("screenshot")?;
        Ok(BASE64_STANDARD.decode(drawn.as_str().context("a picture is text on the wire")?)?)
    }

    /// Keeps a picture as `NAME.png` in the folder `EVENWIRE_SHOTS` names; does nothing without it.
    ///
    /// # Errors
    /// When the window is gone or the folder cannot be written.
    pub fn keep_picture(&self, name: &str) -> Result<()> {
        let Some(folder) = std::env::var_os("EVENWIRE_SHOTS") else { return Ok(()) };
        std::fs::create_dir_all(&folder)?;
        Ok(std::fs::write(Path::new(&folder).join(format!("{name}.png")), self.picture()?)?)
    }

    /// Closes the window as a person would, and waits until the app has closed its ledger.
    ///
    /// # Errors
    /// When it was gone already, or keeps the ledger open.
    pub fn close(self) -> Result<()> {
        answer(self.agent.delete(&self.session).call()?)?;
        closed(&self.folder)
    }

    fn watch(&self, css: &str, words: &str, wanted: bool) -> Result<Value> {
        let asked = json!({"script": WATCH, "args": [css, words, wanted]});
        self.post("execute/async", &asked).with_context(|| {
            let shown = self.run("return document.body?.innerText", &[]).unwrap_or_default();
            let hoped = if wanted { "shown" } else { "gone" };
            format!("`{css}` saying {words:?} is not {hoped}; the page says:\n{}", shown.as_str().unwrap_or_default())
        })
    }

    /// Does something with the element once it is shown; again if the page replaced it meanwhile.
    fn act(&self, css: &str, words: &str, deed: impl Fn(&str) -> Result<Value>) -> Result<Value> {
        let begun = Instant::now();
        loop {
            let element = self.watch(css, words, true)?;
            let id = element[ELEMENT].as_str().with_context(|| format!("`{css}` is an element"))?;
            match deed(id) {
                Err(fault) if fault.to_string().starts_with("stale element") && begun.elapsed() < self.patience => {}
                done => return done.with_context(|| format!("`{css}` saying {words:?}")),
            }
        }
    }

    fn get(&self, what: &str) -> Result<Value> {
        answer(self.agent.get(format!("{}/{what}", self.session)).call()?)
    }

    fn post(&self, what: &str, body: &Value) -> Result<Value> {
        // A script may wait as long as patience lasts; the driver needs a moment on top.
        let most = Some(self.patience + OPENING);
        let asked = self.agent.post(format!("{}/{what}", self.session)).config().timeout_global(most).build();
        answer(asked.send_json(body)?)
    }
}

impl Drop for Window {
    fn drop(&mut self) {
        // Ends the app; after `close` there is no session left to end, which is as good.
        let _ended = self.agent.delete(&self.session).call();
    }
}

/// Waits until no app has the ledger in `folder` open any more.
///
/// # Errors
/// When patience ends.
pub fn closed(folder: &Path) -> Result<()> {
    let lock = File::open(folder.join("evenwire.db.lock")).context("a ledger that was open has its lock beside it")?;
    let (tell, told) = mpsc::channel();
    // Waiting for a lock knows no deadline, so that somebody else has to wait.
    std::thread::spawn(move || {
        let free = lock.lock();
        // Let go of before it is told: whoever hears it opens the ledger.
        drop(lock);
        drop(tell.send(free));
    });
    Ok(told.recv_timeout(PATIENCE + OPENING).context("the ledger stays open")??)
}

/// The value of a WebDriver answer; its error as `kind: message`.
fn answer(mut response: ureq::http::Response<ureq::Body>) -> Result<Value> {
    let mut body: Value = response.body_mut().read_json()?;
    let value = body["value"].take();
    match value["error"].as_str() {
        Some(kind) => Err(anyhow!("{kind}: {}", value["message"].as_str().unwrap_or_default())),
        None => Ok(value),
    }
}

fn to_rect(value: &Value) -> Result<Rect> {
    // Some drivers say whole pixels as 0.0.
    let part = |name: &str| value[name].as_f64().map(|pixels| pixels.round() as i64).with_context(|| name.to_owned());
    Ok(Rect { x: part("x")?, y: part("y")?, width: part("width")?, height: part("height")? })
}
